"""Where events stand: whole working hours of the crew, evenings before, first days."""

from __future__ import annotations

from datetime import date, datetime, time, timedelta, tzinfo

from curecal.calendars.event import Alarm, Days, Status, Timed
from curecal.instants import Window, add, ceil_second, local_at, local_day
from curecal.planning.working_time.working_calendar import Calendar, DayOff
from curecal.trade.job import Work

_HOUR_S = 3600
# A longer one is a stretch of days to a calendar, however it is drawn.
_HALF_A_DAY = timedelta(hours=12)
_EVENING = time(18, 0)
EVENING_BEFORE = "evening before"


def day_off_of(work: Work) -> DayOff:
    """Return what a job's own working week says of a day; public holidays are the caller's to add.

    Args:
        work: The job's working days and days off.

    Returns:
        A function of the local day: the reason it is off, or None.
    """
    off = frozenset(work.days_off)

    def day_off(day: date) -> str | None:
        if day.weekday() not in work.days:
            return "weekend"
        return "day off" if day in off else None

    return day_off


def whole_hour(at: datetime, tz: tzinfo) -> datetime:
    """The first instant at or after another at which a clock on site shows a full hour.

    Args:
        at: An aware instant.
        tz: The zone of the site.

    Returns:
        The instant in UTC.
    """
    up = ceil_second(at)
    # A second round is needed only where the clock changes by part of an hour in between.
    for _ in range(2):
        wall = up.astimezone(tz)
        past_s = wall.minute * 60 + wall.second
        if past_s:
            up = add(up, _HOUR_S - past_s)
    return up


def working_hour(at: datetime, calendar: Calendar) -> datetime:
    """The start of work, or the full hour of a working day, at or after an instant.

    Rounded so that a new reading, which moves a date by minutes, moves no event. Where no day
    within two years is worked, the full hour of any day.

    Rule: R8.

    Args:
        at: An aware instant.
        calendar: The working days.

    Returns:
        The instant in UTC, never earlier than `at`.
    """
    at = ceil_second(at)
    opened = calendar.next_working(at)
    if opened is not None and (opened > at or opened == calendar.opens(calendar.shift_day(at))):
        return opened
    up = whole_hour(at, calendar.tz)
    return calendar.next_working(up) or up


def working_window(window: Window, calendar: Calendar) -> Window:
    """A window with both ends rounded as the crew and the electrician read them.

    Rule: R8.

    Args:
        window: The window.
        calendar: The working days.

    Returns:
        The window; without a latest end where it had none.
    """
    latest = None if window.latest is None else working_hour(window.latest, calendar)
    return Window(working_hour(window.earliest, calendar), latest)


def span(start_at: datetime, end_at: datetime | None, tz: tzinfo) -> Timed:
    """An event from a start to an end, in full hours, at least one hour long.

    Args:
        start_at: The start, already rounded.
        end_at: The end, if there is one.
        tz: The zone of the site.

    Returns:
        The times.
    """
    least = add(start_at, _HOUR_S)
    return Timed(start_at, least if end_at is None else max(least, whole_hour(end_at, tz)))


def shown_window(times: Timed, calendar: Calendar) -> Timed | Days:
    """Return a window that somebody may choose from as a calendar shows it: by days, or by hours.

    Over several days it is shown by the day, so that no calendar draws it through a night. A
    window that ends before work begins ends with the working day before.

    Args:
        times: The window, in working hours.
        calendar: The working days.

    Returns:
        Hours of one day, or whole local days of the site.
    """
    first_on = local_day(times.start_at, calendar.tz)
    last_on = local_day(times.end_at, calendar.tz)
    if last_on > first_on and times.end_at <= calendar.opens(last_on):
        last_on -= timedelta(days=1)
        while last_on > first_on and not calendar.works_on(last_on):
            last_on -= timedelta(days=1)
    over_night = local_day(times.end_at, calendar.tz) > first_on
    if last_on > first_on or (over_night and calendar.closes(first_on) <= times.start_at):
        return Days(first_on, last_on + timedelta(days=1))
    return span(times.start_at, min(times.end_at, calendar.closes(first_on)), calendar.tz)


def fills_hours(when: Timed) -> bool:
    """Return whether an event shows hours as taken; one over a night is a window to choose from.

    Args:
        when: Its times.

    Returns:
        True for an event of half a day or less.
    """
    return when.end_at - when.start_at <= _HALF_A_DAY


def firmness(window: Window, *, estimate: bool = False) -> Status:
    """How firm a window is: firm only when both its ends are one.

    Args:
        window: The rounded window.
        estimate: Whether a test decides in the end.

    Returns:
        The status of the event that shows it.
    """
    firm = window.latest == window.earliest and not estimate
    return Status.CONFIRMED if firm else Status.TENTATIVE


def evening_before(start: datetime | date, tz: tzinfo) -> Alarm:
    """An alarm on the evening before an event.

    Args:
        start: The event's start, or its first day.
        tz: The zone of the site.

    Returns:
        The alarm at 18:00 on site.
    """
    day = local_day(start, tz) if isinstance(start, datetime) else start
    return Alarm(local_at(day - timedelta(days=1), _EVENING, tz, fold="earlier"), EVENING_BEFORE)
