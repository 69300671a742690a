"""What a database says is wrong, as an error of ours: what happened and what a person can do."""

from __future__ import annotations

import contextlib
import sqlite3
from collections.abc import Collection, Iterator
from typing import TYPE_CHECKING

from curecal.errors import BookError

if TYPE_CHECKING:
    from sqlalchemy.exc import DBAPIError

_SHOWN = 200
PRIMARY = 0xFF
"""What of a result code is its primary one."""
# Primary result codes of SQLite.
_FILE = {
    sqlite3.SQLITE_BUSY: "book-busy",
    sqlite3.SQLITE_LOCKED: "book-busy",
    sqlite3.SQLITE_FULL: "book-disk",
    sqlite3.SQLITE_IOERR: "book-disk",
    sqlite3.SQLITE_CORRUPT: "book-damaged",
    sqlite3.SQLITE_NOTADB: "book-none",
    sqlite3.SQLITE_READONLY: "book-read-only",
    sqlite3.SQLITE_CANTOPEN: "book-cannot-open",
    sqlite3.SQLITE_PERM: "book-cannot-open",
}
# Conditions of PostgreSQL, or classes of them by their first two signs.
_SERVER = {
    "55P03": "book-busy",
    "40001": "book-busy",
    "40P01": "book-busy",
    "25P03": "book-server-away",
    "53": "book-disk",
    "08": "book-server-away",
    "28": "book-server-away",
    "3D": "book-server-away",
    "57": "book-server-away",
    "XX": "book-damaged",
}


def book_error(error: DBAPIError, place: str, *, hidden: Collection[str] = ()) -> BookError:
    """Return what a database's error means.

    Args:
        error: The error as SQLAlchemy wraps it.
        place: Where the book stands.
        hidden: What is never shown, though the database repeats it.

    Returns:
        The error to raise; its reason is the database's first line, or only the kind of its error
        where that line would show what is hidden.
    """
    cause = error.orig
    name = type(cause).__name__
    reason = (str(cause).splitlines() or [name])[0][:_SHOWN]
    if any(word in reason for word in hidden):
        reason = name
    return BookError(_code(cause), place=place, reason=reason)


@contextlib.contextmanager
def as_written(of: str) -> Iterator[None]:
    """Say where something stands that this program never wrote, instead of stumbling over it.

    Args:
        of: The job or the entry.

    Raises:
        BookError: what stands there is not of its kind (`book-row-damaged`).
    """
    try:
        yield
    except (ArithmeticError, AttributeError, LookupError, TypeError, ValueError) as error:
        raise BookError("book-row-damaged", of=of, reason=type(error).__name__) from None


def _code(cause: BaseException | None) -> str:
    number = getattr(cause, "sqlite_errorcode", None)
    if number is not None:
        return _FILE.get(number & PRIMARY, "book-database")
    state = getattr(cause, "sqlstate", None)
    if state is None and type(cause).__name__ in {"OperationalError", "ConnectionTimeout"}:
        # No answer at all, or none any more.
        return "book-server-away"
    return _SERVER.get(state or "") or _SERVER.get((state or "")[:2]) or "book-database"
