"""Messages that waited too long to be sent as they were written: said anew, and that they are late.

The octets of a message never change. One that has certainly not left is taken back, and the same
is written again with an identity of its own.
"""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime, timedelta
from typing import TYPE_CHECKING

from sqlalchemy import select

from curecal.book.message_states import MessageState, ReminderState, Who
from curecal.book.outbox.outbox import fire, job_messages, move
from curecal.book.outbox.outbox_rows import DIGEST, OutboxRow, Wanted
from curecal.book.outbox.reminders import put_one
from curecal.book.schema.tables import outbox
from curecal.reminders.messages.invitations import invitation
from curecal.reminders.messages.kept_reminders import (
    KEY,
    NOTICES,
    keep,
    meant_at,
    next_generation,
    reminder_of,
    reminder_row,
)
from curecal.reminders.messages.render import rendered
from curecal.reminders.messages.send_context import PlannedNow, SendContext, is_held
from curecal.reminders.replanning.standing_messages import want_of

if TYPE_CHECKING:
    from sqlalchemy.engine import Connection

_WAITING = (MessageState.DUE, MessageState.BACKOFF)


def jobs_with_late(connection: Connection, *, now: datetime) -> list[str]:
    """Return the jobs of which a message waits that was not made just now.

    Args:
        connection: the transaction.
        now: the instant.

    Returns:
        Their ids.
    """
    asked = (
        select(outbox.c.job_id)
        .where(
            outbox.c.state.in_([state.value for state in _WAITING]),
            outbox.c.kind != DIGEST,
            outbox.c.next_try_at <= now,
            outbox.c.created_at < now - timedelta(minutes=1),
        )
        .distinct()
    )
    return list(connection.execute(asked).scalars())


def say_late(connection: Connection, context: SendContext, job_id: str, *, now: datetime) -> int:
    """Write messages anew that are late by now and do not say so.

    Args:
        connection: the plan's transaction.
        context: the rules, and who mail is from.
        job_id: the job.
        now: the instant.

    Returns:
        How many were written anew.

    Raises:
        LostClaim: one left meanwhile: roll back.
    """
    planned = context.plan(context.know(connection, job_id), now)
    if planned is None or is_held(connection, job_id):
        return 0
    late: list[tuple[OutboxRow, Wanted]] = []
    for row in job_messages(connection, job_id, _WAITING, digests=False):
        kept = reminder_row(connection, row) if row.next_try_at <= now else None
        if kept is not None and _is_late(row, kept, planned, now):
            late.append((row, kept))
    if not late:
        return 0
    want = want_of(connection, planned)
    made = 0
    for row, kept in late:
        new = want.get(reminder_of(kept).key)
        if new is None and row.kind not in NOTICES:
            # It is taken back where the job is replanned.
            continue
        move(connection, row, MessageState.SUPERSEDED, who=Who.PLANNER, reason="said late, anew")
        key = {name: getattr(row, name) for name in KEY}
        payload = {
            **kept.payload,
            "late": True,
            "of": kept.payload.get("of") or f"OutboxRow {row.id}",
        }
        again = replace(
            kept, generation=next_generation(connection, key), fire_at=now, payload=payload
        )
        number = put_one(connection, again)
        again = replace(again, id=number, state=ReminderState.WANTED)
        invited = invitation(connection, context, planned, new, now=now) if new else None
        message, digest = rendered(again, new, context, planned, now=now, invited=invited)
        keep(connection, again, digest=digest)
        made += len(fire(connection, [message]))
    return made


def _is_late(row: OutboxRow, kept: Wanted, planned: PlannedNow, now: datetime) -> bool:
    """Return whether it is late, was not when it was written, and can never have arrived."""
    if kept.payload.get("late") or kept.payload.get("unsure"):
        return False
    late_s, meant = planned.rules.late_s, meant_at(kept, planned)
    if (row.created_at - meant).total_seconds() > late_s:
        return False
    return (now - meant).total_seconds() > late_s
