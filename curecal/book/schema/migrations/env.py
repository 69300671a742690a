"""Runs the revisions in the transaction that the caller began: all of them or none."""

from __future__ import annotations

from alembic import context
from sqlalchemy import MetaData

from curecal.book.schema.column_types import NAMES

connection = context.config.attributes["connection"]
# Both databases take back changes of the form; the caller commits.
context.configure(
    connection=connection,
    transactional_ddl=True,
    target_metadata=MetaData(naming_convention=NAMES),
)
context.run_migrations()
