"""Both ends of a window are one while they were measured to be, and no longer."""

from __future__ import annotations

import random
from datetime import datetime, timedelta

import pytest
from planning_samples import DAY, RULES, START, expected
from planning_samples import zone as make_zone

from curecal.planning.climate.zone_climate import Climate, End, make_climate
from curecal.planning.curing.clocks import Clocks
from curecal.planning.curing.rate_clock import RateClock
from curecal.planning.site_log.log_at_instant import facts_at
from curecal.science.age import KeptAges
from curecal.science.rate import CementRate, DryingRate, Rate
from curecal.trade.site_log import Place, Series

NOW = START + DAY * 9
CEMENT = CementRate(rated_c=21.0, minimum_c=5.0)
DRYING = DryingRate(rated_c=20.0, rated_rh=0.5, minimum_c=5.0, limit_rh=0.85)


def climate(seed: int, hours: int) -> Climate:
    """Hourly readings from the start on; what comes then is assumed."""
    draw = random.Random(seed)  # noqa: S311 - a sample that stays the same
    points = [
        (START + timedelta(hours=hour), draw.uniform(9.0, 23.0), draw.uniform(0.4, 0.8))
        for hour in range(hours + 1)
    ]
    series = Series(
        id="s",
        at=START,
        recorded=START,
        place=Place.SURFACE,
        device="d",
        interval_s=3600.0,
        points=points,
    )
    facts = facts_at([series], NOW, ())
    made = expected(18.0, coldest_c=10.0, humidity=0.5, dampest=0.8)
    return make_climate(make_zone(), made, facts, START, RULES)


@pytest.mark.parametrize("rate", [CEMENT, DRYING], ids=["cement", "drying"])
@pytest.mark.parametrize("seed", range(6))
def test_the_late_end_is_the_one_it_is_without_the_early_one(rate: Rate, seed: int) -> None:
    made = climate(seed, 120)
    both = Clocks(made, RULES).of(rate)
    same = 0
    for hours in range(1, 140):
        wait_s = hours * 3600.0 * 0.8
        early_at = both.reach(End.EARLIEST, START, wait_s)
        alone = Clocks(made, RULES).of(rate).reach(End.LATEST, START, wait_s)
        assert both.reach(End.LATEST, START, wait_s) == alone
        same += early_at == alone
    assert 30 < same < 139


def one_until(made: Climate) -> datetime:
    return made.instant(made.one_until_s)


def test_both_ends_are_one_until_the_last_reading() -> None:
    assert one_until(climate(0, 120)) == START + timedelta(hours=120)
    unread = facts_at([], NOW, ())
    two_ends = expected(18.0, coldest_c=10.0)
    nothing = make_climate(make_zone(), two_ends, unread, START, RULES)
    assert one_until(nothing) == START
    one_end = make_climate(make_zone(), expected(18.0), unread, START, RULES)
    assert one_until(one_end) > NOW + DAY * 1000


def test_an_end_that_is_not_common_is_summed_by_itself() -> None:
    made = climate(1, 120)
    never_one = RateClock(CEMENT, made, KeptAges(), START)
    clock = Clocks(made, RULES).of(CEMENT)
    for wait_s in (3600.0, 86400.0, 400_000.0):
        for end in (End.EARLIEST, End.LATEST):
            assert clock.reach(end, START, wait_s) == never_one.reach(end, START, wait_s)
