"""Bringing a book to this program's form, one revision after another, in one transaction."""

from __future__ import annotations

import contextlib
import sqlite3
from pathlib import Path
from typing import TYPE_CHECKING

from alembic import command
from alembic.config import Config
from alembic.migration import MigrationContext
from alembic.script import ScriptDirectory
from alembic.util import CommandError
from sqlalchemy import inspect, text

from curecal.book.connection.open_book import Book
from curecal.errors import BookError

if TYPE_CHECKING:
    from sqlalchemy.engine import Connection

# Any number that no other program is likely to lock by.
_ADVISORY = 0x6375726563616C
_SCRIPTS = Path(__file__).parents[1] / "schema" / "migrations"


def bring_up(book: Book, *, to: str = "head", create: bool = True) -> None:
    """Bring a book up to a revision of its form; one that is there already is left alone.

    Args:
        book: The book; a new one is empty.
        to: The revision's name; the newest where none is named.
        create: Whether an empty file or database is made a book.

    Raises:
        BookError: a newer program made it (`book-newer`), it is no book (`book-foreign`), there is
            none (`book-missing`), or it cannot be read or written.
    """
    scripts = ScriptDirectory.from_config(_config())
    head = scripts.get_current_head()
    with book.reading() as connection:
        found = _revision(connection, book, scripts, create=create)
    if found == (head if to == "head" else to):
        return
    with book.writing() as connection:
        if not book.is_file:
            connection.execute(text("SELECT pg_advisory_xact_lock(:key)"), {"key": _ADVISORY})
        # Another process may have done it between the two looks.
        found = _revision(connection, book, scripts, create=create)
        if found is not None and found != head and book.is_file:
            _copy_first(book, found)
        config = _config()
        config.attributes["connection"] = connection
        command.upgrade(config, to)


def look_at(book: Book, *, create: bool) -> None:
    """Look whether a database is a book, or may become one; nothing of it is changed.

    Args:
        book: The book, only to be looked at.
        create: Whether an empty one will do.

    Raises:
        BookError: as of `bring_up`.
    """
    with book.reading() as connection:
        _revision(connection, book, ScriptDirectory.from_config(_config()), create=create)


def known_revisions() -> tuple[str, ...]:
    """Return the names of the form's revisions.

    Returns:
        The names, the oldest first.
    """
    scripts = ScriptDirectory.from_config(_config())
    return tuple(script.revision for script in scripts.walk_revisions())[::-1]


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


def _revision(
    connection: Connection, book: Book, scripts: ScriptDirectory, *, create: bool
) -> str | None:
    try:
        found = revision_of(connection)
    except CommandError:
        # Two of them: whatever it was, it is not whole.
        raise BookError("book-damaged", place=book.place, reason="alembic_version") from None
    if found is None and inspect(connection).get_table_names():
        raise BookError("book-foreign", place=book.place)
    if found is None and not create:
        raise BookError("book-missing", path=book.place)
    known = {script.revision for script in scripts.walk_revisions()}
    if found is not None and found not in known:
        raise BookError("book-newer", place=book.place, revision=found)
    return found


def _copy_first(book: Book, revision: str) -> Path:
    """Copy a file beside itself before its form changes, whole and while others read it.

    The copy gets its name last: what bears the name is whole.
    """
    path = Path(str(book.url.database))
    aside = path.with_name(f"{path.name}.before-{revision}-changed")
    number = 1
    while aside.exists():
        number += 1
        aside = path.with_name(f"{path.name}.before-{revision}-changed-{number}")
    unfinished = aside.with_name(f"{aside.name}.unfinished")
    try:
        unfinished.unlink(missing_ok=True)
        unfinished.touch(mode=0o600)
        with (
            contextlib.closing(sqlite3.connect(path)) as source,
            contextlib.closing(sqlite3.connect(unfinished)) as copy,
        ):
            source.backup(copy)
        unfinished.replace(aside)
    except (OSError, sqlite3.Error) as error:
        with contextlib.suppress(OSError):
            unfinished.unlink(missing_ok=True)
        raise BookError("book-disk", place=str(aside), reason=str(error)) from None
    return aside
