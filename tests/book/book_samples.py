"""Jobs, reminders and messages for the books of the tests. All invented."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime, timedelta
from typing import TYPE_CHECKING, Any

from sqlalchemy import insert

from curecal.book.jobs.written_papers import WrittenPaper
from curecal.book.message_states import MessageState, Who
from curecal.book.outbox.outbox import fire, move
from curecal.book.outbox.outbox_rows import OutboxMessage, OutboxRow, Wanted
from curecal.book.schema.tables import job

if TYPE_CHECKING:
    from sqlalchemy import Connection

    from curecal.book.connection.open_book import Book

NOW = datetime(2026, 12, 3, 12, tzinfo=UTC)
JOB = "alder-lane"


def later(*, hours: float = 0, minutes: float = 0) -> datetime:
    return NOW + timedelta(hours=hours, minutes=minutes)


def put_job(connection: Connection, job_id: str = JOB) -> None:
    connection.execute(insert(job).values(id=job_id, name="Alder Lane", timezone="America/Halifax"))


MESSAGE = OutboxMessage(
    job_id=JOB,
    zone_id="hall",
    kind="moved",
    channel="email",
    recipient="crew@example.org",
    generation=1,
    message_id="<1@example.org>",
    body=b"Subject: moved\r\n\r\nThe date has moved.\r\n",
    created_at=NOW,
    not_after=NOW + timedelta(days=2),
)
WANTED = Wanted(
    job_id=JOB,
    zone_id="hall",
    kind="evening-before",
    person="owner.0",
    channel="email",
    recipient="owner@example.org",
    generation=1,
    fire_at=NOW,
    expires_at=NOW + timedelta(hours=12),
    payload={"day": "2026-12-04", "text": "größer als ∞"},
)


CARD = WrittenPaper(
    sha256="ca" * 32,
    kind="card",
    language="de",
    draft=False,
    recorded_at=NOW,
    record_sha256="",
    revision=1,
    entry_count=2,
    as_of=NOW - timedelta(minutes=5),
)


def message(number: int, **how: Any) -> OutboxMessage:
    made: OutboxMessage = replace(
        MESSAGE, **{"generation": number, "message_id": f"<{number}@example.org>", **how}
    )
    return made


def wanted(**how: Any) -> Wanted:
    made: Wanted = replace(WANTED, **how)
    return made


def filled(book: Book, *messages: OutboxMessage) -> tuple[int, ...]:
    """Put a job and messages into a book."""
    with book.writing() as connection:
        put_job(connection)
        return fire(connection, messages)


def sending(connection: Connection, row: OutboxRow) -> OutboxRow:
    """Say that a message is about to leave."""
    return move(connection, row, MessageState.SENDING, who=Who.SENDER, tries=row.tries + 1)


def sent(connection: Connection, row: OutboxRow, *, at: datetime = NOW) -> OutboxRow:
    """Say that a message was taken."""
    return move(connection, row, MessageState.SENT, who=Who.SENDER, sent_at=at, reason=None)
