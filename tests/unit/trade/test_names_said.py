"""Names as people read them: whether a text says one."""

from __future__ import annotations

import pytest

from curecal.trade.names import says_name


@pytest.mark.parametrize(
    ("text", "name", "said"),
    [
        ("Alder Lane, hall bath", "Hall bath", True),
        ("Alder Lane, hall bath", "bath", True),
        ("Marshall Road", "hall", False),
        ("Hallway, north", "hall", False),
        ("Alder Lane", "hall bath", False),
        ("the leveler (bay side) is late", "leveler (bay side)", True),
        # Composed or not: two keyboards, one name.
        ("Cafe\u0301, bar", "CAF\u00c9", True),
        ("Alder Lane", "", False),
        ("Alder Lane", "-", False),
    ],
)
def test_a_text_says_a_name_in_whole_words(text: str, name: str, *, said: bool) -> None:
    assert says_name(text, name) is said
