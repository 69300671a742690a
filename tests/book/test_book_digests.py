"""What somebody changed behind our back: each changed row has its fault, and none ends the look."""

from __future__ import annotations

import hashlib
import json
from typing import TYPE_CHECKING

import pytest
from book_samples import JOB, NOW, put_job
from job_samples import AIR_LATER, JOB_FILE, JOB_ID, folder_of, planned, publish
from sqlalchemy import text

from curecal.book.export_restore.check_book import check_book
from curecal.book.jobs.import_job import add_job
from curecal.book.jobs.jobs import list_jobs, revisions_of
from curecal.book.jobs.log_entries import StoredEntry, entries_of, insert_entries
from curecal.book.ledger.ledger import history_of
from curecal.book.schema.content_hashes import ENTRY, row_digest
from curecal.errors import BookError
from curecal.words.sentences import plain_words

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

    from sqlalchemy import Connection

    from curecal.book.connection.open_book import Book


TOOTHLESS = (
    "DROP TRIGGER content_no_delete ON content; CREATE TRIGGER content_no_delete "
    "BEFORE DELETE ON content FOR EACH ROW WHEN (false) EXECUTE FUNCTION curecal_append_only()"
)
FUNCTION = (
    "CREATE OR REPLACE FUNCTION curecal_append_only() RETURNS trigger LANGUAGE plpgsql "
    "AS $$ BEGIN RETURN NEW; END $$"
)


@pytest.fixture
def full(book: Book, tmp_path: Path) -> Book:
    """A job of two revisions, three entries, and calendars."""
    path = folder_of(tmp_path)
    add_job(book, path, now=NOW, told=lambda _read: {"answer": "No", "days": [1, 2.5]})
    path.write_text(JOB_FILE.replace("upstairs", "attic") + AIR_LATER, encoding="utf-8")
    add_job(book, path, now=NOW, told=lambda _read: {"answer": "No"})
    publish(book, planned(book))
    return book


def behind(book: Book, table: str, *statements: str) -> None:
    """Change a table with its triggers off for that moment, as a repair by hand would."""
    with book.engine.connect() as connection:
        triggers: list[str] = []
        if book.is_file:
            asked = f"SELECT name, sql FROM sqlite_master WHERE type = 'trigger' AND tbl_name = '{table}'"  # noqa: E501, S608 - a name of ours
            for name, made in connection.exec_driver_sql(asked).all():
                connection.exec_driver_sql(f"DROP TRIGGER {name}")
                triggers.append(made)
        else:
            connection.exec_driver_sql(f"ALTER TABLE {table} DISABLE TRIGGER USER")
            triggers.append(f"ALTER TABLE {table} ENABLE TRIGGER USER")
        for statement in (*statements, *triggers):
            # A colon in a text is no place of a value here.
            connection.exec_driver_sql(statement)
        connection.commit()


def faults(book: Book) -> dict[str, list[dict[str, object]]]:
    words = plain_words()
    made: dict[str, list[dict[str, object]]] = {}
    for each in check_book(book).faults:
        assert words.message(each)
        made.setdefault(each.code, []).append(dict(each.params))
    return made


def test_nothing_is_found_where_nothing_was_changed(full: Book) -> None:
    assert faults(full) == {}


@pytest.mark.parametrize(
    "change",
    [
        "body = '{}'",
        "kind = 'note'",
        "source = 'x'",
        "entry_id = 'e-other'",
        "at = '2026-11-19 10:00:01+00:00'",
        "recorded = '2027-11-19 10:00:01+00:00'",
    ],
)
def test_an_entry_that_was_changed_is_named(full: Book, change: str) -> None:
    if full.is_file:
        change = change.replace("+00:00", ".000000")
    behind(full, "log_entry", f"UPDATE log_entry SET {change} WHERE entry_id = 'cable-laid'")  # noqa: S608 - ours
    (fault,) = faults(full)["book-fault-entry"]
    expected = "e-other" if "e-other" in change else "cable-laid"
    assert fault == {"job_id": JOB_ID, "entry_id": expected}


def test_a_warmer_reading_under_its_old_number_is_found(full: Book) -> None:
    with full.reading() as connection:
        (body,) = (each.body for each in entries_of(connection, JOB_ID) if each.entry_id == "air-2")
    warmer = json.dumps({**body, "air": "28 °C"})
    behind(full, "log_entry", f"UPDATE log_entry SET body = '{warmer}' WHERE entry_id = 'air-2'")  # noqa: S608 - ours
    assert faults(full)["book-fault-entry"] == [{"job_id": JOB_ID, "entry_id": "air-2"}]


@pytest.mark.parametrize(
    "change",
    [
        """told = '{"answer": "Yes", "days": [1, 2.5]}'""",
        "told = NULL",
        "job_sha256 = (SELECT job_sha256 FROM job_revision WHERE number = 2)",
        "company_sha256 = NULL",
    ],
)
def test_a_revision_that_was_changed_is_named(full: Book, change: str) -> None:
    behind(full, "job_revision", f"UPDATE job_revision SET {change} WHERE number = 1")  # noqa: S608 - ours
    assert faults(full)["book-fault-revision"] == [{"job_id": JOB_ID, "revision": "1"}]


def test_a_published_entry_that_was_changed_is_named(full: Book) -> None:
    with full.writing() as connection:
        (uid,) = connection.execute(text("SELECT uid FROM published ORDER BY uid LIMIT 1")).one()
        changed = text(
            "UPDATE published SET lines = replace(lines, 'SUMMARY:', 'SUMMARY:no ') WHERE uid = :u"
        )
        connection.execute(changed, {"u": uid})
    assert faults(full) == {"book-fault-published": [{"job_id": JOB_ID, "uid": uid}]}


@pytest.mark.parametrize(
    "statement",
    [
        "UPDATE published SET sequence = 5, lines = replace(lines, 'SEQUENCE:0', 'SEQUENCE:5')",
        "UPDATE published SET lines = replace(lines, 'SUMMARY:', 'SUMMARY:no ')",
    ],
)
def test_nothing_is_published_from_what_was_changed(full: Book, statement: str) -> None:
    with full.writing() as connection:
        connection.execute(text(statement.replace(":", "\\:")))
    with pytest.raises(BookError) as refused:
        publish(full, planned(full, hours=120), minutes=10)
    assert refused.value.code == "book-published-changed"
    assert plain_words().error(refused.value)


@pytest.mark.parametrize(
    ("change", "column"),
    [
        ("name = 'Other'", "name"),
        ("timezone = 'Nowhere/X'", "timezone"),
        ("first_sequence = -1", "first_sequence"),
    ],
)
def test_a_job_row_that_was_changed_is_found(full: Book, change: str, column: str) -> None:
    with full.writing() as connection:
        connection.execute(text(f"UPDATE job SET {change}"))  # noqa: S608 - ours
    assert faults(full) == {"book-fault-head": [{"job_id": JOB_ID, "column": column}]}


def read_again(connection: Connection) -> object:
    return [each.table for each in entries_of(connection, JOB_ID)]


@pytest.mark.parametrize("url", ["file"], indirect=True)
@pytest.mark.parametrize(
    ("table", "change", "look"),
    [
        ("log_entry", "body = '[1]'", read_again),
        ("log_entry", "body = 'null'", read_again),
        ("log_entry", "body = '{'", lambda each: entries_of(each, JOB_ID)),
        ("log_entry", "at = 'garbage'", lambda each: entries_of(each, JOB_ID)),
        ("log_entry", """body = '{"at": {"$instant": "x"}}'""", read_again),
        ("job_revision", "recorded_at = 'x'", list_jobs),
        ("job_revision", "told = '{'", lambda each: revisions_of(each, JOB_ID)),
        ("published", "audience = 'nobody'", lambda each: history_of(each, JOB_ID)),
        ("published", "sequence = -5", lambda each: history_of(each, JOB_ID)),
        ("published", "lines = 'x'", lambda each: history_of(each, JOB_ID)),
        ("published", "uid = 'foreign-' || uid", lambda each: history_of(each, JOB_ID)),
        ("published", "changed_at = 'x'", lambda each: history_of(each, JOB_ID)),
        ("job", "generation = 'x'", None),
    ],
)
def test_what_no_program_of_ours_wrote_is_an_error_with_a_name(
    full: Book, table: str, change: str, look: Callable[[Connection], object] | None
) -> None:
    behind(full, table, f"UPDATE {table} SET {change}")  # noqa: S608 - ours
    assert faults(full)
    if look is None:
        return
    with pytest.raises(BookError) as refused, full.reading() as connection:
        look(connection)
    assert refused.value.code == "book-row-damaged"
    assert plain_words().error(refused.value)


@pytest.mark.parametrize("url", ["file"], indirect=True)
def test_one_broken_job_hides_no_other(full: Book) -> None:
    with full.writing() as connection:
        put_job(connection, "a bare one")
        connection.execute(text("UPDATE published SET changed_at = 'x'"))
    made = faults(full)
    assert made["book-fault-no-revision"] == [{"job_id": "a bare one"}]
    assert made["book-fault-broken"] == [{"job_id": JOB_ID, "reason": "ValueError"}]
    assert check_book(full).job_count == 2


@pytest.mark.parametrize("url", ["server"], indirect=True)
@pytest.mark.parametrize(
    ("statement", "guard"),
    [
        ("ALTER TABLE log_entry ENABLE REPLICA TRIGGER log_entry_no_update", "log_entry_no_update"),
        (TOOTHLESS, "content_no_delete"),
        (FUNCTION, "curecal_append_only"),
    ],
)
def test_a_guard_without_teeth_is_found_on_a_server(full: Book, statement: str, guard: str) -> None:
    with full.engine.connect() as connection:
        connection.exec_driver_sql(statement)
        connection.commit()
    assert faults(full) == {"book-fault-guard": [{"guard": guard}]}


@pytest.mark.parametrize("url", ["file"], indirect=True)
def test_a_guard_without_teeth_is_found_in_a_file(full: Book) -> None:
    with full.engine.connect() as connection:
        connection.exec_driver_sql("DROP TRIGGER log_entry_no_update")
        connection.exec_driver_sql(
            "CREATE TRIGGER log_entry_no_update BEFORE UPDATE ON log_entry WHEN 0 "
            "BEGIN SELECT RAISE(ABORT, 'log_entry is append-only'); END"
        )
        connection.commit()
    assert faults(full) == {"book-fault-guard": [{"guard": "log_entry_no_update"}]}


def test_a_row_under_another_job_is_found(full: Book) -> None:
    with full.writing() as connection:
        put_job(connection, "other")
    behind(full, "log_entry", "UPDATE log_entry SET job_id = 'other' WHERE entry_id = 'air-2'")
    assert faults(full)["book-fault-entry"] == [{"job_id": "other", "entry_id": "air-2"}]


def test_how_a_digest_is_made_never_changes(book: Book) -> None:
    entry = StoredEntry(
        entry_id="e", kind="note", at=NOW, recorded=NOW, body={"b": 1.5, "a": "ü"}, source="s"
    )
    with book.writing() as connection:
        put_job(connection)
        insert_entries(connection, JOB, (entry,))
        found = connection.execute(text("SELECT digest FROM log_entry")).scalar_one()
    # Made by hand: what books hold must never be made otherwise.
    said = '["alder-lane", "e", "note", "2026-12-03T12:00:00+00:00", "2026-12-03T12:00:00+00:00", '
    said += '{"a": "\\u00fc", "b": 1.5}, "s"]'
    assert found == hashlib.sha256(said.encode()).hexdigest()
    row = {**dict.fromkeys(ENTRY), "job_id": JOB, "entry_id": "e", "kind": "note", "source": "s"}
    row |= {"at": NOW, "recorded": NOW, "body": {"a": "ü", "b": 1.5}}
    assert found == row_digest(row, ENTRY)
