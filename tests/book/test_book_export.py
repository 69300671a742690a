"""A job out of the book and back: the same plan, calendars that clients take, nothing sent."""

from __future__ import annotations

import json
from typing import TYPE_CHECKING, Any

import pytest
from book_samples import NOW, message, put_job
from job_samples import (
    AIR_LATER,
    JOB_FILE,
    JOB_ID,
    READINGS,
    folder_of,
    plan_of,
    planned,
    publish,
    readings_entry,
)

from curecal.book.connection.open_book import Book, book_url, open_book
from curecal.book.export_restore.check_book import check_book
from curecal.book.export_restore.export import MANIFEST, digest, export_job, written
from curecal.book.export_restore.restore import RESTORED, restore_job
from curecal.book.jobs.import_job import add_job, append_entries
from curecal.book.jobs.jobs import list_jobs, read_job_of_book, revisions_of
from curecal.book.jobs.log_entries import entries_of
from curecal.book.jobs.pictures import keep_picture, picture_of, pictures_of
from curecal.book.ledger.ledger import history_of
from curecal.book.link_purpose import LinkPurpose
from curecal.book.links.links import WantedLink, create_link, links_of
from curecal.book.outbox.outbox import claim, fire
from curecal.calendars import RevisionChange
from curecal.errors import BookError, JobRefused
from curecal.job_files import read_job

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator
    from pathlib import Path

pytestmark = pytest.mark.slow


@pytest.fixture
def full(book: Book, tmp_path: Path) -> Book:
    """A book with a job of two revisions, readings, a fact of a command, published calendars."""
    path = folder_of(tmp_path, more=readings_entry())
    csv = path.parent / "job.readings" / "hall.csv"
    csv.parent.mkdir()
    csv.write_bytes(READINGS)
    add_job(book, path, now=NOW, told=lambda _: {"answer": "first", "größer": [1, None, 0.5]})
    path.write_text(path.read_text(encoding="utf-8") + AIR_LATER, encoding="utf-8")
    add_job(book, path, now=NOW)
    fact = {"id": "n-1", "at": NOW, "kind": "note", "text": "größer\n„…“"}
    append_entries(book, JOB_ID, [fact], source="note", now=NOW)
    publish(book, planned(book))
    return book


@pytest.fixture
def other(tmp_path: Path) -> Iterator[Book]:
    with open_book(book_url(str(tmp_path / "other.sqlite3"))) as opened:
        yield opened


def everything(book: Book) -> dict[str, Any]:
    """All that two books have to agree in."""
    with book.reading() as connection:
        return {
            "plan": plan_of(read_job_of_book(book, JOB_ID)),
            "revisions": revisions_of(connection, JOB_ID),
            "entries": entries_of(connection, JOB_ID),
            "published": history_of(connection, JOB_ID).revisions,
        }


def test_an_export_is_restored_as_it_was(full: Book, other: Book, tmp_path: Path) -> None:
    made = export_job(full, JOB_ID, tmp_path / "out")
    assert (made.revision_count, made.entry_count) == (2, 5)
    restored = restore_job(other, tmp_path / "out")
    assert restored.job_id == JOB_ID
    assert everything(other) == everything(full)
    assert check_book(other).faults == ()


def test_an_export_can_be_read_as_files(full: Book, tmp_path: Path) -> None:
    out = export_job(full, JOB_ID, tmp_path / "out").folder
    assert plan_of(read_job(out / "job.toml")) == plan_of(read_job_of_book(full, JOB_ID))
    assert (out / "job.readings" / "hall.csv").read_bytes() == READINGS


def test_calendars_of_a_restored_job_count_past_all_that_people_may_hold(
    full: Book, other: Book, tmp_path: Path
) -> None:
    export_job(full, JOB_ID, tmp_path / "out")
    # Unknown to the export: people are told something newer.
    for number in range(3):
        publish(full, planned(full, hours=-24 * 30 * (number + 1)), minutes=number + 1)
    with full.reading() as connection:
        held = history_of(connection, JOB_ID).revisions
    assert restore_job(other, tmp_path / "out").first_sequence == 100
    revised = publish(other, planned(other), minutes=9)
    assert RevisionChange.UNCHANGED not in revised.changes.values()
    for each in revised.revisions:
        assert each.sequence >= 100
        if each.uid in held:
            assert each.sequence > held[each.uid].sequence
            assert each.changed_at > held[each.uid].changed_at
    again = publish(other, planned(other), minutes=10)
    assert set(again.changes.values()) == {RevisionChange.UNCHANGED}


def test_a_job_never_published_starts_where_nobody_can_be(
    book: Book, other: Book, tmp_path: Path
) -> None:
    add_job(book, folder_of(tmp_path), now=NOW)
    export_job(book, JOB_ID, tmp_path / "out")
    assert restore_job(other, tmp_path / "out").first_sequence == 1000
    assert {each.sequence for each in publish(other, planned(other)).revisions} == {1000}


def test_a_restored_job_is_exported_and_restored_again(
    full: Book, other: Book, tmp_path: Path
) -> None:
    export_job(full, JOB_ID, tmp_path / "one")
    restore_job(other, tmp_path / "one")
    export_job(other, JOB_ID, tmp_path / "two")
    with open_book(book_url(str(tmp_path / "third.sqlite3"))) as third:
        assert restore_job(third, tmp_path / "two").first_sequence == 100
        assert everything(third) == everything(full)


def test_nothing_is_sent_of_a_restored_job(full: Book, other: Book, tmp_path: Path) -> None:
    export_job(full, JOB_ID, tmp_path / "out")
    restore_job(other, tmp_path / "out" / MANIFEST)
    with other.writing() as connection:
        fire(connection, [message(1, job_id=JOB_ID)])
        assert list_jobs(connection)[0].hold == RESTORED
    assert claim(other, limit=9, owner="x", lease_s=9, now=NOW).rows == ()


def test_pictures_come_along_and_links_do_not(full: Book, other: Book, tmp_path: Path) -> None:
    with full.writing() as connection:
        keep_picture(connection, JOB_ID, "sticker.jpg", b"a sticker")
        keep_picture(connection, JOB_ID, "meter.jpg", b"a meter")
        wanted = WantedLink(job_id=JOB_ID, purpose=LinkPurpose.OWNER, person="Ida")
        secret, made = create_link(connection, wanted, now=NOW)
    export_job(full, JOB_ID, tmp_path / "out")
    assert (tmp_path / "out" / "pictures" / "sticker.jpg").read_bytes() == b"a sticker"
    manifest = (tmp_path / "out" / MANIFEST).read_text(encoding="utf-8")
    assert secret not in manifest
    assert made.id not in manifest
    restore_job(other, tmp_path / "out")
    with other.reading() as connection:
        assert set(pictures_of(connection, JOB_ID)) == {"meter.jpg", "sticker.jpg"}
        assert picture_of(connection, JOB_ID, "meter.jpg") == b"a meter"
        assert links_of(connection) == ()
    assert check_book(other).faults == ()
    export_job(other, JOB_ID, tmp_path / "again")
    second = json.loads((tmp_path / "again" / MANIFEST).read_text(encoding="utf-8"))
    assert second["pictures"] == json.loads(manifest)["pictures"]


@pytest.mark.parametrize("name", ["../sticker.jpg", "/sticker.jpg", "a\\b.jpg", ""])
def test_a_picture_that_leads_outside_is_refused(
    full: Book, other: Book, tmp_path: Path, name: str
) -> None:
    with full.writing() as connection:
        keep_picture(connection, JOB_ID, "sticker.jpg", b"a sticker")
    export_job(full, JOB_ID, tmp_path / "out")
    place = tmp_path / "out" / MANIFEST
    document = json.loads(place.read_text(encoding="utf-8"))
    document["pictures"] = {name: document["pictures"]["sticker.jpg"]}
    place.write_bytes(written(document))
    with pytest.raises(BookError, match="book-path-outside"):
        restore_job(other, tmp_path / "out")
    with other.reading() as connection:
        assert list_jobs(connection) == ()


def test_a_job_that_is_there_is_not_restored_over(full: Book, tmp_path: Path) -> None:
    export_job(full, JOB_ID, tmp_path / "out")
    before = everything(full)
    with pytest.raises(BookError) as refused:
        restore_job(full, tmp_path / "out")
    assert refused.value.code == "book-job-there"
    assert everything(full) == before


def test_a_folder_with_something_in_it_is_left_alone(full: Book, tmp_path: Path) -> None:
    (tmp_path / "out").mkdir()
    (tmp_path / "out" / "letter").write_text("kept", encoding="utf-8")
    with pytest.raises(BookError) as refused:
        export_job(full, JOB_ID, tmp_path / "out")
    assert refused.value.code == "book-folder-full"
    (tmp_path / "file").touch()
    with pytest.raises(BookError) as refused:
        export_job(full, JOB_ID, tmp_path / "file")
    assert refused.value.code == "book-export-unwritable"
    with pytest.raises(BookError) as refused:
        export_job(full, "nobody", tmp_path / "new")
    assert refused.value.code == "book-job-unknown"
    assert not (tmp_path / "new").exists()


def cut(folder: Path) -> None:
    path = folder / MANIFEST
    path.write_bytes(path.read_bytes()[:-200])


def edited(folder: Path) -> None:
    path = folder / MANIFEST
    path.write_text(path.read_text(encoding="utf-8").replace("18 °C", "28 °C"), encoding="utf-8")


def content_changed(folder: Path) -> None:
    path = next((folder / "content").iterdir())
    path.write_bytes(path.read_bytes() + b"\n")


def content_gone(folder: Path) -> None:
    next((folder / "content").iterdir()).unlink()


def no_json(folder: Path) -> None:
    (folder / MANIFEST).write_bytes(b"[" * 100_000)


@pytest.mark.parametrize("spoil", [cut, edited, content_changed, content_gone, no_json])
def test_a_spoiled_export_is_refused_whole(
    full: Book, other: Book, tmp_path: Path, spoil: Callable[[Path], None]
) -> None:
    export_job(full, JOB_ID, tmp_path / "out")
    spoil(tmp_path / "out")
    with pytest.raises(BookError) as refused:
        restore_job(other, tmp_path / "out")
    assert refused.value.code == "book-export-damaged"
    with other.reading() as connection:
        assert list_jobs(connection) == ()


def test_an_export_that_names_no_files_is_restored_all_the_same(
    full: Book, other: Book, tmp_path: Path
) -> None:
    out = export_job(full, JOB_ID, tmp_path / "out").folder
    said = json.loads((out / MANIFEST).read_bytes())
    del said["files"], said["digest"]
    (out / MANIFEST).write_bytes(written(said))
    assert restore_job(other, out).job_id == JOB_ID


def test_no_export_is_said_to_be_none(other: Book, tmp_path: Path) -> None:
    with pytest.raises(BookError) as refused:
        restore_job(other, tmp_path / "nowhere")
    assert refused.value.code == "book-export-missing"


HOSTILE: list[Callable[[dict[str, Any]], object]] = [
    lambda said: said["job"].pop("name"),
    lambda said: said["job"].update(id=""),
    lambda said: said["log"][0].pop("at"),
    lambda said: said["log"][0].update(at="yesterday"),
    lambda said: said["log"][0].update(at="2026-11-20T18:00:00"),
    lambda said: said["log"][0].update(more=1),
    lambda said: said["log"].append(said["log"][0]),
    lambda said: said["revisions"].clear(),
    lambda said: said["revisions"][0].update(job_sha256="0" * 64),
    lambda said: said["revisions"][0].update(more=1),
    lambda said: said["series"].update({"../../x.csv": next(iter(said["series"].values()))}),
    lambda said: said["published"][0].update(audience="neighbor"),
    lambda said: said["published"][0].update(lines=["UID:a\nb"]),
    lambda said: said["published"].append(5),
    lambda said: said.update(log=None),
    lambda said: said.update(content=["../../etc/hostname"]),
    lambda said: said.update(content="x"),
    lambda said: said.update(files=["job.toml"]),
    lambda said: said.update(schema=2),
    lambda said: said["job"].update(id="a\0b"),
]


@pytest.mark.parametrize("change", HOSTILE, ids=[str(number) for number in range(len(HOSTILE))])
def test_an_export_that_somebody_made_up_is_refused_whole(
    full: Book, other: Book, tmp_path: Path, change: Callable[[dict[str, Any]], object]
) -> None:
    out = export_job(full, JOB_ID, tmp_path / "out").folder
    said = json.loads((out / MANIFEST).read_bytes())
    change(said)
    said["digest"] = digest(said)
    (out / MANIFEST).write_bytes(written(said))
    with pytest.raises((BookError, JobRefused)):
        restore_job(other, out)
    with other.reading() as connection:
        assert list_jobs(connection) == ()


@pytest.mark.slow
def test_a_log_of_many_entries_is_read_again_whole(book: Book, other: Book, tmp_path: Path) -> None:
    add_job(book, folder_of(tmp_path), now=NOW)
    long = "größer " * 350
    facts = [{"id": f"n-{n}", "at": NOW, "kind": "note", "text": f"{n} {long}"} for n in range(700)]
    append_entries(book, JOB_ID, facts, source="note", now=NOW)
    assert len(read_job_of_book(book, JOB_ID).log) == 702
    out = export_job(book, JOB_ID, tmp_path / "out").folder
    assert (out / "job-book-2.toml").is_file()
    # Without its log it must not pass for the job.
    assert not (out / "job.toml").exists()
    (company,) = (out / "company").rglob("company.toml")
    logs = sorted(out.glob("job-book*.toml"))
    read = read_job(out / "job-without-its-log.toml", company=company, extra_log=logs)
    assert len(read.log) == 702
    assert restore_job(other, out).read.log == read_job_of_book(book, JOB_ID).log


def test_messages_are_no_part_of_an_export(full: Book, tmp_path: Path) -> None:
    with full.writing() as connection:
        put_job(connection, "other")
        fire(connection, [message(1, job_id="other"), message(2, job_id=JOB_ID)])
    out = export_job(full, JOB_ID, tmp_path / "out").folder
    assert b"crew@example.org" not in (out / MANIFEST).read_bytes()
    said = JOB_FILE.replace("../config/company.toml", "company/below/company.toml").strip()
    assert said in (out / "job.toml").read_text(encoding="utf-8")
