"""Hold points of a floor's heating: only what is recorded meets them."""

from __future__ import annotations

import pytest
from planning_log import HOUR, READY, a_job, codes, evidence, fact, floor, hold, measured, without
from planning_samples import DAY, START, layer, looked, plan, sheet, zone

from curecal.planning.plan import HoldState
from curecal.trade.job import Code, Covering, CoveringKind
from curecal.trade.site_log import (
    Connected,
    Device,
    Inspection,
    Leads,
    MarkedPoints,
    Mode,
    Protection,
    Result,
    Stage,
    ThermostatSet,
    TripTest,
)

SLOT = "inspection-before-concealment"


def test_with_nothing_on_record_every_hold_point_is_unmet_whatever_the_date() -> None:
    made = plan(a_job(code=Code.NEC), as_of=START + DAY * 400)
    points = {point.code: point for point in made.zones[0].holds}
    lifted = {code for code, point in points.items() if point.state is HoldState.NOT_NEEDED}
    assert lifted == {"test-points", "test-after-chiselling"}
    assert {point.state for code, point in points.items() if code not in lifted} == {
        HoldState.UNMET
    }
    assert points["test-after-laying"].gates == "embedding"
    assert points["connection"].gates == "energize"


@pytest.mark.parametrize(
    ("code", "needed"),
    [(Code.NEC, True), (Code.CEC, True), (Code.BS_7671, False), (Code.OTHER, False)],
)
def test_an_inspection_before_concealment_is_asked_for_by_code(code: Code, *, needed: bool) -> None:
    point = hold(plan(a_job(code=code)), SLOT)
    assert (point.state is HoldState.UNMET) is needed
    assert point.gates == "embedding"


@pytest.mark.parametrize(
    ("result", "by", "expected", "reason"),
    [
        (Result.PASSED, "Ada", "met", "inspection-passed"),
        (Result.NOT_REQUIRED, "Ada", "met", "inspection-not-required"),
        # "Not required here" needs who said so.
        (Result.NOT_REQUIRED, "", "unmet", "signature-unsigned"),
        (Result.FAILED, "the inspector", "failed", "inspection-failed"),
        # A look at the floor's soundness is no electrical inspection.
        (Result.SOUND, "the inspector", "unmet", "inspection-none"),
        (Result.REPLACE, "the inspector", "unmet", "inspection-none"),
    ],
)
def test_what_the_inspector_says_decides(
    result: Result, by: str, expected: str, reason: str
) -> None:
    point = hold(plan(a_job(code=Code.NEC), [looked(START - HOUR, result, by=by)]), SLOT)
    assert point.state == expected
    assert point.reason is not None
    assert point.reason.code == reason


def test_an_inspection_of_a_layer_is_not_one_of_the_heating() -> None:
    made = plan(a_job(code=Code.NEC), [looked(START - HOUR, Result.PASSED, "leveler")])
    assert hold(made, SLOT).state is HoldState.UNMET


def test_a_failed_inspection_counts_where_no_code_asks_for_one() -> None:
    made = plan(a_job(code=Code.BS_7671), [looked(START - HOUR, Result.FAILED)])
    assert hold(made, SLOT).state is HoldState.FAILED
    passed = plan(a_job(code=Code.BS_7671), [looked(START - HOUR, Result.PASSED)])
    assert hold(passed, SLOT).state is HoldState.NOT_NEEDED


@pytest.mark.parametrize(
    ("log", "told"),
    [
        ([], True),
        ([looked(START - HOUR, Result.PASSED)], False),
        ([looked(START - HOUR, Result.NOT_REQUIRED)], False),
        ([looked(START - HOUR, Result.FAILED)], True),
        # Passed when nobody could see the cable any more: met by the inspector's word, and told.
        ([looked(START + HOUR, Result.PASSED)], True),
    ],
)
def test_a_cable_embedded_before_its_inspection_is_told(
    log: list[Inspection], *, told: bool
) -> None:
    made = plan(a_job(code=Code.NEC), log)
    assert ("concealed-uninspected" in codes(made)) is told


def test_nothing_is_concealed_while_the_pour_is_planned() -> None:
    made = plan(a_job(floor(layers=(layer("leveler", None, thickness_m=0.005),)), code=Code.NEC))
    assert "concealed-uninspected" not in codes(made)
    assert "embedded-untested" not in codes(made)


def test_a_pour_begins_to_conceal_when_it_begins() -> None:
    poured = layer("leveler", START, thickness_m=0.005, duration_s=7200.0)
    seen = [looked(START - HOUR, Result.PASSED)]
    made = plan(a_job(floor(layers=(poured,)), code=Code.NEC), seen)
    assert "concealed-uninspected" in codes(made)


def test_a_cable_embedded_before_its_tests_is_told_with_how_many() -> None:
    delivery = measured(START - HOUR, Stage.DELIVERY)
    for log, count in (
        ([], 2),
        ([delivery], 1),
        ([delivery, measured(START - HOUR, Stage.LAID)], 0),
        # A test "after laying" made when the cable was in the pour came too late.
        ([delivery, measured(START + HOUR, Stage.LAID)], 1),
    ):
        found = [f for f in plan(a_job(), log).findings if f.code == "embedded-untested"]
        assert [finding.params["count"] for finding in found] == ([count] if count else [])


def test_a_zone_without_anything_over_the_cable_has_nothing_concealed() -> None:
    made = plan(a_job(floor(layers=(layer("cement grout", START),)), code=Code.NEC))
    assert "concealed-uninspected" not in codes(made)
    assert "embedded-untested" not in codes(made)


def bare(on_cable: str) -> object:
    return zone(
        layer(
            "calcium-sulfate screed",
            None,
            "under",
            thickness_m=0.05,
            over_cable=on_cable == "under",
        ),
        layer("leveler", None, "top", thickness_m=0.005, over_cable=on_cable == "top"),
        covering=Covering(CoveringKind.CERAMIC),
    )


def test_test_points_are_marked_where_a_tested_base_lies_over_the_cable() -> None:
    job = a_job(bare("under"))  # type: ignore[arg-type]
    assert hold(plan(job), "test-points").state is HoldState.UNMET
    marked = plan(job, [fact(MarkedPoints, START)])
    assert hold(marked, "test-points").state is HoldState.MET
    # A base under the cable is tested where no cable lies in it.
    under = a_job(bare("top"))  # type: ignore[arg-type]
    assert hold(plan(under), "test-points").state is HoldState.NOT_NEEDED


def test_test_points_marked_after_the_pour_are_met_and_told_until_marked_before() -> None:
    under = layer(
        "sand-cement screed", START, "under", thickness_m=0.05, duration_s=7200.0, over_cable=True
    )
    job = a_job(zone(under, covering=Covering(CoveringKind.WOOD)))
    late, early = fact(MarkedPoints, START - HOUR), fact(MarkedPoints, START - HOUR * 2)
    made = plan(job, [late])
    assert hold(made, "test-points").state is HoldState.MET
    assert "points-marked-late" in codes(made)
    for log in ([early], [early, late]):
        assert "points-marked-late" not in codes(plan(job, log))


CONNECTED = {"locked": True, "tagged": True, "leads": Leads.OFF}


def test_the_last_word_on_each_hold_point_decides() -> None:
    worse = [
        fact(
            Protection, READY, device=Device.RCD, trips_at_a=0.03, trip_test=TripTest.DID_NOT_TRIP
        ),
        fact(ThermostatSet, READY, mode=Mode.AIR),
        fact(Connected, READY, **{**CONNECTED, "locked": False}),
    ]
    made = plan(a_job(), [*evidence(), *worse], READY)
    points = {hold(made, code).state for code in ("protection", "thermostat", "connection")}
    assert points == {HoldState.FAILED}
    assert {hold(made, "protection").evidence} == {worse[0].id}


def test_a_planned_leveler_leaves_its_forecast_hold_points_unmet() -> None:
    planned = zone(layer(sheet("leveler", 3.0), None, thickness_m=0.005))
    made = plan(a_job(planned), without(evidence(), Protection), READY)
    assert hold(made, "cure").state is HoldState.UNMET
    assert hold(made, "protection").reason is not None
