"""The form of a book: made new once, and refused where it is older or newer."""

from __future__ import annotations

import threading
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest
from alembic.autogenerate import compare_metadata
from alembic.migration import MigrationContext
from book_samples import JOB, put_job
from sqlalchemy import create_engine, inspect, text

from curecal.book.connection.migrate import revision_of
from curecal.book.connection.open_book import HEAD, Book, open_book
from curecal.book.schema.tables import metadata
from curecal.book.schema.triggers import GUARDED
from curecal.errors import BookError
from curecal.words.sentences import plain_words

if TYPE_CHECKING:
    from sqlalchemy import URL, Connection


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


def test_a_new_book_has_the_tables_of_the_program(bare_url: URL) -> None:
    with open_book(bare_url) as book, book.reading() as connection:
        migrated = shape(connection)
        context = MigrationContext.configure(
            connection, opts={"compare_type": True, "compare_server_default": False}
        )
        assert compare_metadata(context, metadata) == []
        assert set(migrated) == {*metadata.tables, "triggers"}
        assert len(migrated["triggers"]) == 3 * len(GUARDED)


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


@pytest.mark.parametrize(("form", "code"), [("0003", "book-older"), ("0099", "book-newer")])
def test_a_book_of_another_form_is_refused_and_left_alone(url: URL, form: str, code: str) -> None:
    with open_book(url) as book:
        without_revision(book, form)
    with pytest.raises(BookError) as refused:
        open_book(url)
    assert (refused.value.code, refused.value.params["revision"]) == (code, form)
    assert refused.value.exit_code == 6
    with Book(url) as book, book.reading() as connection:
        assert revision_of(connection) == form


# What the forms after the first one added.
LATER = ("paper", "picture", "link")


def old_book(url: URL) -> dict[str, Any]:
    """A book of the first form with a job in it; gives what the newest form looks like."""
    with open_book(url) as book:
        with book.reading() as connection:
            newest = shape(connection)
        with book.writing() as connection:
            put_job(connection)
            for table in LATER:
                connection.execute(text(f"DROP TABLE {table}"))
        without_revision(book, "0010")
    return newest


def test_a_book_of_the_first_form_is_brought_up_with_all_it_holds(url: URL) -> None:
    newest = old_book(url)
    with open_book(url) as book, book.reading() as connection:
        assert revision_of(connection) == HEAD
        assert shape(connection) == newest
        assert connection.execute(text("SELECT id FROM job")).scalars().all() == [JOB]


@pytest.mark.parametrize("url", ["server"], indirect=True)
def test_the_very_first_books_on_a_server_get_what_their_form_came_to_have(url: URL) -> None:
    newest = old_book(url)
    with Book(url) as book, book.writing() as connection:
        for statement in (
            "DROP TABLE answer",
            "ALTER TABLE reminder DROP COLUMN digest_id",
            "ALTER TABLE reminder DROP CONSTRAINT ck_reminder_state",
            "ALTER TABLE reminder ADD CONSTRAINT ck_reminder_state CHECK (state != 'ready')",
        ):
            connection.execute(text(statement))
    with open_book(url) as book, book.reading() as connection:
        assert shape(connection) == newest
        assert connection.execute(text("SELECT id FROM job")).scalars().all() == [JOB]


def test_a_form_that_cannot_be_changed_is_left_as_it_was(url: URL) -> None:
    old_book(url)
    with Book(url) as book, book.writing() as connection:
        connection.execute(text("CREATE TABLE paper (name VARCHAR)"))
    with pytest.raises(BookError):
        open_book(url)
    with Book(url) as book, book.reading() as connection:
        assert revision_of(connection) == "0010"
        assert connection.execute(text("SELECT id FROM job")).scalars().all() == [JOB]


def test_the_way_out_of_an_older_book_is_named() -> None:
    said = plain_words().error(BookError("book-older", place="b", revision="0003"))
    assert "curecal book export ID DIR" in str(said)
    assert "curecal book restore DIR" in str(said)


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
