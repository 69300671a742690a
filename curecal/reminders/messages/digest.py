"""A message of several lines to one person, over all their jobs."""

from __future__ import annotations

import uuid
from collections.abc import Iterable, Sequence
from dataclasses import replace
from datetime import datetime
from typing import NamedTuple

from curecal.book.message_states import USUAL_ORDER
from curecal.book.outbox.outbox_rows import DIGEST, OutboxMessage, Wanted
from curecal.records import PlainTable, PlainView
from curecal.reminders.messages.render import Addressee, Envelope, line_words, octets
from curecal.reminders.messages.send_context import PlannedNow, SendContext
from curecal.reminders.messages.texts import WordedReminder, joined
from curecal.reminders.reminder_types import Channel, MessageKind, Reminder

_NAMESPACE = uuid.UUID("7b1a7c54-9a0c-5c0e-8a6f-0f4f7f6c2b11")


class Line(NamedTuple):
    """One line as kept: its words, when it was meant for, and its reader's name."""

    said: WordedReminder
    meant_at: datetime
    late_s: float
    name: str

    def is_late(self, now: datetime) -> bool:
        """Return whether it comes late."""
        return (now - self.meant_at).total_seconds() > self.late_s


def released_together(going: Iterable[Reminder]) -> frozenset[str]:
    """Return which releases go as lines of one message: those of several floors to one reader.

    Args:
        going: what goes out now.

    Returns:
        Their keys. A mail that carries a calendar entry stays a message of its own.
    """
    found: dict[tuple[str, Channel], list[str]] = {}
    for reminder in going:
        invites = reminder.channel is Channel.EMAIL and reminder.topic.visit is not None
        if reminder.kind is MessageKind.RELEASED and not invites:
            found.setdefault((reminder.recipient, reminder.channel), []).append(reminder.key)
    return frozenset(key for keys in found.values() if len(keys) > 1 for key in keys)


def kept_line(
    reminder: Reminder, meant_at: datetime, context: SendContext, planned: PlannedNow
) -> PlainTable:
    """Return what is kept of a line until a message is made of it.

    Args:
        reminder: the reminder, of the plan of now.
        meant_at: when it should go out.
        context: the rules.
        planned: the plan of now.

    Returns:
        Plain values, as JSON takes them.
    """
    person = planned.people.get(reminder.recipient)
    said = line_words(replace(reminder, due_at=meant_at), context, planned)
    return {
        "said": said.kept(),
        "meant_at": meant_at.isoformat(),
        "late_s": planned.rules.late_s,
        "name": person.name if person else "",
    }


def read_line(kept: PlainView) -> Line:
    """Return a line from what was kept of it.

    Args:
        kept: what the reminder's payload holds.

    Returns:
        The line.

    Raises:
        LookupError, TypeError, ValueError: it was never kept by this program.
    """
    line = kept["line"]
    return Line(
        WordedReminder.read(line["said"]),
        datetime.fromisoformat(line["meant_at"]),
        float(line["late_s"]),
        str(line["name"]),
    )


def digest_message(
    rows: Sequence[Wanted],
    lines: Sequence[Line],
    context: SendContext,
    *,
    number: int,
    now: datetime,
) -> OutboxMessage:
    """Return one message of several lines.

    Args:
        rows: the lines as the book has them, all to one reader by one way.
        lines: the same as read.
        context: who mail is from.
        number: which message of several lines to this reader it is.
        now: the instant.

    Returns:
        The message. Nothing of it is said after the first of its lines is past its use.
    """
    first = rows[0]
    said = joined([(line.said, line.is_late(now)) for line in lines])
    key = chr(10).join((first.channel, first.recipient, str(number)))
    message_id = f"<{uuid.uuid5(_NAMESPACE, key)}@{context.sender.rpartition('@')[2]}>"
    reader = Addressee(
        Channel(first.channel), str(first.payload.get("address", first.recipient)), lines[0].name
    )
    return OutboxMessage(
        job_id=first.job_id,
        zone_id="",
        kind=DIGEST,
        channel=first.channel,
        recipient=first.recipient,
        generation=number,
        message_id=message_id,
        body=octets(reader, said, context, Envelope(message_id, now)),
        created_at=now,
        not_after=min((row.expires_at for row in rows if row.expires_at), default=None),
        order_key=USUAL_ORDER,
    )
