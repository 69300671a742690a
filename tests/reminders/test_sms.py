"""Text messages: the small alphabet, and how many parts a text takes (3GPP TS 23.038, 23.040)."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from curecal.delivery.text_message import short


@pytest.mark.parametrize(
    ("text", "parts"),
    [
        # Exact figures of the two standards, from memory; no tolerance.
        ("a" * 160, 1),
        ("a" * 161, 2),
        ("a" * 306, 2),
        ("a" * 307, 3),
        # An extended sign counts twice.
        ("€" * 80, 1),
        ("€" * 81, 2),
        ("я" * 70, 1),
        ("я" * 71, 2),
        ("я" * 134, 2),
        ("я" * 135, 3),
        # One of the large alphabet's pairs counts twice.
        ("🔥" * 35, 1),
        ("🔥" * 36, 2),
        ("", 1),
    ],
)
def test_parts(text: str, parts: int) -> None:
    assert short(text).part_count == parts


@pytest.mark.parametrize(
    ("text", "small"),
    [
        ("floor to 17 °C", "floor to 17 C"),
        ("floor to 62 °F (17 °C)", "floor to 62 F (17 C)"),
        ("5°", "5 deg "),
        ("“Zoë’s” hall – 3½", None),
        ("“Zoë’s” hall – 3", '"Zoe\'s" hall - 3'),
        ("naïve Ćevap", "naive Cevap"),
        ("Größe äöüß éè", "Größe äöüß éè"),
        ("пол", None),
    ],
)
def test_the_small_alphabet_where_only_accents_are_lost(text: str, small: str | None) -> None:
    found = short(text)
    assert found.is_small is (small is not None)
    assert found.text == (text if small is None else small)


@given(st.text())
def test_any_text_has_parts_and_can_be_sent(text: str) -> None:
    found = short(text.encode("utf-8", "replace").decode())
    assert found.part_count >= 1
    assert found.text.encode().decode() == found.text
