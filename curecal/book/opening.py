"""Where a book stands, and opening it: settings, transactions, the clock of leases, errors."""

from __future__ import annotations

import contextlib
import importlib
import os
import time
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from json import JSONDecodeError
from pathlib import Path
from types import TracebackType
from typing import Any, Self

from platformdirs import user_data_path
from sqlalchemy import create_engine, event, make_url, text
from sqlalchemy.engine import URL, Connection, Engine
from sqlalchemy.exc import ArgumentError, DBAPIError, NoSuchModuleError, StatementError

from curecal.book.faults import book_error
from curecal.errors import BookError, CurecalError
from curecal.records import Record

FILE_NAME = "book.sqlite3"
HEAD = "0002"
"""The form's newest revision: alembic is loaded only where a book is not at it."""
BUSY_S = 20.0
_SHOWN = 20
_WRITES = "curecal_writes"
_LOOK: dict[str, Any] = {"isolation_level": "REPEATABLE READ", "postgresql_readonly": True}
_BOOT_ID = Path("/proc/sys/kernel/random/boot_id")


@dataclass(frozen=True, slots=True, eq=False, repr=False)
class LeaseNow(Record):
    """An instant of the clock that leases run on, and which clock that is."""

    boot_id: str
    now_s: float


def boot_clock() -> LeaseNow:
    """Return the time since this machine started, asleep or not, and which start it was.

    Returns:
        The instant; a wall clock that is put back or forward does not move it.
    """
    try:
        boot_id = _BOOT_ID.read_text(encoding="ascii").strip()
        return LeaseNow(boot_id, time.clock_gettime(time.CLOCK_BOOTTIME))
    except (OSError, AttributeError):
        # Elsewhere the monotonic clock restarts with the machine as well.
        return LeaseNow("monotonic", time.monotonic())


def book_url(named: str | None = None, environment: Mapping[str, str] | None = None) -> URL:
    """Return where the book stands.

    Args:
        named: A path or a database URL that somebody named.
        environment: The environment; its `CURECAL_BOOK` counts where nothing is named.

    Returns:
        The URL: of a file, of a PostgreSQL database, or of the file in the user's data folder.

    Raises:
        BookError: it is no URL, or of a database that is neither (`book-url`).
    """
    place = (named or (environment or {}).get("CURECAL_BOOK") or "").strip()
    if not place:
        return _file(user_data_path("curecal", appauthor=False) / FILE_NAME)
    if "://" not in place:
        return _file(Path(place).expanduser())
    # What cannot be used may still hold a password: of it only the beginning is shown.
    refused = BookError("book-url", place=f"{place.partition('://')[0][:_SHOWN]}://…")
    try:
        url = make_url(place)
    except (ArgumentError, ValueError):
        raise refused from None
    name = url.get_backend_name()
    if name == "sqlite" and url.database and url.database != ":memory:":
        return _file(Path(url.database))
    if name in {"postgresql", "postgres"} and url.database:
        return url.set(drivername="postgresql+psycopg")
    raise refused


def _file(path: Path) -> URL:
    return URL.create("sqlite", database=str(path.absolute()))


class Book:
    """An open job book. `writing` and `reading` give one transaction each; close it at the end."""

    def __init__(
        self, url: URL, *, busy_s: float = BUSY_S, lease_clock: Callable[[], LeaseNow] = boot_clock
    ) -> None:
        self.url = url
        self.is_file = url.get_backend_name() == "sqlite"
        self._lease_clock = lease_clock
        self.engine = _file_engine(url, busy_s) if self.is_file else _server_engine(url, busy_s)

    @property
    def place(self) -> str:
        """Where it stands, for people: never with a password."""
        if self.is_file:
            return str(self.url.database)
        return self.url.render_as_string(hide_password=True)

    @contextlib.contextmanager
    def writing(self) -> Iterator[Connection]:
        """Give one transaction that may write: kept whole at the end, or not at all.

        On SQLite it takes the right to write at once: a transaction that reads first and finds
        somebody writing later could never go on.
        """
        with self._translated(), self.engine.connect() as plain:
            connection = plain.execution_options(**{_WRITES: True})
            with connection.begin():
                yield connection

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
                raise book_error(error, self.place) from error
            # What a column type of ours refuses comes wrapped.
            if isinstance(error.orig, CurecalError):
                raise error.orig from None
            raise
        except JSONDecodeError:
            # Every JSON in the book was written by us.
            raise BookError("book-damaged", place=self.place, reason="JSON") from None


def open_book(
    url: URL,
    *,
    create: bool = True,
    busy_s: float = BUSY_S,
    lease_clock: Callable[[], LeaseNow] = boot_clock,
) -> Book:
    """Open a book, made new or brought to this program's form where need be.

    Args:
        url: Where it stands, from `book_url`.
        create: Whether a file that is not there is made.
        busy_s: How long to wait for another writer [s].
        lease_clock: The clock of leases in a file.

    Returns:
        The open book.

    Raises:
        BookError: there is none (`book-missing`), it was made by a newer program (`book-newer`),
            or it cannot be opened.
    """
    if url.get_backend_name() == "sqlite":
        _prepare_file(Path(str(url.database)), create=create)
    book = Book(url, busy_s=busy_s, lease_clock=lease_clock)
    try:
        if not _at_head(book):
            importlib.import_module("curecal.book.migrating").bring_up(book)
    except BaseException:
        book.close()
        raise
    return book


def _at_head(book: Book) -> bool:
    try:
        with book.reading() as connection:
            found = connection.execute(text("SELECT version_num FROM alembic_version")).scalars()
            return list(found) == [HEAD]
    except BookError as error:
        # There is no such table: new, or not ours.
        if error.code != "book-database":
            raise
        return False


def _prepare_file(path: Path, *, create: bool) -> None:
    """Make an empty file for its owner alone: a book holds names, telephones and addresses."""
    if path.exists():
        return
    if not create:
        raise BookError("book-missing", path=str(path))
    try:
        path.parent.mkdir(parents=True, exist_ok=True, mode=0o700)
        os.close(os.open(path, os.O_CREAT | os.O_RDWR, 0o600))
    except OSError as error:
        reason = error.strerror or type(error).__name__
        raise BookError("book-cannot-open", place=str(path), reason=reason) from None


def _file_engine(url: URL, busy_s: float) -> Engine:
    # What stands in the book is nobody's business in a log of errors.
    engine = create_engine(url, hide_parameters=True, connect_args={"timeout": busy_s})

    @event.listens_for(engine, "connect")
    def _set_up(connection: object, _record: object) -> None:
        # The driver's own idea of when a transaction begins would begin them too late.
        connection.isolation_level = None  # type: ignore[attr-defined]
        cursor = connection.cursor()  # type: ignore[attr-defined]
        try:
            cursor.execute(f"PRAGMA busy_timeout = {round(busy_s * 1000)}")
            cursor.execute("PRAGMA journal_mode = WAL")
            # With WAL a lesser setting may lose the last transactions when the power goes.
            cursor.execute("PRAGMA synchronous = FULL")
            cursor.execute("PRAGMA foreign_keys = ON")
        finally:
            cursor.close()

    @event.listens_for(engine, "begin")
    def _begin(connection: Connection) -> None:
        writes = connection.get_execution_options().get(_WRITES, False)
        connection.exec_driver_sql("BEGIN IMMEDIATE" if writes else "BEGIN")

    return engine


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
