"""Visits over several jobs: what is wished, what was agreed, and who is booked twice."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime, timedelta

import pytest
from planning_log import HOUR, READY, a_job, fact, floor
from planning_samples import DAY, START, expected, plan

from curecal.planning.comparison.visits_of_jobs import TO_BOOK, VisitRow, visits_of_jobs
from curecal.planning.plan import Plan
from curecal.trade.job import Person, Role
from curecal.trade.site_log import Booking, VisitFor, VisitNote

AS_OF = START + DAY * 4
SPARK = Person(Role.ELECTRICIAN, "Zoë Spark", "zoe@spark.example", "+1 902 555 0101", license="E")
LEAD = Person(Role.CREW_LEAD, "Ada")


def made(
    job_id: str, start: datetime | None, spark: Person = SPARK, hours: int = 2, **more: object
) -> Plan:
    job = replace(a_job(floor(), people=(LEAD, spark)), id=job_id, name=f"Job {job_id}")
    said = {
        "visit": "v",
        "state": Booking.BOOKED,
        "purpose": VisitFor.TEST_AND_CONNECT,
        "start_at": start,
        "end_at": start and start + HOUR * hours,
    }
    return plan(job, [fact(VisitNote, START, **{**said, **more})] if start else [], AS_OF)


def clashing(rows: tuple[VisitRow, ...]) -> dict[str, list[str]]:
    return {row.job_id: [clash.job_id for clash in row.clashes] for row in rows if row.clashes}


def test_wished_and_booked_stand_in_one_list_the_soonest_first() -> None:
    rows = visits_of_jobs([made("a", None), made("b", READY - DAY, state=Booking.CONFIRMED)])
    assert [(row.job_id, row.kind, row.state) for row in rows] == [
        ("a", "test-and-connect", TO_BOOK),
        ("b", "test-and-connect", "confirmed"),
        ("a", "energize", TO_BOOK),
        ("b", "energize", TO_BOOK),
    ]
    assert (rows[0].earliest, rows[0].latest, rows[0].start) == (AS_OF, READY, None)
    assert (rows[1].start, rows[1].end, rows[1].who) == (
        READY - DAY,
        READY - DAY + HOUR * 2,
        "Zoë Spark",
    )


@pytest.mark.parametrize(
    ("later", "clash"),
    [(timedelta(), True), (HOUR, True), (HOUR * 2, False), (-HOUR * 2, False), (-HOUR, True)],
)
def test_one_person_in_two_places_clashes(later: timedelta, *, clash: bool) -> None:
    rows = visits_of_jobs([made("a", READY), made("b", READY + later)])
    assert clashing(rows) == ({"a": ["b"], "b": ["a"]} if clash else {})


@pytest.mark.parametrize(
    ("other", "clash"),
    [
        (replace(SPARK, name="Z. Spark", phone=None, email=" ZOE@spark.example"), True),
        (replace(SPARK, name="Z. Spark", email=None, phone="+1 (902) 555-0101"), True),
        (replace(SPARK, name="zoë  SPARK", email=None, phone=None), True),
        (Person(Role.ELECTRICIAN, "Al Amp", license="E 2"), False),
    ],
)
def test_a_person_is_known_by_mail_phone_or_name(other: Person, *, clash: bool) -> None:
    rows = visits_of_jobs([made("a", READY), made("b", READY, other)])
    assert bool(clashing(rows)) is clash


def test_two_visits_of_one_job_clash_too_and_one_is_no_clash_with_itself() -> None:
    one = made("a", READY)
    assert clashing(visits_of_jobs([one])) == {}
    inspection = replace(
        one.appointments[0], id="w", purpose=VisitFor.OTHER, start_at=READY, end_at=READY + HOUR
    )
    rows = visits_of_jobs([replace(one, appointments=(*one.appointments, inspection))])
    assert [len(row.clashes) for row in rows if row.start] == [1, 1]
    assert [row.kind for row in rows if row.start] == ["other", "test-and-connect"]


def test_what_is_off_or_over_is_to_be_booked_again() -> None:
    for changed in ({"state": Booking.CALLED_OFF}, {"start": AS_OF - HOUR * 3}):
        start = changed.pop("start", READY)
        row = visits_of_jobs([made("a", start, **changed)])[0]  # type: ignore[arg-type]
        assert (row.state, row.start, row.who) == (TO_BOOK, None, None)


def test_a_visit_without_any_date_comes_last() -> None:
    cold = plan(replace(a_job(climate=expected(9.0)), id="cold"), [], AS_OF)
    rows = visits_of_jobs([cold, made("a", None)])
    assert [row.job_id for row in rows] == ["a", "a", "cold", "cold"]
    assert rows[-1].earliest is None
