"""Entries of real plans stand still while only time passes, and are moved by facts."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, datetime, timedelta
from itertools import pairwise

from calendar_samples import HALL_PLAN, VISITS, at, released
from calendar_samples import plan as sample
from planning_log import READY, a_job, evidence, fact, floor, measured, without
from planning_log import released as log_to_release
from planning_samples import DAY, RULES, plan, weekdays

from curecal.calendars import Audience, Days, Event, Status, Timed, feeds
from curecal.calendars.event_context import EventContext
from curecal.calendars.stable_dates.stable_dates import (
    owed_days,
    owed_hours,
    visit_day,
    visit_window,
)
from curecal.instants import Window
from curecal.planning.plan import Plan, Visit
from curecal.planning.working_time.working_calendar import Calendar
from curecal.planning.zone.stable_day import early_day, late_day
from curecal.trade.job import Expected, Job, Role
from curecal.trade.site_log import Connected, Energized, Entry, Reading, Release, Stage
from curecal.words.sentences import words_for

WEEK = timedelta(days=7)
Told = dict[tuple[Audience, str], Event]


def told(job: Job, log: list[Entry], as_of: datetime) -> Told:
    """All three calendars of a real plan, by person and purpose."""
    made = plan(job, log, as_of, weekdays)
    found = feeds(made, rules=RULES, day_off=weekdays, log=log)
    return {
        (feed.audience, event.key.purpose): event
        for feed in found
        for event in feed.events
        if not event.key.layer_id
    }


def texts(found: Told, *without: str) -> dict[tuple[Audience, str], tuple[str, str]]:
    return {
        key: (event.summary, event.description)
        for key, event in found.items()
        if key[1] not in without
    }


def mornings(first: datetime, count: int) -> list[datetime]:
    return [first + DAY * index + timedelta(minutes=37 * index) for index in range(count)]


def test_on_hold_past_its_date_no_entry_moves_but_by_whole_weeks() -> None:
    """The date is over, the connection is still owed: weeks go by without a word."""
    log = without(evidence(), Connected)
    days = [told(a_job(), log, as_of) for as_of in mornings(READY + DAY * 2, 40)]
    assert days[0].keys() >= {
        (Audience.CREW, "heat-up first heat"),
        (Audience.ELECTRICIAN, "visit test-and-connect"),
        (Audience.ELECTRICIAN, "visit energize"),
        (Audience.OWNER, "do not switch on"),
    }
    for before, after in pairwise(days):
        assert texts(before) == texts(after)
        for key, event in before.items():
            assert event.status is after[key].status
            assert event.alarms == after[key].alarms
            _moves_by_weeks(event, after[key], grows=key[1] != "visit energize")
    for key in ((Audience.CREW, "heat-up first heat"), (Audience.ELECTRICIAN, "visit energize")):
        assert len({day[key] for day in days}) == 1
    owed = [day[Audience.ELECTRICIAN, "visit test-and-connect"] for day in days]
    assert len(set(owed)) <= 7


def _first_day(event: Event) -> date:
    if isinstance(event.when, Days):
        return event.when.start_on
    return event.when.start_at.date()


def _moves_by_weeks(before: Event, after: Event, *, grows: bool) -> None:
    if isinstance(before.when, Days) and isinstance(after.when, Days):
        assert after.when.start_on == before.when.start_on
        grown = after.when.end_on - before.when.end_on
    else:
        assert isinstance(before.when, Timed)
        assert isinstance(after.when, Timed)
        assert after.when.start_at == before.when.start_at
        # At an end of work in a calendar whose clock does not change.
        grown = after.when.end_at - before.when.end_at
    assert grown in ({timedelta(), WEEK} if grows else {timedelta()})


def test_clear_but_not_released_the_visit_waits_on_its_day() -> None:
    waiting = [told(a_job(), evidence(), as_of) for as_of in mornings(READY + DAY * 3, 10)]
    visit = {day[Audience.ELECTRICIAN, "visit energize"] for day in waiting}
    assert len(visit) == 1
    only = visit.pop()
    assert only.status is Status.TENTATIVE
    # The clocks are out on Mon 8 March at 12:00 UTC; electricians come on the next morning.
    assert isinstance(only.when, Timed)
    assert only.when.start_at.date() == date(2027, 3, 9)
    late = READY + DAY * 20
    log = [*evidence(), fact(Release, late)]
    after = told(a_job(), log, late + timedelta(hours=1))[Audience.ELECTRICIAN, "visit energize"]
    assert after.key == only.key
    assert after.status is Status.CONFIRMED
    assert isinstance(after.when, Timed)
    assert after.when.start_at > late


def test_between_its_early_and_its_late_end_a_date_stands() -> None:
    """Nobody measured anything: the window stays open while its early end is over."""
    job = a_job(climate=Expected(18.0, 0.5, 14.0, 0.6))
    log = without(evidence(), Reading)
    window = plan(job, log, READY, weekdays).zones[0].energize.window
    assert window is not None
    assert window.latest is not None
    assert window.latest - window.earliest > timedelta(hours=12)
    inside = (window.latest - window.earliest) / 5
    found = [told(job, log, window.earliest + inside * fifths) for fifths in (-1, 0, 1, 2, 3, 4)]
    for key in ((Audience.CREW, "heat-up first heat"), (Audience.ELECTRICIAN, "visit energize")):
        assert len({day[key] for day in found}) == 1


def test_released_and_not_yet_energized_the_visit_is_owed() -> None:
    log = log_to_release()
    found = [told(a_job(), log, as_of) for as_of in mornings(READY + DAY, 30)]
    visits = [day[Audience.ELECTRICIAN, "visit energize"] for day in found]
    assert len({visit.description for visit in visits}) == 1
    assert len({_first_day(visit) for visit in visits}) == 1
    for as_of, visit in zip(mornings(READY + DAY, 30), visits, strict=True):
        # Owed since the day before, it is shown by days and no more by the hour.
        assert not isinstance(visit.when, Timed)
        assert visit.when.end_on > as_of.date()
    # From when the owner may is a fact; the set-points wait for the day it is done.
    may = {day[Audience.OWNER, "may switch on"] for day in found}
    assert len(may) == 1
    steps = [day[Audience.OWNER, "heat-up first heat step 1"].when for day in found]
    for as_of, when in zip(mornings(READY + DAY, 30), steps, strict=True):
        assert isinstance(when, Days)
        assert when.start_on >= as_of.date()


def test_may_switch_on_keeps_its_day_through_the_heat_up_and_in_service() -> None:
    log = log_to_release()
    on = READY + DAY * 3
    log = [*log, fact(Energized, on)]
    before = told(a_job(), log, READY + DAY)[Audience.OWNER, "may switch on"]
    after = told(a_job(), log, on + DAY)[Audience.OWNER, "may switch on"]
    assert (before.when, before.key) == (after.when, after.key)


def test_after_release_the_day_is_counted_from_it() -> None:
    made = plan(a_job(), log_to_release(), READY + DAY * 9, weekdays)
    ctx = _context(made)
    day = early_day(made.zones[0], ctx.plan.as_of, ctx.calendar)
    assert day == late_day(made.zones[0], ctx.plan.as_of, ctx.calendar)
    assert day is not None
    moved_on = made.zones[0].energize.start_on
    assert moved_on is not None
    assert day < moved_on


def _context(made: Plan) -> EventContext:
    calendar = Calendar(made.job.work, made.job.tz, weekdays)
    return EventContext(made, words_for(made.job, RULES), calendar)


def test_stopped_there_is_no_visit_and_no_heat_up() -> None:
    log = [*log_to_release(), measured(READY + DAY, Stage.IN_SERVICE, insulation_ohm=1e3)]
    found = told(a_job(), log, READY + DAY * 2)
    assert (Audience.ELECTRICIAN, "visit energize") not in found
    assert (Audience.CREW, "heat-up first heat") not in found
    off = found[Audience.OWNER, "do not switch on"]
    assert off.description.startswith("Please leave it switched off.")
    assert (Audience.OWNER, "may switch on") not in found


def test_an_owner_who_switches_on_has_weekends_too() -> None:
    # Fri 12 March, noon: the date is over since Monday, and moves on day by day.
    friday = READY + DAY * 4
    assert friday.isoweekday() == 5
    days = {}
    for by in (Role.OWNER, Role.ELECTRICIAN):
        (zone,) = plan(a_job(floor(energized_by=by)), evidence(), friday, weekdays).zones
        days[by] = zone.energize.start_on
    assert days == {Role.OWNER: date(2027, 3, 13), Role.ELECTRICIAN: date(2027, 3, 15)}
    # A day that moves on each day is told to nobody.
    for as_of in mornings(friday, 4):
        mine = a_job(floor(energized_by=Role.OWNER))
        off = told(mine, evidence(), as_of)[Audience.OWNER, "do not switch on"]
        assert "We cannot promise a date yet" in off.description


def test_a_floor_without_a_working_day_has_no_standing_day() -> None:
    made = sample(as_of=at(31))
    ctx = replace(_context(made), calendar=Calendar(made.job.work, made.job.tz, lambda _: "off"))
    assert early_day(HALL_PLAN, ctx.plan.as_of, ctx.calendar) is None
    assert late_day(HALL_PLAN, _context(made).plan.as_of, _context(made).calendar) == date(
        2027, 1, 8
    )
    window = Window(at(31), None)
    assert visit_window(ctx.plan, Visit("energize", ("hall",), window), ctx.calendar) == window


def test_without_a_window_there_is_no_day() -> None:
    nothing = replace(HALL_PLAN, energize=replace(HALL_PLAN.energize, window=None))
    ctx = _context(sample(nothing))
    assert early_day(nothing, ctx.plan.as_of, ctx.calendar) is None
    assert late_day(nothing, ctx.plan.as_of, ctx.calendar) is None
    assert visit_window(ctx.plan, replace(VISITS[0], window=None), ctx.calendar) is None
    assert visit_day(ctx.plan, replace(VISITS[0], window=None), ctx.calendar) is None


def test_a_visit_for_two_zones_comes_when_both_may() -> None:
    energize = replace(HALL_PLAN.energize, start_on=date(2027, 1, 11), owner_date=None)
    kitchen = replace(HALL_PLAN, zone=replace(HALL_PLAN.zone, id="kitchen"), energize=energize)
    visit = Visit("energize", ("hall", "kitchen"), Window(at(31), None))
    ctx = _context(sample(HALL_PLAN, kitchen))
    assert visit_window(ctx.plan, visit, ctx.calendar) == Window(
        datetime(2027, 1, 11, 12, tzinfo=at(1).tzinfo), None
    )
    both = _context(sample(released(), released(kitchen)))
    found = visit_window(both.plan, visit, both.calendar)
    assert found is not None
    assert found.latest == found.earliest


def test_what_is_owed_ends_after_now() -> None:
    ctx = _context(sample(as_of=at(15, 13)))
    for due, ends in (
        (date(2026, 12, 15), date(2026, 12, 16)),
        (date(2026, 12, 14), date(2026, 12, 22)),
        (date(2026, 12, 8), date(2026, 12, 16)),
        (date(2026, 12, 7), date(2026, 12, 22)),
        (date(2026, 12, 20), date(2026, 12, 21)),
    ):
        assert owed_days(due, ctx.plan.as_of, ctx.calendar) == Days(due, ends)
    assert owed_hours(Window(at(15, 12), at(15, 14)), ctx.plan.as_of, ctx.calendar) == Timed(
        at(15, 12), at(15, 14)
    )
    # Over since 12:00 UTC on the 15th: on to the end of work a week later.
    assert owed_hours(Window(at(14, 12), at(15, 12)), ctx.plan.as_of, ctx.calendar) == Timed(
        at(14, 12), at(22, 21)
    )
