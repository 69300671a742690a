"""Notices to the crew lead about messages that did not reach somebody."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from datetime import datetime
from typing import TYPE_CHECKING

from sqlalchemy import select

from curecal.book.message_states import ReminderState
from curecal.book.outbox.outbox_rows import OutboxRow, Wanted
from curecal.book.outbox.reminders import put_wanted
from curecal.book.schema.tables import reminder
from curecal.reminders.messages.kept_reminders import due_of, new_rows, recipient_of
from curecal.reminders.messages.send_context import PlannedNow
from curecal.reminders.reminder_types import Channel, MessageKind, Occasion, Reminder
from curecal.words.values import clean

if TYPE_CHECKING:
    from sqlalchemy.engine import Connection


def about(
    row: OutboxRow | Wanted, kept: Wanted | None, planned: PlannedNow, *, reason: str = ""
) -> dict[str, str]:
    """Return what a notice says of a message.

    Args:
        row: the message, or the reminder it would have been made of.
        kept: the reminder, where it is known.
        planned: the plan, with its people.
        reason: what came back.

    Returns:
        Plain texts by place, `about` being the message's kind, and which message it is.
    """
    recipient = str(kept.payload.get("recipient", "")) if kept else ""
    person = planned.people.get(recipient)
    due_at = due_of(kept) if kept else row.created_at if isinstance(row, OutboxRow) else due_of(row)
    said = row.reason if isinstance(row, OutboxRow) else None
    return {
        "person": clean(person.name if person else recipient or row.recipient),
        "address": clean(
            str(kept.payload.get("address", row.recipient)) if kept else row.recipient
        ),
        "about": row.kind,
        "reason": clean(reason or said or ""),
        "due_at": due_at.isoformat(),
        "of": str((kept and kept.payload.get("of")) or f"{type(row).__name__} {row.id}"),
        "channel": row.channel,
        "recipient": row.recipient,
        "zone_id": row.zone_id,
    }


def about_lines(row: OutboxRow, lines: Sequence[Wanted], planned: PlannedNow) -> dict[str, str]:
    """Return what a notice says of a message of several lines: each of one job is named.

    Args:
        row: the message.
        lines: its lines of one job.
        planned: the plan of that job, with its people.

    Returns:
        Plain texts by place, and which message it is.
    """
    said = about(row, lines[0], planned)
    named = [str(line.payload["line"]["said"]["subject"]) for line in lines]
    # Made anew, it is still the same lines that did not arrive: nobody hears of them twice.
    of = ", ".join(str(line.id) for line in lines)
    return {**said, "about": clean("; ".join(named)), "of": f"Lines {of}"}


def give_notice(
    connection: Connection,
    planned: PlannedNow,
    kind: MessageKind,
    said: Mapping[str, str],
    *,
    now: datetime,
) -> int:
    """Let the crew lead know, on a way that is not the one that failed.

    Args:
        connection: the transaction in which it failed.
        planned: the plan, with its people.
        kind: which notice.
        said: what it says, from `about`.
        now: the instant.

    Returns:
        How many notices were made; none where they know, or where there is nobody to tell.
    """
    made = 0
    for lead, ways in _readers(planned, kind, said).items():
        if not _used(connection, planned, kind, said, lead):
            made += _make(connection, planned, kind, said, now, lead, ways[:1])
    return made


def pass_on(
    connection: Connection, planned: PlannedNow, kept: Wanted | None, *, now: datetime
) -> int:
    """Give a notice that did not arrive, or may not have, on the next way to its reader.

    Args:
        connection: the transaction in which it failed.
        planned: the plan, with its people.
        kept: the notice as kept.
        now: the instant.

    Returns:
        How many notices were made; none after the last way.
    """
    said = kept.payload.get("notice") if kept else None
    if kept is None or not said:
        return 0
    made, kind = 0, MessageKind(kept.kind)
    for lead, ways in _readers(planned, kind, said).items():
        used = _used(connection, planned, kind, said, lead)
        left = [way for way in ways if (way[0].value, recipient_of(*way)) not in used]
        made += _make(connection, planned, kind, said, now, lead, left[:1])
    return made


_Way = tuple[Channel, str]


def _readers(
    planned: PlannedNow, kind: MessageKind, said: Mapping[str, str]
) -> dict[str, list[_Way]]:
    """Return who hears of what failed, and how: first the ways that it did not fail on.

    Who is only called is not called by a program: the office's own address stands in, and for
    everybody when no other way is left.
    """
    own = [(Channel.EMAIL, planned.own)] if planned.own else []
    # A reminder that was never made a message of failed on no way.
    failed = None if kind == MessageKind.MISSED and said["of"].startswith("Wanted") else said
    found: dict[str, list[_Way]] = {}
    for lead in planned.leads():
        ways: list[_Way] = [
            (channel, address)
            for channel, address in (*lead.ways, *own)
            if channel is not Channel.PHONE
            and address
            and not (failed and (channel.value, recipient_of(channel, address)) == _way_of(failed))
        ]
        if failed:
            ways.sort(key=lambda way: way[0].value == failed["channel"])
        found[lead.id] = ways
    return found or ({planned.own: list(own)} if own else {})


def _way_of(said: Mapping[str, str]) -> tuple[str, str]:
    return said["channel"], said["recipient"]


def _used(
    connection: Connection,
    planned: PlannedNow,
    kind: MessageKind,
    said: Mapping[str, str],
    lead: str,
) -> set[tuple[str, str]]:
    """Return the ways by which somebody was told of this message before."""
    asked = select(reminder.c.channel, reminder.c.recipient, reminder.c.payload).where(
        reminder.c.job_id == planned.plan.job.id,
        reminder.c.kind == kind,
        reminder.c.person == lead,
        reminder.c.state != ReminderState.WITHDRAWN,
    )
    rows = connection.execute(asked)
    return {(row.channel, row.recipient) for row in rows if row.payload["subject"] == said["of"]}


def _make(
    connection: Connection,
    planned: PlannedNow,
    kind: MessageKind,
    said: Mapping[str, str],
    now: datetime,
    lead: str,
    ways: Sequence[_Way],
) -> int:
    made = 0
    for channel, address in ways:
        notice = Reminder(
            kind=kind,
            zone_id=said["zone_id"],
            subject=said["of"],
            occasion=Occasion(),
            recipient=lead,
            channel=channel,
            address=address,
            due_at=now,
            alone=True,
        )
        [row] = new_rows(connection, planned.plan.job.id, [notice], now=now)
        payload = {**row.payload, "notice": dict(said)}
        made += put_wanted(connection, [replace(row, payload=payload)])
    return made
