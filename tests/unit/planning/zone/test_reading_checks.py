"""Readings no room makes, statements proven wrong, loggers in a heated floor: found, and undone."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime, timedelta

import pytest
from planning_log import HOUR, a_job, codes, evidence, fact
from planning_samples import (
    DAY,
    RULES,
    START,
    daily,
    expected,
    item,
    job,
    layer,
    plan,
    reading,
    zone,
)

from curecal.instants import Window
from curecal.planning.climate.outliers import Outlier, find_outliers, lower_outliers
from curecal.planning.plan import Plan
from curecal.trade.data_sheets import Milestone
from curecal.trade.findings import Finding
from curecal.trade.job import Below
from curecal.trade.site_log import Correction, Energized, Entry, Kept, Place, Release, Series

MINUTE = timedelta(minutes=1)
COLD = expected(20.0, coldest_c=12.0)
FLOOR = job(zone(layer("thinset", START, "bed")), climate=COLD)


def series(
    values_c: list[float], every: timedelta = MINUTE * 10, place: Place = Place.AIR
) -> Series:
    points = tuple((START + every * index, value, None) for index, value in enumerate(values_c))
    return Series(
        id="logger",
        at=points[-1][0],
        recorded=points[-1][0],
        place=place,
        device="L 1",
        interval_s=every.total_seconds(),
        points=points,
    )


def only(made: Plan, code: str) -> Finding:
    (found,) = [finding for finding in made.findings if finding.code == code]
    return found


def window(log: list[Entry], as_of: datetime = START + DAY * 2) -> Window:
    found = item(plan(FLOOR, log, as_of), "bed").milestones[Milestone.HEAT].window
    assert found is not None
    return found


# 5 K in 15 minutes: our own choice, a room heater manages a kelvin or two.
@pytest.mark.parametrize(
    ("points", "found"),
    [
        ([(0.0, 20.0), (900.0, 14.9)], [Outlier(900.0, 20.0, 14.9)]),
        ([(0.0, 20.0), (900.0, 15.0)], []),
        ([(0.0, 20.0), (901.0, 10.0)], []),
        ([(0.0, 10.0), (600.0, 30.0)], [Outlier(600.0, 10.0, 30.0)]),
        ([(0.0, 20.0), (0.0, 10.0)], []),
        # Alone against both neighbors, and only against close ones.
        ([(0.0, 20.0), (3600.0, 26.0), (7200.0, 20.5)], [Outlier(3600.0, 20.0, 26.0, alone=True)]),
        ([(0.0, 20.0), (3600.0, 14.0), (7200.0, 20.5)], [Outlier(3600.0, 20.5, 14.0, alone=True)]),
        ([(0.0, 20.0), (3600.0, 24.0), (7200.0, 20.5)], []),
        ([(0.0, 20.0), (3600.0, 26.0), (7200.0, 26.0)], []),
        ([(0.0, 20.0), (14_400.0, 2.0), (86_400.0, 20.0)], []),
    ],
)
def test_what_no_room_makes(points: list[tuple[float, float]], found: list[Outlier]) -> None:
    assert find_outliers(points, RULES) == found


def test_the_warm_side_counts_as_the_cold_one_for_three_hours() -> None:
    points = [(index * 600.0, 30.0 if index < 30 else 18.0) for index in range(60)]
    levels = dict(lower_outliers(points[::-1], RULES))
    # From 300 to 120 minutes before the jump at 300 minutes: out of a single look's reach.
    assert {levels[index * 600.0] for index in range(12)} == {30.0}
    assert {levels[index * 600.0] for index in range(12, 60)} == {18.0}


def test_into_a_warm_room_the_cold_counts_for_three_hours() -> None:
    points = [(index * 600.0, 8.0 if index < 3 else 20.0) for index in range(60)]
    levels = dict(lower_outliers(points, RULES))
    assert {levels[index * 600.0] for index in range(22)} == {8.0}
    assert {levels[index * 600.0] for index in range(22, 60)} == {20.0}


def test_one_warm_value_counts_as_its_neighbors_and_one_cold_value_as_itself() -> None:
    warm = [(0.0, 18.0), (3600.0, 40.0), (7200.0, 19.0)]
    assert lower_outliers(warm, RULES) == [(0.0, 18.0), (3600.0, 18.0), (7200.0, 19.0)]
    cold = [(0.0, 18.0), (3600.0, 4.0), (7200.0, 19.0)]
    assert lower_outliers(cold, RULES) == cold


def test_a_logger_out_of_a_warm_van_is_told_and_gives_no_credit_for_it() -> None:
    van = series([32.0] * 12 + [13.0] * 276)
    room = series([13.0] * 288)
    made = plan(FLOOR, [van], START + DAY * 2)
    found = only(made, "reading-jumped")
    assert found.params["before_c"] == 32.0
    assert found.params["after_c"] == 13.0
    assert found.params["jumped_at"] == START + MINUTE * 120
    assert window([van]) == window([room])
    assert "reading-jumped" not in codes(plan(FLOOR, [room], START + DAY * 2))


def test_the_way_back_is_to_withdraw_the_readings() -> None:
    van = replace(series([32.0] * 12 + [13.0] * 276), by="Ada")
    back = Correction(id="c", at=van.at, recorded=van.at, by="Ada", of=van.id, withdrawn=True)
    assert "reading-jumped" not in codes(plan(FLOOR, [van, back], START + DAY * 3))
    assert window([van, back]) == window([])


def test_of_two_looks_within_minutes_the_colder_counts_and_both_are_asked_about() -> None:
    log = [reading(START + HOUR * 5, 19.0), reading(START + HOUR * 5 + MINUTE * 10, 12.0)]
    made = plan(FLOOR, log, START + DAY)
    assert only(made, "reading-jumped").params["id"] == log[1].id
    assert window(log) == window([reading(START + HOUR * 5, 12.0), log[1]])


def test_a_single_odd_look_is_told_with_its_entry() -> None:
    values = (18.0, 30.0, 18.5)
    log = [reading(START + HOUR * (5 + index), value) for index, value in enumerate(values)]
    found = only(plan(FLOOR, log, START + DAY), "reading-alone")
    assert found.params["id"] == log[1].id
    right = Correction(
        id="c", at=START + DAY, recorded=START + DAY, of=log[1].id, changes={"temperature_c": 18.2}
    )
    assert "reading-alone" not in codes(plan(FLOOR, [*log, right], START + DAY))


def test_places_are_not_compared_with_each_other() -> None:
    log = [
        reading(START + HOUR * 5, 12.0, Place.SURFACE),
        reading(START + HOUR * 5 + MINUTE, 20.0, Place.AIR),
    ]
    assert "reading-jumped" not in codes(plan(FLOOR, log, START + DAY))


def kept(above_c: float) -> Kept:
    return Kept(
        id="kept",
        at=START + DAY * 2,
        recorded=START + DAY * 2,
        by="Ada",
        above_c=above_c,
        from_at=START,
        to_at=START + DAY * 2,
    )


@pytest.mark.parametrize(
    "proof",
    [
        reading(START + DAY, 14.0, Place.AIR),
        reading(START + DAY, 18.0, Place.AIR, low_c=14.0),
        series([18.0] * 5 + [14.0] + [18.0] * 5, HOUR * 4),
    ],
)
def test_a_statement_proven_wrong_is_told_and_is_good_for_no_more_than_was_read(
    proof: Entry,
) -> None:
    made = plan(FLOOR, [kept(18.0), proof], START + DAY * 2)
    found = only(made, "kept-contradicted")
    assert found.params["kept_c"] == 18.0
    assert found.params["read_c"] == 14.0
    assert window([kept(18.0), proof]).earliest >= window([kept(14.0), proof]).earliest
    assert window([kept(18.0), proof]).earliest > window([kept(18.0)]).earliest


def test_a_statement_is_taken_back_by_a_correction() -> None:
    proof = reading(START + DAY, 14.0, Place.AIR)
    log = [kept(18.0), proof]
    at = START + DAY * 2
    back = Correction(id="c", at=at, recorded=at, of="kept", withdrawn=True, by="Ada")
    assert "kept-contradicted" not in codes(plan(FLOOR, [*log, back], START + DAY * 2))
    assert window([*log, back]) == window([proof])


@pytest.mark.parametrize(
    "harmless",
    [
        reading(START + DAY, 18.0, Place.AIR),
        # The surface is colder than its air; before and after, nothing was said.
        reading(START + DAY, 14.0, Place.SURFACE),
        reading(START - HOUR, 10.0, Place.AIR),
        reading(START + DAY * 2 + HOUR, 10.0, Place.AIR),
    ],
)
def test_what_a_statement_did_not_say_does_not_contradict_it(harmless: Entry) -> None:
    made = plan(FLOOR, [kept(18.0), harmless], START + DAY * 3)
    assert "kept-contradicted" not in codes(made)


@pytest.mark.parametrize(
    "on",
    [
        fact(Energized, START + DAY),
        reading(START + DAY, 20.0, Place.FLOOR, heating_off=False, heating_on=True),
    ],
)
def test_a_logger_in_the_floor_counts_until_the_floor_is_heated(on: Entry) -> None:
    log: list[Entry] = [series([20.0] * 49, HOUR, Place.FLOOR)]
    # Switched on too early, which is another finding; the readings after it are the heating's.
    before, after = plan(FLOOR, log, START + DAY * 2), plan(FLOOR, [*log, on], START + DAY * 2)
    assert "floor-logger-heated" not in codes(before)
    assert only(after, "floor-logger-heated").params["heated_at"] == on.at
    half = after.zones[0].energize.measured_share / before.zones[0].energize.measured_share
    assert half == pytest.approx(0.5, abs=0.1)  # the span itself grew with the doubt


def test_a_logger_on_the_surface_or_taken_out_before_counts_on() -> None:
    on = fact(Energized, START + DAY * 3)
    for place in (Place.SURFACE, Place.FLOOR):
        log = [series([20.0] * 49, HOUR, place), on]
        assert "floor-logger-heated" not in codes(plan(FLOOR, log, START + DAY * 4))


@pytest.mark.parametrize(
    ("log", "room_c"),
    [
        ([reading(START + DAY, 23.1, Place.FLOOR)], 20.0),
        ([reading(START + DAY, 23.0, Place.FLOOR)], None),
        ([reading(START + DAY, 15.5, Place.FLOOR), reading(START + DAY, 12.0, Place.AIR)], 12.0),
        # Nobody said whether it was on: no floor is that warm by itself.
        ([reading(START + DAY, 31.0, Place.FLOOR, heating_off=False)], 20.0),
        ([reading(START + DAY, 31.0, Place.FLOOR, heating_off=False, heating_on=True)], None),
        ([reading(START + DAY, 31.0, Place.SURFACE)], None),
        ([reading(START + DAY, None, Place.FLOOR, low_c=31.0)], None),
        ([reading(START + DAY, 31.0, Place.FLOOR), fact(Release, START + HOUR)], None),
        ([reading(START + DAY, 31.0, Place.FLOOR), fact(Release, START + DAY * 2)], 20.0),
    ],
)
def test_a_floor_warmer_than_its_room_without_heat_is_asked_about(
    log: list[Entry], room_c: float | None
) -> None:
    made = plan(FLOOR, log, START + DAY * 3)
    told = [found for found in made.findings if found.code == "floor-warm-while-off"]
    assert [found.params["room_c"] for found in told] == ([] if room_c is None else [room_c])


@pytest.mark.parametrize(
    ("log", "read_c"),
    [
        ([reading(START + DAY, 12.0, Place.AIR)], None),
        ([reading(START + DAY, 11.9, Place.AIR), reading(START + DAY, 18.0)], 11.9),
        ([reading(START + DAY, 18.0, Place.AIR, low_c=11.0)], 11.0),
        ([series([20.0, 11.5, 11.0], HOUR, Place.SURFACE)], 11.0),
        # Before anything was laid it does not matter how cold it was.
        ([reading(START - DAY, 3.0, Place.AIR)], None),
        ([reading(START + DAY, 3.0, Place.FLOOR, heating_off=False)], None),
    ],
)
def test_colder_than_the_coldest_is_asked_about(log: list[Entry], read_c: float | None) -> None:
    made = plan(FLOOR, log, START + DAY * 3)
    told = [found for found in made.findings if found.code == "colder-than-coldest"]
    assert [found.params["read_c"] for found in told] == ([] if read_c is None else [read_c])


def test_a_surface_is_held_against_the_coldest_air_over_it() -> None:
    ground = expected(20.0, coldest_c=12.0, below=Below.GROUND)
    over_ground = job(zone(layer("thinset", START, "bed")), climate=ground)
    told = [
        "colder-than-coldest" in codes(plan(over_ground, [reading(START, value_c)], START + DAY))
        for value_c in (9.5, 8.5)
    ]
    assert told == [False, True]


def test_a_look_at_the_floor_while_it_heats_counts_nowhere() -> None:
    warm = [
        reading(START + HOUR * 6 * index, 29.0, Place.FLOOR, heating_off=False)
        for index in range(8)
    ]
    assert window(list(warm)) == window([])


def test_the_share_that_is_measured_is_that_of_the_deciding_layer() -> None:
    made = plan(a_job(), evidence(), START + DAY * 6)
    assert made.zones[0].energize.measured_share > 0.0
    none = plan(FLOOR, daily(START - DAY * 9, 7, 20.0), START + DAY)
    assert none.zones[0].energize.measured_share == 0.0


@pytest.mark.parametrize(
    ("apart_h", "values_c", "coldest_c"),
    [
        (24, (12.0, 13.0), 13.0),
        (12, (13.0, 12.0), 13.0),
        (7 * 24, (12.0, 13.0), 13.0),
        # One night, or more than a week between: two looks at one cold spell, or at two.
        (11, (12.0, 13.0), 15.0),
        (7 * 24 + 1, (12.0, 13.0), 15.0),
        (24, (12.0, 15.0), 15.0),
        # Of three the colder two.
        (24, (13.0, 11.0, 12.0), 12.0),
    ],
)
def test_what_was_read_colder_twice_becomes_the_coldest(
    apart_h: int, values_c: tuple[float, ...], coldest_c: float
) -> None:
    log = [
        reading(START + HOUR * (1 + apart_h * index), value_c, Place.AIR)
        for index, value_c in enumerate(values_c)
    ]
    floor = zone(layer("thinset", START, "mortar"))
    made = plan(
        job(floor, climate=expected(20.0, coldest_c=15.0)), log, START + HOUR * (apart_h * 2 + 2)
    )
    lowered = [told for told in made.findings if told.code == "coldest-lowered"]
    assert [told.params["coldest_c"] for told in lowered] == (
        [coldest_c] if coldest_c < 15.0 else []
    )
    assert "colder-than-coldest" in [told.code for told in made.findings]


def air_at(day: float, value_c: float, **more: object) -> Entry:
    return reading(START + timedelta(days=day), value_c, Place.AIR, **more)  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("looks", "asked"),
    [
        # 75 °F for 57: 23.9 °C for 13.9, our own figure of 8 K.
        ([air_at(0, 14.0), air_at(1, 23.9), air_at(2, 14.5)], True),
        ([air_at(0, 14.0), air_at(1, 22.5), air_at(2, 14.5)], False),
        ([air_at(0, 14.0), air_at(1, 23.9), air_at(2, 23.0)], False),
        # Nobody knows what lay between looks over three days apart.
        ([air_at(0, 14.0), air_at(3.1, 23.9), air_at(4, 14.5)], False),
        ([air_at(0, 14.0), air_at(1, 23.9)], False),
        ([air_at(0, 23.9), air_at(1, 14.0), air_at(2, 23.9)], False),
    ],
)
def test_a_look_far_warmer_than_those_around_it_is_asked_about(
    looks: list[Entry], *, asked: bool
) -> None:
    made = plan(FLOOR, looks, START + DAY * 5)
    assert ("reading-warmer-alone" in codes(made)) is asked


@pytest.mark.parametrize(
    ("looks", "asked"),
    [
        ([air_at(-15, 20.0)], True),
        ([air_at(-13, 20.0)], False),
        ([air_at(-30, 20.0), air_at(-12, 20.0)], True),
        ([air_at(-26, 20.0), air_at(-13, 20.0)], False),
        # Once something was laid, a look weeks from the others is what people do.
        ([air_at(1, 20.0), air_at(30, 20.0)], False),
    ],
)
def test_a_look_long_before_anything_else_is_asked_about(
    looks: list[Entry], *, asked: bool
) -> None:
    made = plan(FLOOR, looks, START + DAY * 40)
    assert ("reading-long-before" in codes(made)) is asked
    nothing_laid = a_job(zone(layer("thinset", None, "mortar")))
    assert "reading-long-before" not in codes(plan(nothing_laid, looks, START + DAY * 40))
