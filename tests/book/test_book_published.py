"""What was published, in the book: the same rules as in a folder, and one writer at a time."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import pytest
from book_samples import JOB, NOW, put_job
from job_samples import JOB_FILE, JOB_ID, folder_of, planned, publish
from sqlalchemy import update

from curecal.book.connection.open_book import Book, open_book
from curecal.book.jobs.import_job import add_job
from curecal.book.jobs.jobs import grow
from curecal.book.ledger.ledger import (
    BookPublished,
    count_from,
    first_after,
    history_of,
    take_over,
)
from curecal.book.schema.tables import published
from curecal.calendars import Audience, Change, Draft, History, Revision, Stamp, feeds, goes, issue
from curecal.calendars.ical.ical_writer import stamped
from curecal.errors import BookError, StoreMoved
from curecal.job_files import load_rules

if TYPE_CHECKING:
    from pathlib import Path

    from sqlalchemy import URL


def revision(uid: str = "u-1", sequence: int = 0, **how: str) -> Revision:
    lines = (
        "BEGIN:VEVENT",
        f"UID:{uid}",
        "SUMMARY:größer\\, 漢字",
        f"STATUS:{how.get('status', 'CONFIRMED')}",
        "END:VEVENT",
    )
    return stamped(Draft(uid, Audience.CREW, lines), Stamp(sequence, NOW))


@pytest.fixture
def store(book: Book) -> BookPublished:
    with book.writing() as connection:
        put_job(connection)
    return BookPublished(book)


def test_what_is_put_comes_back_line_by_line(store: BookPublished) -> None:
    empty = store.history(JOB)
    assert (empty.revisions, empty.first, empty.suspect) == ({}, 0, frozenset())
    made = [revision("u-2", 3), revision("u-1", status="CANCELLED")]
    store.put(JOB, made, expected=empty.generation)
    found = store.history(JOB)
    assert found.revisions == {each.uid: each for each in made}
    assert found.revisions["u-1"].cancelled
    assert found.newest_at is None
    assert found.generation != empty.generation


def test_what_has_not_changed_changes_nothing(store: BookPublished) -> None:
    store.put(JOB, [revision()], expected=store.history(JOB).generation)
    before = store.history(JOB)
    store.put(JOB, [revision()], expected=before.generation)
    assert store.history(JOB) == before


def test_who_built_on_an_older_history_is_refused(store: BookPublished) -> None:
    old = store.history(JOB)
    store.put(JOB, [revision()], expected=old.generation)
    with pytest.raises(StoreMoved) as moved:
        store.put(JOB, [revision(sequence=1)], expected=old.generation)
    assert moved.value.code == "book-moved"
    assert store.history(JOB).revisions["u-1"].sequence == 0


def test_a_new_fact_refuses_what_was_made_without_it(store: BookPublished) -> None:
    old = store.history(JOB)
    with store.book.writing() as connection:
        grow(connection, JOB)
    with pytest.raises(StoreMoved):
        store.put(JOB, [revision()], expected=old.generation)


def test_all_are_kept_or_none(store: BookPublished) -> None:
    store.put(JOB, [revision(sequence=5)], expected=store.history(JOB).generation)
    before = store.history(JOB)
    with pytest.raises(BookError) as refused:
        store.put(JOB, [revision("u-0"), revision(sequence=4)], expected=before.generation)
    assert refused.value.code == "book-sequence-back"
    assert store.history(JOB) == before


def test_a_job_that_is_not_there_has_no_history(store: BookPublished) -> None:
    for ask in (
        lambda: store.history("nobody"),
        lambda: store.put("nobody", [revision()], expected="0"),
    ):
        with pytest.raises(BookError) as refused:
            ask()
        assert refused.value.code == "book-job-unknown"


def test_a_line_that_is_two_is_refused(store: BookPublished) -> None:
    bad = replace(revision(), lines=("BEGIN:VEVENT", "UID:u-1\nATTACH:x", "END:VEVENT"))
    with pytest.raises(BookError) as refused:
        store.put(JOB, [bad], expected=store.history(JOB).generation)
    assert refused.value.code == "book-text-unusable"
    assert store.history(JOB).revisions == {}


def test_an_older_history_is_taken_over_once(store: BookPublished) -> None:
    older = History("x", {"u-1": revision(sequence=7)}, 12, NOW, frozenset({"u-1"}))
    with store.book.writing() as connection:
        take_over(connection, JOB, older)
    found = store.history(JOB)
    assert (found.revisions, found.first, found.suspect) == (older.revisions, 12, {"u-1"})
    assert found.newest_at == NOW
    with pytest.raises(BookError) as refused, store.book.writing() as connection:
        take_over(connection, JOB, older)
    assert refused.value.code == "book-published-there"


def test_what_is_suspect_is_so_until_it_counts_past_the_loss(store: BookPublished) -> None:
    with store.book.writing() as connection:
        take_over(connection, JOB, History("", {"u-1": revision(sequence=7)}, 107, NOW, {"u-1"}))  # type: ignore[arg-type]
    store.put(JOB, [revision(sequence=7)], expected=store.history(JOB).generation)
    assert store.history(JOB).suspect == {"u-1"}
    store.put(JOB, [revision(sequence=107)], expected=store.history(JOB).generation)
    assert store.history(JOB).suspect == frozenset()
    assert store.history(JOB).first == 107


@pytest.mark.parametrize(("known", "first"), [([], 1000), ([0], 100), ([3, 250, 9], 350)])
def test_counting_goes_on_past_a_loss(known: list[int], first: int) -> None:
    assert first_after(known) == first


def test_calendars_are_issued_from_the_book(book: Book, tmp_path: Path) -> None:
    path = folder_of(tmp_path)
    add_job(book, path, now=NOW)
    first = publish(book, planned(book))
    assert first.revisions
    assert set(first.changes.values()) == {Change.NEW}
    again = publish(book, planned(book), minutes=5)
    assert again.revisions == first.revisions
    assert set(again.changes.values()) == {Change.UNCHANGED}
    path.write_text(JOB_FILE.replace("2026-11-20T16", "2026-11-26T16"), encoding="utf-8")
    add_job(book, path, now=NOW)
    third = publish(book, planned(book), minutes=10)
    told = {each.uid: each for each in third.told}
    assert told
    assert {each.sequence for each in told.values()} <= {0, 1}
    assert 1 in {each.sequence for each in told.values()}
    with book.reading() as connection:
        assert history_of(connection, JOB_ID).revisions == {
            each.uid: each for each in third.revisions
        }


def test_two_who_publish_at_once_both_end_well(url: URL, tmp_path: Path) -> None:
    with open_book(url) as one, open_book(url) as two:
        add_job(one, folder_of(tmp_path), now=NOW)
        plan = planned(one)

        class Interrupted(BookPublished):
            """Somebody else publishes between the look and the writing, once."""

            done = False

            def put(self, job_id: str, revisions: object, *, expected: str) -> None:
                if not self.done:
                    self.done = True
                    publish(two, plan)
                super().put(job_id, revisions, expected=expected)  # type: ignore[arg-type]

        rules = load_rules()
        revised = issue(
            feeds(plan, rules=rules), Interrupted(one), now=NOW, goes=goes(plan, rules=rules)
        )
        assert set(revised.changes.values()) == {Change.UNCHANGED}


def test_counting_from_a_number_holds_for_what_is_new(store: BookPublished) -> None:
    with store.book.writing() as connection:
        count_from(connection, JOB, 300)
        connection.execute(update(published).values(suspect=True))
    assert store.history(JOB).first == 300
