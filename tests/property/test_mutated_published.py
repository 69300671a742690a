"""What was published and kept, with something changed in it: the same again, or a refusal.

A ledger, a folder of calendars and an export are no files of a person: what differs in them was
never written, and must not be taken for what was.
"""

from __future__ import annotations

import json
import random
import shutil
import uuid
from collections import Counter
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest
from file_mutations import count_of, drawn, spoil_lines, spoil_octets, spoil_value, spoil_value_of
from icalendar import Calendar
from job_samples import JOB_ID, READINGS, folder_of, plan_of, planned, publish, readings_entry

from curecal.book.connection.open_book import Book, book_url, open_book
from curecal.book.export_restore.export import export_job
from curecal.book.export_restore.restore import restore_job
from curecal.book.jobs.import_job import add_job, append_entries
from curecal.book.jobs.jobs import read_job_of_book, revisions_of
from curecal.book.jobs.log_entries import entries_of
from curecal.book.ledger.ledger import history_of
from curecal.cli.main import INTERNAL, code_of_run
from curecal.delivery.ledger_file import LedgerFile
from curecal.errors import CurecalError

if TYPE_CHECKING:
    from collections.abc import Iterator

ROOT = Path(__file__).parents[2]
AS_OF = "2026-11-20T12:00"
WRITE = ("calendars", "write", "job.toml", "calendars", "--as-of", AS_OF)
BATHROOM = "alder-lane-hall-bath"
NOW = datetime.fromisoformat("2026-12-02T20:00:00+00:00")


@pytest.fixture(scope="module")
def shown(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Give a folder with a job, its ledger and its calendars."""
    folder = tmp_path_factory.mktemp("shown")
    # The ledger's id is drawn: with another one other places would be changed.
    shutil.copytree(ROOT / "examples" / "bathroom", folder, dirs_exist_ok=True)
    with pytest.MonkeyPatch.context() as patch:
        patch.chdir(folder)
        patch.setattr("curecal.delivery.ledger_file.uuid.uuid4", lambda: uuid.UUID(int=7))
        assert code_of_run(list(WRITE)) == 0
    return folder


def spoil(data: bytes, draw: random.Random) -> bytes:
    """Return a file with a value, a line or octets of it changed."""
    kind = draw.randrange(3)
    if kind == 0:
        return spoil_octets(data, draw)
    if kind == 1:
        return spoil_lines(data.decode(), draw).encode()
    return spoil_value_of(data, draw)


def test_a_mutated_ledger_is_the_same_or_refused(shown: Path) -> None:
    ledger = LedgerFile(shown / "job.toml")
    whole = ledger.path.read_bytes()
    known, draw = ledger.history(BATHROOM), drawn("ledger")
    ends: Counter[str] = Counter()
    assert len(known.revisions) > 3
    try:
        for number in range(count_of("ledger")):
            data = spoil(whole, draw)
            ledger.path.write_bytes(data)
            try:
                found = ledger.history(BATHROOM)
            except CurecalError:
                ends["refused"] += 1
                continue
            assert json.loads(data) == json.loads(whole), (number, data)
            assert (found.revisions, found.rests_on) == (known.revisions, known.rests_on), number
            assert (found.first, found.ledger_id) == (known.first, known.ledger_id), number
            ends["read"] += 1
    finally:
        ledger.path.write_bytes(whole)
    assert ends["refused"] > ends["read"]


_SHOWN = ("SUMMARY", "DESCRIPTION", "LOCATION", "STATUS")


def said_in(data: bytes) -> dict[str, tuple[object, ...]]:
    """Return what people read in each event of a calendar, as another program reads it.

    Raises:
        ValueError: No other program reads it.
    """
    try:
        calendar = Calendar.from_ical(data)
        return {
            str(event["UID"]): (
                *(" ".join(str(event.get(name)).split()) for name in _SHOWN),
                event["DTSTART"].dt,
                event["DTEND"].dt if "DTEND" in event else None,
            )
            for event in calendar.walk("VEVENT")
        }
    except (KeyError, AttributeError, TypeError) as error:
        raise ValueError from error


def is_changed(data: bytes, whole: bytes) -> bool:
    """Return whether a person reads something else in an event; not if nobody can read it."""
    try:
        found, known = said_in(data), said_in(whole)
    except ValueError:
        return False
    return any(uid in known and known[uid] != said for uid, said in found.items())


def sequences_in(data: bytes) -> dict[str, int]:
    """Return the SEQUENCE of each event of a calendar."""
    events = Calendar.from_ical(data).walk("VEVENT")
    return {str(event["UID"]): int(event["SEQUENCE"]) for event in events}


def spoil_calendar(data: bytes, draw: random.Random) -> bytes:
    """Return a calendar with a line, a value after a colon, or octets changed."""
    kind = draw.randrange(4)
    if kind == 0:
        return spoil_octets(data, draw)
    if kind == 1:
        return spoil_lines(data.decode(), draw).encode()
    lines = data.decode().split("\r\n")
    at = draw.choice([at for at, line in enumerate(lines) if ":" in line])
    name, _, value = lines[at].partition(":")
    lines[at] = f"{name}:{spoil_value(value, draw)}"
    return "\r\n".join(lines).encode("utf-8", "replace")


def test_a_mutated_calendar_is_put_right_or_refused(
    shown: Path,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    capfd: pytest.CaptureFixture[str],
) -> None:
    draw = drawn("calendar folder")
    ends: Counter[str] = Counter()
    folder = tmp_path / "site"
    for number in range(count_of("calendar folder")):
        shutil.copytree(shown, folder)
        monkeypatch.chdir(folder)
        file = draw.choice(sorted((folder / "calendars").glob("*.ics")))
        whole = file.read_bytes()
        data = spoil_calendar(whole, draw)
        file.write_bytes(data)
        code = code_of_run(list(WRITE))
        said = capfd.readouterr()
        about = (number, file.name, code, said.err[-300:], data)
        assert code != INTERNAL, about
        assert "Traceback" not in said.err, about
        if code != 0:
            # What was not understood stays as it was, for whoever has to look.
            assert file.read_bytes() == data, about
            ends["refused"] += 1
        else:
            after = file.read_bytes()
            assert said_in(after) == said_in(whole), about
            was = sequences_in(whole)
            assert all(one >= was[uid] for uid, one in sequences_in(after).items()), about
            kept = [path.read_bytes() for path in (folder / "calendars").iterdir()]
            assert not is_changed(data, whole) or data in kept, about
            ends["put right"] += 1
        shutil.rmtree(folder)
    assert ends["put right"] > 0


@pytest.fixture(scope="module")
def exported(tmp_path_factory: pytest.TempPathFactory) -> Iterator[tuple[Path, dict[str, Any]]]:
    """Give an export of a job with readings, revisions and published calendars."""
    folder = tmp_path_factory.mktemp("exported")
    path = folder_of(folder, more=readings_entry())
    csv = path.parent / "job.readings" / "hall.csv"
    csv.parent.mkdir()
    csv.write_bytes(READINGS)
    with open_book(book_url(str(folder / "book.sqlite3"))) as book:
        add_job(book, path, now=NOW)
        fact = {"id": "n-1", "at": NOW, "kind": "note", "text": "größer\n„…“"}
        append_entries(book, JOB_ID, [fact], source="note", now=NOW)
        publish(book, planned(book))
        export_job(book, JOB_ID, folder / "out")
        yield folder / "out", everything(book)


def everything(book: Book) -> dict[str, Any]:
    """All that two books have to agree in."""
    with book.reading() as connection:
        return {
            "plan": plan_of(read_job_of_book(book, JOB_ID)),
            "revisions": revisions_of(connection, JOB_ID),
            "entries": entries_of(connection, JOB_ID),
            "published": history_of(connection, JOB_ID).revisions,
        }


def test_a_mutated_export_is_restored_whole_or_refused(
    exported: tuple[Path, dict[str, Any]], tmp_path: Path
) -> None:
    out, whole = exported
    draw = drawn("book export")
    ends: Counter[str] = Counter()
    names = sorted(path.relative_to(out) for path in out.rglob("*") if path.is_file())
    template = tmp_path / "empty.sqlite3"
    open_book(book_url(str(template))).close()
    for number in range(count_of("book export")):
        folder = tmp_path / "export"
        shutil.copytree(out, folder)
        file = folder / draw.choice(names)
        as_text = file.suffix in {".json", ".toml"}
        original = file.read_bytes()
        file.write_bytes((spoil if as_text else spoil_octets)(original, draw))
        place = shutil.copy(template, tmp_path / "book.sqlite3")
        with open_book(book_url(str(place))) as book:
            try:
                restore_job(book, folder)
            except CurecalError:
                ends["refused"] += 1
            else:
                assert everything(book) == whole, (number, file.name, file.read_bytes())
                ends["restored"] += 1
        shutil.rmtree(folder)
    assert ends["refused"] > ends["restored"]
