"""A fault of a cable stands until what found it says otherwise; a test follows what it proves."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime, timedelta
from zoneinfo import ZoneInfo

import pytest
from planning_log import HOUR, READY, a_job, codes, evidence, floor, hold, measured, released, state
from planning_samples import DAY, START, layer, plan, sheet

from curecal.planning.hold_points.cable_limits import OPEN_OHM, is_insulation_low, shows_insulated
from curecal.planning.plan import HoldState, State
from curecal.trade.job import Cable, Heating, Layer
from curecal.trade.site_log import Entry, Resistance, Stage

LOW = {"insulation_ohm": 4e5}
BY_METER = {"insulation_ohm": None, "insulation_at_v": None}
IN_USE = READY + DAY
NEXT = IN_USE + DAY


def of_stage(log: list[Entry], stage: Stage) -> Resistance:
    return next(e for e in log if isinstance(e, Resistance) and e.stage is stage)


@pytest.mark.parametrize("stage", [Stage.LAID, Stage.DELIVERY, Stage.IN_SERVICE])
def test_a_multimeter_clears_no_insulation_fault_whatever_the_stage_is_called(stage: Stage) -> None:
    log = [*released(), measured(IN_USE, Stage.IN_SERVICE, **LOW)]
    assert state(plan(a_job(), log, NEXT)) is State.STOPPED
    looked = [*log, measured(IN_USE + HOUR, stage, **BY_METER)]
    made = plan(a_job(), looked, NEXT)
    assert state(made) is State.STOPPED
    assert made.zones[0].why.code == "insulation-low"
    # Since when it has its fault is still told.
    assert "fault-between" in codes(made)
    good = [*looked, measured(IN_USE + HOUR * 2, Stage.IN_SERVICE)]
    cleared = plan(a_job(), good, NEXT)
    assert "fault-between" not in codes(cleared)
    assert state(cleared) is not State.STOPPED


def test_before_the_pour_a_fault_of_the_tester_is_cleared_by_a_tester_only() -> None:
    planned = floor(layers=(layer("leveler", None, thickness_m=0.005),))
    low = measured(START, Stage.LAID, **LOW)
    meter = measured(START + HOUR, Stage.LAID, **BY_METER)
    made = plan(a_job(planned), [low, meter], START + DAY)
    assert hold(made, "test-after-laying").state is HoldState.FAILED
    assert hold(made, "test-after-laying").evidence == low.id
    assert state(made) is State.STOPPED
    good = measured(START + HOUR * 2, Stage.LAID)
    made = plan(a_job(planned), [low, meter, good], START + DAY)
    assert hold(made, "test-after-laying").state is HoldState.MET
    assert state(made) is State.PLANNED
    # A fault that a multimeter found, a multimeter may clear while the cable can be seen.
    finite = measured(START, Stage.LAID, earth_open=False, to_earth_ohm=26.0, **BY_METER)
    made = plan(a_job(planned), [finite, meter], START + DAY)
    assert hold(made, "test-after-laying").state is HoldState.MET
    assert "fault-between" not in codes(made)


def test_a_late_test_after_laying_needs_the_insulation_tester() -> None:
    late = measured(START + HOUR, Stage.LAID, **BY_METER)
    point = hold(plan(a_job(), [late]), "test-after-laying")
    assert point.state is HoldState.UNMET
    assert point.reason is not None
    assert point.reason.params["missing"] == "insulation"
    early = measured(START - HOUR, Stage.LAID, **BY_METER)
    assert hold(plan(a_job(), [early]), "test-after-laying").state is HoldState.MET


@pytest.mark.parametrize("entry_id", ["aa", "zz"])
def test_of_two_tests_of_one_instant_the_bad_one_decides(entry_id: str) -> None:
    log = evidence()
    good = replace(of_stage(log, Stage.CONNECTION), id="mm")
    bad = replace(good, id=entry_id, insulation_ohm=5e5)
    others = [e for e in log if not (isinstance(e, Resistance) and e.stage is Stage.CONNECTION)]
    made = plan(a_job(), [*others, good, bad], READY)
    assert hold(made, "test-before-connection").state is HoldState.FAILED
    assert state(made) is State.STOPPED
    dead = replace(good, id=entry_id, conductor_ohm=300.0)
    made = plan(a_job(), [*others, good, dead], READY)
    assert hold(made, "test-before-connection").state is HoldState.FAILED
    assert state(made) is State.STOPPED
    # In use nothing but the newest faults looks at it.
    serving = [
        replace(measured(IN_USE, Stage.IN_SERVICE), id="mm"),
        replace(measured(IN_USE, Stage.IN_SERVICE, **LOW), id=entry_id),
    ]
    assert state(plan(a_job(), [*released(), *serving], NEXT)) is State.STOPPED


def test_an_open_conductor_is_said_to_be_open() -> None:
    log = [*released(), measured(IN_USE, Stage.IN_SERVICE, conductor_ohm=OPEN_OHM)]
    made = plan(a_job(), log, NEXT)
    assert state(made) is State.STOPPED
    assert made.zones[0].why.code == "conductor-open"
    assert "conductor-step" not in codes(made)


def test_more_than_less_than_enough_decides_nothing() -> None:
    heating = Heating(cables=(Cable("mat", 240.0, 640.0, 90.0, insulation_ohm=20e6),))
    log = [e for e in evidence() if getattr(e, "stage", None) is not Stage.CONNECTION]
    beyond = {"insulation_ohm": 1e6, "insulation_at_least": True}
    vague = measured(START + DAY * 5, Stage.CONNECTION, **beyond)
    made = plan(a_job(floor(heating=heating)), [*log, vague], READY)
    point = hold(made, "test-before-connection")
    assert point.state is HoldState.UNMET
    assert point.reason is not None
    assert point.reason.code == "insulation-undecided"
    assert not {"insulation-low", "unit-slip"} & set(codes(made))
    assert not is_insulation_low(heating.cables[0], vague)
    assert not shows_insulated(heating.cables[0], vague)
    enough = replace(vague, insulation_ohm=2e9)
    made = plan(a_job(floor(heating=heating)), [*log, enough], READY)
    assert hold(made, "test-before-connection").state is HoldState.MET


HALIFAX = ZoneInfo("America/Halifax")


def poured(done: datetime, **more: object) -> tuple[Layer, ...]:
    return (layer(sheet("leveler", 3.0), done, "leveler", thickness_m=0.005, **more),)


@pytest.mark.parametrize(("minutes", "met"), [(-180, False), (-1, False), (0, True), (60, True)])
def test_a_test_after_embedding_follows_the_end_of_the_pour(minutes: int, *, met: bool) -> None:
    job = a_job(floor(layers=poured(START, duration_s=3 * 3600.0)))
    point = hold(
        plan(job, [measured(START + timedelta(minutes=minutes), Stage.EMBEDDED)]),
        "test-after-embedding",
    )
    assert (point.state is HoldState.MET) is met
    assert point.reason is not None
    assert point.reason.code == ("test-passed" if met else "test-too-soon")


@pytest.mark.parametrize(
    ("hour", "reason"),
    [(-9, "test-same-day"), (-25, "test-too-soon"), (0, "test-passed"), (8, "test-passed")],
)
def test_a_day_without_its_hour_asks_for_the_hour(hour: int, reason: str) -> None:
    midnight = datetime(2027, 3, 3, tzinfo=HALIFAX)
    job = a_job(floor(layers=poured(midnight)), tz=HALIFAX)
    log = [measured(midnight + HOUR * hour, Stage.EMBEDDED)]
    point = hold(plan(job, log, midnight + DAY), "test-after-embedding")
    assert point.reason is not None
    assert point.reason.code == reason


def test_a_test_of_the_day_of_a_pour_with_its_hour_is_only_too_soon() -> None:
    job = a_job(floor(layers=poured(START)))
    point = hold(plan(job, [measured(START - HOUR, Stage.EMBEDDED)]), "test-after-embedding")
    assert point.reason is not None
    assert point.reason.code == "test-too-soon"


def test_nothing_outlives_a_pour_that_is_still_planned() -> None:
    job = a_job(floor(layers=(layer("leveler", None, thickness_m=0.005),)))
    point = hold(plan(job, [measured(START, Stage.EMBEDDED)]), "test-after-embedding")
    assert point.reason is not None
    assert point.reason.code == "test-too-soon"


def test_a_joint_fault_is_cleared_by_a_good_test_of_every_cable() -> None:
    pair = (Cable("cable A", 240.0, 640.0, 90.0), Cable("cable B", 240.0, 640.0, 90.0))
    job = a_job(floor(heating=Heating(cables=pair)))
    joint = measured(READY, Stage.IN_SERVICE, conductor_ohm=45.0, insulation_ohm=2e5)
    tested = [
        measured(READY + HOUR * hours, Stage.IN_SERVICE, cable=cable.name)
        for hours, cable in enumerate(pair, 1)
    ]
    faulty = plan(job, [joint, tested[0]], READY + DAY)
    why = faulty.zones[0].why
    assert (why.code, state(faulty)) == ("insulation-low-unnamed", State.STOPPED)
    assert state(plan(job, [joint, *tested], READY + DAY)) is not State.STOPPED
    # Without the tester, or before the fault, none is found whole.
    for late in (
        replace(tested[1], insulation_ohm=None, insulation_at_v=None),
        replace(tested[1], at=READY - HOUR, recorded=READY - HOUR),
        replace(tested[1], conductor_ohm=200.0),
    ):
        assert state(plan(job, [joint, tested[0], late], READY + DAY)) is State.STOPPED
    # One that names a cable the job does not have is not of all of them.
    named = replace(joint, cable="cable C")
    made = plan(job, [named, *tested], READY + DAY)
    assert made.zones[0].why.params["cable"] == "C"
