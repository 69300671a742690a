"""A kept answer is the one that planning gives, and what plans keep for the next changes none."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from unittest import mock

from hypothesis import given, settings
from hypothesis import strategies as st
from planning_jobs import Case, cases, evidence
from planning_log import a_job, floor
from planning_samples import RULES, START, every_day

from curecal.instants import end_of_day, local_day
from curecal.job_files import ReadJob
from curecal.overview.kept_answers import planned_answer
from curecal.planning.climate import temperature_readings
from curecal.planning.make_plan import make_plan
from curecal.science.age import KeptAges
from curecal.trade.site_log import Entry, Series

_DRAWN = settings().max_examples
CASES = settings(max_examples={10: 12, 60: 200}.get(_DRAWN, _DRAWN))


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


def known_at(log: Sequence[Entry], at: datetime) -> list[Entry]:
    """The log with every logger read until an instant, and handed in with its last reading."""
    found = []
    for entry in log:
        if isinstance(entry, Series):
            points = [point for point in entry.points if point[0] <= at]
            if points:
                last = points[-1][0]
                found.append(replace(entry, at=last, recorded=last, points=points))
        else:
            found.append(entry)
    return found


def read_anew(entry: Entry) -> Entry:
    """The same entry, nothing of which was made before."""
    if isinstance(entry, Series):
        return replace(entry, points=tuple(entry.points))
    return replace(entry)


@CASES
@given(
    told=st.lists(logged_cases(), min_size=1, max_size=2),
    hours=st.lists(st.integers(0, 24 * 40), min_size=2, max_size=5),
)
def test_what_plans_keep_for_one_another_changes_none_of_them(
    told: list[tuple[Case, tuple[Entry, ...]]], hours: list[int]
) -> None:
    kept = KeptAges()
    # Every logger in columns, however short: what is kept is of those.
    with mock.patch.object(temperature_readings, "LONG", 1):
        for hour in hours:
            for case, log in told:
                at = START + timedelta(hours=hour)
                for entries in (known_at(log, at), log):
                    made = make_plan(
                        case.job, entries, at, rules=RULES, day_off=every_day, kept=kept
                    )
                    alone = make_plan(
                        case.job,
                        [read_anew(entry) for entry in entries],
                        at,
                        rules=RULES,
                        day_off=every_day,
                    )
                    assert made == alone
