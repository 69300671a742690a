"""A whole job played forward: who hears what, in which order, and what nobody may hear."""

from __future__ import annotations

from datetime import UTC, datetime
from itertools import pairwise
from pathlib import Path

import pytest
from reminder_samples import FINISHED, HOUR, RULES, a_job, job_text

from curecal.job_files import read_job
from curecal.job_files.days_off import day_off_for
from curecal.planning.plan import State
from curecal.reminders.messages.texts import compose, reader_words
from curecal.reminders.recipients import recipients
from curecal.reminders.reminder_rules import shipped_rules
from curecal.reminders.reminder_types import MAY
from curecal.reminders.simulation.simulate import Simulation, simulate
from curecal.reminders.timing.sending_hours import is_quiet
from curecal.trade.job import Job, Role

pytestmark = pytest.mark.slow

EXAMPLES = sorted((Path(__file__).parents[2] / "examples").glob("*/job.toml"))
# What would let an owner switch on.
PERMISSION = ("may switch", "be switched on from", "you may set", "is released", "you may do this")


def played(text: str = "", *, cold: bool = False) -> tuple[Simulation, Job]:
    job, log = a_job(text)
    found = simulate(
        job,
        log,
        FINISHED + HOUR,
        rules=RULES,
        reminder_rules=shipped_rules(),
        day_off=day_off_for(job),
        cold=cold,
    )
    return found, job


def owner_texts(found: Simulation, job: Job) -> list[tuple[datetime, str, str]]:
    people = {each.id: each for each in recipients(job.people)}
    texts = []
    for each in found.played:
        person = people[each.reminder.recipient]
        if person.roles == (Role.OWNER,):
            words = reader_words(job, RULES, person.language)
            said = compose(each.reminder, words, role=Role.OWNER)
            texts.append(
                (each.at, each.reminder.kind, f"{said.subject}\n{said.body}\n{said.short}")
            )
    return texts


def test_the_floor_ends_in_service_and_everybody_heard_their_part() -> None:
    found, _ = played()
    assert [zone.state for zone in found.plan.zones] == [State.IN_SERVICE]
    heard = {
        (each.reminder.recipient.partition("@")[0], each.reminder.kind) for each in found.played
    }
    assert heard >= {
        ("ida", "still-curing"),
        ("ida", "evening-before"),
        ("ida", "released"),
        ("ida", "heat-day"),
        ("ida", "in-service"),
        ("robin", "keep-room"),
        ("sam", "visit-booked"),
        ("sam", "released"),
    }


@pytest.mark.parametrize("cold", [False, True])
@pytest.mark.parametrize("energized_by", ["owner", "electrician"])
def test_before_the_release_no_owner_reads_a_permission(energized_by: str, *, cold: bool) -> None:
    found, job = played(job_text(energized_by=energized_by), cold=cold)
    released_at = next(each.at for each in found.played if each.reminder.kind in MAY)
    before = [text for at, _, text in owner_texts(found, job) if at < released_at]
    assert len(before) >= 2
    assert not [text for text in before for words in PERMISSION if words in text.casefold()]
    after = [text for at, _, text in owner_texts(found, job) if at >= released_at]
    assert any("is ready" in text for text in after)


def test_the_release_comes_before_the_first_number() -> None:
    found, _ = played()
    kinds = [each.reminder.kind for each in found.played if each.reminder.recipient[:3] == "ida"]
    assert kinds.index("released") < kinds.index("heat-day")


def test_numbers_rise_a_morning_at_a_time_and_none_is_said_twice() -> None:
    found, _ = played()
    days = [
        each.reminder.params["day_on"] for each in found.played if each.reminder.kind == "heat-day"
    ]
    assert days == sorted(set(days))  # type: ignore[type-var]
    assert len(days) >= 3


def test_cold_makes_it_later_and_never_earlier() -> None:
    usual, _ = played()
    cold, _ = played(cold=True)
    ends = [
        next(each.at for each in found.played if each.reminder.kind == "released")
        for found in (usual, cold)
    ]
    assert ends[0] < ends[1]


def test_nothing_usual_goes_out_in_the_night_and_nobody_hears_a_thing_twice() -> None:
    found, job = played()
    assert not [
        each.reminder.kind
        for each in found.played
        if not each.reminder.urgent and is_quiet(each.at, shipped_rules(), job.tz)
    ]
    keys = [each.reminder.key for each in found.played]
    assert len(keys) == len(set(keys))
    assert all(one.at <= two.at for one, two in pairwise(found.played))


@pytest.mark.slow
def test_it_is_the_same_play_each_time() -> None:
    assert played()[0].played == played()[0].played


@pytest.mark.slow
@pytest.mark.parametrize("path", EXAMPLES, ids=[path.parent.name for path in EXAMPLES])
def test_every_example_comes_to_its_end(path: Path) -> None:
    read = read_job(path)
    assert read.job is not None
    job = read.job
    found = simulate(
        job,
        read.log,
        datetime(2026, 11, 25, 12, tzinfo=UTC),
        rules=RULES,
        reminder_rules=shipped_rules(),
        day_off=day_off_for(job),
    )
    assert {zone.state for zone in found.plan.zones} == {State.IN_SERVICE}


def test_all_that_is_said_can_be_said_in_words() -> None:
    found, job = played(job_text(name="Elm {Road} [?x?]", zone_name="hall"))
    people = {each.id: each for each in recipients(job.people)}
    for each in found.played:
        person = people[each.reminder.recipient]
        said = compose(
            each.reminder,
            reader_words(job, RULES, person.language),
            role=person.roles[0],
            late=True,
        )
        assert said.subject.isprintable()
        assert said.short.isprintable()
        # What people typed stands as they typed it, and every place of ours is filled.
        assert "{" not in said.body.replace("{Road}", "")
        assert "comes late" in said.body
