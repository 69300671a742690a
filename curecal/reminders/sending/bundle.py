"""Lines that are ready, made one message a person: in each cycle, just before messages are claimed.

Nothing here reads a job: a line's words were kept when its job was planned. So a job that cannot be
read takes its own lines out, and no other's.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime
from typing import TYPE_CHECKING

from curecal.book.message_states import ReminderState
from curecal.book.outbox.digests import (
    NOT_READ,
    ReadyLines,
    digests_held_up,
    digests_waiting,
    dissolve,
    dissolve_unread,
    fire_digest,
    lines_of,
    next_number,
    put_back,
    ready_lines,
)
from curecal.book.outbox.outbox import message_of
from curecal.book.outbox.outbox_rows import OutboxRow, Wanted
from curecal.reminders.messages.digest import Line, digest_message, read_line
from curecal.reminders.messages.send_context import SendContext

if TYPE_CHECKING:
    from sqlalchemy.engine import Connection


def bundle(connection: Connection, context: SendContext, *, now: datetime) -> tuple[str, ...]:
    """Make one message of all that is ready for a person, by each way they are reached.

    What waits to be sent and is late by now, or has a line of a job on hold, is made anew of what
    is left of it.

    Args:
        connection: A transaction of its own.
        context: Who mail is from.
        now: The instant.

    Returns:
        The jobs of lines that could not be read.

    Raises:
        LostClaim: a line was taken back meanwhile: roll back.
    """
    _take_apart(connection, now)
    ready = ready_lines(connection)
    damaged = list(ready.damaged_jobs)
    for rows in _by_reader(ready).values():
        if min(row.fire_at for row in rows) > now:
            # Of a round that began later, somewhere else, and may not have planned all that goes
            # along: who has had the day's message gets no other.
            continue
        lines: list[tuple[Wanted, Line]] = []
        for row in rows:
            if row.expires_at is not None and row.expires_at <= now:
                # It is given up, and somebody told, where its job is planned.
                put_back(connection, row, state=ReminderState.WANTED)
                continue
            try:
                lines.append((row, read_line(row.payload)))
            except NOT_READ:
                put_back(connection, row, state=ReminderState.WITHDRAWN)
                damaged.append(row.job_id)
        if lines:
            _make(connection, context, lines, now)
    return tuple(dict.fromkeys(damaged))


def _make(
    connection: Connection,
    context: SendContext,
    lines: Sequence[tuple[Wanted, Line]],
    now: datetime,
) -> None:
    rows = [row for row, _ in lines]
    number = next_number(connection, rows[0].channel, rows[0].recipient)
    read = [line for _, line in lines]
    message = digest_message(rows, read, context, number=number, now=now)
    fire_digest(connection, message, rows)


def _by_reader(ready: ReadyLines) -> dict[tuple[str, str], list[Wanted]]:
    """Return the lines by who reads them; a number with a plus or without is dialed alike."""
    found: dict[tuple[str, str], list[Wanted]] = {}
    for row in sorted(ready.lines, key=lambda line: (line.job_id, line.zone_id, line.id)):
        found.setdefault((row.channel, row.recipient.removeprefix("+")), []).append(row)
    return found


def _take_apart(connection: Connection, now: datetime) -> None:
    """Take back what waits and is out of date: past its use, late unsaid, or of a job on hold."""
    held_up = digests_held_up(connection)
    for number in digests_waiting(connection, now=now):
        try:
            row = message_of(connection, number)
            stands = row is None or not (
                number in held_up
                or (row.not_after is not None and row.not_after <= now)
                or _says_no_lateness(connection, row, now)
            )
        except NOT_READ:
            # What of it is whole is made a message anew.
            dissolve_unread(connection, number)
            continue
        if row is not None and not stands:
            dissolve(connection, row, reason="said anew")


def _says_no_lateness(connection: Connection, row: OutboxRow, now: datetime) -> bool:
    """Return whether a line is late by now, was not when it was written, and never arrived."""
    kept = lines_of(connection, row.id)
    if any(line.payload.get("unsure") for line in kept):
        return False
    lines = [read_line(line.payload) for line in kept]
    return any(line.is_late(now) and not line.is_late(row.created_at) for line in lines)
