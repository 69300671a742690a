"""The tables of the job book.

What was said, recorded or sent is never changed: triggers refuse it in both databases, whoever
asks. Every zone, audience and text is NOT NULL, the empty text standing for "the whole job", so
that a unique key holds: NULLs differ from each other.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from sqlalchemy import (
    JSON,
    BigInteger,
    Boolean,
    CheckConstraint,
    Column,
    Double,
    ForeignKey,
    ForeignKeyConstraint,
    Index,
    Integer,
    LargeBinary,
    MetaData,
    Table,
    UniqueConstraint,
    event,
    false,
)

from curecal.book.link_purpose import LinkPurpose
from curecal.book.message_states import MessageState, ReminderState
from curecal.book.schema.column_types import NAMES, Instant, TextColumn
from curecal.book.schema.triggers import create_guards

if TYPE_CHECKING:
    from sqlalchemy.engine import Connection

metadata = MetaData(naming_convention=NAMES)

# SQLite numbers rows by itself only where the key is declared INTEGER.
_NUMBER = BigInteger().with_variant(Integer, "sqlite")


def _one_of(column: str, values: tuple[str, ...]) -> CheckConstraint:
    listed = ", ".join(f"'{value}'" for value in values)
    return CheckConstraint(f"{column} IN ({listed})", name=column)


job = Table(
    "job",
    metadata,
    Column("id", TextColumn, primary_key=True),
    Column("name", TextColumn, nullable=False),
    Column("timezone", TextColumn, nullable=False),
    # Grows with each stored change: what was read at one generation may not be written at another.
    Column("generation", BigInteger, nullable=False, server_default="0"),
    # SEQUENCE of an event that the book does not know; above 0 only after a loss or a restore.
    Column("first_sequence", BigInteger, nullable=False, server_default="0"),
    # The identity that outputs carry; empty until something is published.
    Column("ledger_id", TextColumn, nullable=False, server_default=""),
    # Why nothing is sent of this job; empty while messages go out.
    Column("hold", TextColumn, nullable=False, server_default=""),
)

content = Table(
    "content",
    metadata,
    Column("sha256", TextColumn, primary_key=True),
    Column("data", LargeBinary, nullable=False),
)

job_revision = Table(
    "job_revision",
    metadata,
    Column("job_id", ForeignKey(job.c.id), primary_key=True),
    Column("number", Integer, primary_key=True),
    Column("recorded_at", Instant, nullable=False),
    Column("job_sha256", ForeignKey(content.c.sha256), nullable=False),
    Column("company_sha256", ForeignKey(content.c.sha256)),
    Column("materials_sha256", ForeignKey(content.c.sha256)),
    # The plan as it was told when the revision came in.
    Column("told", JSON(none_as_null=True)),
    Column("digest", TextColumn, nullable=False),
)

log_entry = Table(
    "log_entry",
    metadata,
    Column("number", _NUMBER, primary_key=True, autoincrement=True),
    Column("job_id", ForeignKey(job.c.id), nullable=False),
    Column("entry_id", TextColumn, nullable=False),
    Column("kind", TextColumn, nullable=False),
    Column("at", Instant, nullable=False),
    Column("recorded", Instant, nullable=False),
    Column("body", JSON, nullable=False),
    Column("source", TextColumn, nullable=False),
    Column("digest", TextColumn, nullable=False),
    UniqueConstraint("job_id", "entry_id"),
)

reading_series = Table(
    "reading_series",
    metadata,
    Column("job_id", ForeignKey(job.c.id), primary_key=True),
    Column("file", TextColumn, primary_key=True),
    Column("sha256", ForeignKey(content.c.sha256), nullable=False),
)

# Papers as they were written, by the hash of their bytes.
paper = Table(
    "paper",
    metadata,
    Column("job_id", TextColumn, primary_key=True),
    Column("sha256", TextColumn, primary_key=True),
    Column("kind", TextColumn, nullable=False),
    Column("language", TextColumn, nullable=False),
    Column("draft", Boolean(create_constraint=False), nullable=False),
    Column("recorded_at", Instant, nullable=False),
    # The hash of all that a record tells; empty for other papers.
    Column("record_sha256", TextColumn, nullable=False),
    # What the paper stood on: this revision, and as many entries of the log.
    Column("revision", Integer, nullable=False),
    Column("entry_count", Integer, nullable=False),
    Column("as_of", Instant, nullable=False),
    Column("digest", TextColumn, nullable=False),
    ForeignKeyConstraint(["job_id", "revision"], [job_revision.c.job_id, job_revision.c.number]),
)

# Pictures that came with log entries: by the name that the log has.
picture = Table(
    "picture",
    metadata,
    Column("job_id", ForeignKey(job.c.id), primary_key=True),
    Column("file", TextColumn, primary_key=True),
    Column("sha256", ForeignKey(content.c.sha256), nullable=False),
)

# Secret links to pages and feeds: the secret itself is kept by nobody but its holder.
link = Table(
    "link",
    metadata,
    Column("sha256", TextColumn, primary_key=True),
    # Short enough to read out, to take the link back by.
    Column("id", TextColumn, nullable=False),
    # No foreign key: the empty text is the whole book.
    Column("job_id", TextColumn, nullable=False),
    Column("purpose", TextColumn, nullable=False),
    Column("person", TextColumn, nullable=False),
    Column("note", TextColumn, nullable=False, server_default=""),
    Column("created_at", Instant, nullable=False),
    Column("expires_at", Instant),
    Column("revoked_at", Instant),
    # Kept apart from all that counts: a link that was opened proves no reader.
    Column("last_used_at", Instant),
    _one_of("purpose", tuple(purpose.value for purpose in LinkPurpose)),
    UniqueConstraint("id"),
    Index(None, "job_id"),
)

published = Table(
    "published",
    metadata,
    Column("job_id", ForeignKey(job.c.id), primary_key=True),
    Column("uid", TextColumn, primary_key=True),
    Column("audience", TextColumn, nullable=False),
    Column("sequence", BigInteger, nullable=False),
    Column("changed_at", Instant, nullable=False),
    Column("cancelled", Boolean(create_constraint=False), nullable=False),
    Column("lines", TextColumn, nullable=False),
    # People may hold a newer one: it came out of an export, or the record of it was lost.
    Column("suspect", Boolean(create_constraint=False), nullable=False, server_default=false()),
    Column("digest", TextColumn, nullable=False),
)

# Which log entries the plans rested on that were published.
rested_on = Table(
    "rested_on",
    metadata,
    Column("job_id", ForeignKey(job.c.id), primary_key=True),
    Column("entry_id", TextColumn, primary_key=True),
    Column("digest", TextColumn, nullable=False),
    Column("kind", TextColumn, nullable=False),
    Column("at", Instant, nullable=False),
)

# Which revision of an event was written as a mail to whom, and by whom.
mailed = Table(
    "mailed",
    metadata,
    Column("job_id", ForeignKey(job.c.id), primary_key=True),
    Column("uid", TextColumn, primary_key=True),
    Column("sequence", BigInteger, primary_key=True, autoincrement=False),
    Column("recipient", TextColumn, primary_key=True),
    Column("sender", TextColumn, nullable=False),
)

# What planning made of a job last, with what that rests on: a copy, made anew when any of it moved.
answer = Table(
    "answer",
    metadata,
    Column("job_id", ForeignKey(job.c.id), primary_key=True),
    Column("made_of", TextColumn, nullable=False),
    Column("basis", TextColumn, nullable=False),
    Column("since", Instant, nullable=False),
    Column("until", Instant, nullable=False),
    Column("answer", JSON, nullable=False),
    Column("days", JSON, nullable=False),
)

reminder = Table(
    "reminder",
    metadata,
    Column("id", _NUMBER, primary_key=True, autoincrement=True),
    Column("job_id", ForeignKey(job.c.id), nullable=False),
    Column("zone_id", TextColumn, nullable=False, server_default=""),
    Column("kind", TextColumn, nullable=False),
    Column("person", TextColumn, nullable=False),
    Column("channel", TextColumn, nullable=False),
    Column("recipient", TextColumn, nullable=False),
    Column("generation", BigInteger, nullable=False),
    Column("fire_at", Instant, nullable=False),
    Column("expires_at", Instant),
    Column("payload", JSON, nullable=False),
    Column("state", TextColumn, nullable=False, server_default=ReminderState.WANTED.value),
    # The message of several lines that it is one of; no foreign key, since the outbox has one here.
    Column("digest_id", BigInteger),
    _one_of("state", tuple(state.value for state in ReminderState)),
    UniqueConstraint("job_id", "kind", "zone_id", "channel", "recipient", "generation"),
    Index(None, "state", "fire_at"),
    Index(None, "digest_id"),
)

outbox = Table(
    "outbox",
    metadata,
    Column("id", _NUMBER, primary_key=True, autoincrement=True),
    Column("reminder_id", ForeignKey(reminder.c.id)),
    Column("job_id", ForeignKey(job.c.id), nullable=False),
    Column("zone_id", TextColumn, nullable=False, server_default=""),
    Column("kind", TextColumn, nullable=False),
    Column("channel", TextColumn, nullable=False),
    Column("recipient", TextColumn, nullable=False),
    Column("generation", BigInteger, nullable=False),
    Column("message_id", TextColumn, nullable=False),
    Column("body", LargeBinary, nullable=False),
    # Lower goes first, whatever came before: what stops a floor overtakes all else.
    Column("order_key", Integer, nullable=False, server_default="0"),
    Column("created_at", Instant, nullable=False),
    Column("not_after", Instant),
    Column("state", TextColumn, nullable=False, server_default=MessageState.DUE.value),
    Column("claim", BigInteger, nullable=False, server_default="0"),
    Column("lease_owner", TextColumn),
    # Seconds on the clock that `boot_id` names.
    Column("lease_until_s", Double),
    Column("boot_id", TextColumn),
    Column("tries", Integer, nullable=False, server_default="0"),
    Column("next_try_at", Instant, nullable=False),
    Column("sent_at", Instant),
    Column("reason", TextColumn),
    _one_of("state", tuple(state.value for state in MessageState)),
    UniqueConstraint("job_id", "kind", "zone_id", "channel", "recipient", "generation"),
    UniqueConstraint("message_id"),
    Index(None, "state", "next_try_at"),
    Index(None, "channel", "recipient", "state", "order_key", "id"),
)

heartbeat = Table(
    "heartbeat",
    metadata,
    Column("name", TextColumn, primary_key=True),
    Column("at", Instant, nullable=False),
    Column("boot_id", TextColumn, nullable=False),
    Column("since_boot_s", Double, nullable=False),
    Column("note", JSON, nullable=False),
)

meta = Table(
    "meta",
    metadata,
    Column("key", TextColumn, primary_key=True),
    Column("value", JSON, nullable=False),
)


def _after_create(_target: MetaData, connection: Connection, **_named: object) -> None:
    create_guards(connection)


event.listen(metadata, "after_create", _after_create)
