"""A run's running sum is that of its segments one by one, and is found again only where it is."""

from __future__ import annotations

import math
import random
from collections.abc import Callable
from datetime import UTC, datetime
from itertools import accumulate

import numpy as np
import pytest

from curecal.errors import OutsideValidity
from curecal.instants import add, ceil_second
from curecal.science import segment_run
from curecal.science.age import MOST_ALIKE, Accumulator, KeptAges
from curecal.science.history import Segment
from curecal.science.rate import (
    CementRate,
    DryingRate,
    Rate,
    ReactionRate,
    TableRate,
    UnfrozenRate,
    UnhinderedRate,
)
from curecal.science.segment_run import SegmentRun

HOUR_S, DAY_S = 3_600.0, 86_400.0
CEMENT = CementRate(rated_c=21.0, minimum_c=5.0)
DRYING = DryingRate(rated_c=21.0, rated_rh=0.5, minimum_c=5.0, limit_rh=0.75)
TABLE = ((10.0, 96 * HOUR_S), (16.0, 48 * HOUR_S), (21.0, 24 * HOUR_S))
RATES: dict[str, Rate] = {
    "cement": CEMENT,
    "cement with a step": CementRate(rated_c=23.0, minimum_c=-5.0, doubling_k=8.0),
    "resin": ReactionRate(rated_c=20.0, minimum_c=10.0),
    "drying": DRYING,
    "damp drying": DryingRate(rated_c=20.0, rated_rh=0.65, minimum_c=-2.0, limit_rh=0.85),
    "table": TableRate(points=TABLE, law=CEMENT),
    "table of drying": TableRate(points=TABLE, law=DRYING),
    "table of one row": TableRate(points=TABLE[-1:], law=CEMENT),
    "never frozen": UnfrozenRate(CementRate(rated_c=20.0, minimum_c=-10.0)),
    "never frozen table": UnfrozenRate(TableRate(points=TABLE, law=CEMENT)),
    "unhindered": UnhinderedRate(),
}


class SlowerInDamp:
    """A rate of somebody else's, known by its looks at single instants only."""

    breaks_c = (5.0,)
    breaks_rh = (0.5,)

    def at(self, *, temperature_c: float, humidity: float) -> float:
        return (1.0 if temperature_c >= 5.0 else 0.5) * (1.0 if humidity < 0.5 else 0.25)

    def bends(self, _segment: Segment, /) -> tuple[float, ...]:
        return ()


def readings(seed: int, count: int, start_s: float = 0.0) -> SegmentRun:
    """A room over some days: swings, noise, frost, damp, and stretches where nothing moves."""
    draw = random.Random(seed)  # noqa: S311 - a sample that stays the same
    instants_s, at_s = [], start_s
    mean_c, swing_c = draw.choice([2.0, 12.0, 20.0]), draw.choice([0.0, 3.0, 15.0])
    values_c: list[float] = []
    values_rh: list[float] = []
    for number in range(count + 1):
        instants_s.append(at_s)
        at_s += draw.choice([60.0, HOUR_S, 3 * HOUR_S + 0.5])
        still = bool(values_c) and draw.random() < 0.2
        noise_c = draw.choice([0.0, draw.gauss(0.0, 1.0)])
        values_c.append(
            values_c[-1] if still else mean_c + swing_c * math.sin(number / 4) + noise_c
        )
        values_rh.append(
            values_rh[-1] if still else min(1.0, max(0.0, 0.6 + draw.gauss(0.0, 0.15)))
        )
    return SegmentRun(
        instants_s=np.array(instants_s),
        temperatures_c=np.array(values_c),
        humidities=np.array(values_rh),
    )


def one_by_one(run: SegmentRun) -> tuple[Segment, ...]:
    return tuple(run.segment(index) for index in range(len(run)))


def first_of(run: SegmentRun, count: int) -> SegmentRun:
    """Return the beginning of a run, read anew."""
    return SegmentRun(
        instants_s=run.instants_s[: count + 1].copy(),
        temperatures_c=run.temperatures_c[: count + 1].copy(),
        humidities=run.humidities[: count + 1].copy(),
    )


# ---- against the direct integration of every segment -------------------------------------------


@pytest.mark.parametrize("rate", RATES.values(), ids=RATES)
@pytest.mark.parametrize("seed", range(12))
def test_the_sums_of_a_run_are_those_of_its_segments(rate: Rate, seed: int) -> None:
    run = readings(seed, 150)
    direct = Accumulator(one_by_one(run), rate)
    wanted = [direct.age(segment.end_s) for segment in one_by_one(run)]
    assert run.under(rate).sums_s[1:] == pytest.approx(wanted, rel=1e-12, abs=1e-6)


@pytest.mark.parametrize("rate", RATES.values(), ids=RATES)
@pytest.mark.parametrize("seed", range(12))
def test_a_date_rounds_as_it_did_segment_by_segment(rate: Rate, seed: int) -> None:
    run = readings(100 + seed, 150)
    direct, joined = Accumulator(one_by_one(run), rate), Accumulator([run], rate)
    full_s = direct.age()
    origin = datetime(2026, 11, 5, 8, 30, tzinfo=UTC)
    for part in range(1, 40):
        by_segment = direct.time_to_reach(full_s * part / 40)
        by_run = joined.time_to_reach(full_s * part / 40)
        assert by_segment is not None
        assert by_run == pytest.approx(by_segment, abs=1e-6)
        assert ceil_second(add(origin, by_run)) == ceil_second(add(origin, by_segment))
        between_s = run.start_s + (run.end_s - run.start_s) * part / 40
        assert joined.age(between_s) == pytest.approx(direct.age(between_s), rel=1e-12, abs=1e-6)


def test_a_run_between_segments_is_one_history() -> None:
    run = readings(7, 90, DAY_S)
    before = Segment(start_s=0.0, end_s=DAY_S, start_c=18.0, end_c=12.0, start_rh=0.5, end_rh=0.6)
    after = Segment(
        start_s=run.end_s,
        end_s=run.end_s + 90 * DAY_S,
        start_c=15.0,
        end_c=15.0,
        start_rh=0.5,
        end_rh=0.5,
    )
    direct = Accumulator([before, *one_by_one(run), after], DRYING)
    joined = Accumulator([before, run, after], DRYING)
    for part in range(1, 30):
        age_s = direct.age() * part / 30
        assert joined.time_to_reach(age_s) == pytest.approx(direct.time_to_reach(age_s), abs=1e-6)
    assert joined.age(run.end_s) == pytest.approx(direct.age(run.end_s), abs=1e-6)


def test_28_days_above_the_rating_are_28_days_to_the_bit() -> None:
    hours = np.arange(24 * 40 + 1)
    run = SegmentRun(
        instants_s=hours * HOUR_S,
        temperatures_c=22.0 + hours % 7 / 3.0,
        humidities=np.full(len(hours), 0.5),
    )
    assert Accumulator([run], CEMENT).time_to_reach(28.0 * DAY_S) == 28.0 * DAY_S
    assert run.under(CEMENT).time_to_reach(0.0) == 0.0


def test_a_rate_nobody_wrote_for_columns_is_asked_one_by_one() -> None:
    run = readings(3, 60)
    wanted = accumulate(Accumulator([part], SlowerInDamp()).age() for part in one_by_one(run))
    assert run.under(SlowerInDamp()).sums_s[1:] == pytest.approx(list(wanted), abs=1e-6)


def test_a_swing_of_many_kelvin_is_halved_until_it_is_exact() -> None:
    run = SegmentRun(
        instants_s=np.array([0.0, 1000.0]),
        temperatures_c=np.array([-15.0, 20.0]),
        humidities=np.array([0.5, 0.5]),
    )
    cold = CementRate(rated_c=20.0, minimum_c=-15.0)
    steps = 100_000
    fine_s = sum(
        cold.at(temperature_c=-15.0 + 35.0 * (step + 0.5) / steps, humidity=0.5) / 100.0
        for step in range(steps)
    )
    assert run.under(cold).total_s == pytest.approx(fine_s, rel=1e-8)


@pytest.mark.parametrize("rate", [DRYING, *RATES.values()])
def test_what_a_reading_adds_is_the_same_however_many_others_there_are(rate: Rate) -> None:
    for seed in range(20):
        whole = readings(300 + seed, 60)
        sums_s = list(whole.under(rate).sums_s)
        for count in (1, 2, 7, 30, 59):
            assert list(first_of(whole, count).under(rate).sums_s) == sums_s[: count + 1]


# ---- what is refused ---------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("column", "value"),
    [
        ("instants_s", math.nan), ("instants_s", 0.0), ("instants_s", 2e12),
        ("temperatures_c", math.nan), ("temperatures_c", 200.0), ("temperatures_c", -80.0),
        ("humidities", math.nan), ("humidities", 1.1), ("humidities", -0.1),
    ],
)  # fmt: skip
def test_what_no_segment_takes_no_run_takes(column: str, value: float) -> None:
    columns = {
        "instants_s": np.arange(6) * HOUR_S,
        "temperatures_c": np.full(6, 20.0),
        "humidities": np.full(6, 0.5),
    }
    columns[column][5] = value
    with pytest.raises(OutsideValidity):
        SegmentRun(**columns)


# ---- sums that are kept ------------------------------------------------------------------------


@pytest.fixture
def integrated(monkeypatch: pytest.MonkeyPatch) -> list[int]:
    """How many segments each call integrated."""
    counts: list[int] = []
    ages_of: Callable[..., object] = segment_run.ages_of

    def counted(rate: Rate, instants_s: np.ndarray, *columns: np.ndarray) -> object:
        counts.append(len(instants_s) - 1)
        return ages_of(rate, instants_s, *columns)

    monkeypatch.setattr(segment_run, "ages_of", counted)
    return counts


@pytest.mark.parametrize("rate", [CEMENT, DRYING])
def test_a_further_reading_costs_its_own_segment(rate: Rate, integrated: list[int]) -> None:
    whole, kept = readings(1, 200), KeptAges()
    before_s = kept.of(first_of(whole, 199), rate).total_s
    after = kept.of(whole, rate)
    assert after.total_s >= before_s
    again = kept.of(first_of(whole, 200), rate)
    assert integrated == [199, 1]
    assert again is after
    assert list(after.sums_s) == list(whole.under(rate).sums_s)  # to the last bit
    assert kept.count == 200


def test_what_was_known_earlier_is_a_part_of_what_is_known_now(integrated: list[int]) -> None:
    whole, kept = readings(2, 120), KeptAges()
    sums_s = kept.of(whole, CEMENT).sums_s
    assert list(kept.of(first_of(whole, 50), CEMENT).sums_s) == list(sums_s[:51])
    assert integrated == [120]
    assert kept.count == 120


@pytest.mark.parametrize("rate", [CEMENT, DRYING])
def test_a_further_reading_costs_nothing_where_all_is_over(
    rate: Rate, integrated: list[int]
) -> None:
    whole, kept = readings(6, 200), KeptAges()
    known = Accumulator([first_of(whole, 150)], rate, kept)
    ages_s = [known.age() * part / 20 for part in range(1, 21)]
    asked = [known.time_to_reach(age_s) for age_s in ages_s]
    later = Accumulator([whole], rate, kept)
    # Other ages than those asked before, so that none of them is remembered.
    between_s = [age_s - 7.0 for age_s in ages_s]
    assert [later.time_to_reach(age_s) for age_s in ages_s] == asked
    reached = [later.time_to_reach(age_s) for age_s in between_s]
    inside_s = [whole.start_s + part * 7001.0 for part in range(1, 20)]
    ages_inside_s = [later.age(at_s) for at_s in inside_s]
    assert integrated == [150]
    # All of it to the last bit as without what was kept, and what is not over yet, too.
    alone = Accumulator([whole], rate)
    assert reached == [alone.time_to_reach(age_s) for age_s in between_s]
    assert ages_inside_s == [alone.age(at_s) for at_s in inside_s]
    beyond_s = (known.age() + alone.age()) / 2.0
    assert later.time_to_reach(beyond_s) == alone.time_to_reach(beyond_s)
    assert later.age() == alone.age()
    assert integrated == [150, 200, 50]


def test_a_corrected_reading_is_not_answered_with_the_sums_before_it(
    integrated: list[int],
) -> None:
    whole, kept = readings(4, 120), KeptAges()
    assert kept.of(whole, CEMENT).total_s > 0.0
    changed = first_of(whole, 120)
    changed.temperatures_c[80] += 3.0
    assert list(kept.of(changed, CEMENT).sums_s) == list(changed.under(CEMENT).sums_s)
    assert integrated == [120, 41, 120]


def test_humidity_counts_only_where_the_rate_depends_on_it(integrated: list[int]) -> None:
    whole, kept = readings(5, 80), KeptAges()
    damp = first_of(whole, 80)
    damp.humidities[:] = 0.7
    for rate in (CEMENT, DRYING):
        assert kept.of(whole, rate).total_s > 0.0
        assert list(kept.of(damp, rate).sums_s) == list(damp.under(rate).sums_s)
    # Cement: once, and once more by the test itself; drying: each, and once more.
    assert integrated == [80, 80, 80, 80, 80]


def test_what_is_kept_is_bounded() -> None:
    asked = readings(3, 40).under(CEMENT)
    for step in range(2 * segment_run.MOST_ANSWERS):
        age_s = asked.total_s * (step + 1) / (2 * segment_run.MOST_ANSWERS)
        assert asked.time_to_reach(age_s) == asked.run.under(CEMENT).time_to_reach(age_s)
    assert len(asked.instants_s) <= segment_run.MOST_ANSWERS
    kept = KeptAges(most=100)
    for seed in range(20):
        kept.of(readings(seed, 30), CEMENT)
        assert kept.count <= 100
    whole = readings(9, 60)
    many = KeptAges()
    for place in range(1, 20):
        changed = first_of(whole, 60)
        changed.temperatures_c[place] += 0.5
        many.of(changed, CEMENT)
    assert many.count <= 60 * MOST_ALIKE
    assert len(KeptAges(most=10).of(whole, CEMENT)) == 60
