"""Calendars of a job of the book in a folder: SEQUENCE never goes back, and nothing is silent.

Source: RFC 5546, 2.1.4: a calendar program does not take an entry of a lower SEQUENCE.
"""

from __future__ import annotations

import json
import re
import shutil
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest
from freezegun import freeze_time

from curecal.cli.main import code_of_run

if TYPE_CHECKING:
    from collections.abc import Callable

ROOT = Path(__file__).parents[4]
ID = "alder-lane-hall-bath"
Say = Any


@pytest.fixture
def job(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A job file, and a book that is not there yet."""
    monkeypatch.setenv("CURECAL_BOOK", str(tmp_path / "book" / "b.sqlite"))
    monkeypatch.chdir(tmp_path)
    shutil.copy(ROOT / "examples" / "bathroom" / "job.toml", tmp_path)
    return tmp_path / "job.toml"


@pytest.fixture
def say(job: Path, capsys: pytest.CaptureFixture[str]) -> Callable[..., str]:
    del job

    def saying(*arguments: object, code: int = 0) -> str:
        assert code_of_run([str(each) for each in arguments]) == code, arguments
        found = capsys.readouterr()
        return " ".join((found.out + found.err).split())

    return saying


def write(say: Say, job: object, folder: object, day: int) -> str:
    told: str = say("calendars", "write", job, folder, "--as-of", f"2026-11-{day:02}T08:00")
    return told


def make(job: Path, air: str) -> None:
    job.write_text(re.sub(r'air = "6\d °F"', f'air = "{air}"', job.read_text("utf-8")), "utf-8")


def numbers(folder: Path) -> dict[str, int]:
    """SEQUENCE by UID."""
    found: dict[str, int] = {}
    for path in folder.glob("*.ics"):
        for event in path.read_text("utf-8").split("BEGIN:VEVENT\n")[1:]:
            lines = dict(line.partition(":")[::2] for line in reversed(event.splitlines()))
            found[lines["UID"]] = int(lines["SEQUENCE"])
    return found


def assert_ahead(folder: Path, before: dict[str, int], by: int = 1) -> None:
    after = numbers(folder)
    assert set(before) <= set(after)
    assert {uid for uid in before if after[uid] < before[uid] + by} == set()


def test_after_a_book_came_back_from_a_copy_a_person_goes_on_above(
    say: Say, job: Path, tmp_path: Path
) -> None:
    say("book", "add", job)
    write(say, ID, "cal", 10)
    shutil.copytree(tmp_path / "book", tmp_path / "copy")
    for day, air in ((11, "63 °F"), (12, "66 °F")):
        make(job, air)
        say("book", "add", job)
        write(say, ID, "cal", day)
    held = numbers(tmp_path / "cal")
    assert max(held.values()) == 2
    shutil.rmtree(tmp_path / "book")
    shutil.copytree(tmp_path / "copy", tmp_path / "book")
    asked = ("calendars", "write", ID, "cal", "--as-of", "2026-11-13T08:00")
    assert "shows newer entries than this copy of the job knows" in say(*asked, code=3)
    assert numbers(tmp_path / "cal") == held
    say(*asked, "--anyway")
    assert_ahead(tmp_path / "cal", held, by=100)
    after = numbers(tmp_path / "cal")
    # Once is enough; another folder gets the same.
    write(say, ID, "cal", 14)
    assert numbers(tmp_path / "cal") == after
    write(say, ID, "other", 14)
    assert numbers(tmp_path / "other") == after


def test_the_book_takes_the_files_ledger_over(say: Say, job: Path, tmp_path: Path) -> None:
    for day, air in ((10, "66 °F"), (11, "63 °F"), (12, "66 °F")):
        make(job, air)
        write(say, job, "cal", day)
    held = numbers(tmp_path / "cal")
    say("book", "add", job)
    write(say, ID, "new", 13)
    assert numbers(tmp_path / "new") == held
    told = json.loads(say("calendars", "write", ID, "cal", "--as-of", "2026-11-14", "--json"))
    assert [calendar["changes"] for calendar in told["calendars"]] == [[], [], []]
    # Also where the book cannot be seen, as on another machine, the file publishes no more.
    (tmp_path / "book").rename(tmp_path / "gone")
    assert "is in the job book" in say("calendars", "write", job, "cal", code=2)
    say("calendars", "write", job, "cal", "--as-of", "2026-11-15", "--anyway")
    assert_ahead(tmp_path / "cal", held, by=100)


def test_added_again_the_books_ledger_stays(say: Say, job: Path, tmp_path: Path) -> None:
    write(say, job, "cal", 10)
    say("book", "add", job)
    say("book", "add", job)
    write(say, ID, "cal", 11)
    assert set(numbers(tmp_path / "cal").values()) == {0}


def test_a_damaged_ledger_keeps_a_file_out_of_the_book(say: Say, job: Path, tmp_path: Path) -> None:
    write(say, job, "cal", 10)
    (tmp_path / "job.toml.published.json").write_text("{}")
    assert "was changed or is damaged" in say("book", "add", job, code=3)
    assert not (tmp_path / "book").exists()


def test_a_log_entry_given_once_is_missed_the_next_time(
    say: Say, job: Path, tmp_path: Path
) -> None:
    say("book", "add", job)
    more = tmp_path / "more.toml"
    more.write_text('[[log]]\nid = "cold"\nat = 2026-11-02\nkind = "air"\nair = "63 °F"\n')
    asked = ("calendars", "write", ID, "cal", "--as-of", "2026-11-10")
    say(*asked, "--log", more)
    assert "cold (reading, " in say(*asked, code=3)
    say(*asked, "--anyway")
    say(*asked)


def test_a_mail_is_written_once_whatever_folder_it_is_asked_for(
    say: Say, job: Path, tmp_path: Path
) -> None:
    say("book", "add", job)
    say("calendars", "mail", ID, "one", "--as-of", "2026-11-10")
    assert len(list((tmp_path / "one").glob("*.eml"))) > 3
    say("calendars", "mail", ID, "two", "--as-of", "2026-11-10")
    assert list((tmp_path / "two").glob("*.eml")) == []


def test_a_file_does_not_publish_beside_the_book(say: Say, job: Path, tmp_path: Path) -> None:
    write(say, job, "cal", 10)
    say("book", "add", job)
    write(say, ID, "cal", 12)
    held = {path: path.read_bytes() for path in (tmp_path / "cal").glob("*.ics")}
    make(job, "63 °F")
    for command in (("calendars", "write", job, "cal"), ("plan", job, "--calendars", "cal")):
        assert "is in the job book" in say(*command, code=2)
    assert {path: path.read_bytes() for path in held} == held


def test_another_job_of_the_file_is_none_of_the_books_business(
    say: Say, job: Path, tmp_path: Path
) -> None:
    say("book", "add", job)
    write(say, ID, "cal", 10)
    other = tmp_path / "other.toml"
    other.write_text(job.read_text("utf-8").replace(ID, "another"), "utf-8")
    assert "job book" not in write(say, other, "cal2", 11)


def test_a_book_that_cannot_be_opened_does_not_keep_a_file_from_its_calendars(
    say: Say, job: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("CURECAL_BOOK", str(tmp_path / "gone" / "b.sqlite"))
    write(say, job, "cal", 10)
    assert len(numbers(tmp_path / "cal")) == 9


def test_what_the_folder_does_not_show_yet_is_said_and_made_good(
    say: Say, job: Path, tmp_path: Path
) -> None:
    say("book", "add", job)
    # Where the lock should be stands a folder: as on a disk that takes nothing.
    lock = tmp_path / "cal" / ".curecal.lock"
    lock.mkdir(parents=True)
    asked = ("calendars", "write", ID, "cal", "--as-of", "2026-11-10")
    told = say(*asked, code=3)
    assert "The calendars are published" in told
    assert "does not show them yet" in told
    assert "Nothing was changed" not in told
    lock.rmdir()
    assert "3 as before, written again" in say(*asked)
    assert len(numbers(tmp_path / "cal")) == 9


def test_a_word_too_long_for_a_file_is_no_file(say: Say, job: Path) -> None:
    say("book", "add", job)
    assert "There is no job" in say("plan", "a" * 300, code=6)


def test_nothing_makes_a_book_but_what_goes_in(say: Say, job: Path, tmp_path: Path) -> None:
    say("book", "add", "none.toml", code=3)
    say("book", "restore", "nowhere", code=6)
    job.write_text(job.read_text("utf-8").replace(ID, "x.y"), "utf-8")
    job.write_text(job.read_text("utf-8").replace('id = "x.y"', 'id = "x.toml"'), "utf-8")
    assert "does not end in .toml" in say("book", "add", job, code=6)
    assert not (tmp_path / "book").exists()


@freeze_time("2026-12-01T15:00:00Z")
def test_add_says_what_the_floor_may_do_now_and_before(say: Say, job: Path) -> None:
    assert "No: not before" in say("book", "add", job)
    text = job.read_text("utf-8")
    stop = '\n[[log]]\nat = 2026-11-01\nkind = "stopped"\ncause = "other"\nzone = "hall"\n'
    stop += 'by = "Lee"\n'
    job.write_text(text + stop, "utf-8")
    told = say("book", "add", job)
    assert "No: stopped" in told
    assert "Before: No: not before" in told
    job.write_text(text, "utf-8")
    told = say("book", "add", job)
    assert "The files are the same as those of revision 1." in told
    assert "1 log entry in the book is no longer in the file. It counts until withdrawn:" in told
    (entry,) = re.findall(r"correction of=(\S+) withdrawn=true", told)
    say("note", ID, "correction", f"of={entry}", "withdrawn=true", "--by", "Robin Mistral")
    assert "still counts" not in say("book", "add", job)


def test_an_export_is_planned_by_the_command_that_is_told(say: Say, job: Path) -> None:
    say("book", "add", job)
    say("note", ID, "stopped", "cause=other", "reason=smell", "--zone", "hall")
    told = say("book", "export", ID, "out")
    assert told.endswith("Plan from there with: curecal plan out/job.toml")
    assert "No: stopped" in say("plan", "out/job.toml", code=1)
