"""Until when an answer holds: stretch by stretch to the end of the day, or as far as it is seen."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime, timedelta
from typing import TYPE_CHECKING

import pytest
from planning_log import READY, a_job, fact, floor
from planning_samples import ADA, DAY, RULES, START, every_day

from curecal.overview.next_change import holds_until
from curecal.planning.make_plan import make_plan
from curecal.planning.working_time.working_calendar import Calendar
from curecal.trade.site_log import Cause, Entry, Stopped

if TYPE_CHECKING:
    from collections.abc import Callable

    from curecal.trade.job import Job

HOUR = timedelta(hours=1)
AT = datetime(2027, 3, 6, 5, tzinfo=UTC)
MIDNIGHT = datetime(2027, 3, 7, tzinfo=UTC)


def until(same: Callable[[datetime], bool], *log: Entry, job: Job | None = None) -> datetime:
    job = job or a_job(floor())
    plan = make_plan(job, log, AT, rules=RULES, day_off=every_day)
    calendar = Calendar(job.work, job.tz, every_day)
    return holds_until(plan, log, calendar=calendar, is_same_at=same)


def test_what_is_always_the_same_holds_to_the_end_of_the_day() -> None:
    assert until(lambda _: True) == MIDNIGHT


@pytest.mark.parametrize("hour", [8, 17])
def test_a_change_at_an_hour_of_work_ends_it_there(hour: int) -> None:
    changes_at = AT.replace(hour=hour)
    assert until(lambda at: at < changes_at) == changes_at


def test_a_change_within_a_stretch_is_closed_in_from_before() -> None:
    changes_at = AT.replace(hour=15, minute=20)
    found = until(lambda at: at < changes_at)
    assert AT.replace(hour=8) < found < changes_at


def test_what_moves_at_once_is_not_kept() -> None:
    assert until(lambda at: at == AT) == AT


def test_an_entry_of_later_today_ends_a_stretch() -> None:
    later = fact(Stopped, AT.replace(hour=13), cause=Cause.CRACK)
    assert until(lambda at: at < later.at, later) == later.at


def test_a_person_who_leaves_ends_a_stretch() -> None:
    left_at = AT.replace(hour=14)
    job = replace(a_job(floor()), people=(replace(ADA, until_at=left_at),))
    assert until(lambda at: at < left_at, job=job) == left_at


def test_what_falls_due_in_the_plan_ends_a_stretch() -> None:
    # The late end of the floor, noon of the day: all its clocks are out from then on.
    job = a_job(floor())
    plan = make_plan(job, (), READY - HOUR * 2, rules=RULES, day_off=every_day)
    window = plan.zones[0].energize.window
    assert window is not None
    calendar = Calendar(job.work, job.tz, every_day)
    found = holds_until(plan, (), calendar=calendar, is_same_at=lambda at: at < window.earliest)
    assert found == window.earliest == READY
    assert READY == START + DAY * 7


def test_what_changes_and_comes_back_at_an_entry_ends_there() -> None:
    # A stop at nine that is lifted at ten: the same at midnight, and not between.
    stop = fact(Stopped, AT.replace(hour=9), cause=Cause.CRACK)
    assert until(lambda at: not 9 <= at.hour < 10, stop) == stop.at


def test_a_change_after_all_that_is_due_is_closed_in_from_the_last_of_it() -> None:
    changes_at = AT.replace(hour=23, minute=50)
    assert AT.replace(hour=17) < until(lambda at: at < changes_at) < changes_at


def test_no_more_plans_are_made_than_the_answer_is_worth() -> None:
    asked: list[datetime] = []

    def same(at: datetime) -> bool:
        asked.append(at)
        return at.hour < 23

    assert until(same) <= AT.replace(hour=23)
    assert len(asked) <= 1 + 2 * 6 + 4
