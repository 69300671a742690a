"""Reminders as the book keeps them, and what people heard as the outbox has it."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from datetime import date, datetime
from typing import TYPE_CHECKING

from sqlalchemy import bindparam, func, select, union_all, update

from curecal.book.message_states import MessageState
from curecal.book.outbox.outbox_rows import OutboxRow, Wanted
from curecal.book.outbox.reminders import generations_of
from curecal.book.schema.tables import outbox
from curecal.book.schema.tables import reminder as reminder_table
from curecal.records import PlainTable, PlainView
from curecal.reminders.messages.send_context import PlannedNow
from curecal.reminders.reminder_types import Channel, Heard, MessageKind, Occasion, Reminder, Topic
from curecal.reminders.timing.sending_hours import message_at, proper_at
from curecal.trade.names import comparable_email

if TYPE_CHECKING:
    from sqlalchemy.engine import Connection


NOTICES = frozenset(
    {
        MessageKind.UNDELIVERED,
        MessageKind.UNSURE,
        MessageKind.MISSED,
        MessageKind.CALL,
        MessageKind.DAMAGED,
    }
)
"""Kinds about messages themselves: no plan wants them, and none takes them back."""

HEARD = (MessageState.SENDING, MessageState.UNCERTAIN, MessageState.SENT, MessageState.DEAD)
"""States in which somebody may have heard a message, or will not be told it again by itself."""

KEY = ("job_id", "kind", "zone_id", "channel", "recipient")


_TOLD = (
    outbox.c.id,
    outbox.c.created_at,
    reminder_table.c.kind,
    reminder_table.c.zone_id,
    reminder_table.c.channel,
    reminder_table.c.payload,
)
_KEEP = (
    update(reminder_table)
    .where(reminder_table.c.id == bindparam("number"))
    .values(payload=bindparam("kept"))
)
_COUNTS = outbox.c.state.in_(bindparam("states", expanding=True))
# Built once: a round asks the same of each job. A message of its own, or a line of one.
_HEARD = union_all(
    select(*_TOLD)
    .join(reminder_table, reminder_table.c.id == outbox.c.reminder_id)
    .where(outbox.c.job_id == bindparam("job_id"), _COUNTS),
    select(*_TOLD)
    .join(reminder_table, reminder_table.c.digest_id == outbox.c.id)
    .where(reminder_table.c.job_id == bindparam("job_id"), _COUNTS),
)


def recipient_of(channel: str, address: str) -> str:
    """Return an address as the book compares it.

    Args:
        channel: the channel.
        address: the address as it is written.

    Returns:
        The normalized address.
    """
    return comparable_email(address) if channel == Channel.EMAIL else address


def payload_of(reminder: Reminder) -> PlainTable:
    """Return what the book keeps of a reminder beside its columns.

    Args:
        reminder: the reminder.

    Returns:
        Plain values, as JSON takes them.
    """
    return {
        "subject": reminder.subject,
        "occasion": reminder.occasion.kept(),
        "recipient": reminder.recipient,
        "address": reminder.address,
        "due_at": reminder.due_at.isoformat(),
        "topic": reminder.topic.value,
        "day_on": reminder.day_on.isoformat() if reminder.day_on else None,
        "urgent": reminder.urgent,
        "alone": reminder.alone,
        "language": reminder.language,
    }


def reminder_of(row: Wanted) -> Reminder:
    """Return a reminder as kept: without its words, which are of the plan of its time.

    Args:
        row: the book's row.

    Returns:
        The reminder.
    """
    kept = row.payload
    return Reminder(
        kind=MessageKind(row.kind),
        zone_id=row.zone_id,
        subject=str(kept.get("subject", "")),
        occasion=Occasion.read(kept["occasion"]),
        recipient=str(kept.get("recipient", row.person)),
        channel=Channel(row.channel),
        address=str(kept.get("address", row.recipient)),
        due_at=due_of(row),
        until_at=row.expires_at,
        topic=Topic(kept.get("topic", "")),
        day_on=day_of(kept),
        urgent=bool(kept.get("urgent", False)),
        alone=bool(kept.get("alone", False)),
        language=str(kept.get("language", "")),
    )


def due_of(row: Wanted) -> datetime:
    """Return when a reminder was meant for, whatever put it off since.

    Args:
        row: the book's row.

    Returns:
        The instant.
    """
    meant = row.payload.get("due_at")
    return datetime.fromisoformat(meant) if meant else row.fire_at


def meant_at(row: Wanted, planned: PlannedNow) -> datetime:
    """Return when a reminder should have gone out.

    That is its time, but not before it was known, and not in a night or on a day off: what waits
    for a morning is not late on that morning.

    Args:
        row: the book's row.
        planned: the plan of now, with its people and working days.

    Returns:
        The instant.
    """
    if meant := row.payload.get("meant"):
        return datetime.fromisoformat(meant)
    since = row.payload.get("since")
    at = max(due_of(row), datetime.fromisoformat(since)) if since else due_of(row)
    return proper_for(row, planned, at)


def proper_for(
    row: Wanted, planned: PlannedNow, at: datetime, *, left_on: date | None = None
) -> datetime:
    """Return when a reminder may go out at or after an instant: an emergency then.

    Args:
        row: the book's row.
        planned: the plan of now, with its people and working days.
        at: the instant.
        left_on: the last local day on which its reader's message of several lines left.

    Returns:
        The instant in UTC; all but an emergency not at night or on its reader's days off, and what
        goes as a line with the day's message.
    """
    if row.payload.get("urgent"):
        return at
    person = planned.people.get(str(row.payload.get("recipient", row.person)))
    roles = person.roles if person else ()
    if row.payload.get("alone"):
        return proper_at(at, roles, planned.rules, planned.calendar)
    until = row.expires_at
    due_at = due_of(row)
    return message_at(due_at, at, until, roles, planned.rules, planned.calendar, left_on=left_on)


def day_of(kept: PlainView) -> date | None:
    """Return the day a kept reminder tells.

    Args:
        kept: what the book keeps of it.

    Returns:
        The day, or None.
    """
    return date.fromisoformat(kept["day_on"]) if kept.get("day_on") else None


def new_rows(
    connection: Connection, job_id: str, reminders: Iterable[Reminder], *, now: datetime
) -> list[Wanted]:
    """Return reminders as rows of the book, each with a generation nothing has had.

    Args:
        connection: the plan's transaction, which holds the job.
        job_id: the job.
        reminders: the reminders.
        now: since when they are wanted.

    Returns:
        The rows in order, to be put.
    """
    highest = generations_of(connection, job_id)
    made = []
    for reminder in reminders:
        recipient = recipient_of(reminder.channel, reminder.address)
        key = (reminder.kind.value, reminder.zone_id, reminder.channel.value, recipient)
        generation = highest[key] = highest.get(key, 0) + 1
        made.append(
            Wanted(
                job_id=job_id,
                zone_id=reminder.zone_id,
                kind=reminder.kind,
                person=reminder.recipient,
                channel=reminder.channel.value,
                recipient=recipient,
                generation=generation,
                fire_at=reminder.due_at,
                expires_at=reminder.until_at,
                payload={**payload_of(reminder), "since": now.isoformat()},
            )
        )
    return made


def keep(connection: Connection, row: Wanted, **more: object) -> None:
    """Keep more of a reminder beside what is kept of it.

    Args:
        connection: the transaction.
        row: the reminder.
        more: plain values, as JSON takes them.
    """
    connection.execute(_KEEP, {"number": row.id, "kept": {**row.payload, **more}})


def reminder_row(connection: Connection, row: OutboxRow) -> Wanted | None:
    """Return the reminder that a message was made of.

    Args:
        connection: the transaction.
        row: the message.

    Returns:
        The reminder; None for a message that was made of none.
    """
    if row.reminder_id is None:
        return None
    asked = select(*reminder_table.c).where(reminder_table.c.id == row.reminder_id)
    found = connection.execute(asked).mappings().one_or_none()
    return None if found is None else Wanted(**found)


def next_generation(connection: Connection, key: Mapping[str, str]) -> int:
    """Return one more than any reminder of one kind to one person had.

    Args:
        connection: the plan's transaction.
        key: job, kind, zone, channel and recipient.

    Returns:
        The generation: of two messages the later one has the higher.
    """
    asked = select(func.max(reminder_table.c.generation)).where(
        *(reminder_table.c[name] == value for name, value in key.items())
    )
    return int(connection.execute(asked).scalar_one() or 0) + 1


def heard_of(
    connection: Connection, job_id: str, states: Iterable[MessageState] = HEARD
) -> list[Heard]:
    """Return what people heard of a job, or may have.

    Args:
        connection: the transaction.
        job_id: the job.
        states: the states of messages that count.

    Returns:
        What was told, from messages that were made of reminders.
    """
    asked = {"job_id": job_id, "states": [state.value for state in states]}
    return [
        Heard(
            kind=MessageKind(row.kind),
            zone_id=row.zone_id,
            subject=str(row.payload.get("subject", "")),
            occasion=Occasion.read(row.payload["occasion"]),
            recipient=str(row.payload.get("recipient", "")),
            told_at=row.created_at,
            topic=Topic(row.payload.get("topic", "")),
            day_on=day_of(row.payload),
            number=row.id,
            channel=row.channel,
            address=str(row.payload.get("address", "")),
            language=str(row.payload.get("language", "")),
        )
        for row in connection.execute(_HEARD, asked)
        if row.kind not in NOTICES
    ]
