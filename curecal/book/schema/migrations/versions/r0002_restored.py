"""What a restored job needs: where its counting goes on, what is suspect, a hold.

A book of before this revision was never restored: everything starts at "no".
"""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0002"
down_revision = "0001"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Add the columns."""
    first = sa.Column("first_sequence", sa.BigInteger, nullable=False, server_default="0")
    op.add_column("job", first)
    op.add_column("job", sa.Column("hold", sa.String, nullable=False, server_default=""))
    suspect = sa.Boolean(create_constraint=False)
    op.add_column(
        "published", sa.Column("suspect", suspect, nullable=False, server_default=sa.false())
    )
