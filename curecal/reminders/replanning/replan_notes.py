"""What replanning a job rested on, and until when it holds: a round plans only what moved since.

An answer that people ask for is kept by the same rule: `curecal.overview`.
"""

from __future__ import annotations

import contextlib
from collections.abc import Mapping, Sequence
from datetime import datetime
from enum import Enum
from typing import TYPE_CHECKING, NamedTuple

from sqlalchemy import bindparam, exists, literal, or_, select

from curecal.book.message_states import MessageState, ReminderState
from curecal.book.meta import value_of
from curecal.book.outbox.digests import is_on_the_way
from curecal.book.schema.column_types import looked_at
from curecal.book.schema.tables import job as job_table
from curecal.book.schema.tables import meta
from curecal.book.schema.tables import outbox as outbox_table
from curecal.book.schema.tables import reminder as reminder_table
from curecal.errors import CurecalError
from curecal.instants import end_of_day, local_day
from curecal.overview.kept_answers import basis_of_answers
from curecal.overview.next_change import holds_until, last_of_stretch
from curecal.reminders.messages.send_context import (
    KnownJob,
    PlannedNow,
    SendContext,
    generation_of,
)
from curecal.reminders.reminder_types import Heard, Reminder
from curecal.reminders.replanning.standing_messages import reminders_of
from curecal.reminders.timing.sending_hours import later

if TYPE_CHECKING:
    from sqlalchemy.engine import Connection

_KEY = "replanned:"


class Unless(Enum):
    """When a job is left to somebody else: planned by now, or taken by who plans it."""

    PLANNED = "planned"
    TAKEN = "taken"


# Built once: asked of each job in a round.
_THIS_JOB = select(job_table.c.id).where(job_table.c.id == bindparam("job_id"))
_TAKE = {unless: _THIS_JOB.with_for_update(skip_locked=unless is Unless.TAKEN) for unless in Unless}
_STANDING = select(
    job_table.c.generation,
    select(meta.c.value).where(meta.c.key == bindparam("key")).scalar_subquery().label("note"),
    or_(
        exists().where(
            reminder_table.c.job_id == job_table.c.id,
            looked_at(reminder_table.c.state) == ReminderState.WANTED.value,
            reminder_table.c.fire_at <= bindparam("now"),
            job_table.c.hold == "",
        ),
        exists().where(
            outbox_table.c.job_id == job_table.c.id,
            looked_at(outbox_table.c.state) == MessageState.UNCERTAIN.value,
        ),
    ).label("is_due"),
).where(job_table.c.id == bindparam("job_id"))
# A company may let changes settle for longer, but what the clock alone moves is told by then.
_LONGEST_S = 900.0
# Rounds begin as far apart as each process looks again: of two that share a book and began within
# that, however long they last, one plans a job.
_MOMENT_S = 20.0


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
    return f"{basis_of_answers()}/{context.rules_digest()}"


class MovedJobs(NamedTuple):
    """Jobs to plan anew: those of which somebody told something, and those that hold no longer."""

    by_fact: tuple[str, ...]
    by_time: tuple[str, ...]


def moved_jobs(connection: Connection, context: SendContext, *, now: datetime) -> MovedJobs:
    """Return the jobs that changed, or of which what was planned holds no longer.

    Args:
        connection: the transaction.
        context: the rules.
        now: the instant.

    Returns:
        Their ids, in order.
    """
    basis = basis_of(context)
    by_fact: list[str] = []
    by_time: list[str] = []
    for job_id, generation, note in _notes(connection):
        if not _holds(note, generation, basis, now):
            told = isinstance(note, Mapping) and note.get("generation") != generation
            (by_fact if told else by_time).append(job_id)
    return MovedJobs(tuple(by_fact), tuple(by_time))


def may_plan(
    connection: Connection, context: SendContext, job_id: str, unless: Unless, *, now: datetime
) -> bool:
    """Take a job to plan it, so that nobody else changes it before the transaction's end.

    Args:
        connection: the plan's transaction.
        context: the rules.
        job_id: the job.
        unless: whether who is at it is waited for, as in a file always.
        now: the instant of the round.

    Returns:
        False where somebody else is at it, or where nothing of it is due and what was planned of it
        holds, or somebody else planned it a moment ago.
    """
    if connection.execute(_TAKE[unless], {"job_id": job_id}).first() is None:
        return False
    asked = {"job_id": job_id, "key": replan_key(job_id), "now": now}
    try:
        row = connection.execute(_STANDING, asked).one()
    except ValueError:
        # Its note is none any more.
        return True
    basis = basis_of(context)
    if row.is_due:
        # Whoever planned it a moment ago did not find it due: a line left out comes a day late.
        return True
    if _is_another_s(row.note, row.generation, basis, context.name, now):
        return False
    return not _holds(row.note, row.generation, basis, now)


def jobs_with_news(connection: Connection) -> tuple[str, ...]:
    """Return the jobs of which a fact came in that no plan knows yet.

    Args:
        connection: the transaction.

    Returns:
        Their ids.
    """
    return tuple(
        job_id
        for job_id, generation, note in _notes(connection)
        if not (isinstance(note, Mapping) and note.get("generation") == generation)
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


def look_ahead(connection: Connection, context: SendContext, job_id: str, *, now: datetime) -> None:
    """Make the plans that planning a job will ask for, while nobody is kept from writing.

    Args:
        connection: a transaction that only reads.
        context: the rules; it keeps the plans of the job it was last asked for.
        job_id: the job.
        now: the instant.
    """
    known = context.know(connection, job_id)
    planned = context.plan(known, now)
    if planned is None or is_on_the_way(connection, job_id):
        return
    asked = {"job_id": job_id, "key": replan_key(job_id), "now": now}
    with contextlib.suppress(CurecalError, ValueError):
        row = connection.execute(_STANDING, asked).one()
        # Of a job that is new, or has something to say, nobody asks how long that holds.
        if row.note is not None and not row.is_due:
            context.plan(known, last_of_stretch(planned.plan, planned.log))


def next_change(
    connection: Connection,
    context: SendContext,
    known: KnownJob,
    planned: PlannedNow,
    heard: Sequence[Heard],
    wanted: Sequence[Reminder],
    *,
    now: datetime,
) -> datetime:
    """Return until when a job wants the same said while nothing new is told.

    Args:
        connection: the plan's transaction.
        context: the rules.
        known: the job.
        planned: its plan of now.
        heard: what people heard of it.
        wanted: what that plan wants said to them.
        now: the instant.

    Returns:
        An instant not after the end of the site's day, and not so near that a job whose work
        slides with the clock is planned in each round. That of now while a message is on its way:
        the next round asks what people heard, and whether what came back still holds.
    """
    if is_on_the_way(connection, planned.plan.job.id):
        return now

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


def _is_another_s(note: object, generation: object, basis: str, name: str, now: datetime) -> bool:
    """Return whether another process planned a job a moment ago, and nobody told anything since.

    One without a name only looked: it made no messages.
    """
    if not isinstance(note, Mapping) or note.get("by") in {None, "", name}:
        return False
    if (note.get("generation"), note.get("basis")) != (generation, basis):
        return False
    try:
        return abs((now - datetime.fromisoformat(note["since"])).total_seconds()) < _MOMENT_S
    except (LookupError, TypeError, ValueError):
        return False


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
