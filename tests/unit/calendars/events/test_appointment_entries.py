"""Appointments in the calendars: at their hour, for whom they concern, marked if they must move."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime, timedelta

import pytest
from calendar_samples import (
    AS_OF,
    HALL_PLAN,
    JOB,
    LEVELER_PLANNED,
    RULES,
    VISITS,
    at,
    crew,
    electrician,
    owner,
    plan,
    released,
)

from curecal.calendars import Audience, EventKey, Status, Timed, drafts, feeds
from curecal.calendars.events.removal_reason import removal_reasons
from curecal.calendars.revisions.revise import RemovalReason
from curecal.planning.plan import Appointment, Plan, Visit
from curecal.trade.findings import Message
from curecal.trade.job import Person, Role
from curecal.trade.site_log import Booking, VisitFor

SPARK = Person(Role.ELECTRICIAN, "Zoë Spark", license="E 1")
CONNECT = "visit test-and-connect"
START = at(11, 13)
TOO_EARLY = Message("visit-too-early", {"earliest_at": at(16)})


def agreed(
    start: datetime = START,
    purpose: VisitFor = VisitFor.TEST_AND_CONNECT,
    state: Booking = Booking.BOOKED,
    **more: object,
) -> Appointment:
    made = Appointment(
        "v1", purpose, state, start, start + timedelta(hours=2), "Zoë Spark", None, "e1", "log.0"
    )
    return replace(made, **more)  # type: ignore[arg-type]


def with_visit(appointment: Appointment, visit: Visit = VISITS[0], **more: object) -> Plan:
    made = plan(job=replace(JOB, people=(*JOB.people, SPARK)))
    visits = (replace(visit, appointment=appointment),)
    return replace(made, visits=visits, appointments=(appointment,), **more)  # type: ignore[arg-type]


def test_a_booked_visit_stands_at_its_hour_with_the_same_identity() -> None:
    booked = electrician(with_visit(agreed()))
    assert set(booked) == {CONNECT}
    assert booked[CONNECT].when == Timed(at(11, 13), at(11, 15))
    assert booked[CONNECT].busy
    assert "Booked: Fri 11 Dec 2026, 09:00 to 11:00, Zoë Spark." in (booked[CONNECT].description)
    assert "No appointment yet" not in booked[CONNECT].description
    assert booked[CONNECT].key == electrician(plan())[CONNECT].key


@pytest.mark.parametrize(
    ("state", "misfit", "status"),
    [
        (Booking.BOOKED, None, Status.TENTATIVE),
        (Booking.CONFIRMED, None, Status.CONFIRMED),
        (Booking.CONFIRMED, TOO_EARLY, Status.TENTATIVE),
        (Booking.CONFIRMED, Message("visit-after-window", {}), Status.CONFIRMED),
    ],
)
def test_how_firm_it_is(state: Booking, misfit: Message | None, status: Status) -> None:
    event = electrician(with_visit(agreed(state=state, misfit=misfit)))[CONNECT]
    assert event.status is status


def test_what_must_move_is_marked_in_every_calendar_and_stays() -> None:
    made = with_visit(agreed(misfit=TOO_EARLY))
    key = ("v1", "appointment test and connect")
    for event in (electrician(made)[CONNECT], crew(made)[key], owner(made)[key[1]]):
        assert event.summary.startswith("Must move: Alder Lane 7, hall bath")
        assert event.when == Timed(at(11, 13), at(11, 15))
        assert "it stays here until somebody moves it" in event.description


def test_no_text_of_it_rests_on_the_day_of_the_plan() -> None:
    later = replace(TOO_EARLY, params={"earliest_at": at(18)})
    texts = [
        [
            draft.content
            for feed in feeds(with_visit(agreed(misfit=misfit)), rules=RULES)
            for draft in drafts(feed)
        ]
        for misfit in (TOO_EARLY, later)
    ]
    assert texts[0] == texts[1]


def test_owner_and_crew_hear_who_comes_and_that_it_stays_off() -> None:
    made = with_visit(agreed())
    told = owner(made)["appointment test and connect"]
    assert told.when == Timed(at(11, 13), at(11, 15))
    assert told.summary == "Alder Lane 7, hall bath: visit, test and connect"
    assert "The floor heating stays off" in told.description
    assert "Zoë Spark" in crew(made)["v1", "appointment test and connect"].description
    on = agreed(purpose=VisitFor.SWITCH_ON)
    told = owner(with_visit(on, VISITS[1]))["appointment switch on"]
    assert "Please leave it off until then." in told.description


def test_a_visit_without_a_window_still_stands_at_its_hour() -> None:
    made = with_visit(agreed(purpose=VisitFor.ROUGH_IN), VISITS[2])
    event = electrician(made)["visit rough-in-and-first-test"]
    assert event.when == Timed(at(11, 13), at(11, 15))
    assert "The floor has no date right now." in event.description


def test_an_hour_that_is_over_gives_way_to_the_window() -> None:
    over = agreed(AS_OF - timedelta(hours=3))
    made = with_visit(over)
    assert electrician(made)[CONNECT].when == electrician(plan())[CONNECT].when
    assert ("v1", "appointment test and connect") not in crew(made)
    off = agreed(state=Booking.CALLED_OFF)
    assert electrician(with_visit(off))[CONNECT].when == electrician(plan())[CONNECT].when


def test_the_inspector_s_hour_takes_the_place_of_the_slot() -> None:
    unpoured = replace(HALL_PLAN, layers=(LEVELER_PLANNED, *HALL_PLAN.layers[1:]))
    look = agreed(at(4, 14), VisitFor.INSPECTION, who="Ira Inspector")
    made = replace(plan(unpoured), visits=(), appointments=(look,))
    slot = crew(made)["", "inspection-before-concealment"]
    assert slot.when == Timed(at(4, 14), at(4, 16))
    assert "Booked: Fri 4 Dec 2026, 10:00" in slot.description
    assert ("v1", "appointment inspection") not in crew(made)
    # An electrician need not come for it, and the owner has to let them in.
    assert not [purpose for purpose in electrician(made) if "appointment" in purpose]
    assert owner(made)["appointment inspection"].when == slot.when
    without = replace(plan(), visits=(), appointments=(look,))
    assert ("v1", "appointment inspection") in crew(without)


def test_an_electrician_s_other_errand_stands_in_their_calendar() -> None:
    other = agreed(purpose=VisitFor.OTHER)
    made = replace(with_visit(other), visits=())
    assert electrician(made)["appointment other"].when == Timed(at(11, 13), at(11, 15))


@pytest.mark.parametrize(
    ("changes", "reason"),
    [
        ({"state": Booking.DONE}, RemovalReason.DONE),
        ({"state": Booking.CALLED_OFF}, RemovalReason.OFF),
        ({"state": Booking.DECLINED}, RemovalReason.OFF),
        ({"start_at": at(1), "end_at": at(1, 14)}, RemovalReason.PAST),
        ({"id": "another"}, RemovalReason.OFF),
    ],
)
def test_how_an_appointment_leaves(changes: dict[str, object], reason: RemovalReason) -> None:
    key = EventKey(Audience.OWNER, "", "v1", "appointment test and connect")
    assert removal_reasons(with_visit(agreed(**changes)))(key) is reason  # type: ignore[arg-type]


def test_the_asking_entry_is_over_with_the_release() -> None:
    key = EventKey(Audience.OWNER, "hall", "", "ask before switching on")
    assert removal_reasons(plan(released()))(key) is RemovalReason.DONE
    assert removal_reasons(plan())(key) is RemovalReason.OFF
