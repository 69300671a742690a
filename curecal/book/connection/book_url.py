"""Where a book stands, as people name it: a file, or a database on a server.

What cannot be used may still hold a password, and so may every part of an address but host, port
and database: nothing else of it is ever shown.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from pathlib import Path

from platformdirs import user_data_path
from sqlalchemy import make_url
from sqlalchemy.engine import URL
from sqlalchemy.exc import ArgumentError

from curecal.errors import BookError

FILE_NAME = "book.sqlite3"
SERVER = "postgresql"
_SHOWN = 20
_SCHEME = re.compile(r"[A-Za-z][A-Za-z0-9+.-]*")
# A slash too few, or the words that a server's own programs take: as a file it would hold the
# password in its name.
_NO_FILE = re.compile(
    r"(postgres|pgsql|psql|sqlite|mysql|maria|oracle|mssql|jdbc|https?|file)[a-z0-9+]*:"
    r"|[^/\s]+:[^/]*@"
    r"|(host|hostaddr|port|user|dbname|service)\s*=|.*\b(password|passfile)\s*=",
    re.IGNORECASE | re.DOTALL,
)
_NAME = re.compile(r"[\w.$ -]+")
_HOST = re.compile(r"[\w.:-]*")
# Of these the values are no secret.
_PLAIN = frozenset(
    {"host", "hostaddr", "port", "user", "dbname", "sslmode", "connect_timeout", "application_name"}
)


def book_url(named: str | None = None, environment: Mapping[str, str] | None = None) -> URL:
    """Return where the book stands.

    Args:
        named: A path or a database URL that somebody named.
        environment: The environment; its `CURECAL_BOOK` counts where nothing is named.

    Returns:
        The URL: of a file, of a PostgreSQL database, or of the file in the user's data folder.

    Raises:
        BookError: it is no URL, or of a database that is neither (`book-url`), where its
            password ends cannot be told (`book-url-at`), or nothing is named and the user has
            no home (`book-no-home`).
    """
    place = (named or (environment or {}).get("CURECAL_BOOK") or "").strip()
    if not place:
        return _file(_data_folder() / FILE_NAME)
    scheme, separator, rest = place.partition("://")
    if not separator:
        return _file_named(place)
    if not _SCHEME.fullmatch(scheme):
        raise BookError("book-url", place="…")
    refused = BookError("book-url", place=f"{scheme[:_SHOWN]}://…")
    scheme = scheme.lower()
    if scheme == "sqlite":
        return _file_at(rest, refused)
    if scheme.partition("+")[0] not in {SERVER, "postgres"}:
        raise refused
    if rest.count("@") > 1:
        raise BookError("book-url-at", place=str(refused.params["place"]))
    try:
        url = make_url(f"{SERVER}+psycopg://{rest}")
    except (ArgumentError, ValueError):
        raise refused from None
    if not _NAME.fullmatch(url.database or "") or not _HOST.fullmatch(url.host or ""):
        raise refused
    if not all(isinstance(value, str) for value in url.query.values()):
        raise refused
    return url


def place_of(url: URL) -> str:
    """Return where a book stands, for people: of a server only host, port and database.

    Args:
        url: The URL.

    Returns:
        The file's path, or the address without user, password and settings.
    """
    if url.get_backend_name() == "sqlite":
        return str(url.database)
    bare = URL.create(SERVER, host=url.host, port=url.port, database=url.database)
    return bare.render_as_string()


def secrets_of(url: URL) -> frozenset[str]:
    """Return what of a URL must not be shown, wherever a database repeats it.

    Args:
        url: The URL.

    Returns:
        Its password, and the values of all settings that might be one.
    """
    settings = {str(value) for name, value in url.query.items() if name not in _PLAIN}
    return frozenset({str(url.password or ""), *settings} - {""})


def _data_folder() -> Path:
    try:
        return user_data_path("curecal", appauthor=False)
    except RuntimeError:
        # In a container a user may have neither a name nor a home.
        raise BookError("book-no-home") from None


def _file(path: Path) -> URL:
    return URL.create("sqlite", database=str(path.absolute()))


def _file_named(place: str) -> URL:
    if _NO_FILE.match(place):
        raise BookError("book-url", place="…")
    try:
        return _file(Path(place).expanduser())
    except RuntimeError:
        # The home of somebody whom nobody knows.
        raise BookError("book-url", place=place[:_SHOWN]) from None


def _file_at(rest: str, refused: BookError) -> URL:
    """The file of `sqlite:///path`: a host, and what is only in memory, are no place."""
    host, slash, path = rest.partition("?")[0].partition("/")
    if host or not slash or path in {"", ":memory:"}:
        raise refused
    return _file(Path(path))
