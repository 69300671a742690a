"""Days and times as people say them, on a day in December."""

from __future__ import annotations

from datetime import date, datetime

import pytest

from curecal.instants import spoken


def wall(text: str) -> datetime:
    """Return a local time as a clock on site shows it."""
    return datetime.fromisoformat(text)


NOW = wall("2026-12-05T10:30")


@pytest.mark.parametrize(
    ("text", "meant"),
    [
        ("now", NOW),
        ("yesterday", date(2026, 12, 4)),
        ("Yesterday 17:00", wall("2026-12-04T17:00")),
        ("yesterday at 5 pm", wall("2026-12-04T17:00")),
        ("yesterday 5pm", wall("2026-12-04T17:00")),
        ("yesterday 12am", wall("2026-12-04T00:00")),
        ("today noon", wall("2026-12-05T12:00")),
        ("tomorrow", date(2026, 12, 6)),
        ("tomorrow 8:00", wall("2026-12-06T08:00")),
        ("tomorrow 8:15 am", wall("2026-12-06T08:15")),
        ("tonight", wall("2026-12-05T20:00")),
        ("tonight 9:30 pm", wall("2026-12-05T21:30")),
        ("Dec 3", date(2026, 12, 3)),
        ("3 December, 17:00", wall("2026-12-03T17:00")),
        ("Dec. 3 5 pm", wall("2026-12-03T17:00")),
        # The nearest: the coming January, the last October.
        ("Jan 4", date(2027, 1, 4)),
        ("Oct 30", date(2026, 10, 30)),
    ],
)
def test_words_are_a_local_day_or_time(text: str, meant: datetime | date) -> None:
    assert spoken(text, NOW) == meant
    assert type(spoken(text, NOW)) is type(meant)


def test_the_nearest_december_of_a_january_is_the_last_one() -> None:
    assert spoken("Dec 30", wall("2027-01-02T09:00")) == date(2026, 12, 30)


@pytest.mark.parametrize(
    "text",
    [
        "",
        "soon",
        "Friday",
        "12/3/2026",
        "12/3",
        "yesterday 5",
        "yesterday 25:00",
        "yesterday 13 pm",
        "yesterday 8:61",
        "tonight 2:00",
        "now 8:00",
        "Dec 32",
        "Feb 30",
        "Foo 3",
        # Half a year away either way: which year nobody knows.
        "Jun 5",
        "03.12.",
    ],
)
def test_what_is_not_plain_is_not_read(text: str) -> None:
    assert spoken(text, NOW) is None
