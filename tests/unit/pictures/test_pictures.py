"""Pictures against the plan they show: every date, every layer, in order, at the right place."""

from __future__ import annotations

import re
from datetime import UTC, datetime, timedelta
from pathlib import Path
from xml.etree import ElementTree as ET

import pytest

from curecal.job_files import load_rules, read_job
from curecal.job_files.days_off import day_off_for
from curecal.pictures.in_words import section_in_words, timeline_in_words
from curecal.pictures.section import FloorSection, SlabState, make_section
from curecal.pictures.section_svg import section_svg
from curecal.pictures.terminal import SIGNS, section_lines, timeline_lines
from curecal.pictures.timeline import BarKind, Curve, Timeline, _runs, make_timeline
from curecal.pictures.timeline_svg import timeline_svg
from curecal.planning.make_plan import make_plan
from curecal.planning.plan import Plan, ZonePlan
from curecal.trade.data_sheets import Milestone
from curecal.trade.site_log import Log, Place, Series
from curecal.words.layout import columns, plain
from curecal.words.sentences import Words, words_for

EXAMPLES = Path(__file__).parents[3] / "examples"
NAMES = sorted(folder.name for folder in EXAMPLES.iterdir())
AS_OF = datetime(2026, 11, 29, 12, tzinfo=UTC)
SVG = "{http://www.w3.org/2000/svg}"


def planned(
    name: str, edit: str = "", to: str = "", folder: Path | None = None
) -> tuple[Plan, Log, Words]:
    path = EXAMPLES / name / "job.toml"
    if edit:
        assert folder is not None
        text = path.read_text(encoding="utf-8")
        assert edit in text
        path = folder / "job.toml"
        path.write_text(text.replace(edit, to), encoding="utf-8")
    read = read_job(path)
    assert read.job is not None, read.findings
    rules = load_rules()
    plan = make_plan(read.job, read.log, AS_OF, rules=rules, day_off=day_off_for(read.job))
    return plan, read.log, words_for(read.job, rules, as_of=AS_OF)


def drawn(name: str, at: int = 0) -> tuple[Timeline, FloorSection, ZonePlan]:
    plan, log, words = planned(name)
    zone = plan.zones[at]
    return make_timeline(plan, zone, log, words), make_section(plan, zone, words), zone


@pytest.mark.parametrize("name", NAMES)
def test_rows_lie_as_the_floor_does_and_hold_the_plans_instants(name: str) -> None:
    timeline, section, zone = drawn(name)
    fresh = [item for item in reversed(zone.layers) if not item.layer.existing]
    rows = timeline.rows[: len(fresh)]
    assert [row.label.partition(" (")[0] for row in rows] == [item.layer.name for item in fresh]
    assert [slab.label for slab in section.slabs] == [
        item.layer.name for item in reversed(zone.layers)
    ]
    for row, item in zip(rows, fresh, strict=True):
        heat = item.milestones.get(Milestone.HEAT)
        if (
            heat is None
            or heat.window is None
            or heat.window.latest in {None, heat.window.earliest}
        ):
            continue
        (window,) = [bar for bar in row.bars if bar.kind is BarKind.WINDOW]
        assert (window.start, window.end) == (heat.window.earliest, heat.window.latest)


@pytest.mark.parametrize("name", NAMES)
def test_all_that_is_drawn_lies_inside(name: str) -> None:
    timeline, _, zone = drawn(name)
    bars = [bar for row in timeline.rows for bar in row.bars]
    assert all(timeline.first <= bar.start <= bar.end <= timeline.last for bar in bars)
    assert timeline.first < timeline.now < timeline.last
    assert timeline.energize == zone.energize.window
    steps = [step for heat_up in timeline.temperatures.heat_ups for step in heat_up.steps]
    assert [step.to_c for step in steps] == [
        step.to_c for heat_up in zone.heat_ups for step in heat_up.steps
    ]
    assert all(timeline.first <= step.start < step.end <= timeline.last for step in steps)
    assert len(timeline.ticks) <= 9
    assert all(timeline.first < at < timeline.last for at, _ in timeline.ticks)


def test_the_past_has_counted_and_the_future_has_not() -> None:
    timeline, _, _ = drawn("bathroom")
    for row in timeline.rows:
        for bar in row.bars:
            if bar.kind is BarKind.COUNTED:
                assert bar.end <= timeline.now
            if bar.kind is BarKind.WAITING:
                assert bar.start >= timeline.now
    (governing,) = [row for row in timeline.rows if row.is_governing]
    assert governing.label == "grout"


def test_a_slab_is_filled_as_far_as_its_wait_has_counted() -> None:
    _, section, zone = drawn("bathroom")
    grout = next(slab for slab in section.slabs if slab.label == "grout")
    item = next(item for item in zone.layers if item.layer.name == "grout")
    window = item.milestones[Milestone.HEAT].window
    assert item.finish is not None
    assert window is not None
    # 27 of the 30 days up to its earliest end have passed.
    passed = (AS_OF - item.finish.earliest) / (window.earliest - item.finish.earliest)
    assert grout.state is SlabState.CURING
    assert grout.cured_fraction == pytest.approx(passed, abs=0.03)
    assert {slab.label: slab.state for slab in section.slabs}["plywood on joists"] is (
        SlabState.EXISTING
    )
    assert [slab.label for slab in section.slabs if slab.holds_cable] == ["leveler over the cable"]


def test_a_bare_screed_whose_clock_has_run_out_still_waits() -> None:
    _, section, _ = drawn("screed-before-tiling")
    screed = next(slab for slab in section.slabs if slab.holds_cable)
    assert screed.state is SlabState.CURING
    assert 0.5 < screed.cured_fraction < 1.0
    assert [slab.state for slab in section.slabs[:2]] == [SlabState.AHEAD] * 2


@pytest.mark.parametrize("width", [320, 720])
@pytest.mark.parametrize("name", NAMES)
def test_an_svg_shows_under_a_strict_policy(name: str, width: int) -> None:
    timeline, section, _ = drawn(name)
    for text in (
        timeline_svg(timeline, width=width),
        section_svg(section, width=width),
    ):
        root = ET.fromstring(text)  # noqa: S314 - made here
        assert root.get("width") == str(width)
        for element in root.iter():
            assert "style" not in element.attrib
            assert not [key for key in element.attrib if key.startswith("on")]
            assert element.tag not in {f"{SVG}style", f"{SVG}script", f"{SVG}image", f"{SVG}a"}
            assert all("http" not in value for value in element.attrib.values())
        title, described = root.find(f"{SVG}title"), root.find(f"{SVG}desc")
        assert title is not None
        assert described is not None
        assert title.text == timeline.title
        assert root.get("aria-labelledby") == f"{title.get('id')} {described.get('id')}"
        assert root.get("role") == "img"
        for element in root.iter(f"{SVG}rect"):
            x, wide = float(element.attrib["x"]), float(element.attrib["width"])
            assert 0.0 <= x <= x + wide <= width


@pytest.mark.parametrize("name", NAMES)
def test_a_picture_is_readable_by_its_words_alone(name: str) -> None:
    timeline, section, zone = drawn(name)
    said, cut = timeline_in_words(timeline), section_in_words(section)
    assert said.startswith(timeline.says)
    for row in timeline.rows:
        assert row.label in said
        assert row.says in said
    for slab in section.slabs:
        assert f"{slab.label}" in cut
        assert slab.says in cut
    assert "release by the crew lead" in said
    for item in zone.layers:
        assert item.layer.name in cut


def test_a_hostile_name_stays_a_name(tmp_path: Path) -> None:
    plan, log, words = planned("bathroom", 'name = "thinset"', 'name = "<script>&"', tmp_path)
    zone = plan.zones[0]
    text = timeline_svg(make_timeline(plan, zone, log, words))
    text += section_svg(make_section(plan, zone, words))
    assert "<script" not in text
    assert "&lt;script&gt;&amp;" in text


@pytest.mark.parametrize("width", [40, 80, 120])
@pytest.mark.parametrize("name", NAMES)
def test_a_terminal_picture_fits_and_names_every_layer(name: str, width: int) -> None:
    timeline, section, zone = drawn(name)
    lines = plain(timeline_lines(timeline, width))
    if width >= 80:
        assert not [line for line in lines if "…" in line]
    lines += plain(section_lines(section, width))
    assert max(columns(line) for line in lines) <= width
    text = "\n".join(lines)
    if width >= 80:
        for item in zone.layers:
            assert item.layer.name in text
    assert SIGNS[BarKind.WINDOW] in text


def test_a_logger_line_has_its_gaps_and_no_more_points_than_can_be_seen() -> None:
    start = AS_OF - timedelta(days=90)
    hours = [hour for hour in range(2000) if not 500 <= hour < 600]
    points = tuple((start + timedelta(hours=hour), 18.0 + hour % 7, None) for hour in hours)
    series = Series(
        id="s",
        at=start,
        recorded=start,
        place=Place.AIR,
        device="a",
        interval_s=3600.0,
        points=points,
    )
    before, after = list(_runs(series, AS_OF))
    assert isinstance(before, Curve)
    assert before.points[-1][0] < start + timedelta(hours=500)
    assert after.points[0][0] >= start + timedelta(hours=600)
    assert len(after.points) <= 400
    # The coldest of each stretch stays: cold is what costs a date.
    assert min(value for _at, value in after.points) == 18.0


@pytest.mark.parametrize("name", NAMES)
def test_a_legend_explains_what_is_drawn_and_nothing_else(name: str) -> None:
    timeline, section, zone = drawn(name)
    kinds = {bar.kind for row in timeline.rows for bar in row.bars} - {BarKind.VISIT}
    assert {kind for kind, _ in timeline.legend} == kinds
    assert all(text for _, text in timeline.legend)
    assert bool(timeline.marks_text) == any(row.marks for row in timeline.rows)
    assert bool(timeline.governing_text) == any(row.is_governing for row in timeline.rows)
    assert bool(section.governing_text) == any(slab.is_governing for slab in section.slabs)
    shown = "\n".join(plain(timeline_lines(timeline, 80)))
    assert all(text in shown for _, text in timeline.legend)
    for row in timeline.rows:
        for mark in row.marks:
            assert mark.says in timeline_in_words(timeline)
            item = next(item for item in zone.layers if item.layer.title == row.label)
            window = item.milestones[mark.milestone].window
            assert window is not None
            assert mark.at == window.earliest


def test_each_zones_pictures_give_that_zones_answer() -> None:
    kitchen, kitchen_floor, _ = drawn("kitchen-two-zones")
    bay, bay_floor, _ = drawn("kitchen-two-zones", 1)
    assert kitchen.title == "Kelpwharf, kitchen and bay: kitchen"
    assert bay.title == "Kelpwharf, kitchen and bay: bay window"
    assert "kitchen" not in bay.says
    assert kitchen.says != bay.says
    assert (kitchen_floor.says, bay_floor.says) == (kitchen.says, bay.says)
    # One zone that the job's name says already is not named again.
    assert drawn("bathroom")[0].title == "Alder Lane, hall bath"


def test_two_pictures_of_a_page_share_no_id() -> None:
    timeline, section, _ = drawn("bathroom")
    both = timeline_svg(timeline, name="a") + section_svg(section, name="b")
    found = re.findall(r'id="([^"]+)"', both)
    assert len(found) == len(set(found)) == 6
