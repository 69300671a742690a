"""`curecal visits`: all jobs of a book in one list."""

from __future__ import annotations

import json
import shutil
from dataclasses import replace
from pathlib import Path

import pytest

from curecal.book.connection.open_book import Book
from curecal.book.jobs import jobs
from curecal.cli.main import code_of_run
from curecal.job_files import ReadJob

ROOT = Path(__file__).parents[3]
AS_OF = "2026-12-02 20:00"


@pytest.fixture
def book(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A book with two bathrooms, and one electrician at both in the same hours."""
    monkeypatch.setenv("CURECAL_BOOK", str(tmp_path / "b.sqlite"))
    monkeypatch.chdir(tmp_path)
    for number, hour in (("1", "09:00"), ("2", "10:00")):
        path = tmp_path / f"bath-{number}.toml"
        shutil.copy(ROOT / "examples" / "bathroom" / "job.toml", path)
        text = path.read_text("utf-8").replace("alder-lane-hall-bath", f"bath-{number}")
        text = text.replace("Alder Lane, hall bath", f"Alder Lane {number}")
        text += (
            '\n[[log]]\nat = 2026-12-01T12:00:00\nkind = "visit"\nby = "Robin Mistral"\n'
            'visit = "v"\nfor = "test and connect"\nstate = "booked"\n'
            f"start = 2026-12-14T{hour}:00\nend = 2026-12-14T12:00:00\n"
        )
        path.write_text(text, "utf-8")
    return tmp_path


def said(capsys: pytest.CaptureFixture[str], *arguments: str, code: int = 0) -> str:
    assert code_of_run(list(arguments)) == code
    found = capsys.readouterr()
    return found.out + found.err


def test_the_visits_of_a_book_with_who_is_booked_twice(
    book: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    for path in sorted(book.glob("bath-*.toml")):
        said(capsys, "book", "add", str(path))
    shown = " ".join(said(capsys, "visits", "--as-of", AS_OF).split())
    assert "Alder Lane 1: final test and connection: Mon 14 Dec, 09:00" in shown
    assert "is booked at Alder Lane 2, Mon 14 Dec, 10:00, too" in shown
    assert "Alder Lane 1: switch on: to book, from" in shown
    narrow = said(capsys, "visits", "--as-of", AS_OF, "--width", "40").splitlines()
    assert max(map(len, narrow)) <= 40
    found = json.loads(said(capsys, "visits", "--as-of", AS_OF, "--json"))
    booked = [row for row in found["visits"] if row["start"]]
    assert [row["clashes"][0]["job_id"] for row in booked] == ["bath-2", "bath-1"]
    assert booked[0]["start"] == "2026-12-14T13:00:00Z"
    assert booked[0]["state"] == "booked"
    assert found["unread"] == []


def test_a_visit_that_is_owed_names_one_instant(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setenv("CURECAL_BOOK", str(tmp_path / "b.sqlite"))
    said(capsys, "book", "add", str(ROOT / "examples" / "screed-before-tiling" / "job.toml"))
    shown = " ".join(said(capsys, "visits", "--as-of", "2026-11-30T00:00-04:00").split())
    assert "to book, for Mon 30 Nov, 07:00: the next step waits for it" in shown
    assert "07:00 to Mon 30 Nov, 07:00" not in shown


def test_a_job_with_mistakes_is_named_and_silences_no_other(
    book: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    said(capsys, "book", "add", str(book / "bath-1.toml"))
    said(capsys, "book", "add", str(book / "bath-2.toml"))
    read = jobs.read_job_of_book

    def damaged(book: Book, job_id: str) -> ReadJob:
        found = read(book, job_id)
        return replace(found, job=None) if job_id == "bath-1" else found

    monkeypatch.setattr(jobs, "read_job_of_book", damaged)
    shown = said(capsys, "visits", "--as-of", AS_OF)
    assert "bath-1: the job has mistakes" in shown
    assert "Alder Lane 2: final test" in shown


def test_a_book_without_jobs_has_no_visits(
    book: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    said(capsys, "book", "add", str(book / "bath-1.toml"))
    monkeypatch.setattr("curecal.book.jobs.jobs.list_jobs", lambda _: ())
    assert "No visits" in said(capsys, "visits")


def test_one_calendar_a_person_over_the_book(
    book: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    for path in sorted(book.glob("bath-*.toml")):
        said(capsys, "book", "add", str(path))
    (book / "out").mkdir()
    (book / "out" / "robin-mistral.ics").write_text("mine", "utf-8")
    asked = ("calendars", "people", "out", "--as-of", AS_OF)
    assert "kept as" in said(capsys, *asked)
    text = (book / "out" / "robin-mistral.ics").read_text("utf-8")
    assert "Alder Lane 1" in text
    assert "Alder Lane 2" in text
    before = (book / "out" / "robin-mistral.ics").read_bytes()
    found = json.loads(said(capsys, *asked, "--json"))
    assert "Robin Mistral" in [one["name"] for one in found["files"]]
    assert found["kept"] == []
    # Nothing has changed: the same octets again.
    assert (book / "out" / "robin-mistral.ics").read_bytes() == before
    files = [str(path) for path in sorted((book / "out").glob("*.ics"))]
    said(capsys, "calendars", "check", *files)
    (book / "out" / "robin-mistral.ics").unlink()
    (book / "out" / "robin-mistral.ics").mkdir()
    assert "not a file" in said(capsys, *asked, code=3)


def test_a_book_without_people_writes_no_calendar(
    book: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    said(capsys, "book", "add", str(book / "bath-1.toml"))
    monkeypatch.setattr("curecal.book.jobs.jobs.list_jobs", lambda _: ())
    assert "Nobody to write for" in said(capsys, "calendars", "people", "out")


def test_jobs_of_one_name_are_told_apart_wherever_they_are_listed(
    book: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    for path in sorted(book.glob("bath-*.toml")):
        text = path.read_text("utf-8")
        path.write_text(text.replace("Alder Lane 1", "Alder Lane 2"), "utf-8")
        said(capsys, "book", "add", str(path))
    shown = " ".join(said(capsys, "visits", "--as-of", AS_OF).split())
    assert "Alder Lane 2 (bath-1): final test and connection: Mon 14 Dec, 09:00" in shown
    assert "is booked at Alder Lane 2 (bath-2), Mon 14 Dec, 10:00, too" in shown
    listed = said(capsys, "jobs", "--as-of", AS_OF)
    assert "(bath-1)" in listed
    assert "(bath-2)" in listed
    assert "Alder Lane 2 (bath-2) is on hold" in " ".join(
        said(capsys, "remind", "pause", "bath-2").split()
    )


def test_two_jobs_named_at_once_are_refused(book: Path, capsys: pytest.CaptureFixture[str]) -> None:
    for path in sorted(book.glob("bath-*.toml")):
        said(capsys, "book", "add", str(path))
    for name in ("pause", "resume", "list", "due"):
        told = said(capsys, "remind", name, "bath-1", "--job", "bath-2", code=2)
        assert "Two jobs are named" in told
    assert "on hold" not in said(capsys, "remind", "status")
