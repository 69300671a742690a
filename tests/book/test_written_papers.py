"""Papers in the book: each kept once, known again by its hash, carried along, and guarded."""

from __future__ import annotations

import hashlib
import json
import threading
from dataclasses import replace
from typing import TYPE_CHECKING, Any

import pytest
from book_samples import CARD, JOB, NOW, later, put_job
from job_samples import JOB_FILE, folder_of
from sqlalchemy import text

from curecal.book.connection.open_book import Book, book_url, open_book
from curecal.book.export_restore.check_book import check_book
from curecal.book.export_restore.export import MANIFEST, export_job, written
from curecal.book.export_restore.restore import restore_job
from curecal.book.jobs.import_job import add_job, append_entries
from curecal.book.jobs.log_entries import entries_of
from curecal.book.jobs.written_papers import find_papers, papers_of, record_papers
from curecal.book.schema.content_hashes import PAPER, row_digest
from curecal.errors import BookError
from curecal.words.sentences import plain_words

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator
    from datetime import datetime
    from pathlib import Path

    from curecal.book.jobs.written_papers import FoundPaper, WrittenPaper

RECORD = replace(
    CARD,
    sha256="5e" * 32,
    kind="record",
    language="en",
    draft=True,
    record_sha256="0123456789abcdef" * 4,
    recorded_at=later(minutes=1),
)
NOTE = {"id": "n-1", "at": later(hours=1), "kind": "note", "text": "x"}


@pytest.fixture
def full(book: Book, tmp_path: Path) -> Book:
    """A job of one revision and two entries, with two papers."""
    add_job(book, folder_of(tmp_path), now=NOW)
    keep(book, CARD, RECORD)
    return book


@pytest.fixture
def other(tmp_path: Path) -> Iterator[Book]:
    with open_book(book_url(str(tmp_path / "other.sqlite3"))) as opened:
        yield opened


def keep(book: Book, *papers: WrittenPaper) -> None:
    with book.writing() as connection:
        record_papers(connection, JOB, papers)


def kept(book: Book) -> tuple[WrittenPaper, ...]:
    with book.reading() as connection:
        return papers_of(connection, JOB)


def found(book: Book, sha256: str, now: datetime = NOW) -> tuple[FoundPaper, ...]:
    with book.reading() as connection:
        return find_papers(connection, sha256, now=now)


def unguarded(book: Book, statement: str) -> None:
    """Change the table as somebody with all rights could, its triggers off for that moment."""
    with book.engine.connect() as connection:
        if book.is_file:
            asked = "SELECT sql FROM sqlite_master WHERE type = 'trigger' AND tbl_name = 'paper'"
            made = list(connection.exec_driver_sql(asked).scalars())
            off = [f"DROP TRIGGER {sql.split()[2]}" for sql in made]
        else:
            off, made = ([f"ALTER TABLE paper {how} TRIGGER USER"] for how in ("DISABLE", "ENABLE"))
        for each in (*off, statement, *made):
            connection.exec_driver_sql(each)
        connection.commit()


def test_the_same_bytes_are_kept_once_and_others_beside_them(full: Book) -> None:
    again = replace(CARD, recorded_at=later(hours=5), entry_count=9)
    keep(full, again, again)
    assert kept(full) == (CARD, RECORD)
    moved = replace(again, sha256="cb" * 32)
    keep(full, moved, moved)
    assert kept(full) == (CARD, RECORD, moved)


def test_several_that_keep_the_same_at_once_keep_it_once(full: Book) -> None:
    moved = replace(CARD, sha256="cb" * 32)
    start = threading.Barrier(4)
    failed: list[BaseException] = []

    def keeping() -> None:
        start.wait(20)
        try:
            keep(full, moved)
        except BaseException as error:  # noqa: BLE001 - told below, by name
            failed.append(error)

    threads = [threading.Thread(target=keeping) for _ in range(4)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join(60)
    assert failed == []
    assert set(kept(full)) == {CARD, RECORD, moved}


def test_a_paper_is_found_by_its_bytes_or_by_what_is_at_its_foot(full: Book) -> None:
    for sha256 in (RECORD.sha256, RECORD.record_sha256, RECORD.record_sha256[:16]):
        (paper,) = found(full, sha256)
        assert (paper.job_id, paper.paper, paper.is_of_now) == (JOB, RECORD, True)
        assert paper.timezone == "America/Halifax"
        assert paper.job_name.startswith("Alder Lane")
    for sha256 in ("00" * 32, RECORD.sha256[:16], RECORD.record_sha256[1:17], "%" * 16):
        assert found(full, sha256) == ()


def test_one_card_of_two_jobs_is_named_for_both(full: Book, tmp_path: Path) -> None:
    path = folder_of(tmp_path / "second")
    path.write_text(JOB_FILE.replace('id = "alder-lane"', 'id = "birch-road"'), encoding="utf-8")
    add_job(full, path, now=NOW)
    with full.writing() as connection:
        record_papers(connection, "birch-road", [replace(CARD, recorded_at=later(minutes=2))])
    assert [paper.job_id for paper in found(full, CARD.sha256)] == [JOB, "birch-road"]


def test_a_newer_file_of_the_job_is_counted(full: Book, tmp_path: Path) -> None:
    path = folder_of(tmp_path)
    path.write_text(JOB_FILE.replace("upstairs", "attic"), encoding="utf-8")
    add_job(full, path, now=later(hours=1))
    (paper,) = found(full, CARD.sha256)
    assert (paper.newer_revision_count, paper.newer_entry_count) == (1, 0)
    assert not paper.is_of_now


def test_a_newer_entry_is_counted_once_it_is_known(full: Book) -> None:
    append_entries(full, JOB, [NOTE], source="note", now=NOW)
    (before,) = found(full, CARD.sha256, later(minutes=59))
    (after,) = found(full, CARD.sha256, later(hours=1))
    assert (before.newer_entry_count, after.newer_entry_count) == (0, 1)
    assert (before.is_of_now, after.is_of_now) == (True, False)


def test_a_paper_of_a_day_ahead_counts_what_is_known_by_then(full: Book) -> None:
    append_entries(full, JOB, [NOTE], source="note", now=NOW)
    with full.reading() as connection:
        assert len(entries_of(connection, JOB)) == 3
    ahead = replace(CARD, sha256="cc" * 32, as_of=later(hours=2), entry_count=3)
    keep(full, ahead)
    (paper,) = found(full, ahead.sha256, NOW)
    assert paper.is_of_now


@pytest.mark.parametrize(
    "change",
    [
        f"sha256 = '{'00' * 32}'",
        "kind = 'owner'",
        "language = 'fr'",
        "draft = NOT draft",
        "recorded_at = '2026-12-03 12:00:01'",
        "record_sha256 = ''",
        "revision = 1, entry_count = 3",
        "as_of = '2026-12-03 12:00:01'",
    ],
)
def test_a_changed_row_is_named_and_vouches_for_nothing(
    full: Book, other: Book, tmp_path: Path, change: str
) -> None:
    if full.is_file:
        change = change.replace(":01'", ":01.000000'")
    elif "_at =" in change or "as_of" in change:
        change = change.replace(":01'", ":01+00:00'")
    unguarded(full, f"UPDATE paper SET {change} WHERE kind = 'record'")  # noqa: S608 - ours
    sha256 = "00" * 32 if "sha256 = '0" in change else RECORD.sha256
    (fault,) = check_book(full).faults
    assert (fault.code, fault.params) == ("book-fault-paper", {"job_id": JOB, "sha256": sha256})
    assert plain_words().message(fault)
    with pytest.raises(BookError) as refused:
        found(full, sha256)
    assert refused.value.code == "book-row-damaged"
    # The others still hold, the job can be brought elsewhere, and papers can be written.
    assert kept(full) == (CARD,)
    restore_job(other, export_job(full, JOB, tmp_path / "out").folder)
    assert kept(other) == (CARD,)
    assert found(full, CARD.sha256)[0].paper == CARD
    keep(full, replace(CARD, sha256="cd" * 32))


def test_an_export_carries_the_papers(full: Book, other: Book, tmp_path: Path) -> None:
    restore_job(other, export_job(full, JOB, tmp_path / "out").folder)
    assert kept(other) == (CARD, RECORD)
    assert found(other, RECORD.sha256)[0].is_of_now
    assert check_book(other).faults == ()


def test_an_export_from_before_papers_were_kept_is_restored(
    full: Book, other: Book, tmp_path: Path
) -> None:
    out = export_job(full, JOB, tmp_path / "out").folder
    forge(out, lambda said: said.pop("papers"))
    restore_job(other, out)
    assert kept(other) == ()


@pytest.mark.parametrize(
    ("key", "value"),
    [("revision", 7), ("as_of", "then"), ("entry_count", "many"), ("recorded_at", None)],
)
def test_a_forged_paper_is_refused(
    full: Book, other: Book, tmp_path: Path, key: str, value: object
) -> None:
    out = export_job(full, JOB, tmp_path / "out").folder
    forge(out, lambda said: said["papers"][0].update({key: value}))
    with pytest.raises(BookError) as refused:
        restore_job(other, out)
    assert refused.value.code == "book-export-damaged"
    assert kept(other) == ()


def forge(out: Path, change: Callable[[dict[str, Any]], object]) -> None:
    """Write the manifest anew, with a digest that fits."""
    said = json.loads((out / MANIFEST).read_bytes())
    change(said)
    (out / MANIFEST).write_bytes(written(said))


def test_how_a_papers_digest_is_made_never_changes(full: Book) -> None:
    with full.reading() as connection:
        asked = text("SELECT digest FROM paper WHERE kind = 'card'")
        digest = connection.execute(asked).scalar_one()
    # Made by hand: what books hold must never be made otherwise.
    said = f'["alder-lane", "{"ca" * 32}", "card", "de", false, "2026-12-03T12:00:00+00:00", "", '
    said += '1, 2, "2026-12-03T11:55:00+00:00"]'
    assert digest == hashlib.sha256(said.encode()).hexdigest()
    row = {"job_id": JOB, **{name: getattr(CARD, name) for name in PAPER[1:]}}
    assert digest == row_digest(row, PAPER)


def test_a_paper_stands_on_a_revision_that_the_book_has(book: Book) -> None:
    with book.writing() as connection:
        put_job(connection)
    with pytest.raises(BookError):
        keep(book, CARD)
