"""How long a job's answer holds while nothing new is told."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from datetime import datetime, timedelta

from curecal.instants import end_of_day, local_day
from curecal.planning.plan import Plan
from curecal.planning.working_time.working_calendar import Calendar
from curecal.records import Record, names_of
from curecal.trade.data_sheets import DataSheet
from curecal.trade.site_log import Entry

# Down to a 256th of the stretch; what changes sooner is planned anew with the next look.
_TRIES = 4
# Each costs two plans; a day with more of them is looked at again.
_MOST_STRETCHES = 6


def holds_until(
    plan: Plan,
    log: Sequence[Entry],
    *,
    calendar: Calendar,
    is_same_at: Callable[[datetime], bool],
) -> datetime:
    """Return until when, that instant left out, the answer of a plan is the answer.

    While nobody tells anything new a plan goes one way with the clock: dates go later, waits run
    out, nothing comes back. So an answer that is the same at the end of the day, or just before
    the log's next entry of that day, was the same all the time. Where it is not, it is followed
    from one instant at which something falls due to the next; where it moves between two of them,
    the work slides with the clock, and a shorter stretch is tried.

    Args:
        plan: the plan of an instant.
        log: the site log.
        calendar: the working days of its site.
        is_same_at: whether planning at another instant gives the same answer.

    Returns:
        An instant after the plan's own and not after the end of its local day; the plan's own
        where the answer moves at once.
    """
    last_at = last_of_stretch(plan, log)
    ends_at = last_at + timedelta.resolution
    if is_same_at(last_at):
        return ends_at
    until = plan.as_of
    due = {at for at in _due_at(plan, calendar) if plan.as_of < at < ends_at}
    for due_at in sorted(due)[:_MOST_STRETCHES]:
        if not is_same_at(due_at - timedelta.resolution):
            return _shorter(until, due_at, is_same_at)
        until = due_at
        if not is_same_at(due_at):
            return until
    return _shorter(until, ends_at, is_same_at)


def last_of_stretch(plan: Plan, log: Sequence[Entry]) -> datetime:
    """Return the last instant before anything can come in that is known by now.

    Args:
        plan: the plan of an instant.
        log: the site log.

    Returns:
        An instant in the local day of the plan's own, before the log's next entry of that day.
    """
    midnight = end_of_day(local_day(plan.as_of, plan.job.tz), plan.job.tz)
    ends_at = min([midnight, *(at for at in _told_at(plan, log) if at > plan.as_of)])
    return ends_at - timedelta.resolution


def _shorter(
    since: datetime, other_at: datetime, is_same_at: Callable[[datetime], bool]
) -> datetime:
    """Return until when an answer holds that is another at the end of a stretch."""
    until = other_at
    for _ in range(_TRIES):
        until = since + (until - since) / 4
        if is_same_at(until):
            return until
    return since


def _told_at(plan: Plan, log: Sequence[Entry]) -> Iterator[datetime]:
    """Give the instants at which an entry begins to count, or a person's word no longer does."""
    for entry in log:
        yield entry.at
        yield entry.recorded
    yield from (person.until_at for person in plan.job.people if person.until_at is not None)


def _due_at(plan: Plan, calendar: Calendar) -> Iterator[datetime]:
    """Give the instants at which something of a plan may fall due."""
    today = local_day(plan.as_of, plan.job.tz)
    yield calendar.opens(today)
    yield calendar.closes(today)
    yield from _instants_in((plan.zones, plan.visits, plan.findings))


def _instants_in(value: object) -> Iterator[datetime]:
    """Give every instant of a plan, wherever it stands in it."""
    match value:
        case datetime():
            yield value
        case DataSheet():
            # What a product says of itself holds no instant.
            return
        case Record():
            for name in names_of(type(value)):
                yield from _instants_in(getattr(value, name))
        case Mapping():
            for item in value.values():
                yield from _instants_in(item)
        case tuple() | list():
            for item in value:
                yield from _instants_in(item)
