"""What replanning a job rested on, and until when it holds: a round plans only what moved since.

An answer that people ask for is kept by the same rule: `curecal.overview`.
"""

from __future__ import annotations

import hashlib
from collections.abc import Mapping, Sequence
from datetime import datetime
from typing import TYPE_CHECKING

from sqlalchemy import literal, select

from curecal.book.meta import value_of
from curecal.book.outbox.digests import is_on_the_way
from curecal.book.schema.tables import job as job_table
from curecal.book.schema.tables import meta
from curecal.errors import CurecalError
from curecal.instants import end_of_day, local_day
from curecal.overview.kept_answers import basis_of_answers
from curecal.overview.next_change import holds_until
from curecal.records import Record, names_of
from curecal.reminders.messages.kept_reminders import heard_of
from curecal.reminders.messages.send_context import (
    KnownJob,
    PlannedNow,
    SendContext,
    generation_of,
)
from curecal.reminders.reminder_types import Reminder
from curecal.reminders.sending.standing_messages import reminders_of
from curecal.reminders.timing.sending_hours import later

if TYPE_CHECKING:
    from sqlalchemy.engine import Connection

_KEY = "replanned:"
# A company may let changes settle for longer, but what the clock alone moves is told by then.
_LONGEST_S = 900.0


def replan_key(job_id: str) -> str:
    """Return the name under which the book keeps how a job was last replanned.

    Args:
        job_id: the job.

    Returns:
        The name.
    """
    return f"{_KEY}{job_id}"


def basis_of(context: SendContext) -> str:
    """Return what replanning rests on beside a job: program, data, the reminders' rules, the clock.

    Args:
        context: the rules.

    Returns:
        A text that is another one where any of them is.
    """
    rules = repr((context.by_company, context.clock_is_sure, _plain(context.reminder_rules)))
    return f"{basis_of_answers()}/{hashlib.sha256(rules.encode()).hexdigest()[:16]}"


def jobs_to_replan(
    connection: Connection, context: SendContext, *, now: datetime
) -> tuple[str, ...]:
    """Return the jobs that changed, or of which what was planned holds no longer.

    Args:
        connection: the transaction.
        context: the rules.
        now: the instant.

    Returns:
        Their ids.
    """
    basis = basis_of(context)
    return tuple(
        job_id
        for job_id, generation, note in _notes(connection)
        if not _holds(note, generation, basis, now)
    )


def is_up_to_date(connection: Connection, job_id: str) -> bool:
    """Return whether no fact has come in since a job was replanned.

    Args:
        connection: the transaction.
        job_id: the job.

    Returns:
        False where a message might tell what no longer holds.
    """
    note = _note_of(connection, job_id)
    generation = generation_of(connection, job_id, held=False)
    return isinstance(note, Mapping) and note.get("generation") == generation


def next_change(
    connection: Connection,
    context: SendContext,
    known: KnownJob,
    planned: PlannedNow,
    *,
    now: datetime,
) -> datetime:
    """Return until when a job wants the same said while nothing new is told.

    Args:
        connection: the plan's transaction.
        context: the rules.
        known: the job.
        planned: its plan of now.
        now: the instant.

    Returns:
        An instant not after the end of the site's day, and not so near that a job whose work
        slides with the clock is planned in each round. That of now while a message is on its way:
        the next round asks what people heard, and whether what came back still holds.
    """
    if is_on_the_way(connection, planned.plan.job.id):
        return now
    heard = heard_of(connection, planned.plan.job.id)
    wanted = reminders_of(planned, heard)

    def is_same_at(at: datetime) -> bool:
        try:
            then = context.plan(known, at)
        except CurecalError:
            # What is to come is asked again then; what is due now does not wait for it.
            return False
        still = [one for one in wanted if one.until_at is None or one.until_at > at]
        return then is not None and _told(reminders_of(then, heard)) == _told(still)

    tz = planned.calendar.tz
    found = holds_until(planned.plan, planned.log, calendar=planned.calendar, is_same_at=is_same_at)
    least = later(now, min(planned.rules.settle_s, _LONGEST_S))
    return min(max(found, least), end_of_day(local_day(now, tz), tz))


def _told(reminders: Sequence[Reminder]) -> dict[str, object]:
    """Return what of reminders counts: when each goes out, and which day it tells."""
    return {one.key: (one.due_at, one.until_at, one.topic, one.day_on) for one in reminders}


def _notes(connection: Connection) -> Sequence[tuple[str, object, object]]:
    """Return every job's id, generation and note."""
    asked = (
        select(job_table.c.id, job_table.c.generation, meta.c.value)
        .outerjoin(meta, meta.c.key == literal(_KEY) + job_table.c.id)
        .order_by(job_table.c.id)
    )
    try:
        return [(row.id, row.generation, row.value) for row in connection.execute(asked)]
    except ValueError:
        # One of them is no note any more: each is read by itself.
        jobs = connection.execute(select(job_table.c.id, job_table.c.generation)).all()
        return [(row.id, row.generation, _note_of(connection, row.id)) for row in jobs]


def _note_of(connection: Connection, job_id: str) -> object:
    """Return a job's note; None for what is none any more, and is written anew."""
    try:
        return value_of(connection, replan_key(job_id))
    except ValueError:
        return None


def _holds(note: object, generation: object, basis: str, now: datetime) -> bool:
    if not isinstance(note, Mapping):
        return False
    if (note.get("generation"), note.get("basis")) != (generation, basis):
        return False
    try:
        since, until = (datetime.fromisoformat(note[name]) for name in ("since", "until"))
        holds = since <= now < until
    except (LookupError, TypeError, ValueError):
        # Of a job that is not understood no time changes anything.
        return note.get("until", "") is None
    return holds


def _plain(value: object) -> object:
    """Return rules as plain values in one order, whatever the order of their sets."""
    match value:
        case Record():
            return [(name, _plain(getattr(value, name))) for name in names_of(type(value))]
        case Mapping():
            return sorted((str(key), _plain(item)) for key, item in value.items())
        case frozenset():
            return sorted(str(item) for item in value)
    return str(value)
