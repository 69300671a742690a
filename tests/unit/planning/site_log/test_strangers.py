"""What somebody tells who is not in the job: only what is worse counts."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import timedelta
from functools import partial

import pytest
from planning_log import HOUR, READY, a_job, codes, fact, hold, released, state, without
from planning_samples import DAY, START, expected, item, job, layer, plan, reading, sheet, zone

from curecal.planning.plan import HoldState, Plan, State
from curecal.trade.data_sheets import Milestone
from curecal.trade.job import Below
from curecal.trade.site_log import (
    Device,
    Energized,
    Entry,
    HeatStep,
    Place,
    Protection,
    Reading,
    Series,
    TripTest,
)

STRANGER = "Max Stranger"
AS_OF = START + DAY * 10
read = partial(reading, by=STRANGER)
MORNING = (READY + DAY).replace(hour=8)
ON = fact(Energized, READY + DAY * 2)
TRIPPED_NOT = fact(
    Protection,
    READY + DAY * 2 + HOUR * 2,
    device=Device.RCD,
    trips_at_a=0.03,
    trip_test=TripTest.DID_NOT_TRIP,
)


def told(*log: Entry, air_c: float = 12.0, below: Below = Below.HEATED_ROOM) -> Plan:
    """Return the plan of a week's mortar in a cool room, measured on its first day."""
    floor = zone(layer(sheet("thinset", 7.0), START, "mortar"))
    made = job(floor, climate=expected(air_c, below=below))
    return plan(made, [reading(START, air_c, Place.AIR), *log], AS_OF)


def heat(made: Plan) -> object:
    return item(made, "mortar").milestones[Milestone.HEAT].window


def every_six_hours(place: Place, value_c: float) -> list[Entry]:
    return [read(START + HOUR * 6 * index, value_c, place) for index in range(40)]


def a_logger(value_c: float, humidity: float | None = None) -> Series:
    points = tuple((START + HOUR * hour, value_c, humidity) for hour in range(200))
    more = {"place": Place.AIR, "device": "wall", "interval_s": 3600.0, "points": points}
    return fact(Series, points[-1][0], by=STRANGER, **more)


@pytest.mark.parametrize(
    "log",
    [
        every_six_hours(Place.AIR, 20.0),
        every_six_hours(Place.SURFACE, 20.0),
        every_six_hours(Place.FLOOR, 20.0),
        [a_logger(20.0)],
    ],
)
def test_a_strangers_warmth_gives_no_credit(log: Sequence[Entry]) -> None:
    assert heat(told(*log)) == heat(told())
    named = [replace(entry, by="Ada") for entry in log]
    assert heat(told(*named)) != heat(told())


@pytest.mark.parametrize("place", [Place.AIR, Place.SURFACE])
def test_a_strangers_cold_counts_like_anybodys(place: Place) -> None:
    cold = read(START + DAY * 3, 13.0, place)
    made = told(cold, air_c=20.0)
    assert heat(made) == heat(told(replace(cold, by="Ada"), air_c=20.0))
    assert heat(made) != heat(told(air_c=20.0))
    assert "frost" in codes(told(read(START + DAY, -1.0, place)))


def test_a_stranger_takes_no_frost_back() -> None:
    """A surface read near frosty air speaks against it, but not a stranger's."""
    frosty = reading(START + HOUR * 2, 1.0, Place.AIR)
    warm = read(START + HOUR * 2, 8.0, Place.SURFACE)
    assert "frost" in codes(told(frosty, warm))
    assert "frost" not in codes(told(frosty, replace(warm, by="Ada")))


def test_a_strangers_pairs_only_make_the_bed_colder() -> None:
    def pairs(over_air_k: float) -> list[Entry]:
        hours = (0, 12, 24)
        air = [read(START + HOUR * hour, 20.0, Place.AIR) for hour in hours]
        return [*air, *(read(START + HOUR * hour, 20.0 + over_air_k) for hour in hours)]

    def offset_k(log: list[Entry]) -> float:
        made = told(*log, air_c=20.0, below=Below.GROUND)
        return round((heat(made).earliest - START) / DAY, 1)  # type: ignore[attr-defined]

    without_any = offset_k([])
    assert offset_k(pairs(-1.0)) == without_any
    assert offset_k(pairs(-5.0)) > without_any


def test_a_stranger_dries_nothing() -> None:
    """Drying at 70 % goes slower than at 50 %; who says 40 % is not of the job."""
    floor = zone(layer("membrane", START, "membrane"), layer("thinset", None, "mortar"))
    made = job(floor, climate=expected(20.0, humidity=0.7, dampest=0.7))

    def cover(*log: Entry) -> object:
        return item(plan(made, log, AS_OF), "membrane").milestones[Milestone.COVER].window

    assert cover(a_logger(20.0, 0.4)) == cover()
    assert cover(a_logger(20.0, 0.8)) != cover()


def test_cure_wants_a_temperature_from_the_job() -> None:
    log = [replace(look, by=STRANGER) if isinstance(look, Reading) else look for look in released()]
    assert hold(plan(a_job(), log, READY + HOUR * 2), "cure").state is HoldState.UNMET
    assert hold(plan(a_job(), released(), READY + HOUR * 2), "cure").state is HoldState.MET


def test_a_stranger_who_saw_it_off_lifts_no_stop() -> None:
    def on(by: str) -> bool:
        off = reading(READY + DAY * 2 + HOUR, 20.0, Place.FLOOR, by=by)
        made = plan(a_job(), [*released(), ON, off, TRIPPED_NOT], READY + DAY * 3)
        return "held-while-on" in codes(made)

    assert (on(STRANGER), on("Ada")) == (True, False)


def test_a_stranger_who_saw_it_cooler_lifts_no_stop() -> None:
    def look(day: float, value_c: float, by: str) -> Entry:
        at = READY + timedelta(days=day)
        return reading(at, value_c, Place.FLOOR, heating_off=False, by=by)

    def over(*looks: Entry) -> bool:
        return "floor-over-limit" in codes(
            plan(a_job(), [*released(), ON, *looks], READY + DAY * 4)
        )

    assert over(look(3, 40.0, STRANGER))
    assert over(look(3, 40.0, "Ada"), look(3.5, 28.0, STRANGER))
    assert not over(look(3, 40.0, "Ada"), look(3.5, 28.0, "Ada"))


@pytest.mark.parametrize(
    ("strangers_c", "from_c"),
    [(None, 20.0), (25.0, 20.0), (14.0, 14.0)],
)
def test_a_stranger_only_makes_the_first_step_colder(
    strangers_c: float | None, from_c: float
) -> None:
    own = reading(MORNING - HOUR * 2, 20.0, Place.FLOOR)
    theirs = [] if strangers_c is None else [read(MORNING - HOUR, strangers_c, Place.FLOOR)]
    ramp = plan(a_job(), [*released(), own, *theirs], MORNING).zones[0].heat_ups[-1]
    assert (ramp.steps[0].to_c, ramp.start_measured) == (from_c, True)
    alone = plan(a_job(), [*released(), *theirs], MORNING).zones[0].heat_ups[-1]
    assert not alone.start_measured


@pytest.mark.parametrize(
    ("by", "reached"), [("Ada", State.IN_SERVICE), (STRANGER, State.HEATING_UP)]
)
def test_a_stranger_brings_no_floor_into_service(by: str, reached: State) -> None:
    warm = reading(MORNING - HOUR, 20.0, Place.FLOOR)
    top = fact(HeatStep, MORNING + DAY * 2, to_c=29.0, by=by)
    log = [*without(released(), Energized), warm, fact(Energized, MORNING), top]
    assert state(plan(a_job(), log, MORNING + DAY * 6)) is reached
