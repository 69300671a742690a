"""The answer now: a released floor stays off until the first hour of its first heat."""

from __future__ import annotations

from planning_log import HOUR, READY, a_job, fact, released, state
from planning_samples import DAY, plan

from curecal.instants import add
from curecal.planning.plan import State
from curecal.trade.site_log import Energized


def test_a_released_floor_may_be_on_from_its_first_hour() -> None:
    log = released()
    first = plan(a_job(), log, READY + HOUR)
    start_on = first.zones[0].energize.start_on
    assert start_on is not None
    opens = first.as_of.replace(
        year=start_on.year, month=start_on.month, day=start_on.day, hour=8, minute=0, second=0
    )
    assert opens > first.as_of
    assert state(first) is State.RELEASED
    assert first.zones[0].is_released
    assert not first.zones[0].may_energize
    assert not plan(a_job(), log, add(opens, -1.0)).may_energize
    assert plan(a_job(), log, opens).may_energize


def test_a_floor_that_runs_after_its_release_may_be_on() -> None:
    log = [*released(), fact(Energized, READY + HOUR * 2)]
    made = plan(a_job(), log, READY + HOUR * 2)
    assert state(made) is State.HEATING_UP
    assert made.may_energize


def test_a_floor_that_is_not_released_may_not_be_on() -> None:
    made = plan(a_job(), (), READY + DAY)
    assert not made.is_released
    assert not made.may_energize
