"""Papers as they were written, by the hash of their bytes."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

from curecal.book.schema.triggers import Guard, triggers

revision = "0011"
down_revision = "0010"
branch_labels = None
depends_on = None

_AT = sa.DateTime(timezone=True)
_GUARDED = {"paper": Guard((("job_id", "sha256"),))}


def upgrade() -> None:
    """Create the table and its triggers."""
    op.create_table(
        "paper",
        sa.Column("job_id", sa.String, primary_key=True),
        sa.Column("sha256", sa.String, primary_key=True),
        sa.Column("kind", sa.String, nullable=False),
        sa.Column("language", sa.String, nullable=False),
        sa.Column("draft", sa.Boolean(create_constraint=False), nullable=False),
        sa.Column("recorded_at", _AT, nullable=False),
        sa.Column("record_sha256", sa.String, nullable=False),
        sa.Column("revision", sa.Integer, nullable=False),
        sa.Column("entry_count", sa.Integer, nullable=False),
        sa.Column("as_of", _AT, nullable=False),
        sa.Column("digest", sa.String, nullable=False),
        sa.ForeignKeyConstraint(
            ["job_id", "revision"], ["job_revision.job_id", "job_revision.number"]
        ),
    )
    connection = op.get_bind()
    for statement in triggers(connection.dialect.name, _GUARDED):
        connection.exec_driver_sql(statement)
