"""Plan, calendars, messages and machine output tell one day, whatever the job and its log.

Read from the outputs themselves: the crew's, the electrician's and the owner's calendar, the
messages to each of them, and `plan --json`.
"""

from __future__ import annotations

import os
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from typing import TYPE_CHECKING

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from planning_jobs import Case, cases, evidence
from planning_log import READY, a_job
from planning_log import evidence as on_record
from planning_log import floor as finished
from planning_samples import DAY, every_day, layer, plan, sheet, weekdays, zone
from planning_site import Site
from test_planning_life import always, bathroom, heated_screed, often_away, repair, steady
from told_days import assert_one_day, output

from curecal.trade.job import Role
from curecal.trade.site_log import Energized, Release

if TYPE_CHECKING:
    from collections.abc import Callable

    from curecal.trade.job import Job, Layer
    from curecal.trade.site_log import Entry

COMPLETE = os.environ.get("CURECAL_TESTS_COMPLETE") == "1"
_DRAWN = settings().max_examples
CASES = settings(max_examples={60: 100}.get(_DRAWN, _DRAWN))


@st.composite
def told_cases(draw: st.DrawFn) -> tuple[Case, tuple[Entry, ...]]:
    """Any job, with what was measured and what people wrote of it."""
    case = draw(cases())
    return case, (*case.log, *draw(evidence(case)))


@CASES
@given(told=told_cases(), by=st.sampled_from(Role), weekends=st.booleans())
def test_one_day_for_any_job_and_log(
    told: tuple[Case, tuple[Entry, ...]], by: Role, *, weekends: bool
) -> None:
    case, log = told
    [floor] = case.job.zones
    job = replace(case.job, zones=(replace(floor, energized_by=by),))
    day_off = weekdays if weekends else every_day
    assert_one_day(output(plan(job, log, case.as_of, day_off), log, day_off))


@pytest.mark.parametrize(
    ("made", "works"),
    [(bathroom, always), (bathroom, often_away), (heated_screed, always), (repair, often_away)],
)
@pytest.mark.parametrize("by", [Role.ELECTRICIAN, Role.OWNER])
def test_one_day_on_each_morning_of_a_job(
    made: Callable[[], Job], works: Callable[[date], bool], by: Role
) -> None:
    job = made()
    job = replace(job, zones=(replace(job.zones[0], energized_by=by),))
    states = set()
    for index, morning in enumerate(Site(job, weather=steady, works=works).mornings()):
        states.add(morning.floor.state)
        if COMPLETE or index % 6 == 0:
            assert_one_day(output(morning.told, morning.log, weekdays))
    assert len(states) > 4


@pytest.mark.parametrize("by", [Role.ELECTRICIAN, Role.OWNER, Role.CREW_LEAD])
@pytest.mark.parametrize("days", [-3, 0, 0.9, 1, 4, 12, 40])
@pytest.mark.parametrize("written", ["on record", "released", "on"])
def test_one_day_past_its_date_and_after_the_release(by: Role, days: float, written: str) -> None:
    log = on_record()
    released_at = READY + timedelta(hours=2)
    if written != "on record":
        log.append(Release(id="let-go", at=released_at, recorded=released_at, by="Lee"))
    if written == "on":
        on_at = released_at + DAY
        log.append(Energized(id="on", at=on_at, recorded=on_at, by="Lee"))
    made = plan(a_job(finished(energized_by=by)), log, READY + days * DAY, weekdays)
    assert_one_day(output(made, log, weekdays))


def mended(kind: str, done_at: datetime) -> Layer:
    """Return a repair layer whose heat waits seven days."""
    return layer(sheet(kind, heat_d=7.0), done_at, f"new {kind}", repair=True)


# Friday 4 December 2026, 15:00: seven days later it is Friday again, after the start of work.
LAID = datetime(2026, 12, 4, 15, tzinfo=UTC)


@pytest.mark.parametrize("later_days", [1, 6.9, 7, 8, 9, 10, 11, 20])
def test_one_day_of_repair_layers_on_nothing_that_exists(later_days: float) -> None:
    """No layer is called existing, so it is a new floor: an electrician comes, on a working day."""
    only = zone(mended("thinset", LAID), energized_by=Role.ELECTRICIAN)
    found = output(plan(a_job(only), (), LAID + later_days * DAY, weekdays), (), weekdays)
    assert_one_day(found)
    monday = date(2026, 12, 14)
    told = found.first_days()
    assert told.keys() >= {"crew's calendar", "electrician's calendar"}
    # Nobody is sent today to a floor that is not released.
    assert ("message visit-booked" in told) is (found.today < monday)
    assert set().union(*told.values()) == {monday}
    assert found.plan.zones[0].first_switched_on_by is Role.ELECTRICIAN
    expected = {monday} if found.today < monday else set()
    assert set().union(*found.owner_days().values()) == expected
    if found.today < monday:
        assert found.energize["start_on"] == found.energize["owner_date"] == monday.isoformat()
