"""Work that nobody fixed an hour for is shown by the day, so that it does not move by the hour."""

from __future__ import annotations

from collections import Counter
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from planning_samples import RULES, job, layer, sheet, weekdays, zone
from planning_site import CLIMATE

from curecal.calendars import Event, EventKey, Timed, feeds
from curecal.calendars.stable_dates.unfixed_work import opening
from curecal.job_files import load_rules, read_job
from curecal.job_files.days_off import day_off_for
from curecal.planning.make_plan import make_plan
from curecal.planning.working_time.working_calendar import Calendar
from curecal.trade.job import Job, Work

ROOT = Path(__file__).parents[4]
MONDAY = datetime(2026, 3, 2, tzinfo=UTC)
FLOOR = job(
    zone(
        layer(sheet("thinset", heat_d=14.0), name="tile bed"),
        layer(sheet("cement grout", heat_d=10.0), name="grout"),
    ),
    climate=CLIMATE,
)


def steps(made: Job, at: datetime) -> dict[str, Event]:
    plan = make_plan(made, (), at, rules=RULES, day_off=weekdays)
    events = feeds(plan, rules=RULES, day_off=weekdays)[0].events
    return {event.key.layer_id: event for event in events if event.key.purpose == "step"}


def test_work_that_may_start_now_is_shown_from_this_morning_all_day() -> None:
    # In the last hour of work the next full hour is tomorrow's.
    hours = [MONDAY + timedelta(hours=hour, minutes=5) for hour in range(8, 16)]
    shown = [steps(FLOOR, at)["tile-bed"] for at in hours]
    assert set(shown) == {shown[0]}
    when = shown[0].when
    assert isinstance(when, Timed)
    tz = FLOOR.tz
    assert when.start_at.astimezone(tz).hour == FLOOR.work.start.hour
    assert when.end_at.astimezone(tz).time() == FLOOR.work.end


def test_what_comes_after_is_shown_from_a_morning_and_never_before_it_may_start() -> None:
    for hour in range(8, 17):
        at = MONDAY + timedelta(hours=hour, minutes=5)
        plan = make_plan(FLOOR, (), at, rules=RULES, day_off=weekdays)
        (planned,) = [each for each in plan.zones[0].layers if each.layer.id == "grout"]
        when = steps(FLOOR, at)["grout"].when
        assert isinstance(when, Timed)
        assert planned.start is not None
        assert when.start_at >= planned.start.earliest
        assert when.start_at.astimezone(FLOOR.tz).time() == FLOOR.work.start


def test_an_hour_that_a_person_wrote_down_stands() -> None:
    (only,) = FLOOR.zones
    at = MONDAY + timedelta(days=1, hours=13)
    bed = replace(only.layers[0], planned_start_at=at)
    made = replace(FLOOR, zones=(replace(only, layers=(bed, only.layers[1])),))
    for hour in (8, 11, 15):
        when = steps(made, MONDAY + timedelta(hours=hour, minutes=5))["tile-bed"].when
        assert isinstance(when, Timed)
        assert when.start_at == at


@pytest.mark.slow
def test_no_entry_of_a_whole_job_changes_by_the_hour() -> None:
    """Nine days of the kitchen, planned anew each hour, with nothing recorded.

    A start that slides to the next day moves in the afternoon, and the last day that keeps the
    owner's date with the day that the owner is told: two changes. The last hours of a wait that
    is not measured add two.
    """
    read = read_job(
        ROOT / "examples" / "kitchen-two-zones" / "job.toml",
        clock=lambda _: datetime(2027, 3, 1, tzinfo=UTC),
    )
    assert read.job is not None
    rules, day_off = load_rules(), day_off_for(read.job)
    changes: Counter[tuple[object, EventKey]] = Counter()
    known: dict[EventKey, Event] = {}
    for hour in range(24 * 9):
        at = datetime(2026, 11, 16, 15, 5, tzinfo=UTC) + timedelta(hours=hour)
        plan = make_plan(read.job, read.log, at, rules=rules, day_off=day_off)
        now = {
            event.key: event
            for feed in feeds(plan, rules=rules, day_off=day_off, log=read.log)
            for event in feed.events
        }
        day = at.astimezone(read.job.tz).date()
        changes.update((day, key) for key, event in now.items() if known.get(key, event) != event)
        known = now
    often = Counter(changes.values())
    assert max(often) <= 4
    assert often[3] + often[4] <= 1
    assert often[2] <= 4


def test_a_morning_at_or_after() -> None:
    calendar = Calendar(Work(), UTC, weekdays)
    morning = calendar.opens(MONDAY.date())
    assert opening(morning, calendar) == morning
    assert opening(morning - timedelta(hours=3), calendar) == morning
    assert opening(morning + timedelta(minutes=1), calendar) == morning + timedelta(days=1)
    friday = morning + timedelta(days=4, hours=2)
    assert opening(friday, calendar) == morning + timedelta(days=7)
    never = Calendar(Work(), UTC, lambda _: "closed")
    assert opening(friday, never) >= friday
