"""Where a first heat ends, and what limits it."""

from __future__ import annotations

from datetime import datetime

import pytest
from planning_log import HOUR, READY, a_job, evidence, fact, floor, released
from planning_samples import DAY, RULES, plan, reading

from curecal.planning.plan import HeatUp, Plan
from curecal.trade.job import Covering, CoveringKind, Heating, HeatingKind, HeatUpWish, Room
from curecal.trade.site_log import Entry, Mode, Place, ThermostatSet
from curecal.words.layout import plain
from curecal.words.report.report import report
from curecal.words.sentences import words_for

MORNING = (READY + DAY).replace(hour=8)


def ramp(made: Plan) -> HeatUp:
    return made.zones[0].heat_ups[-1]


def floor_at(value_c: float | None, at: datetime = MORNING - HOUR) -> Entry:
    return reading(at, value_c, Place.FLOOR)


def set_to(limit_c: float, at: datetime = READY, **more: object) -> ThermostatSet:
    return fact(ThermostatSet, at, mode=more.pop("mode", Mode.FLOOR), limit_c=limit_c, **more)


@pytest.mark.parametrize(
    ("settings", "limit_c", "why"),
    [
        ([], 29.0, "limit-room"),
        ([set_to(27.0)], 27.0, "limit-thermostat"),
        # Set again, it stands until the next; the floor's own limit stays.
        ([set_to(24.0), set_to(28.0, READY + HOUR)], 28.0, "limit-thermostat"),
        ([set_to(31.0)], 29.0, "limit-room"),
        # What nobody signed lowers it, and raises nothing.
        ([set_to(27.0, by=None)], 27.0, "limit-thermostat"),
        ([set_to(24.0), set_to(28.0, READY + HOUR, by=None)], 24.0, "limit-thermostat"),
        # Two at one instant: the lower.
        ([set_to(24.0), set_to(28.0)], 24.0, "limit-thermostat"),
        ([set_to(28.0), set_to(24.0)], 24.0, "limit-thermostat"),
        # One that goes by the air says nothing of the floor.
        ([set_to(24.0, mode=Mode.AIR)], 29.0, "limit-room"),
    ],
)
def test_the_limit_at_the_thermostat_lowers_the_target_at_once(
    settings: list[Entry], limit_c: float, why: str
) -> None:
    made = ramp(plan(a_job(), [*evidence(), *settings, floor_at(20.0)], MORNING))
    assert (made.limit_c, made.target_c, made.limit_from.code) == (limit_c, limit_c, why)
    assert max(step.to_c for step in made.steps) == limit_c


@pytest.mark.parametrize(
    ("more", "target_c", "limit_c"),
    [
        ({}, 26.0, 29.0),
        ({"room": Room.PERIMETER_STRIP}, 26.0, 29.0),
        ({"covering": Covering(CoveringKind.WOOD)}, 26.0, 27.0),
        ({"covering": Covering(CoveringKind.CARPET, limit_c=24.0)}, 24.0, 24.0),
    ],
)
def test_where_nobody_wished_a_target_it_is_26_and_no_limit(
    more: dict[str, object], target_c: float, limit_c: float
) -> None:
    job = a_job(floor(heat_up=HeatUpWish(), **more))
    made = plan(job, [*released(), floor_at(20.0)], MORNING)
    up = ramp(made)
    assert (up.target_c, up.limit_c) == (target_c, limit_c)
    assert max(step.to_c for step in up.steps) == target_c
    words = words_for(made.job, RULES)
    text = " ".join(plain(report(made, (), words=words, width=400, full=True)))
    assert ("Afterwards you may go up to" in text) is (target_c < limit_c)


@pytest.mark.parametrize(
    ("flow", "steep"),
    [
        # A tile contractors' note beside BS 5385-4: at most 5 °C a day once tiled.
        (((25.0, 3), (30.0, 1), (35.0, 4), (20.0, 1)), []),
        (((30.0, 1), (35.0, 1)), []),
        (((25.0, 3), (31.0, 1), (55.0, 4)), [(25.0, 31.0)]),
        (((55.0, 3),), [(25.0, 55.0)]),
        (((20.0, 1), (26.0, 1)), [(20.0, 26.0)]),
    ],
)
def test_under_a_finished_floor_the_water_rises_5_k_a_day(
    flow: tuple[tuple[float, int], ...], steep: list[tuple[float, float]]
) -> None:
    wet = floor(heating=Heating(HeatingKind.WATER), heat_up=HeatUpWish(flow=flow))
    made = plan(a_job(wet), released(), MORNING)
    found = [told for told in made.findings if told.code == "flow-rises-steeply"]
    assert [(told.params["from_c"], told.params["to_c"]) for told in found] == steep
    words = words_for(made.job, RULES)
    assert all("at most 5 " in words.finding(told)[1] for told in found)
