"""Who calendars and mails name: any of a person's roles counts, for as long as they have it."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta
from types import SimpleNamespace
from typing import Any

import pytest
from calendar_samples import JOB, crew, plan

from curecal.calendars import Audience
from curecal.cli.calendars.mail_files import readers_of, sender_of
from curecal.errors import UsageError
from curecal.trade.job import Person, Role

AS_OF = plan().as_of
BOTH = Person(
    Role.ELECTRICIAN,
    "Pat Both",
    email="pat@volt.example",
    phone="+1 555 0102",
    roles=(Role.CREW_LEAD,),
)
GONE = Person(
    Role.CREW_LEAD,
    "Sam Gone",
    email="sam@crew.example",
    phone="+1 555 0101",
    until_at=AS_OF,
)


def made(*people: Person) -> Any:
    job = replace(JOB, people=people)
    return SimpleNamespace(job=job, plan=replace(plan(), job=job))


def text_of(*people: Person) -> str:
    found = crew(made(*people).plan)
    return "\n".join(event.description for event in found.values())


def test_who_leads_the_crew_as_a_second_role_is_the_one_to_call() -> None:
    assert "+1 555 0102" in text_of(BOTH)


def test_whose_role_has_ended_is_nobody_to_call() -> None:
    said = text_of(GONE, BOTH)
    assert "+1 555 0101" not in said
    assert "+1 555 0102" in said
    assert "+1 555 0101" in text_of(replace(GONE, until_at=AS_OF + timedelta(seconds=1)))


def test_mails_go_to_everybody_who_has_the_role_now() -> None:
    found = readers_of(made(GONE, BOTH))
    assert [party.address for party in found[Audience.CREW]] == ["pat@volt.example"]
    assert [party.address for party in found[Audience.ELECTRICIAN]] == ["pat@volt.example"]
    assert sender_of(made(GONE, BOTH), None).address == "pat@volt.example"


def test_without_anybody_who_leads_the_crew_now_no_mail_is_sent() -> None:
    with pytest.raises(UsageError) as caught:
        sender_of(made(GONE), None)
    assert caught.value.code == "mail-no-sender"
