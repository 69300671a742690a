"""What was said cannot be changed, by this program or any other."""

from __future__ import annotations

import sqlite3
from contextlib import closing
from typing import TYPE_CHECKING, Any

import pytest
from book_samples import CARD, JOB, NOW, message, put_job
from sqlalchemy import delete, insert, select, text, update

from curecal.book.jobs.jobs import put_content
from curecal.book.jobs.log_entries import StoredEntry, insert_entries
from curecal.book.jobs.pictures import keep_picture
from curecal.book.jobs.written_papers import record_papers
from curecal.book.link_purpose import LinkPurpose
from curecal.book.links.links import WantedLink, create_link
from curecal.book.outbox.outbox import fire
from curecal.book.schema.tables import job_revision, log_entry, metadata, outbox, reading_series
from curecal.book.schema.triggers import GUARDED
from curecal.errors import BookError

if TYPE_CHECKING:
    from curecal.book.connection.open_book import Book

ENTRY = StoredEntry(
    entry_id="e-1", kind="air", at=NOW, recorded=NOW, body={"air": "64 °F"}, source="job file"
)


@pytest.fixture
def full(book: Book) -> Book:
    """A book with a row in every table that is guarded."""
    with book.writing() as connection:
        put_job(connection)
        number = put_content(connection, b"[job]")
        values: dict[str, Any] = {"number": 1, "recorded_at": NOW, "job_sha256": number}
        values |= {"digest": "x"}
        connection.execute(insert(job_revision).values(job_id=JOB, **values))
        insert_entries(connection, JOB, (ENTRY,))
        connection.execute(insert(reading_series).values(job_id=JOB, file="a.csv", sha256=number))
        keep_picture(connection, JOB, "sticker.jpg", b"[job]")
        create_link(connection, OWNER_LINK, now=NOW)
        record_papers(connection, JOB, [CARD])
        fire(connection, [message(1)])
    return book


OWNER_LINK = WantedLink(job_id=JOB, purpose=LinkPurpose.OWNER, person="Ida Fennell")


class RefusedError(Exception):
    """What either database raises, under one name."""


def raw(book: Book, statement: str) -> None:
    """Say something to the database without a line of ours between."""
    if book.is_file:
        with closing(sqlite3.connect(str(book.url.database))) as connection:
            try:
                connection.execute(statement)
            except sqlite3.Error as error:
                raise RefusedError(str(error)) from error
            connection.commit()
        return
    import psycopg  # noqa: PLC0415 - an extra, which a plain set-up lacks

    host = str(book.url.query["host"])
    with psycopg.connect(host=host, user=book.url.username, dbname=book.url.database) as connection:
        try:
            connection.execute(statement)
        except psycopg.Error as error:
            raise RefusedError(str(error)) from error


def count(book: Book, table: str) -> int:
    with book.reading() as connection:
        return int(connection.execute(text(f"SELECT count(*) FROM {table}")).scalar_one())  # noqa: S608 - a name of ours


@pytest.mark.parametrize("table", GUARDED)
def test_another_program_can_neither_change_nor_delete(full: Book, table: str) -> None:
    column = next(iter(metadata.tables[table].columns)).name
    for statement in (f"UPDATE {table} SET {column} = {column}", f"DELETE FROM {table}"):  # noqa: S608 - names of ours
        with pytest.raises(RefusedError, match="append-only"):
            raw(full, statement)
    assert count(full, table) == 1


@pytest.mark.parametrize("url", ["server"], indirect=True)
@pytest.mark.parametrize("table", GUARDED)
def test_a_server_empties_no_table(full: Book, table: str) -> None:
    with pytest.raises(RefusedError, match="append-only"):
        raw(full, f"TRUNCATE {table} CASCADE")
    assert count(full, table) == 1


def test_we_cannot_either(full: Book) -> None:
    for statement in (update(log_entry).values(kind="note"), delete(log_entry)):
        with pytest.raises(BookError) as refused, full.writing() as connection:
            connection.execute(statement)
        assert refused.value.code == "book-database"
        assert "append-only" in str(refused.value.params["reason"])


def test_a_message_keeps_its_octets_while_its_state_moves(full: Book) -> None:
    with full.writing() as connection:
        connection.execute(update(outbox).values(state="held", reason="asked"))
    for change in ({"body": b"other"}, {"recipient": "x@example.org"}, {"message_id": "<2@x>"}):
        with pytest.raises(BookError), full.writing() as connection:
            connection.execute(update(outbox).values(**change))
    with full.reading() as connection:
        assert connection.execute(select(outbox.c.body)).scalar_one() == message(1).body


@pytest.mark.parametrize("url", ["file"], indirect=True)
def test_replacing_a_row_is_no_way_round(full: Book) -> None:
    names = "number, job_id, entry_id, kind, at, recorded, body, source"
    values = f"1, '{JOB}', 'e-1', 'note', '2026-12-03', '2026-12-03', '{{}}', 'x'"
    with pytest.raises(RefusedError, match="append-only"):
        raw(full, f"INSERT OR REPLACE INTO log_entry ({names}) VALUES ({values})")  # noqa: S608 - ours
    with full.reading() as connection:
        assert connection.execute(select(log_entry.c.kind)).scalar_one() == "air"


@pytest.mark.parametrize("state", ["sent ", "SENT", "", "lost"])
def test_a_state_that_there_is_not_is_refused(full: Book, state: str) -> None:
    with pytest.raises(BookError), full.writing() as connection:
        connection.execute(update(outbox).values(state=state))
