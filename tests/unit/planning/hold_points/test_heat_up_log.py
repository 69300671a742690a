"""A heat-up that runs: who switched it on, and what was set."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

import pytest
from planning_log import HOUR, READY, a_job, codes, fact, floor, released, state
from planning_samples import ADA, DAY, RULES, START, expected, job, layer, plan, reading, zone

from curecal.planning.plan import Plan, State
from curecal.trade.job import (
    Covering,
    CoveringKind,
    Heating,
    HeatingKind,
    HeatUpWish,
    Person,
    Role,
)
from curecal.trade.site_log import (
    Energized,
    Entry,
    HeatStep,
    MarkedPoints,
    Method,
    Mode,
    MoistureTest,
    Place,
    ThermostatSet,
)
from curecal.words.sentences import words_for

ON_AT = READY + DAY
ON = fact(Energized, ON_AT)
SET_LOW = fact(ThermostatSet, READY, mode=Mode.FLOOR, limit_c=27.0)
COLD = reading(ON_AT - HOUR, 18.0, Place.FLOOR)
SAM = (
    Person(Role.CREW_LEAD, "Lee"),
    Person(Role.ELECTRICIAN, "Sam"),
    ADA,
)


DRY = [
    fact(MarkedPoints, START - HOUR),
    fact(
        MoistureTest,
        START + DAY * 2 - HOUR,
        layer="leveler",
        method=Method.CARBIDE,
        value_fraction=0.017,
        depth_m=0.004,
        points=3,
        air_c=20.0,
        humidity=0.55,
    ),
]


def step(days: float, to_c: float) -> HeatStep:
    """Return a set-point, days after the switch-on."""
    return fact(HeatStep, ON_AT + DAY * days + timedelta(minutes=5), to_c=to_c)


def run(*more: Entry, **zone_more: object) -> Plan:
    """Return the plan of a released floor that was measured and switched on."""
    log = [*DRY, *released(), SET_LOW, COLD, ON, *more]
    return plan(a_job(floor(**zone_more)), log, ON_AT + DAY * 9)


def test_a_floor_set_over_its_limit_is_stopped_until_it_is_set_lower() -> None:
    made = run(step(0, 22.0), step(1, 40.0))
    assert state(made) is State.STOPPED
    assert not made.is_released
    why = made.zones[0].why
    assert why.code == "set-over-limit"
    words = words_for(made.job, RULES)
    assert words.message(why).startswith("the floor was set to 40 °C")
    assert "lower now" in words.remedy(why)
    lowered = run(step(0, 22.0), step(1, 40.0), step(1.1, 25.0))
    assert state(lowered) is State.HEATING_UP
    assert "was-over-limit" in codes(lowered)
    assert "set-over-limit" not in codes(lowered)


@pytest.mark.parametrize(("to_c", "over"), [(29.0, False), (29.0 + 1e-9, False), (29.1, True)])
def test_the_limit_itself_may_be_set(to_c: float, *, over: bool) -> None:
    assert ("set-over-limit" in codes(run(step(3, to_c)))) is over


def test_the_limit_of_the_covering_counts() -> None:
    vinyl = Covering(CoveringKind.VINYL, is_floating=True)
    assert "set-over-limit" in codes(run(step(3, 28.0), covering=vinyl))


def test_a_target_the_job_asks_for_is_no_limit() -> None:
    assert "set-over-limit" not in codes(run(step(3, 28.0), heat_up=HeatUpWish(target_c=25.0)))


def test_a_bare_screed_has_its_own_limit() -> None:
    bed = layer("sand-cement screed", START, "screed", thickness_m=0.05, heat_before_covering=True)
    screed = zone(bed, layer("thinset", None, "mortar"), heating=Heating(floor_limit_c=33.0))
    for to_c, over in ((29.0, False), (31.0, True)):
        on = fact(HeatStep, START + DAY * 30, to_c=to_c)
        made = plan(a_job(screed), [on], START + DAY * 31)
        assert ("set-over-limit" in codes(made)) is over


@pytest.mark.parametrize(
    ("flow", "over"), [((), False), (((25.0, 3), (40.0, 4)), False), (((25.0, 3),), True)]
)
def test_a_floor_heated_by_water_is_set_by_its_flow(
    flow: tuple[tuple[float, int], ...], *, over: bool
) -> None:
    heating = Heating(HeatingKind.WATER)
    made = run(step(0, 38.0), heating=heating, heat_up=HeatUpWish(flow=flow))
    assert ("set-over-limit" in codes(made)) is over
    # From 25 °C on: at most 5 °C a day after tiling (a tile contractors' note beside BS 5385-4).
    assert "heat-step-steep" in codes(made)
    gentle = run(step(0, 25.0), step(1, 30.0), heating=heating, heat_up=HeatUpWish(flow=flow))
    assert "heat-step-steep" not in codes(gentle)


@pytest.mark.parametrize(
    ("steps", "steep"),
    [
        # The floor measured 18 °C that morning; 5 K a day for tile.
        (((0, 18.0), (1, 23.0), (2, 28.0)), 0),
        (((0, 23.0), (1, 28.0), (2, 29.0)), 0),
        (((0, 23.5),), 1),
        (((0, 29.0),), 1),
        (((0, 20.0), (0.1, 23.0), (0.2, 25.0)), 1),
        (((0, 18.0), (1, 24.0)), 1),
        # Down is never too fast; up again in one day is counted from where the day began.
        (((0, 23.0), (1, 28.0), (1.1, 18.0), (1.2, 28.0)), 0),
        (((0, 18.0), (1, 23.0), (2, 18.0), (3, 28.0)), 1),
    ],
)
def test_a_day_adds_no_more_than_a_day_may(
    steps: tuple[tuple[float, float], ...], steep: int
) -> None:
    made = run(*(step(day, to_c) for day, to_c in steps))
    assert codes(made).count("heat-step-steep") == steep
    assert state(made) is not State.STOPPED


def test_the_jobs_own_step_and_the_coverings_count() -> None:
    assert "heat-step-steep" in codes(run(step(0, 21.0), heat_up=HeatUpWish(step_k=2.0)))
    wood = Covering(CoveringKind.WOOD, is_floating=True)
    assert "heat-step-steep" in codes(run(step(0, 21.0), covering=wood))


def test_a_floor_that_nobody_measured_is_counted_as_the_plan_counts_it() -> None:
    job = a_job(climate=expected(20.0))
    made = plan(job, [*released(), ON, step(0, 23.0)], ON_AT + DAY)
    said = [words_for(job, RULES).finding(each)[0] for each in made.findings]
    assert any("counted from 17 °C" in text for text in said)


def test_a_pause_starts_the_count_from_the_floors_own_temperature() -> None:
    again = fact(Energized, ON_AT + DAY * 5)
    cold = reading(ON_AT + DAY * 5 - HOUR, 18.0, Place.FLOOR)
    made = run(step(0, 23.0), cold, again, step(5, 26.0))
    assert codes(made).count("heat-step-steep") == 1


def test_in_service_nobody_counts_steps() -> None:
    ramp = [step(0, 23.0), step(1, 28.0), step(2, 29.0)]
    made = run(*ramp, step(7, 18.0), step(8, 28.0))
    assert state(made) is State.IN_SERVICE
    assert "heat-step-steep" not in codes(made)


@pytest.mark.parametrize(
    ("by", "found"), [("Sam", False), ("Lee", True), ("Olga", True), ("", True), (None, True)]
)
def test_the_first_switch_on_is_the_electricians(by: str | None, *, found: bool) -> None:
    job = a_job(people=(*SAM, Person(Role.OWNER, "Olga")))
    made = plan(job, [*released(), replace(ON, by=by)], ON_AT + HOUR)
    assert ("switched-on-by" in codes(made)) is found
    assert state(made) is State.HEATING_UP


def test_only_the_first_switch_on_and_only_where_the_job_wants_the_electrician() -> None:
    job = a_job(people=SAM)
    sams = replace(ON, by="Sam")
    again = fact(Energized, ON_AT + DAY * 3, by="Lee")
    assert "switched-on-by" not in codes(plan(job, [*released(), sams, again], ON_AT + DAY * 4))
    owners = a_job(floor(energized_by=Role.OWNER), people=SAM)
    assert "switched-on-by" not in codes(plan(owners, [*released(), ON], ON_AT + DAY))


def test_where_no_electrician_is_named_whoever_signed_is_none() -> None:
    # Everybody signed in time, and the electrician is not of the job any more.
    log = [*released(), replace(ON, by=None)]
    assert "switched-on-by" in codes(plan(a_job(), log, ON_AT + HOUR))
    screed = layer("sand-cement screed", START, "screed", heat_before_covering=True)
    on = fact(Energized, START + DAY * 30, by=None)
    nobody = job(zone(screed), people=(Person(Role.OWNER, "Olga"),))
    for by, found in ((None, False), ("Olga", True), ("an electrician", True)):
        made = plan(nobody, [replace(on, by=by)], START + DAY * 31)
        assert ("switched-on-by" in codes(made)) is found
