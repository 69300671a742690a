"""From which temperature a heat-up starts, and when it starts anew."""

from __future__ import annotations

from datetime import datetime, timedelta

import pytest
from planning_log import HOUR, READY, a_job, fact, floor, released, state
from planning_samples import DAY, plan, reading

from curecal.planning.plan import HeatUp, Plan, State
from curecal.trade.job import Heating, HeatingKind, HeatUpWish
from curecal.trade.site_log import Energized, Entry, HeatStep, Place, Reading

WATER = Heating(HeatingKind.WATER)
FLOW = HeatUpWish(flow=((25.0, 3), (35.0, 4), (20.0, 1)))
MORNING = (READY + DAY).replace(hour=8)
DAY_1 = MORNING.date()


def ramp(made: Plan) -> HeatUp:
    return made.zones[0].heat_ups[-1]


def floor_at(value_c: float | None, at: datetime = MORNING - HOUR) -> Entry:
    return reading(at, value_c, Place.FLOOR)


def running(*entries: Entry) -> list[Entry]:
    return [*released(), floor_at(20.0), fact(Energized, MORNING), *entries]


def at_top(day: float = 2.0) -> HeatStep:
    return fact(HeatStep, MORNING + timedelta(days=day), to_c=29.0)


WARM = floor_at(26.0)


@pytest.mark.parametrize(
    ("looks", "start_c", "measured"),
    [
        # Of one instant the colder; 9 K in an hour makes no floor without heat.
        ([floor_at(17.0), WARM], 17.0, True),
        ([WARM, floor_at(17.0)], 17.0, True),
        ([floor_at(17.0, MORNING - HOUR * 2), WARM], 17.0, True),
        ([floor_at(17.0, MORNING - HOUR * 4), WARM], 17.0, True),
        # Hours later, or by no more than a floor may: the last.
        ([floor_at(17.0, MORNING - HOUR * 5), WARM], 26.0, True),
        ([floor_at(21.0, MORNING - HOUR * 2), WARM], 26.0, True),
        ([WARM, floor_at(17.0, MORNING - HOUR / 2)], 17.0, True),
        # Nobody signed it, or the heating was on, or nobody said.
        ([reading(MORNING - HOUR, 24.0, Place.FLOOR, by=None)], 17.0, False),
        ([reading(MORNING - HOUR, 24.0, Place.FLOOR, heating_off=False)], 17.0, False),
        ([floor_at(19.0), reading(MORNING, 24.0, Place.FLOOR, heating_off=False)], 19.0, True),
    ],
)
def test_of_floors_that_contradict_the_colder_starts_it_and_only_one_that_is_off_and_signed(
    looks: list[Entry], start_c: float, *, measured: bool
) -> None:
    made = ramp(plan(a_job(), [*released(), *looks], MORNING))
    assert (made.start_c, made.start_measured) == (start_c, measured)


WEEKS = MORNING + DAY * 22
AT_25 = fact(HeatStep, MORNING + DAY, to_c=25.0)


def found(value_c: float, at: datetime = WEEKS, *, on: bool = False) -> Reading:
    return reading(at, value_c, Place.FLOOR, heating_off=not on, heating_on=on)


@pytest.mark.parametrize(
    "again",
    [
        [],
        [fact(Energized, WEEKS)],
        [fact(HeatStep, WEEKS + HOUR, to_c=12.0)],
        [found(13.0, WEEKS + HOUR, on=True)],
    ],
)
@pytest.mark.parametrize("looks", [[found(12.0)], [found(24.0, MORNING + DAY * 2), found(12.0)]])
def test_a_floor_found_off_and_cold_starts_anew_from_what_it_measures(
    looks: list[Reading], again: list[Entry]
) -> None:
    made = plan(a_job(), running(AT_25, *looks, *again), WEEKS + HOUR * 2)
    assert [step.to_c for step in ramp(made).steps] == [12.0, 17.0, 22.0, 27.0, 29.0]
    assert ramp(made).steps[0].on == WEEKS.date()
    assert state(made) is State.HEATING_UP


@pytest.mark.parametrize(
    "looks",
    [
        # Within 3 K of its set-point, or not a day after it was on: the thermostat rests.
        [found(22.0)],
        [found(12.0, AT_25.at + DAY)],
        [found(20.0, WEEKS - HOUR, on=True), found(12.0)],
    ],
)
def test_a_floor_that_rests_goes_on(looks: list[Reading]) -> None:
    made = ramp(plan(a_job(), running(AT_25, *looks), WEEKS + HOUR))
    assert (made.start_c, made.steps[0].on) == (20.0, DAY_1)


@pytest.mark.parametrize("heating", [{}, {"heating_on": True}])
def test_a_cold_floor_starts_anew_also_where_nobody_said_that_its_heating_was_off(
    heating: dict[str, bool],
) -> None:
    """And one that was seen on far colder than it began."""
    seen = reading(WEEKS, 12.0, Place.FLOOR, heating_off=False, **heating)
    made = plan(a_job(), running(AT_25, seen), WEEKS + HOUR)
    assert ramp(made).steps[0].on == WEEKS.date()
    assert ramp(made).start_c == 12.0
    warm = reading(WEEKS, 24.0, Place.FLOOR, heating_off=False, **heating)
    assert ramp(plan(a_job(), running(AT_25, warm), WEEKS + HOUR)).steps[0].on == DAY_1


def test_without_a_logged_set_point_the_plans_own_counts() -> None:
    made = ramp(plan(a_job(), running(found(18.0)), WEEKS + HOUR))
    assert (made.start_c, made.steps[0].on) == (18.0, WEEKS.date())
    second_day = MORNING + DAY + HOUR * 4
    assert ramp(plan(a_job(), running(found(22.5, second_day)), WEEKS)).steps[0].on == DAY_1


def test_until_it_is_on_again_a_cold_floor_is_taken_no_warmer_than_it_was_last_found() -> None:
    looks = [found(12.0), found(13.0, WEEKS + HOUR)]
    made = ramp(plan(a_job(), running(AT_25, *looks), WEEKS + DAY * 2))
    assert (made.start_c, made.start_measured) == (13.0, False)
    assert made.steps[0].on == (WEEKS + DAY * 2).date()


def test_a_cold_floor_set_high_is_steep_and_its_hold_is_not_over() -> None:
    steps = [at_top(), found(12.0, MORNING + DAY * 4), at_top(22.0)]
    made = plan(a_job(), running(*steps), WEEKS + HOUR)
    assert state(made) is State.HEATING_UP
    steep = [told for told in made.findings if told.code == "heat-step-steep"]
    assert [told.params["set_at"] for told in steep][-1] == steps[-1].at
    assert steep[-1].params["rise_k"] == pytest.approx(17.0)
    # Seen off and cold only once, soon after it was on: the pause is what came after.
    soon = [AT_25, found(12.0, AT_25.at + HOUR), at_top(22.0)]
    late = plan(a_job(), running(*soon), WEEKS + HOUR)
    assert ramp(late).steps[0].on == WEEKS.date()


def test_water_is_not_judged_by_the_floor() -> None:
    wet = floor(heating=WATER, heat_up=FLOW)
    log = [*released(), fact(Energized, MORNING), found(12.0)]
    assert ramp(plan(a_job(wet), log, WEEKS + HOUR)).steps[0].on == DAY_1
