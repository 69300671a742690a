"""The commissioning record against the plan's own machine output, line by line."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest
from honest_jobs import NAMES, seen_at, text_of
from paper_samples import facts_in, paper_context, rows_in, section, texts

from curecal.papers.blocks import PaperContext, Presence
from curecal.papers.commissioning_record import commissioning_record
from curecal.planning.plan import State
from curecal.planning.site_log.log_at_instant import facts_at
from curecal.trade.data_sheets import Milestone
from curecal.trade.site_log import Place, Series
from curecal.words.json.plan_json import plan_json

ROOT = Path(__file__).parents[3]
LIFTED = (ROOT / "tests" / "golden" / "27-lifted-by-the-electrician" / "job.toml").read_text(
    encoding="utf-8"
)
BATH = (ROOT / "examples" / "bathroom" / "job.toml").read_text(encoding="utf-8")
AS_OF = datetime(2026, 11, 30, 12, tzinfo=UTC)
SERVICE = text_of("upstairs-bath-in-service")


def shown(ctx: PaperContext, stamp: str) -> str:
    """An instant of the machine output as the record shows it."""
    return ctx.words.at(datetime.fromisoformat(stamp), down=True)


def wanted(ctx: PaperContext, plan: dict[str, Any]) -> list[str]:
    """What the record must say, taken from the machine output alone."""
    said = [plan["answer"], *plan["cautions"], plan["job"]]
    for zone in plan["zones"]:
        said.append(zone["name"])
        for layer in zone["layers"]:
            said.append(layer["name"])
            if layer["done"] is not None:
                said.append(shown(ctx, layer["done"]))
            for name in ("heat", "bare_heat", "cover"):
                if not layer["existing"] and name in layer["milestones"]:
                    ends = layer["milestones"][name]
                    stamps = [ends[end] for end in ("earliest", "latest") if ends[end]]
                    said += [ctx.words.at(datetime.fromisoformat(stamp)) for stamp in stamps]
                    break
        for hold in zone["holds"]:
            said.append(f"{hold['what'][0].upper()}{hold['what'][1:]}")
            if hold["evidence_at"] is not None:
                said.append(shown(ctx, hold["evidence_at"]))
        for heat_up in zone["heat_ups"]:
            said += [step["setting"] for step in heat_up["steps"]]
        said += [
            found["message"]
            for found in plan["findings"]
            if found["severity"] in {"stop", "warning"} and found in plan_findings(plan, zone)
        ]
    return said


def plan_findings(plan: dict[str, Any], zone: dict[str, Any]) -> list[dict[str, Any]]:
    return [found for found in plan["findings"] if found.get("zone_id") in {None, zone["id"]}]


@pytest.mark.parametrize("name", NAMES)
def test_all_that_the_plan_says_stands_in_the_record(name: str) -> None:
    text = text_of(name)
    ctx = paper_context(text, seen_at(text))
    plan = plan_json(ctx.plan, (), words=ctx.words, version="", tzdata="")
    said = "\n".join(texts(commissioning_record(ctx)))
    assert [line for line in wanted(ctx, plan) if line not in said] == []


@pytest.mark.parametrize("name", NAMES)
def test_a_layer_that_waits_is_shown_with_its_wait(name: str) -> None:
    """Also one that is still planned: "none" stands only where the plan says that none is added."""
    text = text_of(name)
    ctx = paper_context(text, seen_at(text))
    tables = [
        rows_in(part)
        for part in commissioning_record(ctx).sections
        if part.title.endswith("Layers, from the bottom up")
    ]
    for zone, rows in zip(ctx.plan.zones, tables, strict=True):
        for item, row in zip(zone.layers, rows, strict=True):
            heat = item.milestones.get(Milestone.HEAT)
            if item.layer.existing or heat is None:
                continue
            waits = [step.params["wait_s"] for step in heat.steps if step.code.startswith("wait")]
            if waits:
                assert row[3] == ctx.shown("wait_s", max(waits))


@pytest.mark.parametrize("name", NAMES)
def test_it_is_complete_only_in_service(name: str) -> None:
    text = text_of(name)
    ctx = paper_context(text, seen_at(text))
    in_service = all(zone.state is State.IN_SERVICE for zone in ctx.plan.zones)
    assert commissioning_record(ctx).status.startswith("Complete") == in_service


def test_what_was_never_a_hold_point_is_not_recorded_and_what_is_one_is_missing() -> None:
    record = commissioning_record(paper_context(BATH, AS_OF))
    heating = facts_in(section(record, "Heating and cable tests"))
    assert heating["Spacing of runs"].told is Presence.NOT_RECORDED
    assert heating["Type and serial number"].told is Presence.NOT_RECORDED
    assert heating["Label"].text == "240 V, 640 W, 90 Ω"
    tests = rows_in(section(record, "Heating and cable tests"))
    assert [(row[0], row[1]) for row in tests if row[1] in {"missing", "not recorded"}] == [
        ("Before connection", "missing")
    ]
    assert facts_in(section(record, "State"))["Released"].told is Presence.MISSING
    evidence = rows_in(section(record, "Inspections, tests and sign-offs"))
    assert [row[0] for row in evidence if "missing" in row] == [
        "Ground-fault protection",
        "Thermostat",
        "Connected",
        "Released",
    ]


def test_a_cable_stands_against_its_label() -> None:
    """V²/P of 240 V and 640 W is 90 Ω, P/V is 2.667 A; ±10 % of 90 Ω is 81 to 99 Ω."""
    record = commissioning_record(paper_context(BATH, AS_OF))
    heating = facts_in(section(record, "Heating and cable tests"))
    assert heating["From voltage and power"].text == "90 Ω, 2.667 A"
    assert heating["Allowed resistance"].text.startswith("81 Ω to 99 Ω")
    assert [row[2] for row in rows_in(section(record, "Heating and cable tests"))][:3] == [
        "90.4 Ω (+0.4 %)",
        "90.3 Ω (+0.3 %)",
        "90.5 Ω (+0.6 %)",
    ]


def test_power_density_is_of_all_cables_over_the_heated_area() -> None:
    """640 W on 5 m² are 128 W/m²."""
    text = BATH.replace('voltage = "240 V"', 'voltage = "240 V"\nheated_area = "5 m²"', 1)
    heating = facts_in(
        section(commissioning_record(paper_context(text, AS_OF)), "Heating and cable tests")
    )
    assert heating["Power density"].text == "128 W/m²"


def test_a_stop_stands_with_who_lifted_it() -> None:
    at = datetime(2027, 3, 14, 12, tzinfo=UTC)
    record = commissioning_record(paper_context(LIFTED, at))
    (row,) = rows_in(section(record, "Stops and deviations"))
    assert row[1].startswith("smell or heat: smells burnt")
    assert "M. Fixer: the loose lug, tightened" in row[2]


def test_a_stop_that_stands_is_not_ended_by_who_may_not_lift_it() -> None:
    # The crew lead lifts no electrical stop.
    text = LIFTED.replace(
        'kind = "resumed"\nby = "M. Fixer"', 'kind = "resumed"\nby = "Toni Example"'
    )
    assert text != LIFTED
    at = datetime(2027, 3, 14, 12, tzinfo=UTC)
    ctx = paper_context(text, at)
    assert ctx.plan.zones[0].state is State.STOPPED
    rows = rows_in(section(commissioning_record(ctx), "Stops and deviations"))
    assert rows[0][2] == "not ended"
    # What was said stays in the record.
    assert "Toni Example: the loose lug, tightened" in rows[1][2]


def test_a_correction_stands_with_what_was_first_written_and_whether_it_counts() -> None:
    at = datetime(2027, 3, 14, 12, tzinfo=UTC)
    record = commissioning_record(paper_context(LIFTED, at))
    (row,) = rows_in(section(record, "Corrections of the log"))
    assert "smells burnt" in row[1]
    assert row[2:4] == ("withdrawn", "A. Holder")
    assert "does not count" in row[4]


def test_a_record_in_service_is_the_same_on_any_day() -> None:
    first = commissioning_record(paper_context(SERVICE, datetime(2027, 1, 5, tzinfo=UTC)))
    later = commissioning_record(paper_context(SERVICE, datetime(2028, 6, 5, tzinfo=UTC)))
    assert first == later


def test_the_fingerprint_changes_with_one_reading() -> None:
    one = commissioning_record(paper_context(BATH, AS_OF))
    other = commissioning_record(paper_context(BATH.replace('"90.3 Ω"', '"90.4 Ω"'), AS_OF))
    assert one.foot != other.foot


def test_a_draft_says_so_and_nothing_else_changes() -> None:
    ctx = paper_context(BATH, AS_OF)
    draft, final = commissioning_record(ctx, draft=True), commissioning_record(ctx)
    assert draft.draft == "Draft"
    assert replace(draft, draft="", foot="") == replace(final, foot="")


def test_who_must_sign_and_is_not_named_is_missing() -> None:
    text = BATH.replace('[people.electrician]\nname = "Sam Okoro-Lind"\nlicense = "E 2214"\n', "")
    text = text.replace('email = "sam@sparks.example"\n', "")
    rows = rows_in(section(commissioning_record(paper_context(text, AS_OF)), "People"))
    assert ("Electrician", "missing", "", "", "") in rows
    unlicensed = BATH.replace('license = "E 2214"\n', "")
    rows = rows_in(section(commissioning_record(paper_context(unlicensed, AS_OF)), "People"))
    assert ("Electrician", "Sam Okoro-Lind", "missing", "", "") in rows


def test_a_logger_stands_in_one_line() -> None:
    ctx = paper_context(BATH, AS_OF)
    start = datetime(2026, 11, 7, 12, tzinfo=UTC)
    points = tuple((start + timedelta(hours=at), 18.0 + at, None) for at in range(3))
    late = (AS_OF + timedelta(hours=1), 40.0, None)
    series = Series(
        id="s",
        at=start,
        recorded=start,
        place=Place.AIR,
        device="20481516",
        interval_s=3600.0,
        points=(*points, late),
    )
    log = (*ctx.log, series)
    ctx = replace(ctx, log=log, facts=facts_at(log, AS_OF, ctx.plan.job.people))
    (row,) = rows_in(section(commissioning_record(ctx), "Climate"))
    # 18 °C is 64.4 °F, 20 °C is 68 °F; what was measured after the record's hour is not in it.
    assert row[:3] == ("20481516", "air", "3")
    assert row[5] == "64.4 °F to 68 °F"


def test_photos_and_files_are_listed_with_what_they_show() -> None:
    text = BATH + (
        '\n[[log]]\nat = 2026-10-24T15:30:00-03:00\nkind = "photo"\nfile = "cable.jpg"\n'
        'text = "with tape measure, north wall"\nby = "Robin Mistral"\n'
    )
    (row,) = rows_in(section(commissioning_record(paper_context(text, AS_OF)), "Photos and files"))
    assert row[0] == "cable.jpg"
    assert row[2:4] == ("with tape measure, north wall", "Robin Mistral")


def test_a_broken_cable_is_open_and_has_failed() -> None:
    text = BATH.replace('conductor = "90.5 Ω"', 'conductor = "open"')
    rows = rows_in(
        section(commissioning_record(paper_context(text, AS_OF)), "Heating and cable tests")
    )
    embedded = next(row for row in rows if row[0] == "After covering")
    assert embedded[2] == "open"
    assert embedded[6] == "failed"
    assert "The conductor is open" in embedded[7]


def test_a_layer_without_a_date_says_so() -> None:
    """At 8 °C nothing that needs 10 °C cures."""
    text = BATH.replace('air = "66 °F"', 'air = "46 °F"').replace('"62 °F"', '"44 °F"')
    text = text.split("[[log]]")[0]
    record = commissioning_record(paper_context(text, datetime(2026, 11, 10, tzinfo=UTC)))
    grout = next(
        row for row in rows_in(section(record, "Layers, from the bottom up")) if row[0] == "grout"
    )
    assert grout[5] == "no date"
    assert facts_in(section(record, "State"))["Cured"].told is Presence.MISSING


def test_a_correction_of_a_correction_names_what_it_takes_back() -> None:
    text = LIFTED.replace("withdrawn = true", 'withdrawn = true\nid = "no-stop"', 1) + (
        '\n[[log]]\nat = 2027-03-13T11:00:00Z\nkind = "correction"\nby = "Toni Example"\n'
        'of = "no-stop"\nwithdrawn = true\n'
    )
    at = datetime(2027, 3, 14, 12, tzinfo=UTC)
    rows = rows_in(section(commissioning_record(paper_context(text, at)), "Corrections of the log"))
    assert [row[2] for row in rows] == ["withdrawn", "withdrawn"]
    assert rows[1][1] == "Correction, Sat 13 Mar 2027, 10:10"
