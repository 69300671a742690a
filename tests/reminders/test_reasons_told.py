"""Why a floor stays off, in words that hold: only the crew lead's release permits."""

from __future__ import annotations

from datetime import UTC, datetime
from typing import TYPE_CHECKING

import pytest
from reminder_samples import (
    DAY,
    HOUR,
    RULES,
    Clock,
    Post,
    a_job,
    a_plan,
    job_text,
    of_kind,
    url_of,
    wants,
)
from test_days_moved import two
from test_wanted import LOG, NOW, RELEASED, entries, told_all

from curecal.book.meta import beat, hold
from curecal.book.outbox.outbox_rows import Wanted
from curecal.cli.remind.remind_shown import status_shown
from curecal.job_files.days_off import day_off_for
from curecal.planning.plan import State
from curecal.planning.working_time.working_calendar import Calendar
from curecal.reminders.messages.kept_reminders import meant_at
from curecal.reminders.messages.send_context import PlannedNow
from curecal.reminders.messages.texts import Composed, compose, reader_words
from curecal.reminders.recipients import is_out_of_reach, recipients
from curecal.reminders.reminder_rules import shipped_rules
from curecal.trade.job import Person, Role

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

    from curecal.reminders.reminder_types import Reminder

OUR_WORD = "until we tell you"
PASSED = datetime(2026, 12, 15, 12, tzinfo=UTC)
COLD = job_text(coldest="2 °C").replace('air = "20 °C"', 'air = "3 °C"')


@pytest.fixture
def post(tmp_path: Path) -> Iterator[Post]:
    """Give an empty book with a cycle."""
    found = Post(url_of(tmp_path), Clock(NOW))
    yield found
    found.close()


def said(reminder: Reminder, text: str = "", role: Role = Role.OWNER) -> Composed:
    """A reminder of a job in words."""
    job, _ = a_job(text)
    return compose(reminder, reader_words(job, RULES, None), role=role)


@pytest.mark.parametrize(
    ("at", "text", "log", "state", "reason"),
    [
        (PASSED, "", [], State.ON_HOLD, "last checks are not done yet"),
        (PASSED, "", LOG, State.CLEAR, "the crew lead's release is missing"),
        (NOW, COLD, [], State.NO_DATE, "Why there is no day"),
    ],
)
@pytest.mark.parametrize("who", ["owner", "electrician"])
def test_without_a_day_the_owner_hears_the_reason_that_holds(
    at: datetime, text: str, log: list[object], state: State, reason: str, who: str
) -> None:
    text = (text or job_text()).replace('energized_by = "electrician"', f'energized_by = "{who}"')
    plan, _ = a_plan(at, text, log)  # type: ignore[arg-type]
    assert plan.zones[0].state is state
    found = of_kind(wants(at, text=text, log=log), "still-curing")  # type: ignore[arg-type]
    assert found
    for each in found:
        assert each.parts[0] == "undated"
        told = said(each, text)
        assert reason in told.body
        assert ("last checks" in told.body) == (state is State.ON_HOLD)
        lines = [line for line in told.body.splitlines() if reason in line]
        assert all(line.endswith(f"{OUR_WORD}.") for line in lines)
        assert OUR_WORD in told.short


def test_every_message_without_a_day_ends_at_our_word() -> None:
    told = told_all(wants(NOW), NOW)
    [moved] = of_kind(wants(NOW + HOUR, told, text=COLD), "moved", "ida")
    assert moved.parts[0] == "owner-undated"
    words = said(moved, COLD)
    assert OUR_WORD in words.body
    assert OUR_WORD in words.short


def test_the_evening_before_counts_on_our_word_not_on_checks() -> None:
    [found] = of_kind(wants(NOW, told_all(wants(NOW), NOW)), "evening-before")
    assert "we will tell you when it may go on" in said(found).body


def test_a_subject_names_the_job() -> None:
    for name, zone, subject in (
        ("Elm Road", "hall", "Elm Road, hall"),
        ("Elm Road, hall", "hall", "Elm Road, hall"),
        # Part of a word is no name.
        ("Hallway Row", "hall", "Hallway Row, hall"),
        ("hall", "Hall", "hall"),
    ):
        text = job_text(name=name, zone_name=zone)
        [found, *_] = of_kind(wants(NOW, text=text), "still-curing")
        told = said(found, text)
        assert told.subject == f"{subject}: please leave the floor heating off"
        assert told.body.splitlines()[0] == subject
    # A job that is named by both of its zones: each is named beside it.
    text = two("18 °C").replace("Elm Road", "hall and bath")
    found = of_kind(wants(NOW, text=text), "still-curing")
    assert {said(each, text).subject.partition(": ")[0] for each in found} == {
        "hall and bath, hall",
        "hall and bath, bath",
    }


def test_once_the_floor_is_on_nobody_is_asked_to_switch_it_on() -> None:
    own = job_text(energized_by="owner")
    at = datetime(2026, 12, 8, 12, tzinfo=UTC)
    assert not of_kind(wants(at - HOUR, text=own, log=RELEASED), "heat-day")
    on = entries({"id": "on", "at": at, "kind": "energized", "zone": "hall", "by": "Ida Fennell"})
    first, *rest = of_kind(wants(at + HOUR, text=own, log=[*RELEASED, *on]), "heat-day")
    assert "first" in first.parts
    assert rest
    # The first morning is over for them.
    assert not any("not-measured" in each.parts for each in rest)
    # Nobody knows yet what the floor will be at by then.
    assert {each.parts[0] for each in rest[1:]} == {"unknown"}
    step = {"id": "step", "at": at + DAY, "kind": "heat_step", "zone": "hall", "to": "21 °C"}
    known = entries({**step, "by": "Ida Fennell"})
    log = [*RELEASED, *on, *known]
    last = said(of_kind(wants(at + DAY + HOUR, text=own, log=log), "heat-day")[-1], own)
    assert "at the earliest" in last.body
    assert "until we tell you" in last.body


def test_mail_to_an_address_that_no_mail_can_go_to_is_a_call() -> None:
    def reach(**more: object) -> bool:
        [person] = recipients([Person(Role.OWNER, "Ida Fennell", **more)])  # type: ignore[arg-type]
        return is_out_of_reach(person)

    assert reach(email="ida@höme.example")
    assert not reach(email="ida@home.example")
    assert not reach(email="ida@höme.example", phone="+15550100", reach_by=("email", "text"))
    assert reach(phone="+15550100", reach_by=("phone",))


@pytest.mark.parametrize(
    ("to", "urgent", "meant"),
    [
        # Known since a Friday night: the electrician hears at Monday's time, the owner on Saturday.
        ("sam@sparks.example", False, datetime(2026, 11, 23, 20, tzinfo=UTC)),
        ("ida@home.example", False, datetime(2026, 11, 21, 12, tzinfo=UTC)),
        ("sam@sparks.example", True, datetime(2026, 11, 21, 2, tzinfo=UTC)),
    ],
)
def test_what_waits_for_a_morning_is_meant_for_it(
    to: str, meant: datetime, *, urgent: bool
) -> None:
    friday = datetime(2026, 11, 21, 2, tzinfo=UTC)
    plan, log = a_plan(friday)
    job = plan.job
    people = {each.id: each for each in recipients(job.people)}
    calendar = Calendar(job.work, job.tz, day_off_for(job))
    planned = PlannedNow(plan, tuple(log), calendar, people, shipped_rules())
    payload = {"due_at": NOW.isoformat(), "since": friday.isoformat(), "recipient": to}
    row = Wanted(
        job_id="elm-road",
        zone_id="hall",
        kind="moved",
        person=to,
        channel="email",
        recipient=to,
        generation=1,
        fire_at=friday,
        payload={**payload, "urgent": urgent},
    )
    assert meant_at(row, planned) == meant


def test_the_last_sign_of_life_is_not_of_a_minute_to_come(
    post: Post, capsys: pytest.CaptureFixture[str]
) -> None:
    at = datetime(2026, 11, 9, 14, 49, 50, tzinfo=UTC)
    with post.book.writing() as connection:
        beat(connection, "desk", at=at, clock=post.clock.boot(), note={"down": {}})
        hold(connection, "person", now=at)
    status_shown(post.book, now=at, as_json=False)
    shown = capsys.readouterr().out
    assert shown.count("14:49") == 2
    assert "14:50" not in shown
