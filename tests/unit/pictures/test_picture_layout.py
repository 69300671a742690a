"""Pictures of every example and every scenario: words beside words, beside lines, and whole."""

from __future__ import annotations

import functools
import json
import re
from datetime import UTC, datetime
from pathlib import Path
from xml.etree import ElementTree as ET

import pytest

from curecal.job_files import load_rules, read_job
from curecal.job_files.days_off import day_off_for
from curecal.pictures.in_words import section_in_words, timeline_in_words
from curecal.pictures.section import FloorSection, make_section
from curecal.pictures.section_svg import section_svg
from curecal.pictures.timeline import Timeline, make_timeline
from curecal.pictures.timeline_svg import timeline_svg
from curecal.planning.make_plan import make_plan
from curecal.planning.plan import Plan
from curecal.trade.site_log import Log
from curecal.words.catalogue import languages
from curecal.words.sentences import words_for

ROOT = Path(__file__).parents[3]
SVG = "{http://www.w3.org/2000/svg}"
EXAMPLE_AS_OF = datetime(2026, 11, 29, 12, tzinfo=UTC)


def _asked_at(folder: Path) -> datetime | None:
    kept = folder / "expected.json"
    if not kept.exists():
        return EXAMPLE_AS_OF
    as_of = json.loads(kept.read_text(encoding="utf-8")).get("as_of")
    return None if as_of is None else datetime.fromisoformat(as_of)


FOLDERS = {
    path.parent.name: path.parent
    for place in ("examples", "tests/golden")
    for path in sorted((ROOT / place).glob("*/job.toml"))
    if _asked_at(path.parent) is not None
}


@functools.cache
def planned(name: str) -> tuple[Plan, Log]:
    """Return the plan and the log of a job."""
    folder = FOLDERS[name]
    as_of = _asked_at(folder)
    read = read_job(folder / "job.toml")
    assert read.job is not None
    assert as_of is not None
    day_off = day_off_for(read.job)
    return make_plan(read.job, read.log, as_of, rules=load_rules(), day_off=day_off), read.log


@functools.cache
def drawn(name: str, language: str = "en") -> list[tuple[Timeline, FloorSection]]:
    """Return the timeline and the section of every zone of a job."""
    plan, log = planned(name)
    words = words_for(plan.job, load_rules(), language=language, as_of=plan.as_of)
    return [
        (make_timeline(plan, zone, log, words), make_section(plan, zone, words))
        for zone in plan.zones
    ]


def words_box(element: ET.Element) -> tuple[float, float, float, float]:
    """Return what a text covers: half its size for a letter, as the mean of an ordinary face."""
    size = float(element.get("font-size", "13"))
    x, y, words = float(element.attrib["x"]), float(element.attrib["y"]), element.text or ""
    wide = 0.5 * size * len(words)
    left = x - wide if element.get("text-anchor") == "end" else x
    return left, y - 0.75 * size, left + wide, y


def test_many_jobs_are_drawn() -> None:
    assert len(FOLDERS) > 50


@pytest.mark.parametrize(
    ("width", "language"), [(720, "en"), *((320, language) for language in languages())]
)
@pytest.mark.parametrize("name", FOLDERS)
def test_words_are_whole_and_beside_each_other(name: str, width: int, language: str) -> None:
    for timeline, section in drawn(name, language):
        for drawing in (timeline_svg(timeline, width=width), section_svg(section, width=width)):
            root = ET.fromstring(drawing)  # noqa: S314 - made here
            texts = list(root.iter(f"{SVG}text"))
            assert not [element.text for element in texts if (element.text or "").endswith("…")]
            placed = [words_box(element) for element in texts]
            height = float(root.attrib["height"])
            for left, top, right, bottom in placed:
                assert 0.0 <= left < right <= width
                assert 0.0 <= top < bottom <= height
            for at, (left, top, right, bottom) in enumerate(placed):
                for other in placed[at + 1 :]:
                    is_apart = right <= other[0] or other[2] <= left
                    assert is_apart or bottom <= other[1] or other[3] <= top


@pytest.mark.parametrize("name", FOLDERS)
def test_upright_lines_stand_beside_words(name: str) -> None:
    for timeline, _ in drawn(name):
        root = ET.fromstring(timeline_svg(timeline, width=320))  # noqa: S314 - made here
        placed = [words_box(element) for element in root.iter(f"{SVG}text")]
        lines = [
            tuple(map(float, found))
            for element in root.iter(f"{SVG}path")
            for found in re.findall(r"M([\d.]+) ([\d.]+)V([\d.]+)", element.attrib["d"])
        ]
        assert len(lines) > len(timeline.rows)
        for x, top, bottom in lines:
            assert not [
                box for box in placed if box[0] < x < box[2] and box[1] < bottom and top < box[3]
            ]


@pytest.mark.parametrize("language", languages())
@pytest.mark.parametrize("name", FOLDERS)
def test_what_a_picture_says_has_one_stop_at_a_sentences_end(name: str, language: str) -> None:
    for timeline, section in drawn(name, language):
        for said in (timeline_in_words(timeline), section_in_words(section)):
            assert said.endswith(".")
            assert ".." not in said


def test_a_layer_ahead_without_a_date_is_drawn_as_such() -> None:
    ((_, section),) = drawn("28-vinyl-on-old-slab-wet")
    assert {slab.label: slab.says for slab in section.slabs}["glue"] == "not laid yet, no date"
