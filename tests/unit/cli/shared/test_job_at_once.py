"""A job of the book that two programs work on at the same time."""

from __future__ import annotations

import json
import re
import shutil
from pathlib import Path
from typing import Any

import pytest
from test_job_source import AS_OF, EXAMPLE, ID, ROOT, said

from curecal.cli.book import put_in_book
from curecal.cli.calendars import calendar_files
from curecal.cli.main import code_of_run
from curecal.cli.readings import readings as readings_command
from curecal.delivery import ics_folder


def test_a_job_file_added_while_somebody_is_asked_stays(
    book: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys
) -> None:
    del book
    for folder in ("config", "examples"):
        shutil.copytree(ROOT / folder, tmp_path / folder)
    job = tmp_path / "examples" / "bathroom" / "job.toml"
    text = job.read_text("utf-8").replace('name = "Alder Lane, hall bath"', 'name = "Two"', 1)
    job.write_text(text, "utf-8")
    shutil.copy(ROOT / "tests" / "files_of_loggers" / "warm_van.csv", tmp_path / "van.csv")
    ask = readings_command.destination_of

    def asked(*how: Any, **more: Any) -> Any:
        # Whoever is asked for the floor takes a minute to answer.
        assert code_of_run(["book", "add", str(job)]) == 0
        return ask(*how, **more)

    monkeypatch.setattr(readings_command, "destination_of", asked)
    assert "Added to" in said(capsys, "readings", "van.csv", "--into", ID, "--zone", "hall")
    revisions = json.loads(said(capsys, "book", "history", ID, "--json"))["revisions"]
    assert len(revisions) == 2
    assert "Two" in said(capsys, "book", "show", ID)
    listed = json.loads(said(capsys, "log", ID, "--kind", "readings", "--json"))
    assert len(listed["entries"]) == 1


def entries_after_two_added(
    monkeypatch: pytest.MonkeyPatch, capsys, *mine: str, theirs: str
) -> tuple[list[str], set[str], str]:
    """Add a file while somebody else adds theirs.

    Returns:
        The entries that were told, those in the book, and what standard error says.
    """
    ask, turns = readings_command.destination_of, []
    into = ("--into", ID, "--zone", "hall")

    def asked(*how: Any, **more: Any) -> Any:
        turns.append(how)
        if len(turns) == 1:
            said(capsys, "readings", theirs, *into)
        return ask(*how, **more)

    monkeypatch.setattr(readings_command, "destination_of", asked)
    assert code_of_run(["readings", *mine, *into]) == 0
    out, told = (" ".join(text.split()) for text in capsys.readouterr())
    listed = json.loads(said(capsys, "log", ID, "--kind", "readings", "--json"))["entries"]
    return re.findall(r"as entry (e-\w+)", out), {row["id"] for row in listed}, told


def test_readings_that_two_add_at_once_are_in_the_log_once(
    book: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys
) -> None:
    del book
    shutil.copy(ROOT / "tests" / "files_of_loggers" / "warm_van.csv", tmp_path / "van.csv")
    (named,), kept, told = entries_after_two_added(monkeypatch, capsys, "van.csv", theirs="van.csv")
    # Whoever takes the entry back must not leave another one that still counts.
    assert len(kept) == 1
    assert f"yours is not in the book: {named}." in told


def test_of_several_loggers_only_what_somebody_else_has_just_added_is_left_out(
    book: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys
) -> None:
    del book
    text = (ROOT / "tests" / "files_of_loggers" / "several_devices.csv").read_text("utf-8")
    (tmp_path / "both.csv").write_text(text, "utf-8")
    lines = [line for line in text.splitlines(keepends=True) if ",B-22," not in line]
    (tmp_path / "one.csv").write_text("".join(lines), "utf-8")
    mine = ("both.csv", "--device", "A-17", "--device", "B-22")
    named, kept, told = entries_after_two_added(monkeypatch, capsys, *mine, theirs="one.csv")
    assert len(named) == len(kept) == 2
    # Of the sensor that both have the other one's entry stands.
    (left_out,) = set(named) - kept
    assert f"yours is not in the book: {left_out}." in told


def test_what_is_published_while_the_book_takes_the_job_is_taken_over(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys
) -> None:
    monkeypatch.setenv("CURECAL_BOOK", str(tmp_path / "book.sqlite"))
    folder = tmp_path / "calendars"
    job = tmp_path / "job.toml"
    shutil.copy(EXAMPLE, job)
    write = ("calendars", "write", str(job), str(folder), "--as-of")
    said(capsys, *write, AS_OF)
    opened = put_in_book.open_book

    def opening(*how: Any, **more: Any) -> Any:
        text = job.read_text("utf-8").replace('air = "66 °F"', 'air = "63 °F"')
        job.write_text(text, "utf-8")
        said(capsys, *write, "2026-11-11T08:00")
        return opened(*how, **more)

    monkeypatch.setattr(put_in_book, "open_book", opening)
    said(capsys, "book", "add", str(job))
    monkeypatch.undo()
    monkeypatch.setenv("CURECAL_BOOK", str(tmp_path / "book.sqlite"))
    said(capsys, "book", "add", str(job))
    assert b"SEQUENCE:1\r\n" in (folder / "crew.ics").read_bytes()
    told = said(capsys, "calendars", "write", ID, str(folder), "--as-of", "2026-11-12T08:00")
    assert "new" not in told
    assert b"SEQUENCE:1\r\n" in (folder / "crew.ics").read_bytes()


def test_what_is_published_for_the_first_time_meanwhile_is_taken_over(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys
) -> None:
    monkeypatch.setenv("CURECAL_BOOK", str(tmp_path / "book.sqlite"))
    folder = tmp_path / "calendars"
    job = tmp_path / "job.toml"
    shutil.copy(EXAMPLE, job)
    opened = put_in_book.open_book

    def opening(*how: Any, **more: Any) -> Any:
        # A first book takes a second to be made.
        said(capsys, "calendars", "write", str(job), str(folder), "--as-of", AS_OF)
        return opened(*how, **more)

    monkeypatch.setattr(put_in_book, "open_book", opening)
    assert "is now in the book: revision 1" in said(capsys, "book", "add", str(job))
    before = (folder / "crew.ics").read_bytes()
    # Neither refused as somebody else's nor told anew.
    said(capsys, "calendars", "write", ID, str(folder), "--as-of", AS_OF)
    assert (folder / "crew.ics").read_bytes() == before


def test_who_publishes_a_job_just_put_into_the_book_goes_on_from_its_file(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys
) -> None:
    monkeypatch.setenv("CURECAL_BOOK", str(tmp_path / "book.sqlite"))
    folder = tmp_path / "calendars"
    job = tmp_path / "job.toml"
    shutil.copy(EXAMPLE, job)
    said(capsys, "calendars", "write", str(job), str(folder), "--as-of", AS_OF)
    before = (folder / "crew.ics").read_bytes()
    add = put_in_book.add_ready

    def added(*how: Any, **more: Any) -> Any:
        found = add(*how, **more)
        # A round of reminders, or somebody else, has the job at once.
        said(capsys, "calendars", "write", ID, str(tmp_path / "other"), "--as-of", AS_OF)
        return found

    monkeypatch.setattr(put_in_book, "add_ready", added)
    said(capsys, "book", "add", str(job))
    assert (tmp_path / "other" / "crew.ics").read_bytes() == before
    said(capsys, "calendars", "write", ID, str(folder), "--as-of", AS_OF)
    assert (folder / "crew.ics").read_bytes() == before


def test_a_job_changed_while_it_is_published_is_not_published_as_it_was(
    book: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys
) -> None:
    del book
    find, turns = calendar_files.feeds_of, []
    text = EXAMPLE.read_text("utf-8").replace('air = "66 °F"', 'air = "63 °F"')
    (tmp_path / "job.toml").write_text(text, "utf-8")
    write = ("calendars", "write", ID, "out", "--as-of", AS_OF)

    def found(made: Any) -> Any:
        turns.append(made)
        if len(turns) == 1:
            said(capsys, "book", "add", "job.toml")
            said(capsys, *write)
        return find(made)

    monkeypatch.setattr(calendar_files, "feeds_of", found)
    assert "changed while its calendars" in " ".join(said(capsys, *write, code=3).split())
    told = said(capsys, *write)
    assert told.count("as before") == 3


@pytest.mark.parametrize("change_count", [1, 99])
def test_one_job_that_changes_keeps_no_calendar_from_people(
    book: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys, change_count: int
) -> None:
    del book
    find, turns = calendar_files.feeds_of, []
    text = EXAMPLE.read_text("utf-8")

    def found(made: Any) -> Any:
        turns.append(made)
        if len(turns) <= change_count:
            changed = text.replace('air = "66 °F"', f'air = "66.{len(turns)} °F"')
            (tmp_path / "job.toml").write_text(changed, "utf-8")
            said(capsys, "book", "add", "job.toml")
        return find(made)

    monkeypatch.setattr(calendar_files, "feeds_of", found)
    write = ("calendars", "people", "out", "--as-of", AS_OF)
    if change_count == 1:
        said(capsys, *write)
        assert list(Path("out").glob("*.ics"))
        # What was published is what the job says now.
        assert (
            said(capsys, "calendars", "write", ID, "own", "--as-of", AS_OF).count("as before") == 3
        )
    else:
        assert "changed while its calendars" in " ".join(said(capsys, *write, code=3).split())


def test_who_writes_peoples_calendars_last_writes_what_is_published(
    book: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys
) -> None:
    del book
    text = EXAMPLE.read_text("utf-8").replace('air = "66 °F"', 'air = "63 °F"')
    (tmp_path / "job.toml").write_text(text, "utf-8")
    write = ("calendars", "people", "out", "--as-of", AS_OF)
    made, turns = ics_folder.write_persons, []

    def written(*how: Any) -> Any:
        turns.append(how)
        if len(turns) == 1:
            said(capsys, "book", "add", "job.toml")
            said(capsys, *write)
            turns.append({path.name: path.read_bytes() for path in Path("out").glob("*.ics")})
        return made(*how)

    monkeypatch.setattr(ics_folder, "write_persons", written)
    said(capsys, *write)
    newest = turns[-1]
    assert any(b"SEQUENCE:1" in data for data in newest.values())
    assert {path.name: path.read_bytes() for path in Path("out").glob("*.ics")} == newest
