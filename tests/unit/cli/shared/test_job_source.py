"""Every command that takes a job file takes a job of the book by its id."""

from __future__ import annotations

import json
import shutil
from pathlib import Path

import pytest

from curecal.cli.main import code_of_run

ROOT = Path(__file__).parents[4]
EXAMPLE = ROOT / "examples" / "bathroom" / "job.toml"
ID = "alder-lane-hall-bath"
AS_OF = "2026-11-10T08:00"


def said(capsys: pytest.CaptureFixture[str], *arguments: str, code: int = 0) -> str:
    assert code_of_run(list(arguments)) == code, arguments
    found = capsys.readouterr()
    return found.out + found.err


@pytest.mark.parametrize(
    "arguments",
    [
        ("plan", "JOB", "--json", "--as-of", AS_OF),
        ("explain", "JOB", "--json", "--as-of", AS_OF),
        ("log", "JOB", "--json"),
        ("remind", "simulate", "JOB", "--json", "--as-of", AS_OF),
    ],
)
def test_the_id_says_what_the_file_says(book: Path, capsys, arguments: tuple[str, ...]) -> None:
    del book
    by_id = said(capsys, *(ID if each == "JOB" else each for each in arguments))
    by_file = said(capsys, *(str(EXAMPLE) if each == "JOB" else each for each in arguments))
    assert json.loads(by_id) == json.loads(by_file)


@pytest.mark.parametrize(
    "named", ["Alder Lane, hall bath", "alder lane,  HALL bath", "ALDER-LANE-HALL-BATH"]
)
def test_a_job_goes_by_its_name_too(book: Path, capsys, named: str) -> None:
    del book
    by_id = said(capsys, "plan", ID, "--json", "--as-of", AS_OF)
    assert said(capsys, "plan", named, "--json", "--as-of", AS_OF) == by_id
    told = said(capsys, "note", named, "air", "air=64 °F", "--zone", "hall bath")
    assert f"Added to {ID} as" in told
    shown = said(capsys, "book", "show", ID)
    assert said(capsys, "book", "show", named) == shown
    assert said(capsys, "book", "history", named) == said(capsys, "book", "history", ID)
    said(capsys, "book", "export", named, "out")


def test_a_name_that_two_jobs_have_is_no_name(book: Path, tmp_path: Path, capsys) -> None:
    del book
    text = EXAMPLE.read_text(encoding="utf-8").replace(f'id = "{ID}"', 'id = "other"', 1)
    shutil.copytree(ROOT / "config", tmp_path / "config", dirs_exist_ok=True)
    (tmp_path / "jobs").mkdir()
    (tmp_path / "jobs" / "two.toml").write_text(text, encoding="utf-8")
    said(capsys, "book", "add", "jobs/two.toml")
    refused = said(capsys, "plan", "Alder Lane, hall bath", code=6)
    assert 'Several jobs of the book are called "Alder Lane, hall bath".' in refused
    said(capsys, "plan", "other", "--as-of", AS_OF)


def test_no_answer_names_a_file_that_nobody_made(book: Path, capsys) -> None:
    del book
    test = ("resistance", "stage=before connection", "conductor=90 Ω", "--zone", "hall bath")
    told = said(capsys, "note", ID, *test)
    told += said(capsys, "plan", ID, "--full")
    told += said(capsys, "explain", ID)
    assert "log entry e-" in told
    for file in ("further log", "job-book", "log-of-the-command", ".toml"):
        assert file not in told


def test_a_fact_goes_into_the_book_and_no_file(book: Path, tmp_path: Path, capsys) -> None:
    before = EXAMPLE.read_bytes()
    told = said(capsys, "note", ID, "air", "air=64 °F", "--zone", "hall", "--by", "Robin Mistral")
    assert f"Added to {ID} as" in told
    assert "64 °F" in said(capsys, "log", ID)
    assert EXAMPLE.read_bytes() == before
    assert {path.name.partition(".")[0] for path in tmp_path.iterdir()} == {book.stem}
    assert "64 °F" in said(capsys, "log", ID, "--book", str(book))
    refused = said(capsys, "note", ID, "air", "air=64 °F", "--into", "x.toml", code=2)
    assert "Leave --into out" in refused


def test_readings_go_into_the_book_once(book: Path, tmp_path: Path, capsys) -> None:
    del book
    shutil.copy(ROOT / "tests" / "files_of_loggers" / "warm_van.csv", tmp_path / "van.csv")
    told = said(capsys, "readings", "van.csv", "--into", ID, "--zone", "hall")
    assert f"Added to {ID}: 90 readings" in told
    assert "They are kept in the book" in told
    again = said(capsys, "readings", "van.csv", "--into", ID, "--zone", "hall")
    assert "Added to" not in again
    listed = json.loads(said(capsys, "log", ID, "--kind", "readings", "--json"))
    assert len(listed["entries"]) == 1


def test_the_book_keeps_the_history_of_its_calendars(book: Path, tmp_path: Path, capsys) -> None:
    del book
    folder = tmp_path / "calendars"
    write = ("calendars", "write", ID, str(folder), "--as-of")
    said(capsys, *write, AS_OF)
    first = {path.name: path.read_bytes() for path in folder.glob("*.ics")}
    assert len(first) == 3
    shutil.rmtree(folder)
    told = said(capsys, *write, "2026-11-11T08:00")
    assert "new" not in told
    assert {path.name: path.read_bytes() for path in folder.glob("*.ics")} == first


def test_a_history_from_before_the_book_is_taken_over(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys
) -> None:
    monkeypatch.setenv("CURECAL_BOOK", str(tmp_path / "book.sqlite"))
    folder = tmp_path / "calendars"
    job = tmp_path / "job.toml"
    shutil.copy(EXAMPLE, job)
    said(capsys, "calendars", "write", str(job), str(folder), "--as-of", AS_OF)
    text = job.read_text("utf-8").replace('air = "66 °F"', 'air = "63 °F"')
    job.write_text(text, "utf-8")
    said(capsys, "calendars", "write", str(job), str(folder), "--as-of", "2026-11-11T08:00")
    said(capsys, "book", "add", str(job))
    told = said(capsys, "calendars", "write", ID, str(folder), "--as-of", "2026-11-12T08:00")
    assert "new" not in told
    assert b"SEQUENCE:1\r\n" in (folder / "crew.ics").read_bytes()


def test_a_job_that_is_not_there_is_named(book: Path, tmp_path: Path, capsys) -> None:
    del book
    assert 'There is no job "nosuch" in the book' in said(capsys, "plan", "nosuch", code=6)
    assert "none.toml" in said(capsys, "plan", "none.toml", code=3)
    assert "nosuch" in said(capsys, "plan", str(tmp_path / "nosuch"), code=3)


def test_without_a_book_a_plain_word_is_a_file(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys
) -> None:
    monkeypatch.delenv("CURECAL_BOOK", raising=False)
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path))
    assert "nosuch" in said(capsys, "plan", "nosuch", code=3)


def test_of_jobs_with_one_name_the_ids_and_the_file_name_one(
    book: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    other = book.with_name("other.toml")
    other.write_text(EXAMPLE.read_text("utf-8").replace(ID, "another-one"), "utf-8")
    said(capsys, "book", "add", str(other))
    text = said(capsys, "plan", "Alder Lane, hall bath", code=6)
    assert f"Name one by its id: {ID}, another-one." in " ".join(text.split())
    # Its file names one of them, here as everywhere.
    assert "another-one" in said(capsys, "book", "show", "other.toml")
    assert "another-one" in said(capsys, "remind", "pause", "other.toml")
