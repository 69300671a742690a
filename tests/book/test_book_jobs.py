"""Jobs in the book: put in once, read again as from their files, and never made poorer."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from typing import TYPE_CHECKING

import pytest
from book_samples import NOW
from job_samples import (
    AIR_LATER,
    AS_OF,
    COMPANY,
    JOB_FILE,
    JOB_ID,
    READINGS,
    folder_of,
    plan_of,
    readings_entry,
)

from curecal.book.jobs.import_job import Added, add_job, append_entries
from curecal.book.jobs.jobs import (
    list_jobs,
    newest_revision,
    read_in,
    read_job_of_book,
    revisions_of,
    series_of,
)
from curecal.book.jobs.log_entries import body_of, entries_of, table_of
from curecal.errors import BookError, JobRefused, SourceError
from curecal.job_files import read_job

if TYPE_CHECKING:
    from pathlib import Path

    from curecal.book.connection.open_book import Book


def changes(added: Added) -> tuple[bool, bool, int, int]:
    return (
        added.is_new_job,
        added.is_new_revision,
        added.new_entry_count,
        added.new_series_count,
    )


def generation(book: Book) -> int:
    with book.reading() as connection:
        return list_jobs(connection)[0].generation


def refused(code: str, book: Book, path: Path, **how: object) -> BookError:
    with pytest.raises(BookError) as caught:
        add_job(book, path, now=NOW, **how)  # type: ignore[arg-type]
    assert caught.value.code == code
    return caught.value


def test_a_job_is_read_from_the_book_as_from_its_files(book: Book, tmp_path: Path) -> None:
    path = folder_of(tmp_path)
    added = add_job(book, path, now=NOW)
    assert changes(added) == (True, True, 2, 0)
    of_files = read_job(path)
    for each in (
        path,
        tmp_path / "config" / "company.toml",
        tmp_path / "shared" / "materials.toml",
    ):
        each.unlink()
    of_book = read_job_of_book(book, JOB_ID)
    assert of_book.job == of_files.job
    assert sorted(of_book.log, key=lambda entry: entry.id) == sorted(
        of_files.log, key=lambda entry: entry.id
    )
    assert of_book.findings == of_files.findings
    assert plan_of(of_book) == plan_of(of_files) == plan_of(added.read)
    assert of_book.job is not None
    assert of_book.job.people[0].name == "Robin Example"


def test_adding_it_again_changes_nothing(book: Book, tmp_path: Path) -> None:
    path = folder_of(tmp_path)
    add_job(book, path, now=NOW)
    before = generation(book)
    again = add_job(book, path, now=NOW + timedelta(days=1))
    assert changes(again) == (False, False, 0, 0)
    assert not again.is_changed
    assert generation(book) == before == 1
    with book.reading() as connection:
        assert [each.recorded_at for each in revisions_of(connection, JOB_ID)] == [NOW]


@pytest.mark.parametrize("changed", ["job", "company", "materials"])
def test_any_changed_file_is_a_new_revision(book: Book, tmp_path: Path, changed: str) -> None:
    path = folder_of(tmp_path)
    add_job(book, path, now=NOW)
    place = {
        "job": path,
        "company": tmp_path / "config" / "company.toml",
        "materials": tmp_path / "shared" / "materials.toml",
    }[changed]
    place.write_text(place.read_text(encoding="utf-8") + "# looked through\n", encoding="utf-8")
    assert changes(add_job(book, path, now=NOW)) == (False, True, 0, 0)
    with book.reading() as connection:
        first, second = revisions_of(connection, JOB_ID)
        assert (first.number, second.number) == (1, 2)
        same = {"job", "company", "materials"} - {changed}
        assert all(
            getattr(first, f"{name}_sha256") == getattr(second, f"{name}_sha256") for name in same
        )
        assert newest_revision(connection, JOB_ID) == second
        # What was told of the first can still be read from the first.
        assert read_in(connection, JOB_ID, number=1).job is not None


def test_the_plan_told_is_kept_with_its_revision(book: Book, tmp_path: Path) -> None:
    path = folder_of(tmp_path)
    add_job(book, path, now=NOW, told=lambda read: {"answer": read.job.name if read.job else ""})
    path.write_text(JOB_FILE.replace("upstairs", "attic"), encoding="utf-8")
    add_job(book, path, now=NOW, told=lambda _: {"answer": "second"})
    add_job(book, path, now=NOW, told=lambda _: {"answer": "never kept"})
    with book.reading() as connection:
        told = [each.told for each in revisions_of(connection, JOB_ID)]
        assert told == [{"answer": 'Alder Lane – "upstairs"'}, {"answer": "second"}]
        assert list_jobs(connection)[0].name == 'Alder Lane – "attic"'


def test_a_fact_that_leaves_the_file_stays_in_the_book(book: Book, tmp_path: Path) -> None:
    path = folder_of(tmp_path, more=AIR_LATER)
    add_job(book, path, now=NOW)
    before = plan_of(read_job_of_book(book, JOB_ID))
    path.write_text(JOB_FILE, encoding="utf-8")
    assert changes(add_job(book, path, now=NOW)) == (False, True, 0, 0)
    assert plan_of(read_job_of_book(book, JOB_ID)) == before
    assert plan_of(read_job(path)) != before


def test_a_fact_that_changes_is_refused_by_its_name(book: Book, tmp_path: Path) -> None:
    path = folder_of(tmp_path, more=AIR_LATER)
    add_job(book, path, now=NOW)
    path.write_text(JOB_FILE + AIR_LATER.replace("18 °C", "28 °C"), encoding="utf-8")
    assert refused("book-entry-contradicts", book, path).params == {"entry_id": "air-2"}
    with book.reading() as connection:
        assert len(revisions_of(connection, JOB_ID)) == 1


def test_a_correction_is_a_further_fact(book: Book, tmp_path: Path) -> None:
    path = folder_of(tmp_path, more=AIR_LATER + 'by = "R. Ex"\n')
    add_job(book, path, now=NOW)
    more = (
        '[[log]]\nid = "c"\nat = 2026-11-25T10:00:00Z\nkind = "correction"\nof = "air-2"\n'
        'withdrawn = true\nby = "R. Ex"\n'
    )
    log = tmp_path / "further.toml"
    log.write_text(more, encoding="utf-8")
    assert changes(add_job(book, path, now=NOW, extra_log=[log])) == (False, False, 1, 0)
    ours, theirs = plan_of(read_job_of_book(book, JOB_ID)), plan_of(read_job(path, extra_log=[log]))
    for said in (ours, theirs):
        # The book keeps each entry in a place of its own.
        for finding in said["findings"]:
            del finding["path"], finding["where"]
    assert ours == theirs
    with book.reading() as connection:
        assert [each.source for each in entries_of(connection, JOB_ID)] == [
            *["job file"] * 3,
            "further.toml",
        ]
    assert generation(book) == 2


def test_facts_are_appended_by_a_command(book: Book, tmp_path: Path) -> None:
    add_job(book, folder_of(tmp_path), now=NOW)
    at = datetime(2026, 11, 26, 9, 30, tzinfo=UTC)
    fact = {"id": "n-1", "at": at, "kind": "air", "zone": "hall", "air": "17 °C", "by": "R. Ex"}
    added = append_entries(book, JOB_ID, [fact], source="note", now=NOW)
    assert changes(added) == (False, False, 1, 0)
    assert append_entries(book, JOB_ID, [fact], source="note", now=NOW).is_changed is False
    with book.reading() as connection:
        (entry,) = [each for each in entries_of(connection, JOB_ID) if each.entry_id == "n-1"]
    assert (entry.at, entry.recorded, entry.source) == (at, at, "note")
    assert entry.table == fact
    assert "n-1" in {each.id for each in read_job_of_book(book, JOB_ID).log}


@pytest.mark.parametrize(
    "fact",
    [
        {"id": "n", "at": NOW, "kind": "air", "zone": "attic", "air": "17 °C"},
        {"id": "n", "at": NOW, "kind": "air", "zone": "hall", "air": "17"},
        {"id": "n", "at": NOW, "kind": "weather"},
        {"id": "n", "kind": "air", "zone": "hall", "air": "17 °C"},
    ],
)
def test_a_fact_that_is_not_understood_is_refused(
    book: Book, tmp_path: Path, fact: dict[str, object]
) -> None:
    add_job(book, folder_of(tmp_path), now=NOW)
    with pytest.raises(JobRefused) as caught:
        append_entries(book, JOB_ID, [fact], source="note", now=NOW)
    assert caught.value.params["findings"]
    assert generation(book) == 1


def test_a_fact_of_no_job_is_refused(book: Book) -> None:
    with pytest.raises(BookError) as caught:
        append_entries(book, "nobody", [], source="note", now=NOW)
    assert caught.value.code == "book-job-unknown"
    with pytest.raises(BookError):
        read_job_of_book(book, "nobody")


def test_a_job_that_is_not_understood_does_not_come_in(book: Book, tmp_path: Path) -> None:
    path = folder_of(tmp_path)
    path.write_text(JOB_FILE.replace('"20 °C"', '"20"'), encoding="utf-8")
    with pytest.raises(JobRefused) as caught:
        add_job(book, path, now=NOW)
    assert caught.value.exit_code == 1
    with book.reading() as connection:
        assert list_jobs(connection) == ()


def test_a_file_that_is_missing_is_named_as_people_know_it(book: Book, tmp_path: Path) -> None:
    path = folder_of(tmp_path)
    (tmp_path / "shared" / "materials.toml").unlink()
    with pytest.raises(SourceError) as caught:
        add_job(book, path, now=NOW)
    assert "shared/materials.toml" in str(caught.value.params["path"])


def test_a_job_without_an_identity_is_refused(book: Book, tmp_path: Path) -> None:
    path = folder_of(tmp_path)
    path.write_text(JOB_FILE.replace('id = "alder-lane"\n', ""), encoding="utf-8")
    refused("book-job-without-id", book, path)


def test_a_company_of_its_own_is_taken_with_it(book: Book, tmp_path: Path) -> None:
    path = folder_of(tmp_path)
    own = tmp_path / "own" / "company.toml"
    own.parent.mkdir()
    own.write_text(COMPANY.replace("Robin", "Sam"), encoding="utf-8")
    add_job(book, path, now=NOW, company=own)
    found = read_job_of_book(book, JOB_ID)
    assert found.job is not None
    assert found.job.people[0].name == "Sam Example"
    other = read_job_of_book(book, JOB_ID, company=tmp_path / "config" / "company.toml")
    assert other.job is not None
    assert other.job.people[0].name == "Robin Example"


def test_materials_of_this_machine_alone_are_refused(book: Book, tmp_path: Path) -> None:
    place = tmp_path / "shared" / "materials.toml"
    path = folder_of(tmp_path, company=COMPANY.replace("../shared/materials.toml", str(place)))
    refused("book-materials-absolute", book, path)


def test_readings_come_in_with_the_log(book: Book, tmp_path: Path) -> None:
    path = folder_of(tmp_path, more=readings_entry())
    csv = path.parent / "job.readings" / "hall.csv"
    csv.parent.mkdir()
    csv.write_bytes(READINGS)
    assert changes(add_job(book, path, now=NOW)) == (True, True, 3, 1)
    before = plan_of(read_job(path))
    csv.unlink()
    # What the book has need not lie there any more.
    path.write_text(path.read_text(encoding="utf-8") + AIR_LATER, encoding="utf-8")
    with book.reading() as connection:
        assert list(series_of(connection, JOB_ID)) == ["job.readings/hall.csv"]
    assert plan_of(read_job_of_book(book, JOB_ID)) == before


def test_readings_that_are_not_those_of_the_log_are_refused(book: Book, tmp_path: Path) -> None:
    path = folder_of(tmp_path, more=readings_entry())
    csv = path.parent / "job.readings" / "hall.csv"
    csv.parent.mkdir()
    csv.write_bytes(READINGS + b"\n")
    with pytest.raises((BookError, JobRefused, SourceError)):
        add_job(book, path, now=NOW)
    with book.reading() as connection:
        assert list_jobs(connection) == ()


def test_readings_that_are_missing_are_refused(book: Book, tmp_path: Path) -> None:
    path = folder_of(tmp_path, more=readings_entry())
    with pytest.raises((BookError, JobRefused, SourceError)):
        add_job(book, path, now=NOW)


@pytest.mark.parametrize("name", ["../hall.csv", "/etc/hostname", "job.toml", "C:/x.csv", "a/../b"])
def test_readings_that_lie_elsewhere_are_refused(book: Book, tmp_path: Path, name: str) -> None:
    path = folder_of(tmp_path, more=readings_entry(name=name))
    with pytest.raises((BookError, JobRefused, SourceError)):
        add_job(book, path, now=NOW)
    with book.reading() as connection:
        assert list_jobs(connection) == ()


def test_a_list_tells_of_every_job(book: Book, tmp_path: Path) -> None:
    add_job(book, folder_of(tmp_path), now=NOW)
    with book.reading() as connection:
        (found,) = list_jobs(connection)
    assert (found.job_id, found.timezone) == (JOB_ID, "America/Halifax")
    assert (found.revision_count, found.entry_count, found.recorded_at) == (1, 2, NOW)


def test_a_fact_of_the_future_is_judged_by_the_clock_given(book: Book, tmp_path: Path) -> None:
    path = folder_of(tmp_path)
    add_job(book, path, now=NOW)
    early = AS_OF - timedelta(days=60)
    judged = read_job_of_book(book, JOB_ID, clock=early)
    assert judged.findings == read_job(path, clock=early).findings
    assert judged.findings != read_job_of_book(book, JOB_ID).findings


def test_an_entry_keeps_every_type_of_toml() -> None:
    table = {
        "text": 'größer \\ " \n',
        "number": 3,
        "share": 0.1,
        "yes": True,
        "at": datetime.fromisoformat("2026-11-01T01:30:00.5-04:00"),
        "local": datetime.fromisoformat("2026-11-01T01:30:00"),
        "day": datetime.fromisoformat("2026-11-01").date(),
        "time": datetime.fromisoformat("2026-11-01T07:30:00").time(),
        "list": ["a", 1, datetime.fromisoformat("2026-11-01").date()],
    }
    assert table_of(body_of(table)) == table
    assert {key: type(value) for key, value in table_of(body_of(table)).items()} == {
        key: type(value) for key, value in table.items()
    }
