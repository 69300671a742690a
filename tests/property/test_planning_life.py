"""Whole jobs lived day by day: what people are told moves only when something happened.

Each job is planned every morning from before its first layer until it is in service. The crew
works as the plan says, electrician and crew lead record what they owe, thermometers are read at
noon. Two things may lie between two mornings, time and facts, and they are looked at apart: the
same facts a day later, then the new facts on that day.
"""

from __future__ import annotations

from datetime import date, timedelta
from functools import cache
from itertools import pairwise, product

import pytest
from planning_samples import DAY, job, layer, plan, sheet, weekdays, zone
from planning_site import CLIMATE, WEEKS, Morning, Site, at_hour

from curecal.instants import Window
from curecal.planning.plan import RELEASED_STATES, HoldState, State, ZonePlan
from curecal.trade.job import Job
from curecal.trade.site_log import MoistureTest, Release

pytestmark = pytest.mark.slow

A_HAIR = timedelta(seconds=2)  # two roundings up to the second


def bathroom() -> Job:
    layers = [
        layer("leveler", thickness_m=0.004, duration_s=10_800.0),
        layer(sheet("thinset", heat_d=21.0)),
        layer(sheet("cement grout", heat_d=14.0)),
        layer("sealer", duration_s=7200.0),
    ]
    return job(zone(*layers), climate=CLIMATE)


def heated_screed() -> Job:
    layers = [
        layer("sand-cement screed", thickness_m=0.05, heat_before_covering=True),
        layer(sheet("thinset", heat_d=14.0), name="tile bed"),
        layer(sheet("cement grout", heat_d=10.0)),
    ]
    return job(zone(*layers), climate=CLIMATE)


def repair() -> Job:
    layers = [
        layer("mortar bed", existing=True),
        layer(sheet("thinset", heat_d=10.0), name="reset bed", repair=True, duration_s=3600.0),
        layer(sheet("cement grout", heat_d=10.0), name="joint", repair=True, duration_s=3600.0),
    ]
    return job(zone(*layers), climate=CLIMATE)


def steady(_day: date) -> float:
    return CLIMATE.air_c


def cold_spell(day: date) -> float:
    return 11.0 if date(2027, 3, 15) <= day < date(2027, 3, 22) else CLIMATE.air_c


def warm_spell(day: date) -> float:
    return 23.0 if date(2027, 3, 15) <= day < date(2027, 3, 22) else CLIMATE.air_c


def always(_day: date) -> bool:
    return True


def often_away(day: date) -> bool:
    """Two weeks in which every one of the jobs had work planned."""
    first, second = date(2027, 3, 3), date(2027, 4, 1)
    return not (first <= day < first + 7 * DAY or second <= day < second + 7 * DAY)


JOBS = {"bathroom": bathroom, "heated screed": heated_screed, "repair": repair}
WEATHERS = {"steady": steady, "cold spell": cold_spell, "warm spell": warm_spell}
CREWS = {"always": always, "often away": often_away}
ALL = tuple(product(JOBS, WEATHERS, CREWS))
AS_PLANNED = [each for each in ALL if each[1:] == ("steady", "always")]
NOT_WARMER = [each for each in ALL if each[1] != "warm spell"]
# A spell and two absences have each their own way; here one of them at a time.
ONE_THING = [each for each in ALL if each[1] == "steady" or each[2] == "always"]


@cache
def lived(name: str, weather: str, crew: str) -> list[Morning]:
    """Return every morning of one job, lived once for all tests."""
    return list(Site(JOBS[name](), weather=WEATHERS[weather], works=CREWS[crew]).mornings())


@pytest.fixture(params=ALL, ids="-".join)
def life(request: pytest.FixtureRequest) -> list[Morning]:
    return lived(*request.param)


@pytest.fixture(params=AS_PLANNED, ids="-".join)
def life_as_planned(request: pytest.FixtureRequest) -> list[Morning]:
    return lived(*request.param)


@pytest.fixture(params=NOT_WARMER, ids="-".join)
def life_not_warmer(request: pytest.FixtureRequest) -> list[Morning]:
    return lived(*request.param)


@pytest.fixture(params=ONE_THING, ids="-".join)
def life_with_one_thing(request: pytest.FixtureRequest) -> list[Morning]:
    return lived(*request.param)


def _a_day_later(morning: Morning) -> ZonePlan:
    """Return what the next morning would tell, had nobody recorded anything."""
    told = morning.told
    return plan(told.job, morning.log, told.as_of + DAY, weekdays).zones[0]


@pytest.mark.slow
def test_the_whole_way_is_gone(life: list[Morning]) -> None:
    seen: list[State] = []
    for morning in life:
        if not seen or seen[-1] is not morning.floor.state:
            seen.append(morning.floor.state)
    assert seen[0] is State.PLANNED
    assert seen[-4:] == [State.CLEAR, State.RELEASED, State.HEATING_UP, State.IN_SERVICE]
    assert State.STOPPED not in seen
    assert State.NO_DATE not in seen


def test_nobody_may_switch_on_before_the_release(life: list[Morning]) -> None:
    for morning in life:
        released = any(isinstance(entry, Release) for entry in morning.log)
        assert morning.floor.is_released is released, morning.day
        assert (morning.floor.state in RELEASED_STATES) is released
        assert morning.told.is_released is released


def test_the_release_comes_no_earlier_than_the_date_first_told(life: list[Morning]) -> None:
    released = next(
        entry for morning in life for entry in morning.log if isinstance(entry, Release)
    )
    before = [morning for morning in life if morning.told.as_of < released.at]
    last = before[-1].floor.energize.window
    assert last is not None
    assert last.latest is not None
    assert released.at >= last.latest


@pytest.mark.slow
def test_time_alone_moves_no_date_earlier(life: list[Morning]) -> None:
    for morning in life:
        here, later = morning.floor, _a_day_later(morning)
        for name, window in _windows(here).items():
            moved = _windows(later)[name]
            assert (window is None) is (moved is None), (morning.day, name)
            if window is not None and moved is not None:
                assert moved.earliest >= window.earliest, (morning.day, name)
                assert window.latest is not None
                assert moved.latest is not None
                assert moved.latest >= window.latest, (morning.day, name)
        _assert_day_no_earlier(here.energize.start_on, later.energize.start_on)
        _assert_day_no_earlier(here.energize.owner_date, later.energize.owner_date)


@pytest.mark.slow
def test_a_day_told_moves_with_time_alone_only_where_work_slid_or_the_day_passed(
    life: list[Morning],
) -> None:
    for morning in life:
        here, later = morning.floor, _a_day_later(morning)
        slid = any(
            planned.planned and planned.start != moved.start
            for planned, moved in zip(here.layers, later.layers, strict=True)
        )
        bare = [each for each in here.heat_ups if each.purpose == "bare screed"]
        waiting = any(each.provisional and each.steps[0].on <= morning.day for each in bare)
        told = here.energize.start_on
        assert told is not None
        # Not switched on, the day told moves on: it is never in the past.
        passed = told <= morning.day
        running = later.state in {State.HEATING_UP, State.IN_SERVICE}
        if slid or waiting:
            continue
        if passed and not running:
            continue
        assert later.energize.start_on == told, morning.day


def test_no_milestone_is_told_earlier_than_the_day_before(life_not_warmer: list[Morning]) -> None:
    """Time, cold, absence and what comes as expected bring nothing forward; only warmth does."""
    for before, after in pairwise(life_not_warmer):
        now = _windows(after.floor)
        for key, window in _windows(before.floor).items():
            assert window is not None
            moved = now[key]
            assert moved is not None
            assert moved.earliest >= window.earliest - A_HAIR, (before.day, key)


def test_when_all_goes_as_planned_nothing_moves(life_as_planned: list[Morning]) -> None:
    """From the first morning on the same early ends; the late ones and the owner's day come in."""
    first = _windows(life_as_planned[0].floor)
    for before, after in pairwise(life_as_planned):
        now = _windows(after.floor)
        for key, window in _windows(before.floor).items():
            moved, told = now[key], first[key]
            assert window is not None
            assert moved is not None
            assert told is not None
            assert window.latest is not None
            assert moved.latest is not None
            if key not in _opened_by_test(after):
                assert abs(moved.earliest - told.earliest) <= A_HAIR, (before.day, key)
            assert moved.latest <= window.latest + A_HAIR, (before.day, key)
    waiting = [morning for morning in life_as_planned if not morning.floor.is_released]
    started = waiting[0].floor.energize.start_on
    assert started is not None
    for morning in waiting:
        # Only when its day comes and its worst case is not over does the day told move on.
        assert morning.floor.energize.start_on == max(started, morning.day), morning.day
    _assert_day_no_earlier(waiting[-1].floor.energize.owner_date, waiting[0].day + WEEKS * 7 * DAY)
    owner = [morning.floor.energize.owner_date for morning in waiting]
    assert owner == sorted(owner, key=_ordinal, reverse=True)


def _opened_by_test(morning: Morning) -> set[tuple[str, str]]:
    """Return what a moisture test decides: its own instant counts, not the one foreseen."""
    tests = [entry for entry in morning.log if isinstance(entry, MoistureTest)]
    return {(entry.layer, name) for entry in tests for name in ("cover", "heat")}


def test_no_day_told_moves_back_and_forth(life_with_one_thing: list[Morning]) -> None:
    """The crew's day moves one way; the owner's comes in, but for one spell that moves it out."""
    waiting = [
        morning.floor.energize for morning in life_with_one_thing if not morning.floor.is_released
    ]
    for days, most_turns in (
        ([energize.start_on for energize in waiting], 0),
        ([energize.owner_date for energize in waiting], 2),
    ):
        moves = [
            _ordinal(after) > _ordinal(before)
            for before, after in pairwise(days)
            if after != before
        ]
        turns = sum(before != after for before, after in pairwise(moves))
        assert turns <= most_turns, days


def _ordinal(day: date | None) -> int:
    assert day is not None
    return day.toordinal()


def test_the_owners_day_moves_in_only_by_what_was_recorded(life: list[Morning]) -> None:
    for before, after in pairwise(life):
        told, blind = before.floor.energize.owner_date, _a_day_later(before).energize.owner_date
        _assert_day_no_earlier(told, blind)
        now = after.floor.energize.owner_date
        if _ordinal(now) < _ordinal(told):
            assert len(after.log) > len(before.log), before.day


def test_every_hold_met_stays_met(life: list[Morning]) -> None:
    for before, after in pairwise(life):
        met = {
            (hold.code, hold.layer_id) for hold in before.floor.holds if hold.state is HoldState.MET
        }
        now = {(hold.code, hold.layer_id): hold.state for hold in after.floor.holds}
        assert all(now[key] is HoldState.MET for key in met), before.day


def _windows(floor: ZonePlan) -> dict[tuple[str, str], Window | None]:
    found: dict[tuple[str, str], Window | None] = {
        ("zone", "energize"): floor.energize.window,
    }
    for each in floor.layers:
        if each.layer.existing:
            continue
        found[each.layer.id, "finish"] = each.finish
        for milestone, dated in each.milestones.items():
            found[each.layer.id, milestone.value] = dated.window
    return found


def _assert_day_no_earlier(before: date | None, after: date | None) -> None:
    assert (before is None) is (after is None)
    if before is not None and after is not None:
        assert after >= before


def test_a_heat_up_not_begun_is_never_in_the_past() -> None:
    """Who looks three weeks later must not read that the floor is at its limit today."""
    *_, last = Site(repair(), weather=steady, works=always).mornings()
    released = next(entry for entry in last.log if isinstance(entry, Release))
    log = [entry for entry in last.log if entry.at <= released.at]
    late = released.at.date() + 21 * DAY
    floor = plan(last.told.job, log, at_hour(late, 6), weekdays).zones[0]
    assert floor.state is State.RELEASED
    assert floor.heat_ups[-1].steps[0].on >= late
