"""The owner's sheet: one date, numbers only after the release."""

from __future__ import annotations

import re
from datetime import UTC, datetime
from pathlib import Path

import pytest
from honest_jobs import NAMES, seen_at, text_of
from paper_samples import paper_context, rows_in, texts, texts_of

from curecal.papers.owner_sheet import owner_sheet
from curecal.planning.plan import HeatUpPurpose, State
from curecal.planning.zone.stable_day import is_ahead, owner_day

ROOT = Path(__file__).parents[3]
AS_OF = datetime(2026, 11, 30, 12, tzinfo=UTC)
DEGREES = re.compile(r"\d+ °[CF]")
LIFTED = ROOT / "tests" / "golden" / "27-lifted-by-the-electrician" / "job.toml"


def test_an_owner_is_told_the_late_day_and_not_the_early_one() -> None:
    text = (ROOT / "examples" / "bathroom" / "job.toml").read_text(encoding="utf-8")
    said = " ".join(texts(owner_sheet(paper_context(text, AS_OF))))
    assert "Not before Mon 7 Dec 2026, and only when we tell you." in said
    assert "3 Dec" not in said
    assert "2 Dec" not in said


@pytest.mark.parametrize("name", NAMES)
def test_before_the_release_it_names_one_day_and_no_number(name: str) -> None:
    text = text_of(name)
    ctx = paper_context(text, seen_at(text))
    sections = owner_sheet(ctx).sections
    assert len(sections) >= len(ctx.plan.zones)
    for zone, part in zip(ctx.plan.zones, sections, strict=False):
        said = " ".join(texts_of(part))
        if zone.is_released:
            continue
        assert not DEGREES.search(said)
        assert "leave the floor heating off" in said
        day = owner_day(zone, ctx.plan.as_of, ctx.calendar)
        told = is_ahead(day, ctx.plan.as_of, ctx.calendar)
        assert ("Not before" in said) == told
        if told and day is not None:
            assert f"Not before {ctx.words.day(day)}" in said


def test_after_the_release_every_step_stands_on_it() -> None:
    text = LIFTED.read_text(encoding="utf-8")
    ctx = paper_context(text, datetime(2027, 3, 14, 12, tzinfo=UTC))
    (zone,) = ctx.plan.zones
    assert zone.state is State.RELEASED
    (heat_up,) = [
        found for found in zone.heat_ups if found.purpose is not HeatUpPurpose.BARE_SCREED
    ]
    sheet = owner_sheet(ctx)
    rows = rows_in(sheet.sections[0])
    assert [row[1] for row in rows] == list(ctx.words.settings(heat_up))
    assert [row[0] for row in rows] == [ctx.words.day(step.on) for step in heat_up.steps]
    said = " ".join(texts(sheet))
    # Who switches it on is not the reader: no sentence gives the reader leave.
    assert "The electrician switches it on from Mon 15 Mar 2027." in said
    assert "You may switch" not in said


def test_a_floor_heated_by_water_has_no_cable_and_no_breaker() -> None:
    text = text_of("water-heated-screed")
    said = " ".join(texts(owner_sheet(paper_context(text, seen_at(text)))))
    assert "as if a water pipe were under it" in said
    assert "cable" not in said
    assert "breaker" not in said


def test_a_stopped_floor_has_no_day() -> None:
    text = LIFTED.read_text(encoding="utf-8")
    ctx = paper_context(text, datetime(2027, 3, 13, 12, tzinfo=UTC))
    assert ctx.plan.zones[0].state is State.STOPPED
    said = " ".join(texts(owner_sheet(ctx)))
    assert "Something has to be checked first." in said
    assert "Not before" not in said


def test_a_floor_that_heats_up_has_its_numbers_and_no_other_leave() -> None:
    text = (ROOT / "tests" / "golden" / "30-thursday-noon" / "job.toml").read_text(encoding="utf-8")
    ctx = paper_context(text, datetime(2027, 3, 18, 12, tzinfo=UTC))
    assert ctx.plan.zones[0].state is State.HEATING_UP
    sheet = owner_sheet(ctx)
    (heat_up,) = ctx.plan.zones[0].heat_ups
    assert [row[1] for row in rows_in(sheet.sections[0])] == list(ctx.words.settings(heat_up))
    assert "The floor is heating up." in " ".join(texts(sheet))
