"""Letting messages go again after a person has looked, and what there is to look at."""

from __future__ import annotations

from datetime import datetime
from typing import TYPE_CHECKING

from sqlalchemy import func, select, update

from curecal.book.notes import beat, release_hold
from curecal.book.opening import boot_clock
from curecal.book.schema import heartbeat, outbox
from curecal.book.transitions import State

if TYPE_CHECKING:
    from sqlalchemy.engine import Connection

    from curecal.book.opening import Book

_SHOWN = 50
_PERSON = "a person"


def let_go(book: Book, *, now: datetime, job_id: str | None = None) -> None:
    """Let messages go out again, and believe the clock from here on.

    Args:
        book: the book.
        now: the instant, by a clock that a person has looked at.
        job_id: the job; the book's own hold where none is named.

    Raises:
        BookError: there is no such job.
    """
    with book.writing() as connection:
        release_hold(connection, job_id=job_id)
        if job_id is not None:
            return
        # A sign of life from a time that never was would hold everything again.
        connection.execute(update(heartbeat).where(heartbeat.c.at > now).values(at=now))
        beat(connection, _PERSON, at=now, clock=boot_clock(), note={})


def counts_of(connection: Connection) -> dict[str, int]:
    """Return how many messages stand in each state.

    Args:
        connection: the transaction.

    Returns:
        Counts by state; states without any are left out.
    """
    asked = select(outbox.c.state, func.count()).group_by(outbox.c.state)
    found = {state: int(count) for state, count in connection.execute(asked).tuples()}
    return {state.value: found[state.value] for state in State if state.value in found}


def troubled(connection: Connection) -> list[dict[str, str]]:
    """Return the last messages that did not arrive, or may not have.

    Args:
        connection: the transaction.

    Returns:
        What they were, the newest first.
    """
    states = [State.UNCERTAIN.value, State.DEAD.value, State.EXPIRED.value, State.BACKOFF.value]
    asked = (
        select(outbox.c.job_id, outbox.c.kind, outbox.c.recipient, outbox.c.state, outbox.c.reason)
        .where(outbox.c.state.in_(states))
        .order_by(outbox.c.id.desc())
        .limit(_SHOWN)
    )
    return [
        {
            "job_id": row.job_id,
            "kind": row.kind,
            "to": row.recipient,
            "state": row.state,
            "reason": row.reason or "",
        }
        for row in connection.execute(asked)
    ]
