"""The machine output keeps its keys, ends instants in Z, and rounds them up."""

from __future__ import annotations

import json
from dataclasses import replace
from datetime import timedelta
from typing import Any

import pytest
from plan_samples import AS_OF, FINDINGS, HEAT, RULES, plan, window, zone

from curecal.planning.plan import State
from curecal.words.json.plan_json import findings_json, plan_json
from curecal.words.json.record_json import stamp
from curecal.words.sentences import plain_words, words_for


def form(made: Any = None, findings: Any = ()) -> dict[str, Any]:
    made = made or plan(findings=FINDINGS)
    words = words_for(made.job, RULES)
    found = plan_json(made, findings, words=words, version="0.1.0", tzdata="2026b")
    return dict(json.loads(json.dumps(found, allow_nan=False)))


KEYS = {
    "": "schema curecal tzdata job_id job timezone as_of may_energize zones visits cautions"
    " findings",
    "zone": "id name state may_energize why energize holds layers heat_ups",
    "energize": "earliest latest start_on owner_date governed_by basis source provisional"
    " measured_share",
    "governed_by": "layer layer_id milestone rule",
    "hold": "code what gates state by evidence",
    "layer": "id name part done planned milestones",
    "milestone": "earliest latest basis source rule",
    "heat_up": "purpose basis steps",
    "step": "on to_c hold_days",
    "visit": "kind purpose zones earliest latest",
    "finding": "severity code path where message do",
}


def test_every_key_of_the_published_form_is_there() -> None:
    found = form()
    one = found["zones"][0]
    places = {
        "": found,
        "zone": one,
        "energize": one["energize"],
        "governed_by": one["energize"]["governed_by"],
        "hold": one["holds"][0],
        "layer": one["layers"][1],
        "milestone": one["layers"][1]["milestones"]["cover"],
        "heat_up": one["heat_ups"][0],
        "step": one["heat_ups"][0]["steps"][0],
        "visit": found["visits"][0],
        "finding": found["findings"][0],
    }
    assert {name: set(KEYS[name].split()) - set(place) for name, place in places.items()} == {
        name: set() for name in KEYS
    }


def test_values_of_a_curing_floor() -> None:
    found = form()
    assert (found["schema"], found["curecal"], found["tzdata"]) == (1, "0.1.0", "2026b")
    assert found["as_of"] == "2026-12-02T20:00:00Z"
    assert found["may_energize"] is False
    one = found["zones"][0]
    assert one["state"] == "curing"
    assert one["energize"] | {"source": ""} == {
        "earliest": "2027-01-04T19:10:00Z",
        "latest": "2027-01-08T19:10:00Z",
        "start_on": "2027-01-05",
        "owner_date": "2027-01-11",
        "governed_by": {
            "layer": "thinset",
            "layer_id": "thinset",
            "milestone": "heat",
            "rule": "The longest wait counts; without a sheet, 28 days",
            "rule_id": "R10",
        },
        "basis": "fallback",
        "source": "",
        "provisional": True,
        "measured_share": 0.4,
        "blocked": None,
        "blocked_facts": None,
    }
    assert one["layers"][0]["existing"] is True
    assert one["layers"][1]["done"] == "2026-11-30T18:30:00Z"
    assert one["layers"][2]["done"] is None
    assert one["layers"][2]["latest_start"] == "2026-12-06T02:30:00Z"
    assert one["heat_ups"][0]["steps"][2] == {
        "on": "2027-01-07",
        "to_c": 29.0,
        "setting": "84 °F (29 °C)",
        "hold_days": 3,
    }
    assert one["holds"][0]["reason"].startswith("Cable mat 1: 26 Ω from conductor to ground")
    assert found["visits"][3] == {
        "kind": "rough-in-and-first-test",
        "purpose": "rough-in and first test",
        "zones": ["hall-bath"],
        "gates": [],
        "appointment": None,
        "earliest": None,
        "latest": None,
    }


def test_a_zone_without_a_date_has_nulls_and_the_reason() -> None:
    one = form(plan(zone(State.NO_DATE, room_order=None)))["zones"][0]
    energize = one["energize"]
    assert [
        energize[key] for key in ("earliest", "latest", "start_on", "governed_by", "basis")
    ] == [None] * 5
    assert energize["blocked"].startswith("The data sheet of the gypsum leveler")
    assert one["room_order"] is None
    heat = one["layers"][3]["milestones"]["heat"]
    assert heat["earliest"] is None
    assert heat["do"].startswith("Enter the waiting times")


def test_a_window_without_an_end_is_null_at_the_end() -> None:
    made = zone()
    made = replace(made, energize=replace(made.energize, window=window(HEAT, None)))
    energize = form(plan(made))["zones"][0]["energize"]
    assert energize["earliest"] == "2027-01-04T19:10:00Z"
    assert energize["latest"] is None


@pytest.mark.parametrize(
    ("more_s", "said"),
    [
        (0.0, "2026-12-02T20:00:00Z"),
        (0.0005, "2026-12-02T20:00:00Z"),
        (0.5, "2026-12-02T20:00:01Z"),
        (1.0, "2026-12-02T20:00:01Z"),
    ],
)
def test_instants_are_rounded_up_to_the_second(more_s: float, said: str) -> None:
    assert stamp(AS_OF + timedelta(seconds=more_s)) == said


def test_findings_of_the_file_come_before_those_of_the_plan() -> None:
    found = form(plan(findings=FINDINGS[:1]), FINDINGS[1:])["findings"]
    assert [each["code"] for each in found] == ["frost", "cold-at-application"]
    assert found[0]["where"] == 'zone "hall bath", layer "thinset"'
    assert found[0]["severity"] == "stop"
    assert found[0]["do"].startswith("Have somebody inspect")


def test_findings_without_a_job() -> None:
    found = findings_json(FINDINGS, {}, plain_words())
    assert found[0]["where"] == "zone 1, layer 2"
