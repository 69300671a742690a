"""Calendar entries of a crew that works by night stand in its own hours."""

from __future__ import annotations

from datetime import UTC, date, datetime, time
from zoneinfo import ZoneInfo

from curecal.calendars.stable_dates.event_hours import working_hour
from curecal.calendars.stable_dates.unfixed_work import opening
from curecal.planning.working_time.working_calendar import Calendar
from curecal.trade.job import Work

BERLIN = ZoneInfo("Europe/Berlin")


def weekend(day: date) -> str | None:
    return "weekend" if day.weekday() >= 5 else None


CALENDAR = Calendar(Work(start=time(22, 0), end=time(6, 0)), BERLIN, weekend)


def local(text: str) -> datetime:
    return datetime.fromisoformat(text).replace(tzinfo=BERLIN).astimezone(UTC)


def test_calendars_round_to_the_hours_of_the_night() -> None:
    assert working_hour(local("2026-02-03 02:20"), CALENDAR) == local("2026-02-03 03:00")
    assert working_hour(local("2026-02-03 05:20"), CALENDAR) == local("2026-02-03 22:00")
    assert working_hour(local("2026-02-07 05:20"), CALENDAR) == local("2026-02-09 22:00")


def test_work_without_an_hour_is_shown_from_the_evening_of_its_shift() -> None:
    assert opening(local("2026-02-03 02:20"), CALENDAR) == local("2026-02-03 22:00")
    assert opening(local("2026-02-03 12:00"), CALENDAR) == local("2026-02-03 22:00")
