"""What tests of sending share: a real mail server in a process of its own, and places of a book."""

from __future__ import annotations

import signal
from typing import TYPE_CHECKING

import pytest
from book.book_servers import running
from mail_server import MailServer, started
from reminder_samples import url_of

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator
    from pathlib import Path

    from book.book_servers import Server
    from sqlalchemy import URL


@pytest.fixture
def mail_server(tmp_path: Path, needs: Callable[[str], str]) -> Iterator[MailServer]:
    """Give a real mail server."""
    needs("aiosmtpd")
    server = started(tmp_path / "smtp")
    yield server
    server.process.send_signal(signal.SIGKILL)
    server.process.wait()


@pytest.fixture(scope="module")
def server(needs: Callable[[str], str]) -> Iterator[Server]:
    needs("psycopg")
    with running(needs("postgres")) as found:
        yield found


@pytest.fixture(params=["file", "server"])
def url(request: pytest.FixtureRequest, tmp_path: Path) -> Iterator[URL]:
    """Give the place of a book: a file, then a database of a real server."""
    if request.param == "file":
        yield url_of(tmp_path)
        return
    found = request.getfixturevalue("server")
    name = found.new_database()
    yield found.url(name)
    found.drop(name)
