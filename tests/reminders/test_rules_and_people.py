"""The rules as data, a company's changes over them, and people who are named twice."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime, time, timedelta
from typing import Any

import pytest
from calendar_samples import JOB

from curecal.errors import SourceError
from curecal.reminders.messages.texts import reach_of
from curecal.reminders.recipients import is_out_of_reach, recipients
from curecal.reminders.reminder_rules import (
    company_rules,
    rules_of,
    shipped_document,
    shipped_rules,
)
from curecal.reminders.reminder_types import Channel
from curecal.trade.job import Person, Role
from curecal.trade.names import comparable_email, comparable_phone, dialed
from curecal.words.catalogue import catalogue


def test_every_kind_has_its_words_and_a_reason() -> None:
    texts = catalogue("en")
    for name, table in shipped_document()["kind"].items():
        assert f"remind.{name}.subject" in texts
        assert f"remind.{name}.sms" in texts
        assert f"name.about.{name}" in texts
        assert table["why"]
    assert shipped_document()["source"]


def test_what_takes_a_permission_back_is_urgent() -> None:
    urgent = {name for name, rule in shipped_rules().kinds.items() if rule.urgent}
    assert urgent == {"stopped", "early-switch-on", "no-longer"}
    assert all(shipped_rules().kinds[name].keeps_s is None for name in urgent)


def test_a_company_changes_times_and_keeps_the_rest() -> None:
    changes = {"quiet_from": "21:30", "still-curing": {"every": "14 d", "at": "17:15"}}
    rules = company_rules(changes)
    assert rules.quiet_from == time(21, 30)
    assert rules.quiet_to == shipped_rules().quiet_to
    assert rules.kinds["still-curing"].every == 14
    assert rules.kinds["still-curing"].at == time(17, 15)
    assert rules.kinds["moved"] == shipped_rules().kinds["moved"]


def test_a_company_may_leave_a_kind_out() -> None:
    assert company_rules({"keep-room": {"off": True}}).kinds["keep-room"].off


@pytest.mark.parametrize(
    ("changes", "code"),
    [
        ({"quiet": "20:00"}, "reminder-key-unknown"),
        ({"still-curing": {"evry": "7 d"}}, "reminder-key-unknown"),
        ({"still-curing": {"to": ["electrician"]}}, "reminder-key-unknown"),
        ({"still-curing": {"urgent": True}}, "reminder-key-unknown"),
        ({"source": "mine"}, "reminder-key-unknown"),
        ({"stopped": {"off": True}}, "reminder-kind-fixed"),
        ({"early-switch-on": {"keeps": "1 h"}}, "reminder-kind-fixed"),
        ({"no-longer": {"off": True}}, "reminder-kind-fixed"),
        ({"moved": {"every": "7 d"}}, "reminder-key-without-use"),
        ({"quiet_from": "25:00"}, "reminder-value"),
        ({"quiet_from": "soon"}, "reminder-value"),
        ({"quiet_from": 7}, "reminder-value"),
        # Not guessed at: 8:05 or 8:50, and minutes with a digit too many.
        ({"quiet_from": "8:5"}, "reminder-value"),
        ({"quiet_from": "19:050"}, "reminder-value"),
        ({"quiet_from": "+18:00"}, "reminder-value"),
        ({"quiet_from": "9" * 40 + ":00"}, "reminder-value"),
        ({"settle": "a while"}, "reminder-value"),
        ({"settle": "401 d"}, "reminder-value"),
        ({"still-curing": {"every": "36 h"}}, "reminder-value"),
        ({"still-curing": {"every": "61 d"}}, "reminder-value"),
        ({"keep-room": {"off": "yes"}}, "reminder-value"),
        ({"working_days": "all"}, "reminder-value"),
        # What is past its use at once is never said.
        ({"heat-day": {"keeps": "0 h"}}, "reminder-value"),
        ({"quiet_from": "00:00", "quiet_to": "23:59"}, "reminder-quiet-long"),
        ({"quiet_from": "15:01", "quiet_to": "07:02"}, "reminder-quiet-long"),
        ({"working_days": ["boss"]}, "reminder-value"),
    ],
)
def test_what_is_not_understood_is_refused(changes: dict[str, Any], code: str) -> None:
    with pytest.raises(SourceError) as refused:
        company_rules(changes)
    assert refused.value.code == code


def test_the_nearest_key_is_named() -> None:
    with pytest.raises(SourceError) as refused:
        company_rules({"stil-curing": {}})
    assert refused.value.params["nearest"] == "still-curing"


def test_a_document_that_lacks_a_key_does_not_load() -> None:
    document = {name: value for name, value in shipped_document().items() if name != "settle"}
    with pytest.raises(SourceError) as refused:
        rules_of(document)
    assert refused.value.code == "reminder-key-missing"


def person(role: Role, **more: Any) -> Person:
    return Person(role, more.pop("name", "Robin"), **more)


def test_one_mail_address_is_one_person_however_it_is_spelled() -> None:
    found = recipients(
        [
            person(Role.OWNER, email="Robin@Crew.Example ", phone="+1 902 555 0100"),
            person(Role.CREW_LEAD, email="robin@crew.example", language="fr"),
        ]
    )
    assert len(found) == 1
    assert found[0].roles == (Role.CREW_LEAD, Role.OWNER)
    assert found[0].language == "fr"


def test_without_a_mail_address_the_number_tells() -> None:
    found = recipients(
        [
            person(Role.OWNER, phone="+1 (902) 555-0100"),
            person(Role.ELECTRICIAN, phone="001 902 555 0100"),
            person(Role.CREW_LEAD, name="Ödön"),
        ]
    )
    assert [each.id for each in found] == ["+19025550100", "crew_lead:ödön"]
    # Nobody is silently told nothing: it is a call to make.
    assert found[1].ways == ((Channel.PHONE, "Ödön, crew lead"),)
    assert [is_out_of_reach(each) for each in found] == [False, True]


@pytest.mark.parametrize(
    ("wish", "ways"),
    [
        ((), [Channel.EMAIL]),
        (("text",), [Channel.TEXT]),
        (("text", "email"), [Channel.TEXT, Channel.EMAIL]),
        (("phone",), [Channel.PHONE]),
        (("push", "email"), [Channel.PUSH, Channel.EMAIL]),
    ],
)
def test_people_are_reached_as_they_wish(wish: tuple[str, ...], ways: list[Channel]) -> None:
    one = person(Role.OWNER, email="a@b.example", phone="+1 902 555 0100", reach_by=wish)
    assert [way for way, _ in recipients([one])[0].ways] == ways


@pytest.mark.parametrize(
    ("wish", "more", "way"),
    [
        (("phone",), {"email": "a@b.example"}, (Channel.EMAIL, "a@b.example")),
        (("text",), {"email": "a@b.example"}, (Channel.EMAIL, "a@b.example")),
        (("email",), {"phone": "+1 902 555 0100"}, (Channel.TEXT, "+19025550100")),
        (("text",), {}, (Channel.PHONE, "Robin, owner")),
    ],
)
def test_a_wish_that_cannot_be_met_falls_back_to_what_can(
    wish: tuple[str, ...], more: dict[str, Any], way: tuple[Channel, str]
) -> None:
    one = person(Role.OWNER, reach_by=wish, **more)
    assert recipients([one])[0].ways == (way,)


@pytest.mark.parametrize(("quiet_from", "quiet_to"), [("15:00", "07:00"), ("07:00", "07:00")])
def test_eight_hours_of_a_day_are_enough(quiet_from: str, quiet_to: str) -> None:
    rules = company_rules({"quiet_from": quiet_from, "quiet_to": quiet_to})
    assert f"{rules.quiet_from:%H:%M}" == quiet_from


def test_addresses_compare_by_their_normal_form() -> None:
    assert comparable_email(" A@B.Example") == "a@b.example"
    assert dialed("00 49 (0) 30 1+2") == "+4903012"
    assert comparable_phone("+49 30 12") == comparable_phone("0049 (30) 12") == "493012"


def test_whose_roles_have_ended_is_told_nothing_more() -> None:
    ends_at = datetime(2026, 12, 24, tzinfo=UTC)
    gone = person(Role.ELECTRICIAN, name="Sam", email="sam@volt.example", until_at=ends_at)
    stays = person(Role.OWNER, name="Kim", email="kim@home.example")
    before = recipients([gone, stays], ends_at - timedelta(seconds=1))
    assert [one.name for one in before] == ["Sam", "Kim"]
    assert [one.name for one in recipients([gone, stays], ends_at)] == ["Kim"]
    # Who is the owner as well stays that: only the entry that ended is left out.
    also = person(Role.OWNER, name="Sam", email="sam@volt.example")
    assert [one.roles for one in recipients([gone, also], ends_at)] == [(Role.OWNER,)]
    # Without an instant everybody who ever was one.
    assert len(recipients([gone, stays])) == 2


def test_a_question_goes_to_whoever_leads_the_crew_now() -> None:
    ends_at = datetime(2026, 12, 24, tzinfo=UTC)
    first = person(Role.CREW_LEAD, name="Sam", phone="+1 555 0101", until_at=ends_at)
    second = person(Role.ELECTRICIAN, name="Pat", phone="+1 555 0102", roles=(Role.CREW_LEAD,))
    job = replace(JOB, people=(first, second))
    assert reach_of(job, ends_at - timedelta(days=1))["phone"] == "+1 555 0101"
    assert reach_of(job, ends_at)["phone"] == "+1 555 0102"
