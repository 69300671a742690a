"""What a job is read from: readings beside it, a log in several files, nothing outside a folder."""

from __future__ import annotations

import os
from datetime import timedelta
from typing import TYPE_CHECKING, Any

import pytest
from book_samples import NOW
from job_samples import COMPANY, JOB_FILE, JOB_ID, MATERIALS, READINGS, folder_of

from curecal.book.jobs import job_sources as sources
from curecal.book.jobs.import_job import add_job, append_entries
from curecal.book.jobs.job_sources import Sources, gather, lay_out, readings_beside, sha256
from curecal.book.jobs.jobs import list_jobs, read_in, read_job_of_book, read_laid_out
from curecal.book.jobs.log_entries import entries_of
from curecal.errors import BookError, SourceError
from curecal.job_files import read_job

if TYPE_CHECKING:
    from pathlib import Path

    from curecal.book.connection.open_book import Book


def entry(name: object, **more: object) -> dict[str, Any]:
    return {"kind": "readings", "file": name, **more}


def refused(path: Path, *tables: dict[str, Any]) -> BookError:
    with pytest.raises(BookError) as caught:
        readings_beside(path, tables)
    return caught.value


def test_readings_beside_the_job_are_found_by_the_log(tmp_path: Path) -> None:
    (tmp_path / "a.csv").write_bytes(READINGS)
    path = tmp_path / "job.toml"
    tables = [entry("a.csv", sha256=sha256(READINGS)), {"kind": "photo", "file": "b.jpg"}]
    assert readings_beside(path, tables) == {"a.csv": READINGS}
    assert readings_beside(path, [entry("gone.csv")]) == {}


def test_changed_readings_are_refused(tmp_path: Path) -> None:
    (tmp_path / "a.csv").write_bytes(READINGS + b"\n")
    error = refused(tmp_path / "job.toml", entry("a.csv", sha256=sha256(READINGS)))
    assert error.code == "book-readings-changed"


@pytest.mark.parametrize(
    "name",
    [
        "",
        "../a.csv",
        "a/../../b.csv",
        "/a.csv",
        "..\\a.csv",
        "C:\\a.csv",
        "\\\\server\\a.csv",
        "job.toml",
        "job-book-2.toml",
        "company/x.csv",
        "a\0.csv",
    ],
)
def test_readings_outside_or_in_the_place_of_ours_are_refused(tmp_path: Path, name: str) -> None:
    assert refused(tmp_path / "job.toml", entry(name)).code == "book-readings-elsewhere"
    with pytest.raises(BookError):
        lay_out(tmp_path, Sources(job=b"", series={name: b""}), [])


def test_readings_too_large_are_refused(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(sources, "_LARGEST_READINGS_BYTES", len(READINGS))
    (tmp_path / "a.csv").write_bytes(READINGS)
    assert readings_beside(tmp_path / "job.toml", [entry("a.csv")])
    (tmp_path / "a.csv").write_bytes(READINGS + b"\n")
    assert refused(tmp_path / "job.toml", entry("a.csv")).code == "book-readings-large"


def test_a_file_that_cannot_be_read_is_named(tmp_path: Path) -> None:
    path = folder_of(tmp_path)
    (tmp_path / "config" / "company.toml").unlink()
    (tmp_path / "config" / "company.toml").mkdir()
    with pytest.raises(SourceError) as caught:
        gather(path)
    assert str(caught.value.params["path"]).endswith("company.toml")


@pytest.mark.parametrize(
    "named", ["materials.toml", "lists/m.toml", "../m.toml", "../../../m.toml", "a/../../b/m.toml"]
)
def test_files_lie_as_they_name_each_other_and_inside(tmp_path: Path, named: str) -> None:
    company = COMPANY.replace("../shared/materials.toml", named).encode()
    made = Sources(job=JOB_FILE.encode(), company=company, materials=MATERIALS.encode())
    folder = tmp_path / "out"
    laid = lay_out(folder, made, [])
    assert laid.logs == ()
    assert read_job(laid.job, company=laid.company).job is not None
    inside = {os.path.realpath(each) for each in tmp_path.rglob("*.toml")}
    assert len(inside) == 3
    assert all(each.startswith(str(folder)) for each in inside)


def test_an_entry_that_was_never_understood_stays_with_its_withdrawal(
    book: Book, tmp_path: Path
) -> None:
    path = folder_of(
        tmp_path,
        more='[[log]]\nid = "odd"\nat = 2026-11-24T08:00:00Z\nkind = "air"\nair = "20"\n'
        '[[log]]\nid = "none"\nat = "soon"\nkind = "air"\nair = "20 °C"\n'
        '[[log]]\nid = "c"\nat = 2026-11-24T09:00:00Z\nkind = "correction"\nof = "odd"\n'
        'withdrawn = true\nby = "Robin Example"\n'
        '[[log]]\nid = "d"\nat = 2026-11-24T09:00:00Z\nkind = "correction"\nof = "none"\n'
        'withdrawn = true\nby = "Robin Example"\n',
    )
    add_job(book, path, now=NOW)
    with book.reading() as connection:
        dates = {each.entry_id: each.at for each in entries_of(connection, JOB_ID)}
    assert NOW - dates["odd"] == timedelta(days=9, hours=4)
    assert dates["none"] == NOW
    assert read_job_of_book(book, JOB_ID).log == read_job(path).log


def test_a_revision_that_is_not_there_is_refused(book: Book, tmp_path: Path) -> None:
    add_job(book, folder_of(tmp_path), now=NOW)
    with book.reading() as connection, pytest.raises(BookError) as caught:
        read_in(connection, JOB_ID, number=2)
    assert caught.value.code == "book-job-unknown"


def test_readings_that_the_book_has_otherwise_are_refused(book: Book, tmp_path: Path) -> None:
    path = folder_of(tmp_path)
    add_job(book, path, now=NOW)
    fact = {
        "id": "r",
        "at": NOW,
        "kind": "readings",
        "file": "gone.csv",
        "sha256": sha256(READINGS),
    }
    with pytest.raises(Exception, match=r"readings|refused"):
        append_entries(book, JOB_ID, [fact], source="note", now=NOW)
    with book.reading() as connection:
        assert list_jobs(connection)[0].entry_count == 2


@pytest.mark.parametrize("found", [{}, {"a.csv": READINGS}, {"b.csv": READINGS}])
def test_a_job_read_from_memory_is_the_one_that_its_files_say(
    tmp_path: Path, found: dict[str, bytes]
) -> None:
    more = (
        '\n[[log]]\nid = "r"\nat = 2026-11-24T08:00:00Z\nkind = "readings"\nzone = "hall"\n'
        f'file = "a.csv"\nsha256 = "{sha256(READINGS)}"\nby = "Robin Example"\n'
    )
    made = Sources(
        job=(JOB_FILE + more).encode(),
        company=COMPANY.encode(),
        materials=MATERIALS.encode(),
        series=found,
    )
    laid = lay_out(tmp_path / "out", made, [])
    read = read_laid_out(made, [])
    assert read == read_job(laid.job, company=laid.company)
    # Lost readings hold the floor, also where the book has none at all.
    codes = [finding.code for finding in read.findings]
    assert ("readings-file-missing" in codes) == ("a.csv" not in found)
