"""What keeps a floor off survives lost, cut, swapped and stripped files and a lost ledger."""

from __future__ import annotations

import os
import re
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from test_calendars_write import text

from curecal.calendars import Audience, Revision
from curecal.calendars.ical.loose_reader import loose_lines
from curecal.calendars.revisions.lost_ledger import salvage
from curecal.cli.main import code_of_run

OFF = "Alder Lane, {}: do not switch on the floor heating"
START = datetime(2026, 11, 3, 12, tzinfo=UTC)
UNDONE = re.compile(r"^done = .*\n", re.MULTILINE)


class Site:
    """A job file with its calendars, published a day later each time."""

    def __init__(self, folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
        self.job, self.out = folder / "job.toml", folder / "out"
        self.at, self.capsys = START, capsys

    def write(self, job: str, *more: str, code: int = 0, later_s: float = 86400) -> str:
        self.job.write_text(job, encoding="utf-8")
        self.at += timedelta(seconds=later_s)
        as_of = self.at.isoformat()
        arguments = ["calendars", "write", str(self.job), str(self.out), "--as-of", as_of, *more]
        assert code_of_run(arguments) == code
        told = self.capsys.readouterr()
        return " ".join((told.out + told.err).split())

    def file(self, name: str) -> Path:
        return self.out / f"{name}.ics"

    def entries(self, name: str) -> dict[str, Revision]:
        lines = loose_lines(self.file(name).read_text("utf-8"))
        return {one.summary: one for one in salvage(lines, Audience(name)).revisions}

    @property
    def ledger(self) -> Path:
        return self.job.with_name("job.toml.published.json")


@pytest.fixture
def site(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> Site:
    return Site(tmp_path, capsys)


def test_an_owner_file_that_is_lost_comes_back_with_a_zone_taken_out(site: Site) -> None:
    site.write(text("hall", "bay"))
    site.file("owner").unlink()
    said = site.write(text("hall"))
    assert 'The zone "bay" is no longer in the job and was never released' in said
    assert not site.entries("owner")[OFF.format("bay")].cancelled


def test_an_owner_file_and_the_ledger_lost_with_a_zone_taken_out_is_said(site: Site) -> None:
    site.write(text("hall", "bay"))
    site.file("owner").unlink()
    site.ledger.unlink()
    assert "nothing beside this job file says what was published" in site.write(
        text("hall"), code=3
    )
    assert not site.file("owner").exists()
    said = site.write(text("hall"), "--anyway")
    assert 'The zone "bay" is no longer in the job and was never released' in said
    assert "must stay off" in said


@pytest.mark.parametrize("is_ledger_lost", [False, True])
def test_a_zone_taken_out_is_kept_off_over_a_lost_ledger(
    site: Site, *, is_ledger_lost: bool
) -> None:
    site.write(text("hall", "bay"))
    if is_ledger_lost:
        site.ledger.unlink()
    said = site.write(text("hall"), *(["--anyway"] if is_ledger_lost else []))
    entry = site.entries("owner")[OFF.format("bay")]
    assert not entry.cancelled
    assert entry.sequence == (100 if is_ledger_lost else 1)
    assert "--withdraw bay" in said


def test_an_owner_entry_without_its_marks_is_left_alone_and_said(site: Site) -> None:
    site.write(text("hall", "bay"))
    kept = re.sub(rb"X-CURECAL-(EVENT|KEEPS)[^\r]*\r\n", b"", site.file("owner").read_bytes())
    site.file("owner").write_bytes(kept)
    site.ledger.unlink()
    said = site.write(text("hall"), "--anyway")
    assert not site.entries("owner")[OFF.format("bay")].cancelled
    assert f"stays as it is: {OFF.format('bay')}" in said


def test_an_entry_left_standing_names_no_day(site: Site) -> None:
    site.write(text("hall", "bay"))
    told = site.entries("owner")[OFF.format("bay")].value("DESCRIPTION") or ""
    assert re.search(r"before \w{3} \d", told)
    site.write(text("hall"))
    stands = site.entries("owner")[OFF.format("bay")].value("DESCRIPTION") or ""
    assert not re.search(r"\d{4}", stands)
    assert "never released" in stands


def test_a_floor_without_recorded_work_is_kept_off_today_every_day(site: Site) -> None:
    starts = []
    for _ in range(14):
        site.write(UNDONE.sub("", text("hall")))
        span = site.entries("owner")[OFF.format("hall")]
        today = f"{site.at:%Y%m%d}"
        assert (span.value("DTSTART") or "") <= today < (span.value("DTEND") or "")
        starts.append(span.value("DTSTART"))
    assert len(set(starts)) <= 3


@pytest.mark.parametrize(
    ("source", "target"),
    [("owner", "crew"), ("crew", "owner"), ("electrician", "owner"), ("crew", "electrician")],
)
def test_a_calendar_in_the_place_of_another_is_refused_or_put_aside(
    site: Site, source: str, target: str
) -> None:
    site.write(text("hall"))
    site.write(text("hall", "bay"))
    before = site.file(target).read_bytes()
    site.file(target).write_bytes(site.file(source).read_bytes())
    # Its count may be above the one that this calendar's ledger knows.
    as_asked = ["--anyway"] if len(site.entries(source)) else []
    site.write(text("hall", "bay"), *as_asked)
    found = {one.uid: one.sequence for one in site.entries(target).values()}
    wanted = salvage(loose_lines(before.decode()), Audience(target)).revisions
    assert found.keys() >= {one.uid for one in wanted}
    assert all(found[one.uid] >= one.sequence for one in wanted)


def test_one_file_under_two_names_is_refused(site: Site) -> None:
    site.write(text("hall"))
    site.file("owner").unlink()
    os.link(site.file("crew"), site.file("owner"))
    assert "is the same file" in site.write(text("hall"), code=3)


def test_nothing_moves_by_the_minute(site: Site) -> None:
    """A job whose told day can no longer be kept: its latest start is now, minute by minute."""
    site.at = datetime(2026, 12, 17, 14, 5, tzinfo=UTC)
    site.write(text("hall", "bay"), later_s=0)
    files = {path.name: path.read_bytes() for path in site.out.glob("*.ics")}
    for _ in range(3):
        site.write(text("hall", "bay"), later_s=60)
    assert {path.name: path.read_bytes() for path in site.out.glob("*.ics")} == files
