"""What a cable's tests say in their order: since when a fault, by whom, and slips of a unit."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest
from planning_log import (
    HOUR,
    READY,
    a_job,
    codes,
    courses,
    evidence,
    fact,
    floor,
    hold,
    measured,
    state,
    without,
)
from planning_samples import DAY, START, plan

from curecal.planning.plan import HoldState, Plan, State
from curecal.trade.findings import Finding
from curecal.trade.job import Cable, Heating, Thermistor
from curecal.trade.site_log import (
    Connected,
    Correction,
    Done,
    Entry,
    Resistance,
    Stage,
)

BROKEN = {"earth_open": False, "to_earth_ohm": 26.0}
TABLE = ((0.0, 32_650.9), (20.0, 12_490.0), (30.0, 8_057.0))
TWO = Heating(cables=(Cable("one", 240.0, 640.0), Cable("two", 240.0, 320.0)))
LATE = READY + DAY


def only(made: Plan, code: str) -> Finding:
    (found,) = [finding for finding in made.findings if finding.code == code]
    return found


def found(made: Plan, code: str) -> list[Finding]:
    return [finding for finding in made.findings if finding.code == code]


def with_sensor(**more: object) -> Heating:
    cable = Cable("mat", 240.0, 640.0, sensor=Thermistor("10 kΩ", table=TABLE))
    return Heating(cables=(replace(cable, **more),))  # type: ignore[arg-type]


def test_a_fault_is_placed_between_two_tests_with_who_and_what_was_between() -> None:
    log: list[Entry] = [
        measured(START - HOUR, Stage.LAID, by="Ash"),
        measured(START + HOUR, Stage.EMBEDDED, by="Ash"),
        fact(Done, START + DAY * 2, layer="mortar", by="Toni"),
        measured(START + DAY * 3, Stage.CONNECTION, by="Kim", **BROKEN),
    ]
    made = plan(a_job(), log, START + DAY * 5)
    between = only(made, "fault-between").params
    assert (between["before"], between["first_at"], between["before_by"]) == (
        "embedded",
        START + HOUR,
        "Ash",
    )
    assert (between["after"], between["later_at"], between["after_by"]) == (
        "connection",
        START + DAY * 3,
        "Kim",
    )
    # The grout came after, the leveler before.
    assert between["work"] == "mortar (Toni)"


def test_work_under_way_at_the_first_test_lies_between() -> None:
    leveler, mortar, grout = courses()
    slow = replace(mortar, duration_s=3 * 86400.0)
    log = [
        measured(START + HOUR, Stage.EMBEDDED),
        measured(START + DAY, Stage.CONNECTION, **BROKEN),
    ]
    made = plan(a_job(floor(layers=(leveler, slow, grout))), log, START + DAY * 5)
    assert only(made, "fault-between").params["work"] == "mortar"


def test_a_fault_found_again_and_again_is_placed_at_its_first() -> None:
    log = [
        measured(START - HOUR, Stage.LAID),
        measured(START + HOUR, Stage.EMBEDDED, **BROKEN),
        measured(START + DAY * 3, Stage.CONNECTION, **BROKEN),
    ]
    made = plan(a_job(), log, START + DAY * 5)
    assert only(made, "fault-between").params["after"] == "embedded"


def test_a_fault_nobody_can_date_is_said_to_be_so() -> None:
    made = plan(a_job(), [measured(START + DAY * 3, Stage.CONNECTION, **BROKEN)], START + DAY * 5)
    assert only(made, "fault-since-unknown").params["after"] == "connection"
    # A test that looked at nothing of it dates nothing.
    half = measured(START, Stage.LAID, earth_open=False, insulation_ohm=None)
    late = measured(START + DAY * 3, Stage.CONNECTION, **BROKEN)
    assert "fault-since-unknown" in codes(plan(a_job(), [half, late], START + DAY * 5))


def test_a_failed_sensor_says_nothing_of_when_the_conductor_broke() -> None:
    log = [
        measured(START - HOUR, Stage.LAID, sensor_ohm=12_490.0, floor_c=30.0),
        measured(START + DAY * 3, Stage.CONNECTION, **BROKEN),
    ]
    made = plan(a_job(floor(heating=with_sensor())), log, START + DAY * 5)
    assert only(made, "fault-between").params["before"] == "laid"


def test_a_fault_goes_in_and_comes_back_out_by_a_good_test_of_its_stage() -> None:
    broken = measured(START + DAY * 5 + HOUR, Stage.CONNECTION, **BROKEN)
    stopped = plan(a_job(), [*evidence(), broken], LATE)
    assert state(stopped) is State.STOPPED
    assert "fault-between" in codes(stopped)
    mended = measured(START + DAY * 6, Stage.CONNECTION)
    clear = plan(a_job(), [*evidence(), broken, mended], LATE)
    assert state(clear) is State.CLEAR
    assert "fault-between" not in codes(clear)


@pytest.mark.parametrize(
    ("wrong", "missing", "meant_ohm"),
    [
        ({"conductor_ohm": 90_000.0}, "conductor", 90.0),
        ({"conductor_ohm": 0.09}, "conductor", 90.0),
        ({"conductor_ohm": 90e6}, "conductor", 90.0),
        # Nobody reads 500 Ω of insulation where the multimeter shows an open line.
        ({"insulation_ohm": 500.0}, "insulation", 500e6),
        ({"insulation_ohm": 500e3}, "insulation", 500e9),
        (
            {"insulation_ohm": 500.0, "earth_open": False, "to_earth_ohm": 30e6},
            "insulation",
            500e6,
        ),
        ({"sensor_ohm": 12.49, "floor_c": 20.0}, "sensor", 12_490.0),
        ({"sensor_ohm": 12.49e6}, "sensor", 12_490.0),
        ({"sensor_ohm": 12.49e6, "floor_c": None}, "sensor", 12_490.0),
    ],
)
def test_a_wrong_prefix_is_named_and_counts_as_written_until_it_is_corrected(
    wrong: dict[str, Any], missing: str, meant_ohm: float
) -> None:
    heating = with_sensor()
    good = {"sensor_ohm": 12_490.0, "floor_c": 20.0}
    log = [
        replace(entry, **good) if isinstance(entry, Resistance) else entry for entry in evidence()
    ]
    slip = measured(START + DAY * 6, Stage.CONNECTION, by="Ada", **{**good, **wrong})
    made = plan(a_job(floor(heating=heating)), [*log, slip], LATE)
    named = only(made, "unit-slip").params
    assert named["missing"] == missing
    assert named["meant_ohm"] == pytest.approx(meant_ohm, rel=1e-9)  # a prefix's float
    assert named["id"] == slip.id
    assert hold(made, "test-before-connection").state is HoldState.FAILED
    right = {key: getattr(measured(LATE, Stage.CONNECTION, **good), key) for key in wrong}
    back = Correction(id="c", at=LATE, recorded=LATE, by="Ada", of=slip.id, changes=right)
    undone = plan(a_job(floor(heating=heating)), [*log, slip, back], LATE)
    assert "unit-slip" not in codes(undone)
    assert state(undone) is State.CLEAR


@pytest.mark.parametrize(
    "readings",
    [
        {"conductor_ohm": 90.0},
        {"conductor_ohm": 200.0},
        # A low reading is a fault until it is shown not to be: nothing speaks against this one.
        {"insulation_ohm": 500e3, "earth_open": False},
        {"insulation_ohm": 500e3, "earth_open": False, "to_earth_ohm": 500e3},
        {"insulation_ohm": 0.5},
        {"sensor_ohm": 12_490.0, "floor_c": 20.0},
        {"sensor_ohm": 12_490.0, "floor_c": 25.0},
        {"sensor_ohm": 3e-3},
        {"conductor_ohm": None},
    ],
)
def test_what_no_other_prefix_explains_is_no_slip(readings: dict[str, Any]) -> None:
    log = [measured(START + DAY * 3, Stage.CONNECTION, **readings)]
    assert "unit-slip" not in codes(plan(a_job(floor(heating=with_sensor())), log, LATE))


def test_a_slip_that_was_tested_again_is_history() -> None:
    log = [
        measured(START + DAY * 2, Stage.LAID, conductor_ohm=90_000.0),
        measured(START + DAY * 3, Stage.LAID),
    ]
    assert "unit-slip" not in codes(plan(a_job(), log, LATE))


def test_a_slip_of_a_thousand_is_no_jump_as_well() -> None:
    log = [
        measured(START - HOUR, Stage.LAID),
        measured(START + DAY, Stage.EMBEDDED, conductor_ohm=90_000.0),
        measured(START + DAY * 3, Stage.CONNECTION, conductor_ohm=97.0),
    ]
    assert "conductor-step" not in codes(plan(a_job(), log, LATE))
    assert "conductor-step" in codes(plan(a_job(), [log[0], log[2]], LATE))


def test_a_slip_needs_a_label() -> None:
    bare = Heating(cables=(Cable("mat"),))
    log = [measured(START + DAY * 3, Stage.LAID, conductor_ohm=90_000.0)]
    assert "unit-slip" not in codes(plan(a_job(floor(heating=bare)), log, LATE))


def test_a_jump_names_both_tests_with_dates_people_and_work() -> None:
    log = [
        measured(START - HOUR, Stage.LAID, conductor_ohm=88.0, by="Ash"),
        measured(START + DAY, Stage.EMBEDDED, conductor_ohm=95.0, by="Kim"),
    ]
    jump = only(plan(a_job(), log, START + DAY * 2), "conductor-step").params
    assert (jump["before_by"], jump["after_by"]) == ("Ash", "Kim")
    assert (jump["before_ohm"], jump["after_ohm"]) == (88.0, 95.0)
    assert jump["step_fraction"] == pytest.approx(7.0 / 88.0, rel=1e-12)  # the same division
    assert jump["work"] == "leveler"


@pytest.mark.parametrize(
    ("then_ohm", "now_ohm", "told"),
    [
        (2e9, 2e6, True),
        (2e9, 20e6, False),  # a factor of a hundred is not more than a hundred
        (2e9, 0.5e6, False),  # that is a fault
        (2e6, 2e9, False),
    ],
)
def test_insulation_that_falls_far_is_told_though_it_passes(
    then_ohm: float, now_ohm: float, *, told: bool
) -> None:
    log = [
        measured(START - HOUR, Stage.LAID, insulation_ohm=then_ohm),
        measured(START, Stage.LAID, insulation_ohm=None),
        measured(START + DAY, Stage.EMBEDDED, insulation_ohm=now_ohm),
    ]
    made = plan(a_job(), log, START + DAY * 2)
    assert ("insulation-fell" in codes(made)) is told
    if told:
        assert only(made, "insulation-fell").params["work"] == "leveler"


def test_a_sensor_that_was_read_but_not_named_cannot_be_judged() -> None:
    log = [measured(START, Stage.LAID, sensor_ohm=12_490.0)]
    assert "sensor-unjudged" in codes(plan(a_job(), log))
    assert "sensor-unjudged" not in codes(plan(a_job(floor(heating=with_sensor())), log))
    assert "sensor-unjudged" not in codes(plan(a_job(), [measured(START, Stage.LAID)]))


# 240 V at 640 W and 320 W are 90 Ω and 180 Ω; together 60 Ω.
@pytest.mark.parametrize(
    ("read_ohm", "code"),
    [(60.0, "joint-agrees"), (65.9, "joint-agrees"), (75.0, "joint-off"), (90.0, None)],
)
def test_a_reading_of_all_cables_together_tests_none_alone(read_ohm: float, code: str) -> None:
    log = [measured(START, Stage.LAID, conductor_ohm=read_ohm)]
    made = plan(a_job(floor(heating=TWO)), log)
    assert [name for name in codes(made) if name.startswith("joint")] == ([code] if code else [])
    assert "which-cable" in codes(made)
    points = [point for point in made.zones[0].holds if point.code == "test-after-laying"]
    assert {point.state for point in points} == {HoldState.UNMET}


def test_only_a_nameless_reading_with_every_label_known_is_compared_together() -> None:
    unknown = Heating(cables=(Cable("one", 240.0, 640.0), Cable("two")))
    for heating, more in (
        (unknown, {}),
        (TWO, {"cable": "attic"}),
        (TWO, {"conductor_ohm": None}),
        (with_sensor(), {"cable": "attic"}),
    ):
        log = [measured(START, Stage.LAID, **{"conductor_ohm": 60.0, **more})]
        found_codes = codes(plan(a_job(floor(heating=heating)), log))
        assert not [name for name in found_codes if name.startswith("joint")]


def test_a_connection_before_its_test_is_told_until_it_is_made_again() -> None:
    early = fact(
        Connected,
        START + DAY * 4,
    )
    log = [*without(evidence(), Connected), early]
    made = plan(a_job(), log, LATE)
    assert only(made, "connected-untested").params["count"] == 1
    again = replace(early, id="again", at=START + DAY * 6, recorded=START + DAY * 6, locked=True)
    assert "connected-untested" not in codes(plan(a_job(), [*log, again], LATE))
    untested = [
        entry for entry in evidence() if getattr(entry, "stage", None) is not Stage.CONNECTION
    ]
    assert "connected-untested" in codes(plan(a_job(), untested, LATE))
    assert "connected-untested" not in codes(plan(a_job(), evidence(), LATE))


def test_a_good_history_says_nothing() -> None:
    said = codes(plan(a_job(), evidence(), LATE))
    assert not {code for code in said if code.startswith(("fault", "unit", "insul", "joint"))}
    assert not found(plan(a_job(), evidence(), LATE), "conductor-step")
