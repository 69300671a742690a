"""What goes wrong around a book: others writing, a full disk, a process killed, a server gone."""

from __future__ import annotations

import contextlib
import json
import os
import subprocess
import sys
import threading
from pathlib import Path
from typing import TYPE_CHECKING

import pytest
from book_samples import JOB, filled, message, put_job
from sqlalchemy import select, text

from curecal.book.connection.open_book import Book, open_book
from curecal.book.export_restore.check_book import check_book
from curecal.book.jobs.jobs import grow
from curecal.book.jobs.log_entries import entries_of
from curecal.book.outbox.outbox import messages_of
from curecal.book.schema.tables import content, job
from curecal.errors import BookError

if TYPE_CHECKING:
    from collections.abc import Iterator

    from sqlalchemy import URL

pytestmark = pytest.mark.slow

WORKER = Path(__file__).with_name("book_worker.py")
DEADLINE_S = 120


@contextlib.contextmanager
def worker(url: URL, doing: str, *words: str) -> Iterator[subprocess.Popen[str]]:
    """A process of its own with the book open."""
    tests = WORKER.parents[1]
    environment = {**os.environ, "PYTHONPATH": f"{tests}{os.pathsep}{tests.parent}"}
    place = url.render_as_string(hide_password=False)
    process = subprocess.Popen(
        [sys.executable, str(WORKER), doing, place, *words],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        text=True,
        env=environment,
    )
    try:
        assert process.stdout is not None
        assert json.loads(process.stdout.readline()) == "ready"
        yield process
    finally:
        process.kill()
        process.communicate()


def go(*processes: subprocess.Popen[str]) -> None:
    """Let processes begin, all at the same time."""
    for process in processes:
        assert process.stdin is not None
        process.stdin.write("go\n")
        process.stdin.flush()


def ended(process: subprocess.Popen[str]) -> list[object]:
    """What a process said by its end, which has to be a good one."""
    said, _ = process.communicate(timeout=DEADLINE_S)
    assert process.returncode == 0
    return [json.loads(line) for line in said.splitlines()]


def one_writes(book: Book, release: threading.Event, begun: threading.Event) -> None:
    with book.writing() as connection:
        grow(connection, JOB)
        begun.set()
        release.wait(DEADLINE_S)


@contextlib.contextmanager
def somebody_writing(url: URL) -> Iterator[threading.Event]:
    """Somebody else in the middle of a transaction, until the event is set."""
    release, begun = threading.Event(), threading.Event()
    with open_book(url) as other:
        thread = threading.Thread(target=one_writes, args=(other, release, begun))
        thread.start()
        assert begun.wait(DEADLINE_S)
        try:
            yield release
        finally:
            release.set()
            thread.join(DEADLINE_S)


def test_a_writer_waits_for_another_and_then_goes_on(url: URL) -> None:
    with open_book(url, busy_s=60) as book:
        with book.writing() as connection:
            put_job(connection)

        def write() -> None:
            with book.writing() as connection:
                grow(connection, JOB)

        with somebody_writing(url) as release:
            mine = threading.Thread(target=write)
            mine.start()
            mine.join(2)
            assert mine.is_alive()
            release.set()
            mine.join(DEADLINE_S)
            assert not mine.is_alive()
        with book.reading() as connection:
            assert connection.execute(select(job.c.generation)).scalar_one() == 2


def test_a_writer_gives_up_in_the_end_and_says_so(url: URL) -> None:
    with open_book(url, busy_s=0.3) as book:
        with book.writing() as connection:
            put_job(connection)
        with somebody_writing(url):
            with pytest.raises(BookError) as busy, book.writing() as connection:
                grow(connection, JOB)
            assert busy.value.code == "book-busy"
            # Looking is never in anybody's way.
            with book.reading() as connection:
                assert connection.execute(select(job.c.generation)).scalar_one() == 0
        with book.writing() as connection:
            assert grow(connection, JOB) == 2


@pytest.mark.parametrize("url", ["file"], indirect=True)
def test_a_full_disk_keeps_what_was_kept(url: URL) -> None:
    with worker(url, "fill", str(3_000_000)) as process:
        go(process)
        ((code, number),) = ended(process)  # type: ignore[misc]
    assert code == "book-disk"
    assert number > 10
    with open_book(url) as book:
        with book.reading() as connection:
            kept = set(connection.execute(select(job.c.id)).scalars())
            assert len(list(connection.execute(select(content.c.sha256)))) == number
        assert kept == {f"job-{each}" for each in range(number)}
        codes = {fault.code for fault in check_book(book).faults}
        assert codes == {"book-fault-no-revision"}
        with book.writing() as connection:
            put_job(connection, "room again")


def test_a_process_killed_in_a_transaction_leaves_nothing_of_it(url: URL) -> None:
    with worker(url, "half") as process:
        go(process)
        assert process.stdout is not None
        assert json.loads(process.stdout.readline()) == "written"
        process.kill()
        process.wait(DEADLINE_S)
        with open_book(url) as book:
            with book.writing() as connection:
                put_job(connection, "next")
            with book.reading() as connection:
                assert list(connection.execute(select(job.c.id)).scalars()) == ["next"]
                assert list(connection.execute(select(content.c.sha256))) == []


@pytest.mark.parametrize("count", [60, pytest.param(500, marks=pytest.mark.slow)])
def test_two_processes_send_every_message_once_and_in_order(url: URL, count: int) -> None:
    recipients = count // 5
    made = [message(each, recipient=f"r{each % recipients}@example.org") for each in range(count)]
    with open_book(url) as book:
        filled(book, *made)
    with worker(url, "send", "one") as one, worker(url, "send", "two") as two:
        go(one, two)
        sent = [ended(one), ended(two)]
    every = [number for numbers in sent for number in numbers]
    assert len(every) == len(set(every)) == count
    with open_book(url) as book, book.reading() as connection:
        rows = messages_of(connection)
    assert {row.state.value for row in rows} == {"sent"}
    assert {row.claim for row in rows} == {1}
    for recipient in {row.recipient for row in rows}:
        times = [row.sent_at for row in rows if row.recipient == recipient]
        assert times == sorted(times)  # type: ignore[type-var]


def test_two_processes_append_and_nothing_is_lost(url: URL) -> None:
    with open_book(url) as book:
        with book.writing() as connection:
            put_job(connection)
        with worker(url, "append", "one", "100") as one, worker(url, "append", "two", "100") as two:
            go(one, two)
            assert ended(one) == ended(two) == ["done"]
        with book.reading() as connection:
            entries = entries_of(connection, JOB)
    for who in ("one", "two"):
        mine = [each.entry_id for each in entries if each.source == who]
        assert mine == [f"{who}-{number}" for number in range(100)]


def test_two_processes_add_one_job_once(url: URL) -> None:
    example = Path(__file__).parents[2] / "examples" / "bathroom" / "job.toml"
    with worker(url, "add", str(example)) as one, worker(url, "add", str(example)) as two:
        go(one, two)
        said = sorted([*ended(one), *ended(two)], key=str)
    assert said == [[False, False, 0], [True, True, 7]]


@pytest.mark.parametrize("url", ["server"], indirect=True)
def test_a_connection_that_was_cut_is_made_anew(book: Book) -> None:
    cut = text(
        "SELECT pg_terminate_backend(pid) FROM pg_stat_activity "
        "WHERE datname = current_database() AND pid <> pg_backend_pid()"
    )
    with book.writing() as connection:
        put_job(connection)
    with Book(book.url) as other, other.writing() as connection:
        assert connection.execute(cut).scalar_one()
    with book.writing() as connection:
        assert grow(connection, JOB) == 1


@pytest.mark.parametrize("url", ["server"], indirect=True)
def test_a_connection_cut_in_a_transaction_takes_it_back(book: Book) -> None:
    cut = text("SELECT pg_terminate_backend(pid) FROM pg_stat_activity WHERE pid = :pid")

    def doomed() -> None:
        with book.writing() as connection:
            put_job(connection)
            pid = connection.execute(text("SELECT pg_backend_pid()")).scalar_one()
            with Book(book.url) as other, other.writing() as killer:
                killer.execute(cut, {"pid": pid})
            grow(connection, JOB)

    with pytest.raises(BookError) as gone:
        doomed()
    assert gone.value.code == "book-server-away"
    with book.reading() as connection:
        assert list(connection.execute(select(job.c.id))) == []
