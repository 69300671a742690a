"""A shift that passes midnight: one of the day it begins on, also where the clock changes in it."""

from __future__ import annotations

from datetime import UTC, date, datetime, time
from zoneinfo import ZoneInfo

import pytest

from curecal.planning.working_time.working_calendar import Calendar
from curecal.trade.job import Work

BERLIN = ZoneInfo("Europe/Berlin")
NIGHTS = Work(start=time(22, 0), end=time(6, 0))


def weekend(day: date) -> str | None:
    return "weekend" if day.weekday() >= 5 else None


CALENDAR = Calendar(NIGHTS, BERLIN, weekend)


def local(text: str) -> datetime:
    return datetime.fromisoformat(text).replace(tzinfo=BERLIN).astimezone(UTC)


@pytest.mark.parametrize(
    ("at", "expected"),
    [
        # Tuesday 3 February 2026: the night of Monday still runs until 06:00.
        ("2026-02-03 03:00", "2026-02-03 03:00"),
        ("2026-02-03 06:00", "2026-02-03 22:00"),
        ("2026-02-03 12:00", "2026-02-03 22:00"),
        # The night of Friday ends on Saturday; Saturday and Sunday begin none.
        ("2026-02-07 05:59", "2026-02-07 05:59"),
        ("2026-02-07 06:00", "2026-02-09 22:00"),
        ("2026-02-09 03:00", "2026-02-09 22:00"),
    ],
)
def test_the_next_working_instant(at: str, expected: str) -> None:
    assert CALENDAR.next_working(local(at)) == local(expected)


@pytest.mark.parametrize(
    ("at", "expected"),
    [
        ("2026-02-03 03:00", date(2026, 2, 2)),
        ("2026-02-03 06:00", date(2026, 2, 2)),
        ("2026-02-03 06:01", date(2026, 2, 3)),
        ("2026-02-03 23:00", date(2026, 2, 3)),
    ],
)
def test_after_midnight_the_day_before_is_worked_on(at: str, expected: date) -> None:
    assert CALENDAR.shift_day(local(at)) == expected


def test_a_day_shift_is_of_its_own_day() -> None:
    days = Calendar(Work(), BERLIN, weekend)
    assert days.shift_day(local("2026-02-03 03:00")) == date(2026, 2, 3)


def test_a_pour_runs_through_midnight_and_is_not_split_over_a_day() -> None:
    through = CALENDAR.run(local("2026-02-03 23:00"), 3 * 3600.0, split=False)
    assert through == (local("2026-02-03 23:00"), local("2026-02-04 02:00"))
    next_night = CALENDAR.run(local("2026-02-04 04:00"), 3 * 3600.0, split=False)
    assert next_night == (local("2026-02-04 22:00"), local("2026-02-05 01:00"))


def test_tiling_fills_the_hours_of_two_nights_over_the_weekend() -> None:
    placed = CALENDAR.run(local("2026-02-07 02:00"), 6 * 3600.0, split=True)
    assert placed == (local("2026-02-07 02:00"), local("2026-02-10 00:00"))


@pytest.mark.parametrize(
    ("night", "ends_utc", "hours"),
    [
        # IANA tz database, Europe/Berlin: +1 h until 29 March 2026 01:00 UTC, then +2 h until
        # 25 October 2026 01:00 UTC. 06:00 is 04:00 UTC in summer and 05:00 UTC in winter.
        (date(2026, 3, 28), "2026-03-29T04:00:00+00:00", 7),
        (date(2026, 10, 24), "2026-10-25T05:00:00+00:00", 9),
        (date(2026, 2, 3), "2026-02-04T05:00:00+00:00", 8),
    ],
)
def test_a_night_of_the_clock_change_has_an_hour_less_or_more(
    night: date, ends_utc: str, hours: int
) -> None:
    every_day = Calendar(NIGHTS, BERLIN, lambda _: None)
    ends_at = datetime.fromisoformat(ends_utc)
    assert every_day.closes(night) == ends_at
    placed = every_day.run(every_day.opens(night), None, split=True)
    assert placed == (every_day.opens(night), ends_at)
    assert (ends_at - every_day.opens(night)).total_seconds() == hours * 3600
    # An hour more than the night has goes into the next one.
    more = every_day.run(every_day.opens(night), (hours + 1) * 3600.0, split=True)
    assert more is not None
    assert (more[1] - every_day.next_working(ends_at)).total_seconds() == 3600  # type: ignore[operator]


def test_work_starts_in_the_evening_to_be_done_by_morning() -> None:
    by = local("2026-02-04 06:00")
    assert CALENDAR.latest_start(by, None, split=False) == local("2026-02-03 22:00")
    assert CALENDAR.latest_start(local("2026-02-04 05:00"), None, split=False) == local(
        "2026-02-02 22:00"
    )


def test_a_day_to_start_on_begins_at_its_shift() -> None:
    assert CALENDAR.start_on(local("2026-02-03 22:00"), working_day=True) == date(2026, 2, 3)
    assert CALENDAR.start_on(local("2026-02-03 22:01"), working_day=True) == date(2026, 2, 4)
    assert CALENDAR.start_on(local("2026-02-06 23:00"), working_day=True) == date(2026, 2, 9)


def test_midnight_may_be_the_end_of_a_shift() -> None:
    late = Calendar(Work(start=time(14, 0), end=time(0, 0)), BERLIN, weekend)
    assert late.closes(date(2026, 2, 3)) == local("2026-02-04 00:00")
    assert late.next_working(local("2026-02-04 00:00")) == local("2026-02-04 14:00")
    assert late.work.shift_s == 10 * 3600
