"""Books, exports and ledgers that older programs left: opened with all they hold, or refused."""

from __future__ import annotations

import json
import re
import sqlite3
from contextlib import closing
from pathlib import Path
from typing import Any

import pytest
from older_books import HALL, KITCHEN, LEFT_AT, OLDER, facts_of, run_at, unpacked

from curecal.book.connection.open_book import HEAD

SAME_HOUR = "2026-12-09T19:10:00Z"
NEXT_NOON = "2026-12-10T12:00:00Z"
FIRST = "0010"
VERSIONS = Path(__file__).parents[2] / "curecal" / "book" / "schema" / "migrations" / "versions"
KEPT = sorted(path.stem for path in OLDER.glob("*.zip"))
OPENED = [name for name in KEPT if name >= FIRST]
# The complete run opens each; the quick one those that the steps do most and least for.
ENDS = {"0010-first", OPENED[-1]}
each_opened = pytest.mark.parametrize(
    "name",
    [pytest.param(name, marks=() if name in ENDS else pytest.mark.slow) for name in OPENED],
)


@pytest.fixture
def place(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A folder to lay a kept book out in, with that book as the environment's."""
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("CURECAL_BOOK", str(tmp_path / "book.sqlite3"))
    monkeypatch.setenv("XDG_STATE_HOME", str(tmp_path / "state"))
    monkeypatch.delenv("CURECAL_COMPANY", raising=False)
    return tmp_path


def rows_of(path: Path) -> dict[str, tuple[list[str], list[tuple[Any, ...]]]]:
    """All that stands in a file's tables, with the names of the columns."""
    with closing(sqlite3.connect(path)) as book:
        names = [
            name
            for (name,) in book.execute("SELECT name FROM sqlite_schema WHERE type = 'table'")
            if not name.startswith("sqlite_") and name != "alembic_version"
        ]
        found = {}
        for name in names:
            asked = book.execute(f"SELECT * FROM {name} ORDER BY 1, 2")  # noqa: S608 - its own name
            found[name] = ([column[0] for column in asked.description], asked.fetchall())
        return found


def form_of(path: Path) -> str:
    with closing(sqlite3.connect(path)) as book:
        ((found,),) = book.execute("SELECT version_num FROM alembic_version")
        return str(found)


def shape_of(path: Path) -> set[str]:
    """The statements that make a file's tables, indexes and triggers, without their spaces."""
    with closing(sqlite3.connect(path)) as book:
        made = book.execute("SELECT sql FROM sqlite_schema WHERE sql IS NOT NULL")
        return {re.sub(r"[\s\"]+", "", sql) for (sql,) in made}


def sequences(folder: Path) -> dict[str, int]:
    """The SEQUENCE of each entry in a folder's calendars."""
    found = {}
    for path in folder.glob("*.ics"):
        text = path.read_bytes().decode().replace("\r\n ", "")
        for event in text.split("BEGIN:VEVENT")[1:]:
            uid = re.search(r"^UID:(\S+)", event, re.MULTILINE)
            number = re.search(r"^SEQUENCE:(\d+)", event, re.MULTILINE)
            assert uid
            found[uid[1]] = int(number[1]) if number else 0
    return found


def test_every_form_before_the_newest_has_a_book_here() -> None:
    forms = {path.name[1:5] for path in VERSIONS.glob("r0*.py")}
    assert HEAD in forms
    assert {name[:4] for name in OPENED} == forms - {HEAD}


@each_opened
def test_an_older_book_is_brought_up_with_all_it_holds(name: str, place: Path) -> None:
    book = unpacked(name, place) / "book.sqlite3"
    before = rows_of(book)
    assert (form_of(book), len(before["job"][1])) == (name[:4], 2)
    assert run_at(LEFT_AT, "book", "check") == (0, "2 jobs checked.\nNo damage found.\n")
    assert form_of(book) == HEAD
    new = place / "new.sqlite3"
    assert run_at(LEFT_AT, "book", "add", "lone/job.toml", "--book", str(new))[0] == 0
    assert shape_of(book) == shape_of(new)
    after = rows_of(book)
    for table, (columns, rows) in before.items():
        named, found = after[table]
        # Columns that came later stand behind the old ones.
        assert named[: len(columns)] == columns
        assert [row[: len(columns)] for row in found] == rows, table


@each_opened
def test_plans_of_an_older_book_say_the_same(name: str, place: Path) -> None:
    told = json.loads((unpacked(name, place) / "told.json").read_text(encoding="utf-8"))
    assert told[HALL]["hall"]["state"] == "stopped"
    assert {job_id: facts_of(job_id) for job_id in (HALL, KITCHEN)} == told
    code, said = run_at(LEFT_AT, "jobs")
    assert code == 1, said
    assert "stopped" in said


@each_opened
def test_an_older_book_goes_on_sending_and_repeats_nothing(name: str, place: Path) -> None:
    unpacked(name, place)
    assert run_at(SAME_HOUR, "remind", "resume")[0] == 0
    code, said = run_at(SAME_HOUR, "remind", "send", "--instead", "console")
    assert (code, said.splitlines()[-1]) == (0, "0 messages sent.")
    assert run_at(NEXT_NOON, "remind", "resume")[0] == 0
    code, said = run_at(NEXT_NOON, "remind", "send", "--instead", "file:later")
    # The kitchen's day had moved, which its owner is told the next day, once.
    assert (code, said.splitlines()[-1]) == (0, "1 message sent."), said
    (mail,) = (place / "later").iterdir()
    assert b"To: Mette Rosing <mette@hjem.example>" in mail.read_bytes()


@each_opened
def test_calendars_of_an_older_book_never_go_back(name: str, place: Path) -> None:
    unpacked(name, place)
    with closing(sqlite3.connect("book.sqlite3")) as book:
        before = dict(book.execute("SELECT uid, sequence FROM published WHERE job_id = ?", [HALL]))
    run_at(SAME_HOUR, "calendars", "write", HALL, "calendars")
    after = sequences(place / "calendars")
    assert before
    assert set(after) >= set(before)
    assert all(after[uid] in (number, number + 1) for uid, number in before.items())


@each_opened
def test_the_ledger_beside_a_lone_file_goes_on(name: str, place: Path) -> None:
    unpacked(name, place)
    before = sequences(place / "lone" / "calendars")
    assert run_at(SAME_HOUR, "calendars", "write", "lone/job.toml", "lone/calendars")[0] == 0
    after = sequences(place / "lone" / "calendars")
    assert before
    assert set(after) >= set(before)
    assert all(after[uid] in (number, number + 1) for uid, number in before.items())


@pytest.mark.parametrize("name", KEPT)
def test_an_export_of_any_form_comes_back(name: str, place: Path) -> None:
    told = json.loads((unpacked(name, place) / "told.json").read_text(encoding="utf-8"))
    (place / "book.sqlite3").unlink()
    code, said = run_at(LEFT_AT, "book", "restore", "export")
    assert code == 0, said
    found = facts_of(HALL)
    # The oldest program knew no visits by the day: days may be later by now, and never earlier.
    assert found["hall"]["state"] == told[HALL]["hall"]["state"]
    assert found["hall"]["owner_date"] >= told[HALL]["hall"]["owner_date"]


def test_a_book_from_before_the_first_form_is_refused_with_the_way(place: Path) -> None:
    book = unpacked("0003", place) / "book.sqlite3"
    kept = book.read_bytes()
    for words in (("book", "list"), ("remind", "send", "--instead", "console"), ("jobs",)):
        code, said = run_at(LEFT_AT, *words)
        assert code == 6
        assert "curecal book export ID DIR" in said
        assert "curecal book restore DIR" in said
    assert book.read_bytes() == kept
