"""When a message may go out: wall times of the site, quiet hours, working days.

A wish for a time that the clock skips holds at the first instant after it; for one it shows
twice at the first, once.
"""

from __future__ import annotations

from datetime import date, datetime, time, timedelta, tzinfo

from curecal.instants import add, end_of_day, local_at, local_day
from curecal.planning.working_time.working_calendar import Calendar
from curecal.reminders.reminder_types import ORDER, ReminderRules
from curecal.trade.job import Role

_DAY = timedelta(days=1)
# Two years of days: who works on none of them is told all the same.
_TRIES = 800


def wish_at(day: date, wall: time, tz: tzinfo) -> datetime:
    """Return the instant at which a wish for a wall time of a day holds.

    Args:
        day: the local day.
        wall: the wall time on site.
        tz: the zone of the site.

    Returns:
        The instant in UTC.
    """
    return local_at(day, wall, tz, fold="earlier")


def is_quiet(at: datetime, rules: ReminderRules, tz: tzinfo) -> bool:
    """Return whether a clock on site shows quiet hours.

    Args:
        at: an instant.
        rules: the rules, with the quiet hours.
        tz: the zone of the site.

    Returns:
        True from the start of the quiet hours up to their end.
    """
    wall = at.astimezone(tz).time()
    first, last = rules.quiet_from, rules.quiet_to
    if first == last:
        return False
    if first < last:
        return first <= wall < last
    return wall >= first or wall < last


def loud_at(at: datetime, rules: ReminderRules, tz: tzinfo) -> datetime:
    """Return the first instant at or after another that is outside the quiet hours.

    Args:
        at: an instant.
        rules: the rules, with the quiet hours.
        tz: the zone of the site.

    Returns:
        The instant in UTC.
    """
    if not is_quiet(at, rules, tz):
        return at
    day = local_day(at, tz)
    for _ in range(3):
        # Where the clock runs twice, the first pass may lie behind: then the second counts.
        passes = (wish_at(day, rules.quiet_to, tz), local_at(day, rules.quiet_to, tz))
        for opens in passes:
            if opens > at and not is_quiet(opens, rules, tz):
                return opens
        day += _DAY
    return at


def quiet_after(at: datetime, rules: ReminderRules, tz: tzinfo) -> datetime | None:
    """Return the first start of quiet hours after an instant.

    Args:
        at: an instant.
        rules: the rules, with the quiet hours.
        tz: the zone of the site.

    Returns:
        The instant in UTC; None where there are no quiet hours.
    """
    if rules.quiet_from == rules.quiet_to:
        return None
    day = local_day(at, tz)
    starts = (wish_at(day + count * _DAY, rules.quiet_from, tz) for count in range(3))
    return next(start for start in starts if start > at)


def proper_at(
    at: datetime, roles: tuple[Role, ...], rules: ReminderRules, calendar: Calendar
) -> datetime:
    """Return when a message that is no emergency may reach a person.

    Who is told on working days only hears nothing on others, whatever their further roles.

    Args:
        at: when it is wanted.
        roles: the roles of the person.
        rules: the rules.
        calendar: the working days of the site.

    Returns:
        The instant in UTC, never before `at`.
    """
    at = loud_at(at, rules, calendar.tz)
    if not all(role in rules.working_days for role in roles):
        return at
    for _ in range(_TRIES):
        day = local_day(at, calendar.tz)
        if calendar.works_on(day):
            return at
        at = loud_at(end_of_day(day, calendar.tz), rules, calendar.tz)
    return at


def message_at(
    due_at: datetime,
    at: datetime,
    until_at: datetime | None,
    roles: tuple[Role, ...],
    rules: ReminderRules,
    calendar: Calendar,
    *,
    left_on: date | None = None,
) -> datetime:
    """Return when a line goes out with the one message that a person gets in a day.

    Args:
        due_at: when it is wanted.
        at: now, or when it came to be wanted.
        until_at: until when it is worth saying.
        roles: the roles of the person.
        rules: the rules, with the time of each role's message.
        calendar: the working days of the site.
        left_on: the last local day whose message has left.

    Returns:
        The instant: at the day's time, after it for what was wanted by then; not on a day whose
        message has left. Otherwise only where it would come too late. Never before `at`.
    """
    tz = calendar.tz
    at = max(at, due_at)
    wall = next((rules.message_at[role] for role in ORDER if role in roles), None)
    tries = [proper_at(at, roles, rules, calendar)]
    if left_on is not None and local_day(at, tz) <= left_on:
        tries.insert(0, proper_at(end_of_day(left_on, tz), roles, rules, calendar))
    free_at = tries[0]
    if wall is not None:
        on_time = wish_at(local_day(free_at, tz), wall, tz)
        if on_time < free_at and due_at > on_time:
            next_at = proper_at(end_of_day(local_day(free_at, tz), tz), roles, rules, calendar)
            on_time = wish_at(local_day(next_at, tz), wall, tz)
        tries.insert(0, proper_at(max(free_at, on_time), roles, rules, calendar))
    return next((one for one in tries if until_at is None or one < until_at), tries[-1])


def working_day_before(day: date, count: int, calendar: Calendar) -> date:
    """Return the working day so many working days before another.

    Args:
        day: a local day.
        count: how many working days; 0 gives the day itself.
        calendar: the working days of the site.

    Returns:
        The day; where no day works, so many days of the calendar before.
    """
    left, tried = count, day
    # Two months: no site is shut for longer between two of its days.
    for _ in range(62):
        if not left:
            return tried
        tried -= _DAY
        left -= calendar.works_on(tried)
    return day - count * _DAY


def next_evening(at: datetime, wall: time, tz: tzinfo) -> datetime:
    """Return the evening of tomorrow: what lies before it is too near to wait.

    Args:
        at: an instant.
        wall: the wall time that counts as evening.
        tz: the zone of the site.

    Returns:
        The instant in UTC.
    """
    return wish_at(local_day(at, tz) + _DAY, wall, tz)


def rounds(first: date, today: date, every: int) -> tuple[date, date]:
    """Return the last round at or before a day, and the next one.

    Args:
        first: the day of the first round.
        today: a day.
        every: how many days lie between two.

    Returns:
        Two days; before the first round, the first twice.
    """
    if today < first:
        return first, first
    last = first + timedelta(days=(today - first).days // every * every)
    return last, last + timedelta(days=every)


def later(at: datetime, wait_s: float) -> datetime:
    """Return an instant so many seconds later.

    Args:
        at: an instant.
        wait_s: how much later [s].

    Returns:
        The instant in UTC.
    """
    return add(at, wait_s)
