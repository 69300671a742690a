"""What must be said, and to whom: one table by what has happened, complete over all kinds.

What a whole job brings is in `test_what_each_person_gets.py`; here each kind has its cause.
"""

from __future__ import annotations

from datetime import UTC, datetime
from typing import TYPE_CHECKING, Any, NamedTuple

import pytest
from reminder_samples import DAY, HOUR, evidence, job_text, of_kind, wants
from test_appointments_told import CONNECT_AT, visit
from test_wanted import CLEAR_AT, CREW_ON, LOG, MOVED, NOW, OWNER_ON, RELEASED, entries, told_all

from curecal.reminders.messages.kept_reminders import NOTICES
from curecal.reminders.reminder_types import MessageKind, Topic

if TYPE_CHECKING:
    from curecal.reminders.reminder_types import Heard

CREW, SPARKS, OWNER = "robin", "sam", "ida"
ALL = {CREW, SPARKS, OWNER}
NEW_GROUT = job_text().replace("done = 2026-11-06T12:00:00", 'duration = "6 h"')
LONG_GROUT = job_text().replace("done = 2026-11-06T12:00:00", 'duration = "30 h"')
COLDER = MOVED.replace('air = "20 °C"', 'air = "14 °C"')
ON_AT = datetime(2026, 12, 8, 13, tzinfo=UTC)


def fact(kind: str, at: datetime, by: str = "Robin Mistral", **more: Any) -> Any:
    [entry] = entries({"id": kind, "at": at, "kind": kind, "zone": "hall", "by": by, **more})
    return entry


STOP = fact("stopped", NOW + HOUR, cause="crack or loose tile", reason="a crack at the door")
OVER = fact("resumed", NOW + 2 * HOUR, found="the joint had shrunk")
ON = fact("energized", ON_AT, "Sam Okoro-Lind")
STEPS = [
    fact("heat_step", ON_AT + DAY, to="22 °C"),
    fact("heat_step", ON_AT + 2 * DAY, to="26 °C"),
]
BOOKED = visit()
# Once the floor is laid, and again each day until the end of what is told before.
HEARD_AT_NOW = told_all(wants(NOW), NOW)


class Said(NamedTuple):
    """What is said because of something: its kind, to whom, when, and from which facts.

    `told` are the instants up to which everybody heard what was due by then, with the facts known
    then.
    """

    kind: str
    to: set[str]
    now: datetime
    log: list[Any] = []  # noqa: RUF012 - never changed
    text: str = ""
    told: tuple[tuple[datetime, list[Any], str], ...] = ()


MUST_BE_SAID = {
    "something cures": Said("still-curing", {OWNER}, NOW),
    "the day told is tomorrow": Said(
        "evening-before", {OWNER}, datetime(2026, 12, 7, 13, tzinfo=UTC), told=((NOW, [], ""),)
    ),
    "the room must be kept warm": Said("keep-room", {CREW}, NOW),
    "a layer may be laid": Said("next-step", {CREW}, NOW, text=NEW_GROUT),
    "a layer was due and is not on record": Said(
        "is-it-done",
        {CREW},
        NOW + 5 * DAY,
        text=NEW_GROUT,
        told=((NOW + HOUR, [], NEW_GROUT), (NOW + 4 * HOUR, [], NEW_GROUT)),
    ),
    "a test is due": Said("reading-due", {CREW}, datetime(2026, 12, 4, 13, tzinfo=UTC)),
    "the cable was covered untested": Said("climate-risk", {CREW}, NOW),
    "no temperature for a week": Said("temperature-due", {CREW}, NOW + 8 * DAY),
    "all is done but the release": Said("release-due", {CREW}, CLEAR_AT + 5 * HOUR, LOG),
    "a visit has a window": Said("visit-booked", {SPARKS}, NOW),
    "a visit is tomorrow": Said(
        "visit-tomorrow",
        {SPARKS},
        datetime(2026, 11, 13, 13, tzinfo=UTC),
        text=job_text().replace("2026-11-06T12:00:00", "2026-11-13T08:30:00"),
        told=((datetime(2026, 11, 9, 16, tzinfo=UTC), [], LONG_GROUT),),
    ),
    "the day of a visit moved": Said(
        "visit-moved",
        {SPARKS},
        datetime(2026, 12, 4, 13, tzinfo=UTC),
        text=COLDER,
        told=((NOW, [], ""),),
    ),
    "a visit is no longer needed": Said(
        "visit-off", {SPARKS}, NOW + HOUR, told=((NOW, [], ""),),
        text=job_text(energized_by="owner"),
    ),
    "a visit has an hour": Said("visit-agreed", ALL, NOW, [BOOKED]),
    "a visit with an hour is tomorrow": Said(
        "visit-eve", ALL, CONNECT_AT - HOUR, [BOOKED], told=((NOW, [BOOKED], ""),)
    ),
    "the dates moved past a visit": Said(
        "visit-misfit",
        ALL,
        CONNECT_AT - DAY,
        [BOOKED, STOP],
        told=((NOW, [BOOKED], ""),),
    ),
    "a visit was called off": Said(
        "visit-called-off",
        ALL,
        NOW + HOUR,
        [BOOKED, visit("called off", at=NOW + HOUR)],
        told=((NOW, [BOOKED], ""),),
    ),
    "the late day moved": Said("moved", {OWNER}, NOW + 2 * DAY, text=MOVED, told=((NOW, [], ""),)),
    "both days moved": Said(
        "moved", {CREW, OWNER}, NOW + 2 * DAY, text=COLDER, told=((NOW, [], ""),)
    ),
    "it is stopped before it is connected": Said("stopped", {CREW, SPARKS}, NOW + HOUR, [STOP]),
    "it is stopped once it is connected": Said(
        "stopped",
        ALL,
        CLEAR_AT + HOUR,
        [*LOG, fact("stopped", CLEAR_AT, cause="tripped", reason="at noon")],
    ),
    "a stop is over": Said(
        "stop-over", {CREW, SPARKS}, NOW + 3 * HOUR, [STOP, OVER],
        told=((NOW, [], ""), (NOW + HOUR, [STOP], "")),
    ),
    "it was switched on too early": Said(
        "early-switch-on", ALL, NOW + HOUR, [fact("energized", NOW + HOUR, "Ida Fennell")]
    ),
    "it is released": Said("released", {SPARKS, OWNER}, CLEAR_AT + HOUR, RELEASED),
    "a release does not count any more": Said(
        "no-longer", ALL, CLEAR_AT + 2 * HOUR, LOG, told=((CLEAR_AT + HOUR, RELEASED, ""),)
    ),
    "it is on": Said("heat-day", {OWNER}, ON_AT + HOUR, [*RELEASED, ON]),
    "nobody wrote that it is on": Said("is-it-done", {CREW}, CLEAR_AT + 3 * DAY, RELEASED),
    "nobody wrote what it was set to": Said(
        "is-it-done", {CREW}, ON_AT + DAY + 9 * HOUR, [*RELEASED, ON]
    ),
    "the ramp is over": Said(
        "in-service",
        {OWNER},
        ON_AT + 7 * DAY,
        [*RELEASED, ON, *STEPS],
        told=((ON_AT + HOUR, [*RELEASED, ON], ""),),
    ),
}  # fmt: skip
# Their causes are of other kinds of floors, or lie in the sending.
ELSEWHERE = {
    MessageKind.CLOCK_UNSURE: "test_unsure_clock.py",
    MessageKind.BARE_HEAT_DAY: "test_bare_screed_told.py",
    MessageKind.INSPECTION_DUE: "test_wanted.py",
    MessageKind.LOGGER_DUE: "test_wanted.py",
    **dict.fromkeys(NOTICES, "test_ways_that_fail.py, test_one_damaged.py"),
}


def heard_by(case: Said) -> list[Heard]:
    told: list[Heard] = []
    for at, log, text in case.told:
        told += told_all(wants(at, told, text, log=log), at)
    return told


@pytest.mark.parametrize("cause", MUST_BE_SAID)
def test_what_must_be_said_is_said_to_whom_it_concerns(cause: str) -> None:
    case = MUST_BE_SAID[cause]
    found = wants(case.now, heard_by(case), case.text, log=case.log)
    due = [each for each in found if each.kind == case.kind and each.due_at <= case.now + DAY]
    assert {each.recipient.partition("@")[0] for each in due} == case.to


def test_the_table_is_complete() -> None:
    assert {case.kind for case in MUST_BE_SAID.values()} | set(ELSEWHERE) == set(MessageKind)


def test_the_day_it_is_cured_is_told_to_the_crew_and_the_late_one_to_the_owner() -> None:
    days = {each.topic: each.day_on for each in wants(NOW) if each.topic in {"crew", "owner"}}
    assert days == {Topic.CREW: CREW_ON, Topic.OWNER: OWNER_ON}


def test_the_release_is_looked_at_when_the_last_waits_are_over() -> None:
    """Nothing else may be wanted on that day: without this the crew lead heard of it days later."""
    before = datetime(2026, 12, 4, 12, tzinfo=UTC)
    log = entries(*evidence(datetime(2026, 12, 4, 11, tzinfo=UTC)))
    ahead = of_kind(wants(before, log=log), "release-due")[0]
    assert before < ahead.due_at <= before + 3 * DAY
    # By then it is so, and is said.
    assert of_kind(wants(ahead.due_at, log=log), "release-due")[0].due_at == ahead.due_at
    # While something else is outstanding nothing of the kind is wanted.
    assert not of_kind(wants(before), "release-due")
