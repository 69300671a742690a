"""Readings that are on record and cannot be read may hide a frost: the floor is not switched on."""

from __future__ import annotations

from planning_log import READY, a_job, fact, hold, released, state
from planning_samples import DAY, START, plan

from curecal.planning.plan import HoldState, State
from curecal.trade.site_log import Remark


def test_a_floor_whose_readings_are_lost_is_not_released() -> None:
    lost = fact(Remark, START + DAY, file="hall.csv", is_lost=True)
    for remark, is_released in ((lost, False), (fact(Remark, START + DAY, file="a.jpg"), True)):
        made = plan(a_job(), [*released(), remark], READY + DAY)
        assert (state(made) is State.RELEASED) is is_released
        assert made.may_energize is is_released
        cure = hold(made, "cure")
        assert (cure.state is HoldState.MET) is is_released
        assert cure.reason is not None
        assert (cure.reason.code == "cure-readings-lost") is not is_released
