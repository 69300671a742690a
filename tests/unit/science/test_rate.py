"""Rates: cut off at 1 above the rating, at 0 below the minimum, and jumping where they say."""

from __future__ import annotations

import math
from collections.abc import Callable

import pytest

from curecal.errors import OutsideValidity
from curecal.science.history import Segment
from curecal.science.rate import (
    CementRate,
    DryingRate,
    Rate,
    ReactionRate,
    TableRate,
    UnfrozenRate,
)

HOUR_S = 3_600.0
CEMENT = CementRate(rated_c=20.0, minimum_c=5.0)
EPOXY = ReactionRate(rated_c=24.0, minimum_c=15.5)
SCREED = DryingRate(rated_c=20.0, rated_rh=0.65, minimum_c=5.0, limit_rh=0.75)
TABLE = TableRate(
    points=((10.0, 48 * HOUR_S), (16.0, 36 * HOUR_S), (21.0, 24 * HOUR_S)),
    law=CementRate(rated_c=21.0, minimum_c=5.0),
)
EVERY: dict[str, Rate] = {
    "cement": CEMENT,
    "cement with a doubling step": CementRate(rated_c=23.0, minimum_c=5.0, doubling_k=10.0),
    "reaction": EPOXY,
    "drying": SCREED,
    "table": TABLE,
    "unfrozen": UnfrozenRate(CementRate(rated_c=20.0, minimum_c=-5.0)),
}


def at(rate: Rate, temperature_c: float, humidity: float = 0.5) -> float:
    return rate.at(temperature_c=temperature_c, humidity=humidity)


def line(*, start_c: float, end_c: float, start_rh: float = 0.5, end_rh: float = 0.5) -> Segment:
    return Segment(
        start_s=0.0,
        end_s=HOUR_S,
        start_c=start_c,
        end_c=end_c,
        start_rh=start_rh,
        end_rh=end_rh,
    )


@pytest.mark.parametrize("name", EVERY)
def test_a_rate_is_between_nothing_and_all(name: str) -> None:
    for tenth_c in range(-300, 600, 7):
        for percent in (0, 40, 74, 75, 99, 100):
            assert 0.0 <= at(EVERY[name], tenth_c / 10.0, percent / 100.0) <= 1.0


@pytest.mark.parametrize("name", EVERY)
def test_colder_and_damper_is_never_faster(name: str) -> None:
    rate = EVERY[name]
    temperatures_c = [tenth / 10.0 for tenth in range(-300, 600, 3)]
    for humidity in (0.3, 0.6, 0.74):
        rates = [at(rate, temperature_c, humidity) for temperature_c in temperatures_c]
        assert rates == sorted(rates)
    for temperature_c in (3.0, 5.0, 12.0, 19.0, 30.0):
        damper = [at(rate, temperature_c, percent / 100.0) for percent in range(101)]
        assert damper == sorted(damper, reverse=True)


@pytest.mark.parametrize("name", EVERY)
def test_nothing_counts_where_the_temperature_is_no_number(name: str) -> None:
    assert at(EVERY[name], math.nan) == 0.0


def test_drying_counts_nothing_where_the_humidity_is_no_number() -> None:
    assert at(SCREED, 20.0, math.nan) == 0.0


def test_at_the_minimum_there_is_credit_and_strictly_below_none() -> None:
    assert at(CEMENT, 5.0) > 0.29
    assert at(CEMENT, math.nextafter(5.0, 0.0)) == 0.0
    assert at(EPOXY, 15.5) == pytest.approx(2**-0.85)
    assert at(EPOXY, 15.49) == 0.0
    assert at(SCREED, 5.0) > 0.0
    assert at(SCREED, 4.99) == 0.0


def test_above_the_rating_an_hour_is_an_hour() -> None:
    assert at(CEMENT, 20.0) == at(CEMENT, 99.0) == 1.0
    assert at(EPOXY, 24.0) == at(EPOXY, 40.0) == 1.0
    assert at(SCREED, 40.0) == 1.0
    assert at(TABLE, 21.0) == at(TABLE, 35.0) == 1.0


def test_the_lesser_of_law_and_doubling_step_counts() -> None:
    law = CementRate(rated_c=20.0, minimum_c=0.0)
    step = CementRate(rated_c=20.0, minimum_c=0.0, doubling_k=10.0)
    assert at(step, 15.0) == pytest.approx(2**-0.5)
    assert at(step, 15.0) < at(law, 15.0)
    assert at(step, 5.0) == at(law, 5.0) < 2**-1.5


def test_where_law_and_doubling_step_change_places_is_a_break() -> None:
    step = CementRate(rated_c=20.0, minimum_c=0.0, doubling_k=10.0)
    changes_c = sorted(set(step.breaks_c) - {0.0, 20.0})
    assert changes_c[0] == pytest.approx(10.22296, abs=1e-4)
    assert set(CEMENT.breaks_c) == {0.0, 5.0, 20.0}


def test_damp_air_dries_nothing_from_the_limit_on() -> None:
    assert at(SCREED, 20.0, 0.7499) > 0.0
    assert at(SCREED, 20.0, 0.75) == 0.0


def test_drying_never_counts_below_freezing() -> None:
    cold = DryingRate(rated_c=20.0, rated_rh=0.5, minimum_c=-5.0, limit_rh=0.75)
    assert at(cold, -0.01) == 0.0
    assert at(cold, 0.0) > 0.0


def test_55_mm_of_calcium_sulfate_at_17_c_and_62_percent() -> None:
    assert 70.0 / at(SCREED, 17.0, 0.62) == pytest.approx(77.8, abs=0.05)


def test_a_table_is_interpolated_as_a_rate() -> None:
    assert at(TABLE, 10.0) == 0.5
    assert at(TABLE, 16.0) == pytest.approx(24 / 36)
    assert at(TABLE, 13.0) == pytest.approx((0.5 + 24 / 36) / 2)
    assert TABLE.rated_wait_s == 24 * HOUR_S
    assert TABLE.rated_c == 21.0


def test_below_a_table_the_slower_of_its_end_and_the_law_counts() -> None:
    assert at(TABLE, 9.9) == at(TABLE.law, 9.9) < 0.5
    slow = TableRate(points=((10.0, 96 * HOUR_S), (21.0, 24 * HOUR_S)), law=TABLE.law)
    assert at(slow, 9.9) == 0.25 < at(TABLE.law, 9.9)


def test_a_table_gives_nothing_where_its_law_gives_nothing() -> None:
    assert at(TABLE, 4.9) == 0.0
    warm_law = TableRate(points=TABLE.points, law=CementRate(rated_c=21.0, minimum_c=12.0))
    assert at(warm_law, 11.0) == 0.0
    damp = TableRate(
        points=((10.0, 2.0), (20.0, 1.0)),
        law=DryingRate(rated_c=20.0, rated_rh=0.5, minimum_c=5.0, limit_rh=0.75),
    )
    assert (at(damp, 15.0, 0.8), at(damp, 15.0, 0.74)) == (0.0, 0.75)
    assert damp.breaks_rh == (0.75,)


def test_a_table_names_where_the_law_passes_its_cold_end() -> None:
    slow = TableRate(points=((10.0, 96 * HOUR_S), (21.0, 24 * HOUR_S)), law=TABLE.law)
    (bend,) = slow.bends(line(start_c=0.0, end_c=10.0))
    # The law's own cut at 5 °C comes first here: it leaps from 0 past the table's 0.25.
    assert 10.0 * bend == pytest.approx(5.0, abs=1e-6)
    assert slow.bends(line(start_c=12.0, end_c=18.0)) == ()


def test_unfrozen_gives_nothing_at_zero_and_the_inner_rate_above() -> None:
    rate = UnfrozenRate(CementRate(rated_c=20.0, minimum_c=-5.0))
    assert at(rate, 0.0) == 0.0
    assert at(rate, 0.1) == at(rate.inner, 0.1) > 0.0
    assert set(rate.breaks_c) == {-5.0, 0.0, 20.0}
    assert rate.breaks_rh == ()
    assert rate.bends(line(start_c=1.0, end_c=30.0)) == ()
    assert EPOXY.bends(line(start_c=1.0, end_c=30.0)) == ()
    screed = UnfrozenRate(SCREED)
    path = line(start_c=10.0, end_c=30.0)
    assert screed.bends(path) == SCREED.bends(path) != ()


def test_drying_bends_where_the_deficit_passes_the_rated_one() -> None:
    path = line(start_c=10.0, end_c=30.0, start_rh=0.65, end_rh=0.65)
    (bend,) = SCREED.bends(path)
    assert 10.0 + 20.0 * bend == pytest.approx(20.0, abs=1e-9)


def test_drying_may_bend_twice_when_it_grows_warmer_and_damper() -> None:
    rate = DryingRate(rated_c=20.0, rated_rh=0.5, minimum_c=5.0, limit_rh=1.0)
    path = line(start_c=10.0, end_c=40.0, start_rh=0.2, end_rh=0.99)
    assert len(rate.bends(path)) == 2


def test_drying_does_not_bend_far_from_its_rating() -> None:
    assert SCREED.bends(line(start_c=6.0, end_c=9.0)) == ()
    assert SCREED.bends(line(start_c=30.0, end_c=40.0)) == ()
    assert SCREED.bends(line(start_c=-30.0, end_c=-40.0)) == ()


REFUSED: dict[str, tuple[str, Callable[[], object]]] = {
    "rating below the minimum": (
        "outside-validity",
        lambda: CementRate(rated_c=4.0, minimum_c=5.0),
    ),
    "minimum NaN": ("outside-validity", lambda: CementRate(rated_c=20.0, minimum_c=math.nan)),
    "rating in fahrenheit": ("outside-validity", lambda: ReactionRate(rated_c=70.0, minimum_c=5.0)),
    "doubling step NaN": (
        "outside-validity",
        lambda: CementRate(rated_c=20.0, minimum_c=5.0, doubling_k=math.nan),
    ),
    "drying rated in saturated air": (
        "outside-validity",
        lambda: DryingRate(rated_c=20.0, rated_rh=1.0, minimum_c=5.0, limit_rh=0.75),
    ),
    "drying rated at freezing": (
        "outside-validity",
        lambda: DryingRate(rated_c=0.0, rated_rh=0.5, minimum_c=-5.0, limit_rh=0.75),
    ),
    "drying limit in percent": (
        "outside-validity",
        lambda: DryingRate(rated_c=20.0, rated_rh=0.5, minimum_c=5.0, limit_rh=75.0),
    ),
    "table of nothing": ("wait-table-empty", lambda: TableRate(points=(), law=CEMENT)),
    "table with a wait of nothing": (
        "outside-validity",
        lambda: TableRate(points=((20.0, 0.0),), law=CEMENT),
    ),
    "table where colder is sooner": (
        "wait-table-not-falling",
        lambda: TableRate(points=((10.0, 1.0), (20.0, 2.0)), law=CEMENT),
    ),
    "table out of order": (
        "wait-table-not-falling",
        lambda: TableRate(points=((20.0, 2.0), (10.0, 1.0)), law=CEMENT),
    ),
    "table under a law rated warmer": (
        "wait-table-law-rated-elsewhere",
        lambda: TableRate(points=((10.0, 2.0), (18.0, 1.0)), law=CEMENT),
    ),
}


@pytest.mark.parametrize("name", REFUSED)
def test_what_is_no_rating_is_refused(name: str) -> None:
    code, make = REFUSED[name]
    with pytest.raises(OutsideValidity) as refusal:
        make()
    assert refusal.value.code == code
