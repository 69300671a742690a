"""The files of an export: planned with alone, edited, broken off, and for their owner alone."""

from __future__ import annotations

import resource
import tempfile
from typing import TYPE_CHECKING

import pytest
from book_samples import NOW
from job_samples import JOB_ID, folder_of, plan_of

from curecal.book.connection.open_book import Book, book_url, open_book
from curecal.book.export_restore.export import CONTENT, MANIFEST, UNFINISHED, export_job
from curecal.book.export_restore.restore import restore_job
from curecal.book.jobs.import_job import add_job, append_entries
from curecal.book.jobs.job_file_export import whole_job
from curecal.book.jobs.job_sources import readings_laid_out
from curecal.book.jobs.jobs import read_job_of_book
from curecal.errors import BookError, SourceError
from curecal.job_files import read_job
from curecal.toml_files.toml_source import loads

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

STOPPED = {
    "id": "s",
    "at": NOW,
    "kind": "stopped",
    "cause": "other",
    "zone": "hall",
    "reason": "smells burnt",
}


@pytest.fixture
def other(tmp_path: Path) -> Iterator[Book]:
    with open_book(book_url(str(tmp_path / "other.sqlite3"))) as opened:
        yield opened


@pytest.fixture
def out(book: Book, tmp_path: Path) -> Path:
    """An export of a job that a command stopped: its file of that day knows of no stop."""
    add_job(book, folder_of(tmp_path), now=NOW)
    append_entries(book, JOB_ID, [STOPPED], source="note", now=NOW)
    return export_job(book, JOB_ID, tmp_path / "out").folder


def test_the_job_file_alone_knows_of_the_stop(book: Book, out: Path) -> None:
    read = read_job(out / "job.toml")
    assert [each.id for each in read.log][-1] == "s"
    assert plan_of(read) == plan_of(read_job_of_book(book, JOB_ID))
    # Read again into a book it brings nothing that was not there.
    assert add_job(book, out / "job.toml", now=NOW).new_entry_count == 0


def test_only_the_owner_may_read_an_export(out: Path) -> None:
    for path in (out, *out.rglob("*")):
        assert path.stat().st_mode & 0o077 == 0, path


@pytest.mark.parametrize("name", ["job.toml", "company/below/company.toml"])
def test_an_edited_file_is_not_lost_without_a_word(out: Path, other: Book, name: str) -> None:
    path = out / name
    path.write_text(path.read_text("utf-8") + "\n# colder\n", "utf-8")
    with pytest.raises(BookError) as caught:
        restore_job(other, out)
    assert (caught.value.code, caught.value.params["path"]) == ("book-export-edited", str(path))
    path.unlink()
    (out / "letter.txt").touch()
    assert restore_job(other, out).job_id == JOB_ID


def test_an_export_that_was_broken_off_says_so(book: Book, out: Path) -> None:
    (out / MANIFEST).rename(out / UNFINISHED)
    with pytest.raises(BookError) as caught:
        export_job(book, JOB_ID, out)
    assert caught.value.code == "book-export-unfinished"


def test_an_export_that_failed_leaves_an_empty_folder(book: Book, tmp_path: Path) -> None:
    path = folder_of(tmp_path, more="# " + "x" * 20_000 + "\n")
    add_job(book, path, now=NOW)
    folder = tmp_path / "out"
    before = resource.getrlimit(resource.RLIMIT_FSIZE)
    with book.reading():
        # As on a full disk: no file may grow past this.
        resource.setrlimit(resource.RLIMIT_FSIZE, (16_384, before[1]))
        try:
            with pytest.raises(BookError) as caught:
                export_job(book, JOB_ID, folder)
        finally:
            resource.setrlimit(resource.RLIMIT_FSIZE, before)
    assert caught.value.code == "book-export-unwritable"
    assert list(folder.iterdir()) == []
    assert (export_job(book, JOB_ID, folder).folder / CONTENT).is_dir()


def test_no_room_for_temporary_files_is_said(
    book: Book, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    add_job(book, folder_of(tmp_path), now=NOW)
    monkeypatch.setattr(tempfile, "tempdir", str(tmp_path / "gone"))
    # Only what loggers read is laid out to be read again.
    assert read_job_of_book(book, JOB_ID).job is not None
    with pytest.raises(SourceError) as caught, readings_laid_out({"job.readings/a.csv": b"1"}):
        pass
    assert caught.value.code == "laid-out-unwritable"


JOB = '[job]\nname = "A"\ncompany = "../c.toml" # ours\n[expected]\ncompany = "x"\n'


@pytest.mark.parametrize(
    "text",
    [
        JOB,
        JOB.replace("\n", "\r\n"),
        JOB.rstrip("\n"),
        "\ufeff" + JOB,
        JOB.replace('"../c.toml"', "'..\\c.toml'"),
        JOB.replace('company = "../c.toml" # ours\n', ""),
        JOB.replace("[job]", " [ job ] # this"),
        JOB + '[[log]]\nid = "a"\nkind = "note"\n',
    ],
)
def test_a_job_file_takes_its_log_and_company_in(text: str) -> None:
    tables = [{"id": "a", "kind": "note"}, STOPPED]
    made = whole_job(text.encode(), tables, company="company/company.toml")
    assert made is not None
    found = loads(made, "job.toml")
    assert found["job"] == {"name": "A", "company": "company/company.toml"}
    assert found["expected"] == {"company": "x"}
    assert found["log"] == tables


@pytest.mark.parametrize(
    "text",
    [
        'log = [{ id = "b", kind = "note" }]\n' + JOB,
        'job = { name = "A" }\n',
        'job.name = "A"\n',
        JOB.replace('"../c.toml"', '"""\n../c.toml"""'),
        JOB + "#" * (1 << 20),
    ],
)
def test_a_form_without_room_for_it_is_left_as_it_is(text: str) -> None:
    if len(text) > 1 << 20:
        text = text[: (1 << 20) - 10]
    assert whole_job(text.encode(), [STOPPED], company="company/company.toml") is None


def test_a_job_file_that_lacks_nothing_stays_as_it_was() -> None:
    text = JOB + '[[log]]\nid = "a"\nkind = "note"\n'
    assert whole_job(text.encode(), [{"id": "a", "kind": "note"}]) == text.encode()
