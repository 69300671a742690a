"""Column types: instants that keep their meaning, and texts that every database takes alike."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import UTC, datetime
from types import MappingProxyType
from typing import Any

from sqlalchemy import ColumnElement, DateTime, Dialect, String, func
from sqlalchemy.types import TypeDecorator, TypeEngine

from curecal.errors import BookError
from curecal.instants import instant

NAMES: Mapping[str, str] = MappingProxyType(
    {
        "ix": "ix_%(table_name)s_%(column_0_N_name)s",
        "uq": "uq_%(table_name)s_%(column_0_N_name)s",
        "ck": "ck_%(table_name)s_%(constraint_name)s",
        "fk": "fk_%(table_name)s_%(column_0_name)s",
        "pk": "pk_%(table_name)s",
    }
)
"""How keys and constraints are called, so that a later revision can name them."""
_SHOWN = 40


def looked_at(column: ColumnElement[str]) -> ColumnElement[str]:
    """Return a column as what rows are told apart by that were found by another.

    SQLite keeps no figures of its tables: of an index of a job's rows and one of a state's it may
    take the second, and read the rows of every job for each. It takes none for this.

    Args:
        column: The column, which holds no NULL.
    """
    return func.coalesce(column, "")


class Instant(TypeDecorator[datetime]):
    """An aware instant, stored in UTC.

    SQLite has no such type and drops an offset without a word: there the instant is brought to
    UTC first, and comes back with it.
    """

    impl = DateTime
    cache_ok = True

    def load_dialect_impl(self, dialect: Dialect) -> TypeEngine[Any]:
        """Return the database's own type."""
        return dialect.type_descriptor(DateTime(timezone=dialect.name == "postgresql"))

    def process_bind_param(self, value: datetime | None, dialect: Dialect) -> datetime | None:
        """Return what is stored; a naive instant is refused."""
        if value is None:
            return None
        at = instant(value)
        return at if dialect.name == "postgresql" else at.replace(tzinfo=None)

    def process_result_value(self, value: datetime | None, dialect: Dialect) -> datetime | None:
        """Return the instant in UTC."""
        del dialect
        if value is None:
            return None
        return value.replace(tzinfo=UTC) if value.tzinfo is None else value.astimezone(UTC)


class TextColumn(TypeDecorator[str]):
    """A text that can be stored everywhere: no NUL, no half of a surrogate pair."""

    impl = String
    cache_ok = True

    def process_bind_param(self, value: str | None, dialect: Dialect) -> str | None:
        """Return the text; one that a database refuses or cuts off is refused here by both."""
        del dialect
        if value is not None and (
            "\0" in value or any("\ud800" <= sign <= "\udfff" for sign in value)
        ):
            raise BookError("book-text-unusable", text=ascii(value[:_SHOWN]))
        return value
