"""Two who change one job at the same time: neither takes back what the other did."""

from __future__ import annotations

from concurrent.futures import Future, ThreadPoolExecutor, wait
from dataclasses import replace
from typing import TYPE_CHECKING, Any

import pytest
from book_samples import NOW
from job_samples import AS_OF, JOB_FILE, JOB_ID, folder_of

from curecal.book.connection.open_book import Book, open_book
from curecal.book.jobs import import_job
from curecal.book.jobs.import_job import add_job, append_entries, revise_files
from curecal.book.jobs.jobs import read_job_of_book, revisions_of, sources_of
from curecal.book.jobs.log_entries import entries_of
from curecal.book.ledger import ledger
from curecal.book.ledger.ledger import BookLedger, history_of
from curecal.book.link_purpose import LinkPurpose
from curecal.book.links.links import WantedLink, create_link
from curecal.calendars import Mailed
from curecal.reminders.messages import feed_ledger
from curecal.reminders.messages.feed_ledger import FeedLedger
from curecal.reminders.messages.published_now import publish_now
from curecal.reminders.messages.send_context import SendContext

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

    from sqlalchemy import URL, Connection

    from curecal.book.jobs.job_sources import Sources
    from curecal.book.jobs.jobs import JobRevision
    from curecal.calendars import History

HEARD = {"id": "n-1", "kind": "note", "at": NOW, "recorded": NOW, "note": "heard meanwhile"}


def noted(book: Book) -> None:
    append_entries(book, JOB_ID, [HEARD], source="test", now=NOW)


def commented(book: Book) -> None:
    def edit(sources: Sources) -> Sources:
        return replace(sources, job=sources.job + b"# edited\n")

    revise_files(book, JOB_ID, edit, now=NOW)


@pytest.mark.parametrize(("change", "revision_count"), [(noted, 2), (commented, 3)])
def test_files_that_came_in_meanwhile_stay_the_newest(
    book: Book,
    url: URL,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    change: Callable[[Book], None],
    revision_count: int,
) -> None:
    path = folder_of(tmp_path)
    add_job(book, path, now=NOW)
    path.write_text(JOB_FILE.replace("upstairs", "attic"), encoding="utf-8")
    others = ThreadPoolExecutor(1)
    looks: list[int] = []

    def add_meanwhile() -> None:
        with open_book(url, busy_s=10) as other:
            add_job(other, path, now=NOW)

    def looked(connection: Connection, job_id: str, revision: JobRevision) -> Sources:
        found = sources_of(connection, job_id, revision)
        looks.append(revision.number)
        if len(looks) == 1:
            added.append(others.submit(add_meanwhile))
            # Somebody else has all the time it takes, if nothing keeps them waiting.
            wait(added, timeout=1.0)
        return found

    added: list[Future[None]] = []
    monkeypatch.setattr(import_job, "sources_of", looked)
    change(book)
    assert [one.result(60) for one in added] == [None]
    others.shutdown()
    read = read_job_of_book(book, JOB_ID)
    assert read.job is not None
    assert "attic" in read.job.name
    with book.reading() as connection:
        assert len(revisions_of(connection, JOB_ID)) == revision_count
        noted_ids = {entry.entry_id for entry in entries_of(connection, JOB_ID)}
    assert ("n-1" in noted_ids) is (change is noted)


def test_a_feed_shows_what_came_in_while_it_was_made(
    book: Book, url: URL, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    add_job(book, folder_of(tmp_path), now=AS_OF)
    wanted = WantedLink(job_id=JOB_ID, purpose=LinkPurpose.FEED, person="Robin Example")
    with book.writing() as connection:
        create_link(connection, wanted, now=AS_OF)
    others = ThreadPoolExecutor(1)
    noting: list[Future[None]] = []

    def note_meanwhile() -> None:
        with open_book(url, busy_s=10) as other:
            noted(other)

    def published(*how: Any, **more: Any) -> Any:
        if not noting:
            noting.append(others.submit(note_meanwhile))
            # Somebody else has all the time it takes, if nothing keeps them waiting.
            wait(noting, timeout=1.0)
        return publish_now(*how, **more)

    monkeypatch.setattr(feed_ledger, "publish_now", published)
    feeds = FeedLedger(book, SendContext(), now=lambda: AS_OF)
    assert feeds.bring_up() == {}
    assert [one.result(60) for one in noting] == [None]
    others.shutdown()
    assert feeds.bring_up() == {}
    assert "n-1" in BookLedger(book).history(JOB_ID).rests_on


def test_mails_that_left_are_kept_whoever_keeps_the_same(
    book: Book, url: URL, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    add_job(book, folder_of(tmp_path), now=AS_OF)
    first, second = (Mailed(name, 0, "a@b.example", "c@d.example") for name in ("u-1", "u-2"))
    others = ThreadPoolExecutor(1)
    keeping: list[Future[None]] = []

    def keep_meanwhile() -> None:
        with open_book(url, busy_s=10) as other:
            BookLedger(other).add_mailed(JOB_ID, [first])

    def looked(connection: Connection, job_id: str) -> History:
        found = history_of(connection, job_id)
        if not keeping:
            keeping.append(Future())
            keeping[0] = others.submit(keep_meanwhile)
            # Somebody else has all the time it takes, if nothing keeps them waiting.
            wait(keeping, timeout=1.0)
        return found

    monkeypatch.setattr(ledger, "history_of", looked)
    BookLedger(book).add_mailed(JOB_ID, [first, second])
    assert [one.result(60) for one in keeping] == [None]
    others.shutdown()
    assert BookLedger(book).history(JOB_ID).mailed == {first, second}
