"""The book is away while the process runs: for a minute, or for good because another lies there."""

from __future__ import annotations

import contextlib
import shutil
import sqlite3
import subprocess
import sys
import threading
import time
from collections.abc import Iterator
from contextlib import AbstractContextManager
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import TYPE_CHECKING

import pytest
from book.book_servers import running
from mail_server import wait_for
from reminder_samples import Clock, Post, job_text, put_rows, url_of

from curecal.book.connection.open_book import Book, open_book
from curecal.book.message_states import MessageState
from curecal.cli.remind.start import started
from curecal.delivery.channels import Answer, Outcome
from curecal.errors import BookError
from curecal.reminders.sending.daemon import REPLACED_EXIT, Daemon
from curecal.reminders.sending.scheduler_cycle import SchedulerCycle
from curecal.words.sentences import plain_words

if TYPE_CHECKING:
    from collections.abc import Callable

    from sqlalchemy import URL

AWAY_S = 60.0
Away = AbstractContextManager[None]


class Gated:
    """A wire that gives its first answer only when it is let."""

    def __init__(self) -> None:
        self.gate, self.reached = threading.Event(), threading.Event()
        self.lock = threading.Lock()
        self.sent: list[bytes] = []

    def send(self, address: str, data: bytes, *, deadline_s: float) -> Answer:
        del address, deadline_s
        with self.lock:
            self.sent.append(data)
        self.reached.set()
        self.gate.wait(300)
        return Answer(Outcome.TAKEN)


@contextlib.contextmanager
def locked(path: Path) -> Iterator[None]:
    """Let another process's transaction stand over a file."""
    text = (
        "import sqlite3, sys; c = sqlite3.connect(sys.argv[1], isolation_level=None);"
        "c.execute('BEGIN IMMEDIATE'); print('mine', flush=True); sys.stdin.read()"
    )
    holder = subprocess.Popen(
        [sys.executable, "-c", text, str(path)], stdin=subprocess.PIPE, stdout=subprocess.PIPE
    )
    assert holder.stdout is not None
    assert holder.stdout.readline() == b"mine\n"
    try:
        yield
    finally:
        holder.communicate(timeout=120)


def away_for_a_minute(url: URL, away: Callable[[], Away], folder: Path) -> None:
    """Take the book from a running process in the middle of its work, and give it back."""
    clock = Clock(datetime.now(UTC))
    wire = Gated()
    post = Post(url, clock, wires={"email": wire}, busy_s=2.0)
    post.add(job_text(people=""), folder)
    post.cycle.now = post.sender.now = lambda: datetime.now(UTC)
    put_rows(post.book, 30, datetime.now(UTC) - timedelta(seconds=1))
    said: list[object] = []
    daemon = Daemon(post.cycle, every_s=1.0, said=said.append)
    thread = threading.Thread(target=daemon.run)
    thread.start()
    try:
        assert wire.reached.wait(120)
        with away():
            # What is on the wire comes through while nobody can write it down.
            wire.gate.set()
            wait_for(lambda: [each for each in said if isinstance(each, BookError)], within_s=120.0)
            end_s = time.monotonic() + AWAY_S
            wait_for(lambda: time.monotonic() > end_s, within_s=AWAY_S + 30.0)
        wait_for(
            lambda: {row.state for row in seen(post)} == {MessageState.SENT},
            within_s=240.0,
            what="all messages marked",
        )
    finally:
        wire.gate.set()
        daemon.stop()
        thread.join(120)
    assert len(wire.sent) == len(set(wire.sent)) == 30
    post.close()


def seen(post: Post) -> list[object]:
    """Return the messages; none while the book is away."""
    try:
        return list(post.messages())
    except BookError:
        return []


@pytest.mark.slow
def test_a_file_locked_for_a_minute_loses_nothing_and_doubles_nothing(tmp_path: Path) -> None:
    place = tmp_path / "book.sqlite3"
    away_for_a_minute(url_of(tmp_path), lambda: locked(place), tmp_path)


@pytest.mark.slow
def test_a_server_stopped_and_started_loses_nothing_and_doubles_nothing(
    tmp_path: Path, needs: Callable[[str], str]
) -> None:
    needs("psycopg")
    with running(needs("postgres")) as server:
        url = server.url(server.new_database())
        away_for_a_minute(url, server.stopped, tmp_path)


@pytest.fixture
def post(tmp_path: Path) -> Iterator[Post]:
    found = Post(url_of(tmp_path), Clock(datetime.now(UTC)))
    found.add(job_text(people=""), tmp_path)
    yield found
    found.close()


def test_another_book_in_its_place_ends_the_process_without_a_heartbeat(
    post: Post, tmp_path: Path
) -> None:
    post.cycle.now = lambda: datetime.now(UTC)
    said: list[object] = []
    codes: list[int] = []
    daemon = Daemon(post.cycle, every_s=1.0, said=said.append)
    thread = threading.Thread(target=lambda: codes.append(daemon.run()))
    thread.start()
    wait_for(lambda: said, what="a tick")
    place = tmp_path / "book.sqlite3"
    with contextlib.closing(sqlite3.connect(place)) as source:
        copy = sqlite3.connect(tmp_path / "copy.sqlite3")
        source.backup(copy)
        copy.close()
    for ending in ("", "-wal", "-shm"):
        old = place.with_name(place.name + ending)
        if old.exists():
            old.rename(tmp_path / f"old{ending}")
    shutil.copy(tmp_path / "copy.sqlite3", place)
    thread.join(120)
    assert codes == [REPLACED_EXIT]
    assert isinstance(said[-1], BookError)
    assert said[-1].code == "book-replaced"
    # A message that comes into the book that counts now is not sent by this process.
    with open_book(url_of(tmp_path)) as other:
        put_rows(other, 1, datetime.now(UTC))
    with pytest.raises(BookError):
        post.cycle.run()
    assert post.mail.sent == []


def test_a_start_waits_for_a_book_that_is_locked(
    post: Post, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    post.close()
    tried, found = [], []

    def opened() -> Book:
        tried.append(len(tried))
        return open_book(url_of(tmp_path), busy_s=0.2)

    def cycle_of(book: Book) -> SchedulerCycle:
        # The first sign of life of a process: with the book locked there is none.
        with book.writing():
            return Post(url_of(tmp_path), post.clock, busy_s=0.2).cycle

    def start() -> None:
        found.append(started(opened, cycle_of, plain_words(), every_s=0.05))

    thread = threading.Thread(target=start)
    with locked(tmp_path / "book.sqlite3"):
        thread.start()
        wait_for(lambda: len(tried) >= 3, what="three tries")
        assert found == []
    thread.join(120)
    [(cycle, reason)] = found
    assert reason == ""
    assert "Another program has been writing" in capsys.readouterr().err
    cycle.sender.close()
    cycle.book.close()


# No file grows, as on a disk that is full; before the third try somebody makes room.
FULL = """
import resource, signal, sys, types
signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
sys.dont_write_bytecode = True
from curecal.book.connection import migrate
from curecal.book.connection.open_book import book_url, open_book
from curecal.cli.remind.start import started
from curecal.words.sentences import plain_words
unlimited = (resource.RLIM_INFINITY, resource.RLIM_INFINITY)
resource.setrlimit(resource.RLIMIT_FSIZE, (0, resource.RLIM_INFINITY))
tries = []
def opened():
    tries.append(len(tries))
    if len(tries) == 3:
        resource.setrlimit(resource.RLIMIT_FSIZE, unlimited)
    return open_book(url, create=False)
def cycle_of(book):
    def start():
        with book.writing():
            return "written"
    return types.SimpleNamespace(start=start)
url = book_url(sys.argv[1])
print(started(opened, cycle_of, plain_words(), every_s=0.1)[1])
"""


def test_a_start_waits_for_room_on_a_full_disk(tmp_path: Path) -> None:
    open_book(url_of(tmp_path)).close()
    ended = subprocess.run(
        [sys.executable, "-c", FULL, str(tmp_path / "book.sqlite3")],
        capture_output=True,
        text=True,
        check=False,
        timeout=300,
    )
    assert ended.stdout.strip() == "written", ended.stderr
    # It was refused twice before, and said why.
    assert ended.stderr.count("\n") >= 2
    assert "Traceback" not in ended.stderr


def test_a_start_does_not_wait_for_what_only_a_person_can_mend(tmp_path: Path) -> None:
    def opened() -> Book:
        return open_book(url_of(tmp_path), create=False)

    with pytest.raises(BookError) as refused:
        started(opened, lambda _: pytest.fail("no book"), plain_words(), every_s=0.05)
    assert refused.value.code == "book-missing"
