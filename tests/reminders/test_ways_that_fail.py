"""Channels that do not work: nothing is given up for it, somebody is told, and it goes out late."""

from __future__ import annotations

import email
from datetime import UTC, datetime, timedelta
from email.policy import SMTP
from typing import TYPE_CHECKING

import gateway_server
import pytest
from reminder_samples import DAY, HOUR, Clock, Post, evening, job_text, plain, url_of

from curecal.book.message_states import MessageState
from curecal.book.meta import beats
from curecal.delivery.channels import Answer, NoWire, Outcome
from curecal.delivery.push import GatewayWire
from curecal.reminders.recipients import recipients
from curecal.reminders.reminder_types import Channel
from curecal.trade.job import Person, Role

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

    from gateway_server import Gateway

pytestmark = pytest.mark.filterwarnings("ignore:'imghdr':DeprecationWarning")

LEAD = """
[people.crew_lead]
name = "Robin Mistral"
{lead}
"""
OWNER = """
[people.owner]
name = "Ida Fennell"
phone = "+1 902 555 0177"
reach_by = ["text"]
"""
BY_MAIL = 'email = "robin@crew.example"'
BY_TEXT = 'phone = "+1 902 555 0100"\nreach_by = ["text"]'
BY_PHONE = 'phone = "+1 902 555 0100"\nreach_by = ["phone"]'
HALT = {"id": "halt", "kind": "stopped", "cause": "other", "zone": "hall", "by": "Robin Mistral"}

DOWN = Answer(Outcome.LATER, "refused for all", is_down=True)
LATER, NEVER, UNSURE = (
    Answer(each, "said so") for each in (Outcome.LATER, Outcome.NEVER, Outcome.UNSURE)
)


@pytest.fixture
def clock() -> Clock:
    return Clock(evening())


@pytest.fixture
def gateway() -> Iterator[Gateway]:
    found, server = gateway_server.started()
    yield found
    found.over.set()
    server.shutdown()
    server.server_close()


def posted(tmp_path: Path, clock: Clock, lead: str, **wires: object) -> Post:
    post = Post(url_of(tmp_path), clock, wires=wires)
    post.add(job_text(people=LEAD.replace("{lead}", lead) + OWNER), tmp_path)
    # A stop concerns an owner once the floor is connected.
    wired = {"kind": "connected", "locked": True, "tagged": True, "leads": "off the thermostat"}
    head = {"id": "wired", "at": clock.at - HOUR, "zone": "hall", "by": "Sam Okoro-Lind"}
    post.note({**head, **wired})
    return post


def run(post: Post, clock: Clock, span: timedelta, *, every: timedelta = HOUR / 12) -> None:
    """Let time pass, a tick each few minutes."""
    end = clock.at + span
    while clock.at < end:
        post.cycle.run(for_s=5.0)
        post.sender.drain(until_s=10.0)
        clock.go(every)


@pytest.mark.slow
def test_a_gateway_that_refuses_keeps_the_message_and_the_lead_is_told(
    tmp_path: Path, clock: Clock, gateway: Gateway
) -> None:
    gateway.status = 401
    post = posted(tmp_path, clock, BY_MAIL, text=GatewayWire(gateway.url("{phone}")))
    run(post, clock, HOUR)
    [row] = [one for one in post.messages("digest") if one.recipient == "+19025550177"]
    assert (row.state, row.reason) == (MessageState.BACKOFF, "the gateway refused it: status 401")
    [notice] = post.messages("undelivered")
    assert (notice.state, notice.recipient) == (MessageState.SENT, "robin@crew.example")
    assert "Ida Fennell" in plain(notice.body)
    with post.book.reading() as connection:
        [beat] = beats(connection)
    assert beat.note["down"] == {"text": "the gateway refused it: status 401"}
    # Half a week later somebody sets the password right: nothing was given up, and it goes late.
    run(post, clock, 3 * DAY, every=HOUR)
    gateway.status = 0
    gateway.taken.clear()
    run(post, clock, 2 * HOUR, every=HOUR / 2)
    own = [one for one in post.messages("digest") if one.recipient == "+19025550177"]
    assert own[-1].state is MessageState.SENT
    assert MessageState.DEAD not in {row.state for row in post.messages()}
    assert "late, meant for Mon 9 Nov" in gateway.taken[0][1]["message"]
    assert len(post.messages("undelivered")) == 1
    post.close()


def test_a_stop_that_does_not_get_through_is_told_within_minutes(
    tmp_path: Path, clock: Clock
) -> None:
    post = posted(tmp_path, clock, BY_MAIL)
    run(post, clock, HOUR / 4)
    post.text.answers = [DOWN] * 50
    post.note({**HALT, "at": clock.at})
    run(post, clock, timedelta(minutes=3), every=timedelta(minutes=1))
    [notice] = post.messages("undelivered")
    assert notice.state is MessageState.SENT
    assert "STOP" in plain(notice.body)
    post.close()


@pytest.mark.slow
def test_a_lead_reached_the_same_way_only_hears_of_it_when_it_works_again(
    tmp_path: Path, clock: Clock
) -> None:
    post = posted(tmp_path, clock, BY_TEXT)
    post.text.answers = [DOWN] * 100
    run(post, clock, 20 * HOUR, every=HOUR / 4)
    [notice] = post.messages("undelivered")[-1:]
    assert notice.recipient == "office@tile.example"
    post.text.answers = []
    post.close()


@pytest.mark.slow
def test_without_an_office_a_notice_waits_for_the_only_way(tmp_path: Path, clock: Clock) -> None:
    post = posted(tmp_path, clock, BY_TEXT)
    post.context.sender = "curecal@localhost.invalid"
    post.text.answers = [DOWN] * 100
    run(post, clock, 20 * HOUR, every=HOUR / 4)
    # It stands behind what waits for the same reader, and nobody gave it up.
    assert post.messages("undelivered")[-1].state in {MessageState.BACKOFF, MessageState.DUE}
    post.text.answers = []
    run(post, clock, 2 * HOUR)
    assert post.messages("undelivered")[-1].state is MessageState.SENT
    assert [to for to, data in post.text.sent if b"was not reached" in data] == ["+19025550100"]
    post.close()


@pytest.mark.slow
def test_nothing_set_up_keeps_the_message(tmp_path: Path, clock: Clock) -> None:
    post = posted(tmp_path, clock, BY_MAIL, text=NoWire("nothing is set up"))
    run(post, clock, 30 * HOUR, every=HOUR / 2)
    waiting = [row for row in post.messages("digest") if row.channel == "text"]
    assert waiting[-1].state is MessageState.BACKOFF
    assert [row.state for row in post.messages("undelivered")] == [MessageState.SENT]
    post.close()


def test_a_lead_who_is_only_called_the_office_hears_instead(tmp_path: Path, clock: Clock) -> None:
    post = posted(tmp_path, clock, BY_PHONE)
    post.text.answers = [NEVER]
    run(post, clock, HOUR / 4)
    [notice] = post.messages("undelivered")
    assert (notice.state, notice.recipient) == (MessageState.SENT, "office@tile.example")
    assert "Ida Fennell" in plain(notice.body)
    post.close()


@pytest.mark.parametrize("answers", [[NEVER], [UNSURE] * 2])
def test_a_notice_that_fails_goes_the_next_way_and_no_way_twice(
    tmp_path: Path, clock: Clock, answers: list[Answer]
) -> None:
    both = 'phone = "+1 902 555 0100"\nemail = "robin@crew.example"\nreach_by = ["email", "text"]'
    post = posted(tmp_path, clock, both)
    run(post, clock, HOUR / 4)
    post.text.answers = [NEVER]
    post.mail.answers = list(answers)
    clock.at, clock.since_boot_s = clock.at + 14 * DAY, clock.since_boot_s + 14 * 86400.0
    run(post, clock, HOUR, every=timedelta(minutes=1))
    notices = [row for row in post.messages("undelivered") if "Ida" in row.body.decode("latin-1")]
    told = {(row.channel, row.state) for row in notices}
    assert ("email", MessageState.SENT) in told
    ways = [(row.channel, row.recipient) for row in notices]
    assert len(ways) == len(set(ways))
    post.close()


def test_a_mail_that_waited_says_so_and_has_a_new_date(tmp_path: Path, clock: Clock) -> None:
    post = Post(url_of(tmp_path), clock)
    post.add(job_text(), tmp_path)
    post.mail.answers = [LATER] * 1000
    run(post, clock, 4 * HOUR, every=HOUR / 4)
    sent_at = clock.at
    post.mail.answers = []
    run(post, clock, 2 * HOUR, every=HOUR / 4)
    # The last try before fell into an hour's wait; it is after quiet hours began, yet was due.
    found = [data for to, data in post.mail.sent if to == "ida@home.example"]
    assert len(found) == 1
    read = email.message_from_bytes(found[0], policy=SMTP)
    assert read["Date"].datetime >= sent_at - 2 * HOUR
    assert "This message comes late: it was meant for Mon 9 Nov, 18:30" in plain(found[0])
    post.close()


def test_what_may_have_arrived_goes_again_as_it_was(tmp_path: Path, clock: Clock) -> None:
    post = posted(tmp_path, clock, BY_MAIL)
    post.cycle.run()
    clock.go(timedelta(minutes=2))
    post.text.sent.clear()
    post.note({**HALT, "at": clock.at})
    post.text.answers = [UNSURE, *[DOWN] * 30]
    run(post, clock, 6 * HOUR, every=HOUR / 4)
    post.text.answers = []
    run(post, clock, 2 * HOUR, every=HOUR / 4)
    stops = [data for _, data in post.text.sent if b"STOP" in data]
    assert len(stops) == 2
    assert len(set(stops)) == 1
    post.close()


def test_a_stop_by_text_says_whom_to_call(tmp_path: Path, clock: Clock) -> None:
    post = posted(tmp_path, clock, 'email = "robin@crew.example"\nphone = "+1 902 555 0100"')
    post.cycle.run()
    clock.go(timedelta(minutes=2))
    post.note({**HALT, "at": clock.at})
    post.cycle.run()
    [stop] = [data for to, data in post.text.sent if b"STOP" in data and to == "+19025550177"]
    assert stop.endswith(b"and call us at +1 902 555 0100.")
    post.close()


def test_a_mail_of_a_lead_without_a_number_names_an_address(tmp_path: Path, clock: Clock) -> None:
    post = Post(url_of(tmp_path), clock)
    post.add(job_text(), tmp_path)
    post.cycle.run()
    [data] = [data for to, data in post.mail.sent if to == "ida@home.example"]
    assert "Questions: Robin Mistral, robin@crew.example" in plain(data)
    post.close()


def test_what_came_too_late_names_its_own_time(tmp_path: Path, clock: Clock) -> None:
    post = Post(url_of(tmp_path), clock)
    post.add(job_text(), tmp_path)
    post.cycle.run()
    for at in (datetime(2026, 12, 6, 14, tzinfo=UTC), datetime(2026, 12, 7, 11, 30, tzinfo=UTC)):
        clock.go(at - clock.at)
        post.cycle.run()
    clock.go(timedelta(hours=26))
    post.cycle.run()
    found = [plain(row.body) for row in post.messages("missed")]
    [text] = [text for text in found if "day we named" in text]
    assert "It was meant for Mon 7 Dec, 08:00." in text
    post.close()


def test_one_number_is_one_person_with_a_plus_or_without() -> None:
    people = [
        Person(Role.OWNER, "Ida Fennell", phone="+1 902 555 0177"),
        Person(Role.OWNER, "Ida F.", phone="1 902 555-0177"),
    ]
    [found] = recipients(people)
    assert found.id == "+19025550177"
    assert found.ways[0][0] is Channel.TEXT
