"""How long a job's answer holds while nothing new is told."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from datetime import datetime, timedelta

from curecal.instants import end_of_day, local_day
from curecal.planning.plan import Plan
from curecal.planning.working_time.working_calendar import Calendar
from curecal.records import Record, names_of
from curecal.trade.data_sheets import DataSheet
from curecal.trade.job import Job
from curecal.trade.site_log import Entry

_TRIES = 5


def holds_until(
    plan: Plan,
    log: Sequence[Entry],
    *,
    calendar: Calendar,
    is_same_at: Callable[[datetime], bool],
) -> datetime:
    """Return until when, that instant left out, the answer of a plan is the answer.

    Between two instants at which something falls due a plan only moves on with the clock: dates
    go later and never back. So an answer that is the same just before the next such instant was
    the same all the time. Where it is another there, the work slides with the clock, and a nearer
    instant is tried.

    Args:
        plan: the plan of an instant.
        log: the site log.
        calendar: the working days of its site.
        is_same_at: whether planning at another instant gives the same answer.

    Returns:
        An instant after the plan's own and not after the end of its local day; the plan's own
        where the answer moves at once.
    """
    as_of = plan.as_of
    until = min(_instants_ahead(plan, log, calendar))
    for _ in range(_TRIES):
        if is_same_at(until - timedelta.resolution):
            return until
        until = as_of + (until - as_of) / 4
    return as_of


def _instants_ahead(plan: Plan, log: Sequence[Entry], calendar: Calendar) -> list[datetime]:
    """Return the instants after a plan's own at which something falls due; one is the midnight."""
    today = local_day(plan.as_of, plan.job.tz)
    known = [
        end_of_day(today, plan.job.tz),
        calendar.opens(today),
        calendar.closes(today),
        *(at for entry in log for at in (entry.at, entry.recorded)),
        *(person.until_at for person in plan.job.people if person.until_at is not None),
        *_instants_in((plan.zones, plan.visits, plan.findings)),
    ]
    return [at for at in known if at > plan.as_of]


def _instants_in(value: object) -> Iterator[datetime]:
    """Give every instant of a plan, wherever it stands in it."""
    match value:
        case datetime():
            yield value
        case DataSheet() | Job():
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
