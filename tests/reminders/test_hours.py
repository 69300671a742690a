"""When a message may go out: nights, days off, and the nights on which the clock changes."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, date, datetime, time, timedelta
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from curecal.planning.working_time.working_calendar import Calendar
from curecal.reminders.reminder_rules import shipped_rules
from curecal.reminders.timing.sending_hours import (
    is_quiet,
    loud_at,
    next_evening,
    proper_at,
    rounds,
    wish_at,
    working_day_before,
)
from curecal.trade.job import Role, Work

HALIFAX, BERLIN, APIA = (
    ZoneInfo(name) for name in ("America/Halifax", "Europe/Berlin", "Pacific/Apia")
)
RULES = shipped_rules()


def weekend(day: date) -> str | None:
    return "weekend" if day.weekday() >= 5 else None


def never(day: date) -> str | None:
    return f"closed {day}"


def calendar(tz: ZoneInfo = HALIFAX) -> Calendar:
    return Calendar(Work(), tz, weekend)


def test_a_wish_in_the_gap_holds_at_the_first_instant_after_it() -> None:
    # 28 March 2027: 02:00 is 03:00.
    assert wish_at(date(2027, 3, 28), time(2, 30), BERLIN) == datetime(2027, 3, 28, 1, tzinfo=UTC)


def test_a_wish_in_the_fold_holds_on_the_first_pass() -> None:
    # 25 October 2026: 03:00 is 02:00 again.
    assert wish_at(date(2026, 10, 25), time(2, 30), BERLIN) == datetime(
        2026, 10, 25, 0, 30, tzinfo=UTC
    )


@pytest.mark.parametrize(
    ("tz", "at", "opens"),
    [
        (HALIFAX, datetime(2026, 11, 10, 2, tzinfo=UTC), datetime(2026, 11, 10, 11, tzinfo=UTC)),
        (HALIFAX, datetime(2026, 11, 10, 12, tzinfo=UTC), datetime(2026, 11, 10, 12, tzinfo=UTC)),
        # Both nights on which the clock changes: 07:00 on site is 07:00 on site.
        (BERLIN, datetime(2027, 3, 27, 22, tzinfo=UTC), datetime(2027, 3, 28, 5, tzinfo=UTC)),
        (BERLIN, datetime(2026, 10, 24, 22, tzinfo=UTC), datetime(2026, 10, 25, 6, tzinfo=UTC)),
        # A night that a whole day is missing from.
        (APIA, datetime(2011, 12, 30, 9, tzinfo=UTC), datetime(2011, 12, 30, 17, tzinfo=UTC)),
    ],
)
def test_a_night_ends_at_seven_on_site(tz: ZoneInfo, at: datetime, opens: datetime) -> None:
    assert loud_at(at, RULES, tz) == opens


INSTANTS = st.datetimes(datetime(2024, 1, 1), datetime(2030, 1, 1)).map(  # noqa: DTZ001 - made aware
    lambda at: at.replace(tzinfo=UTC)
)
WALLS = st.times().map(lambda wall: wall.replace(second=0, microsecond=0))


@given(INSTANTS, WALLS, WALLS, st.sampled_from([HALIFAX, BERLIN]))
def test_what_is_loud_is_never_before_and_never_in_the_night(
    at: datetime, first: time, last: time, tz: ZoneInfo
) -> None:
    rules = replace(RULES, quiet_from=first, quiet_to=last)
    loud = loud_at(at, rules, tz)
    assert loud >= at
    assert loud - at <= timedelta(hours=25)
    assert not is_quiet(loud, rules, tz)


@given(INSTANTS, st.sampled_from([(Role.OWNER,), (Role.CREW_LEAD,), (Role.CREW_LEAD, Role.OWNER)]))
def test_proper_is_proper(at: datetime, roles: tuple[Role, ...]) -> None:
    found = proper_at(at, roles, RULES, calendar())
    assert found >= at
    assert proper_at(found, roles, RULES, calendar()) == found


def test_a_crew_lead_hears_nothing_at_the_weekend_and_an_owner_does() -> None:
    saturday = datetime(2026, 11, 14, 15, tzinfo=UTC)
    assert proper_at(saturday, (Role.OWNER,), RULES, calendar()) == saturday
    monday = datetime(2026, 11, 16, 11, tzinfo=UTC)
    assert proper_at(saturday, (Role.CREW_LEAD,), RULES, calendar()) == monday
    assert proper_at(saturday, (Role.CREW_LEAD, Role.OWNER), RULES, calendar()) == saturday


def test_no_quiet_hours_where_both_ends_are_one() -> None:
    rules = replace(RULES, quiet_from=time(7), quiet_to=time(7))
    assert not is_quiet(datetime(2026, 11, 10, 11, tzinfo=UTC), rules, HALIFAX)


def test_a_working_day_before_passes_over_the_weekend() -> None:
    assert working_day_before(date(2026, 11, 16), 1, calendar()) == date(2026, 11, 13)
    assert working_day_before(date(2026, 11, 16), 0, calendar()) == date(2026, 11, 16)
    closed = Calendar(Work(), HALIFAX, never)
    assert working_day_before(date(2026, 11, 16), 2, closed) == date(2026, 11, 14)


def test_what_a_night_shift_begins_after_midnight_is_told_on_the_evening_it_began() -> None:
    nights = Calendar(Work(start=time(22), end=time(6)), HALIFAX, weekend)
    # Saturday 14 November, 02:00, is still the night of Friday.
    assert nights.works_on(nights.shift_day(datetime(2026, 11, 14, 6, tzinfo=UTC)))
    assert working_day_before(date(2026, 11, 14), 1, nights) == date(2026, 11, 13)
    assert working_day_before(date(2026, 11, 16), 1, nights) == date(2026, 11, 13)


def test_rounds_lie_on_a_fixed_grid() -> None:
    first = date(2026, 11, 2)
    assert rounds(first, date(2026, 11, 1), 7) == (first, first)
    assert rounds(first, date(2026, 11, 8), 7) == (first, date(2026, 11, 9))
    assert rounds(first, date(2026, 11, 9), 7) == (date(2026, 11, 9), date(2026, 11, 16))


def test_tomorrow_evening_is_tomorrow_evening_on_site() -> None:
    at = datetime(2026, 11, 10, 3, tzinfo=UTC)
    assert next_evening(at, time(18), HALIFAX) == datetime(2026, 11, 10, 22, tzinfo=UTC)
