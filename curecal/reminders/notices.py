"""Notices to the crew lead about messages that did not reach somebody."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from datetime import datetime
from typing import TYPE_CHECKING

from curecal.book.rows import OutboxRow, Wanted
from curecal.book.wanted import put_wanted
from curecal.reminders.kept import due_of, new_row
from curecal.reminders.model import Channel, Reminder
from curecal.reminders.office import Planned
from curecal.words.catalogue import catalogue
from curecal.words.values import clean

if TYPE_CHECKING:
    from sqlalchemy.engine import Connection


def about(
    row: OutboxRow | Wanted, kept: Wanted | None, planned: Planned, *, reason: str = ""
) -> dict[str, str]:
    """Return what a notice says of a message.

    Args:
        row: the message, or the reminder it would have been made of.
        kept: the reminder, where it is known.
        planned: the plan, with its people.
        reason: what came back.

    Returns:
        Plain texts by place, and which message it is.
    """
    recipient = str(kept.payload.get("recipient", "")) if kept else ""
    person = planned.people.get(recipient)
    texts = catalogue("en")
    key = f"name.reminder.{row.kind}"
    due_at = due_of(kept) if kept else None
    said = row.reason if isinstance(row, OutboxRow) else None
    return {
        "person": clean(person.name if person else recipient or row.recipient),
        "address": clean(
            str(kept.payload.get("address", row.recipient)) if kept else row.recipient
        ),
        "about": texts.text(key).other if key in texts else row.kind,
        "reason": clean(reason or said or ""),
        "due_at": due_at.isoformat() if due_at else "",
        "of": f"{type(row).__name__} {row.id}",
        "channel": row.channel,
        "recipient": row.recipient,
        "zone_id": row.zone_id,
    }


def give_notice(
    connection: Connection, planned: Planned, kind: str, said: Mapping[str, str], *, now: datetime
) -> int:
    """Let the crew lead know, on a way that is not the one that failed.

    Args:
        connection: the transaction in which it failed for good.
        planned: the plan, with its people.
        kind: which notice.
        said: what it says, from `about`.
        now: the instant.

    Returns:
        How many notices were made; none where there is nobody else to tell.
    """
    made = 0
    for lead in planned.leads():
        ways = [
            (channel, address)
            for channel, address in lead.ways
            if channel is not Channel.PHONE
            and (channel.value, address.casefold()) != (said["channel"], said["recipient"])
        ]
        for channel, address in ways[:1]:
            notice = Reminder(
                kind=kind,
                zone_id=said["zone_id"],
                subject=said["of"],
                occasion="",
                recipient=lead.id,
                channel=channel,
                address=address,
                due_at=now,
            )
            row = new_row(connection, planned.plan.job.id, notice, now=now)
            payload = {**row.payload, "notice": dict(said)}
            made += len(put_wanted(connection, [_with(row, payload)]))
    return made


def _with(row: Wanted, payload: Mapping[str, object]) -> Wanted:
    return replace(row, payload=payload)
