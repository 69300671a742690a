"""`curecal book`: what its commands print, and how they end."""

from __future__ import annotations

import hashlib
import io
import itertools
import json
import os
import shutil
import sqlite3
import sys
import time
from contextlib import closing
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest
from job_samples import JOB_FILE, JOB_ID, folder_of, planned, publish
from sqlalchemy import text

from curecal.book.connection.open_book import book_url, open_book
from curecal.book.meta import hold
from curecal.cli.book.book import command
from curecal.errors import BookError, UsageError
from curecal.words.sentences import plain_words

if TYPE_CHECKING:
    from collections.abc import Callable

EXAMPLE = Path(__file__).parents[2] / "examples" / "bathroom" / "job.toml"


@pytest.fixture
def place(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A book of the test's own, named by the environment."""
    found = tmp_path / "data" / "book.sqlite3"
    monkeypatch.setenv("CURECAL_BOOK", str(found))
    monkeypatch.delenv("CURECAL_COMPANY", raising=False)
    return found


@pytest.fixture
def run(capsys: pytest.CaptureFixture[str], place: Path) -> Callable[..., tuple[int, str]]:
    del place

    def running(*words: object) -> tuple[int, str]:
        code = command.main([str(word) for word in words], "book", standalone_mode=False)
        return int(code or 0), capsys.readouterr().out

    return running


def as_json(ended: tuple[int, str]) -> dict[str, Any]:
    code, said = ended
    assert code == 0
    found: dict[str, Any] = json.loads(said)
    assert found["schema"] == 1
    return found


def several(tmp_path: Path) -> list[Path]:
    """Return job files: two that are well, one that is not understood, one that is not there."""
    folder = folder_of(tmp_path).parent
    made = []
    for number, name in enumerate(("first", "second", "wrong")):
        path = folder / f"{name}.toml"
        text = JOB_FILE.replace(f'id = "{JOB_ID}"', f'id = "{JOB_ID}-{number}"')
        assert text != JOB_FILE
        path.write_text(text if name != "wrong" else "[job]\nid = 1\n", encoding="utf-8")
        made.append(path)
    return [*made, folder / "none.toml"]


class Terminal(io.StringIO):
    """What somebody sees on a terminal."""

    def isatty(self) -> bool:
        return True


def test_whoever_waits_at_a_terminal_sees_how_many_of_many_jobs_are_added(
    run: Callable[..., tuple[int, str]], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    seen = Terminal()
    monkeypatch.setattr(sys, "stderr", seen)
    # Each look at the clock is two seconds after the last: more than anybody waits without a word.
    monkeypatch.setattr(time, "monotonic", itertools.count(0.0, 2.0).__next__)
    run("add", *several(tmp_path))
    # Three of four were dealt with before the last, wrong ones too.
    bars = [line for line in seen.getvalue().splitlines() if "Adding" in line]
    assert "75%" in " ".join(bars)
    assert "100%" in bars[-1]


def test_many_jobs_are_added_and_a_wrong_one_keeps_none_out(
    run: Callable[..., tuple[int, str]], tmp_path: Path
) -> None:
    files = several(tmp_path)
    code, said = run("add", *files)
    assert code == 1
    assert "2 jobs are new in the book." in said
    assert "2 files were not added: see above." in said
    assert f"Not added: {files[2]}" in said
    found = as_json(run("list", "--json"))
    assert [job["job_id"] for job in found["jobs"]] == [f"{JOB_ID}-0", f"{JOB_ID}-1"]
    code, said = run("add", *files[:2])
    assert (code, said.split()) == (0, ["Of", "2", "jobs", "the", "book", "already", "has", "all."])


def test_many_jobs_are_added_for_a_machine(
    run: Callable[..., tuple[int, str]], tmp_path: Path
) -> None:
    files = several(tmp_path)
    code, said = run("add", *files, "--json")
    found = json.loads(said)
    assert code == 1
    assert [job["file"] for job in found["jobs"]] == [str(file) for file in files]
    assert [job.get("new_job") for job in found["jobs"]] == [True, True, None, None]
    assert {finding["severity"] for finding in found["jobs"][2]["findings"]} >= {"error"}
    assert found["jobs"][3]["code"] == "file-missing"


def test_a_copy_that_kept_its_id_does_not_take_the_place_of_its_job(
    run: Callable[..., tuple[int, str]], tmp_path: Path
) -> None:
    first, second = several(tmp_path)[:2]
    copy, same = first.with_name("copy.toml"), first.with_name("same.toml")
    same.write_bytes(first.read_bytes())
    copy.write_text(first.read_text("utf-8").replace("640 W", "650 W"), encoding="utf-8")
    code, said = run("add", first, same, copy, second, "--json")
    jobs = json.loads(said)["jobs"]
    assert code != 0
    assert [job.get("changed") for job in jobs] == [True, False, None, True]
    assert jobs[2]["code"] == "book-job-twice"
    # Alone it is a change of the job, which is what somebody asks for.
    assert as_json(run("add", copy, "--json"))["revision"] == 2


def test_a_damaged_job_of_the_book_keeps_no_other_file_out(
    run: Callable[..., tuple[int, str]], tmp_path: Path
) -> None:
    first, second = several(tmp_path)[:2]
    run("add", first)
    with closing(sqlite3.connect(os.environ["CURECAL_BOOK"])) as book, book:
        book.execute("DROP TRIGGER content_no_update")
        book.execute("UPDATE content SET data = x'00' WHERE sha256 = ?", [hashed(first)])
    first.write_text(first.read_text("utf-8").replace("640 W", "650 W"), encoding="utf-8")
    code, said = run("add", first, second, "--json")
    jobs = json.loads(said)["jobs"]
    assert code != 0
    assert jobs[0]["code"] == "book-content-damaged"
    assert jobs[1]["new_job"] is True


def hashed(path: Path) -> str:
    return hashlib.sha256(path.read_bytes()).hexdigest()


def test_a_log_belongs_to_one_job(run: Callable[..., tuple[int, str]], tmp_path: Path) -> None:
    files = several(tmp_path)
    with pytest.raises(UsageError) as caught:
        run("add", *files[:2], "--log", files[0])
    assert caught.value.code == "book-add-log-of"


def test_a_job_is_added_once(run: Callable[..., tuple[int, str]]) -> None:
    code, said = run("add", EXAMPLE)
    assert code == 0
    assert "Alder Lane, hall bath (alder-lane-hall-bath) is now in the book: revision 1." in said
    assert "7 new log entries." in said
    code, said = run("add", EXAMPLE)
    assert (code, "the book already has all of it" in said) == (0, True)
    found = as_json(run("add", EXAMPLE, "--json"))
    assert found.pop("answer").startswith("No: ")
    assert found == {
        "schema": 1,
        "job_id": "alder-lane-hall-bath",
        "changed": False,
        "new_job": False,
        "new_revision": False,
        "revision": 1,
        "same_as": None,
        "new_entries": 0,
        "new_readings": 0,
        "left": [],
        "unreached": [],
        "same_name": [],
        "answer_before": None,
    }


def test_two_jobs_of_one_name_are_said(run: Callable[..., tuple[int, str]], tmp_path: Path) -> None:
    path = folder_of(tmp_path)
    assert "same name" not in run("add", path)[1]
    twin = JOB_FILE.replace('id = "alder-lane"', 'id = "birch-road"')
    path.write_text(twin.replace("Alder Lane", "ALDER  lane"), encoding="utf-8")
    said = " ".join(run("add", path)[1].split())
    assert "Another job in the book has the same name: alder-lane." in said
    assert as_json(run("add", path, "--json"))["same_name"] == ["alder-lane"]
    third = twin.replace("birch-road", "cedar-row")
    path.write_text(third, encoding="utf-8")
    said = " ".join(run("add", path)[1].split())
    assert "2 other jobs in the book have the same name: alder-lane, birch-road." in said


def test_a_changed_file_is_a_revision_and_a_fact_is_none(
    run: Callable[..., tuple[int, str]], tmp_path: Path
) -> None:
    path = folder_of(tmp_path)
    run("add", path)
    path.write_text(JOB_FILE.replace("upstairs", "attic"), encoding="utf-8")
    assert "revision 2 is now in the book" in run("add", path)[1]
    log = tmp_path / "log.toml"
    log.write_text(
        '[[log]]\nat = 2026-11-25T10:00:00Z\nkind = "note"\ntext = "x"\n', encoding="utf-8"
    )
    code, said = run("add", path, "--log", log)
    assert "the log has new entries" in said.replace("\n", " ")
    assert "1 new log entry." in said
    assert code == 0


def test_who_is_reached_by_no_message_is_named(
    run: Callable[..., tuple[int, str]], tmp_path: Path
) -> None:
    """With the people as they are nobody is; without the owner's address the owner is."""
    assert "reached by no message" not in run("add", EXAMPLE)[1]
    text_of = EXAMPLE.read_text(encoding="utf-8")
    cut = "".join(
        line
        for line in text_of.splitlines(keepends=True)
        if "ida" not in line.casefold() or "name" in line
    )
    assert cut != text_of
    shutil.copytree(EXAMPLE.parent, tmp_path / "site")
    file = tmp_path / "site" / "job.toml"
    file.write_text(cut.replace("alder-lane", "elder-lane"), encoding="utf-8")
    code, said = run("add", file)
    assert code == 0
    assert "Ida Fennell gets no messages: please call them." in said
    assert as_json(run("add", file, "--json"))["unreached"] == ["Ida Fennell"]


def test_the_answer_told_is_in_the_history(run: Callable[..., tuple[int, str]]) -> None:
    run("add", EXAMPLE)
    said = run("history", "alder-lane-hall-bath")[1]
    assert said.startswith("revision 1, ")
    assert said.splitlines()[1].strip().startswith("No")
    (revision,) = as_json(run("history", "alder-lane-hall-bath", "--json"))["revisions"]
    assert revision["told"]["job_id"] == "alder-lane-hall-bath"
    assert len(revision["job_sha256"]) == 64


def test_jobs_are_listed_and_shown(run: Callable[..., tuple[int, str]], tmp_path: Path) -> None:
    run("add", EXAMPLE)
    assert "alder-lane-hall-bath: Alder Lane, hall bath" in run("list")[1]
    run("add", folder_of(tmp_path))
    assert [each["job_id"] for each in as_json(run("list", "--json"))["jobs"]] == [
        "alder-lane",
        "alder-lane-hall-bath",
    ]
    with open_book(book_url(None, {"CURECAL_BOOK": str(tmp_path / "data" / "book.sqlite3")})) as b:
        publish(b, planned(b))
        with b.writing() as connection:
            hold(connection, "restored", now=planned(b).as_of, job_id=JOB_ID)
    said = run("show", JOB_ID)[1]
    assert "2 entries in the log" in said
    assert "on hold (restored): nothing is sent" in said
    assert "calendar entries published" in said
    shown = as_json(run("show", JOB_ID, "--json"))
    assert shown["hold"] == "restored"
    assert shown["published"][0]["sequence"] == 0
    assert shown["newest"]["revision"] == 1


def test_a_job_goes_out_and_comes_back(
    run: Callable[..., tuple[int, str]], tmp_path: Path, place: Path
) -> None:
    run("add", EXAMPLE)
    code, said = run("export", "alder-lane-hall-bath", tmp_path / "out")
    assert (code, str(tmp_path / "out") in said.replace("\n", "")) == (0, True)
    shutil.rmtree(place.parent)
    code, said = run("restore", tmp_path / "out")
    assert code == 0
    assert "revision number 1000" in said
    assert "Nothing is sent" in said
    assert run("check") == (0, "1 job checked.\nNo damage found.\n")
    assert as_json(run("check", "--json")) == {"schema": 1, "jobs": 1, "faults": []}
    again = as_json(run("export", "alder-lane-hall-bath", tmp_path / "again", "--json"))
    assert (again["revisions"], again["entries"]) == (1, 7)
    other = tmp_path / "other.sqlite3"
    restored = as_json(run("restore", tmp_path / "again", "--book", other, "--json"))
    assert restored == {
        "schema": 1,
        "job_id": "alder-lane-hall-bath",
        "first_sequence": 1000,
        "on_hold": True,
    }


def test_a_fault_is_named_and_ends_in_six(run: Callable[..., tuple[int, str]], place: Path) -> None:
    run("add", EXAMPLE)
    with open_book(book_url(str(place))) as book, book.writing() as connection:
        connection.execute(text("DROP TRIGGER outbox_no_delete"))
    code, said = run("check")
    assert code == 6
    assert "outbox_no_delete" in said
    assert "1 fault." in said
    code, said = run("check", "--json")
    assert code == 6
    (fault,) = json.loads(said)["faults"]
    assert fault["code"] == "book-fault-guard"
    assert "outbox_no_delete" in fault["message"]


@pytest.mark.parametrize("json_", [(), ("--json",)])
def test_a_job_that_is_not_understood_ends_in_one(
    run: Callable[..., tuple[int, str]], tmp_path: Path, json_: tuple[str, ...], place: Path
) -> None:
    path = folder_of(tmp_path)
    path.write_text(JOB_FILE.replace('"20 °C"', '"20"'), encoding="utf-8")
    code, said = run("add", path, *json_)
    assert code == 1
    assert "air" in said
    # Nothing went in, so no book was made for it.
    assert not place.exists()


@pytest.mark.parametrize(
    ("words", "code"),
    [
        (("show", "nobody"), "book-job-unknown"),
        (("history", "nobody"), "book-job-unknown"),
        (("export", "nobody", "out"), "book-job-unknown"),
        (("restore", "nowhere"), "book-export-missing"),
        (("list", "--book", "none.sqlite3"), "book-missing"),
        (("list", "--book", "mysql://h/d"), "book-url"),
    ],
)
def test_what_is_not_there_is_said(
    run: Callable[..., tuple[int, str]],
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    words: tuple[str, ...],
    code: str,
) -> None:
    monkeypatch.chdir(tmp_path)
    run("add", EXAMPLE)
    with pytest.raises(BookError) as refused:
        run(*words)
    assert refused.value.code == code
    assert refused.value.exit_code == 6
    assert plain_words().error(refused.value)


def test_an_empty_book_says_so(run: Callable[..., tuple[int, str]], place: Path) -> None:
    open_book(book_url(str(place))).close()
    assert run("list") == (0, "There is no job in the book.\n")
    assert run("check") == (0, "0 jobs checked.\nNo damage found.\n")


def test_a_time_zone_that_somebody_wrote_into_the_book_is_refused(
    run: Callable[..., tuple[int, str]], place: Path
) -> None:
    run("add", EXAMPLE)
    with open_book(book_url(str(place))) as book, book.writing() as connection:
        connection.execute(text("UPDATE job SET timezone = 'Nowhere/X'"))
    for words in (("list",), ("show", "alder-lane-hall-bath"), ("history", "alder-lane-hall-bath")):
        with pytest.raises(BookError) as refused:
            run(*words)
        assert refused.value.code == "book-zone-unknown"
        assert "Nowhere/X" in plain_words().error(refused.value)


def test_a_job_without_a_revision_is_listed_as_one_to_look_at(
    run: Callable[..., tuple[int, str]], place: Path
) -> None:
    with open_book(book_url(str(place))) as book, book.writing() as connection:
        connection.execute(
            text("INSERT INTO job (id, name, timezone) VALUES ('bare', 'Bare', 'UTC')")
        )
    said = run("list")[1]
    assert "no revision; find out what is wrong with: curecal book check" in said
    assert "0 revisions" not in said
