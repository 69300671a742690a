"""Making a new book or bringing one to the newest form, in one transaction: all of it or nothing.

Each form has its step from the one before. The steps so far only add, so that no copy is taken
first.
"""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from alembic import command
from alembic.config import Config
from alembic.migration import MigrationContext
from alembic.util import CommandError
from sqlalchemy import inspect, text

from curecal.book.connection.open_book import HEAD, Book
from curecal.errors import BookError

if TYPE_CHECKING:
    from sqlalchemy.engine import Connection

# Any number that no other program is likely to lock by.
_ADVISORY = 0x6375726563616C
# The forms before it were of programs that nobody has.
_FIRST = "0010"
_OURS = frozenset({"job", "job_revision", "log_entry", "published", "outbox", "heartbeat", "meta"})
_SCRIPTS = Path(__file__).parents[1] / "schema" / "migrations"


def bring_up(book: Book, *, create: bool = True) -> None:
    """Make an empty file or database a book, and bring one of an older form to the newest.

    Args:
        book: The book; a new one is empty.
        create: Whether an empty file or database is made a book.

    Raises:
        BookError: a newer program made it (`book-newer`) or one from before the first release
            (`book-older`), it is no book (`book-foreign`), there is none (`book-missing`), or it
            cannot be read or written.
    """
    with book.reading() as connection:
        if _revision(connection, book, create=create) == HEAD:
            return
    with book.writing() as connection:
        if not book.is_file:
            connection.execute(text("SELECT pg_advisory_xact_lock(:key)"), {"key": _ADVISORY})
        # Another process may have done it between the two looks.
        if _revision(connection, book, create=create) != HEAD:
            config = _config()
            config.attributes["connection"] = connection
            command.upgrade(config, "head")


def look_at(book: Book, *, create: bool) -> None:
    """Look whether a database is a book, or may become one; nothing of it is changed.

    Args:
        book: The book, only to be looked at.
        create: Whether an empty one will do.

    Raises:
        BookError: as of `bring_up`.
    """
    with book.reading() as connection:
        _revision(connection, book, create=create)


def revision_of(connection: Connection) -> str | None:
    """Return the revision that a book's form is at.

    Args:
        connection: A connection to the book.

    Returns:
        The revision's name; None for an empty database.
    """
    return MigrationContext.configure(connection).get_current_revision()


def _config() -> Config:
    config = Config()
    # A percent sign in a path would be read as the place of a value.
    config.set_main_option("script_location", str(_SCRIPTS).replace("%", "%%"))
    return config


def _revision(connection: Connection, book: Book, *, create: bool) -> str | None:
    """Return the form of a book that this program can use, None for an empty database."""
    try:
        found = revision_of(connection)
    except CommandError:
        # Two of them: whatever it was, it is not whole.
        raise BookError("book-damaged", place=book.place, reason="alembic_version") from None
    if found is None and inspect(connection).get_table_names():
        raise BookError("book-foreign", place=book.place)
    if found is None and not create:
        raise BookError("book-missing", path=book.place)
    # Forms are numbered in the order they came in.
    if found is not None and not _FIRST <= found <= HEAD:
        code = "book-older" if found < HEAD else "book-newer"
        raise BookError(code, place=book.place, revision=found)
    # Another program's forms may be numbered alike.
    if found is not None and not set(inspect(connection).get_table_names()) >= _OURS:
        raise BookError("book-foreign", place=book.place)
    return found
