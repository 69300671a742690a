"""Whose readings are whose, and what the tests of a cable leave of its hold points."""

from __future__ import annotations

from dataclasses import replace

import pytest
from planning_log import (
    HOUR,
    READY,
    a_job,
    codes,
    evidence,
    fact,
    floor,
    hold,
    measured,
    released,
    state,
)
from planning_samples import DAY, START, layer, plan, sheet, zone

from curecal.planning.plan import HoldState, State
from curecal.trade.findings import Severity
from curecal.trade.job import Cable, Heating, HeatingKind, Thermistor, Zone
from curecal.trade.site_log import Correction, Entry, NotTested, Stage

TWO = Heating(cables=(Cable("one", 240.0, 640.0), Cable("two", 240.0, 640.0)))
BROKEN = {"earth_open": False, "to_earth_ohm": 26.0}
TESTS = ("test-on-delivery", "test-after-laying", "test-after-embedding", "test-before-connection")


def test_each_test_is_met_by_its_own_stage() -> None:
    made = plan(a_job(), evidence(), READY)
    assert {hold(made, code).state for code in TESTS} == {HoldState.MET}
    assert hold(made, "test-after-chiselling").state is HoldState.NOT_NEEDED


def test_a_test_never_recorded_is_unmet_at_every_instant() -> None:
    log = [entry for entry in evidence() if getattr(entry, "stage", None) is not Stage.EMBEDDED]
    for day in (2, 8, 300):
        point = hold(plan(a_job(), log, START + DAY * day), "test-after-embedding")
        assert point.state is HoldState.UNMET
        assert point.evidence is None
    assert state(plan(a_job(), log, START + DAY * 300)) is State.ON_HOLD


def test_a_finite_reading_to_earth_stops_the_floor_and_says_when_it_was_still_good() -> None:
    broken = measured(START + DAY * 3, Stage.CONNECTION, **BROKEN)
    log = [entry for entry in evidence() if getattr(entry, "stage", None) is not Stage.CONNECTION]
    made = plan(a_job(), [*log, broken], START + DAY * 400)
    assert hold(made, "test-before-connection").state is HoldState.FAILED
    assert state(made) is State.STOPPED
    assert not made.is_released
    found = [finding for finding in made.findings if finding.code == "earth-finite"]
    assert [finding.severity for finding in found] == [Severity.STOP]
    assert found[0].params["before"] == "embedded"
    assert made.zones[0].why.code == "earth-finite"


def test_a_later_good_test_of_the_same_stage_decides() -> None:
    broken = measured(START + HOUR * 20, Stage.EMBEDDED, **BROKEN)
    made = plan(a_job(), [*evidence(), broken], READY)
    assert state(made) is State.CLEAR
    assert "earth-finite" not in codes(made)


def test_a_sensor_that_is_off_fails_its_hold_without_a_stop() -> None:
    table = ((0.0, 32_650.9), (20.0, 12_490.0), (30.0, 8_057.0))
    cable = Cable("mat", 240.0, 640.0, sensor=Thermistor("10 kΩ", table=table))
    log = [measured(START, Stage.LAID, sensor_ohm=12_490.0, floor_c=28.0)]
    made = plan(a_job(floor(heating=Heating(cables=(cable,)))), log)
    assert hold(made, "test-after-laying").state is HoldState.FAILED
    found = [finding for finding in made.findings if finding.code == "sensor-off"]
    assert [finding.severity for finding in found] == [Severity.WARNING]
    assert state(made) is State.CURING


def test_each_of_several_cables_is_tested_by_its_name() -> None:
    log = [measured(START, Stage.LAID, cable="one")]
    made = plan(a_job(floor(heating=TWO)), log)
    assert hold(made, "test-after-laying", "one").state is HoldState.MET
    assert hold(made, "test-after-laying", "two").state is HoldState.UNMET


def test_readings_of_no_known_cable_prove_nothing_and_are_told() -> None:
    nameless = plan(a_job(floor(heating=TWO)), [measured(START, Stage.LAID)])
    misnamed = plan(a_job(), [measured(START, Stage.LAID, cable="attic")])
    for made in (nameless, misnamed):
        assert codes(made).count("which-cable") == 1
        points = [point for point in made.zones[0].holds if point.code == "test-after-laying"]
        assert {point.state for point in points} == {HoldState.UNMET}


def test_readings_of_no_zone_are_not_two_zones_readings() -> None:
    upstairs = floor(id="upstairs", name="upstairs", path="zone.1")
    made = plan(a_job(floor(), upstairs), [measured(START, Stage.LAID)])
    assert hold(made, "test-after-laying").state is HoldState.UNMET
    assert codes(made).count("which-cable") == 2
    told = plan(a_job(floor(), upstairs), [measured(START, Stage.LAID, zone="hall")])
    assert hold(told, "test-after-laying").state is HoldState.MET
    assert codes(told).count("which-cable") == 0


def test_a_fault_of_a_cable_nobody_named_stops_until_somebody_does() -> None:
    broken = measured(START + DAY * 6, Stage.CONNECTION, cable="attic", by="Ada", **BROKEN)
    made = plan(a_job(), [*evidence(), broken], READY)
    assert state(made) is State.STOPPED
    sorted_out = Correction(
        id="c", at=READY, recorded=READY, by="Ada", of=broken.id, changes={"zone": "attic floor"}
    )
    assert state(plan(a_job(), [*evidence(), broken, sorted_out], READY)) is State.CLEAR


def test_a_fault_found_in_service_stops_the_floor_until_a_good_test() -> None:
    log = [*released(), measured(READY + DAY * 30, Stage.IN_SERVICE, **BROKEN)]
    made = plan(a_job(), log, READY + DAY * 31)
    assert state(made) is State.STOPPED
    assert made.zones[0].why.code == "earth-finite"
    again = measured(READY + DAY * 32, Stage.IN_SERVICE)
    assert state(plan(a_job(), [*log, again], READY + DAY * 33)) is State.RELEASED


def test_a_jump_in_resistance_is_a_warning() -> None:
    log = [
        measured(START - HOUR, Stage.LAID, conductor_ohm=88.0),
        measured(START + DAY, Stage.EMBEDDED, conductor_ohm=95.0),
    ]
    assert "conductor-step" in codes(plan(a_job(), log, START + DAY * 2))


def test_a_floor_without_cable_figures_has_its_tests_all_the_same() -> None:
    made = plan(a_job(floor(heating=Heating())), [measured(START, Stage.LAID)])
    point = hold(made, "test-after-laying")
    assert point.cable is None
    assert point.state is HoldState.UNMET
    assert point.reason is not None
    assert point.reason.params["missing"] == "label"


def test_a_floor_heated_by_water_has_no_cable_to_test() -> None:
    made = plan(a_job(floor(heating=Heating(HeatingKind.WATER))))
    needed = {point.code for point in made.zones[0].holds if point.state != "not needed"}
    assert needed == {"cure", "release"}


def repaired() -> Zone:
    return zone(
        layer("mortar bed", None, "old floor", existing=True),
        layer(sheet("thinset", 10.0), START, "mortar", repair=True),
        layer(sheet("cement grout", 10.0), START + DAY * 2, "joint", repair=True),
    )


def test_a_repair_asks_for_readings_after_the_chiselling_and_for_no_electrician() -> None:
    made = plan(a_job(repaired()), as_of=START + DAY * 3)
    needed = {point.code for point in made.zones[0].holds if point.state != "not needed"}
    assert needed == {"test-after-chiselling", "cure", "release"}
    assert made.visits == ()
    before = [measured(START - DAY * 3, Stage.IN_SERVICE)]
    assert (
        hold(plan(a_job(repaired()), before, START + DAY), "test-after-chiselling").state
        is HoldState.UNMET
    )
    after = [*before, measured(START - HOUR, Stage.IN_SERVICE)]
    assert (
        hold(plan(a_job(repaired()), after, START + DAY), "test-after-chiselling").state
        is HoldState.MET
    )


def test_a_repair_not_done_yet_counts_readings_from_now() -> None:
    planned = zone(
        layer("mortar bed", None, "old floor", existing=True),
        layer(sheet("thinset", 10.0), None, "mortar", repair=True),
    )
    old = [measured(START - DAY * 30, Stage.IN_SERVICE)]
    assert hold(plan(a_job(planned), old), "test-after-chiselling").state is HoldState.UNMET


def test_a_repair_in_a_floor_still_being_built_lifts_no_hold_point() -> None:
    made = plan(
        a_job(
            floor(
                layers=(
                    *floor().layers,
                    layer(sheet("thinset", 3.0), START + DAY * 5, "reset tile", repair=True),
                )
            )
        ),
        as_of=START + DAY * 6,
    )
    unmet = {point.code for point in made.zones[0].holds if point.state is HoldState.UNMET}
    assert {*TESTS, "protection", "thermostat", "connection", "test-after-chiselling"} <= unmet


MISSED = [entry for entry in evidence() if getattr(entry, "stage", None) is not Stage.LAID]
SIGNED = fact(NotTested, READY, stage=Stage.LAID)


@pytest.mark.parametrize(
    ("log", "state", "reason"),
    [
        (MISSED, "unmet", "test-missed-unsigned"),
        ([*MISSED, SIGNED], "met", "test-missed"),
        ([*MISSED, replace(SIGNED, cable="mat")], "met", "test-missed"),
        ([*MISSED, replace(SIGNED, cable="another")], "unmet", "test-missed-unsigned"),
        ([*MISSED, replace(SIGNED, stage=Stage.DELIVERY)], "unmet", "test-missed-unsigned"),
        ([*MISSED, replace(SIGNED, by=None)], "unmet", "test-missed-unsigned"),
        # Nothing stands in for it while no complete test has passed in the floor.
        ([SIGNED], "unmet", "test-none"),
        ([SIGNED, measured(START - HOUR, Stage.DELIVERY)], "unmet", "test-none"),
        ([SIGNED, measured(READY, Stage.EMBEDDED, insulation_ohm=None)], "unmet", "test-none"),
        ([SIGNED, measured(READY, Stage.EMBEDDED, insulation_ohm=1e3)], "unmet", "test-none"),
        ([SIGNED, measured(READY, Stage.EMBEDDED, by=None)], "unmet", "test-none"),
        ([SIGNED, measured(READY, Stage.EMBEDDED)], "met", "test-missed"),
    ],
)
def test_a_test_that_was_never_made_is_stood_in_for_and_stays_missed(
    log: list[Entry], state: str, reason: str
) -> None:
    made = plan(a_job(), log, READY)
    point = hold(made, "test-after-laying")
    assert point.reason is not None
    assert (point.state, point.reason.code) == (state, reason)
    # It stays told for good.
    assert "embedded-untested" in codes(made)


def test_a_test_said_to_be_missed_and_logged_too_is_told_and_the_test_decides() -> None:
    made = plan(a_job(), [*evidence(), SIGNED], READY)
    assert hold(made, "test-after-laying").state == "met"
    (told,) = [found for found in made.findings if found.code == "missed-and-tested"]
    assert (told.severity, told.params["stage"], told.params["signed_at"]) == (
        Severity.WARNING,
        "laid",
        READY,
    )
    other = [*evidence(), replace(SIGNED, cable="another")]
    assert "missed-and-tested" not in codes(plan(a_job(), other, READY))


def test_nothing_stands_in_for_the_tests_that_can_still_be_made() -> None:
    log = [measured(READY, Stage.IN_SERVICE), fact(NotTested, READY, stage=Stage.LAID)]
    point = hold(plan(a_job(), log, READY), "test-before-connection")
    assert point.reason is not None
    assert point.reason.code == "test-none"
