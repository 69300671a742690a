"""What is taken out of a job file, or mended in it, stays in the book and is named."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest
from book_samples import NOW
from job_samples import AIR_LATER, JOB_FILE, JOB_ID, folder_of

from curecal.book.jobs.import_job import Added, add_job, append_entries
from curecal.errors import BookError

if TYPE_CHECKING:
    from pathlib import Path

    from curecal.book.connection.open_book import Book

WITHOUT_ID = AIR_LATER.replace('id = "air-2"\n', "")


def added(book: Book, path: Path, more: str = "") -> Added:
    path.write_text(JOB_FILE + more, encoding="utf-8")
    return add_job(book, path, now=NOW, told=lambda _: {})


def test_an_entry_that_left_the_file_is_named_until_it_is_taken_back(
    book: Book, tmp_path: Path
) -> None:
    path = folder_of(tmp_path)
    assert added(book, path, AIR_LATER).left == ()
    for _ in range(2):
        (left,) = added(book, path).left
        assert (left.entry_id, left.kind, left.like) == ("air-2", "air", ())
        assert left.at.isoformat() == "2026-11-25T13:00:00+00:00"
    back = {"id": "c", "at": NOW, "kind": "correction", "of": "air-2", "withdrawn": True}
    append_entries(book, JOB_ID, [back], source="note", now=NOW)
    assert added(book, path).left == ()


def test_an_entry_mended_in_the_file_is_named_beside_the_one_it_became(
    book: Book, tmp_path: Path
) -> None:
    path = folder_of(tmp_path)
    added(book, path, WITHOUT_ID)
    for new in (1, 0):
        made = added(book, path, WITHOUT_ID.replace("18 °C", "16 °C"))
        assert made.new_entry_count == new
        (left,) = made.left
        (like,) = left.like
        assert like.startswith("e-")
        assert like != left.entry_id


def test_an_id_taken_away_is_named(book: Book, tmp_path: Path) -> None:
    path = folder_of(tmp_path)
    added(book, path, AIR_LATER)
    (left,) = added(book, path, WITHOUT_ID).left
    assert left.entry_id == "air-2"
    assert len(left.like) == 1


def test_another_entry_of_the_same_time_is_not_its_successor_if_it_was_there_before(
    book: Book, tmp_path: Path
) -> None:
    path = folder_of(tmp_path)
    other = AIR_LATER.replace("air-2", "air-1")
    added(book, path, other + AIR_LATER)
    (left,) = added(book, path, other).left
    assert left.like == ()


def test_what_a_command_or_another_log_brought_is_not_missed_in_the_job_file(
    book: Book, tmp_path: Path
) -> None:
    path = folder_of(tmp_path)
    log = tmp_path / "log.toml"
    log.write_text(AIR_LATER, encoding="utf-8")
    add_job(book, path, now=NOW, extra_log=[log])
    append_entries(book, JOB_ID, [{"kind": "note", "at": NOW, "text": "x"}], source="n", now=NOW)
    assert added(book, path).left == ()
    log.write_text(AIR_LATER.replace("air-2", "air-3"), encoding="utf-8")
    (left,) = add_job(book, path, now=NOW, extra_log=[log]).left
    assert (left.entry_id, left.like) == ("air-2", ("air-3",))
    # Moved from one file into the other, it is still there.
    assert added(book, path, AIR_LATER).left == ()


def test_an_older_copy_is_said_to_be_one(book: Book, tmp_path: Path) -> None:
    path = folder_of(tmp_path)
    assert added(book, path).before is None
    path.write_text(JOB_FILE.replace("upstairs", "attic"), encoding="utf-8")
    second = add_job(book, path, now=NOW, told=lambda _: {})
    assert second.same_as is None
    assert second.before is not None
    assert second.before.job is not None
    assert "upstairs" in second.before.job.name
    third = added(book, path)
    assert (third.revision, third.same_as) == (3, 1)
    assert (added(book, path).revision, added(book, path).same_as) == (3, None)


@pytest.mark.parametrize("job_id", ["alder.toml", "a.b.toml"])
def test_an_id_that_no_command_could_name_is_refused(
    book: Book, tmp_path: Path, job_id: str
) -> None:
    path = folder_of(tmp_path)
    path.write_text(JOB_FILE.replace('"alder-lane"', f'"{job_id}"'), encoding="utf-8")
    with pytest.raises(BookError) as caught:
        add_job(book, path, now=NOW)
    assert caught.value.code == "book-job-id"


@pytest.mark.parametrize("job_id", ["alder.lane", "a.toml.b", "toml"])
def test_other_ids_go_in(book: Book, tmp_path: Path, job_id: str) -> None:
    path = folder_of(tmp_path)
    path.write_text(JOB_FILE.replace('"alder-lane"', f'"{job_id}"'), encoding="utf-8")
    assert add_job(book, path, now=NOW).job_id == job_id
