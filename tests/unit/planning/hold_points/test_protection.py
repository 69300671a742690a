"""What protects people, and what a thermostat goes by, as electricians write it."""

from __future__ import annotations

import pytest
from planning_log import READY, a_job, evidence, fact, hold, state, without
from planning_samples import DAY, START, plan

from curecal.planning.hold_points.protection import read_protection
from curecal.planning.hold_points.thermostat_mode import controls_floor
from curecal.planning.plan import HoldState, State
from curecal.trade.site_log import Protection, ThermostatSet

FINE = [
    ("RCD 30 mA", 0.03),
    ("RCD 30mA type A", 0.03),
    ("rcd 10 ma", 0.01),
    ("RCBO B16 30 mA", 0.03),
    ("RCBO B16A/30mA", 0.03),
    ("RCBO B32/30 mA", 0.03),
    ("RCD 40 A 0.03 A", 0.03),
    ("RCCB 40/0.03 A", 0.03),
    ("FI/LS B16, 0,03 A", 0.03),
    ("FI-Schalter 30 mA, unverzögert", 0.03),
    ("RCD 30 mA, no time delay", 0.03),
    ("RCD no. 3, 30 mA", 0.03),
    ("DDR 30 mA, 40 A", 0.03),
    ("interruptor diferencial 30 mA", 0.03),
    ("différentiel 30 milliampères", 0.03),
    ("aardlekschakelaar 30 mA", 0.03),
    ("jordfelsbrytare 30 mA", 0.03),
    ("residual current 30 mA", 0.03),
    ("GFPE breaker, 30 mA", 0.03),
    ("GFCI 5 mA", 0.005),
    ("GFCI breaker 20 A, 4-6 mA", 0.006),
    ("AFCI/GFCI dual function", None),
    ("GFCI", None),
    ("ground-fault circuit interrupter, 15 A", None),
]
COARSE = [
    ("RCD 0.3 A", 0.3),
    ("RCD 0,1 A", 0.1),
    ("RCD 0.3A", 0.3),
    ("RCD .3 A", 0.3),
    ("RCD 1 A", 1.0),
    ("RCD 1,000 mA", 1.0),
    ("RCD 300 milliamp", 0.3),
    ("RCD 300 m A", 0.3),
    ("RCD 0.3 amps", 0.3),
    ("GFCI 300 MA", 0.3),
    ("GFCI 300ma", 0.3),
    ("RCD 300/30 mA", 0.3),
    ("RCD 30 to 300 mA", 0.3),
    ("RCD 30 mA and 100 mA", 0.1),
    ("RCD 0 mA", 0.0),
]
UNKNOWN = [
    "none",
    "no GFCI",
    "not GFCI",
    "without RCD 30 mA",
    "ohne FI 30 mA",
    "sans différentiel 30 mA",
    "RCD 30 mA missing",
    "GFCI to be fitted",
    "breaker 15 A",
    "breaker 30 mA",
    "AFCI",
    "wi-fi breaker 30 mA",
    "-",
]
VAGUE = ["RCD", "residual current", "RCD 40 A", "GFPE", "ground-fault breaker 20 A", "RCD (GFCI)"]


def protected(kind: str) -> tuple[HoldState, str]:
    log = [
        *without(evidence(), Protection),
        fact(Protection, START + DAY * 5, type=kind, trip_test="tripped"),
    ]
    made = plan(a_job(), log, READY)
    point = hold(made, "protection")
    assert point.reason is not None
    # It alone stands between this floor and its release.
    assert state(made) is (State.CLEAR if point.state is HoldState.MET else State.ON_HOLD)
    return point.state, point.reason.code


@pytest.mark.parametrize(("kind", "trips_a"), FINE)
def test_what_the_trade_writes_for_fine_protection_is_met(kind: str, trips_a: float | None) -> None:
    assert read_protection(kind).trips_a == trips_a
    assert protected(kind) == (HoldState.MET, "protection-trips")


# 30 mA at most for people: IEC 60364-7-753, from memory.
@pytest.mark.parametrize(("kind", "trips_a"), COARSE)
def test_what_trips_above_30_milliamperes_protects_nobody(kind: str, trips_a: float) -> None:
    assert read_protection(kind).trips_a == trips_a
    assert protected(kind) == (HoldState.UNMET, "protection-coarse")


@pytest.mark.parametrize("kind", UNKNOWN)
def test_a_word_for_no_protection_is_none(kind: str) -> None:
    assert protected(kind) == (HoldState.UNMET, "protection-which")


@pytest.mark.parametrize("kind", VAGUE)
def test_a_device_without_its_sensitivity_is_asked_for_it(kind: str) -> None:
    assert protected(kind) == (HoldState.UNMET, "protection-sensitivity")


@pytest.mark.parametrize(
    ("mode", "expected"),
    [
        ("floor", True),
        ("Floor mode", True),
        ("floor sensor only", True),
        ("floor temperature, with sensor", None),
        ("floor sensor with limit 29 °C", True),
        ("floor, limit set to 84 °F", True),
        ("floor with floor limit", True),
        ("Bodenfühler", True),
        ("sonde de sol", True),
        ("ambient with floor limit", False),
        ("floor/ambient", False),
        ("floor + ambient", False),
        ("floor and air", False),
        ("floor off", False),
        ("floor disabled", False),
        ("floor sensor disabled", False),
        ("floor, limit off", False),
        ("no floor sensor", False),
        ("Raum", False),
        ("floor limit", None),
        ("sensor", None),
        ("eco", None),
        ("F", None),
    ],
)
def test_only_a_mode_that_is_the_floors_alone_controls_the_floor(
    mode: str, *, expected: bool | None
) -> None:
    assert controls_floor(mode) is expected
    point = hold(plan(a_job(), [fact(ThermostatSet, START, mode=mode, limit_c=25.0)]), "thermostat")
    states = {True: HoldState.MET, False: HoldState.FAILED, None: HoldState.UNMET}
    assert point.state is states[expected]
