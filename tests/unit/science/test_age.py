"""Equivalent age: exact where nothing moves, cut where the rate jumps, and its inverse."""

from __future__ import annotations

import math
from collections.abc import Sequence
from itertools import pairwise

import pytest
from segment_samples import line

from curecal.errors import OutsideValidity
from curecal.science.age import Accumulator
from curecal.science.history import Segment
from curecal.science.rate import CementRate, DryingRate, Rate, UnfrozenRate

HOUR_S = 3_600.0
DAY_S = 86_400.0
EPOCH_S = 1_796_000_000.0  # origins of today's size must lose nothing
CEMENT = CementRate(rated_c=20.0, minimum_c=5.0)


def steady(temperature_c: float, days: float, start_s: float = 0.0) -> Segment:
    return line(start_s, start_s + days * DAY_S, temperature_c, temperature_c)


def equivalent_age(history: Sequence[Segment], rate: Rate) -> float:
    return Accumulator(history, rate).age()


def time_to_reach(history: Sequence[Segment], rate: Rate, age_s: float) -> float | None:
    return Accumulator(history, rate).time_to_reach(age_s)


def hourly(temperatures_c: list[float], start_s: float = 0.0) -> tuple[Segment, ...]:
    return tuple(
        line(start_s + index * HOUR_S, start_s + (index + 1) * HOUR_S, early_c, late_c)
        for index, (early_c, late_c) in enumerate(pairwise(temperatures_c))
    )


def test_28_days_at_the_rating_are_28_days_to_the_bit() -> None:
    assert time_to_reach([steady(20.0, 60.0)], CEMENT, 28.0 * DAY_S) == 28.0 * DAY_S
    history = [steady(20.0, 60.0, EPOCH_S)]
    assert time_to_reach(history, CEMENT, 28.0 * DAY_S) == EPOCH_S + 28.0 * DAY_S


def test_28_days_of_moving_readings_above_the_rating_are_28_days_to_the_bit() -> None:
    readings_c = [21.0 + (index * 7 % 11) / 3.0 for index in range(24 * 40)]
    history = hourly(readings_c, EPOCH_S)
    assert time_to_reach(history, CEMENT, 28.0 * DAY_S) == EPOCH_S + 28.0 * DAY_S
    inside = time_to_reach(history, CEMENT, 28.0 * DAY_S + 10.0)
    assert inside == EPOCH_S + 28.0 * DAY_S + 10.0


def test_28_days_at_66_f_take_29_58_days() -> None:
    reached_s = time_to_reach([steady((66.0 - 32.0) / 1.8, 60.0)], CEMENT, 28.0 * DAY_S)
    assert reached_s is not None
    assert reached_s / DAY_S == pytest.approx(29.58, abs=0.005)


def test_a_history_that_ends_too_early_reaches_nothing() -> None:
    assert time_to_reach([steady(20.0, 27.9)], CEMENT, 28.0 * DAY_S) is None
    assert time_to_reach([steady(4.9, 1000.0)], CEMENT, 1.0) is None
    assert time_to_reach([], CEMENT, 0.0) is None


def test_a_history_that_ends_just_then_reaches_it() -> None:
    assert time_to_reach([steady(20.0, 28.0)], CEMENT, 28.0 * DAY_S) == 28.0 * DAY_S


def test_no_age_is_reached_at_the_start() -> None:
    assert time_to_reach([steady(4.0, 1.0, 50.0)], CEMENT, 0.0) == 50.0


def test_at_the_minimum_exactly_time_counts() -> None:
    assert equivalent_age([steady(5.0, 1.0)], CEMENT) == pytest.approx(0.2925 * DAY_S, rel=1e-3)
    assert equivalent_age([steady(math.nextafter(5.0, 0.0), 1.0)], CEMENT) == 0.0


def test_a_fall_through_the_minimum_is_cut_there() -> None:
    flat = CementRate(rated_c=5.0, minimum_c=5.0)  # 1 from 5 °C on, 0 below: a bare switch
    assert equivalent_age([line(0.0, 1000.0, 10.0, 0.0)], flat) == pytest.approx(500.0, abs=1e-9)
    assert equivalent_age([line(0.0, 1000.0, 0.0, 20.0)], flat) == pytest.approx(750.0, abs=1e-9)


def test_warmth_of_an_afternoon_does_not_pay_for_the_night() -> None:
    history = hourly([20.0 + 10.0 * (-1) ** index for index in range(25)])
    by_mean = equivalent_age([steady(20.0, 1.0)], CEMENT)
    assert equivalent_age(history, CEMENT) < 0.9 * by_mean


def test_what_counted_waits_for_no_frost() -> None:
    # The age is full at the very end of the warm part; the night after must not be waited for.
    history = [steady(20.0, 28.0), steady(0.0, 5.0, 28.0 * DAY_S), steady(20.0, 5.0, 33.0 * DAY_S)]
    assert time_to_reach(history, CEMENT, 28.0 * DAY_S) == 28.0 * DAY_S
    later = time_to_reach(history, CEMENT, 28.0 * DAY_S + 1.0)
    assert later == pytest.approx(33.0 * DAY_S + 1.0, abs=1e-3)


def test_an_age_full_where_a_line_crosses_the_minimum_is_reached_there() -> None:
    flat = CementRate(rated_c=5.0, minimum_c=5.0)
    history = [line(0.0, 1000.0, 10.0, 0.0), steady(10.0, 1.0, 1000.0)]
    assert time_to_reach(history, flat, 500.0) == pytest.approx(500.0, abs=1e-6)
    assert time_to_reach(history, flat, 501.0) == pytest.approx(1001.0, abs=1e-3)


def test_an_age_within_a_hair_of_the_last_instant_is_reached_at_it() -> None:
    rising = [line(0.0, 1000.0, 8.0, 18.0)]
    full_s = equivalent_age(rising, CEMENT)
    assert time_to_reach(rising, CEMENT, full_s + 5e-7) == pytest.approx(1000.0, abs=1e-3)
    assert time_to_reach([steady(10.0, 1.0)], CEMENT, 0.4974 * DAY_S) is None


def test_an_accumulator_answers_in_any_order_alike() -> None:
    history = hourly([12.0 + 9.0 * math.sin(index / 3.8) for index in range(24 * 30)])
    ages_s = [days * DAY_S for days in (9.0, 1.0, 5.0, 9.0, 2.5)]
    shared = Accumulator(history, CEMENT)
    assert [shared.time_to_reach(age_s) for age_s in ages_s] == [
        time_to_reach(history, CEMENT, age_s) for age_s in ages_s
    ]


def test_the_age_until_an_instant_grows_with_it() -> None:
    history = hourly([0.0, 10.0, 25.0, 3.0])
    shared = Accumulator(history, CEMENT)
    ages_s = [shared.age(step * 600.0) for step in range(19)]
    assert ages_s == sorted(ages_s)
    assert ages_s[0] == 0.0
    assert ages_s[-1] == shared.age() == equivalent_age(history, CEMENT)
    assert shared.age(HOUR_S) == equivalent_age(history[:1], CEMENT)


def test_an_instant_outside_the_history_is_refused() -> None:
    shared = Accumulator([steady(20.0, 1.0)], CEMENT)
    for instant_s in (-1.0, DAY_S + 1.0, math.nan):
        with pytest.raises(OutsideValidity):
            shared.age(instant_s)
    with pytest.raises(OutsideValidity):
        Accumulator([], CEMENT).age(0.0)
    assert Accumulator([], CEMENT).age() == 0.0


def test_an_age_that_is_no_number_is_refused() -> None:
    for age_s in (-1.0, math.nan, math.inf):
        with pytest.raises(OutsideValidity):
            time_to_reach([steady(20.0, 1.0)], CEMENT, age_s)


def test_a_gap_is_refused() -> None:
    with pytest.raises(OutsideValidity):
        equivalent_age([steady(20.0, 1.0), steady(20.0, 1.0, DAY_S + 1.0)], CEMENT)


def test_drying_stops_while_the_humidity_is_over_the_limit() -> None:
    rate = DryingRate(rated_c=20.0, rated_rh=0.6, minimum_c=5.0, limit_rh=0.75)
    damp = Segment(start_s=0.0, end_s=400.0, start_c=30.0, end_c=30.0, start_rh=0.5, end_rh=0.9)
    # At 30 °C the rate is full until RH 0.75 is passed, at five eighths of the way... where the
    # deficit of the rating (20 °C, 0.6) is passed at RH 0.78, later than the limit.
    assert equivalent_age([damp], rate) == pytest.approx(250.0, abs=1e-6)


def test_frost_costs_its_own_length() -> None:
    rate = UnfrozenRate(CementRate(rated_c=0.0, minimum_c=-10.0))
    dip = [line(0.0, 100.0, 10.0, -10.0), line(100.0, 200.0, -10.0, 10.0)]
    assert equivalent_age(dip, rate) == pytest.approx(100.0, abs=1e-9)


def test_a_long_line_is_halved_until_it_is_exact() -> None:
    # 35 K in one segment; against the middle of every hundredth of a second.
    swing = line(0.0, 1000.0, -15.0, 20.0)
    cold = CementRate(rated_c=20.0, minimum_c=-15.0)
    steps = 100_000
    fine_s = sum(
        cold.at(temperature_c=-15.0 + 35.0 * (step + 0.5) / steps, humidity=0.5) / 100.0
        for step in range(steps)
    )
    assert equivalent_age([swing], cold) == pytest.approx(fine_s, rel=1e-8)


def test_the_instant_on_a_long_line_is_exact_too() -> None:
    swing = [line(0.0, 40.0 * DAY_S, 6.0, 19.0)]
    shared = Accumulator(swing, CEMENT)
    for days in (0.001, 1.0, 10.0, 20.0):
        reached_s = shared.time_to_reach(days * DAY_S)
        assert reached_s is not None
        assert shared.age(reached_s) == pytest.approx(days * DAY_S, abs=1e-5)
