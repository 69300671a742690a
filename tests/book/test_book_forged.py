"""An export that somebody forged with the program's own hashes: nothing is written outside."""

from __future__ import annotations

import json
import os
import sys
from typing import TYPE_CHECKING, Any

import pytest
from book_samples import NOW
from job_samples import COMPANY, JOB_FILE, JOB_ID, MATERIALS, READINGS, folder_of, readings_entry

from curecal.book.connection.open_book import Book, book_url, open_book
from curecal.book.export_restore.export import CONTENT, MANIFEST, export_job, written
from curecal.book.export_restore.restore import restore_job
from curecal.book.jobs.import_job import add_job
from curecal.book.jobs.job_sources import Sources, gather, lay_out, sha256
from curecal.book.jobs.jobs import list_jobs
from curecal.errors import BookError

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator
    from pathlib import Path

OUTSIDE = [
    "/{victim}",
    "C:/keys.toml",
    "C:keys.toml",
    "..\\keys.toml",
    "\\\\server\\share\\keys.toml",
    "keys.toml:hidden",
    "shared/\\keys.toml",
    "shared/",
    ".",
    "key\x07s.toml",
]


@pytest.fixture
def other(tmp_path: Path) -> Iterator[Book]:
    with open_book(book_url(str(tmp_path / "other.sqlite3"))) as opened:
        yield opened


@pytest.fixture
def out(book: Book, tmp_path: Path) -> Path:
    path = folder_of(tmp_path, more=readings_entry())
    csv = path.parent / "job.readings" / "hall.csv"
    csv.parent.mkdir()
    csv.write_bytes(READINGS)
    add_job(book, path, now=NOW)
    return export_job(book, JOB_ID, tmp_path / "out").folder


@pytest.fixture
def victim(tmp_path: Path) -> Path:
    path = tmp_path / "victim" / "keys.toml"
    path.parent.mkdir()
    path.write_text("mine", encoding="utf-8")
    return path


def forge(out: Path, change: Callable[[dict[str, Any]], object]) -> None:
    """Write the manifest anew, with a digest that fits."""
    said = json.loads((out / MANIFEST).read_bytes())
    change(said)
    (out / MANIFEST).write_bytes(written(said))


def put(out: Path, key: str, data: bytes) -> None:
    """Put other octets in the place of a part of the job."""
    name = sha256(data)
    (out / CONTENT / name).write_bytes(data)

    def swap(said: dict[str, Any]) -> None:
        old = {row[key] for row in said["revisions"]}
        for row in said["revisions"]:
            row[key] = name
        said["content"] = sorted({name, *said["content"]} - old)

    forge(out, swap)


def refused_whole(other: Book, out: Path, *codes: str) -> None:
    with pytest.raises(BookError) as caught:
        restore_job(other, out)
    assert caught.value.code in codes
    with other.reading() as connection:
        assert list_jobs(connection) == ()


@pytest.mark.parametrize("named", OUTSIDE)
def test_materials_elsewhere_are_neither_restored_nor_laid_out(
    out: Path, other: Book, victim: Path, tmp_path: Path, named: str
) -> None:
    named = named.replace("/{victim}", str(victim))
    company = COMPANY.replace('"../shared/materials.toml"', json.dumps(named)).encode()
    assert company != COMPANY.encode()
    put(out, "company_sha256", company)
    refused_whole(other, out, "book-path-outside")
    made = Sources(job=JOB_FILE.encode(), company=company, materials=MATERIALS.encode())
    with pytest.raises(BookError) as caught:
        lay_out(tmp_path / "laid", made, [])
    assert caught.value.code == "book-path-outside"
    assert not (tmp_path / "laid").exists()
    assert victim.read_text(encoding="utf-8") == "mine"


def test_climbing_materials_stay_inside(out: Path, other: Book, tmp_path: Path) -> None:
    put(out, "company_sha256", COMPANY.replace("../shared", "../../../../shared").encode())
    before = {path for path in tmp_path.rglob("*") if path.is_file()}
    assert restore_job(other, out).job_id == JOB_ID
    after = {path for path in tmp_path.rglob("*") if path.is_file()}
    assert {path.name for path in after - before} <= {"other.sqlite3-wal", "other.sqlite3-shm"}


def test_a_job_that_names_a_company_it_did_not_bring_is_refused(out: Path, other: Book) -> None:
    def without(said: dict[str, Any]) -> None:
        for row in said["revisions"]:
            row["company_sha256"] = row["materials_sha256"] = None

    forge(out, without)
    refused_whole(other, out, "book-path-outside")


@pytest.mark.parametrize("name", ["/etc/hosts", "../a.csv", "a\\b.csv", "C:/a.csv", "a//b.csv"])
def test_readings_elsewhere_are_refused(out: Path, other: Book, name: str) -> None:
    def series(said: dict[str, Any]) -> None:
        said["series"] = {name: next(iter(said["series"].values()))}

    forge(out, series)
    refused_whole(other, out, "book-readings-elsewhere")


def test_an_entry_that_names_readings_elsewhere_is_refused(out: Path, other: Book) -> None:
    def entry(said: dict[str, Any]) -> None:
        [row] = [row for row in said["log"] if row["kind"] == "readings"]
        row["body"]["file"] = "../../keys.csv"

    forge(out, entry)
    refused_whole(other, out, "book-readings-elsewhere")


def test_a_job_file_that_names_readings_elsewhere_is_refused(out: Path, other: Book) -> None:
    more = readings_entry().replace("job.readings/hall.csv", "/etc/hosts")
    assert "/etc/hosts" in more
    put(out, "job_sha256", (JOB_FILE + more).encode())
    refused_whole(other, out, "book-readings-elsewhere")


@pytest.mark.parametrize("name", ["/etc/hosts", "../victim/keys.toml", "a\\b", "C:/a", ""])
def test_files_that_an_export_names_elsewhere_are_not_looked_at(
    out: Path, other: Book, victim: Path, name: str
) -> None:
    forge(out, lambda said: said["files"].update({name: sha256(victim.read_bytes())}))
    refused_whole(other, out, "book-path-outside")


def linked(path: Path, aside: Path) -> None:
    """Move something aside and leave a link to it."""
    path.rename(aside)
    path.symlink_to(aside)


@pytest.mark.parametrize(
    "name", [MANIFEST, CONTENT, "job.toml", "company", "job.readings/hall.csv"]
)
def test_a_link_in_an_export_is_not_followed(
    out: Path, other: Book, tmp_path: Path, name: str
) -> None:
    linked(out / name, tmp_path / "aside")
    refused_whole(other, out, "book-path-outside")


def test_linked_content_is_not_followed(out: Path, other: Book, tmp_path: Path) -> None:
    linked(next((out / CONTENT).iterdir()), tmp_path / "aside")
    refused_whole(other, out, "book-path-outside")


@pytest.mark.skipif(sys.platform == "win32", reason="no such files there")
@pytest.mark.parametrize("name", [MANIFEST, "job.toml"])
def test_what_is_no_regular_file_is_not_read(out: Path, other: Book, name: str) -> None:
    (out / name).unlink()
    os.mkfifo(out / name)
    refused_whole(other, out, "book-path-outside")


@pytest.mark.parametrize("name", ["job.toml", "company", "job.readings"])
def test_a_link_at_the_target_is_not_followed(tmp_path: Path, victim: Path, name: str) -> None:
    made = Sources(
        job=JOB_FILE.encode(),
        company=COMPANY.encode(),
        materials=MATERIALS.encode(),
        series={"job.readings/hall.csv": READINGS},
    )
    folder = tmp_path / "laid"
    folder.mkdir()
    (folder / name).symlink_to(victim if name == "job.toml" else victim.parent)
    with pytest.raises(BookError) as caught:
        lay_out(folder, made, [])
    assert caught.value.code == "book-path-outside"
    assert [path.name for path in victim.parent.rglob("*")] == ["keys.toml"]
    assert victim.read_text(encoding="utf-8") == "mine"


def test_what_is_there_is_not_written_over(tmp_path: Path) -> None:
    company = COMPANY.replace("../shared/materials.toml", "company.toml").encode()
    made = Sources(job=JOB_FILE.encode(), company=company, materials=MATERIALS.encode())
    with pytest.raises(BookError) as caught:
        lay_out(tmp_path / "laid", made, [])
    assert caught.value.code == "book-path-outside"


@pytest.mark.parametrize("named", ["/etc/hosts", "C:\\\\m.toml", "..\\\\m.toml"])
def test_such_materials_do_not_come_into_the_book(tmp_path: Path, named: str) -> None:
    path = folder_of(tmp_path, company=COMPANY.replace("../shared/materials.toml", named))
    with pytest.raises(BookError) as caught:
        gather(path)
    assert caught.value.code == "book-materials-absolute"
