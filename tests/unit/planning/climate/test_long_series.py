"""A long series is read in columns, a short one by one: both say the same of every room."""

from __future__ import annotations

import math
import random
from collections.abc import Mapping
from dataclasses import fields, is_dataclass, replace
from datetime import datetime, timedelta

import numpy as np
import pytest
from planning_samples import (
    DAY,
    RULES,
    START,
    every_day,
    expected,
    job,
    layer,
    plan,
    reading,
    sheet,
    zone,
)

from curecal.planning.climate import temperature_readings
from curecal.planning.climate.outliers import find_outliers, lower_outliers
from curecal.planning.climate.pieces import Dip, Piece
from curecal.planning.climate.polylines import Polyline, find_worst, split_line
from curecal.planning.climate.temperature_readings import find_contradiction
from curecal.planning.climate.tracks import Track
from curecal.planning.climate.zone_climate import Climate, End, make_climate
from curecal.planning.curing.clocks import Clocks
from curecal.planning.make_plan import make_plan
from curecal.planning.site_log.log_at_instant import facts_at
from curecal.science.age import KeptAges
from curecal.science.rate import CementRate, DryingRate
from curecal.trade.job import Below, HeatedBy, Job
from curecal.trade.site_log import Energized, Entry, Kept, Place, Series

NOW = START + DAY * 12
NEVER = 10**9


def alike(one: object, other: object) -> bool:
    """Whether two are the same but for the last bits of their floats."""
    if isinstance(one, float) and isinstance(other, float):
        return one == other or math.isclose(one, other, rel_tol=1e-9, abs_tol=1e-6)
    if type(one) is not type(other):
        return False
    if is_dataclass(one):
        names = [field.name for field in fields(one)]
        return all(alike(getattr(one, name), getattr(other, name)) for name in names)
    if isinstance(one, Mapping) and isinstance(other, Mapping):
        return one.keys() == other.keys() and all(alike(one[key], other[key]) for key in one)
    if isinstance(one, tuple | list) and isinstance(other, tuple | list):
        pairs = zip(one, other, strict=False)
        return len(one) == len(other) and all(alike(*pair) for pair in pairs)
    return one == other


def logged(draw: random.Random, number: int) -> list[Series]:
    """What one logger read, in one part or two: with gaps, holes, jumps and frost."""
    mean_c, swing_c = draw.choice([-1.0, 6.0, 14.0, 20.0]), draw.choice([0.0, 2.0, 6.0])
    step_s = draw.choice([900.0, 3600.0, 3600.0 * 7])
    at, points = START + timedelta(hours=draw.choice([-5, 0, 30])), []
    until = at + DAY * draw.choice([2, 6, 11])
    while at < until:
        hour = (at - START).total_seconds() / 3600.0
        value_c = mean_c + swing_c * math.sin(hour / 3.8) + draw.gauss(0.0, 0.2)
        value_c += draw.choice([0.0] * 60 + [9.0, -9.0])
        is_hole = draw.random() < 0.03
        points.append(
            (at, None if is_hole else value_c, draw.choice([None, 0.5, 0.6 + hour / 900.0, 0.8]))
        )
        at += timedelta(seconds=step_s * draw.choice([1, 1, 1, 1, 1, 1, 2, 5]))
    made = Series(
        id=f"s{number}",
        at=START,
        recorded=START,
        by=draw.choice(["Ada", "Ada", "a passer-by"]),
        place=draw.choice(list(Place)),
        device=draw.choice(["a", "b"]),
        interval_s=step_s,
        points=points,
    )
    if draw.random() < 0.7 or len(points) < 4:
        return [made]
    cut = len(points) // 2
    parts = (points[: cut + 1], points[cut:])
    return [replace(made, id=f"s{number}.{part}", points=told) for part, told in enumerate(parts)]


def told(seed: int) -> tuple[Job, list[Entry]]:
    """A floor of five layers, and what loggers and people read in its room."""
    draw = random.Random(seed)  # noqa: S311 - a sample that stays the same
    climate = replace(
        expected(draw.choice([12.0, 18.0]), coldest_c=draw.choice([2.0, 10.0])),
        below=draw.choice([None, Below.GROUND, Below.HEATED_ROOM]),
        heated_by=draw.choice(list(HeatedBy)),
    )
    log: list[Entry] = []
    for number in range(draw.choice([1, 2, 3])):
        log += logged(draw, number)
    for _ in range(draw.choice([0, 0, 3, 8])):
        at = START + timedelta(hours=draw.uniform(0.0, 280.0))
        place, low_c = draw.choice(list(Place)), draw.choice([None, 1.0])
        log.append(reading(at, draw.choice([-2.0, 9.0, 16.0]), place, 0.7, low_c))
    if draw.random() < 0.4:
        first = START + DAY * draw.choice([0, 5])
        log.append(
            Kept(id="k", at=NOW, recorded=NOW, by=draw.choice(["Ada", "a passer-by"]),
                 above_c=draw.choice([4.0, 15.0]), from_at=first, to_at=first + DAY * 4)
        )  # fmt: skip
    if draw.random() < 0.3:
        on = START + DAY * 7
        log.append(Energized(id="on", at=on, recorded=on, by="Ada"))
    floor = zone(
        layer("leveler", START, thickness_m=0.01),
        layer(sheet("thinset", 21.0), START + DAY * 2),
        layer("cement grout", START + DAY * 4),
        layer("sealer"),
    )
    return job(floor, climate=climate), log


def climate_of(made: Job, log: list[Entry]) -> Climate:
    facts = facts_at(log, NOW, made.people)
    return make_climate(made.zones[0], made.expected, facts, START, RULES)


@pytest.mark.parametrize("seed", range(40))
def test_a_plan_is_the_same_in_columns_and_one_by_one(
    seed: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    made, log = told(seed)
    found = []
    for long in (NEVER, 1):
        monkeypatch.setattr(temperature_readings, "LONG", long)
        found.append((plan(made, log, NOW), climate_of(made, log)))
    (short_plan, short), (long_plan, long_one) = found
    assert alike(short_plan, long_plan)
    assert alike(short.frost, long_one.frost)
    assert alike(short.measured, long_one.measured)
    assert alike(short.cold_readings, long_one.cold_readings)
    clocks = Clocks(short, RULES), Clocks(long_one, RULES)
    drying = DryingRate(rated_c=20.0, rated_rh=0.5, minimum_c=5.0, limit_rh=0.75)
    for rate in (CementRate(rated_c=20.0, minimum_c=5.0), drying):
        for end in End:
            for days in range(1, 14):
                ages_s = [
                    one.of(rate).age_s(end, START, START + DAY * days + timedelta(minutes=7))
                    for one in clocks
                ]
                assert ages_s[0] == pytest.approx(ages_s[1], rel=1e-9, abs=1e-6)


@pytest.mark.parametrize("seed", range(12))
def test_sums_kept_from_other_plans_change_no_answer(
    seed: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(temperature_readings, "LONG", 1)
    kept = KeptAges()
    for other in (seed, seed + 1, seed):
        made, log = told(other)
        for days in (3.2, 8.0, 12.0):
            at = START + DAY * days
            # What was read until then; and once more with one reading that was colder.
            known = [_until(entry, at) for entry in log]
            for entries in (known, [_colder(entry) for entry in known]):
                again = make_plan(made, entries, at, rules=RULES, day_off=every_day, kept=kept)
                assert again == plan(made, entries, at)


def _until(entry: Entry, at: datetime) -> Entry:
    if not isinstance(entry, Series):
        return entry
    return replace(entry, points=[point for point in entry.points if point[0] <= at])


def _colder(entry: Entry) -> Entry:
    if not isinstance(entry, Series) or len(entry.points) < 9:
        return entry
    points = list(entry.points)
    points[6] = (points[6][0], 3.0, 0.9)
    return replace(entry, points=points)


def test_most_of_these_floors_have_a_series_in_columns(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(temperature_readings, "LONG", 1)
    made = [climate_of(*told(seed)) for seed in range(40)]
    columns = [any(isinstance(piece, Polyline) for piece in one.bed) for one in made]
    assert sum(columns) > 25


@pytest.mark.parametrize("seed", range(30))
def test_outliers_are_found_and_lowered_alike(seed: int) -> None:
    draw = random.Random(seed)  # noqa: S311 - a sample that stays the same
    at_s, points = 0.0, []
    for _ in range(80):
        at_s += draw.choice([60.0, 600.0, 3600.0, 30_000.0])
        points.append((at_s, 15.0 + draw.choice([0.0, 0.5, 7.0, -8.0])))
    track = Track(*np.array(points).T, is_rising=True)
    assert track.find_outliers(RULES) == find_outliers(points, RULES)
    lowered = track.lowered(RULES)
    pairs = list(zip(lowered.instants_s.tolist(), lowered.values.tolist(), strict=True))
    assert pairs == lower_outliers(points, RULES)
    calm = Track(track.instants_s, np.full(len(track), 15.0), is_rising=True)
    assert calm.lowered(RULES) is calm


def test_a_series_told_in_any_order_is_the_same(monkeypatch: pytest.MonkeyPatch) -> None:
    made, log = told(3)
    draw = random.Random(1)  # noqa: S311 - a sample that stays the same
    mixed = []
    for entry in log:
        points = list(entry.points) if isinstance(entry, Series) else []
        draw.shuffle(points)
        mixed.append(replace(entry, points=points) if isinstance(entry, Series) else entry)
    for long in (NEVER, 1):
        monkeypatch.setattr(temperature_readings, "LONG", long)
        assert alike(climate_of(made, mixed).frost, climate_of(made, log).frost)
        assert alike(climate_of(made, mixed).measured, climate_of(made, log).measured)


# ---- lines -------------------------------------------------------------------------------------

HOURS = np.arange(6) * 3600.0
SWING = Polyline(HOURS, np.array([4.0, 1.0, -1.0, 1.0, -1.0, 3.0]))


def test_a_line_is_where_its_pieces_are() -> None:
    assert [SWING.at(hour * 3600.0) for hour in (0.0, 0.5, 2.0, 2.5, 5.0)] == [4, 2.5, -1, 0, 3]
    assert (SWING.lowest, SWING.highest) == (-1.0, 4.0)
    part = SWING.between(1800.0, 9000.0)
    assert isinstance(part, Polyline)
    assert part.values.tolist() == [2.5, 1.0, -1.0, 0.0]
    assert SWING.between(600.0, 1200.0) == Piece(600.0, 1200.0, 3.5, 3.0)
    assert SWING.between(0.0, 18000.0) is SWING
    assert SWING.shifted(1.0).values.tolist() == [5.0, 2.0, 0.0, 2.0, 0.0, 4.0]
    assert SWING.shifted(0.0) is SWING


def test_the_frosts_of_a_line_are_those_of_its_pieces() -> None:
    assert SWING.spans_at_or_below(0.0) == [(5400.0, 9000.0), (12600.0, 15300.0)]
    assert SWING.spans_at_or_below(1.0) == [(3600.0, 16200.0)]
    assert SWING.spans_at_or_below(9.0) == [(0.0, 18000.0)]
    assert SWING.spans_at_or_below(-2.0) == []
    held = Polyline(HOURS, np.zeros(6))
    assert held.spans_at_or_below(0.0) == [(0.0, 18000.0)]


def test_a_dip_tells_of_the_pieces_that_touch_a_stretch() -> None:
    assert SWING.find_dip(0.5, 0.0, 9000.0) == Dip(((3600.0, 10800.0),), -1.0, 7200.0)
    assert SWING.find_dip(0.5, 0.0, 3000.0) is None
    assert SWING.find_dip(-1.0, 0.0, 18000.0) is None
    whole = SWING.find_dip(4.0, 0.0, 18000.0)
    assert whole == Dip(((0.0, 18000.0),), -1.0, 14400.0)


def test_half_way_between_readings_far_apart_nothing_was_read() -> None:
    far = Polyline(np.array([0.0, 100.0, 1000.0]), np.zeros(3))
    assert far.spans_near(60.0) == [(0.0, 160.0), (940.0, 1000.0)]
    assert far.spans_near(450.0) == [(0.0, 1000.0)]


def test_no_line_runs_over_a_gap_or_an_instant_told_twice() -> None:
    instants_s = np.array([0.0, 60.0, 120.0, 120.0, 180.0, 400.0])
    lines = split_line(instants_s, np.arange(6.0), interval_s=60.0)
    assert [(line.start_s, line.end_s) for line in lines] == [(0.0, 120.0), (120.0, 180.0)]
    assert split_line(np.array([0.0]), np.array([1.0]), interval_s=60.0) == []


def test_the_worst_of_lines_is_cut_where_they_cross() -> None:
    rising = Piece(0.0, 18000.0, -2.0, 8.0)
    for worst in (min, max):
        (found,) = find_worst([SWING, rising], worst)
        for minute in range(301):
            wanted = worst(SWING.at(minute * 60.0), rising.at(minute * 60.0))
            assert found.at(minute * 60.0) == pytest.approx(wanted, abs=1e-9)


# ---- statements --------------------------------------------------------------------------------


def test_a_statement_is_contradicted_by_the_coldest_of_a_long_series(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    def air(hour: float, value_c: float | None) -> tuple[datetime, float | None, None]:
        return START + timedelta(hours=hour), value_c, None

    points = [air(0, 1.0), air(2, 12.0), air(3, 9.0), air(4, None), air(5, 9.0), air(9, 2.0)]
    series = Series(
        id="s", at=START, recorded=START, place=Place.AIR, device="a", interval_s=3600.0,
        points=points,
    )  # fmt: skip
    kept = Kept(
        id="k", at=NOW, recorded=NOW, above_c=10.0, from_at=START + timedelta(hours=1),
        to_at=START + timedelta(hours=6),
    )  # fmt: skip
    for long in (NEVER, 1):
        monkeypatch.setattr(temperature_readings, "LONG", long)
        assert find_contradiction(kept, (), (series,)) == (START + timedelta(hours=3), 9.0)
        assert find_contradiction(replace(kept, above_c=8.0), (), (series,)) is None


@pytest.mark.parametrize("read", [(None, 0.6), (25.0, None)])
def test_a_long_logger_in_two_parts_that_read_no_room_is_none(
    read: tuple[float | None, float | None],
) -> None:
    # The parts of one that has only humidities; those of one in the floor, after its heat was on.
    made, _ = told(1)
    on = START + DAY * 7
    parts = [
        Series(
            id=f"part {part}",
            at=NOW,
            recorded=NOW,
            by="Ada",
            place=Place.AIR if read[0] is None else Place.FLOOR,
            device="a",
            interval_s=300.0,
            points=[
                (on + DAY * 2 * part + timedelta(minutes=5 * step), *read) for step in range(576)
            ],
        )
        for part in range(2)
    ]
    assert sum(len(part.points) for part in parts) >= temperature_readings.LONG
    log: list[Entry] = [Energized(id="on", at=on, recorded=on, by="Ada"), *parts]
    # Whole hours of it: few enough to be read one by one.
    few = [replace(part, points=part.points[::12], interval_s=3600.0) for part in parts]
    assert climate_of(made, log).measured == climate_of(made, [log[0], *few]).measured
    found = [plan(made, entries, NOW).zones[0].layers for entries in (log, [log[0], *few])]
    assert alike(*found)
