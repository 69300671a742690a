"""What is told within one day: one person never hears two days, and visits stand in their order."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from functools import cache
from pathlib import Path

import pytest
from reminder_samples import (
    DAY,
    HOUR,
    RULES,
    Clock,
    Post,
    a_plan,
    closed,
    job_text,
    of_kind,
    plain,
    url_of,
    wants,
)
from test_wanted import CLEAR_AT, LOG, MOVED, NOW, RELEASED, entries, told_all

from curecal.instants import local_day, start_of_day
from curecal.job_files import read_job
from curecal.job_files.days_off import day_off_for
from curecal.reminders.builders.build_reminders import build_reminders
from curecal.reminders.reminder_rules import company_rules, shipped_rules
from curecal.reminders.reminder_types import Heard, Occasion, Topic
from curecal.reminders.simulation.simulate import Simulation, heard, simulate
from curecal.trade.job import Job

EXAMPLES = Path(__file__).parents[2] / "examples"
NAMES = (
    "bathroom",
    "cold-basement",
    "kitchen-two-zones",
    "one-tile-repaired",
    "porcelain-on-sheet",
    "screed-before-tiling",
)
VISITS = frozenset({"visit-booked", "visit-moved", "visit-off"})


@cache
def played(name: str, *, cold: bool) -> tuple[Job, Simulation]:
    """An example played forward from a morning in November."""
    read = read_job(EXAMPLES / name / "job.toml")
    assert read.job is not None
    start = datetime(2026, 11, 25, 12, tzinfo=UTC)
    return read.job, simulate(
        read.job,
        read.log,
        start,
        rules=RULES,
        reminder_rules=shipped_rules(),
        day_off=day_off_for(read.job),
        cold=cold,
    )


@pytest.mark.slow
@pytest.mark.parametrize("cold", [False, True])
@pytest.mark.parametrize("name", NAMES)
def test_nobody_hears_two_days_on_one_day(name: str, *, cold: bool) -> None:
    job, play = played(name, cold=cold)
    days: dict[tuple[object, ...], set[date]] = {}
    for at, each in ((one.at, one.reminder) for one in play.played):
        if each.topic and each.day_on:
            told = (each.recipient, each.zone_id, each.topic, local_day(at, job.tz))
            days.setdefault(told, set()).add(each.day_on)
    twice = {told: found for told, found in days.items() if len(found) > 1}
    # As planned nobody does. In the cold a day may slip on the day itself, once, and is told then.
    assert len(twice) <= int(cold)
    assert all(max(found) - min(found) == timedelta(days=1) for found in twice.values())


@pytest.mark.slow
@pytest.mark.parametrize("cold", [False, True])
@pytest.mark.parametrize("name", NAMES)
def test_a_test_is_always_told_before_the_switching_on(name: str, *, cold: bool) -> None:
    _, play = played(name, cold=cold)
    told: dict[tuple[str, str], date | None] = {}
    about = [(one.at, one.reminder) for one in play.played if one.reminder.kind.startswith("visit")]
    last = {(each.zone_id, each.subject): at for at, each in about}
    moments = sorted({each.at for each in play.played})
    for moment in moments:
        for each in play.played:
            if each.at == moment and each.reminder.kind in VISITS:
                told[each.reminder.zone_id, each.reminder.subject] = each.reminder.day_on
        for zone_id in {zone for zone, _ in told}:
            test_on = told.get((zone_id, "test-and-connect"))
            on = told.get((zone_id, "energize"))
            # A test that is done stands in nobody's way.
            if moment <= last.get((zone_id, "test-and-connect"), moment - DAY):
                assert test_on is None or on is None or test_on < on, moment


def moved_by(told: list[Heard], days: int, topic: str) -> list[Heard]:
    """What was heard, with the days of a topic told so much later."""
    return [
        replace(each, day_on=each.day_on + days * DAY)
        if each.topic.startswith(topic) and each.day_on
        else each
        for each in told
    ]


def test_who_takes_a_may_back_tells_each_their_own_day_and_nothing_says_it_moved() -> None:
    before = told_all(wants(NOW), NOW)
    at = CLEAR_AT + DAY
    told = [*before, *told_all(of_kind(wants(at, before, log=RELEASED), "released"), at)]
    # Corrected afterwards: the grout came later, and is not cured.
    later = job_text(coldest="12 °C").replace("2026-11-06T12", "2026-12-07T12")
    found = wants(at + HOUR, told, text=later, log=LOG)
    back = {each.recipient: each for each in of_kind(found, "no-longer")}
    lead, owner, electrician = (back[each] for each in sorted(back, key=_by_role))
    for each in (lead, owner):
        assert each.parts == ("text", "dated")
        assert each.day_on == each.params["day_on"]
    assert lead.day_on is not None
    assert owner.day_on is not None
    assert lead.day_on < owner.day_on
    assert electrician.parts == ("text", "apart")
    assert not of_kind(found, "moved")
    # And once it is told, the day they know is that one.
    told += [heard(each, at + HOUR, number=90) for each in back.values()]
    assert not of_kind(wants(at + 2 * HOUR, told, text=later, log=LOG), "moved")


def _by_role(address: str) -> int:
    return ("robin", "ida", "sam").index(address.partition("@")[0])


def test_what_names_the_day_in_passing_leaves_a_nearer_one_out() -> None:
    told = moved_by(told_all(wants(NOW), NOW), 2, "crew")
    monday = datetime(2026, 11, 16, 11, tzinfo=UTC)
    for each in of_kind(wants(monday, told), "keep-room"):
        assert each.params["day_on"] is None
        assert (each.topic, each.day_on) == ("", None)
    # A later one is told at once, and after the release nobody counts on the day told.
    same = told_all(wants(NOW), NOW)
    later = moved_by(same, -2, "crew")
    assert all(each.day_on for each in of_kind(wants(monday, later), "keep-room"))
    assert all(each.day_on for each in of_kind(wants(monday, same), "keep-room"))


def test_a_nearer_day_waits_before_the_release_even_at_hand() -> None:
    at = datetime(2026, 12, 7, 12, 30, tzinfo=UTC)
    told = [
        replace(each, day_on=date(2026, 12, 20), told_at=at - HOUR)
        if each.topic == "owner"
        else each
        for each in told_all(wants(NOW), NOW)
    ]
    [moved] = of_kind(wants(at, told), "moved", "ida")
    assert moved.due_at == datetime(2026, 12, 15, 22, tzinfo=UTC)


@pytest.mark.parametrize(
    ("quiet_from", "hour"),
    # At 18:00 on site; where that is quiet, by the quiet hours alone.
    [("20:00", 22), ("17:00", 12)],
)
def test_a_nearer_day_that_has_waited_is_told_in_the_evening(quiet_from: str, hour: int) -> None:
    plan, log = a_plan(datetime(2026, 11, 24, 13, tzinfo=UTC))
    told = moved_by(told_all(wants(NOW), NOW), 3, "owner")
    found = build_reminders(
        plan,
        plan.job.people,
        company_rules({"quiet_from": quiet_from}),
        told,
        log=log,
        day_off=day_off_for(plan.job),
    )
    [moved] = of_kind(found, "moved", "ida")
    assert moved.due_at == datetime(2026, 12, 1, hour, tzinfo=UTC)


def test_an_electrician_is_not_sent_today_to_a_floor_that_is_not_released() -> None:
    told = moved_by(told_all(wants(NOW), NOW), 3, "visit energize")
    # The 7 December, the first day by the clocks.
    today = datetime(2026, 12, 7, 12, 30, tzinfo=UTC)
    assert not [
        each for each in wants(today, told) if each.kind in VISITS and each.subject == "energize"
    ]
    # Nor is it booked on that day.
    assert not [each for each in wants(today) if each.kind in VISITS and each.subject == "energize"]
    # The release itself sends him, at once, and nothing beside it.
    now = CLEAR_AT + HOUR
    found = wants(now, told, log=RELEASED)
    [calls] = of_kind(found, "released", "sam")
    assert (calls.alone, calls.day_on) == (True, date(2026, 12, 8))
    assert not [each for each in found if each.kind in VISITS and each.subject == "energize"]
    told += [heard(calls, now, number=98)]
    again = wants(now + HOUR, told, log=RELEASED)
    assert not [each for each in again if each.kind in VISITS and each.subject == "energize"]


def test_a_visit_told_for_today_moves_at_once_with_the_other_of_its_floor() -> None:
    """The switching on was told for today: he would be there before a morning next week."""
    friday = datetime(2026, 11, 27, 16, tzinfo=UTC)
    days = {"visit energize": date(2026, 11, 27), "visit test-and-connect": date(2026, 11, 26)}
    told = [
        replace(each, day_on=days.get(each.topic, each.day_on))
        for each in told_all(wants(NOW), NOW)
    ]
    # Said today already: it would wait for Monday, in quiet hours and days off.
    test = min((each for each in told if each.topic in days), key=lambda each: str(each.day_on))
    told += [replace(test, kind="visit-moved", told_at=friday - HOUR, number=99)]
    found = of_kind(wants(friday, told), "visit-moved")
    # The test was possible before and still is: it stays the visit that it was.
    assert {each.subject for each in found} == {"energize"}
    assert all(each.due_at <= friday for each in found)
    # Told for next week it can wait.
    days = {"visit energize": date(2026, 12, 2), "visit test-and-connect": date(2026, 12, 1)}
    told = [replace(each, day_on=days.get(each.topic, each.day_on)) for each in told]
    assert not of_kind(wants(friday, told), "visit-moved")


def test_one_who_is_told_two_things_that_moved_hears_at_once_of_the_day_at_hand() -> None:
    """A lead who is the electrician too: the day of a visit today is not put off for another."""
    both = MOVED.replace("sam@sparks.example", "robin@crew.example")
    friday = datetime(2026, 11, 27, 16, tzinfo=UTC)
    told = told_all(wants(friday - DAY, text=both), friday - DAY)
    told = [
        replace(each, day_on=date(2026, 11, 27))
        if each.topic.startswith("visit")
        else replace(each, day_on=date(2026, 12, 2))
        if each.topic == "crew"
        else each
        for each in told
    ]
    found = wants(friday, told, text=both)
    [moved] = of_kind(found, "moved", "robin")
    visits = of_kind(found, "visit-moved", "robin")
    assert visits
    assert all(each.due_at <= friday for each in visits)
    assert moved.due_at >= max(each.due_at for each in visits)


@pytest.mark.parametrize("kind", ["stopped", "early-switch-on"])
def test_a_visit_that_held_through_a_stop_is_said_to_stand_again(kind: str) -> None:
    told = told_all(wants(NOW), NOW)
    stop_at = datetime(2026, 11, 21, 0, tzinfo=UTC)
    stop = replace(
        told[0],
        kind=kind,
        topic=Topic.EVERYBODY,
        day_on=None,
        subject="",
        occasion=Occasion(detail="x"),
    )
    stops = [
        replace(stop, zone_id="hall", recipient=to, told_at=stop_at, number=80)
        for to in {each.recipient for each in told}
    ]
    at = stop_at + 12 * HOUR
    again = of_kind(wants(at, [*told, *stops]), "visit-booked")
    # The other one has been possible for weeks; the end of the stop is told apart.
    assert {each.subject for each in again} == {"energize"}
    assert all("again" in each.parts for each in again)
    assert not of_kind(wants(at, told), "visit-booked")
    # Said once.
    after = [*told, *stops, *(heard(each, at, number=90) for each in again)]
    assert not of_kind(wants(at + DAY, after), "visit-booked")
    # A visit that is over stands no more.
    past = [
        replace(each, day_on=date(2026, 11, 20)) if each.topic.startswith("visit") else each
        for each in told
    ]
    assert not of_kind(wants(at, [*past, *stops]), "visit-booked")


def test_a_stop_that_holds_lets_no_visit_stand_again() -> None:
    told = told_all(wants(NOW), NOW)
    at = datetime(2026, 12, 5, 14, tzinfo=UTC)
    halt = {
        "id": "halt",
        "at": at,
        "kind": "stopped",
        "cause": "other",
        "zone": "hall",
        "reason": "a crack",
    }
    found = wants(at + HOUR, told, log=entries({**halt, "by": "Robin Mistral"}))
    assert not of_kind(found, "visit-booked")
    assert [each.subject for each in of_kind(found, "visit-off")] == ["energize"]


def test_an_evening_before_is_given_up_at_midnight() -> None:
    """It says "tomorrow": put off to the reader's next morning, it would name a wrong day."""
    plan, _ = a_plan(NOW)
    (zone,) = plan.zones
    day_on = zone.energize.owner_date
    assert day_on is not None
    found = wants(NOW, told_all(wants(NOW), NOW))
    evenings = of_kind(found, "evening-before")
    assert evenings
    assert {evening.until_at for evening in evenings} == {start_of_day(day_on, plan.job.tz)}


def test_an_evening_before_goes_out_while_it_is_evening(tmp_path: Path) -> None:
    """Whoever could not send since the morning still says at 19:00 what is so tomorrow."""
    post = Post(url_of(tmp_path), Clock(NOW))
    post.add(job_text("elm-road"), tmp_path)
    # The day before at noon, and then 19:00, at four hours behind UTC.
    for at in (NOW, datetime(2026, 12, 6, 16, tzinfo=UTC), datetime(2026, 12, 7, 23, tzinfo=UTC)):
        post.clock.go(at - post.clock.at)
        said = len(post.mail.sent)
        post.cycle.run()
    owner = [plain(data) for address, data in post.mail.sent[said:] if address.startswith("ida")]
    closed(post)
    [text] = owner
    assert "Tomorrow, Tue 8 Dec, is the day we named." in text
