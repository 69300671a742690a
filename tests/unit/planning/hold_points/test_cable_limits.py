"""What a cable's readings prove, and what they leave open."""

from __future__ import annotations

from typing import Any

import pytest
from planning_log import measured
from planning_samples import DAY, RULES, START
from thermistor_samples import NTC_10K, NTC_10K_TABLE

from curecal.planning.hold_points.cable_limits import judge, label_resistance, steps_between
from curecal.planning.plan import HoldState
from curecal.trade.job import Cable, Thermistor
from curecal.trade.site_log import Stage

MAT = Cable("mat", 240.0, 640.0, 90.0)
BY_TABLE = Thermistor("10 kΩ", table=NTC_10K_TABLE)
BY_FORMULA = Thermistor("10 kΩ", (NTC_10K.a, NTC_10K.b, NTC_10K.c))
PASSED = ("met", "test-passed", False)
OUT = ("failed", "conductor-out", True)
OPEN = ("failed", "conductor-open", True)
NOT_PROVEN: dict[str, Any] = {"insulation_ohm": None, "insulation_at_v": None}


def said(
    cable: Cable = MAT, stage: Stage = Stage.EMBEDDED, **more: object
) -> tuple[str, str, bool]:
    judged = judge(cable, measured(START, stage, **more), RULES)
    return judged.state.value, judged.reason.code, judged.electrical_fault


@pytest.mark.parametrize("stage", list(Stage))
def test_good_readings_meet_every_test(stage: Stage) -> None:
    assert said(stage=stage) == ("met", "test-passed", False)


@pytest.mark.parametrize(
    ("read_ohm", "expected"),
    [
        (81.0, PASSED),
        (99.0, PASSED),
        (80.9, OUT),
        (99.1, OUT),
        # A broken and a shorted conductor are beyond what a deviation is defined for.
        (5e6, OPEN),
        (0.0, OUT),
        (float("nan"), OUT),
    ],
)
def test_a_conductor_is_inside_its_labels_tolerance_or_fails(
    read_ohm: float, expected: tuple[str, str, bool]
) -> None:
    assert said(conductor_ohm=read_ohm) == expected


def test_a_tolerance_may_be_lopsided() -> None:
    cable = Cable("mat", resistance_ohm=100.0, below_fraction=0.05, above_fraction=0.10)
    assert said(cable, conductor_ohm=110.0)[0] == "met"
    assert said(cable, conductor_ohm=94.9)[0] == "failed"


def test_a_label_without_resistance_gives_it_by_voltage_and_power() -> None:
    assert label_resistance(Cable("mat", 240.0, 640.0)) == 90.0
    assert label_resistance(Cable("mat", 240.0, 640.0, 91.0)) == 91.0
    assert label_resistance(Cable("mat", 240.0)) is None


def test_a_conductor_without_a_label_proves_nothing() -> None:
    judged = judge(Cable("mat"), measured(START, Stage.LAID), RULES)
    assert judged.state is HoldState.UNMET
    assert judged.reason.params["missing"] == "label"


def test_26_ohm_to_earth_fails_whatever_else_is_missing() -> None:
    broken: dict[str, Any] = {"earth_open": False, "to_earth_ohm": 26.0}
    assert said(**broken) == ("failed", "earth-finite", True)
    assert said(**broken, **NOT_PROVEN) == ("failed", "earth-finite", True)
    # What is missing never hides what failed.
    assert said(**broken, conductor_ohm=None) == ("failed", "earth-finite", True)


def test_the_products_threshold_to_earth_counts_where_it_is_higher() -> None:
    strict = Cable("mat", resistance_ohm=90.0, insulation_ohm=10e6)
    assert said(strict, to_earth_ohm=5e6, earth_open=False)[1] == "earth-finite"
    lax = Cable("mat", resistance_ohm=90.0, insulation_ohm=0.5e6)
    assert said(lax, to_earth_ohm=0.7e6, earth_open=False)[1] == "earth-finite"


def test_another_finite_reading_waits_for_the_insulation_tester() -> None:
    finite: dict[str, Any] = {"earth_open": False, "to_earth_ohm": 5e6}
    assert said(stage=Stage.LAID, **finite, **NOT_PROVEN) == ("unmet", "earth-undecided", False)
    assert said(stage=Stage.LAID, **finite) == ("met", "test-passed", False)
    assert said(stage=Stage.LAID, **finite, insulation_at_v=250.0)[1] == "insulation-voltage"


def test_more_than_the_threshold_is_an_open_line_and_less_says_nothing() -> None:
    beyond: dict[str, Any] = {"earth_open": False, "to_earth_at_least": True, **NOT_PROVEN}
    assert said(stage=Stage.LAID, **beyond, to_earth_ohm=20e6)[0] == "met"
    assert said(stage=Stage.LAID, **beyond, to_earth_ohm=2000.0)[1] == "earth-undecided"


@pytest.mark.parametrize(
    ("read_ohm", "at_v", "expected"),
    [
        (0.9e6, 500.0, ("failed", "insulation-low", True)),
        (0.9e6, None, ("failed", "insulation-low", True)),
        (float("nan"), 500.0, ("failed", "insulation-low", True)),
        (1e6, 500.0, ("met", "test-passed", False)),
        (1e6, 1000.0, ("met", "test-passed", False)),
        (500e6, 250.0, ("unmet", "insulation-voltage", False)),
        (500e6, None, ("unmet", "insulation-voltage", False)),
    ],
)
def test_insulation_is_proven_at_its_voltage(
    read_ohm: float, at_v: float | None, expected: tuple[str, str, bool]
) -> None:
    assert said(insulation_ohm=read_ohm, insulation_at_v=at_v) == expected


@pytest.mark.parametrize(
    ("stage", "more", "missing"),
    [
        (Stage.LAID, {"conductor_ohm": None}, "conductor"),
        (Stage.LAID, {"earth_open": False, **NOT_PROVEN}, "to_earth"),
        (Stage.EMBEDDED, NOT_PROVEN, "insulation"),
        (Stage.CONNECTION, NOT_PROVEN, "insulation"),
        (Stage.IN_SERVICE, NOT_PROVEN, "insulation"),
    ],
)
def test_what_is_missing_is_named(stage: Stage, more: dict[str, object], missing: str) -> None:
    judged = judge(MAT, measured(START, stage, **more), RULES)
    assert judged.state is HoldState.UNMET
    assert judged.reason.code == "test-incomplete"
    assert judged.reason.params["missing"] == missing


def test_while_the_cable_can_be_seen_an_open_line_is_enough() -> None:
    assert said(stage=Stage.DELIVERY, **NOT_PROVEN)[0] == "met"


@pytest.mark.parametrize("sensor", [BY_TABLE, BY_FORMULA])
def test_a_sensor_agrees_with_the_floor_within_3_k(sensor: Thermistor) -> None:
    cable = Cable("mat", resistance_ohm=90.0, sensor=sensor)
    assert said(cable, sensor_ohm=12_490.0, floor_c=22.9)[0] == "met"
    assert said(cable, sensor_ohm=12_490.0, floor_c=23.2) == ("failed", "sensor-off", False)
    assert said(cable, sensor_ohm=12_490.0, floor_c=16.8) == ("failed", "sensor-off", False)
    assert said(cable, sensor_ohm=5.0, floor_c=20.0) == ("failed", "sensor-absurd", False)
    assert said(cable, sensor_ohm=12_490.0)[1] == "test-incomplete"


def test_a_sensor_is_read_before_connection_at_the_latest() -> None:
    cable = Cable("mat", resistance_ohm=90.0, sensor=BY_TABLE)
    assert said(cable, Stage.LAID)[0] == "met"
    assert said(cable, Stage.CONNECTION)[1] == "test-incomplete"


def test_an_electrical_fault_comes_before_a_bad_sensor() -> None:
    cable = Cable("mat", resistance_ohm=90.0, sensor=BY_TABLE)
    worst = said(cable, sensor_ohm=5.0, conductor_ohm=200.0)
    assert worst == ("failed", "conductor-out", True)
    assert said(cable, sensor_ohm=5.0, **NOT_PROVEN) == ("failed", "sensor-absurd", False)


@pytest.mark.parametrize(
    ("before_ohm", "after_ohm", "jumps"),
    [
        (90.0, 94.5, 0),
        (90.0, 94.6, 1),
        (90.0, 85.0, 1),
        # 6 % of 15 Ω is under an ohm: leads and meters differ by that.
        (15.0, 15.9, 0),
        (0.0, 90.0, 0),
    ],
)
def test_a_jump_between_tests_is_told_even_inside_tolerance(
    before_ohm: float, after_ohm: float, jumps: int
) -> None:
    entries = [
        measured(START, Stage.LAID, conductor_ohm=before_ohm),
        measured(START + DAY, Stage.EMBEDDED, conductor_ohm=None),
        measured(START + DAY * 2, Stage.CONNECTION, conductor_ohm=after_ohm),
    ]
    found = steps_between(entries, RULES)
    assert [(before.stage, after.stage) for before, after in found] == [
        (Stage.LAID, Stage.CONNECTION)
    ] * jumps
