"""A book that is older than what this machine last wrote: a copy put back in its place."""

from __future__ import annotations

import shutil
import sqlite3
from contextlib import closing
from datetime import timedelta
from types import SimpleNamespace
from typing import TYPE_CHECKING

import pytest
from reminder_samples import Clock, Post, evening, job_text, url_of

from curecal.book.meta import hold_of
from curecal.cli.main import code_of_run
from curecal.reminders.sending.send_holds import resume

if TYPE_CHECKING:
    from pathlib import Path

pytestmark = pytest.mark.slow


@pytest.fixture
def clock() -> Clock:
    return Clock(evening())


def started(folder: Path, clock: Clock, name: str = "desk") -> Post:
    post = Post(url_of(folder), clock, name=name)
    post.cycle.start()
    return post


def copied(folder: Path) -> Path:
    """Copy a book that nobody has open."""
    copy = folder / "copy.sqlite3"
    with closing(sqlite3.connect(folder / "book.sqlite3")) as book:
        book.execute("PRAGMA wal_checkpoint(TRUNCATE)")
    shutil.copy(folder / "book.sqlite3", copy)
    return copy


def put_back(copy: Path, folder: Path) -> None:
    for ending in ("-wal", "-shm"):
        (folder / f"book.sqlite3{ending}").unlink(missing_ok=True)
    shutil.copy(copy, folder / "book.sqlite3")


def switched_on(clock: Clock) -> dict[str, object]:
    return {"id": "on", "at": clock.at, "kind": "energized", "zone": "hall", "by": "Sam"}


def test_nothing_goes_out_of_a_copy_until_a_person_says_so(tmp_path: Path, clock: Clock) -> None:
    post = started(tmp_path, clock)
    post.add(job_text(), tmp_path)
    post.close()
    copy = copied(tmp_path)
    post = started(tmp_path, clock)
    sent = post.cycle.run().taken
    assert sent
    post.close()
    put_back(copy, tmp_path)
    clock.go(timedelta(minutes=5))
    again = started(tmp_path, clock, "again")
    assert again.cycle.run().held == "older-copy"
    assert again.mail.sent == []
    clock.go(timedelta(minutes=5))
    assert again.cycle.run().held == "older-copy"
    # A person has looked: what the copy knows of is sent.
    resume(again.book, now=clock.at, clock=clock.boot())
    assert again.cycle.run().taken == sent
    clock.go(timedelta(minutes=5))
    assert again.cycle.run().held == ""
    again.close()


def test_a_copy_without_the_last_entry_is_noticed_however_much_is_written_into_it(
    tmp_path: Path, clock: Clock
) -> None:
    post = started(tmp_path, clock)
    post.add(job_text(), tmp_path)
    post.cycle.run()
    post.close()
    copy = copied(tmp_path)
    # Nobody sends; somebody logs a thing, and the copy is put back.
    post = Post(url_of(tmp_path), clock)
    post.note(switched_on(clock))
    post.close()
    put_back(copy, tmp_path)
    post = Post(url_of(tmp_path), clock)
    for number in range(5):
        reading = {"id": f"r{number}", "kind": "air", "zone": "hall", "by": "Robin", "air": "20 °C"}
        post.note({**reading, "at": clock.at})
        clock.go(timedelta(minutes=1))
    post.close()
    post = started(tmp_path, clock)
    assert post.cycle.run().held == "older-copy"
    post.close()


def test_a_copy_laid_over_the_open_file_is_noticed(tmp_path: Path, clock: Clock) -> None:
    post = started(tmp_path, clock)
    post.add(job_text(), tmp_path)
    post.cycle.run()
    post.close()
    copy = copied(tmp_path)
    post = started(tmp_path, clock, "again")
    clock.go(timedelta(minutes=5))
    post.cycle.run()
    with (
        closing(sqlite3.connect(copy)) as source,
        closing(sqlite3.connect(tmp_path / "book.sqlite3")) as target,
    ):
        # The same file, other content.
        source.backup(target)
    clock.go(timedelta(minutes=5))
    assert post.cycle.run().held == "older-copy"
    post.close()


def test_a_book_that_goes_on_is_no_copy(
    tmp_path: Path, clock: Clock, monkeypatch: pytest.MonkeyPatch
) -> None:
    post = started(tmp_path, clock)
    post.add(job_text(), tmp_path)
    for number in range(4):
        post.close()
        # Written on another machine meanwhile, or where nothing can be kept of it.
        monkeypatch.setenv("XDG_STATE_HOME", str(tmp_path / f"state-{number % 2}"))
        post = started(tmp_path, clock, f"desk-{number}")
        assert post.cycle.run().held == ""
        post.note({**switched_on(clock), "id": f"on-{number}"})
        clock.go(timedelta(minutes=5))
    post.close()
    (tmp_path / "no-folder").write_text("")
    monkeypatch.setenv("XDG_STATE_HOME", str(tmp_path / "no-folder"))
    post = started(tmp_path, clock, "last")
    assert post.cycle.run().held == ""
    with post.book.reading() as connection:
        assert hold_of(connection) is None
    post.close()


@pytest.mark.parametrize("can_keep", [True, False])
@pytest.mark.parametrize("command", ["remind send", "remind run", "serve --port=0"])
def test_whoever_sends_hears_that_a_copy_put_back_would_go_unnoticed(
    tmp_path: Path,
    clock: Clock,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
    command: str,
    *,
    can_keep: bool,
) -> None:
    started(tmp_path, clock).close()
    (tmp_path / "no-folder").write_text("")
    state = tmp_path / ("state" if can_keep else "no-folder")
    monkeypatch.setenv("XDG_STATE_HOME", str(state))
    # What comes after the start is not of interest.
    monkeypatch.setattr("curecal.reminders.sending.daemon.Daemon.run", lambda _: 0)
    monkeypatch.setattr("curecal.reminders.sending.daemon.Daemon.catch_signals", lambda _: None)
    monkeypatch.setattr("curecal.cli.serve.serve._page_server", lambda *_: SimpleNamespace(port=1))
    monkeypatch.setattr("curecal.cli.serve.running.run_both", lambda *_, **__: 0)
    book = ["--book", str(tmp_path / "book.sqlite3"), "--instead", f"file:{tmp_path / 'mails'}"]
    assert code_of_run([*command.split(), *book]) == 0
    said = " ".join(capsys.readouterr().err.split())
    assert ("if an older copy of the job book is put back" in said, str(state) in said) == (
        not can_keep,
        not can_keep,
    )
    # What it wrote to see whether it can does not stay.
    assert not list(state.glob("curecal/books/check*"))
