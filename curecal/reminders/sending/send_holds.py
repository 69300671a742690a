"""Letting messages go again after a person has looked, and what there is to look at."""

from __future__ import annotations

from datetime import datetime, timedelta
from typing import TYPE_CHECKING

from sqlalchemy import func, select, update

from curecal.book.last_written import accept_copy
from curecal.book.message_states import MessageState
from curecal.book.meta import beat, beats, hold_of, release_hold
from curecal.book.schema.tables import heartbeat, meta, outbox
from curecal.machine import LeaseNow, boot_clock
from curecal.records import PlainView
from curecal.reminders.replanning.replan_notes import replan_key
from curecal.reminders.sending.send import WAITS_S
from curecal.reminders.timing.clock_jump import DOUBTS, PERSON, ClockPair

if TYPE_CHECKING:
    from sqlalchemy.engine import Connection

    from curecal.book.connection.open_book import Book

_SHOWN = 50
_PERSON = "a person"
_LONGEST_WAIT = timedelta(seconds=max(WAITS_S))


def resume(
    book: Book, *, now: datetime, job_id: str | None = None, clock: LeaseNow | None = None
) -> None:
    """Send messages again, and believe the clock from here on.

    Args:
        book: the book.
        now: the instant, by a clock that a person has looked at.
        job_id: the job; the book's own hold where none is named.
        clock: the same instant on the clock of leases; that of now where none is given.

    Raises:
        BookError: there is no such job.
    """
    with book.writing() as connection:
        release_hold(connection, job_id=job_id)
        if job_id is not None:
            return
        accept_copy(connection)
        # A sign of life from a time that never was would hold everything again.
        connection.execute(update(heartbeat).where(heartbeat.c.at > now).values(at=now))
        beat(connection, _PERSON, at=now, clock=clock or boot_clock(), note={"clock": PERSON})
        # What was put off by a clock that was ahead would wait until that time comes.
        waiting = [state.value for state in (MessageState.DUE, MessageState.BACKOFF)]
        connection.execute(
            update(outbox)
            .where(outbox.c.state.in_(waiting), outbox.c.next_try_at > now + _LONGEST_WAIT)
            .values(next_try_at=now)
        )


def signs_of_life(connection: Connection) -> list[ClockPair]:
    """Return the last signs of life of anybody, each with who confirmed the clock then.

    Args:
        connection: the transaction.

    Returns:
        Both clocks at each of them.
    """
    return [
        ClockPair(sign.at, sign.clock.boot_id, sign.clock.now_s, str(sign.note.get("clock") or ""))
        for sign in beats(connection)
    ]


def is_clock_unsure(connection: Connection) -> bool:
    """Return whether nobody confirmed the clock that the last sign of life was left by.

    Args:
        connection: the transaction.
    """
    alive = [sign for sign in beats(connection) if "clock" in sign.note]
    # Of two at once a person's word came after.
    last = max(alive, key=lambda sign: (sign.at, bool(sign.note["clock"])), default=None)
    return last is not None and not last.note["clock"]


def is_clock_doubted(connection: Connection) -> bool:
    """Return whether nobody confirmed the clock, or it moved so that somebody has to look.

    Args:
        connection: the transaction.
    """
    held = hold_of(connection)
    return is_clock_unsure(connection) or (held is not None and held["reason"] in DOUBTS)


def counts_of(connection: Connection) -> dict[str, int]:
    """Return how many messages stand in each state.

    Args:
        connection: the transaction.

    Returns:
        Counts by state; states without any are left out.
    """
    asked = select(outbox.c.state, func.count()).group_by(outbox.c.state)
    found = {row[0]: int(row[1]) for row in connection.execute(asked)}
    return {state.value: found[state.value] for state in MessageState if state.value in found}


def troubled(connection: Connection) -> list[dict[str, str]]:
    """Return the last messages that did not arrive, or may not have.

    Args:
        connection: the transaction.

    Returns:
        What they were, the newest first.
    """
    states = [
        MessageState.UNCERTAIN.value,
        MessageState.DEAD.value,
        MessageState.EXPIRED.value,
        MessageState.BACKOFF.value,
    ]
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


def unreached_of(connection: Connection) -> dict[str, list[str]]:
    """Return who is reached by no message, as found when their jobs were last looked at.

    Args:
        connection: the transaction.

    Returns:
        Names by job; jobs whose people are all reached are left out.
    """
    found = {job_id: note.get("unreached") for job_id, note in _replanned(connection)}
    return {job_id: list(names) for job_id, names in found.items() if names}


def rule_troubles(connection: Connection) -> dict[str, str]:
    """Return of which jobs the company's own rules of reminders are not understood.

    Args:
        connection: the transaction.

    Returns:
        What is wrong with them, by job.
    """
    found = {job_id: note.get("trouble") for job_id, note in _replanned(connection)}
    return {job_id: str(code) for job_id, code in found.items() if code}


def _replanned(connection: Connection) -> list[tuple[str, PlainView]]:
    start = replan_key("")
    asked = select(meta.c.key, meta.c.value).where(meta.c.key.startswith(start, autoescape=True))
    rows = connection.execute(asked.order_by(meta.c.key))
    return [(row.key.removeprefix(start), row.value) for row in rows]
