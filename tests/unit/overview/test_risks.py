"""What puts a job's days at risk: each reason where it stands, and none where it does not."""

from __future__ import annotations

from datetime import datetime, timedelta

from moisture_samples import probe, screed
from planning_log import READY, a_job, evidence, fact, floor, released
from planning_samples import DAY, RULES, START, daily, expected, layer, reading, weekdays, zone

from curecal.overview.risks import risks_of
from curecal.planning.make_plan import make_plan
from curecal.planning.working_time.working_calendar import Calendar
from curecal.trade.job import Job
from curecal.trade.site_log import (
    Booking,
    Cause,
    Entry,
    Kept,
    Place,
    Series,
    Stopped,
    VisitFor,
    VisitNote,
)
from curecal.words.sentences import words_for

HOUR = timedelta(hours=1)


def risks(job: Job, as_of: datetime, *log: Entry) -> dict[str, str]:
    plan = make_plan(job, log, as_of, rules=RULES, day_off=weekdays)
    calendar = Calendar(job.work, job.tz, weekdays)
    found = risks_of(plan, log, words=words_for(job, RULES, as_of=as_of), calendar=calendar)
    return {risk.code: risk.why for risk in found}


def test_a_stop_and_its_reason() -> None:
    halt = fact(Stopped, START + HOUR, cause=Cause.CRACK)
    found = risks(a_job(floor()), START + DAY, halt)
    assert list(found) == ["stopped"]
    assert found["stopped"].startswith("stopped: ")


def test_no_date_and_its_reason() -> None:
    found = risks(a_job(zone(layer("leveler", START, "base"))), START + HOUR)
    assert found["no-date"] == "no date: the thickness of the leveler is not known."


def test_a_late_end_that_never_comes() -> None:
    # At the coldest the bed stands below what cement hardens at.
    cold = expected(14.0, coldest_c=1.0)
    found = risks(a_job(floor(), climate=cold), START + DAY * 5)
    assert "no-promise" in found
    assert "no-promise" not in risks(a_job(floor()), START + DAY * 5)


def test_a_test_that_failed() -> None:
    wet = probe(60.0, value=0.04)
    job = a_job(screed())
    found = risks(job, START + DAY * 61, wet)
    assert found["failed"] == "this failed: moisture test."
    assert "failed" not in risks(job, START + DAY * 61)


def test_work_that_has_to_begin_by_the_next_working_day() -> None:
    soon = a_job(zone(layer("thinset", START, "mortar"), layer("cement grout", None)))
    begun = {day: risks(soon, START + DAY * day) for day in range(1, 40, 3)}
    said = [found["start-by"] for found in begun.values() if "start-by" in found]
    assert said
    assert all("the cement grout has to start by " in text for text in said)
    later = a_job(
        zone(
            layer("thinset", START, "mortar"),
            layer("cement grout", None, planned_start_at=START + DAY * 25),
        )
    )
    assert "start-by" not in risks(later, START + DAY * 2)


def test_work_that_was_planned_for_a_day_gone_by() -> None:
    job = a_job(zone(layer("thinset", None, "mortar", planned_finish_at=START + DAY)))
    assert "not-logged" not in risks(job, START)
    found = risks(job, START + DAY * 3)
    assert found["not-logged"] == (
        "the mortar was planned for Tue 2 Mar, 12:00 and is not logged as done."
    )


def test_what_must_be_done_before_the_cable_is_covered() -> None:
    job = a_job(zone(layer("thinset", None, "mortar", planned_start_at=START + DAY * 10)))
    assert "before-covering" not in risks(job, START)
    found = risks(job, START + DAY * 8 + HOUR)
    assert found["before-covering"] == (
        "still to do before the cable is covered on Thu 11 Mar: cable test on delivery, mat."
    )


def test_what_must_be_done_before_the_heat() -> None:
    job = a_job(floor())
    assert "before-heat" not in risks(job, START + DAY * 4, *daily(START, 4, 20.0))
    found = risks(job, READY - HOUR, *daily(START, 6, 20.0))
    assert "things are still to do before the heat on " in found["before-heat"]
    assert "before-heat" not in risks(job, READY + DAY, *evidence())
    assert risks(job, READY + HOUR * 2, *released()) == {}


def test_a_week_without_a_temperature() -> None:
    job = a_job(zone(layer("thinset", START, "mortar")), climate=expected(18.0, coldest_c=14.0))
    week = timedelta(days=7)
    assert "silence" not in risks(job, START + week - HOUR)
    assert risks(job, START + week)["silence"] == (
        "no temperature logged since Mon 1 Mar, 12:00, so the wait counts at the coldest. Log one."
    )
    look = reading(START + DAY * 3, 18.0)
    series = Series(
        id="s",
        at=START + DAY * 4,
        recorded=START + DAY * 4,
        place=Place.AIR,
        device="d",
        interval_s=3600.0,
        points=((START + DAY * 4, 18.0, None),),
    )
    empty = Series(
        id="s0",
        at=START + DAY * 4,
        recorded=START + DAY * 4,
        place=Place.AIR,
        device="d",
        interval_s=3600.0,
        points=(),
    )
    kept = fact(Kept, START + DAY * 5, above_c=17.0, from_at=START, to_at=START + DAY * 5)
    for told, last in ((look, 3), (series, 4), (kept, 5)):
        due = START + DAY * last + week
        assert "silence" not in risks(job, due - HOUR, told)
        assert "silence" in risks(job, due, told)
    assert "silence" in risks(job, START + week, empty)


def test_a_reason_of_one_of_several_zones_names_it() -> None:
    bath = zone(layer("leveler", START, "base"), id="bath", name="bath", path="zone.1")
    found = risks(a_job(floor(), bath), START + DAY)
    assert found["no-date"].startswith("bath: no date: ")


def visit(start: datetime, state: Booking = Booking.BOOKED) -> Entry:
    return fact(
        VisitNote,
        START,
        visit="test",
        purpose=VisitFor.TEST_AND_CONNECT,
        start_at=start,
        end_at=start + HOUR * 2,
        state=state,
        who="Sam Okoro-Lind",
    )


def test_a_visit_that_nobody_has_confirmed() -> None:
    # A working day on which the floor has cured.
    at = READY + DAY
    job = a_job(floor())
    found = risks(job, READY, visit(at))
    assert found["visit-unconfirmed"].startswith("Sam Okoro-Lind has not confirmed the visit of ")
    assert "visit-unconfirmed" not in risks(job, READY, visit(at, Booking.CONFIRMED))
    # Eight days ahead nobody has to have said so yet.
    assert "visit-unconfirmed" not in risks(job, at - DAY * 8, visit(at))


def test_a_visit_that_does_not_fit() -> None:
    early = START + DAY * 2
    found = risks(a_job(floor()), START + DAY, visit(early))
    assert "visit-misfit" in found
    assert "visit-unconfirmed" not in found


def test_a_room_that_got_too_cold() -> None:
    told = reading(START + DAY, 2.0)
    found = risks(a_job(floor()), START + DAY * 2, told)
    assert found["cold"].startswith("cold: ")
    assert "cold" not in risks(a_job(floor()), START + DAY * 2)
