"""Appointments: what the log agrees of visits, and which one the floor's days no longer allow."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime

import pytest
from planning_log import HOUR, READY, a_job, codes, courses, evidence, fact, released
from planning_samples import DAY, START, expected, layer, plan, sheet, zone

from curecal.planning.plan import Appointment, Plan, VisitKind
from curecal.trade.job import Code, Person, Role, Zone
from curecal.trade.site_log import Booking, Cause, Stopped, VisitFor, VisitNote

SPARK = Person(Role.ELECTRICIAN, "Zoë Spark", license="E 1")
LEAD = Person(Role.CREW_LEAD, "Ada")
CONNECT, SWITCH_ON = VisitFor.TEST_AND_CONNECT, VisitFor.SWITCH_ON


def booked(start: datetime | None, said: datetime = START, **more: object) -> VisitNote:
    made = {"visit": "v1", "state": Booking.BOOKED, "purpose": CONNECT, "start_at": start}
    return fact(VisitNote, said, **{**made, **more})


def only(made: Plan) -> Appointment:
    (found,) = made.appointments
    return found


def tiled(**more: object) -> Zone:
    """A floor whose grout is still to come: two days after its mortar, at the earliest."""
    leveler, mortar, _ = courses()
    grout = layer(sheet("cement grout", 3.0), None, "grout", duration_s=4 * 3600.0)
    return zone(leveler, mortar, grout, **more)


def test_an_appointment_stands_at_its_visit() -> None:
    job = a_job(people=(LEAD, SPARK))
    made = plan(job, [booked(READY - DAY)], START + DAY * 4)
    found = only(made)
    assert (found.id, found.state, found.who) == ("v1", Booking.BOOKED, "Zoë Spark")
    # Nobody named an end: it takes an hour.
    assert (found.start_at, found.end_at) == (READY - DAY, READY - DAY + HOUR)
    assert found.misfit is None
    agreed = {visit.kind: visit.appointment for visit in made.visits}
    assert agreed == {VisitKind.CONNECTION: found, VisitKind.ENERGIZE: None}
    assert not [code for code in codes(made) if code.startswith("visit-")]


def test_the_last_entry_of_an_id_holds_and_what_it_leaves_out_stays() -> None:
    first = booked(READY, end_at=READY + HOUR * 2, who="Zoë Spark")
    later = booked(READY + DAY, START + HOUR, state=Booking.CONFIRMED, purpose=None, visit=" V1")
    found = only(plan(a_job(), [later, first], START + DAY * 4))
    assert (found.state, found.purpose, found.who) == (Booking.CONFIRMED, CONNECT, "Zoë Spark")
    assert (found.start_at, found.end_at) == (READY + DAY, READY + DAY + HOUR * 2)
    off = booked(None, START + HOUR * 2, state=Booking.CALLED_OFF, purpose=None)
    made = plan(a_job(), [first, later, off], START + DAY * 4)
    assert not only(made).stands
    assert all(visit.appointment is None for visit in made.visits)


def test_who_may_say_it() -> None:
    owner = Person(Role.OWNER, "Ida Fennell")
    job = a_job(people=(LEAD, SPARK, owner))
    late = START + DAY * 4
    for by, counts in (("Ada", True), ("Zoë Spark", True), ("Ida Fennell", False), (None, False)):
        made = plan(job, [booked(READY, by=by)], late)
        assert bool(made.appointments) is counts
        assert ("signature-role" in codes(made)) is (by == "Ida Fennell")
    # That nobody comes counts from anybody.
    off = booked(None, START + HOUR, state=Booking.DECLINED, by="Ida Fennell")
    assert not only(plan(job, [booked(READY), off], late)).stands


def test_an_entry_without_a_start_is_no_appointment() -> None:
    made = plan(a_job(), [booked(None)], START + DAY * 4)
    assert made.appointments == ()
    assert "visit-incomplete" in codes(made)


def test_a_visit_booked_before_the_last_layer_is_down_is_marked() -> None:
    # Mortar at START + 2 d, two days to grout, four hours of work: connected after that.
    job = a_job(tiled())
    made = plan(job, [booked(START + DAY * 4)], START + DAY * 3)
    misfit = only(made).misfit
    assert misfit is not None
    assert misfit.code == "visit-too-early"
    assert misfit.params["layer"] == "grout"
    assert misfit.params["earliest_at"] == made.visits[0].window.earliest  # type: ignore[union-attr]
    assert misfit.params["earliest_at"] == START + DAY * 4 + HOUR * 4
    fits = plan(job, [booked(START + DAY * 4 + HOUR * 4)], START + DAY * 3)
    assert only(fits).misfit is None


def test_a_switch_on_may_not_come_before_the_first_day() -> None:
    # The clocks end at READY, noon on Mon 8 Mar: the first day is Tue 9 Mar, 08:00.
    first = READY.replace(hour=8) + DAY
    for log in ([], released()):
        as_of = READY + HOUR * 2 if log else READY - DAY
        for start, code in ((first - HOUR, "visit-too-early"), (first, None)):
            note = booked(start, purpose=SWITCH_ON)
            misfit = only(plan(a_job(), [*log, note], as_of)).misfit
            assert (misfit and misfit.code) == code
    # A day that passes without a release moves no appointment.
    late = plan(a_job(), [booked(READY + DAY * 3, purpose=SWITCH_ON)], READY + DAY * 2)
    assert only(late).misfit is None


def test_a_visit_later_than_the_floor_needs_is_a_caution() -> None:
    made = plan(a_job(), [booked(READY + DAY * 3)], START + DAY * 4)
    misfit = only(made).misfit
    assert misfit is not None
    assert misfit.code == "visit-after-window"
    assert [found.severity for found in made.findings if found.code == misfit.code] == ["caution"]


def test_a_visit_to_a_floor_without_a_date_must_move() -> None:
    stopped = fact(Stopped, START + DAY * 4, cause=Cause.OTHER)
    cold = a_job(climate=expected(9.0))
    for job, log in ((a_job(), [stopped]), (cold, [])):
        made = plan(job, [*log, booked(READY + DAY)], START + DAY * 5)
        assert only(made).misfit.code == "visit-without-date"  # type: ignore[union-attr]


def test_the_cable_is_seen_before_it_is_covered() -> None:
    pour_at = (START + DAY * 3).replace(hour=8)
    pour = layer(
        sheet("leveler", 3.0), None, thickness_m=0.005, planned_start_at=pour_at, over_cable=True
    )
    free = layer(sheet("leveler", 3.0), None, thickness_m=0.005, over_cable=True)
    for purpose in (VisitFor.ROUGH_IN, VisitFor.INSPECTION):
        for bed, start, code in (
            (pour, pour_at, "visit-after-work"),
            (pour, pour_at - HOUR, None),
            (free, pour_at, None),
        ):
            note = booked(start, purpose=purpose)
            made = plan(a_job(zone(bed), code=Code.NEC), [note], START + HOUR)
            misfit = only(made).misfit
            assert (misfit and misfit.code) == code


def test_an_inspector_who_comes_after_the_pour_is_not_held_against_it() -> None:
    note = booked(READY, purpose=VisitFor.INSPECTION)
    made = plan(a_job(code=Code.NEC), [note], START + DAY * 4)
    assert only(made).misfit is None


def test_what_is_over_or_has_nothing_to_do_says_so() -> None:
    as_of = START + DAY * 5
    passed = plan(a_job(), [booked(as_of - HOUR * 2)], as_of)
    assert only(passed).misfit.code == "visit-passed"  # type: ignore[union-attr]
    there = plan(a_job(), [booked(as_of - HOUR / 2)], as_of)
    assert only(there).misfit is None
    done = plan(a_job(), [*evidence(), booked(READY + DAY)], READY)
    assert only(done).misfit.code == "visit-not-needed"  # type: ignore[union-attr]
    assert only(plan(a_job(), [*evidence(), booked(READY - DAY)], READY)).misfit is None
    other = plan(a_job(), [booked(READY, purpose=VisitFor.OTHER)], as_of)
    assert only(other).misfit is None
    assert only(other).who is None


def test_one_appointment_serves_all_zones_and_one_of_its_own_parts_them() -> None:
    two = a_job(zone(*courses(), id="a"), zone(*courses(), id="b"))
    as_of = START + DAY * 4

    def connected(*log: VisitNote) -> list[tuple[tuple[str, ...], bool]]:
        visits = plan(two, log, as_of).visits
        kind = VisitKind.CONNECTION
        return [(one.zone_ids, one.appointment is not None) for one in visits if one.kind is kind]

    assert connected() == [(("a", "b"), False)]
    assert connected(booked(READY)) == [(("a", "b"), True)]
    assert connected(booked(READY, zone="b")) == [(("a",), False), (("b",), True)]


def test_zones_too_far_apart_for_one_visit_still_share_their_appointment() -> None:
    early = zone(*courses(), id="a")
    # The first is ready on Mon 8 Mar, before the other's grout is even laid.
    grout = layer(sheet("cement grout", 3.0), None, "grout", planned_start_at=START + DAY * 14)
    late = zone(*courses()[:2], grout, id="b")

    def served(*log: VisitNote) -> list[tuple[str, ...]]:
        visits = plan(a_job(early, late), log, START + DAY * 5).visits
        return [visit.zone_ids for visit in visits if visit.kind is VisitKind.CONNECTION]

    assert served() == [("a",), ("b",)]
    assert served(booked(START + DAY * 16)) == [("a", "b")]


@pytest.mark.parametrize("needless", ["a", "b"])
def test_a_zone_without_need_marks_no_appointment_that_another_has(needless: str) -> None:
    other = {"a": "b", "b": "a"}[needless]
    two = a_job(zone(*courses(), id="a"), zone(*courses(), id="b"))
    log = [note for note in evidence() if note.zone is None]
    ours = [_in(note, needless) for note in log]
    made = plan(two, [*ours, booked(READY + HOUR)], READY)
    visits = {visit.zone_ids for visit in made.visits if visit.kind is VisitKind.CONNECTION}
    assert visits == {(other,)}
    assert only(made).misfit is None


def _in(note: object, zone_id: str) -> object:
    return replace(note, zone=zone_id)  # type: ignore[type-var]


def test_an_appointment_moves_no_date() -> None:
    job = a_job(tiled())
    without = plan(job, [], START + DAY * 3)
    for start in (START + DAY * 3 + HOUR, READY, READY + DAY * 30):
        for purpose in VisitFor:
            made = plan(job, [booked(start, purpose=purpose)], START + DAY * 3)
            assert made.zones == without.zones
            windows = [[visit.window for visit in one.visits] for one in (made, without)]
            assert windows[0] == windows[1]
