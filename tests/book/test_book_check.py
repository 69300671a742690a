"""Looking a book through: what is whole is called whole, and each kind of damage has its name."""

from __future__ import annotations

import sqlite3
from contextlib import closing
from typing import TYPE_CHECKING

import pytest
from book_samples import NOW
from job_samples import JOB_FILE, folder_of, planned, publish

from curecal.book.connection.open_book import Book, open_book
from curecal.book.export_restore.check_book import check_book
from curecal.book.jobs.import_job import add_job
from curecal.words.sentences import plain_words

if TYPE_CHECKING:
    from collections.abc import Iterable
    from pathlib import Path

    from sqlalchemy import URL

SECOND_OWNER = (
    "INSERT INTO job_revision (job_id, number, recorded_at, job_sha256, company_sha256, "
    "materials_sha256, digest) SELECT 'other', number, recorded_at, job_sha256, company_sha256, "
    "materials_sha256, digest FROM job_revision"
)


@pytest.fixture
def full(book: Book, tmp_path: Path) -> Book:
    path = folder_of(tmp_path)
    add_job(book, path, now=NOW)
    path.write_text(JOB_FILE.replace("upstairs", "attic"), encoding="utf-8")
    add_job(book, path, now=NOW)
    publish(book, planned(book))
    return book


def found(book: Book) -> set[str]:
    checked = check_book(book)
    words = plain_words()
    assert all(words.message(fault) for fault in checked.faults)
    return {fault.code for fault in checked.faults}


def break_in(book: Book, statements: Iterable[str]) -> None:
    """Change what cannot be changed, as somebody with all rights could."""
    with book.engine.connect() as connection:
        for statement in statements:
            connection.exec_driver_sql(statement)
        connection.commit()


def unguarded(table: str, doing: str) -> str:
    return f"DROP TRIGGER {table}_no_{doing}"


def test_a_whole_book_is_whole(full: Book) -> None:
    checked = check_book(full)
    assert (checked.job_count, checked.faults) == (1, ())
    assert checked.content_count == 4


def test_an_empty_book_is_whole(book: Book) -> None:
    assert check_book(book).job_count == 0
    assert found(book) == set()


def test_a_guard_that_is_gone_is_found(full: Book) -> None:
    on = "" if full.is_file else " ON log_entry"
    break_in(full, [unguarded("log_entry", "delete") + on])
    (fault,) = check_book(full).faults
    assert (fault.code, fault.params) == ("book-fault-guard", {"guard": "log_entry_no_delete"})


@pytest.mark.parametrize("url", ["server"], indirect=True)
def test_a_guard_that_is_switched_off_is_found(full: Book) -> None:
    break_in(full, ["ALTER TABLE log_entry DISABLE TRIGGER log_entry_no_update"])
    assert found(full) == {"book-fault-guard"}


@pytest.mark.parametrize("url", ["file"], indirect=True)
@pytest.mark.parametrize(
    ("table", "statement", "codes"),
    [
        ("content", "UPDATE content SET data = 'x'", {"book-fault-content", "book-fault-unread"}),
        ("content", "UPDATE content SET data = x'78'", {"book-fault-content", "book-fault-unread"}),
        (
            "job_revision",
            "UPDATE job_revision SET job_id = 'nobody'",
            {"book-fault-reference", "book-fault-no-revision"},
        ),
        (
            "log_entry",
            "UPDATE log_entry SET body = '{}'",
            {"book-fault-unread", "book-fault-entry"},
        ),
        (
            "log_entry",
            "UPDATE log_entry SET body = 'no'",
            {"book-fault-unread", "book-fault-broken"},
        ),
    ],
)
def test_a_change_behind_our_back_is_found(
    full: Book, table: str, statement: str, codes: set[str]
) -> None:
    # As another program would: without this one's care for what rows point at.
    with closing(sqlite3.connect(str(full.url.database))) as plain:
        plain.execute(unguarded(table, "update"))
        plain.execute(statement)
        plain.commit()
    assert found(full) == codes | {"book-fault-guard"}


def test_an_event_that_says_something_else_is_found(full: Book) -> None:
    break_in(full, ["UPDATE published SET sequence = sequence + 1"])
    assert found(full) == {"book-fault-published"}


def test_a_job_under_another_name_is_found(full: Book) -> None:
    break_in(
        full,
        [
            "INSERT INTO job (id, name, timezone) VALUES ('other', '', '')",
            SECOND_OWNER,
        ],
    )
    assert found(full) == {"book-fault-other-job", "book-fault-revision"}


@pytest.mark.parametrize("url", ["file"], indirect=True)
def test_a_page_in_pieces_is_found(url: URL, full: Book) -> None:
    full.close()
    place = str(url.database)
    with closing(sqlite3.connect(place)) as plain:
        plain.execute("PRAGMA wal_checkpoint(TRUNCATE)")
        page = plain.execute(
            "SELECT rootpage FROM sqlite_master WHERE name = 'ix_outbox_state_next_try_at'"
        ).fetchone()[0]
        size = plain.execute("PRAGMA page_size").fetchone()[0]
    with open(place, "r+b") as file:  # noqa: PTH123 - in place
        file.seek((page - 1) * size)
        file.write(b"\x0a" + b"\xff" * (size - 1))
    with open_book(url) as book:
        assert "book-fault-database" in found(book)
