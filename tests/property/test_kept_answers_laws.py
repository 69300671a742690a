"""A kept answer is the one that planning gives, at any instant for which it is kept."""

from __future__ import annotations

import os
from datetime import UTC, timedelta

from hypothesis import given, settings
from hypothesis import strategies as st
from planning_jobs import Case, cases, evidence
from planning_log import a_job, floor
from planning_samples import RULES, START

from curecal.instants import end_of_day, local_day
from curecal.job_files import ReadJob
from curecal.overview.kept_answers import planned_answer
from curecal.trade.site_log import Entry

COMPLETE = os.environ.get("CURECAL_TESTS_COMPLETE") == "1"
CASES = settings(max_examples=200 if COMPLETE else 12)


@st.composite
def logged_cases(draw: st.DrawFn) -> tuple[Case, tuple[Entry, ...]]:
    """Any job, with what was measured and what people wrote of it."""
    case = draw(cases())
    return case, (*case.log, *draw(evidence(case)))


@CASES
@given(
    told=logged_cases(),
    minutes=st.integers(0, 24 * 60),
    shares=st.lists(st.floats(0.0, 1.0, exclude_max=True), min_size=3, max_size=3),
)
def test_planning_before_the_next_change_gives_the_kept_answer(
    told: tuple[Case, tuple[Entry, ...]], minutes: int, shares: list[float]
) -> None:
    case, log = told
    read = ReadJob(case.job, log, (), {})
    now = case.as_of + timedelta(minutes=minutes)
    answer, days, until = planned_answer(read, now, RULES)
    assert now <= until <= end_of_day(local_day(now, case.job.tz), case.job.tz)
    for share in (*shares, 1.0):
        at = min(now + (until - now) * share, until - timedelta.resolution)
        if now <= at:
            assert planned_answer(read, at, RULES)[:2] == (answer, days), at - now


def test_most_answers_of_a_quiet_day_hold_to_its_end() -> None:
    # All layers laid, none of them due: no hour of the day changes what is said of it.
    read = ReadJob(a_job(floor()), (), (), {})
    at = START + timedelta(days=5, hours=-7)
    answer, _, until = planned_answer(read, at, RULES)
    assert answer.state == "curing"
    assert until == end_of_day(local_day(at, UTC), UTC)
