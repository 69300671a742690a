"""Heat-up profiles: steps by day."""

from __future__ import annotations

from datetime import date

import pytest

from curecal.errors import OutsideValidity
from curecal.planning.first_heat.set_points import (
    bare_screed_profile,
    first_heat_profile,
    list_rising,
    set_on_days,
)
from curecal.planning.plan import RampStep


def bare(start_c: float, target_c: float = 29.0) -> list[tuple[float, int]]:
    return bare_screed_profile(
        start_c=start_c,
        middle_c=25.0,
        target_c=target_c,
        step_k=5.0,
        middle_days=3,
        target_days=4,
    )


@pytest.mark.parametrize(
    ("start_c", "target_c", "step_k", "expected"),
    [
        (20.0, 29.0, 5.0, [25.0, 29.0]),
        (20.0, 25.0, 5.0, [25.0]),
        (20.0, 30.0, 5.0, [25.0, 30.0]),
        # A float's hair adds no day.
        (0.1 + 0.2, 5.3, 5.0, [5.3]),
        (29.0, 29.0, 5.0, []),
        (31.0, 29.0, 5.0, []),
        (20.0, 27.0, 2.8, [22.8, 25.6, 27.0]),
    ],
)
def test_set_points_rise_a_step_a_day(
    start_c: float, target_c: float, step_k: float, expected: list[float]
) -> None:
    assert list_rising(start_c, target_c, step_k) == pytest.approx(expected, abs=1e-9)


@pytest.mark.parametrize("step_k", [0.0, -1.0, float("nan")])
def test_a_step_of_nothing_is_refused(step_k: float) -> None:
    with pytest.raises(OutsideValidity):
        list_rising(20.0, 29.0, step_k)


def test_from_20_to_29_in_steps_of_5_is_three_steps() -> None:
    made = first_heat_profile(start_c=20.0, target_c=29.0, step_k=5.0, hold_days=3)
    assert made == [(20.0, 1), (25.0, 1), (29.0, 3)]


def test_a_floor_that_is_warm_already_only_holds() -> None:
    made = first_heat_profile(start_c=30.0, target_c=29.0, step_k=5.0, hold_days=3)
    assert made == [(29.0, 3)]


def test_a_bare_screed_from_18_takes_eleven_days() -> None:
    made = bare(18.0)
    assert made == [(18.0, 1), (23.0, 1), (25.0, 3), (29.0, 4), (24.0, 1), (19.0, 1)]
    assert sum(days for _, days in made) == 11


def test_a_bare_screed_in_a_cold_house_takes_more_steps_both_ways() -> None:
    assert bare(10.0) == [
        (10.0, 1),
        (15.0, 1),
        (20.0, 1),
        (25.0, 3),
        (29.0, 4),
        (24.0, 1),
        (19.0, 1),
        (14.0, 1),
    ]


def test_a_bare_screed_warmer_than_the_first_hold_skips_the_steps_to_it() -> None:
    assert bare(26.0) == [(25.0, 3), (29.0, 4)]


def test_a_long_way_from_the_first_hold_to_the_highest_goes_in_steps() -> None:
    assert bare(20.0, 33.0) == [
        (20.0, 1),
        (25.0, 3),
        (30.0, 1),
        (33.0, 4),
        (28.0, 1),
        (23.0, 1),
    ]


def test_a_lower_limit_holds_for_both_holds_together() -> None:
    assert bare(18.0, 24.0) == [(18.0, 1), (23.0, 1), (24.0, 7), (19.0, 1)]


def test_steps_stand_on_local_days() -> None:
    steps, ends_on = set_on_days([(20.0, 1), (25.0, 1), (29.0, 3)], date(2027, 3, 1))
    assert steps == (
        RampStep(date(2027, 3, 1), 20.0, 1),
        RampStep(date(2027, 3, 2), 25.0, 1),
        RampStep(date(2027, 3, 3), 29.0, 3),
    )
    assert ends_on == date(2027, 3, 6)
