"""A job in one line: its days, what comes next, and who is waited for."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, date, datetime, timedelta

import pytest
from planning_log import READY, a_job, courses, evidence, fact, floor, released
from planning_samples import DAY, RULES, START, layer, sheet, weekdays, zone

from curecal.overview.job_answer import (
    DayEvent,
    JobAnswer,
    NextThing,
    job_answer,
    job_days,
    unread_answer,
)
from curecal.planning.make_plan import make_plan
from curecal.planning.plan import VisitKind
from curecal.planning.working_time.working_calendar import Calendar
from curecal.trade.hold_codes import HoldCode
from curecal.trade.job import Job
from curecal.trade.site_log import (
    Booking,
    Cause,
    Energized,
    Entry,
    Stopped,
    VisitFor,
    VisitNote,
)
from curecal.words.catalogue import catalogue
from curecal.words.report.headline import headline
from curecal.words.sentences import words_for

HOUR = timedelta(hours=1)


def told(
    job: Job, as_of: datetime, log: list[Entry] | None = None
) -> tuple[JobAnswer, tuple[DayEvent, ...]]:
    plan = make_plan(job, log or [], as_of, rules=RULES, day_off=weekdays)
    words = words_for(job, RULES, as_of=as_of)
    calendar = Calendar(job.work, job.tz, weekdays)
    answer = job_answer(plan, (), log or [], words=words, calendar=calendar)
    # The same sentence as the first line of the plan.
    assert answer.answer == headline(plan, words)
    return answer, job_days(plan, words=words, calendar=calendar)


def days_of(events: tuple[DayEvent, ...]) -> list[tuple[str, date, str]]:
    return [(event.kind, event.on, event.what) for event in events]


def test_planned_work_comes_first_and_stands_on_its_days() -> None:
    # Mortar of Monday noon may be grouted after 48 h (common practice): Wednesday.
    job = a_job(zone(layer(sheet("thinset", 3.0), START, "mortar"), layer("cement grout", None)))
    answer, days = told(job, START + HOUR)
    assert answer.state == "curing"
    assert answer.may_energize is False
    assert answer.next_step == NextThing("cement grout", date(2027, 3, 3))
    assert answer.next_visit is not None
    assert answer.next_visit.what == "test and connect"
    assert ("step", date(2027, 3, 3), "cement grout may start") in days_of(days)
    assert [kind for kind, _, _ in days_of(days)].count("step") == 1
    assert answer.start_on is not None
    assert answer.owner_on is not None
    assert ("owner", answer.owner_on, "the owner's day") in days_of(days)
    assert answer.owner_on >= answer.start_on > date(2027, 3, 29)


def test_an_appointment_is_the_next_visit_at_its_hour() -> None:
    job = a_job(zone(layer(sheet("thinset", 3.0), START, "mortar"), layer("cement grout", None)))
    start = datetime(2027, 3, 24, 9, tzinfo=UTC)
    booked = fact(
        VisitNote,
        START,
        visit="test",
        purpose=VisitFor.TEST_AND_CONNECT,
        start_at=start,
        end_at=start + 2 * HOUR,
        state=Booking.BOOKED,
    )
    answer, days = told(job, START + HOUR, [booked])
    assert answer.next_visit == NextThing("test and connect", date(2027, 3, 24))
    visits = [(on, what) for kind, on, what in days_of(days) if kind == "visit"]
    assert (date(2027, 3, 24), "09:00 test and connect") in visits
    # It is one visit: its window is not told beside it.
    assert not [what for _, what in visits if what.startswith("final test")]


def test_a_cured_floor_waits_for_people() -> None:
    answer, _ = told(a_job(floor()), READY + DAY)
    assert answer.state == "on hold"
    assert answer.next_step is not None
    assert answer.next_step.what == "cable test on delivery"
    assert answer.next_step.on is None
    assert "electrician" in answer.waiting_for


def test_with_everything_on_record_the_release_is_next() -> None:
    answer, _ = told(a_job(floor()), READY + DAY, evidence())
    assert answer.state == "clear"
    assert answer.waiting_for == ("crew_lead",)
    assert answer.next_step == NextThing("release", answer.start_on)
    assert answer.risks == ()


def test_a_released_floor_shows_its_set_points() -> None:
    answer, days = told(a_job(floor()), READY + HOUR * 2, released())
    assert answer.state == "released"
    assert answer.waiting_for == ()
    assert answer.owner_on == answer.start_on
    assert answer.next_step is not None
    assert answer.next_step.what.startswith("set the floor to ")
    heat = [event for event in days if event.kind == "heat"]
    assert heat[0].on == answer.start_on
    assert len(heat) > 1


def test_a_bare_screed_shows_no_number_before_the_electrician_was_there() -> None:
    screed = layer(
        sheet("sand-cement screed", 28.0),
        START,
        "screed",
        thickness_m=0.050,
        heat_before_covering=True,
    )
    job = a_job(zone(screed, layer(sheet("thinset", 10.0), None, "mortar")))
    ready = START + DAY * 20
    _, days = told(job, ready)
    assert [event for event in days if event.kind == "heat"] == []
    _, days = told(job, ready, evidence())
    heat = [event.what for event in days if event.kind == "heat"]
    assert heat[0].startswith("set the floor to ")
    assert len(heat) > 3


def test_a_floor_that_is_on_has_no_day_any_more() -> None:
    on = fact(Energized, READY + DAY * 2)
    answer, _ = told(a_job(floor()), READY + DAY * 2 + HOUR, [*released(), on])
    assert answer.state == "heating up"
    assert answer.may_energize
    assert (answer.start_on, answer.owner_on) == (None, None)


def test_a_stopped_floor_shows_nothing_to_come() -> None:
    halt = fact(Stopped, START + HOUR, cause=Cause.CRACK)
    job = a_job(zone(layer("thinset", START, "mortar"), layer("cement grout", None)))
    answer, days = told(job, START + HOUR * 2, [halt])
    assert answer.state == "stopped"
    assert (answer.next_step, answer.start_on, answer.owner_on) == (None, None, None)
    assert [event for event in days if event.kind in {"step", "heat", "owner"}] == []
    assert answer.has_problem


def test_of_two_zones_each_thing_names_its_own() -> None:
    bath = zone(layer("cement grout", None), id="bath", name="bath", path="zone.1")
    answer, days = told(a_job(floor(), bath), START + DAY * 5)
    assert answer.next_step is not None
    assert answer.next_step.what == "cement grout, bath"
    steps = [event.what for event in days if event.kind == "step"]
    assert steps == ["cement grout may start, bath"]


def test_a_layer_without_any_date_is_still_the_next() -> None:
    # Nobody knows how thick the leveler is, so nothing above it has a day.
    job = a_job(zone(layer("leveler", START), layer("thinset", None)))
    answer, _ = told(job, START + HOUR)
    assert answer.state == "no date"
    assert answer.next_step == NextThing("thinset", None)


def test_a_job_that_cannot_be_planned_says_why() -> None:
    answer = unread_answer("No.", "The roof is gone.")
    assert (answer.may_energize, answer.has_problem) == (False, True)
    assert [risk.why for risk in answer.risks] == ["The roof is gone."]


@pytest.mark.parametrize("key", [f"jobs.hold.{code}" for code in HoldCode])
def test_every_hold_point_has_a_short_name(key: str) -> None:
    assert key in catalogue("en")


@pytest.mark.parametrize("kind", VisitKind)
def test_every_visit_has_a_short_name(kind: VisitKind) -> None:
    assert f"jobs.visit.{kind}" in catalogue("en")


def test_a_year_of_days_is_cut_off() -> None:
    soon = layer("thinset", None, "skim", planned_start_at=START + DAY * 10)
    late = layer("cement grout", None, planned_start_at=START + DAY * 200)
    job = a_job(zone(*courses()[:1], soon, late))
    _, days = told(job, START + DAY * 3)
    assert all(event.on < date(2027, 3, 4) + timedelta(days=92) for event in days)
    assert ["skim" in event.what for event in days if event.kind == "step"] == [True]


def test_a_job_is_found_by_its_people_and_says_whom_it_waits_for() -> None:
    job = replace(a_job(floor()), address="3 Fern Street")
    answer, _ = told(job, READY + DAY)
    assert answer.address == "3 Fern Street"
    assert {role for one in answer.people for role in one.roles} >= {"crew_lead", "electrician"}
    assert [one.by for one in answer.to_do] == list(answer.waiting_for)
    assert answer.to_do[0].what == "cable test on delivery"


def test_layers_without_a_sheet_are_named_until_the_release() -> None:
    job = a_job(zone(layer("thinset", START, "mortar"), layer("cement grout", START)))
    answer, _ = told(job, START + DAY)
    assert "mortar" in answer.without_sheet
    assert told(a_job(floor()), READY + HOUR * 2, released())[0].without_sheet == ()
