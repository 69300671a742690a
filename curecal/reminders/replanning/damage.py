"""A job that the book no longer has whole: set aside, so that no other waits for it, and told once.

Its people stand in what cannot be read any more. The office's own address is left to tell.
"""

from __future__ import annotations

from datetime import datetime
from typing import TYPE_CHECKING

from sqlalchemy import select

from curecal.book.message_states import URGENT_ORDER
from curecal.book.meta import DAMAGED, hold
from curecal.book.outbox.outbox import fire
from curecal.book.outbox.outbox_rows import OutboxMessage
from curecal.book.schema.tables import job as job_table
from curecal.delivery.channel_settings import NOBODY
from curecal.delivery.mail import Letter, made_mail
from curecal.errors import BookError, CurecalError, ErrorCode
from curecal.reminders.messages.send_context import SendContext, generation_of, is_held
from curecal.reminders.reminder_types import MessageKind
from curecal.words.sentences import plain_words

if TYPE_CHECKING:
    from sqlalchemy.engine import Connection

_OF_ONE_JOB = frozenset(
    {
        ErrorCode.BOOK_CONTENT_DAMAGED,
        ErrorCode.BOOK_ROW_DAMAGED,
        ErrorCode.BOOK_DAMAGED,
        ErrorCode.BOOK_PATH_OUTSIDE,
        ErrorCode.BOOK_READINGS_ELSEWHERE,
    }
)


def is_damage(error: BookError) -> bool:
    """Return whether an error says that what the book holds of a job is not whole.

    Args:
        error: what reading the job ended with.

    Returns:
        False where the book as a whole cannot be used at present.
    """
    return error.code in _OF_ONE_JOB


def set_aside(
    connection: Connection, context: SendContext, job_id: str, error: CurecalError, *, now: datetime
) -> None:
    """Put a damaged job on hold, and let the office know.

    Args:
        connection: a transaction of its own.
        context: who mail is from, and is told.
        job_id: the job.
        error: what is wrong with it.
        now: the instant.
    """
    if not is_held(connection, job_id):
        hold(connection, DAMAGED, now=now, job_id=job_id)
    if context.sender != NOBODY:
        # A message has its key once: the office hears of it anew only after the job grew.
        fire(connection, [_notice(connection, context, job_id, error, now)])


def is_set_aside(connection: Connection, job_id: str) -> bool:
    """Return whether a job is on hold because it is damaged.

    Args:
        connection: the transaction.
        job_id: the job.

    Returns:
        True where of it only goes what is urgent.
    """
    asked = select(job_table.c.hold).where(job_table.c.id == job_id)
    return connection.execute(asked).scalar() == DAMAGED


def _notice(
    connection: Connection, context: SendContext, job_id: str, error: CurecalError, now: datetime
) -> OutboxMessage:
    words = plain_words()
    generation = generation_of(connection, job_id, held=False)
    name = connection.execute(select(job_table.c.name).where(job_table.c.id == job_id)).scalar()
    params = {"job": name or job_id, "id": job_id, "reason": words.error(error)}
    host = context.sender.rpartition("@")[2]
    letter = Letter(
        to=context.sender,
        to_name="",
        subject=words.text("remind.damaged.subject", params),
        body=words.text("remind.damaged.text", params),
        message_id=f"<damaged.{generation}.{job_id}@{host}>",
        written_at=now,
    )
    return OutboxMessage(
        job_id=job_id,
        zone_id="",
        kind=MessageKind.DAMAGED,
        channel="email",
        recipient=context.sender,
        generation=generation,
        message_id=letter.message_id,
        body=made_mail(letter, sender=context.sender, sender_name=context.sender_name),
        created_at=now,
        order_key=URGENT_ORDER,
    )
