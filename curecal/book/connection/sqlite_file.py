"""A book in a file: making it, connecting to it, and looking at one without changing anything."""

from __future__ import annotations

import contextlib
import os
import sqlite3
import time
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING
from urllib.parse import quote

from sqlalchemy import create_engine, event

from curecal.book.connection.db_errors import PRIMARY
from curecal.errors import BookError

if TYPE_CHECKING:
    from sqlalchemy.engine import URL, Connection, Engine

WRITES = "curecal_writes"
"""The option of a connection whose transaction may write."""
_HEADER = 20
# Two octets of the header say that a database keeps its changes in a file beside it.
_WAL = slice(18, 20)
_PAUSE_S = 0.02
_NO_WAL = frozenset(
    {
        sqlite3.SQLITE_READONLY,
        sqlite3.SQLITE_CANTOPEN,
        sqlite3.SQLITE_FULL,
        sqlite3.SQLITE_IOERR,
    }
)


def prepare_file(path: Path, *, create: bool) -> None:
    """Make an empty file for its owner alone: a book holds names, telephones and addresses.

    Args:
        path: The file; one that is there is left alone.
        create: Whether one that is not there is made.

    Raises:
        BookError: there is none (`book-missing`), or it cannot be made (`book-cannot-open`).
    """
    try:
        if path.exists():
            return
        if not create:
            raise BookError("book-missing", path=str(path))
        path.parent.mkdir(parents=True, exist_ok=True, mode=0o700)
        os.close(os.open(path, os.O_CREAT | os.O_RDWR, 0o600))
    except OSError as error:
        reason = error.strerror or type(error).__name__
        raise BookError("book-cannot-open", place=str(path), reason=reason) from None


def refuse_no_file(path: Path) -> None:
    """Refuse what is no ordinary file: a folder, a device.

    Args:
        path: What is there.

    Raises:
        BookError: it is none (`book-no-file`).
    """
    if not path.is_file():
        raise BookError("book-no-file", path=str(path))


def file_engine(url: URL, busy_s: float, *, looks: bool) -> Engine:
    """Return an engine for a file.

    Args:
        url: The file.
        busy_s: How long to wait for another writer [s].
        looks: Whether to change nothing of the file, not even its header.

    Returns:
        The engine; a transaction of it begins as its connection's option says.
    """
    path = Path(str(url.database))
    # What stands in the book is nobody's business in a log of errors.
    engine = (
        create_engine(url, hide_parameters=True, creator=_looking(path, busy_s))
        if looks
        else create_engine(url, hide_parameters=True, connect_args={"timeout": busy_s})
    )

    @event.listens_for(engine, "connect")
    def _set_up(connection: sqlite3.Connection, _record: object) -> None:
        # The driver's own idea of when a transaction begins would begin them too late.
        connection.isolation_level = None
        with contextlib.closing(connection.cursor()) as cursor:
            cursor.execute(f"PRAGMA busy_timeout = {round(busy_s * 1000)}")
            if not looks:
                _keep_beside(cursor, busy_s)
            # With WAL a lesser setting may lose the last transactions when the power goes.
            cursor.execute("PRAGMA synchronous = FULL")
            cursor.execute("PRAGMA foreign_keys = ON")

    @event.listens_for(engine, "begin")
    def _begin(connection: Connection) -> None:
        writes = connection.get_execution_options().get(WRITES, False)
        connection.exec_driver_sql("BEGIN IMMEDIATE" if writes else "BEGIN")

    return engine


def _keep_beside(cursor: sqlite3.Cursor, busy_s: float) -> None:
    """Let changes be kept beside the file, so that nobody who looks is in anybody's way."""
    until_s = time.monotonic() + busy_s
    while True:
        try:
            cursor.execute("PRAGMA journal_mode = WAL")
        except sqlite3.OperationalError as error:
            code = error.sqlite_errorcode & PRIMARY
            # Where nothing can be written, the book can still be read.
            if code in _NO_WAL:
                return
            # While somebody else makes the same file a book, SQLite itself does not wait here.
            if code != sqlite3.SQLITE_BUSY or time.monotonic() >= until_s:
                raise
            time.sleep(_PAUSE_S)
        else:
            return


def _looking(path: Path, busy_s: float) -> Callable[[], sqlite3.Connection]:
    def connect() -> sqlite3.Connection:
        uri = f"file:{quote(str(path))}?mode=ro"
        if _is_at_rest(path):
            # Looked at otherwise, such a file gets two others beside it.
            uri += "&immutable=1"
        return sqlite3.connect(uri, uri=True, timeout=busy_s, check_same_thread=False)

    return connect


def is_open(path: Path) -> bool:
    """Return whether somebody has a file open that keeps its changes beside it.

    Args:
        path: The file.

    Returns:
        Whether there are changes beside it, or somebody was killed who had it open.
    """
    return path.with_name(f"{path.name}-wal").exists()


def _is_at_rest(path: Path) -> bool:
    """Return whether a file that keeps its changes beside it has none there."""
    try:
        if is_open(path) and path.with_name(f"{path.name}-wal").stat().st_size:
            return False
        with path.open("rb") as file:
            return file.read(_HEADER)[_WAL] == b"\2\2"
    except OSError:
        return False
