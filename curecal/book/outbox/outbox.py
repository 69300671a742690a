"""The outbox: messages put in, claimed, moved on. Each move is fenced by state and claim.

A claim is a short transaction; nothing is held while a message is on the wire. Moves go by the
table in `message_states`.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import datetime
from functools import cache
from typing import TYPE_CHECKING, Any

from sqlalchemy import (
    BindParameter,
    ColumnElement,
    Integer,
    and_,
    bindparam,
    exists,
    insert,
    or_,
    select,
    tuple_,
    update,
)

from curecal.book.connection.open_book import Book
from curecal.book.message_states import (
    IN_LINE,
    URGENT_ORDER,
    LostClaim,
    MessageState,
    ReminderState,
    Who,
    check,
)
from curecal.book.meta import DAMAGED, hold_of
from curecal.book.outbox.outbox_rows import DIGEST, Claimed, Leaving, OutboxMessage, OutboxRow
from curecal.book.schema.column_types import looked_at
from curecal.book.schema.tables import job, outbox, reminder
from curecal.records import names_of

if TYPE_CHECKING:
    from sqlalchemy import Executable, Select
    from sqlalchemy.engine import Connection

_READY = (MessageState.DUE, MessageState.BACKOFF)
_KEY = ("job_id", "kind", "zone_id", "channel", "recipient", "generation")
NO_LEASE = {"lease_owner": None, "lease_until_s": None, "boot_id": None}
"""A lease that is over belongs to nobody."""
UNREADABLE = "its row in the book is damaged"
"""The reason of a message that was given up because it could not be read."""
# Built once: a round asks the same of each job.
_OF_JOB = (
    select(*outbox.c)
    .where(
        outbox.c.job_id == bindparam("job_id"),
        looked_at(outbox.c.state).in_(bindparam("states", expanding=True)),
    )
    .order_by(outbox.c.id)
)
_THESE = select(*outbox.c).where(outbox.c.id.in_(bindparam("numbers", expanding=True)))
_OF_JOB_ALONE = _OF_JOB.where(outbox.c.kind != DIGEST)
# What reading a column that holds something else ends with: no date, no number, no octets.
_NOT_READ = (ArithmeticError, AttributeError, LookupError, TypeError, ValueError)


def fire(connection: Connection, messages: Iterable[OutboxMessage]) -> tuple[int, ...]:
    """Put rendered messages into the outbox, and call their reminders fired.

    A message whose key is there already was put in before, and is not put in again.

    Args:
        connection: The transaction.
        messages: The messages.

    Returns:
        The ids of those put in now.
    """
    made = []
    for message in messages:
        known = and_(*(outbox.c[name] == getattr(message, name) for name in _KEY))
        if message.reminder_id is not None:
            connection.execute(
                update(reminder)
                .where(
                    reminder.c.id == message.reminder_id, reminder.c.state == ReminderState.WANTED
                )
                .values(state=ReminderState.FIRED)
            )
        if connection.execute(select(outbox.c.id).where(known)).first():
            continue
        values = {name: getattr(message, name) for name in names_of(OutboxMessage)}
        values["next_try_at"] = message.next_try_at or message.created_at
        inserted = connection.execute(insert(outbox).values(values).returning(outbox.c.id))
        made.append(int(inserted.scalar_one()))
    return tuple(made)


def claim(
    book: Book,
    *,
    limit: int,
    owner: str,
    lease_s: float,
    now: datetime,
    on_hold: bool = False,
    which: Leaving = Leaving.ALL,
) -> Claimed:
    """Lease messages that are due: of each recipient on each channel the first in line.

    Nothing is leased while the book is on hold, nor of a job that is; of one that is damaged only
    what is urgent. A message whose row cannot be read is given up, so that it holds up no other.

    Args:
        book: The book.
        limit: How many at most.
        owner: Who takes them.
        lease_s: How long they are kept for their holder [s].
        now: The instant to look from.
        on_hold: Whether the book is on hold because of its clock: then only what is urgent goes.
        which: Which of them.

    Returns:
        The messages, leased, each with the claim that fences its next move; and the jobs of those
        that were given up.
    """
    with book.writing() as connection:
        if hold_of(connection) is not None and not on_hold:
            return Claimed((), ())
        at = book.lease_now(connection)
        asked = {
            "looked_from": now,
            "most": limit,
            "holder": owner,
            "held_until_s": at.now_s + lease_s,
            "holders_boot": at.boot_id,
        }
        only = Leaving.URGENT if on_hold else which
        taken = connection.execute(_claiming(only), asked)
        rows, damaged = _readable(connection, taken.scalars().all())
        jobs = _give_up(connection, damaged)
        return Claimed(tuple(sorted(rows, key=lambda row: (row.order_key, row.id))), jobs)


def _readable(
    connection: Connection, numbers: Sequence[int]
) -> tuple[tuple[OutboxRow, ...], list[int]]:
    """Return the messages that can be read, and the ids of those that cannot."""
    try:
        return _rows(connection.execute(_THESE, {"numbers": numbers})), []
    except _NOT_READ:
        # One of them spoils the answer for all: asked for one by one.
        pass
    rows: list[OutboxRow] = []
    damaged: list[int] = []
    for number in numbers:
        try:
            rows += _rows(connection.execute(_THESE, {"numbers": [number]}))
        except _NOT_READ:
            damaged.append(number)
    return tuple(rows), damaged


def _give_up(connection: Connection, numbers: Sequence[int]) -> tuple[str, ...]:
    """Give up leased messages that cannot be read; return their jobs."""
    if not numbers:
        return ()
    check(MessageState.LEASED, MessageState.DEAD, Who.SENDER)
    given_up = connection.execute(
        update(outbox)
        .where(outbox.c.id.in_(numbers))
        .values({**NO_LEASE, "state": MessageState.DEAD.value, "reason": UNREADABLE})
        .returning(outbox.c.job_id)
    )
    return tuple(sorted(set(given_up.scalars())))


# Building these statements costs more than what the database does for a handful of messages.
@cache
def _claiming(which: Leaving) -> Executable:
    """The statement that leases what may go now, with the bounds that `claim` names."""
    found = _pick()
    if which is Leaving.URGENT:
        found = found.where(outbox.c.order_key == URGENT_ORDER)
    if which is Leaving.ALONE:
        found = found.where(outbox.c.kind != DIGEST)
    picked = found.with_for_update(skip_locked=True, of=outbox).cte("picked")
    return (
        update(outbox)
        .where(outbox.c.id.in_(select(picked.c.id)))
        .values(
            state=MessageState.LEASED.value,
            claim=outbox.c.claim + 1,
            lease_owner=bindparam("holder"),
            lease_until_s=bindparam("held_until_s"),
            boot_id=bindparam("holders_boot"),
        )
        .returning(outbox.c.id)
    )


def _pick() -> Select[tuple[int]]:
    """The messages that may go now: ripe, not too late, first in their line, their job not held."""
    now: BindParameter[datetime] = bindparam("looked_from")
    ahead, its_job = outbox.alias("ahead"), job.alias("its_job")
    on_its_way = [MessageState.LEASED.value, MessageState.SENDING.value]
    in_line = [state.value for state in sorted(IN_LINE)]
    held_up = exists().where(
        ahead.c.channel == outbox.c.channel,
        ahead.c.recipient == outbox.c.recipient,
        ahead.c.state.in_(in_line),
        tuple_(ahead.c.order_key, ahead.c.id) < tuple_(outbox.c.order_key, outbox.c.id),
        # One that came too late holds nobody any more, nor one whose job is on hold.
        _in_time(ahead.c.not_after, now),
        its_job.c.id == ahead.c.job_id,
        or_(ahead.c.state.in_(on_its_way), _let_go(its_job.c.hold, ahead.c.order_key)),
    )
    return (
        select(outbox.c.id)
        .join(job, job.c.id == outbox.c.job_id)
        .where(
            outbox.c.state.in_([state.value for state in _READY]),
            outbox.c.next_try_at <= now,
            _in_time(outbox.c.not_after, now),
            _let_go(job.c.hold, outbox.c.order_key),
            ~held_up,
        )
        .order_by(outbox.c.next_try_at, outbox.c.id)
        .limit(bindparam("most", type_=Integer))
    )


def _let_go(held: Any, order_key: Any) -> ColumnElement[bool]:
    return or_(held == "", and_(held == DAMAGED, order_key == URGENT_ORDER))


def _in_time(not_after: Any, now: BindParameter[datetime]) -> ColumnElement[bool]:
    return or_(not_after.is_(None), not_after > now)


def move(
    connection: Connection, row: OutboxRow, to: MessageState, *, who: Who, **changes: Any
) -> OutboxRow:
    """Move a message on, if it is still where its holder left it.

    Args:
        connection: The transaction.
        row: The message as its holder last saw it.
        to: The state it is to be in.
        who: Who moves it.
        changes: Further columns to set.

    Returns:
        The message as it stands now.

    Raises:
        LostClaim: it was moved or claimed by somebody else since (`outbox-claim-lost`).
        CurecalError: there is no such move.
    """
    check(row.state, to, who)
    lease = {} if to in {MessageState.LEASED, MessageState.SENDING} else NO_LEASE
    moved = connection.execute(
        update(outbox)
        .where(
            outbox.c.id == row.id, outbox.c.claim == row.claim, outbox.c.state == row.state.value
        )
        .values({**lease, **changes, "state": to.value})
        .returning(*outbox.c)
    )
    found = _rows(moved)
    if not found:
        raise LostClaim("outbox-claim-lost", message_id=row.message_id)
    return found[0]


def back_off(
    connection: Connection, row: OutboxRow, *, next_try_at: datetime, reason: str
) -> OutboxRow:
    """Put a message off that was certainly not taken; it holds those behind it.

    Args:
        connection: The transaction.
        row: The message, leased or sending.
        next_try_at: When to try again.
        reason: Why, for people.

    Returns:
        The message, in backoff.

    Raises:
        LostClaim: somebody else has it.
    """
    return move(
        connection,
        row,
        MessageState.BACKOFF,
        who=Who.SENDER,
        next_try_at=next_try_at,
        reason=reason,
    )


def job_messages(
    connection: Connection, job_id: str, states: Iterable[MessageState], *, digests: bool = True
) -> tuple[OutboxRow, ...]:
    """Return the messages of a job that are in some states, the oldest first.

    Args:
        connection: The transaction.
        job_id: The job.
        states: The states.
        digests: Whether those of several lines as well.

    Returns:
        The messages.
    """
    asked = {"job_id": job_id, "states": sorted(state.value for state in states)}
    return _rows(connection.execute(_OF_JOB if digests else _OF_JOB_ALONE, asked))


def messages_of(
    connection: Connection,
    *,
    job_id: str | None = None,
    states: Sequence[MessageState] = (),
    limit: int | None = None,
    newest_first: bool = False,
) -> tuple[OutboxRow, ...]:
    """Return messages, the oldest first unless asked otherwise.

    Args:
        connection: The transaction.
        job_id: The job; every job where none is named.
        states: The states; every state where none is named.
        limit: How many at most.
        newest_first: Whether the newest come first.

    Returns:
        The messages.
    """
    asked = select(*outbox.c).order_by(outbox.c.id.desc() if newest_first else outbox.c.id)
    if job_id is not None:
        asked = asked.where(outbox.c.job_id == job_id)
    if states:
        state = outbox.c.state if job_id is None else looked_at(outbox.c.state)
        asked = asked.where(state.in_([one.value for one in states]))
    return _rows(connection.execute(asked.limit(limit)))


def message_of(connection: Connection, number: int) -> OutboxRow | None:
    """Return a message by its id.

    Args:
        connection: The transaction.
        number: The id.

    Returns:
        The message; None where there is none.
    """
    found = _rows(connection.execute(select(*outbox.c).where(outbox.c.id == number)))
    return found[0] if found else None


def _rows(result: Any) -> tuple[OutboxRow, ...]:
    return tuple(_row(row) for row in result.mappings().all())


def _row(row: Any) -> OutboxRow:
    if not isinstance(row["body"], bytes):
        # SQLite hands out whatever stands there.
        raise TypeError
    return OutboxRow(**{**row, "state": MessageState(row["state"])})
