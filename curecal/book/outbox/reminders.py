"""Reminders to come: what a plan wants said, to whom, when. Replaced as the plan moves."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import datetime
from typing import TYPE_CHECKING, Any

from sqlalchemy import bindparam, case, func, insert, select, update

from curecal.book.message_states import ReminderState
from curecal.book.outbox.outbox_rows import Wanted
from curecal.book.schema.column_types import looked_at
from curecal.book.schema.tables import job, reminder
from curecal.records import PlainTable, PlainView, names_of

if TYPE_CHECKING:
    from sqlalchemy.engine import Connection

_OURS = ("id", "state", "digest_id")
# Built once: a round asks the same of each job.
_OF_JOB = (
    select(*reminder.c)
    .where(
        reminder.c.job_id == bindparam("job_id"),
        looked_at(reminder.c.state).in_(bindparam("states", expanding=True)),
    )
    .order_by(reminder.c.fire_at, reminder.c.id)
)
_KEY = (reminder.c.kind, reminder.c.zone_id, reminder.c.channel, reminder.c.recipient)
_GENERATIONS = (
    select(*_KEY, func.max(reminder.c.generation).label("highest"))
    .where(reminder.c.job_id == bindparam("job_id"))
    .group_by(*_KEY)
)
_PUT = insert(reminder)
_PUT_OFF = (
    update(reminder)
    .where(
        reminder.c.id == bindparam("number"),
        reminder.c.state == ReminderState.WANTED.value,
    )
    .values(fire_at=bindparam("until"), payload=bindparam("kept"))
)


def put_wanted(connection: Connection, wanted: Iterable[Wanted]) -> int:
    """Keep reminders that are new.

    Args:
        connection: The plan's transaction.
        wanted: The reminders, each with a generation that none of its kind to its reader has.

    Returns:
        How many they are.
    """
    rows = [_values(wish) for wish in wanted]
    if rows:
        connection.execute(_PUT, rows)
    return len(rows)


def put_one(connection: Connection, wish: Wanted) -> int:
    """Keep a reminder that is new.

    Args:
        connection: The plan's transaction.
        wish: The reminder, with a generation that none of its kind to its reader has.

    Returns:
        Its id.
    """
    made = connection.execute(insert(reminder).values(_values(wish)).returning(reminder.c.id))
    return int(made.scalar_one())


def _values(wish: Wanted) -> PlainTable:
    values = {name: getattr(wish, name) for name in names_of(Wanted) if name not in _OURS}
    return values | {"payload": dict(wish.payload)}


def generations_of(connection: Connection, job_id: str) -> dict[tuple[str, ...], int]:
    """Return the highest generation of a job's reminders.

    Args:
        connection: The transaction.
        job_id: The job.

    Returns:
        The generation by kind, zone, channel and recipient.
    """
    rows = connection.execute(_GENERATIONS, {"job_id": job_id})
    return {tuple(row[:-1]): int(row.highest) for row in rows}


def put_off(connection: Connection, changes: Sequence[tuple[Wanted, datetime, PlainView]]) -> None:
    """Let reminders wait.

    Args:
        connection: The plan's transaction.
        changes: Each with the instant it waits for, and what is kept of it from now on.
    """
    if changes:
        connection.execute(
            _PUT_OFF,
            [
                {"number": row.id, "until": until, "kept": dict(kept)}
                for row, until, kept in changes
            ],
        )


def withdraw(connection: Connection, numbers: Iterable[int]) -> int:
    """Take back reminders that are not fired.

    Args:
        connection: The plan's transaction.
        numbers: Their ids.

    Returns:
        How many were taken back.
    """
    gone = list(numbers)
    if not gone:
        return 0
    taken = connection.execute(
        update(reminder)
        .where(
            reminder.c.id.in_(gone),
            looked_at(reminder.c.state) == ReminderState.WANTED.value,
        )
        .values(state=ReminderState.WITHDRAWN)
    )
    return int(taken.rowcount)


def wanted_of(
    connection: Connection,
    job_id: str,
    *,
    states: Sequence[ReminderState] = (ReminderState.WANTED,),
) -> tuple[Wanted, ...]:
    """Return the reminders of a job.

    Args:
        connection: The transaction.
        job_id: The job.
        states: The states that count.

    Returns:
        The reminders, the earliest first.
    """
    asked = {"job_id": job_id, "states": [state.value for state in states]}
    return _rows(connection.execute(_OF_JOB, asked))


def wanted_due(
    connection: Connection, *, now: datetime, job_id: str | None = None, limit: int
) -> tuple[Wanted, ...]:
    """Return the reminders whose time has come, of one job or of all.

    Args:
        connection: The transaction.
        now: The instant to look from.
        job_id: The job; every job where none is named.
        limit: How many at most.

    Returns:
        The reminders, the earliest first.
    """
    asked = select(reminder).where(
        reminder.c.state == ReminderState.WANTED, reminder.c.fire_at <= now
    )
    if job_id is not None:
        asked = asked.where(reminder.c.job_id == job_id)
    return _rows(connection.execute(asked.order_by(reminder.c.fire_at, reminder.c.id).limit(limit)))


def jobs_due(
    connection: Connection, *, now: datetime, urgent: Iterable[str] = ()
) -> tuple[str, ...]:
    """Return the jobs, not on hold, of which a reminder's time has come; no payload is read.

    Args:
        connection: The transaction.
        now: The instant to look from.
        urgent: Kinds of reminders that come before all others.

    Returns:
        Their ids: first those with something urgent, then by the earliest that is due.
    """
    is_urgent = case((reminder.c.kind.in_(list(urgent)), 1), else_=0)
    asked = (
        select(reminder.c.job_id)
        .join(job, job.c.id == reminder.c.job_id)
        .where(
            reminder.c.state == ReminderState.WANTED.value,
            reminder.c.fire_at <= now,
            job.c.hold == "",
        )
        .group_by(reminder.c.job_id)
        .order_by(func.max(is_urgent).desc(), func.min(reminder.c.fire_at), reminder.c.job_id)
    )
    return tuple(connection.execute(asked).scalars())


def _rows(result: Any) -> tuple[Wanted, ...]:
    return tuple(
        Wanted(**{**row, "state": ReminderState(row["state"])}) for row in result.mappings().all()
    )
