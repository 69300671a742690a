"""What each person gets in a whole job: few messages, nothing past its day, nothing left out.

The limits are our own choice; the job is played forward on the real planner.
"""

from __future__ import annotations

import os
import random
from collections import Counter, defaultdict
from datetime import UTC, date, datetime
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING

import pytest
from reminder_samples import RULES, a_job, job_text

from curecal.instants import local_day
from curecal.job_files import read_job
from curecal.job_files.days_off import day_off_for
from curecal.planning.plan import State
from curecal.reminders.recipients import recipients
from curecal.reminders.reminder_rules import shipped_rules
from curecal.reminders.reminder_types import STOPS, MessageKind, Topic
from curecal.reminders.simulation.simulate import Played, Simulation, simulate
from curecal.trade.job import Job, Role

if TYPE_CHECKING:
    from collections.abc import Iterable

pytestmark = pytest.mark.slow

EXAMPLES = sorted((Path(__file__).parents[2] / "examples").glob("*/job.toml"))
# Each is a job played to its end, for each of the laws.
SEEDS = range(
    200
    if os.environ.get("CURECAL_TESTS_LONG")
    else 8
    if os.environ.get("CURECAL_TESTS_COMPLETE")
    else 3
)
MOVES = {MessageKind.MOVED, MessageKind.VISIT_MOVED, MessageKind.VISIT_OFF}

# What may not be left out of a job that comes to its end: whom, what, and when it is owed.
MUST_BE_SAID = (
    (Role.OWNER, MessageKind.STILL_CURING, "while something cures"),
    (Role.OWNER, MessageKind.RELEASED, "at the release"),
    (Role.OWNER, MessageKind.HEAT_DAY, "once it is on"),
    (Role.OWNER, MessageKind.IN_SERVICE, "at the end"),
    (Role.ELECTRICIAN, MessageKind.VISIT_BOOKED, "before a visit"),
    (Role.ELECTRICIAN, MessageKind.RELEASED, "at the release"),
    (Role.CREW_LEAD, MessageKind.KEEP_ROOM, "while something cures"),
    (Role.CREW_LEAD, MessageKind.NEXT_STEP, "before work to come"),
)


def random_text(seed: int) -> str:
    """Return a floor at a random point of its work, in a random climate."""
    chance = random.Random(seed)  # noqa: S311 - a test's own
    text = job_text(coldest=f"{chance.choice([10, 14, 16, 18])} °C")
    if chance.random() < 0.5:
        text = text.replace("done = 2026-11-06T12:00:00\n", 'duration = "6 h"\n')
    if chance.random() < 0.3:
        text = text.replace("done = 2026-10-30T16:00:00\n", 'duration = "8 h"\n')
        text = text.replace("done = 2026-11-06T12:00:00\n", 'duration = "6 h"\n')
    zone = chance.choice(["America/Halifax", "Europe/Vienna", "Australia/Adelaide"])
    return text.replace("America/Halifax", zone)


@cache
def played(name: str) -> tuple[Simulation, Job]:
    """Return an example, or a random job by its number, played forward."""
    if name.isdigit():
        job, log = a_job(random_text(int(name)))
        start = datetime(2026, 11, 6, 17, tzinfo=UTC)
    else:
        read = read_job(next(path for path in EXAMPLES if path.parent.name == name))
        assert read.job is not None
        job, log, start = read.job, read.log, datetime(2026, 11, 25, 12, tzinfo=UTC)
    rules, cold = shipped_rules(), name.isdigit() and int(name) % 3 == 0
    day_off = day_off_for(job)
    found = simulate(job, log, start, rules=RULES, reminder_rules=rules, day_off=day_off, cold=cold)
    return found, job


NAMES = [*(str(seed) for seed in SEEDS), *(path.parent.name for path in EXAMPLES)]
every_job = pytest.mark.parametrize("name", NAMES)


def heard_by(found: Simulation, job: Job, role: Role) -> list[Played]:
    """Return what people of one role alone heard."""
    ids = {person.id for person in recipients(job.people) if person.roles == (role,)}
    return [each for each in found.played if each.reminder.recipient in ids]


def count(messages: Iterable[Played]) -> int:
    return len({each.message for each in messages})


@every_job
def test_an_owner_and_an_electrician_hear_seldom(name: str) -> None:
    found, job = played(name)
    # A second floor of a house has a last day, a release and an end of its own.
    more = len(job.zones) - 1
    owner = heard_by(found, job, Role.OWNER)
    moves = count(each for each in owner if each.reminder.kind in MOVES)
    said = count(each for each in owner if each.reminder.kind != MessageKind.HEAT_DAY)
    assert said <= min(8 + 2 * moves, 12) + 3 * more
    visits = heard_by(found, job, Role.ELECTRICIAN)
    moved = count(each for each in visits if each.reminder.kind in MOVES)
    assert count(visits) <= 4 + moved + more


@every_job
def test_a_release_is_one_message_to_each(name: str) -> None:
    found, job = played(name)
    for role in (Role.OWNER, Role.ELECTRICIAN):
        said = Counter(
            (each.reminder.zone_id, local_day(each.at, job.tz))
            for each in heard_by(found, job, role)
            if each.reminder.kind == MessageKind.RELEASED
            or (each.reminder.kind in MOVES and each.reminder.topic is Topic.ENERGIZE_VISIT)
        )
        released_on = {
            (zone.zone.id, local_day(at, job.tz))
            for zone in found.plan.zones
            if (at := zone.released_at)
        }
        assert {said[key] for key in released_on & set(said)} <= {1}


@every_job
def test_a_crew_lead_hears_once_a_working_day(name: str) -> None:
    found, job = played(name)
    by_day: dict[date, set[int]] = defaultdict(set)
    day_off = day_off_for(job)
    for each in heard_by(found, job, Role.CREW_LEAD):
        day = local_day(each.at, job.tz)
        if not each.reminder.alone:
            assert not day_off(day)
            by_day[day].add(each.message)
    assert {len(messages) for messages in by_day.values()} <= {1}


@every_job
def test_nothing_is_said_after_its_day(name: str) -> None:
    found, job = played(name)
    for each in found.played:
        reminder, today = each.reminder, local_day(each.at, job.tz)
        if reminder.topic and reminder.day_on is not None:
            assert reminder.day_on >= today, reminder
        start_at = reminder.params.get("start_at")
        if isinstance(start_at, datetime):
            assert local_day(start_at, job.tz) >= today, reminder
        for name_of_day in ("until_on", "late_on"):
            day = reminder.params.get(name_of_day)
            if isinstance(day, date) and "counts" not in reminder.parts:
                assert day >= today, reminder


@every_job
def test_no_two_lines_of_a_morning_contradict(name: str) -> None:
    found, job = played(name)
    told: dict[tuple[object, ...], set[date | None]] = defaultdict(set)
    for each in found.played:
        reminder = each.reminder
        if reminder.topic and not reminder.alone:
            day = local_day(each.at, job.tz)
            told[reminder.recipient, day, reminder.zone_id, reminder.topic].add(reminder.day_on)
    assert {len(days) for days in told.values()} <= {1}


@every_job
def test_nothing_that_must_be_said_is_left_out(name: str) -> None:
    found, job = played(name)
    assert {zone.state for zone in found.plan.zones} == {State.IN_SERVICE}
    new = [zone for zone in job.zones if not any(layer.repair for layer in zone.layers)]
    roles = {role for person in recipients(job.people) for role in person.roles}
    for role, kind, when in MUST_BE_SAID:
        if role not in roles or (not new and role is not Role.OWNER):
            continue
        if kind == MessageKind.NEXT_STEP and not _work_to_come(job):
            continue
        heard = {each.reminder.kind for each in heard_by(found, job, role)}
        assert kind in heard, (role, kind, when)
    # Each knows their day: the crew when it is cured, the owner when they may be told to go on.
    for role, topic in ((Role.CREW_LEAD, Topic.CREW), (Role.OWNER, Topic.OWNER)):
        told = {each.reminder.topic for each in heard_by(found, job, role)}
        assert topic in told or role not in roles
    # Each number of a ramp, once; and no stop where nothing happened.
    numbers = Counter(
        (each.reminder.zone_id, each.reminder.params["day_on"])
        for each in found.played
        if each.reminder.kind == MessageKind.HEAT_DAY
    )
    assert set(numbers.values()) == {1}
    assert not [each for each in found.played if each.reminder.kind in STOPS]


def _work_to_come(job: Job) -> bool:
    layers = [layer for zone in job.zones for layer in zone.layers]
    return any(layer.done_at is None and not layer.existing for layer in layers)


@every_job
def test_a_visit_is_announced_once(name: str) -> None:
    found, _ = played(name)
    booked = Counter(
        (each.reminder.recipient, zone_id, each.reminder.topic)
        for each in found.played
        if each.reminder.kind == MessageKind.VISIT_BOOKED
        for zone_id in (each.reminder.zone_id, *dict(each.reminder.occasion.also))
    )
    assert set(booked.values()) <= {1}


@every_job
def test_every_number_comes_after_it_is_on_and_no_day_before_it_was_told(name: str) -> None:
    found, _ = played(name)
    on = {entry.zone: entry.at for entry in found.log if type(entry).__name__ == "Energized"}
    for each in found.played:
        if each.reminder.kind == MessageKind.HEAT_DAY:
            assert each.at >= on[each.reminder.zone_id]
        if each.reminder.kind == MessageKind.EVENING_BEFORE:
            before = [
                other
                for other in found.played
                if other.at < each.at
                and other.reminder.recipient == each.reminder.recipient
                and other.reminder.topic == Topic.OWNER
                and other.reminder.zone_id == each.reminder.zone_id
            ]
            assert before[-1].reminder.day_on == each.reminder.day_on
