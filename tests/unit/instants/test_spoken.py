"""Days and times as people say them, on a day in December."""

from __future__ import annotations

from datetime import date, datetime

import pytest

from curecal.errors import InstantRefused
from curecal.instants import Toward, spoken


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
        ("noon", wall("2026-12-05T12:00")),
        ("at 16:15", wall("2026-12-05T16:15")),
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
        "next week",
        "Friday night",
        "Foo 3 Dec",
        "3 Dec 2026",
        "3 Dec 16",
        "Decx 3",
        "31/31/2026",
        "at 25:00",
        "yesterday 25:00",
        "yesterday 13 pm",
        "yesterday 8:61",
        "now 8:00",
        "Dec 32",
        "Feb 30",
        "Foo 3",
        "this afternoon 9 am",
        # The hour, the day of the month, or the year?
        "20",
        "8",
        "2026",
    ],
)
def test_what_is_not_plain_is_not_read(text: str) -> None:
    assert spoken(text, NOW) is None


# 5 December 2026 is a Saturday (ISO 8601 weekday 6).
@pytest.mark.parametrize(
    ("text", "toward", "meant"),
    [
        ("this morning", Toward.PAST, NOW),
        ("yesterday morning", Toward.PAST, wall("2026-12-04T12:00")),
        ("yesterday afternoon", Toward.PAST, wall("2026-12-04T18:00")),
        ("yesterday evening", Toward.PAST, wall("2026-12-04T23:59")),
        ("yesterday evening", Toward.UNTIL, wall("2026-12-04T20:00")),
        ("this morning", Toward.UNTIL, wall("2026-12-05T08:00")),
        ("Tue 17:00", Toward.UNTIL, wall("2026-12-01T17:00")),
        ("Sat 11:00", Toward.UNTIL, wall("2026-11-28T11:00")),
        ("tonight", Toward.PAST, wall("2026-12-05T20:00")),
        ("tomorrow morning", Toward.AHEAD, wall("2026-12-06T08:00")),
        ("tomorrow morning", None, wall("2026-12-06T08:00")),
        ("this evening at 9", None, wall("2026-12-05T21:00")),
        ("tomorrow night 9 pm", None, wall("2026-12-06T21:00")),
        ("tomorrow morning 9", None, wall("2026-12-06T09:00")),
        ("tomorrow afternoon at 3", None, wall("2026-12-06T15:00")),
        ("Tue 9:00", Toward.AHEAD, wall("2026-12-08T09:00")),
        ("on Tuesday at 9:00", Toward.PAST, wall("2026-12-01T09:00")),
        ("Tuesday", Toward.PAST, date(2026, 12, 1)),
        ("Sat", Toward.PAST, date(2026, 12, 5)),
        ("Sat", None, date(2026, 12, 5)),
        ("Sat 8:00", Toward.PAST, wall("2026-12-05T08:00")),
        ("Sat 11:00", Toward.PAST, wall("2026-11-28T11:00")),
        ("Sat 11:00", Toward.AHEAD, wall("2026-12-05T11:00")),
        ("Sat 8:00", Toward.AHEAD, wall("2026-12-12T08:00")),
        ("Thu 3 Dec 14:30", None, wall("2026-12-03T14:30")),
    ],
)
def test_a_fact_lies_behind_and_an_appointment_ahead(
    text: str, toward: Toward | None, meant: datetime | date
) -> None:
    assert spoken(text, NOW, toward) == meant


@pytest.mark.parametrize(
    ("text", "toward", "first", "second"),
    [
        ("12/3/2026", None, date(2026, 12, 3), date(2026, 3, 12)),
        ("12/3", None, date(2026, 12, 3), date(2026, 3, 12)),
        ("03.12.", None, date(2026, 3, 12), date(2026, 12, 3)),
        ("16/12/2026", None, date(2026, 12, 16), None),
        ("2/2/2026", None, date(2026, 2, 2), None),
        ("yesterday 5", None, wall("2026-12-04T05:00"), wall("2026-12-04T17:00")),
        ("tonight 2:00", None, wall("2026-12-05T02:00"), wall("2026-12-06T02:00")),
        ("last night", Toward.PAST, wall("2026-12-04T22:00"), wall("2026-12-05T02:00")),
        ("Tue 9:00", None, wall("2026-12-01T09:00"), wall("2026-12-08T09:00")),
        ("last Tue", Toward.PAST, date(2026, 12, 1), date(2026, 11, 24)),
        ("last Sat", Toward.PAST, date(2026, 11, 28), date(2026, 11, 21)),
        ("next Tue", Toward.AHEAD, date(2026, 12, 8), date(2026, 12, 15)),
        ("next Sat", Toward.AHEAD, date(2026, 12, 12), date(2026, 12, 19)),
        # Half a year away either way: which year nobody knows.
        ("Jun 5", None, date(2026, 6, 5), date(2027, 6, 5)),
        ("Wed 3 Dec", None, date(2026, 12, 3), date(2026, 12, 2)),
        ("Fri 3 Dec 9:00", None, wall("2026-12-03T09:00"), wall("2026-12-04T09:00")),
    ],
)
def test_what_can_be_read_two_ways_is_refused_with_both(
    text: str, toward: Toward | None, first: datetime | date, second: datetime | date | None
) -> None:
    with pytest.raises(InstantRefused) as caught:
        spoken(text, NOW, toward)
    assert caught.value.code == "instant-unclear"
    assert (caught.value.params["first"], caught.value.params["second"]) == (first, second)
