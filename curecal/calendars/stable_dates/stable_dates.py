"""Visits, and what is owed, on days that stand while nothing happens.

An entry that moved with the clock would be a new revision each day, and would tell nobody
anything. So an entry keeps the day that the waits of the floor gave it:

- Switching on (the electrician's visit, the crew's heat-up) stays on that day, tentative, until
  the floor is released; the release gives it its new day.
- What is owed (a test, the connection, the visit after a release) stays on that day too, and its
  end goes on in whole weeks, so that it never falls out of sight.
- The set-points after a release keep the plan's days, also where they move: an owner must never
  read a set-point of a day on which the floor was still cold.
- Work that was not recorded moves, and so does all that waits for it: those days no longer hold.

The entries show these days, and the messages to the electrician tell them.

Rule: R8, R21, R26.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, datetime, timedelta

from curecal.calendars.event import Days, Timed
from curecal.calendars.stable_dates.event_hours import span, working_hour, working_window
from curecal.instants import Window, local_day
from curecal.planning.plan import Plan, State, Visit, VisitKind, ZonePlan
from curecal.planning.working_time.working_calendar import Calendar
from curecal.planning.zone.stable_day import crew_day, early_day, late_day

_DAY = timedelta(days=1)
_WEEK_DAYS = 7


def zones_of(plan: Plan, visit: Visit) -> list[ZonePlan]:
    """Return the zones that a visit is for, in the order of the plan.

    Args:
        plan: The plan.
        visit: One of its visits.

    Returns:
        The zones.
    """
    return [zone for zone in plan.zones if zone.zone.id in visit.zone_ids]


def visit_window(plan: Plan, visit: Visit, calendar: Calendar) -> Window | None:
    """Return a visit's window in working hours, with ends that stand while nothing has changed.

    Rule: R8.

    Args:
        plan: The plan.
        visit: One of its visits.
        calendar: The working days.

    Returns:
        The window; None where the plan has none.
    """
    if visit.window is None:
        return None
    zones = zones_of(plan, visit)
    if visit.kind == VisitKind.ENERGIZE:
        return working_window(_energize(plan, visit.window, zones, calendar), calendar)
    if visit.window.latest is None:
        return working_window(visit.window, calendar)
    if visit.kind == VisitKind.ROUGH_IN:
        return _before_the_pour(visit.window.earliest, visit.window.latest, zones, calendar)
    return _before_the_date(plan, visit.window.earliest, visit.window.latest, zones, calendar)


def visit_day(plan: Plan, visit: Visit, calendar: Calendar) -> date | None:
    """Return the day an electrician is told of a visit.

    Rule: R8, R21.

    Args:
        plan: The plan.
        visit: One of its visits.
        calendar: The working days.

    Returns:
        The first day of its window; None for a floor that is stopped or has no date.
    """
    zones = zones_of(plan, visit)
    window = visit_window(plan, visit, calendar)
    if window is None or any(zone.state is State.STOPPED for zone in zones):
        return None
    if visit.kind == VisitKind.ROUGH_IN:
        # The window ends with the pour; the day before it is the last one for the visit.
        return local_day(window.earliest, calendar.tz)
    if any(crew_day(zone, plan.as_of, calendar) is None for zone in zones):
        return None
    return local_day(window.earliest, calendar.tz)


def owed_hours(window: Window, as_of: datetime, calendar: Calendar) -> Timed:
    """Return when what is owed stands in a calendar: its window, and on in weeks once it is over.

    Args:
        window: Its window, rounded.
        as_of: The instant of the plan.
        calendar: The working days.

    Returns:
        The times; they end after the instant of the plan.
    """
    times = span(window.earliest, window.latest, calendar.tz)
    if times.end_at > as_of:
        return times
    end_on = _in_weeks(local_day(times.end_at, calendar.tz), local_day(as_of, calendar.tz))
    return Timed(times.start_at, calendar.closes(end_on))


def owed_days(due_on: date, as_of: datetime, calendar: Calendar) -> Days:
    """Return when what is due by a day stands in a calendar: on it, and on in weeks after it.

    Args:
        due_on: The day it is due by.
        as_of: The instant of the plan.
        calendar: The working days.

    Returns:
        The days; they end after the day of the plan.
    """
    today = local_day(as_of, calendar.tz)
    return Days(due_on, _in_weeks(due_on, today - _DAY) + _DAY)


def _in_weeks(day: date, today: date) -> date:
    """Return the day, or the first one whole weeks after it that is later than another."""
    weeks = 0 if day > today else (today - day).days // _WEEK_DAYS + 1
    return day + timedelta(days=weeks * _WEEK_DAYS)


def _energize(plan: Plan, window: Window, zones: Sequence[ZonePlan], calendar: Calendar) -> Window:
    """Return from the first day on which all zones of a visit may be on, to the last of them."""
    earliest = [day for zone in zones if (day := early_day(zone, plan.as_of, calendar))]
    late = [late_day(zone, plan.as_of, calendar) for zone in zones]
    latest = [day for day in late if day]
    if not earliest:
        return window
    first = calendar.opens(max(earliest))
    if all(zone.is_released for zone in zones):
        return Window(first, first)
    if len(latest) < len(late):
        return Window(first, None)
    return Window(first, max(first, calendar.opens(max(latest))))


def _day_ends(at: datetime, calendar: Calendar) -> datetime:
    """Return the end of work of an instant's day, or the instant where that is later."""
    return max(at, calendar.closes(calendar.shift_day(at)))


def _before_the_pour(
    earliest: datetime, latest: datetime, zones: Sequence[ZonePlan], calendar: Calendar
) -> Window:
    """Return the working day before the cable is covered, to the pour.

    A pour that nobody fixed an hour for is shown from the morning of its day, as in the crew's
    calendar.
    """
    rounded = working_window(Window(earliest, latest), calendar)
    closes = rounded.latest or rounded.earliest
    fixed = {plan.layer.planned_start_at for zone in zones for plan in zone.layers}
    if latest not in fixed:
        closes = min(closes, calendar.opens(calendar.shift_day(closes)))
    before = calendar.latest_start(closes, None, split=False)
    return Window(before or rounded.earliest, closes)


def _before_the_date(
    plan: Plan,
    earliest: datetime,
    latest: datetime,
    zones: Sequence[ZonePlan],
    calendar: Calendar,
) -> Window:
    """Return the window from the last layer laid before it to the end of work before the date."""
    dated = [zone.energize.window.earliest for zone in zones if zone.energize.window]
    # Past its date the plan's end is now.
    if dated and plan.as_of > max(dated):
        latest = min(latest, max(dated))
    # What is laid after the visit is not waited for: a bare screed is connected before its tile.
    laid = [
        (layer.finish.earliest, layer.planned)
        for zone in zones
        for layer in zone.layers
        if layer.finish and not layer.layer.existing and layer.finish.earliest <= latest
    ]
    last = working_hour(latest, calendar)
    day = calendar.shift_day(last)
    if last != calendar.opens(day):
        closes = max(calendar.closes(day), last)
    else:
        # That morning it is switched on: all must be behind the electrician the day before.
        before = calendar.latest_start(last, None, split=False)
        closes = calendar.closes(calendar.shift_day(before)) if before else last
    # From the morning after planned work, since its hour slides; where that is too late, from
    # its hour.
    hours = [at for at, _ in laid]
    days = [_day_ends(at, calendar) if planned else at for at, planned in laid]
    down = last
    for finishes in (days, hours):
        down = min(working_hour(max(finishes, default=earliest), calendar), last)
        if down < closes:
            return Window(down, closes)
    return Window(down, last)
