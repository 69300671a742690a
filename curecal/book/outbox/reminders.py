"""Reminders to come: what a plan wants said, to whom, when. Replaced as the plan moves."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime
from typing import TYPE_CHECKING, Any

from sqlalchemy import and_, insert, select, update

from curecal.book.message_states import ReminderState
from curecal.book.outbox.outbox_rows import Wanted
from curecal.book.schema.tables import job, reminder
from curecal.records import names_of

if TYPE_CHECKING:
    from sqlalchemy.engine import Connection

_OURS = ("id", "state", "digest_id")
_KEY = ("job_id", "kind", "zone_id", "channel", "recipient", "generation")


def put_wanted(connection: Connection, wanted: Iterable[Wanted]) -> tuple[int, ...]:
    """Keep reminders. One of the same key that was withdrawn is wanted again, as it says now.

    Args:
        connection: The plan's transaction.
        wanted: The reminders.

    Returns:
        Their ids, in order. One that was fired stays fired.
    """
    numbers = []
    for wish in wanted:
        values = {name: getattr(wish, name) for name in names_of(Wanted) if name not in _OURS}
        values["payload"] = dict(wish.payload)
        same = and_(*(reminder.c[name] == values[name] for name in _KEY))
        number = connection.execute(select(reminder.c.id).where(same)).scalar_one_or_none()
        if number is None:
            made = connection.execute(insert(reminder).values(values).returning(reminder.c.id))
            number = made.scalar_one()
        else:
            connection.execute(
                update(reminder)
                .where(reminder.c.id == number, reminder.c.state != ReminderState.FIRED)
                .values({**values, "state": ReminderState.WANTED})
            )
        numbers.append(int(number))
    return tuple(numbers)


def withdraw(connection: Connection, numbers: Iterable[int]) -> int:
    """Take back reminders that are not fired.

    Args:
        connection: The plan's transaction.
        numbers: Their ids.

    Returns:
        How many were taken back.
    """
    taken = connection.execute(
        update(reminder)
        .where(reminder.c.id.in_(list(numbers)), reminder.c.state == ReminderState.WANTED)
        .values(state=ReminderState.WITHDRAWN)
    )
    return int(taken.rowcount)


def wanted_of(
    connection: Connection, job_id: str, *, state: ReminderState | None = ReminderState.WANTED
) -> tuple[Wanted, ...]:
    """Return the reminders of a job.

    Args:
        connection: The transaction.
        job_id: The job.
        state: `wanted`, `fired` or `withdrawn`; None for all.

    Returns:
        The reminders, the earliest first.
    """
    asked = select(reminder).where(reminder.c.job_id == job_id)
    if state is not None:
        asked = asked.where(reminder.c.state == state)
    return _rows(connection.execute(asked.order_by(reminder.c.fire_at, reminder.c.id)))


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


def jobs_due(connection: Connection, *, now: datetime) -> frozenset[str]:
    """Return the jobs, not on hold, of which a reminder's time has come; no payload is read.

    Args:
        connection: The transaction.
        now: The instant to look from.

    Returns:
        Their ids.
    """
    asked = (
        select(reminder.c.job_id)
        .join(job, job.c.id == reminder.c.job_id)
        .where(
            reminder.c.state == ReminderState.WANTED, reminder.c.fire_at <= now, job.c.hold == ""
        )
        .distinct()
    )
    return frozenset(connection.execute(asked).scalars())


def _rows(result: Any) -> tuple[Wanted, ...]:
    return tuple(
        Wanted(**{**row, "state": ReminderState(row["state"])}) for row in result.mappings().all()
    )
