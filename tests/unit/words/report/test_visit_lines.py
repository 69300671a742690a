"""Visits in the report: the hour that was agreed, and one day for zones that one visit serves."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, date, datetime, timedelta

from planning_log import HOUR, READY, a_job, courses, fact, floor
from planning_samples import DAY, RULES, START, expected, layer, plan, sheet, weekdays, zone

from curecal.instants import Window
from curecal.planning.plan import Plan, Visit, VisitKind
from curecal.trade.job import Job
from curecal.trade.site_log import Booking, VisitFor, VisitNote
from curecal.words.report.visit_lines import switch_on_at, visit_lines
from curecal.words.sentences import words_for


def booked(purpose: VisitFor, start: datetime, **more: object) -> VisitNote:
    said = {"visit": "v", "state": Booking.BOOKED, "purpose": purpose, "start_at": start}
    return fact(VisitNote, START, **{**said, **more})


def shown(made: Plan, job: Job) -> list[str]:
    lines = visit_lines(made, words_for(job, RULES, as_of=made.as_of), 200)
    return ["".join(run.text for run in line).strip() for line in lines]


def test_an_appointment_takes_the_place_of_its_window() -> None:
    job = a_job()
    as_of = START + DAY * 4
    start = READY - DAY * 2
    log = [booked(VisitFor.TEST_AND_CONNECT, start, end_at=start + HOUR * 2)]
    other = booked(VisitFor.OTHER, start, visit="w", who="Al")
    lines = shown(plan(job, [*log, other], as_of), job)
    assert lines[0].endswith("other: Sat 6 Mar, 12:00 to 13:00, Al (booked)")
    assert "final test and connection" in lines[1]
    assert lines[1].endswith("Sat 6 Mar, 12:00 to 14:00, Ada (booked)")
    late = booked(VisitFor.TEST_AND_CONNECT, start, end_at=start + timedelta(days=1))
    assert "Sat 6 Mar, 12:00 to Sun 7 Mar, 12:00" in shown(plan(job, [late], as_of), job)[0]


def test_a_window_of_one_day_names_the_day_once_and_zones_only_of_several() -> None:
    job = a_job()
    visits = (Visit(VisitKind.CONNECTION, ("bath",), Window(READY, READY + HOUR * 3)),)
    made = replace(plan(job, [], START), visits=visits)
    (line,) = shown(made, job)
    assert line == "- final test and connection: Mon 8 Mar, 12:00 to 15:00"
    zones = [zone(*courses(), id="a"), zone(*courses(), id="b")]
    two = plan(a_job(*zones), [], START)
    assert all(" (" in line for line in shown(two, two.job))


def test_what_must_move_points_to_its_finding() -> None:
    job = a_job(floor())
    made = plan(job, [booked(VisitFor.SWITCH_ON, READY - DAY)], START + DAY * 4)
    (line,) = [line for line in shown(made, job) if "switch on" in line]
    assert line.endswith("(booked). Check it: see Watch.")


def test_one_visit_switches_on_both_zones_on_the_day_of_the_later() -> None:
    # Three days after its grout: noon on Mon 8 Mar and on Tue 9 Mar, each from the next morning.
    late = layer(sheet("cement grout", 3.0), START + DAY * 5, "grout")
    zones = [zone(*courses(), id="a"), zone(*courses()[:2], late, id="b")]
    made = plan(a_job(*zones, climate=expected(20.0, coldest_c=12.0)), [], START + DAY * 5)
    assert [found.energize.start_on for found in made.zones] == [
        date(2027, 3, 9),
        date(2027, 3, 10),
    ]
    assert made.visits[-1].zone_ids == ("a", "b")
    for found in made.zones:
        assert found.energize.start_on is not None
        at = switch_on_at(found, made, found.energize.start_on)
        assert at == datetime(2027, 3, 10, 8, tzinfo=UTC)
    alone = plan(a_job(zones[0]), [], START + DAY * 5)
    assert switch_on_at(alone.zones[0], alone, date(2027, 3, 9)) == datetime(
        2027, 3, 9, 8, tzinfo=UTC
    )


def test_the_agreed_hour_is_the_hour_of_switching_on() -> None:
    # From Tue 9 Mar, 08:00: an hour of that day is agreed, and the hour before it is not kept.
    for hour, told in ((14, 14), (7, 8)):
        start = datetime(2027, 3, 9, hour, tzinfo=UTC)
        log = [booked(VisitFor.SWITCH_ON, start)]
        made = plan(a_job(), log, START + DAY * 4, weekdays)
        at = switch_on_at(made.zones[0], made, date(2027, 3, 9))
        assert at == datetime(2027, 3, 9, told, tzinfo=UTC)
