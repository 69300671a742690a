"""What the first form came to have after its first books were made: answers, lines of messages.

Those books bear the same number. Without this step they would open, and then send nothing.
"""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0013"
down_revision = "0012"
branch_labels = None
depends_on = None

_AT = sa.DateTime(timezone=True)
_STATES = "state IN ('wanted', 'fired', 'withdrawn')"
_ALL_STATES = "state IN ('wanted', 'ready', 'fired', 'withdrawn')"


def upgrade() -> None:
    """Create what is missing, where it is."""
    look = sa.inspect(op.get_bind())
    if "answer" not in look.get_table_names():
        _answers()
    if "digest_id" not in {column["name"] for column in look.get_columns("reminder")}:
        _lines_of_messages()


def _answers() -> None:
    op.create_table(
        "answer",
        sa.Column("job_id", sa.String, sa.ForeignKey("job.id"), primary_key=True),
        sa.Column("made_of", sa.String, nullable=False),
        sa.Column("basis", sa.String, nullable=False),
        sa.Column("since", _AT, nullable=False),
        sa.Column("until", _AT, nullable=False),
        sa.Column("answer", sa.JSON, nullable=False),
        sa.Column("days", sa.JSON, nullable=False),
    )


def _lines_of_messages() -> None:
    op.add_column("reminder", sa.Column("digest_id", sa.BigInteger))
    op.create_index(op.f("ix_reminder_digest_id"), "reminder", ["digest_id"])
    if op.get_context().dialect.name == "postgresql":
        op.drop_constraint(op.f("ck_reminder_state"), "reminder")
        op.create_check_constraint(op.f("ck_reminder_state"), "reminder", _ALL_STATES)
        return
    # SQLite changes no constraint, and the table cannot be made anew: messages point at its rows.
    # Its manual names this way for a constraint that only grows wider.
    connection = op.get_bind()
    connection.exec_driver_sql("PRAGMA writable_schema = ON")
    connection.execute(
        sa.text("UPDATE sqlite_schema SET sql = replace(sql, :old, :new) WHERE name = 'reminder'"),
        {"old": _STATES, "new": _ALL_STATES},
    )
    connection.exec_driver_sql("PRAGMA writable_schema = RESET")
