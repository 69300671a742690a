"""Looking after leases that ran out, and after messages that would come too late."""

from __future__ import annotations

from datetime import datetime
from typing import TYPE_CHECKING

from sqlalchemy import ColumnElement, and_, or_, select, update

from curecal.book.connection.open_book import Book
from curecal.book.message_states import MessageState, Who, check
from curecal.book.outbox.outbox import NO_LEASE
from curecal.book.outbox.outbox_rows import DIGEST, Reaped
from curecal.book.schema.tables import outbox

if TYPE_CHECKING:
    from sqlalchemy.engine import Connection

_MAY_EXPIRE = (MessageState.DUE, MessageState.BACKOFF, MessageState.HELD)
# Many times what any wire may take.
_LONGEST_LEASE_S = 3600.0


def reap(book: Book) -> Reaped:
    """Look after leases that ran out, or whose machine has restarted since.

    Args:
        book: The book.

    Returns:
        The ids of those that are due again, having never come to the wire, and of those that are
        uncertain. No row is read: a damaged one is moved on like the others.
    """
    with book.writing() as connection:
        at = book.lease_now(connection)
        over = or_(
            outbox.c.boot_id != at.boot_id,
            outbox.c.lease_until_s <= at.now_s,
            # Of a start without a name: no lease is that long, its clock began anew.
            outbox.c.lease_until_s > at.now_s + _LONGEST_LEASE_S,
        )
        found = {}
        for before, after in (
            (MessageState.LEASED, MessageState.DUE),
            (MessageState.SENDING, MessageState.UNCERTAIN),
        ):
            check(before, after, Who.REAPER)
            found_over = select(outbox.c.id).where(outbox.c.state == before.value, over)
            # On a server a frozen process may hold some: all others go on, and so does who looks.
            picked = found_over.with_for_update(skip_locked=True).cte("picked")
            moved = connection.execute(
                update(outbox)
                .where(outbox.c.id.in_(select(picked.c.id)))
                .values({**NO_LEASE, "state": after.value})
                .returning(outbox.c.id)
            )
            found[after] = tuple(moved.scalars())
        return Reaped(found[MessageState.DUE], found[MessageState.UNCERTAIN])


def jobs_with_overdue(connection: Connection, *, now: datetime) -> tuple[str, ...]:
    """Return the jobs of which a message would come too late.

    Args:
        connection: The transaction.
        now: The instant to look from.

    Returns:
        Their ids.
    """
    asked = select(outbox.c.job_id).where(_overdue(now)).distinct()
    return tuple(connection.execute(asked).scalars())


def _overdue(now: datetime) -> ColumnElement[bool]:
    states = [state.value for state in _MAY_EXPIRE]
    # One of several lines is made anew without those that are past their use.
    late = outbox.c.not_after <= now
    return and_(outbox.c.state.in_(states), outbox.c.kind != DIGEST, late)


def expire(connection: Connection, job_id: str, *, now: datetime) -> tuple[int, ...]:
    """Give up messages of a job that would come too late. No row is read.

    Args:
        connection: The transaction.
        job_id: The job.
        now: The instant to look from.

    Returns:
        The ids of those that are expired now; each owes somebody a notice.
    """
    for state in _MAY_EXPIRE:
        check(state, MessageState.EXPIRED, Who.REAPER)
    moved = connection.execute(
        update(outbox)
        .where(outbox.c.job_id == job_id, _overdue(now))
        .values(state=MessageState.EXPIRED.value)
        .returning(outbox.c.id)
    )
    return tuple(moved.scalars())
