"""Work that nobody can have done in that order, and work on a floor that was still warm."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime, timedelta
from pathlib import Path

import pytest
from note_samples import HALL, HEAD, Site
from planning_log import a_job, codes, courses, evidence, fact, floor, state
from planning_samples import DAY, START, item, layer, plan, reading, sheet, zone

from curecal.planning.plan import State
from curecal.planning.schedule.covering_order import find_later_below, find_undone_below
from curecal.trade.data_sheets import Milestone
from curecal.trade.findings import Severity
from curecal.trade.job import Zone
from curecal.trade.site_log import Done, Energized, Entry, HeatStep, Place

HOUR = timedelta(hours=1)
RESET = START + DAY * 100
LATE = START + DAY * 20


def done(name: str, at: datetime) -> Done:
    return fact(Done, at, recorded=LATE - DAY, layer=name, zone="hall")


def logged(*names: str) -> Zone:
    """Return the floor, with layers that the log alone says are finished."""
    layers = [replace(one, done_at=None) if one.name in names else one for one in courses()]
    return floor(layers=tuple(layers))


def test_a_layer_done_before_the_one_under_it_has_no_date() -> None:
    made = plan(a_job(logged("grout")), [*evidence(), done("grout", START + DAY)], LATE)
    found = [each for each in made.findings if each.code == "laid-before"]
    assert [(each.severity, each.layer_id) for each in found] == [(Severity.STOP, "grout")]
    assert found[0].params["under"] == "mortar"
    assert found[0].params["under_at"] == START + DAY * 2
    assert item(made, "grout").milestones[Milestone.HEAT].window is None
    assert state(made) is State.NO_DATE


def test_all_of_them_before_the_leveler_have_none() -> None:
    log = [done("mortar", START - DAY * 9), done("grout", START - DAY * 8)]
    made = plan(a_job(logged("mortar", "grout")), [*evidence(), *log], LATE)
    assert codes(made).count("laid-before") == 2
    assert state(made) is State.NO_DATE


def test_in_order_or_at_once_it_stands() -> None:
    for at in (START + DAY * 2, START + DAY * 3):
        made = plan(a_job(logged("grout")), [*evidence(), done("grout", at)], LATE)
        assert "laid-before" not in codes(made)


def test_only_the_parts_a_layer_lies_on_count() -> None:
    a = layer("leveler", START + DAY * 3, "leveler a", part="a")
    b = layer("leveler", START + DAY * 5, "leveler b", part="b")
    over = layer("thinset", START + DAY * 4, "mortar a", part="a")
    old = layer("concrete", None, "slab", existing=True)
    made = zone(old, a, b, over)
    assert find_later_below(made, over) is None
    assert find_later_below(made, old) is None
    everywhere = layer("thinset", START + DAY * 4, "mortar")
    assert find_later_below(zone(old, a, b, everywhere), everywhere) is b


def test_a_layer_over_one_that_is_not_logged_has_no_date_until_it_is() -> None:
    leveler, mortar, grout = courses()
    log = [*evidence(), done("grout", START + DAY * 4)]
    untold = floor(layers=(leveler, replace(mortar, done_at=None), replace(grout, done_at=None)))
    made = plan(a_job(untold), log, LATE)
    found = [finding for finding in made.findings if finding.code == "below-not-done"]
    assert [(finding.layer_id, finding.params["under"]) for finding in found] == [
        ("grout", "mortar")
    ]
    assert item(made, "grout").milestones[Milestone.HEAT].window is None
    assert state(made) is State.NO_DATE
    told = plan(a_job(untold), [*log, done("mortar", START + DAY * 2)], LATE)
    assert "below-not-done" not in codes(told)
    assert state(told) is State.CLEAR


def test_only_what_has_a_clock_in_the_same_part_must_be_told_first() -> None:
    old = layer("concrete", None, "slab", existing=True)
    a, b = layer("leveler", None, "a", part="a"), layer("leveler", None, "b", part="b")
    mat = layer("uncoupling sheet", None, "mat")
    over = layer("thinset", START, "mortar a", part="a")
    assert find_undone_below(zone(old, a, b, mat, over), over) is a
    assert find_undone_below(zone(old, b, mat, over), over) is None
    assert find_undone_below(zone(old, a, b), b) is None
    assert find_undone_below(zone(a, old), old) is None


JOB = f"""\
{HEAD}{HALL}[[zone.layer]]
name = "mortar"
material = "thinset"
[[zone.layer]]
name = "grout"
material = "cement grout"
"""


def test_note_refuses_it_and_takes_what_can_be(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    site = Site(tmp_path, monkeypatch, capsys)
    site.path.write_text(JOB, encoding="utf-8")
    site.run("note job.toml done layer=mortar --at 2025-10-30T16:00 --anyway")
    before = site.path.read_text(encoding="utf-8")
    said = site.run("note job.toml done layer=grout --at 2025-10-20T15:00", 1)
    assert "before the mortar below it" in " ".join(said.split())
    assert site.path.read_text(encoding="utf-8") == before
    site.run("note job.toml done layer=grout --at 2025-11-02T15:00 --anyway")
    assert 'layer = "grout"' in site.path.read_text(encoding="utf-8")


def repaired() -> Zone:
    return zone(
        layer("mortar bed", None, "old floor", existing=True),
        layer(sheet("thinset", 10.0), RESET, "reset mortar", repair=True),
        layer(sheet("cement grout", 10.0), RESET + DAY * 2, "joint", repair=True),
    )


def seen_on(at: datetime) -> Entry:
    return reading(at, 27.0, Place.FLOOR, heating_off=False, heating_on=True)


@pytest.mark.parametrize(
    ("told", "warm"),
    [
        (seen_on(RESET - HOUR * 4), True),
        (fact(Energized, RESET - HOUR * 23), True),
        (fact(HeatStep, RESET - HOUR, to_c=24.0), True),
        # Off for at least 24 h is what the repair wants.
        (seen_on(RESET - HOUR * 24), False),
        (reading(RESET - HOUR * 4, 20.0, Place.FLOOR), False),
        (fact(Energized, RESET - HOUR * 4, zone="another"), False),
        (fact(Energized, RESET + HOUR), False),
    ],
)
def test_a_repair_on_a_floor_on_within_the_day_is_told(told: Entry, *, warm: bool) -> None:
    made = plan(a_job(repaired()), [told], RESET + DAY)
    assert ("repaired-warm" in codes(made)) is warm


def test_a_floor_without_a_repair_has_no_such_warning() -> None:
    made = plan(a_job(floor()), [*evidence(), seen_on(START - HOUR)], LATE)
    assert "repaired-warm" not in codes(made)
    assert len(courses()) == 3


def test_note_asks_which_of_two_layers_was_finished(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    site = Site(tmp_path, monkeypatch, capsys)
    site.path.write_text(JOB, encoding="utf-8")
    before = site.path.read_text(encoding="utf-8")
    said = site.run("note job.toml done layer=grout --at 2025-10-30T16:00", 1)
    assert "when was the mortar under it finished?" in " ".join(said.split())
    assert "If you finished the mortar and not the grout, note the mortar" in " ".join(said.split())
    assert site.path.read_text(encoding="utf-8") == before
