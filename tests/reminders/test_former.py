"""Who heard something at an address that nobody of the job has any more hears it taken back."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime
from typing import TYPE_CHECKING, Any

import pytest
from reminder_samples import (
    DAY,
    HOUR,
    PEOPLE,
    Clock,
    Post,
    evidence,
    job_text,
    of_kind,
    released,
    url_of,
    wants,
)
from test_wanted import CLEAR_AT, LOG, NOW, RELEASED, entries, told_all

from curecal.reminders.simulation.simulate import heard

if TYPE_CHECKING:
    from collections.abc import Iterable
    from pathlib import Path

    from curecal.reminders.reminder_types import Heard, Reminder

AT = CLEAR_AT + HOUR
OWNER = '[people.owner]\nname = "Ida Fennell"\nemail = "ida@home.example"\n'
NO_OWNER = job_text(people=PEOPLE.replace(OWNER, ""))
OTHER_OWNER = job_text(people=PEOPLE.replace("ida@home", "ida.new@home"))
OLD = "ida@home.example"


def stopped(kind: str, at: datetime = AT + HOUR) -> list[object]:
    table: dict[str, Any] = {"id": "x", "at": at, "zone": "hall", "by": "R", "reason": "crack"}
    table |= {"cause": "other"} if kind == "stopped" else {}
    return entries({**table, "kind": kind})


def told_may() -> list[Heard]:
    told = told_all(wants(AT, log=RELEASED), AT)
    assert any(each.kind == "released" and each.address == OLD for each in told)
    return told


def to(found: Iterable[Reminder], kind: str, address: str = OLD) -> list[Reminder]:
    return [each for each in found if each.kind == kind and each.address == address]


@pytest.mark.parametrize("text", [NO_OWNER, OTHER_OWNER])
def test_a_may_is_taken_back_where_it_was_heard(text: str) -> None:
    told = told_may()
    # The release is no more: withdrawn, and the file's person gone with it.
    found = wants(AT + HOUR, told, text=text, log=LOG)
    [back] = to(found, "no-longer")
    assert back.urgent
    assert back.due_at <= AT + HOUR
    # Heard once, it is not said again.
    told.append(heard(back, AT + HOUR, number=99))
    assert not to(wants(AT + 2 * HOUR, told, text=text, log=LOG), "no-longer")


@pytest.mark.parametrize("text", [NO_OWNER, OTHER_OWNER])
def test_a_stop_reaches_who_still_goes_by_a_may(text: str) -> None:
    told = told_may()
    found = wants(AT + HOUR, told, text=text, log=[*RELEASED, *stopped("stopped")])
    [stop] = to(found, "stopped")
    assert stop.urgent
    told.append(heard(stop, AT + HOUR, number=99))
    again = wants(AT + 2 * HOUR, told, text=text, log=[*RELEASED, *stopped("stopped")])
    assert not to(again, "stopped")


def test_who_heard_no_may_is_not_spoken_to_any_more() -> None:
    told = told_all(wants(NOW), NOW)
    found = wants(NOW + HOUR, told, text=NO_OWNER, log=stopped("stopped", NOW + HOUR))
    assert of_kind(found, "stopped")
    assert not [each for each in found if each.address == OLD]


def test_a_number_of_before_hears_it_too_beside_the_new_one() -> None:
    def text(number: str) -> str:
        wish = f'phone = "{number}"\nreach_by = ["text", "email"]\n'
        return job_text(people=f"{PEOPLE}{wish}")

    before, after = text("+1 902 555 0177"), text("+1 902 555 0188")
    told = told_all(wants(AT, text=before, log=RELEASED), AT)
    found = of_kind(wants(AT + HOUR, told, text=after, log=LOG), "no-longer", "ida")
    assert {each.address for each in found} == {"+19025550177", "+19025550188", OLD}
    assert len({each.key for each in found}) == len(found)


def test_an_address_spelled_otherwise_is_the_same() -> None:
    text = job_text(people=PEOPLE.replace("ida@home", "Ida@Home"))
    found = of_kind(wants(AT + HOUR, told_may(), text=text, log=LOG), "no-longer", "ida")
    assert [each.address for each in found] == ["Ida@Home.example"]


@pytest.mark.parametrize("role", ["gone", "owner"])
def test_who_is_no_electrician_any_more_hears_that_a_visit_is_off(role: str) -> None:
    told = told_all(wants(NOW), NOW)
    sam = (
        '[people.electrician]\nname = "Sam Okoro-Lind"\nlicense = "E 2214"\n'
        'email = "sam@sparks.example"\n'
    )
    people = PEOPLE.replace(sam, "")
    if role == "owner":
        people = PEOPLE.replace(OWNER, "").replace("people.electrician", "people.owner")
    text = job_text(people=people)
    found = of_kind(wants(NOW + HOUR, told, text=text), "visit-off", "sam")
    assert {each.subject for each in found} == {"energize", "test-and-connect"}
    told += [heard(each, NOW + HOUR, number=90) for each in found]
    assert not of_kind(wants(NOW + 2 * HOUR, told, text=text), "visit-off")
    # A day that has passed is not called off.
    past = datetime(2027, 1, 11, 15, tzinfo=UTC)
    assert not of_kind(wants(past, told_all(wants(NOW), NOW), text=text), "visit-off")


def test_what_a_person_heard_by_an_address_without_a_name_is_kept_apart() -> None:
    told = [replace(each, address="", channel="") for each in told_may()]
    # Without an address there is nobody to write to.
    assert not to(wants(AT + HOUR, told, text=NO_OWNER, log=LOG), "no-longer")


def test_a_release_anew_is_taken_back_anew() -> None:
    told = told_may()
    [back] = to(wants(AT + HOUR, told, text=OTHER_OWNER, log=LOG), "no-longer")
    told.append(heard(back, AT + HOUR, number=99))
    later = AT + DAY
    log = [*LOG, *entries(released(later))]
    again = wants(later, told, log=log)
    told += [heard(each, later, number=200) for each in of_kind(again, "released", "ida")]
    assert to(wants(later + HOUR, told, text=OTHER_OWNER, log=LOG), "no-longer")


@pytest.mark.parametrize(
    ("number", "more"),
    [
        ("+1 902 555 0188", ""),
        ("+1 902 555 0177", "until = 2026-12-08T10:00:00\n"),
        ("", ""),
    ],
    ids=["another number", "left the job", "gone from its file"],
)
def test_a_may_is_taken_back_in_the_language_it_was_given_in(
    number: str, more: str, tmp_path: Path
) -> None:
    def text(phone: str, more: str = "") -> str:
        wish = f'phone = "{phone}"\nreach_by = ["text"]\nlanguage = "pl"\n{more}'
        return job_text(people=f"{PEOPLE}{wish}").replace("[job]\n", '[job]\nlanguage = "de"\n')

    gone = NO_OWNER.replace("[job]\n", '[job]\nlanguage = "de"\n')
    at = datetime(2026, 12, 8, 12, 30, tzinfo=UTC)
    post = Post(url_of(tmp_path), Clock(at))
    try:
        post.add(text("+1 902 555 0177"), tmp_path)
        post.note(*evidence(at - HOUR / 2), released(at))
        post.cycle.run()
        assert [to for to, _ in post.text.sent] == ["+19025550177"]
        post.text.sent.clear()
        post.clock.go(2 * HOUR)
        post.add(text(number, more) if number else gone, tmp_path)
        back = {"id": "no", "at": post.clock.at, "kind": "correction", "of": "let-go"}
        post.note({**back, "withdrawn": True, "by": "Robin Mistral"})
        post.cycle.run()
        said = {to: data.decode() for to, data in post.text.sent}
        assert "+19025550177" in said
        assert all("NIE wlaczac" in one for one in said.values()), said
    finally:
        post.close()
