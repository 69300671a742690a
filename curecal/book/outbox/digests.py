"""Messages of several lines: which reminders are ready to be lines, and which message has them.

A line is a reminder. It is `ready` once its words are kept, and `fired` once a message has it. A
message whose lines no longer all hold is superseded, and what is left of it is made one anew: the
octets of a message never change.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import datetime
from typing import TYPE_CHECKING, NamedTuple

from sqlalchemy import bindparam, exists, func, insert, or_, select, update

from curecal.book.message_states import (
    FINAL,
    UNSENT,
    LostClaim,
    MessageState,
    ReminderState,
    Who,
    check,
)
from curecal.book.outbox.outbox import move
from curecal.book.outbox.outbox_rows import DIGEST, OutboxMessage, OutboxRow, Wanted
from curecal.book.schema.column_types import looked_at
from curecal.book.schema.tables import job, outbox, reminder
from curecal.records import PlainView, names_of

if TYPE_CHECKING:
    from sqlalchemy.engine import Connection

NOT_READ = (ArithmeticError, AttributeError, LookupError, TypeError, ValueError)
"""What reading a column that holds something else ends with."""


# Built once: a round asks the same of each job.
_OPEN = tuple(state.value for state in MessageState if state not in FINAL)
_WANT_AGAIN = (
    update(reminder)
    .where(
        reminder.c.job_id == bindparam("of_job"),
        looked_at(reminder.c.state) == ReminderState.READY.value,
    )
    .values(state=ReminderState.WANTED.value)
)
_MAKE_READY = (
    update(reminder)
    .where(reminder.c.id == bindparam("number"), reminder.c.state == ReminderState.WANTED.value)
    .values(state=ReminderState.READY.value, payload=bindparam("kept"))
)
_DIGESTS_WITH = (
    select(outbox.c.id)
    .join(reminder, reminder.c.digest_id == outbox.c.id)
    .where(
        reminder.c.job_id == bindparam("job_id"),
        looked_at(outbox.c.state).in_([state.value for state in sorted(UNSENT)]),
    )
    .order_by(outbox.c.id)
    .distinct()
)
_ON_THE_WAY = select(
    or_(
        exists().where(
            outbox.c.job_id == bindparam("job_id"), looked_at(outbox.c.state).in_(_OPEN)
        ),
        exists()
        .where(reminder.c.job_id == bindparam("job_id"))
        .where(
            or_(
                looked_at(reminder.c.state) == ReminderState.READY.value,
                exists().where(outbox.c.id == reminder.c.digest_id, outbox.c.state.in_(_OPEN)),
            )
        ),
    )
)


class ReadyLines(NamedTuple):
    """Lines that no message has yet, and the jobs of those that could not be read."""

    lines: tuple[Wanted, ...]
    damaged_jobs: tuple[str, ...]


def make_ready(connection: Connection, lines: Iterable[tuple[Wanted, PlainView]]) -> None:
    """Keep the words of reminders, for the next message to their readers.

    Args:
        connection: The plan's transaction.
        lines: The reminders, wanted, each with what is kept of it, its words among that.
    """
    changes = [{"number": line.id, "kept": dict(payload)} for line, payload in lines]
    if changes:
        connection.execute(_MAKE_READY, changes)


def want_again(connection: Connection, job_id: str) -> None:
    """Take the lines of a job back that no message has: their words may be old.

    Args:
        connection: The plan's transaction.
        job_id: The job.
    """
    connection.execute(_WANT_AGAIN, {"of_job": job_id})


def ready_lines(connection: Connection) -> ReadyLines:
    """Return the lines that may go, of jobs not on hold. One that cannot be read is withdrawn.

    Args:
        connection: The transaction that makes messages of them; others wait for it.

    Returns:
        The lines, the oldest first.
    """
    asked = (
        select(reminder.c.id, reminder.c.job_id)
        .join(job, job.c.id == reminder.c.job_id)
        .where(reminder.c.state == ReminderState.READY, job.c.hold == "")
        .order_by(reminder.c.id)
        .with_for_update(of=reminder)
    )
    lines: list[Wanted] = []
    damaged: list[str] = []
    for number, job_id in connection.execute(asked).all():
        try:
            lines += _lines(connection, [number])
        except NOT_READ:
            connection.execute(
                update(reminder)
                .where(reminder.c.id == number)
                .values(state=ReminderState.WITHDRAWN)
            )
            damaged.append(job_id)
    return ReadyLines(tuple(lines), tuple(damaged))


def put_back(connection: Connection, line: Wanted, *, state: ReminderState) -> None:
    """Take a line that is ready out of the next message.

    Args:
        connection: The transaction.
        line: The reminder.
        state: `wanted` to have it planned again, `withdrawn` to give it up.
    """
    connection.execute(
        update(reminder)
        .where(reminder.c.id == line.id, reminder.c.state == ReminderState.READY)
        .values(state=state)
    )


def fire_digest(connection: Connection, message: OutboxMessage, lines: Sequence[Wanted]) -> int:
    """Put a message of several lines into the outbox.

    Args:
        connection: The transaction.
        message: The message.
        lines: Its lines, ready.

    Returns:
        Its id.

    Raises:
        LostClaim: somebody else took one of the lines: roll back.
    """
    values = {name: getattr(message, name) for name in names_of(OutboxMessage)}
    values["next_try_at"] = message.next_try_at or message.created_at
    inserted = connection.execute(insert(outbox).values(values).returning(outbox.c.id))
    number = int(inserted.scalar_one())
    taken = connection.execute(
        update(reminder)
        .where(
            reminder.c.id.in_([line.id for line in lines]),
            looked_at(reminder.c.state) == ReminderState.READY.value,
        )
        .values(state=ReminderState.FIRED, digest_id=number)
    )
    if taken.rowcount != len(lines):
        raise LostClaim("outbox-claim-lost", message_id=message.message_id)
    return number


def lines_of(connection: Connection, digest_id: int) -> tuple[Wanted, ...]:
    """Return the lines of a message, the oldest first.

    Args:
        connection: The transaction.
        digest_id: The message.

    Returns:
        The reminders.
    """
    asked = select(reminder.c.id).where(reminder.c.digest_id == digest_id).order_by(reminder.c.id)
    return _lines(connection, connection.execute(asked).scalars().all())


def jobs_of(connection: Connection, digest_ids: Iterable[int]) -> dict[int, frozenset[str]]:
    """Return of which jobs messages have lines; no payload is read.

    Args:
        connection: The transaction.
        digest_ids: The messages.

    Returns:
        Their jobs, by message.
    """
    asked = (
        select(reminder.c.digest_id, reminder.c.job_id)
        .where(reminder.c.digest_id.in_(list(digest_ids)))
        .distinct()
    )
    found: dict[int, set[str]] = {}
    for number, job_id in connection.execute(asked):
        found.setdefault(number, set()).add(job_id)
    return {number: frozenset(jobs) for number, jobs in found.items()}


def digests_with(connection: Connection, job_id: str) -> tuple[int, ...]:
    """Return the messages with a line of a job that have certainly not left.

    Args:
        connection: The transaction.
        job_id: The job.

    Returns:
        Their ids.
    """
    return tuple(connection.execute(_DIGESTS_WITH, {"job_id": job_id}).scalars())


def is_on_the_way(connection: Connection, job_id: str) -> bool:
    """Return whether a message of a job has not come to its end, one with a line of it as well.

    Args:
        connection: The transaction.
        job_id: The job.

    Returns:
        True while it may arrive, or come back: nobody knows by then what people heard.
    """
    return bool(connection.execute(_ON_THE_WAY, {"job_id": job_id}).scalar())


_WAITING = (MessageState.DUE.value, MessageState.BACKOFF.value)


def digests_held_up(connection: Connection) -> frozenset[int]:
    """Return the messages that wait with a line of a job on hold.

    Args:
        connection: The transaction.

    Returns:
        Their ids.
    """
    held = exists().where(
        reminder.c.digest_id == outbox.c.id, job.c.id == reminder.c.job_id, job.c.hold != ""
    )
    asked = select(outbox.c.id).where(outbox.c.kind == DIGEST, outbox.c.state.in_(_WAITING), held)
    return frozenset(connection.execute(asked).scalars())


def digests_waiting(connection: Connection, *, now: datetime) -> tuple[int, ...]:
    """Return the messages of several lines that might go now, or are past their use.

    Args:
        connection: The transaction.
        now: The instant to look from.

    Returns:
        Their ids.
    """
    asked = select(outbox.c.id).where(
        outbox.c.kind == DIGEST, outbox.c.state.in_(_WAITING), outbox.c.next_try_at <= now
    )
    return tuple(connection.execute(asked.order_by(outbox.c.id)).scalars())


def dissolve(
    connection: Connection, row: OutboxRow, *, again: str | None = None, reason: str
) -> None:
    """Take a message back that has not left; its lines wait for the next one.

    Args:
        connection: The transaction.
        row: The message.
        again: The job whose lines are wanted anew, in the words of its next plan.
        reason: Why, for people.

    Raises:
        LostClaim: it left, or somebody has it.
    """
    move(connection, row, MessageState.SUPERSEDED, who=Who.PLANNER, reason=reason)
    mine = reminder.c.digest_id == row.id
    if again is not None:
        connection.execute(
            update(reminder)
            .where(mine, reminder.c.job_id == again)
            .values(state=ReminderState.WANTED, digest_id=None)
        )
    connection.execute(
        update(reminder).where(mine).values(state=ReminderState.READY, digest_id=None)
    )


def dissolve_unread(connection: Connection, number: int) -> None:
    """Take a message back whose row cannot be read; its lines wait for the next one.

    Args:
        connection: The transaction.
        number: The message, waiting.
    """
    for state in (MessageState.DUE, MessageState.BACKOFF):
        check(state, MessageState.SUPERSEDED, Who.PLANNER)
    taken = connection.execute(
        update(outbox)
        .where(outbox.c.id == number, outbox.c.state.in_(_WAITING))
        .values(state=MessageState.SUPERSEDED.value, reason="its row in the book is damaged")
    )
    if taken.rowcount:
        mine = reminder.c.digest_id == number
        connection.execute(
            update(reminder).where(mine).values(state=ReminderState.READY, digest_id=None)
        )


def next_number(connection: Connection, channel: str, recipient: str) -> int:
    """Return one more than any message of several lines to one reader had.

    Args:
        connection: The transaction.
        channel: The channel.
        recipient: The normalized address.

    Returns:
        Its generation.
    """
    asked = select(func.max(outbox.c.generation)).where(
        outbox.c.kind == DIGEST, outbox.c.channel == channel, outbox.c.recipient == recipient
    )
    return int(connection.execute(asked).scalar_one() or 0) + 1


def _lines(connection: Connection, numbers: Sequence[int]) -> tuple[Wanted, ...]:
    asked = select(*reminder.c).where(reminder.c.id.in_(list(numbers))).order_by(reminder.c.id)
    return tuple(Wanted(**row) for row in connection.execute(asked).mappings().all())
