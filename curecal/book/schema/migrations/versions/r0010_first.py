"""The first form: jobs and their revisions, log, ledger, reminders, outbox, links."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

from curecal.book.schema.triggers import Guard, statements

revision = "0010"
down_revision = None
branch_labels = None
depends_on = None

_NUMBER = sa.BigInteger().with_variant(sa.Integer, "sqlite")
_AT = sa.DateTime(timezone=True)
_STATES = (
    "'due', 'leased', 'sending', 'sent', 'backoff', 'held', "
    "'uncertain', 'superseded', 'expired', 'dead'"
)
_KEY = ("job_id", "kind", "zone_id", "channel", "recipient", "generation")
_GUARDED = {
    "content": Guard((("sha256",),)),
    "job_revision": Guard((("job_id", "number"),)),
    "log_entry": Guard((("number",), ("job_id", "entry_id"))),
    "reading_series": Guard((("job_id", "file"),)),
    "outbox": Guard(
        (("id",), _KEY, ("message_id",)),
        ("id", "reminder_id", *_KEY, "message_id", "body", "created_at"),
    ),
}


def upgrade() -> None:
    """Create every table and its triggers."""
    _jobs()
    _published()
    _messages()
    _kept_by_name()
    connection = op.get_bind()
    for statement in statements(connection.dialect.name, _GUARDED):
        connection.exec_driver_sql(statement)


def _text(name: str, **how: object) -> sa.Column[str]:
    return sa.Column(name, sa.String, nullable=False, **how)  # type: ignore[arg-type]


def _of_job(*, primary_key: bool = False, index: bool = False) -> sa.Column[str]:
    return sa.Column(
        "job_id",
        sa.String,
        sa.ForeignKey("job.id"),
        nullable=False,
        primary_key=primary_key,
        index=index,
    )


def _of_content(name: str, *, nullable: bool = False) -> sa.Column[str]:
    return sa.Column(name, sa.String, sa.ForeignKey("content.sha256"), nullable=nullable)


def _jobs() -> None:
    op.create_table(
        "job",
        sa.Column("id", sa.String, primary_key=True),
        _text("name"),
        _text("timezone"),
        sa.Column("generation", sa.BigInteger, nullable=False, server_default="0"),
        sa.Column("first_sequence", sa.BigInteger, nullable=False, server_default="0"),
        _text("ledger_id", server_default=""),
        _text("hold", server_default=""),
    )
    op.create_table(
        "content",
        sa.Column("sha256", sa.String, primary_key=True),
        sa.Column("data", sa.LargeBinary, nullable=False),
    )
    op.create_table(
        "job_revision",
        _of_job(primary_key=True),
        sa.Column("number", sa.Integer, primary_key=True),
        sa.Column("recorded_at", _AT, nullable=False),
        _of_content("job_sha256"),
        _of_content("company_sha256", nullable=True),
        _of_content("materials_sha256", nullable=True),
        sa.Column("told", sa.JSON),
        _text("digest"),
    )
    op.create_table(
        "log_entry",
        sa.Column("number", _NUMBER, primary_key=True, autoincrement=True),
        _of_job(),
        _text("entry_id"),
        _text("kind"),
        sa.Column("at", _AT, nullable=False),
        sa.Column("recorded", _AT, nullable=False),
        sa.Column("body", sa.JSON, nullable=False),
        _text("source"),
        _text("digest"),
        sa.UniqueConstraint("job_id", "entry_id"),
    )
    op.create_table(
        "reading_series",
        _of_job(primary_key=True),
        _text("file", primary_key=True),
        _of_content("sha256"),
    )

    op.create_table(
        "answer",
        _of_job(primary_key=True),
        _text("made_of"),
        _text("basis"),
        sa.Column("since", _AT, nullable=False),
        sa.Column("until", _AT, nullable=False),
        sa.Column("answer", sa.JSON, nullable=False),
        sa.Column("days", sa.JSON, nullable=False),
    )


def _published() -> None:
    op.create_table(
        "published",
        _of_job(primary_key=True),
        _text("uid", primary_key=True),
        _text("audience"),
        sa.Column("sequence", sa.BigInteger, nullable=False),
        sa.Column("changed_at", _AT, nullable=False),
        sa.Column("cancelled", sa.Boolean(create_constraint=False), nullable=False),
        _text("lines"),
        sa.Column(
            "suspect",
            sa.Boolean(create_constraint=False),
            nullable=False,
            server_default=sa.false(),
        ),
        _text("digest"),
    )
    op.create_table(
        "rested_on",
        _of_job(primary_key=True),
        _text("entry_id", primary_key=True),
        _text("digest"),
        _text("kind"),
        sa.Column("at", _AT, nullable=False),
    )
    op.create_table(
        "mailed",
        _of_job(primary_key=True),
        _text("uid", primary_key=True),
        sa.Column("sequence", sa.BigInteger, primary_key=True, autoincrement=False),
        _text("recipient", primary_key=True),
        _text("sender"),
    )


def _message_key() -> tuple[sa.Column[str], ...]:
    return (
        _of_job(),
        _text("zone_id", server_default=""),
        _text("kind"),
    )


def _messages() -> None:
    op.create_table(
        "reminder",
        sa.Column("id", _NUMBER, primary_key=True, autoincrement=True),
        *_message_key(),
        _text("person"),
        _text("channel"),
        _text("recipient"),
        sa.Column("generation", sa.BigInteger, nullable=False),
        sa.Column("fire_at", _AT, nullable=False),
        sa.Column("expires_at", _AT),
        sa.Column("payload", sa.JSON, nullable=False),
        _text("state", server_default="wanted"),
        sa.Column("digest_id", sa.BigInteger),
        sa.CheckConstraint("state IN ('wanted', 'ready', 'fired', 'withdrawn')", name="state"),
        sa.UniqueConstraint(*_KEY),
    )
    op.create_index(op.f("ix_reminder_state_fire_at"), "reminder", ["state", "fire_at"])
    op.create_index(op.f("ix_reminder_digest_id"), "reminder", ["digest_id"])
    op.create_table(
        "outbox",
        sa.Column("id", _NUMBER, primary_key=True, autoincrement=True),
        sa.Column("reminder_id", _NUMBER, sa.ForeignKey("reminder.id")),
        *_message_key(),
        _text("channel"),
        _text("recipient"),
        sa.Column("generation", sa.BigInteger, nullable=False),
        _text("message_id"),
        sa.Column("body", sa.LargeBinary, nullable=False),
        sa.Column("order_key", sa.Integer, nullable=False, server_default="0"),
        sa.Column("created_at", _AT, nullable=False),
        sa.Column("not_after", _AT),
        _text("state", server_default="due"),
        sa.Column("claim", sa.BigInteger, nullable=False, server_default="0"),
        sa.Column("lease_owner", sa.String),
        sa.Column("lease_until_s", sa.Double),
        sa.Column("boot_id", sa.String),
        sa.Column("tries", sa.Integer, nullable=False, server_default="0"),
        sa.Column("next_try_at", _AT, nullable=False),
        sa.Column("sent_at", _AT),
        sa.Column("reason", sa.String),
        sa.CheckConstraint(f"state IN ({_STATES})", name="state"),
        sa.UniqueConstraint(*_KEY),
        sa.UniqueConstraint("message_id"),
    )
    op.create_index(op.f("ix_outbox_state_next_try_at"), "outbox", ["state", "next_try_at"])
    line = ["channel", "recipient", "state", "order_key", "id"]
    op.create_index(op.f(f"ix_outbox_{'_'.join(line)}"), "outbox", line)


def _kept_by_name() -> None:
    op.create_table(
        "heartbeat",
        sa.Column("name", sa.String, primary_key=True),
        sa.Column("at", _AT, nullable=False),
        sa.Column("boot_id", sa.String, nullable=False),
        sa.Column("since_boot_s", sa.Double, nullable=False),
        sa.Column("note", sa.JSON, nullable=False),
    )
    op.create_table(
        "meta",
        sa.Column("key", sa.String, primary_key=True),
        sa.Column("value", sa.JSON, nullable=False),
    )
