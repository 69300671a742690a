"""Visits with an agreed hour: each change reaches both sides at once, and the day before it.

The sample floor is finished on 6 November; by its waits it may be on from 7 December.
"""

from __future__ import annotations

import email
from datetime import UTC, datetime
from email.policy import SMTP
from typing import TYPE_CHECKING, Any

import icalendar
import pytest
from reminder_samples import (
    DAY,
    HOUR,
    PEOPLE,
    RULES,
    Clock,
    Post,
    a_job,
    closed,
    evidence,
    job_text,
    of_kind,
    released,
    url_of,
    wants,
)
from test_wanted import NOW, entries, told_all

from curecal.reminders.messages.texts import compose, reader_words
from curecal.reminders.simulation.simulate import heard
from curecal.trade.job import Role

if TYPE_CHECKING:
    from collections.abc import Iterable
    from pathlib import Path

    from curecal.reminders.reminder_types import Heard, Reminder
    from curecal.trade.site_log import Entry

AGREED = {"visit-agreed", "visit-misfit", "visit-called-off"}
CONNECT_AT = datetime(2026, 12, 2, 13, tzinfo=UTC)
"""Wednesday, 09:00 on site: within the window of testing and connecting."""
SAM, ROBIN, IDA = "sam", "robin", "ida"


def visit(state: str = "booked", *, at: datetime = NOW, **more: Any) -> Entry:
    """Return what the log says of a visit."""
    [entry] = entries(table_of_visit(state, at=at, **more))
    return entry


def table_of_visit(
    state: str = "booked",
    *,
    at: datetime = NOW,
    **more: Any,
) -> dict[str, object]:
    """Return the log table of a visit."""
    return {
        "id": f"{state.replace(' ', '-')}-{at:%d%H}-{more.get('visit', 'v1')}",
        "at": at,
        "kind": "visit",
        "zone": "hall",
        "visit": "v1",
        "for": "test and connect",
        "start": CONNECT_AT,
        "state": state,
        "by": "Robin Mistral",
        **more,
    }


def told_of(
    now: datetime, log: Iterable[Entry], told: Iterable[Heard] = (), text: str = ""
) -> list[Reminder]:
    """Return what is told at once of appointments."""
    return [each for each in wants(now, told, text, log=log) if each.kind in AGREED]


def by_reader(found: Iterable[Reminder]) -> dict[str, tuple[str, tuple[str, ...]]]:
    """Return kind and parts by who reads it; a person twice fails."""
    said: dict[str, tuple[str, tuple[str, ...]]] = {}
    for each in found:
        reader = each.recipient.partition("@")[0]
        assert reader not in said
        said[reader] = (each.kind, each.parts)
    return said


def hear(found: Iterable[Reminder], at: datetime) -> list[Heard]:
    return [heard(each, at, number=count) for count, each in enumerate(found)]


def body_of(reminder: Reminder, role: Role = Role.ELECTRICIAN) -> str:
    job, _ = a_job()
    return compose(reminder, reader_words(job, RULES, None, NOW), role=role).body


def test_a_visit_that_is_booked_is_told_at_once_by_its_hour() -> None:
    found = told_of(NOW, [visit()])
    assert by_reader(found) == {
        SAM: ("visit-agreed", ("electrician-booked", "second", "address")),
        ROBIN: ("visit-agreed", ("crew-booked",)),
        # No layer is left to lay, so no crew is there to open the door.
        IDA: ("visit-agreed", ("owner-booked",)),
    }
    assert all(each.alone and each.due_at <= NOW for each in found)
    sam = next(each for each in found if each.recipient.startswith(SAM))
    assert "You are booked for Wed 2 Dec, 09:00. Please confirm it" in body_of(sam)
    assert "Do not switch on." in body_of(sam)
    # Its window is not announced beside it; the visit to switch on still is.
    windows = of_kind(wants(NOW, log=[visit()]), "visit-booked")
    assert [each.subject for each in windows] == ["energize"]


def test_an_owner_hears_of_no_visit_while_the_crew_has_work_there() -> None:
    text = job_text().replace("done = 2026-11-06T12:00:00", 'duration = "6 h"')
    assert set(by_reader(told_of(NOW, [visit()], text=text))) == {SAM, ROBIN}


def test_who_was_told_hears_that_it_is_confirmed_moved_and_off() -> None:
    log = [visit()]
    told = hear(told_of(NOW, log), NOW)
    assert not told_of(NOW + HOUR, log, told)
    log.append(visit("confirmed", at=NOW + HOUR))
    found = told_of(NOW + HOUR, log, told)
    assert {parts[0] for _, parts in by_reader(found).values()} == {
        "electrician-confirmed",
        "crew-confirmed",
        "owner-confirmed",
    }
    told += hear(found, NOW + HOUR)
    log.append(visit("confirmed", at=NOW + DAY, start=CONNECT_AT + DAY))
    found = told_of(NOW + DAY, log, told)
    assert all("moved" in parts for _, parts in by_reader(found).values())
    assert "Confirmed: you come Thu 3 Dec, 09:00." in body_of(found[-1])
    assert "This is a new time; before, it was Wed 2 Dec." in body_of(found[-1])
    told += hear(found, NOW + DAY)
    # Back to the first hour is a move like any other.
    log.append(visit("confirmed", at=NOW + 2 * DAY))
    found = told_of(NOW + 2 * DAY, log, told)
    assert len(found) == 3
    told += hear(found, NOW + 2 * DAY)
    log.append(visit("called off", at=NOW + 3 * DAY))
    found = told_of(NOW + 3 * DAY, log, told)
    assert by_reader(found) == {
        SAM: ("visit-called-off", ("text", "electrician")),
        ROBIN: ("visit-called-off", ("text", "crew")),
        IDA: ("visit-called-off", ("text", "owner")),
    }
    told += hear(found, NOW + 3 * DAY)
    again = wants(NOW + 3 * DAY, told, log=log)
    assert not [each for each in again if each.kind in AGREED]
    # It asks for a day anew, by its window.
    assert "test-and-connect" in {each.subject for each in of_kind(again, "visit-booked")}


def test_a_visit_that_nobody_heard_of_is_not_called_off_but_a_refusal_is_told() -> None:
    assert not told_of(NOW, [visit("called off")])
    found = told_of(NOW, [visit("declined", who="Sam Okoro-Lind")])
    assert by_reader(found) == {ROBIN: ("visit-called-off", ("declined", "crew"))}
    said = body_of(found[0], Role.CREW_LEAD)
    assert "Sam Okoro-Lind cannot come. The visit of Wed 2 Dec, 09:00 is off." in said


def test_dates_that_move_past_it_are_told_to_both_sides_once_and_their_return_too() -> None:
    told = hear(told_of(NOW, [visit()]), NOW)
    early = visit("booked", at=NOW, start=datetime(2026, 12, 4, 13, tzinfo=UTC), **{
        "for": "switch on", "visit": "v2",
    })  # fmt: skip
    found = told_of(NOW, [visit(), early], told)
    assert {kind for kind, _ in by_reader(found).values()} == {"visit-misfit"}
    assert set(by_reader(found)) == {SAM, ROBIN}
    sam = next(each for each in found if each.recipient.startswith(SAM))
    assert "the floor is not ready for it before Sat 5 Dec, 08:00" in body_of(sam)
    assert "Do not set out for it" in body_of(sam)
    told += hear(found, NOW)
    assert not told_of(NOW + HOUR, [visit(), early], told)
    moved = visit("booked", at=NOW + HOUR, start=datetime(2026, 12, 8, 13, tzinfo=UTC), **{
        "for": "switch on", "visit": "v2",
    })  # fmt: skip
    found = told_of(NOW + HOUR, [visit(), early, moved], told)
    assert by_reader(found)[SAM] == (
        "visit-agreed",
        ("electrician-booked", "moved", "energize-waits", "address"),
    )


def test_that_the_floor_waits_for_a_visit_is_told_once_and_its_end_is_not() -> None:
    log = [visit(start=datetime(2026, 12, 15, 13, tzinfo=UTC), **{"for": "switch on"})]
    # By the coldest air the floor may need until after the visit, by a warmer one it waits for it.
    in_time, late = job_text(coldest="10 °C"), job_text()
    told = hear(told_of(NOW, log, text=in_time), NOW)
    assert told
    found = told_of(NOW + HOUR, log, told, text=late)
    assert set(by_reader(found)) == {SAM, ROBIN, IDA}
    assert all(
        kind == "visit-agreed" and "late" in parts for kind, parts in by_reader(found).values()
    )
    told += hear(found, NOW + HOUR)
    assert not told_of(NOW + 2 * HOUR, log, told, text=late)
    assert not told_of(NOW + 3 * HOUR, log, told, text=in_time)


def test_a_visit_whose_work_is_on_record_already_is_no_longer_needed() -> None:
    log = [visit()]
    told = hear(told_of(NOW, log), NOW)
    done_at = CONNECT_AT - 2 * DAY
    done = entries(*evidence(done_at))
    found = told_of(done_at + HOUR, [*log, *done], told)
    assert by_reader(found) == dict.fromkeys((SAM, ROBIN, IDA), ("visit-misfit", ("not-needed",)))
    assert "its work is on record. Please call it off." in body_of(found[0])


def test_a_stop_asks_nobody_to_move_a_visit_that_is_far_off() -> None:
    log = [visit()]
    told = hear(told_of(NOW, log), NOW)
    halt = {"id": "halt", "at": NOW + HOUR, "kind": "stopped", "cause": "crack or loose tile"}
    [stop] = entries({**halt, "reason": "a crack", "zone": "hall", "by": "Robin Mistral"})
    assert not told_of(NOW + HOUR, [*log, stop], told)
    near = CONNECT_AT - 2 * DAY
    found = told_of(near, [*log, stop], told)
    assert {kind for kind, _ in by_reader(found).values()} == {"visit-misfit"}
    told += hear(found, near)
    over = {"id": "over", "at": near + HOUR, "kind": "resumed", "found": "the joint had shrunk"}
    [resumed] = entries({**over, "zone": "hall", "by": "Robin Mistral"})
    found = told_of(near + HOUR, [*log, stop, resumed], told)
    assert all("again" in parts for _, parts in by_reader(found).values())


def test_the_day_before_names_the_hour() -> None:
    log = [visit()]
    told = hear(told_of(NOW, log), NOW)
    later = CONNECT_AT - 3 * DAY
    eves = {each.recipient.partition("@")[0]: each for each in wants(later, told, log=log)
            if each.kind == "visit-eve"}  # fmt: skip
    # The electrician's and the crew lead's times on site, and the owner's morning.
    assert {reader: each.due_at for reader, each in eves.items()} == {
        SAM: datetime(2026, 12, 1, 20, tzinfo=UTC),
        ROBIN: datetime(2026, 12, 1, 21, tzinfo=UTC),
        IDA: datetime(2026, 12, 1, 12, tzinfo=UTC),
    }
    assert "You come Wed 2 Dec, 09:00." in body_of(eves[SAM])
    assert "Somebody must open the door." in body_of(eves[IDA], Role.OWNER)
    assert not of_kind(wants(later, told, log=log), "visit-tomorrow", SAM)
    # Who heard of it since then needs no other word of it.
    late = hear(told_of(NOW, log), datetime(2026, 12, 1, 15, tzinfo=UTC))
    evening = datetime(2026, 12, 1, 20, 30, tzinfo=UTC)
    assert not of_kind(wants(evening, late, log=log), "visit-eve")


def test_a_floor_that_is_not_released_says_so_on_the_eve_of_switching_on() -> None:
    start = datetime(2026, 12, 8, 13, tzinfo=UTC)
    log = [visit(start=start, **{"for": "switch on"})]
    told = hear(told_of(NOW, log), NOW)
    [eve] = of_kind(wants(start - 2 * DAY, told, log=log), "visit-eve", SAM)
    said = body_of(eve)
    assert "The floor is not released yet. Ask the crew lead before you set out." in said
    assert "Switch it on" not in said


def test_a_release_names_the_hour_that_was_agreed() -> None:
    clear = datetime(2026, 12, 7, 14, tzinfo=UTC)
    start = datetime(2026, 12, 10, 17, 30, tzinfo=UTC)
    booked = visit(start=start, **{"for": "switch on"})
    log = [booked, *entries(*evidence(clear), released(clear + HOUR))]
    found = of_kind(wants(clear + HOUR, log=log), "released")
    assert {each.recipient.partition("@")[0] for each in found} == {SAM, IDA}
    assert {each.params["on_at"] for each in found} == {start}


def test_a_visit_that_is_over_without_a_word_is_asked_about() -> None:
    log = [visit()]
    told = hear(told_of(NOW, log), NOW)
    after = CONNECT_AT + 9 * HOUR
    found = [each for each in of_kind(wants(after, told, log=log), "is-it-done")
             if each.parts == ("visit",)]  # fmt: skip
    assert {each.recipient for each in found} == {"robin@crew.example"}
    assert "The visit of Wed 2 Dec, 09:00 by Sam Okoro-Lind is over" in body_of(
        found[0], Role.CREW_LEAD
    )


def test_who_comes_no_more_hears_it_and_who_comes_instead() -> None:
    ola = '[[people.electrician]]\nname = "Ola"\nlicense = "E 9"\nemail = "ola@sparks.example"\n'
    both = PEOPLE.replace("[people.electrician]", f"{ola}\n[[people.electrician]]")
    text = job_text(people=both)
    log = [visit(who="Sam Okoro-Lind")]
    found = told_of(NOW, log, text=text)
    assert set(by_reader(found)) == {SAM, ROBIN, IDA}
    told = hear(found, NOW)
    log.append(visit("confirmed", at=NOW + HOUR, who="Ola"))
    said = by_reader(told_of(NOW + HOUR, log, told, text=text))
    assert said[SAM] == ("visit-called-off", ("gone",))
    assert said["ola"][1][0] == "electrician-confirmed"


def test_a_visit_that_was_withdrawn_is_off() -> None:
    told = hear(told_of(NOW, [visit()]), NOW)
    gone = {"id": "no", "at": NOW + HOUR, "kind": "correction", "of": "booked-0617-v1"}
    log = entries(table_of_visit(), {**gone, "withdrawn": True, "by": "Robin Mistral"})
    found = told_of(NOW + HOUR, log, told)
    assert {parts for _, parts in by_reader(found).values()} == {("gone",)}


@pytest.fixture
def post(tmp_path: Path) -> Iterable[Post]:
    made = Post(url_of(tmp_path), Clock(NOW))
    made.add(job_text(), tmp_path)
    yield made
    closed(made)


def test_the_mail_carries_the_entry_of_the_readers_calendar(post: Post) -> None:
    table = {"kind": "visit", "zone": "hall", "visit": "v1", "for": "test and connect"}
    who = {"by": "Robin Mistral"}
    post.note({"id": "b", "at": NOW, "start": CONNECT_AT, "state": "booked", **table, **who})
    _go(post, 1)
    first = _calendars(post)
    assert set(first) == {SAM, ROBIN, IDA}
    for method, event in first.values():
        assert method == "REQUEST"
        assert event["DTSTART"].dt == CONNECT_AT
    post.note({"id": "m", "at": post.clock.at, "start": CONNECT_AT + DAY, "state": "confirmed",
               **table, **who})  # fmt: skip
    _go(post, 1)
    moved = _calendars(post)
    for reader, (method, event) in moved.items():
        assert (method, event["DTSTART"].dt) == ("REQUEST", CONNECT_AT + DAY)
        assert event["UID"] == first[reader][1]["UID"]
        assert event["SEQUENCE"] > first[reader][1]["SEQUENCE"]
    post.note({"id": "o", "at": post.clock.at, "state": "called off", **table, **who})
    _go(post, 1)
    off = _calendars(post)
    # The crew's and the owner's entries go; the electrician's is the window of the visit again.
    assert {reader: method for reader, (method, _) in off.items()} == {
        SAM: "REQUEST",
        ROBIN: "CANCEL",
        IDA: "CANCEL",
    }


def _go(post: Post, minutes: int) -> None:
    post.mail.sent.clear()
    post.clock.go(minutes * HOUR / 60)
    post.cycle.run(for_s=10.0)
    post.sender.drain(until_s=10.0)


def _calendars(post: Post) -> dict[str, tuple[str, Any]]:
    """Return the one entry of each mail that has one, by reader, with its method."""
    found: dict[str, tuple[str, Any]] = {}
    for to, data in post.mail.sent:
        mail = email.message_from_bytes(data, policy=SMTP)
        for part in mail.walk():
            if part.get_content_type() == "text/calendar":
                calendar = icalendar.Calendar.from_ical(part.get_payload(decode=True))
                [event] = calendar.walk("VEVENT")
                found[to.partition("@")[0]] = (str(calendar["METHOD"]), event)
    return found


def test_everything_told_stays_told() -> None:
    """A second plan of the same facts tells nobody anything of the visit again."""
    log = [visit()]
    told = told_all(wants(NOW, log=log), NOW)
    assert not told_of(NOW + HOUR, log, told)
