"""Books for the tests: the same in a file and on a real server."""

from __future__ import annotations

import shutil
from typing import TYPE_CHECKING

import pytest
from book_servers import Server, running

from curecal.book.connection.open_book import Book, book_url, open_book

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator
    from pathlib import Path

    from sqlalchemy import URL

_TEMPLATE = "migrated"


@pytest.fixture(scope="session")
def server(needs: Callable[[str], str]) -> Iterator[Server]:
    needs("psycopg")
    with running(needs("postgres")) as found:
        with found.admin() as connection:
            connection.execute(f"CREATE DATABASE {_TEMPLATE}")
        open_book(found.url(_TEMPLATE)).close()
        yield found


@pytest.fixture(params=["file", "server"])
def bare_url(request: pytest.FixtureRequest, tmp_path: Path) -> Iterator[URL]:
    """Where a book is to stand, with nothing there."""
    if request.param == "file":
        yield book_url(str(tmp_path / "new" / "book.sqlite3"))
        return
    server = request.getfixturevalue("server")
    name = server.new_database()
    yield server.url(name)
    server.drop(name)


@pytest.fixture(scope="session")
def new_file(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Give a book that nobody wrote in, brought to the newest form once for all that are copied."""
    path = tmp_path_factory.mktemp("new") / "book.sqlite3"
    open_book(book_url(str(path))).close()
    return path


@pytest.fixture(params=["file", "server"])
def url(request: pytest.FixtureRequest, tmp_path: Path) -> Iterator[URL]:
    """Where a book stands, brought to the newest form the way a person's is."""
    if request.param == "file":
        file = shutil.copy(request.getfixturevalue("new_file"), tmp_path / "book.sqlite3")
        yield book_url(str(file))
        return
    server = request.getfixturevalue("server")
    name = server.new_database(_TEMPLATE)
    yield server.url(name)
    server.drop(name)


@pytest.fixture
def book(url: URL) -> Iterator[Book]:
    with open_book(url, busy_s=10) as opened:
        yield opened
