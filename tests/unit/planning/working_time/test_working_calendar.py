"""Working time: the next working instant, work that fills hours, the day to start on."""

from __future__ import annotations

from datetime import UTC, date, datetime, time, timedelta
from zoneinfo import ZoneInfo

import pytest

from curecal.planning.working_time.working_calendar import Calendar
from curecal.trade.job import Work

HALIFAX = ZoneInfo("America/Halifax")
WORK = Work(start=time(8, 0), end=time(16, 30))


def weekend(day: date) -> str | None:
    return "weekend" if day.weekday() >= 5 else None


def never(day: date) -> str | None:
    return f"off on {day}"


CALENDAR = Calendar(WORK, HALIFAX, weekend)


def local(text: str) -> datetime:
    return datetime.fromisoformat(text).replace(tzinfo=HALIFAX).astimezone(UTC)


def test_a_pour_is_not_split_over_a_night() -> None:
    # The worked example of the working rule: gate on Thursday 15:10, 08:00 to 16:30.
    placed = CALENDAR.run(local("2027-01-07 15:10"), 3 * 3600.0, split=False)
    assert placed == (local("2027-01-08 08:00"), local("2027-01-08 11:00"))


def test_tiling_fills_hours_over_the_weekend() -> None:
    placed = CALENDAR.run(local("2027-01-07 15:10"), 10 * 3600.0, split=True)
    assert placed == (local("2027-01-07 15:10"), local("2027-01-11 08:10"))


def test_a_pour_that_fits_starts_at_its_gate() -> None:
    placed = CALENDAR.run(local("2027-01-07 13:30"), 3 * 3600.0, split=False)
    assert placed == (local("2027-01-07 13:30"), local("2027-01-07 16:30"))


def test_a_pour_longer_than_a_day_starts_at_an_opening_and_runs_on() -> None:
    placed = CALENDAR.run(local("2027-01-07 09:00"), 12 * 3600.0, split=False)
    assert placed == (local("2027-01-08 08:00"), local("2027-01-08 20:00"))


def test_without_a_duration_work_takes_one_working_day() -> None:
    placed = CALENDAR.run(local("2027-01-08 08:00"), None, split=True)
    assert placed == (local("2027-01-08 08:00"), local("2027-01-08 16:30"))


def test_the_night_and_the_weekend_are_skipped() -> None:
    assert CALENDAR.next_working(local("2027-01-08 16:30")) == local("2027-01-11 08:00")
    assert CALENDAR.next_working(local("2027-01-09 10:00")) == local("2027-01-11 08:00")
    assert CALENDAR.next_working(local("2027-01-08 05:00")) == local("2027-01-08 08:00")


def test_a_calendar_without_a_working_day_has_no_instant() -> None:
    empty = Calendar(WORK, HALIFAX, never)
    assert empty.next_working(local("2027-01-08 09:00")) is None
    assert empty.run(local("2027-01-08 09:00"), None, split=True) is None
    assert empty.run(local("2027-01-08 09:00"), None, split=False) is None
    assert empty.start_on(local("2027-01-08 09:00"), working_day=True) is None
    assert empty.latest_start(local("2027-01-08 09:00"), None, split=True) is None


def test_work_that_outlasts_the_last_working_day_has_no_end() -> None:
    last = date(2027, 1, 8)
    ending = Calendar(WORK, HALIFAX, lambda day: "closed for good" if day > last else None)
    assert ending.run(local("2027-01-08 12:00"), 9 * 3600.0, split=True) is None
    assert ending.run(local("2027-01-08 12:00"), 8 * 3600.0, split=False) is None


@pytest.mark.parametrize(
    ("at", "working_day", "expected"),
    [
        ("2027-01-07 08:00", True, date(2027, 1, 7)),
        ("2027-01-07 08:01", True, date(2027, 1, 8)),
        ("2027-01-08 08:01", True, date(2027, 1, 11)),
        ("2027-01-08 08:01", False, date(2027, 1, 9)),
    ],
)
def test_the_first_day_starts_at_or_after_the_instant(
    at: str,
    working_day: bool,  # noqa: FBT001 - a case of the table
    expected: date,
) -> None:
    assert CALENDAR.start_on(local(at), working_day=working_day) == expected


def test_the_latest_start_still_finishes_in_time() -> None:
    by = local("2027-01-12 10:00")
    start = CALENDAR.latest_start(by, 10 * 3600.0, split=True)
    assert start == local("2027-01-11 08:00")
    done = CALENDAR.run(start, 10 * 3600.0, split=True)
    assert done is not None
    assert done[1] <= by
    later = CALENDAR.run(start + timedelta(days=1), 10 * 3600.0, split=True)
    assert later is not None
    assert later[1] > by
