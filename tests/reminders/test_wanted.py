"""What everybody is told, from the plan of an instant and from what they heard."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from typing import TYPE_CHECKING

import pytest
from reminder_samples import (
    DAY,
    FINISHED,
    HOUR,
    a_job,
    evidence,
    job_text,
    of_kind,
    released,
    wants,
)

from curecal.job_files import parse_job
from curecal.reminders.builders.reconcile import reconcile
from curecal.reminders.reminder_types import MAY, Heard, Occasion, Reminder
from curecal.reminders.simulation.simulate import heard

if TYPE_CHECKING:
    from collections.abc import Iterable

NOW = FINISHED + HOUR
OWNER_ON, CREW_ON = date(2026, 12, 8), date(2026, 12, 7)


def entries(*tables: dict[str, object]) -> list[object]:
    """The entries of log tables, read as a job file's reader does."""
    lines = []
    for table in tables:
        lines.append("[[log]]")
        for key, value in table.items():
            lines.append(f"{key} = {toml(value)}")
    read = parse_job((job_text() + "\n" + "\n".join(lines)).encode())
    assert read.job is not None, read.findings
    return list(read.log)


def toml(value: object) -> str:
    if isinstance(value, bool):
        return str(value).lower()
    if isinstance(value, datetime):
        return value.isoformat()
    return '"' + str(value) + '"'


def told_all(reminders: tuple[Reminder, ...], at: datetime) -> list[Heard]:
    """What everybody heard of what was due."""
    due = [each for each in reminders if each.due_at <= at]
    return [heard(each, at, number=number) for number, each in enumerate(due)]


CLEAR_AT = datetime(2026, 12, 7, 17, tzinfo=UTC)
LOG = entries(*evidence(datetime(2026, 12, 7, 16, 45, tzinfo=UTC)))
RELEASED = [*LOG, *entries(released(CLEAR_AT))]


def test_an_owner_is_told_to_leave_it_off_and_again_two_weeks_later() -> None:
    [first] = of_kind(wants(NOW), "still-curing")
    assert str(first.occasion.on) == "2026-10-26"
    [again] = of_kind(wants(NOW, [heard(first, NOW)]), "still-curing")
    # 08:00 at four hours behind UTC.
    assert again.due_at == datetime(2026, 11, 20, 12, tzinfo=UTC)
    assert {each.day_on for each in (first, again)} == {OWNER_ON}


def test_what_was_heard_is_not_wanted_again() -> None:
    first = wants(NOW)
    again = wants(NOW, told_all(first, NOW))
    assert of_kind(first, "visit-booked")
    assert not of_kind(again, "visit-booked")
    assert [str(each.occasion.on) for each in of_kind(again, "still-curing")] == ["2026-11-20"]


def test_the_same_question_has_the_same_answer() -> None:
    told = told_all(wants(NOW), NOW)
    assert wants(NOW + HOUR, told) == wants(NOW + HOUR, list(reversed(told)))
    later = wants(NOW + 2 * HOUR, told)
    assert [each.key for each in later] == [each.key for each in wants(NOW + HOUR, told)]


def test_reconciling_twice_changes_nothing() -> None:
    want = wants(NOW)
    once = reconcile((), want)
    twice = reconcile(once.insert, wants(NOW + HOUR))
    assert len(once.insert) == len(want)
    assert (twice.insert, twice.withdraw) == ((), ())


def test_a_reminder_whose_day_moved_is_taken_back_and_wanted_anew() -> None:
    want = of_kind(wants(NOW), "still-curing")
    moved = of_kind(wants(NOW, text=job_text(coldest="12 °C")), "still-curing")
    change = reconcile(want, moved)
    assert change.withdraw == tuple(want)
    assert change.insert == tuple(moved)
    assert change.insert[0].day_on > OWNER_ON  # type: ignore[operator]


def test_an_owner_is_told_the_late_end_and_the_crew_the_early_one() -> None:
    found = wants(NOW)
    assert of_kind(found, "still-curing")[0].day_on == OWNER_ON
    assert of_kind(found, "keep-room")[0].day_on == CREW_ON


def test_please_wait_comes_the_morning_before_the_day_that_was_told() -> None:
    # Nobody hears of a day "we named" that they were not told.
    assert not of_kind(wants(NOW), "evening-before")
    found = of_kind(wants(NOW, told_all(wants(NOW), NOW)), "evening-before")
    assert [each.due_at for each in found] == [datetime(2026, 12, 7, 12, tzinfo=UTC)]


@pytest.mark.parametrize("now", [FINISHED + DAY * days for days in range(0, 60, 3)])
def test_no_owner_hears_may_before_the_release(now: datetime) -> None:
    for log in ([], LOG):
        assert not [each for each in wants(now, log=log) if each.kind in MAY]


def test_a_release_is_told_to_owner_and_electrician_once() -> None:
    now = CLEAR_AT + HOUR
    found = of_kind(wants(now, log=RELEASED), "released")
    assert {each.recipient for each in found} == {"ida@home.example", "sam@sparks.example"}
    told = [heard(each, now) for each in found]
    assert not of_kind(wants(now + HOUR, told, log=RELEASED), "released")


def test_a_release_that_is_withdrawn_is_taken_back_at_once_whatever_the_hour() -> None:
    now = CLEAR_AT + HOUR
    told = [heard(each, now) for each in of_kind(wants(now, log=RELEASED), "released")]
    failed = entries(
        {
            "id": "fault",
            "at": now + HOUR * 12,
            "kind": "resistance",
            "zone": "hall",
            "stage": "in service",
            "conductor": "90 Ω",
            "to_earth": "26 Ω",
            "by": "Sam Okoro-Lind",
        }
    )
    night = now + HOUR * 12
    found = of_kind(wants(night, told, log=[*RELEASED, *failed]), "no-longer")
    if not found:
        found = of_kind(wants(night, told, log=[*RELEASED, *failed]), "stopped")
    assert {each.recipient for each in found} >= {"ida@home.example", "sam@sparks.example"}
    assert all(each.urgent and each.due_at <= night for each in found)
    after = [*told, *(heard(each, night) for each in found)]
    again = wants(night + HOUR, after, log=[*RELEASED, *failed])
    assert not [each for each in again if each.kind in {"no-longer", "stopped"}]


def test_an_early_switch_on_is_told_to_all_at_once_in_the_night() -> None:
    # 02:30 on site.
    at = datetime(2026, 11, 10, 6, 30, tzinfo=UTC)
    early = entries(
        {"id": "on", "at": at, "kind": "energized", "zone": "hall", "by": "Ida Fennell"}
    )
    found = of_kind(wants(at, log=early), "early-switch-on")
    assert len({each.recipient for each in found}) == 3
    assert {each.due_at for each in found} == {at}


def test_an_urgent_message_goes_every_way_and_a_usual_one_the_first() -> None:
    people = """
[people.owner]
name = "Ida Fennell"
email = "ida@home.example"
phone = "+1 902 555 0177"
reach_by = ["text", "email"]
"""
    at = datetime(2026, 11, 10, 15, tzinfo=UTC)
    text = job_text(people=people)
    early = entries(
        {"id": "on", "at": at, "kind": "energized", "zone": "hall", "by": "Ida Fennell"}
    )
    found = wants(at, text=text, log=early)
    assert {each.channel.value for each in of_kind(found, "early-switch-on")} == {"text", "email"}
    usual = wants(at, text=text)
    assert {each.channel.value for each in of_kind(usual, "still-curing")} == {"text"}


HALT = {"id": "h", "kind": "stopped", "cause": "other", "zone": "hall", "by": "Robin Mistral"}
MOVED = job_text(coldest="12 °C")
"""The same floor with a colder worst case: the owner's day moves, the crew's does not."""


def test_a_moved_day_is_told_a_quarter_of_an_hour_after_the_last_fact() -> None:
    told = told_all(wants(NOW), NOW)
    # Whoever heard a day today hears another one tomorrow.
    found = of_kind(wants(NOW, told, text=MOVED), "moved")
    assert [each.due_at for each in found] == [datetime(2026, 11, 7, 11, tzinfo=UTC)]
    told = [replace(each, told_at=NOW - DAY) for each in told]
    found = of_kind(wants(NOW, told, text=MOVED), "moved")
    assert [each.recipient for each in found] == ["ida@home.example"]
    assert found[0].due_at == FINISHED + HOUR / 4
    assert "owner-later" in found[0].parts


@pytest.mark.parametrize(
    ("minutes", "waits"),
    [
        # Facts all day long, one every ten minutes: it is told at the last, not ever later.
        (range(0, 300, 10), timedelta(0)),
        # The fourth of a few that came together ends two hours after the first at the latest.
        ((0, 14, 28, 42), HOUR / 4),
        ((0, *range(1, 119, 13)), timedelta(minutes=2)),
        # One that came long before counts apart.
        ((0, 60), HOUR / 4),
    ],
)
def test_facts_that_keep_coming_do_not_put_it_off_for_ever(
    minutes: Iterable[int], waits: timedelta
) -> None:
    told = told_all(wants(NOW), NOW)
    ats = [NOW + DAY + timedelta(minutes=each) for each in minutes]
    log = entries(
        *({"id": f"n{at:%d%H%M}", "at": at, "kind": "note", "text": "seen"} for at in ats)
    )
    [found] = of_kind(wants(ats[-1], told, text=MOVED, log=log), "moved")
    assert found.due_at == ats[-1] + waits


def test_nobody_is_told_of_a_day_they_never_heard() -> None:
    assert not of_kind(wants(NOW, text=MOVED), "moved")


def test_moved_comes_once_a_day() -> None:
    told = told_all(wants(NOW), NOW)
    first = of_kind(wants(NOW, told, text=MOVED), "moved")
    told += [heard(each, NOW, number=99) for each in first]
    assert not of_kind(wants(NOW + HOUR, told, text=MOVED), "moved")
    further = of_kind(wants(NOW + HOUR, told, text=job_text(coldest="11 °C")), "moved")
    # It moved on the same day: told the next morning, when the night is over.
    assert [each.due_at for each in further] == [datetime(2026, 11, 7, 11, tzinfo=UTC)]
    assert "owner-later" in further[0].parts


def test_a_day_that_comes_nearer_waits_until_it_is_near() -> None:
    told = told_all(wants(NOW), NOW)
    first = of_kind(wants(NOW, told, text=MOVED), "moved")
    told += [heard(each, NOW, number=99) for each in first]
    back = of_kind(wants(NOW + HOUR, told), "moved")
    # A week before it, in the evening, when that day's readings are in.
    assert [each.due_at for each in back] == [datetime(2026, 12, 1, 22, tzinfo=UTC)]
    assert "owner-earlier" in back[0].parts


def test_a_day_that_is_near_moves_at_once_and_twice_a_day_if_need_be() -> None:
    told = told_all(wants(NOW), NOW)
    near = [replace(each, day_on=date(2026, 12, 7)) for each in told if each.topic == "owner"]
    at = datetime(2026, 12, 7, 12, 30, tzinfo=UTC)
    said = replace(near[-1], kind="moved", told_at=at - HOUR, occasion=Occasion(detail="x"))
    found = of_kind(wants(at, [*near, said]), "moved", "ida")
    assert found
    assert found[0].day_on == OWNER_ON
    assert found[0].due_at <= at


def test_a_stop_tells_that_there_is_no_day_and_the_next_day_comes_as_a_new_one() -> None:
    told = told_all(wants(NOW), NOW)
    at = NOW + DAY
    halt = {"id": "halt", "at": at, "kind": "stopped", "cause": "crack or loose tile"}
    stop = entries({**halt, "zone": "hall", "by": "Robin Mistral"})
    found = of_kind(wants(at, told, log=stop), "stopped")
    # Nothing is connected: the owner need not hear it.
    assert {each.recipient for each in found} == {"robin@crew.example", "sam@sparks.example"}
    told += [heard(each, at) for each in found]
    sound = entries(
        {
            "id": "sound",
            "at": at + HOUR,
            "kind": "resumed",
            "zone": "hall",
            "found": "no crack",
            "by": "Robin Mistral",
        }
    )
    log = [*stop, *sound]
    after = of_kind(wants(at + HOUR, told, log=log), "stop-over")
    assert {each.recipient for each in after} == {each.recipient for each in found}
    assert {each.params["found"] for each in after} == {"no crack"}
    monday = datetime(2026, 11, 9, 11, tzinfo=UTC)
    assert all(each.alone and each.due_at <= monday for each in after)
    # It tells the day that holds now; nothing else says that it moved.
    assert not of_kind(wants(at + HOUR, told, log=log), "moved")
    told += [heard(each, at + HOUR, number=90) for each in after]
    assert not of_kind(wants(at + 2 * HOUR, told, log=log), "stop-over")
    assert not of_kind(wants(at + 2 * HOUR, told, log=log), "moved")


def test_one_person_in_two_roles_gets_one_message() -> None:
    people = """
[people.crew_lead]
name = "Robin Mistral"
email = "Robin@Crew.example"

[people.owner]
name = "R. Mistral"
email = "robin@crew.example"
"""
    at = datetime(2026, 11, 10, 15, tzinfo=UTC)
    stop = entries({**HALT, "at": at})
    found = of_kind(wants(at, text=job_text(people=people), log=stop), "stopped")
    assert len(found) == 1


def test_a_day_that_came_and_was_not_kept_is_not_told_anew_each_day() -> None:
    at = datetime(2026, 12, 7, 18, tzinfo=UTC)
    told = told_all(wants(NOW), NOW)
    for _ in range(20):
        at += DAY
        found = wants(at, told)
        assert not of_kind(found, "moved")
        assert not of_kind(found, "visit-moved")
        told += [heard(each, at) for each in found if each.due_at <= at]


def test_after_its_day_an_owner_is_told_no_day_but_to_leave_it_off() -> None:
    found = of_kind(wants(datetime(2026, 12, 15, 12, tzinfo=UTC)), "still-curing")
    assert all(each.parts[:2] == ("undated", "checks") for each in found)


def test_the_crew_lead_is_told_when_the_release_is_due() -> None:
    found = of_kind(wants(CLEAR_AT + DAY, log=LOG), "release-due")
    assert [each.recipient for each in found] == ["robin@crew.example"] * 2


def test_each_heat_up_morning_has_one_number_once_the_floor_is_on() -> None:
    on_at = datetime(2026, 12, 8, 12, tzinfo=UTC)
    on = entries(
        {"id": "on", "at": on_at, "kind": "energized", "zone": "hall", "by": "Sam Okoro-Lind"}
    )
    found = of_kind(wants(on_at + HOUR, log=[*RELEASED, *on]), "heat-day")
    assert [each.subject for each in found] == [f"first heat {step}" for step in range(1, 4)]
    assert [each.params["day_on"] for each in found] == [
        date(2026, 12, 8),
        date(2026, 12, 9),
        date(2026, 12, 10),
    ]
    assert found[1].due_at == datetime(2026, 12, 9, 12, tzinfo=UTC)


def test_a_visit_is_booked_then_moved_then_off() -> None:
    booked = of_kind(wants(NOW), "visit-booked")
    assert {each.subject for each in booked} == {"energize", "test-and-connect"}
    told = [heard(each, NOW) for each in booked]
    # Weeks before the day the stop alone is told: it may be over by then.
    at = NOW + DAY * 3
    early = entries({**HALT, "at": at})
    assert not of_kind(wants(at, told, log=early), "visit-off")
    at = datetime(2026, 12, 4, 14, tzinfo=UTC)
    stop = entries({**HALT, "at": at})
    off = of_kind(wants(at, told, log=stop), "visit-off")
    assert "energize" in {each.subject for each in off}
    assert all(each.due_at <= at for each in off)


def test_a_logger_is_read_out_before_its_memory_is_full() -> None:
    from curecal.trade.site_log import Place, Series  # noqa: PLC0415 - only here

    last = NOW
    series = Series(
        id="s",
        at=last,
        recorded=last,
        zone="hall",
        place=Place.AIR,
        device="logger 3",
        interval_s=600.0,
        points=((last - HOUR, 20.0, 0.5), (last, 20.0, 0.5)),
    )
    found = of_kind(wants(NOW + HOUR, log=[series]), "logger-due")
    assert [each.due_at for each in found] == [datetime(2026, 11, 24, 21, tzinfo=UTC)]


def test_a_job_without_people_wants_nothing() -> None:
    assert wants(NOW, text=job_text(people="")) == ()


def test_who_is_reached_by_telephone_only_is_a_call_to_make() -> None:
    people = '[people.owner]\nname = "Ida"\nphone = "+1 902 555 0177"\nreach_by = ["phone"]\n'
    found = wants(NOW, text=job_text(people=people))
    assert {each.channel.value for each in found} == {"phone"}
    job, _ = a_job(job_text(people=people))
    assert job.people[0].reach_by == ("phone",)
