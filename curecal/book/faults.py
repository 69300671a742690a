"""What a database says is wrong, as an error of ours: what happened and what a person can do."""

from __future__ import annotations

import sqlite3
from typing import TYPE_CHECKING

from curecal.errors import BookError

if TYPE_CHECKING:
    from sqlalchemy.exc import DBAPIError

_SHOWN = 200
_PRIMARY = 0xFF
# Primary result codes of SQLite.
_FILE = {
    sqlite3.SQLITE_BUSY: "book-busy",
    sqlite3.SQLITE_LOCKED: "book-busy",
    sqlite3.SQLITE_FULL: "book-disk",
    sqlite3.SQLITE_IOERR: "book-disk",
    sqlite3.SQLITE_CORRUPT: "book-damaged",
    sqlite3.SQLITE_NOTADB: "book-damaged",
    sqlite3.SQLITE_READONLY: "book-cannot-open",
    sqlite3.SQLITE_CANTOPEN: "book-cannot-open",
    sqlite3.SQLITE_PERM: "book-cannot-open",
}
# Conditions of PostgreSQL, or classes of them by their first two signs.
_SERVER = {
    "55P03": "book-busy",
    "40001": "book-busy",
    "40P01": "book-busy",
    "53": "book-disk",
    "08": "book-cannot-open",
    "28": "book-cannot-open",
    "3D": "book-cannot-open",
    "57": "book-cannot-open",
    "XX": "book-damaged",
}


def book_error(error: DBAPIError, place: str) -> BookError:
    """Return what a database's error means.

    Args:
        error: The error as SQLAlchemy wraps it.
        place: Where the book stands.

    Returns:
        The error to raise; its reason is the database's first line, which holds no password.
    """
    cause = error.orig
    reason = (str(cause).splitlines() or [type(cause).__name__])[0][:_SHOWN]
    return BookError(_code(cause), place=place, reason=reason)


def _code(cause: BaseException | None) -> str:
    number = getattr(cause, "sqlite_errorcode", None)
    if number is not None:
        return _FILE.get(number & _PRIMARY, "book-database")
    state = getattr(cause, "sqlstate", None)
    if state is None and type(cause).__name__ in {"OperationalError", "ConnectionTimeout"}:
        # No answer at all, or none any more.
        return "book-cannot-open"
    return _SERVER.get(state or "") or _SERVER.get((state or "")[:2]) or "book-database"
