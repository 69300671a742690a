"""Opening a book: settings, transactions, the clock of leases, errors."""

from __future__ import annotations

import contextlib
import importlib
from collections.abc import Callable, Iterator, Sequence
from json import JSONDecodeError
from pathlib import Path
from types import TracebackType
from typing import TYPE_CHECKING, Self

from sqlalchemy import create_engine, event, text
from sqlalchemy.exc import DBAPIError, NoSuchModuleError, StatementError

from curecal.book.connection.book_url import book_url, place_of, secrets_of
from curecal.book.connection.db_errors import book_error
from curecal.book.connection.last_seen import WRITTEN, keep_seen
from curecal.book.connection.sqlite_file import (
    WRITES,
    file_engine,
    is_open,
    prepare_file,
    refuse_no_file,
)
from curecal.errors import BookError, CurecalError, ErrorCode
from curecal.machine import LeaseNow, boot_clock
from curecal.records import PlainTable

if TYPE_CHECKING:
    from sqlalchemy.engine import URL, Connection, Engine, Row

__all__ = ["Book", "LeaseNow", "book_url", "boot_clock", "open_book"]

HEAD = "0013"
"""The form's newest revision: alembic is loaded only where a book is not at it."""
# Far longer than a writer of ours holds the book: who waits longer waits for one that hangs.
BUSY_S = 20.0
_OURS = (
    "SELECT job.generation, outbox.message_id, log_entry.digest, heartbeat.boot_id, meta.value"
    " FROM job, outbox, log_entry, heartbeat, meta LIMIT 0"
)
_UNWRITABLE = frozenset({ErrorCode.BOOK_CANNOT_OPEN, ErrorCode.BOOK_DISK, ErrorCode.BOOK_READ_ONLY})
# PostgreSQL else shows each statement what was written since the one before; a file does not.
_LOOK: PlainTable = {"isolation_level": "REPEATABLE READ", "postgresql_readonly": True}


class Book:
    """An open job book. `writing` and `reading` give one transaction each; close it at the end."""

    def __init__(
        self,
        url: URL,
        *,
        busy_s: float = BUSY_S,
        lease_clock: Callable[[], LeaseNow] = boot_clock,
        looks: bool = False,
    ) -> None:
        self.url = url
        self.is_file = url.get_backend_name() == "sqlite"
        self.looks = looks
        """Whether it can only be looked at: nothing of a file is changed."""
        self.unwritable: BookError | None = None
        """Why a book that was to be written can only be looked at."""
        self._lease_clock = lease_clock
        self.engine = (
            file_engine(url, busy_s, looks=looks) if self.is_file else _server_engine(url, busy_s)
        )

    @property
    def place(self) -> str:
        """Where it stands, for people: never with a password."""
        return place_of(self.url)

    @contextlib.contextmanager
    def writing(self) -> Iterator[Connection]:
        """Give one transaction that may write: kept whole at the end, or not at all.

        On SQLite it takes the right to write at once: a transaction that reads first and finds
        somebody writing later could never go on.
        """
        if self.looks:
            raise BookError("book-read-only", place=self.place)
        with self._translated(), self.engine.connect() as plain:
            connection = plain.execution_options(**{WRITES: True})
            connection.info.pop(WRITTEN, None)
            with connection.begin():
                yield connection
            if made := connection.info.pop(WRITTEN, None):
                keep_seen(made)

    @contextlib.contextmanager
    def reading(self) -> Iterator[Connection]:
        """Give one consistent look at the book, whatever others write meanwhile."""
        how = {} if self.is_file else _LOOK
        with self._translated(), self.engine.connect() as plain:
            connection = plain.execution_options(**how)
            with connection.begin():
                yield connection

    def lease_now(self, connection: Connection) -> LeaseNow:
        """Return the instant of the clock that leases run on.

        Args:
            connection: A connection to the book; a server is asked for its own clock.

        Returns:
            The instant.
        """
        if self.is_file:
            return self._lease_clock()
        asked = connection.execute(text("SELECT extract(epoch FROM clock_timestamp())::float8"))
        return LeaseNow("server", float(asked.scalar_one()))

    def close(self) -> None:
        """Close every connection."""
        self.engine.dispose()

    def __enter__(self) -> Self:
        """Return the book."""
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        """Close it."""
        self.close()

    @contextlib.contextmanager
    def _translated(self) -> Iterator[None]:
        try:
            yield
        except StatementError as error:
            if isinstance(error, DBAPIError):
                raise book_error(error, self.place, hidden=secrets_of(self.url)) from error
            # What a column type of ours refuses comes wrapped.
            if isinstance(error.orig, CurecalError):
                raise error.orig from None
            raise
        except (JSONDecodeError, UnicodeDecodeError) as error:
            # Every text and every JSON in the book was written by us.
            reason = "JSON" if isinstance(error, JSONDecodeError) else "text"
            raise BookError("book-damaged", place=self.place, reason=reason) from None


def open_book(
    url: URL,
    *,
    create: bool = True,
    busy_s: float = BUSY_S,
    lease_clock: Callable[[], LeaseNow] = boot_clock,
) -> Book:
    """Open a book, made new or brought to this program's form where need be.

    What is no book of ours is left as it is to the last octet.

    Args:
        url: Where it stands, from `book_url`.
        create: Whether one that is not there, or an empty file or database, is made one.
        busy_s: How long to wait for another writer [s].
        lease_clock: The clock of leases in a file.

    Returns:
        The open book. Where the file cannot be written, one that can only be read.

    Raises:
        BookError: there is none (`book-missing`), it is something else (`book-foreign`,
            `book-no-file`), it was made by a newer program (`book-newer`), or it cannot be opened.
    """
    if url.get_backend_name() == "sqlite":
        _look_first(url, busy_s, create=create)
    book = Book(url, busy_s=busy_s, lease_clock=lease_clock)
    try:
        if _is_ready(book):
            return book
        importlib.import_module("curecal.book.connection.migrate").bring_up(book, create=create)
    except BookError as error:
        book.close()
        if not book.is_file or error.code not in _UNWRITABLE:
            raise
        return _only_read(url, busy_s, lease_clock, error)
    except BaseException:
        book.close()
        raise
    return book


def _look_first(url: URL, busy_s: float, *, create: bool) -> None:
    """Look whether a file is a book, or may become one, before anything of it is changed."""
    path = Path(str(url.database))
    prepare_file(path, create=create)
    refuse_no_file(path)
    with Book(url, busy_s=busy_s, looks=True) as book:
        try:
            if _is_ready(book):
                return
            importlib.import_module("curecal.book.connection.migrate").look_at(book, create=create)
        except BookError as error:
            # Whoever may write sees more: what a crash left beside it is brought in first.
            begun = error.code == ErrorCode.BOOK_DAMAGED and is_open(path)
            if not begun and error.code not in _UNWRITABLE:
                raise


def _only_read(
    url: URL, busy_s: float, lease_clock: Callable[[], LeaseNow], error: BookError
) -> Book:
    """A book that nobody can write here, on a full disk or a medium that is read only."""
    book = Book(url, busy_s=busy_s, lease_clock=lease_clock, looks=True)
    try:
        if _is_ready(book):
            book.unwritable = error
            return book
    except BookError:
        pass
    book.close()
    raise error


def _is_ready(book: Book) -> bool:
    """Return whether a book is at the newest form."""
    found = _rows(book, "SELECT version_num FROM alembic_version")
    # There is no such table: new, or not ours.
    if found is None or [str(row[0]) for row in found] != [HEAD]:
        return False
    # Another program's migrations may have come to the same number.
    if _rows(book, _OURS) is None:
        raise BookError("book-foreign", place=book.place)
    return True


def _rows(book: Book, asked: str) -> Sequence[Row[tuple[object, ...]]] | None:
    """Return what a database answers; None where it has no such table or column."""
    try:
        with book.reading() as connection:
            return connection.execute(text(asked)).all()
    except BookError as error:
        if error.code != ErrorCode.BOOK_DATABASE:
            raise
        return None


def _server_engine(url: URL, busy_s: float) -> Engine:
    try:
        engine = create_engine(
            url,
            hide_parameters=True,
            pool_pre_ping=True,
            connect_args={"connect_timeout": max(2, round(busy_s))},
        )
    except (ModuleNotFoundError, NoSuchModuleError):
        raise BookError("book-needs-extra", extra="postgresql") from None

    @event.listens_for(engine, "connect")
    def _set_up(connection: object, _record: object) -> None:
        with connection.cursor() as cursor:  # type: ignore[attr-defined]
            cursor.execute(f"SET lock_timeout = {round(busy_s * 1000)}")
        connection.commit()  # type: ignore[attr-defined]

    return engine
