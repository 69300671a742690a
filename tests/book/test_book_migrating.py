"""The form of a book: made new, brought up from every older one, refused where it is newer."""

from __future__ import annotations

import sqlite3
import threading
from contextlib import closing
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest
from alembic.autogenerate import compare_metadata
from alembic.migration import MigrationContext
from book_samples import JOB, NOW, message, put_job
from sqlalchemy import create_engine, inspect, text

from curecal.book.connection.migrate import bring_up, known_revisions, revision_of
from curecal.book.connection.open_book import HEAD, Book, open_book
from curecal.book.export_restore.check import check_book
from curecal.book.jobs.jobs import grow
from curecal.book.jobs.log_entries import StoredEntry, insert_entries
from curecal.book.outbox.outbox import claim, fire
from curecal.book.schema.tables import metadata
from curecal.errors import BookError

if TYPE_CHECKING:
    from sqlalchemy import URL, Connection

# What a person's book held at its first form; only columns of then.
OLD_JOB = text("INSERT INTO job (id, name, timezone) VALUES (:id, 'Alder Lane', 'America/Halifax')")
OLD_EVENT = text(
    "INSERT INTO published (job_id, uid, audience, sequence, changed_at, cancelled, lines) "
    "VALUES (:id, 'u', 'crew', 3, :at, false, 'BEGIN:VEVENT')"
)


def shape(connection: Connection) -> dict[str, Any]:
    """What a database says of its tables, in an order that rests on nothing."""
    found: dict[str, Any] = {}
    look = inspect(connection)
    for table in sorted(set(look.get_table_names()) - {"alembic_version"}):
        found[table] = {
            "columns": [
                (each["name"], str(each["type"]), each["nullable"], each["default"])
                for each in look.get_columns(table)
            ],
            "primary": look.get_pk_constraint(table),
            "foreign": sorted(str(each) for each in look.get_foreign_keys(table)),
            "unique": sorted(str(each) for each in look.get_unique_constraints(table)),
            "checks": sorted(str(each) for each in look.get_check_constraints(table)),
            "indexes": sorted(str(each) for each in look.get_indexes(table)),
        }
    asked = (
        "SELECT name, sql FROM sqlite_master WHERE type = 'trigger' ORDER BY name"
        if connection.dialect.name == "sqlite"
        else "SELECT tgname, pg_get_triggerdef(oid) FROM pg_trigger "
        "WHERE NOT tgisinternal ORDER BY tgname"
    )
    found["triggers"] = [tuple(row) for row in connection.exec_driver_sql(asked)]
    return found


def without_revision(book: Book, revision: str) -> None:
    """Claim another revision of the form."""
    with book.writing() as connection:
        connection.execute(text("UPDATE alembic_version SET version_num = :to"), {"to": revision})


def old_book(url: URL) -> None:
    """A book of the first form, with a job and an event in it."""
    if url.get_backend_name() == "sqlite":
        Path(str(url.database)).parent.mkdir(parents=True, exist_ok=True)
    with Book(url) as book:
        bring_up(book, to="0001")
        with book.writing() as connection:
            assert revision_of(connection) == "0001"
            connection.execute(OLD_JOB, {"id": JOB})
            connection.execute(OLD_EVENT, {"id": JOB, "at": NOW.replace(tzinfo=None)})


def test_the_newest_revision_is_the_one_that_opening_knows() -> None:
    assert known_revisions() == ("0001", "0002", "0003")
    assert known_revisions()[-1] == HEAD


def test_all_revisions_together_are_the_tables_of_the_program(bare_url: URL) -> None:
    with open_book(bare_url) as book, book.reading() as connection:
        migrated = shape(connection)
        context = MigrationContext.configure(
            connection, opts={"compare_type": True, "compare_server_default": False}
        )
        assert compare_metadata(context, metadata) == []
        assert set(migrated) == {*metadata.tables, "triggers"}
        assert len(migrated["triggers"]) == 15


def test_creating_all_tables_gives_the_same(bare_url: URL, tmp_path: Path) -> None:
    with open_book(bare_url) as book, book.reading() as connection:
        migrated = shape(connection)
    if bare_url.get_backend_name() == "sqlite":
        engine = create_engine(f"sqlite:///{tmp_path / 'created.sqlite3'}")
    else:
        with Book(bare_url) as book, book.engine.begin() as connection:
            connection.exec_driver_sql("DROP SCHEMA public CASCADE")
            connection.exec_driver_sql("CREATE SCHEMA public")
        engine = create_engine(bare_url)
    with engine.begin() as connection:
        metadata.create_all(connection)
        assert shape(connection) == migrated
    engine.dispose()


def test_an_older_book_is_brought_up_with_all_it_holds(bare_url: URL) -> None:
    old_book(bare_url)
    with open_book(bare_url) as book:
        with book.reading() as connection:
            assert revision_of(connection) == HEAD
            row = connection.execute(text("SELECT * FROM job")).mappings().one()
            event = connection.execute(text("SELECT * FROM published")).mappings().one()
        assert (row["id"], row["first_sequence"], row["hold"]) == (JOB, 0, "")
        assert (event["sequence"], bool(event["suspect"])) == (3, False)
        with book.writing() as connection:
            put_job(connection, "next")
        assert {each.code for each in check_book(book).faults} == {
            "book-fault-no-revision",
            "book-fault-published",
        }


@pytest.mark.parametrize("bare_url", ["file"], indirect=True)
def test_a_file_is_copied_before_its_form_changes(bare_url: URL) -> None:
    old_book(bare_url)
    path = Path(str(bare_url.database))
    open_book(bare_url).close()
    copy = path.with_name("book.sqlite3.before-0001-changed")
    assert copy.stat().st_mode & 0o777 == 0o600
    with closing(sqlite3.connect(copy)) as plain:
        assert plain.execute("SELECT version_num FROM alembic_version").fetchall() == [("0001",)]
        assert plain.execute("SELECT id FROM job").fetchall() == [(JOB,)]
        assert plain.execute("PRAGMA integrity_check").fetchone() == ("ok",)
    # Opened again, it is left alone; and a second copy never takes the place of the first.
    open_book(bare_url).close()
    assert len(list(path.parent.glob("*changed*"))) == 1


@pytest.mark.parametrize("bare_url", ["file"], indirect=True)
def test_a_new_file_needs_no_copy(bare_url: URL) -> None:
    open_book(bare_url).close()
    assert list(Path(str(bare_url.database)).parent.glob("*changed*")) == []


def test_a_newer_book_is_refused_and_left_alone(url: URL) -> None:
    with open_book(url) as book:
        without_revision(book, "0099")
    with pytest.raises(BookError) as refused:
        open_book(url)
    assert refused.value.code == "book-newer"
    assert refused.value.params["revision"] == "0099"
    assert refused.value.exit_code == 6
    with Book(url) as book, book.reading() as connection:
        assert revision_of(connection) == "0099"


def test_somebody_elses_database_is_refused_and_left_alone(bare_url: URL) -> None:
    if bare_url.get_backend_name() == "sqlite":
        Path(str(bare_url.database)).parent.mkdir()
    with Book(bare_url) as book, book.writing() as connection:
        connection.execute(text("CREATE TABLE guests (name VARCHAR)"))
    with pytest.raises(BookError) as refused:
        open_book(bare_url)
    assert refused.value.code == "book-foreign"
    with Book(bare_url) as book, book.reading() as connection:
        assert inspect(connection).get_table_names() == ["guests"]


def test_several_that_open_a_new_book_at_once_make_it_once(bare_url: URL) -> None:
    failed: list[BaseException] = []

    def opening() -> None:
        try:
            open_book(bare_url).close()
        except BaseException as error:  # noqa: BLE001 - told below, by name
            failed.append(error)

    threads = [threading.Thread(target=opening) for _ in range(4)]
    for each in threads:
        each.start()
    for each in threads:
        each.join(60)
    assert failed == []
    with open_book(bare_url) as book, book.reading() as connection:
        assert revision_of(connection) == HEAD


def test_a_form_that_cannot_be_changed_is_left_as_it_was(bare_url: URL) -> None:
    old_book(bare_url)
    with Book(bare_url) as book, book.writing() as connection:
        # In the way of the second column that the second revision adds.
        connection.execute(text("ALTER TABLE published ADD COLUMN suspect VARCHAR"))
    with pytest.raises(BookError):
        open_book(bare_url)
    with Book(bare_url) as book, book.reading() as connection:
        assert revision_of(connection) == "0001"
        names = {each["name"] for each in inspect(connection).get_columns("job")}
        assert "hold" not in names


def test_a_message_can_be_put_in_after_all_that(bare_url: URL) -> None:
    old_book(bare_url)
    with open_book(bare_url) as book:
        with book.writing() as connection:
            fire(connection, [message(1)])
        assert len(claim(book, limit=1, owner="x", lease_s=9, now=NOW).rows) == 1


ENTRY = StoredEntry(
    entry_id="e-1", kind="air", at=NOW, recorded=NOW, body={"air": "64 °F"}, source="job file"
)
# Written as the first form's programs wrote it: neither chain nor seal, JSON in their own spelling.
OLD_ROWS = """
INSERT INTO content (sha256, data) VALUES ('c', '');
INSERT INTO job_revision (job_id, number, recorded_at, job_sha256, told)
VALUES ('alder-lane', 1, '2026-12-03 12:00:00.250000ZONE', 'c', NULL);
INSERT INTO job_revision (job_id, number, recorded_at, job_sha256, told)
VALUES ('alder-lane', 2, '2026-12-03 12:00:00.000000ZONE', 'c', '{"b": 1.50, "a": [1]}');
INSERT INTO log_entry (job_id, entry_id, kind, at, recorded, body, source)
VALUES ('alder-lane', 'e-1', 'air', '2026-12-03 12:00:00.000000ZONE',
    '2026-12-03 12:00:00.500000ZONE', '{"z": 1, "air": "64 °F"}', 'job file')
"""


def test_an_older_books_rows_are_sealed_and_guarded(bare_url: URL) -> None:
    old_book(bare_url)
    zone = "" if bare_url.get_backend_name() == "sqlite" else "+00:00"
    with Book(bare_url) as book, book.writing() as connection:
        for statement in OLD_ROWS.replace("ZONE", zone).split(";"):
            connection.exec_driver_sql(statement)
    with open_book(bare_url) as book:
        with book.writing() as connection:
            later = replace(ENTRY, entry_id="e-2")
            insert_entries(connection, JOB, (later,))
            grow(connection, JOB)
        codes = {each.code for each in check_book(book).faults}
        # The content is made up, and so is the event; nothing else is wrong.
        assert codes == {"book-fault-content", "book-fault-unread", "book-fault-published"}
        with pytest.raises(BookError), book.writing() as connection:
            connection.execute(text("UPDATE log_entry SET kind = 'x'"))
        with pytest.raises(BookError), book.writing() as connection:
            connection.execute(text("UPDATE job_revision SET number = 9"))
