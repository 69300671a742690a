"""The days that people are told of a zone, unmoved while nothing happens.

A plan's days to come move on with the clock: nothing can be switched on yesterday. A calendar entry
or a message that moved with them would be new each day, and would tell nobody anything. What people
are told keeps the day that the waits of the floor gave it, counted anew from a release.
"""

from __future__ import annotations

from datetime import date, datetime

from curecal.instants import local_day
from curecal.planning.plan import State, ZonePlan
from curecal.planning.working_time.working_calendar import Calendar
from curecal.trade.job import Role

_UNDATED = frozenset({State.STOPPED, State.NO_DATE})


def early_day(zone: ZonePlan, as_of: datetime, calendar: Calendar) -> date | None:
    """Return the first day a zone may be switched on as far as its waits go, however late it is.

    Rule: R8, R20.

    Args:
        zone: the zone's plan.
        as_of: the instant of the plan.
        calendar: the working days.

    Returns:
        The local day; None without a date.
    """
    window = zone.energize.window
    return _stable(
        zone, window.earliest if window else None, zone.energize.start_on, as_of, calendar
    )


def late_day(zone: ZonePlan, as_of: datetime, calendar: Calendar) -> date | None:
    """Return the first day a zone may be switched on even at the worst expected climate.

    Rule: R8, R20.

    Args:
        zone: the zone's plan.
        as_of: the instant of the plan.
        calendar: the working days.

    Returns:
        The local day; None where no latest date can be promised.
    """
    window = zone.energize.window
    return _stable(
        zone, window.latest if window else None, zone.energize.owner_date, as_of, calendar
    )


def crew_day(zone: ZonePlan, as_of: datetime, calendar: Calendar) -> date | None:
    """Return the day that crew and electrician are told: the early end.

    Rule: R21.

    Args:
        zone: the zone's plan.
        as_of: the instant of the plan.
        calendar: the working days.

    Returns:
        The local day, also one that has come and was not kept; None for a floor that is stopped
        or has no date.
    """
    return None if zone.state in _UNDATED else early_day(zone, as_of, calendar)


def owner_day(zone: ZonePlan, as_of: datetime, calendar: Calendar) -> date | None:
    """Return the one day an owner is told: the late end, and after a release the early one.

    Rule: R21.

    Args:
        zone: the zone's plan.
        as_of: the instant of the plan.
        calendar: the working days.

    Returns:
        The local day, also one that has come and was not kept; None for a floor that is stopped
        or has no date, or where none can be promised.
    """
    if zone.is_released:
        return crew_day(zone, as_of, calendar)
    return None if zone.state in _UNDATED else late_day(zone, as_of, calendar)


def is_ahead(day: date | None, as_of: datetime, calendar: Calendar) -> bool:
    """Return whether a day is one to tell: one that has come without a release is told to nobody.

    Without a release it would be another day each day.

    Rule: R21.

    Args:
        day: the day, where there is one.
        as_of: the instant of the plan.
        calendar: the working days.

    Returns:
        True for a day later than the plan's own.
    """
    return day is not None and day > local_day(as_of, calendar.tz)


def worst_day(zone: ZonePlan, calendar: Calendar) -> date | None:
    """Return the day that the worst expected climate gives, whatever has happened since.

    Rule: R8, R20.

    Args:
        zone: the zone's plan.
        calendar: the working days.

    Returns:
        The local day; None where that climate gives none.
    """
    window = zone.energize.window
    return _first_on(zone, window.latest, calendar) if window and window.latest else None


def _stable(
    zone: ZonePlan,
    end: datetime | None,
    planned_on: date | None,
    as_of: datetime,
    calendar: Calendar,
) -> date | None:
    """Return the day of one end of the zone's window, unmoved by the clock."""
    if end is None or planned_on is None:
        return None
    free_at = zone.free_since if zone.is_released else None
    counted = end if free_at is None else max(end, free_at)
    if as_of <= counted:
        return planned_on
    first_on = _first_on(zone, counted, calendar)
    return None if first_on is None else min(first_on, planned_on)


def _first_on(zone: ZonePlan, at: datetime, calendar: Calendar) -> date | None:
    """Return the first day from an instant on which a zone may be switched on."""
    visit = zone.first_switched_on_by is Role.ELECTRICIAN
    return calendar.start_on(at, working_day=visit)
