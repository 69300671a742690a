"""The ledger of a job of the book: kept whole, by one writer at a time."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import pytest
from book_samples import JOB, NOW, put_job
from job_samples import JOB_FILE, JOB_ID, folder_of, planned, publish

from curecal.book.connection.open_book import Book, open_book
from curecal.book.jobs.import_job import add_job
from curecal.book.jobs.jobs import grow
from curecal.book.ledger.ledger import BookLedger, history_of, take_over
from curecal.calendars import (
    Audience,
    Draft,
    History,
    LogMark,
    Mailed,
    Revision,
    RevisionChange,
    Stamp,
    feeds,
    goes,
    issue,
)
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


def made_of(before: History, *revisions: Revision, **how: object) -> History:
    """What is to be kept after a publication."""
    made: History = replace(before, revisions={one.uid: one for one in revisions}, **how)  # type: ignore[arg-type]
    return made


@pytest.fixture
def store(book: Book) -> BookLedger:
    with book.writing() as connection:
        put_job(connection)
    return BookLedger(book)


def test_what_is_put_comes_back_line_by_line(store: BookLedger) -> None:
    empty = store.history(JOB)
    assert (empty.revisions, empty.first, empty.suspect, empty.ledger_id) == ({}, 0, set(), "")
    made = made_of(empty, revision("u-2", 3), revision("u-1", status="CANCELLED"))
    kept = store.put(JOB, made, expected=empty.generation)
    found = store.history(JOB)
    assert found == kept
    assert found.revisions == made.revisions
    assert found.revisions["u-1"].cancelled
    assert found.newest_at is None
    assert found.generation != empty.generation
    assert found.ledger_id


def test_what_has_not_changed_changes_nothing(store: BookLedger) -> None:
    store.put(JOB, made_of(store.history(JOB), revision()), expected=store.history(JOB).generation)
    before = store.history(JOB)
    assert store.put(JOB, before, expected=before.generation) == before
    assert store.history(JOB) == before


def test_what_a_plan_rested_on_is_kept_and_let_go(store: BookLedger) -> None:
    air, floor = LogMark("a" * 24, "reading", NOW), LogMark("b" * 24, "reading", NOW)
    other = LogMark("c" * 24, "reading", NOW)
    for marks in ({"air": air}, {"air": air, "floor": floor}, {"floor": other}, {}):
        before = store.history(JOB)
        store.put(JOB, made_of(before, revision(), rests_on=marks), expected=before.generation)
        assert store.history(JOB).rests_on == marks
        # That alone is no publication.
        assert store.history(JOB).revisions["u-1"] == revision()


def test_which_mails_were_written_is_kept_once(store: BookLedger) -> None:
    mail = Mailed("u-1", 0, "ida@home.example", "robin@tilecrew.example")
    store.add_mailed(JOB, [mail])
    store.add_mailed(JOB, [mail, replace(mail, sequence=1)])
    assert store.history(JOB).mailed == {mail, replace(mail, sequence=1)}


def test_who_built_on_an_older_history_is_refused(store: BookLedger) -> None:
    old = store.history(JOB)
    store.put(JOB, made_of(old, revision()), expected=old.generation)
    with pytest.raises(StoreMoved) as moved:
        store.put(JOB, made_of(old, revision(sequence=1)), expected=old.generation)
    assert moved.value.code == "book-moved"
    assert store.history(JOB).revisions["u-1"].sequence == 0


def test_a_new_fact_refuses_what_was_made_without_it(store: BookLedger) -> None:
    old = store.history(JOB)
    with store.book.writing() as connection:
        grow(connection, JOB)
    with pytest.raises(StoreMoved):
        store.put(JOB, made_of(old, revision()), expected=old.generation)


def test_all_are_kept_or_none(store: BookLedger) -> None:
    empty = store.history(JOB)
    store.put(JOB, made_of(empty, revision(sequence=5)), expected=empty.generation)
    before = store.history(JOB)
    back = made_of(before, revision("u-0"), revision(sequence=4))
    with pytest.raises(BookError) as refused:
        store.put(JOB, back, expected=before.generation)
    assert refused.value.code == "book-sequence-back"
    assert store.history(JOB) == before


def test_a_job_that_is_not_there_has_no_history(store: BookLedger) -> None:
    for ask in (
        lambda: store.history("nobody"),
        lambda: store.put("nobody", made_of(History("0"), revision()), expected="0"),
    ):
        with pytest.raises(BookError) as refused:
            ask()
        assert refused.value.code == "book-job-unknown"


def test_a_line_that_is_two_is_refused(store: BookLedger) -> None:
    bad = replace(revision(), lines=("BEGIN:VEVENT", "UID:u-1\nATTACH:x", "END:VEVENT"))
    with pytest.raises(BookError) as refused:
        store.put(JOB, made_of(store.history(JOB), bad), expected=store.history(JOB).generation)
    assert refused.value.code == "book-text-unusable"
    assert store.history(JOB).revisions == {}


def test_an_older_ledger_is_taken_over_once(store: BookLedger) -> None:
    older = History(
        "x",
        {"u-1": revision(sequence=7)},
        12,
        NOW,
        frozenset({"u-1"}),
        "f00d",
        {"air": LogMark("a" * 24, "reading", NOW)},
        frozenset({Mailed("u-1", 7, "ida@home.example", "robin@tilecrew.example")}),
    )
    with store.book.writing() as connection:
        take_over(connection, JOB, older)
    found = store.history(JOB)
    assert replace(found, generation="x") == older
    with pytest.raises(BookError) as refused, store.book.writing() as connection:
        take_over(connection, JOB, older)
    assert refused.value.code == "book-published-there"


def test_calendars_are_issued_from_the_book(book: Book, tmp_path: Path) -> None:
    path = folder_of(tmp_path)
    add_job(book, path, now=NOW)
    first = publish(book, planned(book))
    assert first.revisions
    assert set(first.changes.values()) == {RevisionChange.NEW}
    again = publish(book, planned(book), minutes=5)
    assert again.revisions == first.revisions
    assert set(again.changes.values()) == {RevisionChange.UNCHANGED}
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

        class Interrupted(BookLedger):
            """Somebody else publishes between the look and the writing, once."""

            done = False

            def put(self, job_id: str, made: History, *, expected: str) -> History:
                if not self.done:
                    self.done = True
                    publish(two, plan)
                return super().put(job_id, made, expected=expected)

        rules = load_rules()
        revised = issue(
            feeds(plan, rules=rules), Interrupted(one), now=NOW, goes=goes(plan, rules=rules)
        )
        assert set(revised.changes.values()) == {RevisionChange.UNCHANGED}
