"""R27: a finish that looks like a slip is asked about, and an honest one is not."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime, time, timedelta
from pathlib import Path

import pytest
from note_samples import SITE, Site
from planning_log import fact
from planning_samples import DAY, job, layer, plan, reading, sheet, zone

from curecal.planning.plan import Plan, State
from curecal.trade.findings import Severity
from curecal.trade.job import Layer, Work
from curecal.trade.site_log import Done, Entry, Remark

NOW = datetime(2027, 1, 15, 12, tzinfo=UTC)
GROUTED = datetime(2027, 1, 11, 15, tzinfo=UTC)
A_YEAR = timedelta(days=365)
THINSET = layer("thinset", GROUTED - DAY * 4, "bed")
GROUT = layer("cement grout", GROUTED, "grout")
QUESTIONS = {"finish-by-night", "finish-told-late", "finish-far-before"}


def asked(found: Plan) -> list[tuple[str, str | None]]:
    """Return the questions of a plan, each with its layer."""
    return [(told.code, told.layer_id) for told in found.findings if told.code in QUESTIONS]


def floor(*layers: Layer, log: tuple[Entry, ...] = (), work: Work | None = None) -> Plan:
    made = job(zone(*layers))
    return plan(made if work is None else replace(made, work=work), log, NOW)


def test_the_year_slip_of_january_has_no_date_until_somebody_is_sure() -> None:
    # Every other fact is of January 2027: 365 d before the next is over the 300 d of R27.
    log = (reading(GROUTED - DAY, 18.0), reading(GROUTED + DAY, 18.0))
    slipped = replace(GROUT, done_at=GROUTED - A_YEAR)
    found = floor(slipped, log=log)
    assert asked(found) == [("finish-far-before", "grout")]
    assert found.zones[0].state is State.NO_DATE
    assert found.zones[0].energize.window is None
    (told,) = [finding for finding in found.findings if finding.code in QUESTIONS]
    assert told.severity is Severity.WARNING
    sure = floor(replace(slipped, sure=True), log=log)
    assert asked(sure) == []
    assert sure.zones[0].energize.window is not None


def test_a_layer_a_year_under_the_next_is_asked_about_and_the_next_has_its_date() -> None:
    slipped = replace(THINSET, done_at=GROUTED - A_YEAR)
    found = floor(slipped, GROUT)
    assert asked(found) == [("finish-far-before", "bed")]
    (bed, grout) = found.zones[0].layers
    assert all(milestone.window is None for milestone in bed.milestones.values())
    assert any(milestone.window is not None for milestone in grout.milestones.values())


@pytest.mark.parametrize(
    ("days", "is_asked"), [(299.0, False), (300.0, False), (300.1, True), (400.0, True)]
)
def test_over_300_days_before_the_next_finish_is_asked(days: float, *, is_asked: bool) -> None:
    slab = layer("concrete", GROUTED - timedelta(days=days), "slab")
    slab = replace(slab, sure=False, done_at=GROUTED - timedelta(days=days))
    assert bool(asked(floor(slab, GROUT))) is is_asked


def test_an_old_slab_that_was_there_before_is_not_asked_about() -> None:
    slab = layer("concrete", None, "slab", existing=True)
    assert asked(floor(slab, THINSET, GROUT)) == []


def test_a_repair_years_later_and_a_note_years_later_ask_nothing() -> None:
    old = GROUTED - A_YEAR * 2
    finished = layer("cement grout", old, "old grout")
    reset = layer("thinset", GROUTED, "reset", repair=True)
    log = (reading(old - DAY, 18.0), fact(Remark, GROUTED))
    assert asked(floor(finished, reset, log=log)) == []


@pytest.mark.parametrize(
    ("wall", "is_asked"),
    [
        ("21:59", False),
        ("22:00", True),
        ("03:30", True),
        ("04:59", True),
        ("05:00", False),
        # A day without an hour counts from 24:00.
        ("00:00", False),
        ("00:01", True),
    ],
)
def test_a_finish_by_night_is_asked_about(wall: str, *, is_asked: bool) -> None:
    at = datetime.combine(GROUTED.date(), time.fromisoformat(wall), UTC)
    found = floor(replace(GROUT, done_at=at))
    assert asked(found) == ([("finish-by-night", "grout")] if is_asked else [])


def test_within_working_hours_no_finish_is_by_night() -> None:
    at = datetime.combine(GROUTED.date(), time(22, 30), UTC)
    late = Work(start=time(14, 0), end=time(23, 0))
    assert asked(floor(replace(GROUT, done_at=at), work=late)) == []


@pytest.mark.parametrize(
    ("wall", "is_asked"), [("22:30", False), ("03:30", False), ("04:30", True), ("00:00", False)]
)
def test_within_a_night_shift_no_finish_is_by_night(wall: str, *, is_asked: bool) -> None:
    at = datetime.combine(GROUTED.date(), time.fromisoformat(wall), UTC)
    nights = Work(start=time(20, 0), end=time(4, 0))
    found = asked(floor(replace(GROUT, done_at=at), work=nights))
    assert found == ([("finish-by-night", "grout")] if is_asked else [])


def test_who_works_by_night_is_asked_once_a_job() -> None:
    bed = replace(THINSET, done_at=datetime(2027, 1, 7, 23, 30, tzinfo=UTC))
    grout = replace(GROUT, done_at=datetime(2027, 1, 11, 23, 30, tzinfo=UTC))
    assert len(asked(floor(bed, grout))) == 2
    assert asked(floor(replace(bed, sure=True), grout)) == []


@pytest.mark.parametrize(("days", "is_asked"), [(60.0, False), (60.5, True)])
def test_a_finish_told_over_60_days_later_is_asked_about(days: float, *, is_asked: bool) -> None:
    told = NOW - timedelta(hours=1)
    at = (told - timedelta(days=days)).replace(hour=11)
    told = at + timedelta(days=days)
    open_grout = replace(GROUT, done_at=None)
    made = job(zone(open_grout))
    entry = fact(Done, at, layer="grout", recorded=told)
    as_of = told + DAY
    assert asked(plan(made, [entry], as_of)) == (
        [("finish-told-late", "grout")] if is_asked else []
    )
    sure = replace(entry, sure=True)
    assert asked(plan(made, [sure], as_of)) == []


def test_a_sheet_of_its_own_changes_nothing_of_the_question() -> None:
    quick = layer(sheet("cement grout", 3.0), GROUTED.replace(hour=23), "grout")
    assert asked(floor(quick)) == [("finish-by-night", "grout")]


def test_note_asks_and_anyway_writes_that_somebody_is_sure(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    site = Site(tmp_path, monkeypatch, capsys)
    site.path.write_text(SITE.replace("done = 2026-10-05T12:00:00\n", ""), encoding="utf-8")
    before = site.text
    said = site.run("note job.toml done layer=grout --zone hall --at 2026-10-05T23:30", 1)
    assert "by night" in said
    assert "--anyway" in said
    assert site.text == before
    site.run("note job.toml done layer=grout --zone hall --at 2026-10-05T23:30 --anyway")
    assert "sure = true" in site.text
