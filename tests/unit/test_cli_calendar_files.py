"""Calendars on the disk: all or none, and never over a file that is not this job's."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest
from calendar_samples import JOB, RULES, plan

from curecal.calendars import build
from curecal.cli import calendar_files
from curecal.cli.calendar_files import write_directory
from curecal.errors import SourceError

NAMES = ["crew.ics", "electrician.ics", "owner.ics"]


def refused(code: str, folder: Path, **asked: bool) -> SourceError:
    with pytest.raises(SourceError) as caught:
        write_directory(plan(), folder, rules=RULES, **asked)
    assert caught.value.code == code
    assert caught.value.exit_code == 3
    return caught.value


def test_the_bytes_are_written_as_built(tmp_path: Path) -> None:
    folder = tmp_path / "new" / "folder"
    written = write_directory(plan(), folder, rules=RULES)
    assert [path.name for path in written] == NAMES
    built = build(plan(), rules=RULES)
    assert {path.name: path.read_bytes() for path in folder.iterdir()} == built
    assert {path.stat().st_mode & 0o777 for path in written} == {0o644}


def test_one_calendar_that_is_there_stops_all(tmp_path: Path) -> None:
    (tmp_path / "owner.ics").write_bytes(b"kept")
    error = refused("calendar-exists", tmp_path)
    assert str(error.params["path"]).endswith("owner.ics")
    assert [path.name for path in tmp_path.iterdir()] == ["owner.ics"]
    assert (tmp_path / "owner.ics").read_bytes() == b"kept"


def test_a_link_to_nowhere_is_there_as_well(tmp_path: Path) -> None:
    (tmp_path / "crew.ics").symlink_to(tmp_path / "nowhere")
    refused("calendar-exists", tmp_path)
    refused("calendar-not-ours", tmp_path, replace=True)


def test_a_link_stays_a_link_and_its_file_is_written(tmp_path: Path) -> None:
    shown, shared = tmp_path / "shown", tmp_path / "shared"
    write_directory(plan(), shown, rules=RULES)
    shared.mkdir()
    (shown / "crew.ics").rename(shared / "robin.ics")
    (shown / "crew.ics").symlink_to("../shared/robin.ics")
    renamed = plan(job=replace(JOB, name="Alder Lane 7, upstairs"))
    write_directory(renamed, shown, rules=RULES, replace=True)
    assert (shown / "crew.ics").is_symlink()
    assert (shared / "robin.ics").read_bytes() == build(renamed, rules=RULES)["crew.ics"]
    assert [path.name for path in shared.iterdir()] == ["robin.ics"]


def test_two_links_to_one_file_are_refused(tmp_path: Path) -> None:
    write_directory(plan(), tmp_path, rules=RULES)
    (tmp_path / "owner.ics").unlink()
    (tmp_path / "owner.ics").symlink_to("crew.ics")
    before = (tmp_path / "crew.ics").read_bytes()
    refused("calendar-not-ours", tmp_path, replace=True)
    assert (tmp_path / "crew.ics").read_bytes() == before


def test_a_set_with_a_calendar_missing_is_completed_only_when_asked(tmp_path: Path) -> None:
    write_directory(plan(), tmp_path, rules=RULES)
    (tmp_path / "owner.ics").unlink()
    refused("calendar-exists", tmp_path)
    assert not (tmp_path / "owner.ics").exists()
    write_directory(plan(), tmp_path, rules=RULES, replace=True)
    assert sorted(path.name for path in tmp_path.iterdir()) == NAMES


@pytest.mark.parametrize("renamed", [0, 1, 2])
def test_cut_off_between_two_files_each_one_is_whole(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, renamed: int
) -> None:
    write_directory(plan(), tmp_path, rules=RULES)
    old = build(plan(), rules=RULES)
    moved = plan(job=replace(JOB, name="Alder Lane 7, upstairs"))
    new = build(moved, rules=RULES)
    really, count = Path.replace, iter(range(3))

    def cut_off(made: Path, path: Path) -> Path:
        if next(count) == renamed:
            raise KeyboardInterrupt
        return really(made, path)

    monkeypatch.setattr(Path, "replace", cut_off)
    with pytest.raises(KeyboardInterrupt):
        write_directory(moved, tmp_path, rules=RULES, replace=True)
    expected = {name: (new if place < renamed else old)[name] for place, name in enumerate(NAMES)}
    assert {path.name: path.read_bytes() for path in tmp_path.iterdir()} == expected


def test_this_job_s_calendars_are_replaced_when_asked(tmp_path: Path) -> None:
    write_directory(plan(), tmp_path, rules=RULES)
    renamed = plan(job=replace(JOB, name="Alder Lane 7, upstairs"))
    write_directory(renamed, tmp_path, rules=RULES, replace=True)
    assert {path.name: path.read_bytes() for path in tmp_path.iterdir()} == (
        build(renamed, rules=RULES)
    )


@pytest.mark.parametrize("data", [b"mine", b"\xff", b""])
def test_a_file_of_somebody_else_is_never_replaced(tmp_path: Path, data: bytes) -> None:
    (tmp_path / "crew.ics").write_bytes(data)
    refused("calendar-not-ours", tmp_path, replace=True)
    assert [path.name for path in tmp_path.iterdir()] == ["crew.ics"]


def test_another_job_s_calendars_are_never_replaced(tmp_path: Path) -> None:
    write_directory(plan(job=replace(JOB, id="elder")), tmp_path, rules=RULES)
    before = {path.name: path.read_bytes() for path in tmp_path.iterdir()}
    refused("calendar-not-ours", tmp_path, replace=True)
    assert {path.name: path.read_bytes() for path in tmp_path.iterdir()} == before


def test_a_file_in_place_of_the_folder(tmp_path: Path) -> None:
    place = tmp_path / "calendars"
    place.write_bytes(b"")
    error = refused("calendar-unwritable", place)
    assert error.params["reason"]


def test_a_disk_that_fails_leaves_nothing(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def full(_: int) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(calendar_files.os, "fsync", full)
    error = refused("calendar-unwritable", tmp_path)
    assert error.params["reason"] == "No space left on device"
    assert list(tmp_path.iterdir()) == []


def test_the_caller_s_days_off_count(tmp_path: Path) -> None:
    write_directory(
        plan(), tmp_path, rules=RULES, day_off=lambda day: "x" if day.day < 10 else None
    )
    assert (tmp_path / "crew.ics").read_bytes() != build(plan(), rules=RULES)["crew.ics"]
