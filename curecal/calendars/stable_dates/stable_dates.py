"""Days that stand while nothing happens.

A plan's days to come move on with the clock: nothing can be switched on yesterday. An entry that
moved with them would be a new revision each day, and would tell nobody anything. So an entry keeps
the day that the clocks of the floor gave it:

- Switching on (the electrician's visit, the crew's heat-up) stays on that day, tentative, until
  the floor is released; the release gives it its new day.
- What is owed (a test, the connection, the visit after a release) stays on that day too, and its
  end goes on in whole weeks, so that it never falls out of sight.
- The set-points after a release keep the plan's days, also where they move: an owner must never
  read a set-point of a day on which the floor was still cold.
- Work that was not recorded moves, and so does all that waits for it: those days no longer hold.

Rule: R8, R21, R26.
"""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date, datetime, timedelta

from curecal.calendars.event import Days, Timed
from curecal.calendars.event_context import DAY, Board
from curecal.calendars.stable_dates.event_hours import span, working_hour, working_window
from curecal.instants import Window, local_day
from curecal.planning.plan import Visit, ZonePlan
from curecal.trade.job import Role

FIRST_VISIT, SECOND_VISIT, ENERGIZE_VISIT = (
    "rough-in-and-first-test",
    "test-and-connect",
    "energize",
)
_WEEK_DAYS = 7


def early_day(board: Board, zone: ZonePlan) -> date | None:
    """The first day a zone may be switched on by the clocks, however late it is.

    Args:
        board: The plan and what it is shown with.
        zone: The zone.

    Returns:
        The day; None without a date.
    """
    window = zone.energize.window
    return _standing(board, zone, window.earliest if window else None, zone.energize.start_on)


def late_day(board: Board, zone: ZonePlan) -> date | None:
    """The first day a zone may be switched on even at the worst expected climate.

    Args:
        board: The plan and what it is shown with.
        zone: The zone.

    Returns:
        The day; None where no latest date can be promised.
    """
    window = zone.energize.window
    return _standing(board, zone, window.latest if window else None, zone.energize.owner_date)


def visit_window(board: Board, visit: Visit) -> Window | None:
    """A visit's window in working hours, with ends that stand while nothing has changed.

    Args:
        board: The plan and what it is shown with.
        visit: The visit.

    Returns:
        The window; None where the plan has none.

    Rule: R8.
    """
    if visit.window is None:
        return None
    zones = [zone for zone in board.plan.zones if zone.zone.id in visit.zone_ids]
    if visit.kind == ENERGIZE_VISIT:
        return working_window(_energize(board, visit.window, zones), board.calendar)
    if visit.window.latest is None or visit.kind not in {FIRST_VISIT, SECOND_VISIT}:
        return working_window(visit.window, board.calendar)
    if visit.kind == FIRST_VISIT:
        return _before_the_pour(board, visit.window.earliest, visit.window.latest, zones)
    return _before_the_date(board, visit.window.earliest, visit.window.latest, zones)


def owed_hours(board: Board, window: Window) -> Timed:
    """When what is owed stands in a calendar: its window, and on in weeks once that is over.

    Args:
        board: The plan and what it is shown with.
        window: Its window, rounded.

    Returns:
        The times; they end after the instant of the plan.
    """
    times = span(window.earliest, window.latest, board.tz)
    if times.end_at > board.plan.as_of:
        return times
    end_on = _in_weeks(local_day(times.end_at, board.tz), board.today())
    return Timed(times.start_at, board.calendar.closes(end_on))


def owed_days(board: Board, due_on: date) -> Days:
    """When what is due by a day stands in a calendar: on it, and on in weeks once that is over.

    Args:
        board: The plan and what it is shown with.
        due_on: The day it is due by.

    Returns:
        The days; they end after the day of the plan.
    """
    return Days(due_on, _in_weeks(due_on, board.today() - DAY) + DAY)


def _in_weeks(day: date, today: date) -> date:
    """The day, or the first one whole weeks after it that is later than another."""
    weeks = 0 if day > today else (today - day).days // _WEEK_DAYS + 1
    return day + timedelta(days=weeks * _WEEK_DAYS)


def _standing(
    board: Board, zone: ZonePlan, end: datetime | None, told_on: date | None
) -> date | None:
    """The day of one end of a window, unmoved by the clock; counted on from a release."""
    if end is None or told_on is None:
        return told_on
    released_at = zone.released_at if zone.is_released else None
    counted = end if released_at is None else max(end, released_at)
    if board.plan.as_of <= counted:
        return told_on
    visit = zone.first_switched_on_by is Role.ELECTRICIAN
    first_on = board.calendar.start_on(counted, working_day=visit)
    return None if first_on is None else min(first_on, told_on)


def _energize(board: Board, window: Window, zones: Iterable[ZonePlan]) -> Window:
    """From the first day on which all zones of a visit may be switched on, to the last of them."""
    earliest = [day for zone in zones if (day := early_day(board, zone))]
    late = [late_day(board, zone) for zone in zones]
    latest = [day for day in late if day]
    if not earliest:
        return window
    opens = board.calendar.opens
    first = opens(max(earliest))
    if all(zone.is_released for zone in zones):
        return Window(first, first)
    if len(latest) < len(late):
        return Window(first, None)
    return Window(first, max(first, opens(max(latest))))


def _day_ends(board: Board, at: datetime) -> datetime:
    """The end of work of an instant's day, or the instant where that is later."""
    return max(at, board.calendar.closes(local_day(at, board.tz)))


def _before_the_pour(
    board: Board, earliest: datetime, latest: datetime, zones: Iterable[ZonePlan]
) -> Window:
    """The working day before the cable is covered, to the pour.

    A pour that nobody fixed an hour for is shown from the morning of its day, as in the crew's
    calendar.
    """
    rounded = working_window(Window(earliest, latest), board.calendar)
    closes = rounded.latest or rounded.earliest
    fixed = {plan.layer.planned_start_at for zone in zones for plan in zone.layers}
    if latest not in fixed:
        closes = min(closes, board.calendar.opens(local_day(closes, board.tz)))
    before = board.calendar.latest_start(closes, None, split=False)
    return Window(before or rounded.earliest, closes)


def _before_the_date(
    board: Board, earliest: datetime, latest: datetime, zones: Iterable[ZonePlan]
) -> Window:
    """From when the last layer before it is down, to the last end of work before the date."""
    calendar = board.calendar
    dated = [zone.energize.window.earliest for zone in zones if zone.energize.window]
    # Past its date the plan's end is now.
    if dated and board.plan.as_of > max(dated):
        latest = min(latest, max(dated))
    # What is laid after the visit is not waited for: a bare screed is connected before its tile.
    laid = [
        (plan.finish.earliest, plan.planned)
        for zone in zones
        for plan in zone.layers
        if plan.finish and not plan.layer.existing and plan.finish.earliest <= latest
    ]
    last = working_hour(latest, calendar)
    day = local_day(last, board.tz)
    if last != calendar.opens(day):
        closes = max(calendar.closes(day), last)
    else:
        # That morning it is switched on: all must be behind the electrician the day before.
        before = calendar.latest_start(last, None, split=False)
        closes = calendar.closes(local_day(before, board.tz)) if before else last
    # From the morning after planned work, since its hour slides; where that is too late, from
    # its hour.
    hours = [at for at, _ in laid]
    days = [_day_ends(board, at) if planned else at for at, planned in laid]
    down = last
    for finishes in (days, hours):
        down = min(working_hour(max(finishes, default=earliest), calendar), last)
        if down < closes:
            return Window(down, closes)
    return Window(down, last)
