"""Secret links to pages and feeds, and pictures that came with log entries."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

from curecal.book.schema.triggers import Guard, triggers

revision = "0012"
down_revision = "0011"
branch_labels = None
depends_on = None

_AT = sa.DateTime(timezone=True)
_GUARDED = {
    "picture": Guard((("job_id", "file"),)),
    "link": Guard(
        (("sha256",), ("id",)),
        ("sha256", "id", "job_id", "purpose", "person", "note", "created_at", "expires_at"),
    ),
}


def upgrade() -> None:
    """Create the two tables and their triggers."""
    op.create_table(
        "picture",
        sa.Column("job_id", sa.String, sa.ForeignKey("job.id"), primary_key=True),
        sa.Column("file", sa.String, primary_key=True),
        sa.Column("sha256", sa.String, sa.ForeignKey("content.sha256"), nullable=False),
    )
    op.create_table(
        "link",
        sa.Column("sha256", sa.String, primary_key=True),
        sa.Column("id", sa.String, nullable=False),
        sa.Column("job_id", sa.String, nullable=False),
        sa.Column("purpose", sa.String, nullable=False),
        sa.Column("person", sa.String, nullable=False),
        sa.Column("note", sa.String, nullable=False, server_default=""),
        sa.Column("created_at", _AT, nullable=False),
        sa.Column("expires_at", _AT),
        sa.Column("revoked_at", _AT),
        sa.Column("last_used_at", _AT),
        sa.CheckConstraint(
            "purpose IN ('owner', 'crew', 'electrician', 'office', 'feed')", name="purpose"
        ),
        sa.UniqueConstraint("id"),
    )
    op.create_index(op.f("ix_link_job_id"), "link", ["job_id"])
    connection = op.get_bind()
    for statement in triggers(connection.dialect.name, _GUARDED):
        connection.exec_driver_sql(statement)
