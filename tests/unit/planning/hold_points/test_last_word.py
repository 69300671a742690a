"""What the last word on a floor decides: a failed test in a repair, a layer, a floor too warm."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import timedelta

import pytest
from planning_log import READY, a_job, codes, evidence, fact, hold, released, state
from planning_samples import ADA, DAY, START, item, job, layer, looked, plan, reading, sheet, zone

from curecal.planning.plan import HoldState, Plan, State
from curecal.trade.findings import Severity
from curecal.trade.job import Person, Role
from curecal.trade.site_log import (
    Device,
    Energized,
    Entry,
    HeatStep,
    Inspection,
    Method,
    Mode,
    MoistureTest,
    Place,
    Protection,
    Release,
    Result,
    ThermostatSet,
    TripTest,
)

HOUR = timedelta(hours=1)
RESET = START + DAY * 100
PEOPLE = (Person(Role.CREW_LEAD, "Robin"), Person(Role.ELECTRICIAN, "Pim"), ADA)
ON = fact(Energized, READY + DAY, by="Pim")


def repair(*log: Entry) -> Plan:
    made = zone(
        layer("mortar bed", None, "old floor", existing=True),
        layer(sheet("thinset", 10.0), RESET, "reset mortar", repair=True),
    )
    return plan(a_job(made), log, RESET + DAY * 20)


@pytest.mark.parametrize(
    ("code", "bad", "good"),
    [
        (
            "protection",
            fact(
                Protection,
                RESET + DAY,
                device=Device.RCD,
                trips_at_a=0.03,
                trip_test=TripTest.DID_NOT_TRIP,
            ),
            fact(
                Protection,
                RESET + DAY * 2,
                device=Device.RCD,
                trips_at_a=0.03,
                trip_test=TripTest.TRIPPED,
            ),
        ),
        (
            "thermostat",
            fact(ThermostatSet, RESET + DAY, mode=Mode.AIR, limit_c=45.0),
            fact(ThermostatSet, RESET + DAY * 2, mode=Mode.FLOOR, limit_c=29.0),
        ),
        (
            "inspection-before-concealment",
            fact(Inspection, RESET + DAY, result=Result.FAILED),
            fact(Inspection, RESET + DAY * 2, result=Result.PASSED),
        ),
    ],
)
def test_what_fails_at_a_repair_holds_it(code: str, bad: Entry, good: Entry) -> None:
    assert hold(repair(), code).state is HoldState.NOT_NEEDED
    assert hold(repair(bad), code).state is HoldState.FAILED
    assert hold(repair(bad, good), code).state is HoldState.NOT_NEEDED


def running(*more: Entry) -> Plan:
    return plan(a_job(people=PEOPLE), [*released(by="Robin"), ON, *more], READY + DAY * 4)


def floor_at(day: float, value_c: float, *, off: bool = False) -> Entry:
    return reading(READY + DAY * day, value_c, Place.FLOOR, heating_off=off, heating_on=False)


@pytest.mark.parametrize(
    ("looks", "stopped"),
    [
        ([floor_at(2, 29.0)], False),
        ([floor_at(2, 29.1)], True),
        ([floor_at(2, 40.0), floor_at(3, 28.0)], False),
        # A lower set-point is a wish; the floor is cooler once it is read so.
        ([floor_at(2, 40.0), fact(HeatStep, READY + DAY * 3, to_c=22.0)], True),
        ([floor_at(2, 40.0, off=True)], False),
        ([reading(READY + DAY * 2, 40.0, Place.AIR, heating_off=False)], False),
    ],
)
def test_a_floor_measured_over_its_limit_is_stopped(
    looks: Sequence[Entry], *, stopped: bool
) -> None:
    made = running(*looks)
    assert (state(made) is State.STOPPED) is stopped
    assert ("floor-over-limit" in codes(made)) is stopped
    over = any(each.code == "floor-was-over-limit" for each in made.findings)
    assert over is (not stopped and len(looks) == 2)


FAILED = looked(READY + DAY * 2, Result.FAILED, "grout", by="Robin")


@pytest.mark.parametrize(
    ("by", "lifts"),
    [("Robin", True), ("Pim", False), ("a neighbor", False), ("", False)],
)
def test_a_layer_that_failed_is_lifted_by_who_answers_for_it(by: str, *, lifts: bool) -> None:
    sound = looked(READY + DAY * 3, Result.SOUND, "grout", by=by)
    log = [*released(by="Robin"), FAILED, sound]
    made = plan(a_job(people=PEOPLE), log, READY + DAY * 4)
    assert ("layer-failed" in codes(made)) is not lifts
    assert state(made) is (State.CLEAR if lifts else State.NO_DATE)
    # The release made before it failed is of another floor.
    assert not made.zones[0].is_released
    again = fact(Release, READY + DAY * 3.5, by="Robin")
    anew = plan(a_job(people=PEOPLE), [*log, again], READY + DAY * 4)
    assert anew.zones[0].is_released is lifts


def test_a_release_made_before_a_layer_failed_does_not_count_once_it_is_mended() -> None:
    failed = looked(READY + DAY * 2, Result.FAILED, "grout", by="a neighbor")
    sound = looked(READY + DAY * 3, Result.PASSED, "grout")
    made = plan(a_job(people=PEOPLE), [*evidence(), failed, sound], READY + DAY * 4)
    assert state(made) is State.CLEAR
    stop = plan(a_job(people=PEOPLE), [*released(by="Robin"), failed, sound], READY + DAY * 4)
    why = [each for each in stop.findings if each.severity is Severity.STOP]
    assert [each.code for each in why] == ["release-before-failure"]
    assert why[0].params["layer"] == "grout"


@pytest.mark.parametrize(
    ("value_fraction", "found"),
    [
        (0.0, HoldState.UNMET),
        (0.0001, HoldState.UNMET),
        (0.001, HoldState.MET),
        (0.003, HoldState.MET),
        (0.02, HoldState.FAILED),
    ],
)
def test_a_carbide_bottle_that_shows_nothing_proves_nothing(
    value_fraction: float, found: HoldState
) -> None:
    base = layer("calcium-sulfate screed", START, "screed", thickness_m=0.05)
    test = fact(
        MoistureTest, START + DAY * 30, layer="screed", method=Method.CARBIDE,
        value_fraction=value_fraction, depth_m=0.03, points=3, air_c=20.0, humidity=0.55,
    )  # fmt: skip
    made = plan(job(zone(base, layer("thinset", None, "mortar"))), [test], START + DAY * 31)
    state_of = next(each.state for each in made.zones[0].holds if each.code == "moisture-test")
    assert state_of is found
    assert ("moisture-no-water" in codes(made)) is (found is HoldState.UNMET)
    assert item(made, "screed").layer is base


def test_a_late_frost_is_said_once_with_every_layer() -> None:
    frost = reading(READY + DAY * 30, -1.0)
    made = plan(a_job(), [*released(), frost], READY + DAY * 31)
    told = [each for each in made.findings if each.code == "frost-after-hardening"]
    assert [each.params["layer"] for each in told] == ["leveler, mortar, grout"]
