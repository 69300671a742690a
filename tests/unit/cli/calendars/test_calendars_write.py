"""`curecal calendars write` on real job files: what is said, what is written, how it ends."""

from __future__ import annotations

import json
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest

from curecal.calendars import Audience, Revision, faults
from curecal.calendars.ical.loose_reader import loose_lines
from curecal.calendars.revisions.lost_ledger import salvage
from curecal.cli.calendars import calendar_files
from curecal.cli.main import code_of_run

HEAD = """
[job]
id = "alder-lane"
name = "Alder Lane"
timezone = "America/Halifax"
[expected]
below = "heated room"
air = "20 °C"
humidity = "50 %"
"""
ZONE = """
[[zone]]
id = "{id}"
name = "{id}"
[zone.heating]
voltage = "240 V"
[[zone.layer]]
name = "bed"
material = "thinset"
done = {done}
[[zone.layer]]
name = "joints"
material = "cement grout"
"""
FROST = """
[[log]]
at = 2026-11-02T22:00:00Z
kind = "surface"
zone = "hall"
surface = "-6 °C"
"""
NAMES = ["crew.ics", "electrician.ics", "owner.ics"]


def text(*zones: str, done: str = "2026-11-02T12:00:00Z", more: str = "") -> str:
    return HEAD + "".join(ZONE.format(id=each, done=done) for each in zones) + more


@dataclass
class Desk:
    """A job file, a folder for its calendars, and what was said last."""

    folder: Path
    capsys: pytest.CaptureFixture[str]
    out: str = ""
    err: str = ""
    at: int = 3

    @property
    def calendars(self) -> Path:
        return self.folder / "out"

    def write(self, job: str, *more: str, dated: bool = True, code: int = 0) -> None:
        """Write the calendars: an hour later each time, or as of now."""
        (self.folder / "job.toml").write_text(job, encoding="utf-8")
        self.at += 1
        as_of = datetime(2026, 11, 5, tzinfo=UTC) + timedelta(hours=self.at)
        asked = ["--as-of", as_of.isoformat()] if dated else []
        words = ["calendars", "write", str(self.folder / "job.toml"), str(self.calendars)]
        found = code_of_run([*words, *asked, *more])
        said = self.capsys.readouterr()
        self.out, self.err = said.out, said.err
        assert found == code, (said.out, said.err)

    def owner(self) -> dict[str, Revision]:
        """The owner's entries by title."""
        lines = loose_lines((self.calendars / "owner.ics").read_text("utf-8"))
        return {one.summary: one for one in salvage(lines, Audience.OWNER).revisions}

    def said(self) -> str:
        """What was said, in one line."""
        return " ".join(self.out.split())


@pytest.fixture
def desk(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> Desk:
    return Desk(tmp_path, capsys)


def off(zone: str) -> str:
    return f"Alder Lane, {zone}: do not switch on the floor heating"


def test_the_answer_first_and_a_line_a_calendar(desk: Desk) -> None:
    desk.write(text("hall"), "--width", "200")
    first, empty, *rest = desk.out.splitlines()
    assert first.startswith("No: not before ")
    assert empty == ""
    assert [Path(line.partition(": ")[0]).name for line in rest] == NAMES
    assert all(line.endswith(" new") for line in rest)
    for name in NAMES:
        assert faults((desk.calendars / name).read_bytes()) == ()


def test_the_same_again_says_so_and_touches_no_file(desk: Desk) -> None:
    desk.write(text("hall"))
    before = {path: path.stat().st_mtime_ns for path in desk.calendars.glob("*.ics")}
    desk.write(text("hall"), "--width", "200")
    assert [line.rpartition(" ")[0][-2:] for line in desk.out.splitlines()[2:]] == ["as"] * 3
    assert {path: path.stat().st_mtime_ns for path in desk.calendars.glob("*.ics")} == before


def test_who_publishes_the_changed_job_meanwhile_is_not_overwritten(
    desk: Desk, monkeypatch: pytest.MonkeyPatch
) -> None:
    desk.write(text("hall"))
    find, turns = calendar_files.feeds_of, []
    published: dict[str, bytes] = {}

    def found(made: Any) -> Any:
        turns.append(made)
        if len(turns) == 1:
            # Planned by now, and nothing published: somebody else does both with another day.
            desk.at -= 1
            desk.write(text("hall", done="2026-11-04T12:00:00Z"))
            published.update({name: (desk.calendars / name).read_bytes() for name in NAMES})
        return find(made)

    monkeypatch.setattr(calendar_files, "feeds_of", found)
    desk.write(text("hall", done="2026-11-03T12:00:00Z"), code=3)
    assert "was changed while its calendars were being published" in desk.err
    assert published == {name: (desk.calendars / name).read_bytes() for name in NAMES}
    desk.write(text("hall", done="2026-11-04T12:00:00Z"))
    assert desk.said().count("as before") == len(NAMES)


def test_what_changed_is_named(desk: Desk) -> None:
    desk.write(text("hall"))
    desk.write(text("hall", done="2026-11-03T12:00:00Z"))
    assert f"changed: {off('hall')}" in desk.said()
    assert desk.owner()[off("hall")].sequence == 1
    assert max(len(line) for line in desk.out.splitlines() if "/" not in line) <= 80


def test_machine_output_names_every_change(desk: Desk) -> None:
    desk.write(text("hall"), "--json")
    found = json.loads(desk.out)
    assert [Path(each["place"]).name for each in found["calendars"]] == NAMES
    assert found["left_standing"] == []
    for each in found["calendars"]:
        assert each["written"] is True
        assert each["kept"] is None
        assert len(each["changes"]) == each["entries"]
        assert {change["change"] for change in each["changes"]} == {"new"}
    desk.write(text("hall"), "--json")
    assert [(each["written"], each["changes"]) for each in json.loads(desk.out)["calendars"]] == [
        (False, [])
    ] * 3


def test_a_zone_that_left_the_job_is_kept_off_and_said(desk: Desk) -> None:
    desk.write(text("hall", "bay"))
    desk.write(text("hall"))
    assert not desk.owner()[off("bay")].cancelled
    assert 'The zone "bay" is no longer in the job and was never released.' in desk.said()
    assert "--withdraw bay" in desk.said()
    desk.write(text("hall"), "--json")
    assert json.loads(desk.out)["left_standing"] == ["bay"]
    # Two months on it still reaches ahead.
    desk.at = 60 * 24
    desk.write(text("hall"))
    assert (desk.owner()[off("bay")].value("DTEND") or "") > "20261231"


def test_a_zone_whose_id_was_changed_is_kept_off_under_both(desk: Desk) -> None:
    desk.write(text("hall"))
    desk.write(text("hall-bath"))
    assert {off("hall"), off("hall-bath")} <= desk.owner().keys()
    assert not desk.owner()[off("hall")].cancelled
    assert 'The zone "hall" is no longer in the job' in desk.said()


def test_a_person_withdraws_what_keeps_a_zone_off(desk: Desk) -> None:
    desk.write(text("hall", "bay"))
    desk.write(text("hall"), "--withdraw", "bay")
    assert "left" not in desk.out
    title = "Alder Lane: entry withdrawn, floor heating bay"
    assert desk.owner()[title].cancelled
    assert title in desk.said()
    desk.write(text("hall"))
    assert title in desk.owner()
    assert "no longer in the job" not in desk.said()
    desk.write(text("hall", "bay"))
    assert f"back again: {off('bay')}" in desk.said()
    assert desk.owner()[off("bay")].sequence == 2


@pytest.mark.parametrize(
    ("zone", "said"),
    [
        ("hall", 'The zone "hall" is still in the job, so its entry stays.'),
        ("boy", 'No calendar entry keeps a zone "boy" off.'),
    ],
)
def test_what_cannot_be_withdrawn_changes_nothing(desk: Desk, zone: str, said: str) -> None:
    desk.write(text("hall", "bay"))
    before = {path: path.read_bytes() for path in desk.calendars.glob("*.ics")}
    desk.write(text("hall"), "--withdraw", zone, code=2)
    assert said in desk.err
    assert {path: path.read_bytes() for path in desk.calendars.glob("*.ics")} == before


def test_a_stop_is_told_to_everybody(desk: Desk) -> None:
    desk.write(text("hall"))
    desk.write(text("hall", more=FROST))
    assert desk.out.startswith("No, and there is no date: frost came before it had cured")
    found = desk.owner()[off("hall")]
    assert found.sequence == 1
    assert (found.value("DTEND") or "") >= "20261119"
    assert not found.cancelled
    # What the plan rested on is gone from the file: a copy without it would say something nearer.
    desk.write(text("hall"), code=3)
    said = " ".join(desk.err.split())
    assert "an entry that is missing or different here: e-" in said
    assert "(reading, Mon 2 Nov, 18:00)" in said
    assert desk.owner()[off("hall")].sequence == 1
    # A person takes it back: the same entry goes on.
    desk.write(text("hall"), "--anyway")
    assert desk.owner()[off("hall")].sequence == 2


def test_what_was_known_before_the_last_publishing_is_not_published(desk: Desk) -> None:
    desk.write(text("hall"))
    before = {path: path.read_bytes() for path in desk.calendars.glob("*.ics")}
    desk.at -= 3
    desk.write(text("hall", done="2026-11-03T12:00:00Z"), code=2)
    assert "Calendars were already published as of Thu 5 Nov, 00:00" in desk.err
    assert desk.out == ""
    assert {path: path.read_bytes() for path in desk.calendars.glob("*.ics")} == before


def test_a_clock_that_stands_behind_publishes_a_second_later(desk: Desk) -> None:
    """The calendars were published by a machine whose clock is years ahead."""
    words = ["calendars", "write", str(desk.folder / "job.toml"), str(desk.calendars)]
    (desk.folder / "job.toml").write_text(text("hall"), encoding="utf-8")
    assert code_of_run([*words, "--as-of", "2099-01-01T00:00:00Z"]) == 0
    desk.write(text("hall", done="2025-11-03T12:00:00Z"), dated=False)
    found = desk.owner()[off("hall")]
    assert found.sequence == 1
    assert f"{found.changed_at:%Y-%m-%d %H:%M:%S}" == "2099-01-01 00:00:01"


def test_a_file_that_is_not_ours_is_kept_and_said(desk: Desk) -> None:
    desk.calendars.mkdir()
    (desk.calendars / "crew.ics").write_text("mine")
    desk.write(text("hall"), code=3)
    assert (desk.calendars / "crew.ics").read_text() == "mine"
    desk.write(text("hall"), "--anyway", "--width", "300")
    assert "or it was never one of ours" in desk.said()
    assert "kept as" in desk.said()
    assert (desk.calendars / "crew.ics.kept").read_text() == "mine"


def test_another_job_s_folder_is_refused(desk: Desk) -> None:
    desk.write(text("hall"))
    desk.write(text("hall").replace("alder-lane", "elder-lane"), code=3)
    assert "records what was published of another job: alder-lane" in " ".join(desk.err.split())
    (desk.folder / "job.toml.published.json").unlink()
    desk.write(text("hall").replace("alder-lane", "elder-lane"), code=3)
    assert 'another job: "alder-lane"' in " ".join(desk.err.split())


def test_a_job_that_is_not_understood_writes_nothing(desk: Desk) -> None:
    desk.write("[job]\nname = 1\n", code=1)
    assert "The job file has mistakes" in desk.out
    assert not desk.calendars.exists()


def test_who_publishes_is_named_when_asked(desk: Desk) -> None:
    desk.write(text("hall"), "--sender", "Office <office@example.org>")
    for name in NAMES:
        data = (desk.calendars / name).read_bytes()
        assert b"METHOD:PUBLISH\r\n" in data
        assert b'ORGANIZER;CN="Office":mailto:office@example.org\r\n' in data
    # Who publishes is no news to anybody: no entry changes with it.
    desk.write(text("hall"), "--json")
    found: dict[str, Any] = json.loads(desk.out)
    assert [(each["written"], each["changes"]) for each in found["calendars"]] == [(True, [])] * 3
    assert b"ORGANIZER" not in (desk.calendars / "crew.ics").read_bytes()


def test_plan_and_write_are_one_and_the_same(desk: Desk) -> None:
    desk.write(text("hall"))
    before = {path: path.stat().st_mtime_ns for path in desk.calendars.glob("*.ics")}
    job = str(desk.folder / "job.toml")
    asked = ["--as-of", "2026-11-05T05:00:00Z", "--calendars", str(desk.calendars)]
    assert code_of_run(["plan", job, *asked]) == 0
    assert " as before" in desk.capsys.readouterr().out
    assert {path: path.stat().st_mtime_ns for path in desk.calendars.glob("*.ics")} == before


def test_a_renamed_job_file_and_a_lost_ledger_say_what_to_do(desk: Desk) -> None:
    desk.write(text("hall"))
    job = desk.folder / "job.toml"
    job.rename(desk.folder / "bath.toml")
    words = ["calendars", "write", str(desk.folder / "bath.toml"), str(desk.calendars)]
    assert code_of_run([*words, "--as-of", "2026-11-06T00:00Z"]) == 3
    assert "rename that file to bath.toml.published.json" in " ".join(
        desk.capsys.readouterr().err.split()
    )
    (desk.folder / "job.toml.published.json").rename(desk.folder / "bath.toml.published.json")
    assert code_of_run([*words, "--as-of", "2026-11-06T00:00Z"]) == 0
    assert " as before" in desk.capsys.readouterr().out


def test_an_edited_calendar_is_said_and_put_back(desk: Desk) -> None:
    desk.write(text("hall"))
    path = desk.calendars / "owner.ics"
    path.write_bytes(path.read_bytes().replace(b"SUMMARY:", b"SUMMARY:Not ", 1))
    desk.write(text("hall"), "--width", "300")
    assert f"Somebody changed {path} since it was written" in desk.said()
    assert off("hall") in desk.owner()
    assert b"SUMMARY:Not " in (desk.calendars / "owner.ics.kept").read_bytes()
