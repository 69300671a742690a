"""A reminder that is due as the octets that go out, with an identity of its own."""

from __future__ import annotations

import hashlib
import uuid
from dataclasses import replace
from datetime import datetime
from typing import NamedTuple

from curecal.book.message_states import URGENT_ORDER, USUAL_ORDER
from curecal.book.outbox.outbox_rows import OutboxMessage, Wanted
from curecal.delivery.mail import Letter, made_mail
from curecal.delivery.text_message import short
from curecal.errors import SourceError
from curecal.reminders.messages.invitations import Invitation
from curecal.reminders.messages.kept_reminders import meant_at, reminder_of
from curecal.reminders.messages.send_context import PlannedNow, SendContext
from curecal.reminders.messages.texts import (
    Composed,
    WordedReminder,
    joined,
    reach_of,
    reader_words,
    say,
)
from curecal.reminders.reminder_types import Channel, Reminder
from curecal.trade.job import Role
from curecal.words.values import clean

_NAMESPACE = uuid.UUID("6f6fd6a2-6f0c-5a53-9c8e-6c1f0b1d2e57")


class Envelope(NamedTuple):
    """A message's identity, when it was written, and the calendar part of one that has one."""

    message_id: str
    written_at: datetime
    invited: Invitation | None = None


class Addressee(NamedTuple):
    """Who reads a message, and by which way."""

    channel: Channel
    address: str
    name: str


def rendered(
    row: Wanted,
    new: Reminder | None,
    context: SendContext,
    planned: PlannedNow,
    *,
    now: datetime,
    invited: Invitation | None = None,
) -> tuple[OutboxMessage, str]:
    """Return the message of a reminder that is due.

    Args:
        row: the reminder as kept.
        new: the same of the plan of now; None for a notice, whose words are kept with it.
        context: the rules, and who mail is from.
        planned: the plan of now.
        now: the instant.
        invited: the calendar part of a mail, where it has one.

    Returns:
        The message, and a hash of its words. One that no mail can be made of has no octets: who
        sends it finds that nobody can be reached so.
    """
    reminder = new or notice_of(row, planned)
    meant = meant_at(row, planned)
    late = (now - meant).total_seconds() > planned.rules.late_s
    said = _said(replace(reminder, due_at=meant), context, planned, late=late)
    message_id = identity(row, context.sender)
    message = OutboxMessage(
        job_id=row.job_id,
        zone_id=row.zone_id,
        kind=row.kind,
        channel=row.channel,
        recipient=row.recipient,
        generation=row.generation,
        message_id=message_id,
        body=_octets(reminder, said, context, planned, Envelope(message_id, now, invited)),
        created_at=now,
        not_after=row.expires_at,
        reminder_id=row.id,
        order_key=URGENT_ORDER if row.payload.get("urgent") else USUAL_ORDER,
    )
    return message, digest_of(reminder, context, planned)


def identity(row: Wanted, sender: str) -> str:
    """Return the identity of a message: the same however often it is made of one reminder.

    Args:
        row: the reminder as kept.
        sender: the address mail comes from.

    Returns:
        A Message-ID with its brackets; nothing personal but the sender's domain.
    """
    key = (row.job_id, row.kind, row.zone_id, row.channel, row.recipient, str(row.generation))
    return f"<{uuid.uuid5(_NAMESPACE, chr(10).join(key))}@{sender.rpartition('@')[2]}>"


def digest_of(reminder: Reminder, context: SendContext, planned: PlannedNow) -> str:
    """Return a hash of a reminder's words, said in time.

    Args:
        reminder: the reminder, of the plan of now.
        context: the rules.
        planned: the plan of now.

    Returns:
        The hash.
    """
    said = _said(reminder, context, planned, late=False)
    return hashlib.sha256(f"{said.subject}\n{said.body}\n{said.short}".encode()).hexdigest()


def notice_of(row: Wanted, planned: PlannedNow) -> Reminder:
    """Return a notice about a message: its words were kept when it came to be.

    Args:
        row: the notice as kept.
        planned: the plan of now.

    Returns:
        The reminder.
    """
    found = reminder_of(row)
    said = {**row.payload.get("notice", {}), "job": planned.plan.job.name}
    meant = said.pop("due_at", None)
    # When the message it is about was meant for, not when this notice came to be.
    said["due_at"] = datetime.fromisoformat(str(meant)) if meant else found.due_at
    return replace(found, params=said)


def line_words(reminder: Reminder, context: SendContext, planned: PlannedNow) -> WordedReminder:
    """Return what a reminder says as a line of a message.

    Args:
        reminder: the reminder, of the plan of now.
        context: the rules.
        planned: the plan of now.

    Returns:
        The words.
    """
    person = planned.people.get(reminder.recipient)
    wish = person.language if person else reminder.language
    words = reader_words(planned.plan.job, context.rules, wish, planned.plan.as_of)
    rule = planned.rules.kinds[reminder.kind]
    roles = person.roles if person else ()
    role = next((own for own in roles if own in rule.to), Role.OWNER)
    reach = reach_of(planned.plan.job, planned.plan.as_of)
    return say(reminder, words, role=role, reach=reach)


def _said(reminder: Reminder, context: SendContext, planned: PlannedNow, *, late: bool) -> Composed:
    return joined([(line_words(reminder, context, planned), late)])


def _octets(
    reminder: Reminder,
    said: Composed,
    context: SendContext,
    planned: PlannedNow,
    envelope: Envelope,
) -> bytes:
    person = planned.people.get(reminder.recipient)
    reader = Addressee(reminder.channel, reminder.address, person.name if person else "")
    return octets(reader, said, context, envelope)


def octets(reader: Addressee, said: Composed, context: SendContext, envelope: Envelope) -> bytes:
    """Return a message as it goes out.

    Args:
        reader: who reads it, and by which way.
        said: what it says.
        context: who mail is from.
        envelope: its identity.

    Returns:
        The octets; none of a mail that cannot be made for its address.

    Raises:
        SourceError: something about the sender is wrong, and would be so of every mail.
    """
    if reader.channel is Channel.PUSH:
        return f"{said.subject}\n\n{said.body}".encode()
    if reader.channel is not Channel.EMAIL:
        return short(said.short).text.encode()
    invited, name = envelope.invited, clean(reader.name)
    letter = Letter(
        to=reader.address,
        # A sign that no header may hold costs the name, not the mail.
        to_name=name if name.isprintable() else "",
        subject=said.subject,
        body=said.body,
        message_id=envelope.message_id,
        written_at=envelope.written_at,
        calendar=invited.data if invited else None,
        method=invited.method if invited else "",
    )
    try:
        return made_mail(letter, sender=context.sender, sender_name=context.sender_name)
    except SourceError as error:
        if error.params.get("field") != "to":
            # It is about us, and would be so of every mail: this one is not given up for it.
            raise
        return b""
