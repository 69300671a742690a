"""Which jobs a round plans, and in which order: what may leave first is planned first."""

from __future__ import annotations

import zlib
from collections.abc import Callable, Collection
from datetime import datetime
from typing import TYPE_CHECKING, NamedTuple

from sqlalchemy import select, union

from curecal.book.message_states import UNSENT, MessageState
from curecal.book.outbox.reminders import jobs_due
from curecal.book.schema.tables import outbox, reminder
from curecal.reminders.messages.send_context import SendContext
from curecal.reminders.replanning.replan_notes import moved_jobs

if TYPE_CHECKING:
    from sqlalchemy.engine import Connection

_NOT_LEFT = [state.value for state in sorted(UNSENT | {MessageState.UNCERTAIN})]


class RoundOrder(NamedTuple):
    """The jobs of a round. Those of which a message has not left come `first`, then the `rest`."""

    first: tuple[str, ...]
    rest: tuple[str, ...]


def round_order(
    connection: Connection, context: SendContext, *, now: datetime, name: str
) -> RoundOrder:
    """Return the jobs that changed, hold no longer, or of which something is due.

    What has not left may not hold any more, so nothing else leaves before its job is planned. Of
    the rest those come first of which somebody told something, then those that have to say
    something, what is urgent before all else. The others begin at another place with each process,
    so that two that share a book meet seldom.

    Args:
        connection: the transaction.
        context: the rules.
        now: the instant.
        name: of the process.

    Returns:
        The jobs.
    """
    moved = moved_jobs(connection, context, now=now)
    waiting = _jobs_waiting(connection)
    urgent = [kind for kind, rule in context.reminder_rules.kinds.items() if rule.urgent]
    due = jobs_due(connection, now=now, urgent=urgent)
    uncertain = set(
        connection.execute(
            select(outbox.c.job_id).where(outbox.c.state == MessageState.UNCERTAIN.value)
        ).scalars()
    )
    todo = uncertain.union(moved.by_fact, moved.by_time, due)
    order = dict.fromkeys([*moved.by_fact, *due, *_from_place(moved.by_time, name)])
    first = tuple(sorted(todo & waiting, key=_place_in(order)))
    return RoundOrder(first, tuple(job_id for job_id in order if job_id not in waiting))


def _place_in(order: dict[str, None]) -> Callable[[str], int]:
    places = {job_id: place for place, job_id in enumerate(order)}
    return lambda job_id: places.get(job_id, -1)


def _from_place(jobs: Collection[str], name: str) -> list[str]:
    """Return jobs from a place on that follows from a name, those before it at the end."""
    listed = list(jobs)
    place = zlib.crc32(name.encode()) % len(listed) if listed else 0
    return listed[place:] + listed[:place]


def _jobs_waiting(connection: Connection) -> frozenset[str]:
    """Return the jobs of which a message has not left, or a line of one, for all that is known."""
    alone = select(outbox.c.job_id).where(outbox.c.state.in_(_NOT_LEFT))
    lines = (
        select(reminder.c.job_id)
        .join(outbox, reminder.c.digest_id == outbox.c.id)
        .where(outbox.c.state.in_(_NOT_LEFT))
    )
    return frozenset(connection.execute(union(alone, lines)).scalars())
