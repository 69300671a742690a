"""What becomes of messages on the wire: taken, refused, of unsure fate, hanging, book away."""

from __future__ import annotations

import sqlite3
import threading
import time
from datetime import timedelta
from typing import TYPE_CHECKING

import pytest
from reminder_samples import (
    Clock,
    Post,
    evening,
    job_text,
    plain,
    put_rows,
    url_of,
)

from curecal.book.message_states import MessageState
from curecal.delivery.channel_settings import wires_for
from curecal.delivery.channels import Answer, Outcome
from curecal.errors import BookError

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path


@pytest.fixture
def clock() -> Clock:
    return Clock(evening())


@pytest.fixture
def post(tmp_path: Path, clock: Clock) -> Iterator[Post]:
    found = Post(url_of(tmp_path), clock)
    found.add(job_text(), tmp_path)
    yield found
    found.close()


def answered(post: Post, clock: Clock, answers: list[Answer], ticks: int = 6) -> None:
    """Let one message of its own go out, with what the wire answers."""
    put_rows(post.book, 1, clock.at)
    post.mail.answers = answers
    for _ in range(ticks):
        post.cycle.run(for_s=30.0)
        clock.go(timedelta(minutes=2))


LATER, NEVER, UNSURE = (
    Answer(each, "said so") for each in (Outcome.LATER, Outcome.NEVER, Outcome.UNSURE)
)


@pytest.fixture
def quiet_post(tmp_path: Path, clock: Clock) -> Iterator[Post]:
    """A post whose job says nothing by itself."""
    found = Post(url_of(tmp_path), clock)
    found.add(job_text(people=""), tmp_path)
    yield found
    found.close()


@pytest.mark.parametrize(
    ("answers", "state", "sent", "tries"),
    [
        ([], MessageState.SENT, 1, 1),
        ([LATER], MessageState.SENT, 1, 2),
        ([LATER, LATER], MessageState.SENT, 1, 3),
        ([NEVER], MessageState.DEAD, 0, 1),
        ([UNSURE], MessageState.SENT, 2, 2),
        ([UNSURE, UNSURE], MessageState.DEAD, 2, 2),
        ([UNSURE, NEVER], MessageState.DEAD, 1, 2),
    ],
)
def test_what_becomes_of_a_mail(
    quiet_post: Post,
    clock: Clock,
    answers: list[Answer],
    state: MessageState,
    sent: int,
    tries: int,
) -> None:
    answered(quiet_post, clock, list(answers))
    [row] = quiet_post.messages()
    assert (row.state, row.tries) == (state, tries)
    assert len(quiet_post.mail.sent) == sent
    assert len({data for _, data in quiet_post.mail.sent}) <= 1


TEXTING = """
[people.crew_lead]
name = "Robin Mistral"
email = "robin@crew.example"

[people.owner]
name = "Ida Fennell"
phone = "+1 902 555 0177"
reach_by = ["{way}"]
"""


@pytest.mark.parametrize(("way", "kind"), [("text", "unsure"), ("phone", "call")])
def test_a_text_of_unsure_fate_is_not_sent_twice_and_a_call_is_asked_for(
    tmp_path: Path, clock: Clock, way: str, kind: str
) -> None:
    post = Post(url_of(tmp_path), clock, wires={"phone": wires_for({}, None)["phone"]})
    post.add(job_text(people=TEXTING.replace("{way}", way)), tmp_path)
    post.text.answers = [UNSURE]
    for _ in range(4):
        post.cycle.run(for_s=30.0)
        clock.go(timedelta(minutes=2))
    [row] = [row for row in post.messages("digest") if row.channel == way]
    assert row.state is MessageState.DEAD
    assert len(post.text.sent) == (way == "text")
    [notice] = post.messages(kind)
    assert notice.state is MessageState.SENT
    assert notice.recipient == "robin@crew.example"
    assert "Ida Fennell" in plain(notice.body)
    post.close()


@pytest.mark.parametrize("way", ["text", "email"])
def test_a_stop_of_unsure_fate_goes_up_to_five_times_by_text_and_by_mail(
    tmp_path: Path, clock: Clock, way: str
) -> None:
    post = Post(url_of(tmp_path), clock)
    both = 'email = "ida@owner.example"\nphone ='
    post.add(job_text(people=TEXTING.replace("{way}", way).replace("phone =", both)), tmp_path)
    wired = {"kind": "connected", "locked": True, "tagged": True, "leads": "off the thermostat"}
    head = {"id": "wired", "at": clock.at, "zone": "hall", "by": "Sam Okoro-Lind"}
    post.note({**head, **wired})
    post.cycle.run()
    wire = post.text if way == "text" else post.mail
    wire.sent.clear()
    clock.go(timedelta(minutes=2))
    halt = {
        "id": "halt",
        "at": clock.at,
        "kind": "stopped",
        "cause": "other",
        "zone": "hall",
        "by": "Robin Mistral",
    }
    post.note(halt)
    wire.answers = [UNSURE] * 100
    for _ in range(16):
        post.cycle.run(for_s=30.0)
        clock.go(timedelta(minutes=2))
    rows = [row for row in post.messages("stopped") if row.channel == way]
    assert {(row.state, row.tries) for row in rows} == {(MessageState.DEAD, 5)}
    to_owner = [data for address, data in wire.sent if address == rows[0].recipient]
    assert len(to_owner) == 5
    # The same octets each time.
    assert len(set(to_owner)) == 1
    assert b"STOP" in to_owner[0]
    post.close()


def test_a_mail_that_cannot_be_addressed_is_told_to_the_crew_lead(
    tmp_path: Path, clock: Clock
) -> None:
    people = """
[people.crew_lead]
name = "Robin Mistral"
email = "robin@crew.example"

[people.owner]
name = "Ida Fennell"
email = "ïda@home.example"
"""
    post = Post(url_of(tmp_path), clock)
    post.add(job_text(people=people), tmp_path)
    for _ in range(3):
        post.cycle.run()
        clock.go(timedelta(minutes=1))
    [notice] = post.messages("undelivered")
    assert notice.state is MessageState.SENT
    [row] = [row for row in post.messages("digest") if row.recipient != "robin@crew.example"]
    assert row.state is MessageState.DEAD
    # Every line of it is named.
    assert "please leave the floor heating off" in plain(notice.body)
    post.close()


class Slow:
    """A gateway that answers when it is let go."""

    def __init__(self) -> None:
        self.gate = threading.Event()

    def send(self, address: str, data: bytes, *, deadline_s: float) -> Answer:
        del address, data, deadline_s
        self.gate.wait(60)
        return Answer(Outcome.TAKEN)


def test_a_gateway_that_hangs_holds_up_nobody_else(tmp_path: Path, clock: Clock) -> None:
    slow = Slow()
    post = Post(url_of(tmp_path), clock, wires={"text": slow})
    post.add(job_text(people=TEXTING.replace("{way}", "text")), tmp_path)
    begun_s = time.monotonic()
    post.cycle.run(for_s=5.0)
    # The gateway would keep it for a minute.
    assert time.monotonic() - begun_s < 30.0
    assert by_way(post) == {"text": MessageState.SENDING, "email": MessageState.SENT}
    slow.gate.set()
    post.sender.drain(until_s=60.0)
    assert by_way(post) == {"text": MessageState.SENT, "email": MessageState.SENT}
    post.close()


def by_way(post: Post) -> dict[str, MessageState]:
    return {row.channel: row.state for row in post.messages("digest")}


def test_a_book_that_is_locked_loses_nothing(tmp_path: Path, clock: Clock) -> None:
    post = Post(url_of(tmp_path), clock)
    post.add(job_text(), tmp_path)
    post.book.close()
    short = Post(url_of(tmp_path), clock, busy_s=0.2)
    other = sqlite3.connect(tmp_path / "book.sqlite3", isolation_level=None)
    other.execute("BEGIN IMMEDIATE")
    for _ in range(3):
        with pytest.raises(BookError) as refused:
            short.cycle.run()
        assert refused.value.code == "book-busy"
        clock.go(timedelta(seconds=20))
    other.execute("ROLLBACK")
    other.close()
    assert short.cycle.run().taken == 3
    short.close()
    post.close()


def test_an_answer_the_book_could_not_take_is_kept_until_it_can(
    tmp_path: Path, clock: Clock
) -> None:
    post = Post(url_of(tmp_path), clock, busy_s=0.2)
    post.add(job_text(people=""), tmp_path)
    post.cycle.run()
    put_rows(post.book, 2, clock.at)
    assert post.sender.begin(limit=10) == 2
    other = sqlite3.connect(tmp_path / "book.sqlite3", isolation_level=None)
    other.execute("BEGIN IMMEDIATE")
    with pytest.raises(BookError):
        post.sender.finish(wait_s=60.0)
    other.execute("ROLLBACK")
    other.close()
    post.sender.drain(until_s=60.0)
    assert {row.state for row in post.messages()} == {MessageState.SENT}
    assert len(post.mail.sent) == 2
    post.close()


def test_an_answer_that_came_while_the_book_was_away_outlives_the_lease(
    tmp_path: Path, clock: Clock
) -> None:
    post = Post(url_of(tmp_path), clock, busy_s=0.1)
    post.add(job_text(people=""), tmp_path)
    post.cycle.run()
    put_rows(post.book, 3, clock.at)
    other = sqlite3.connect(tmp_path / "book.sqlite3", isolation_level=None)
    assert post.sender.begin(limit=3) == 3
    other.execute("BEGIN IMMEDIATE")
    with pytest.raises(BookError):
        post.sender.finish(wait_s=60.0)
    # As long as a server of databases may be away: the leases are over by now.
    clock.go(timedelta(minutes=10))
    other.execute("ROLLBACK")
    other.close()
    for _ in range(3):
        post.cycle.run(for_s=30.0)
        clock.go(timedelta(minutes=10))
    assert {row.state for row in post.messages()} == {MessageState.SENT}
    assert len(post.mail.sent) == 3
    post.close()


def test_one_job_that_cannot_be_settled_keeps_no_other_back(post: Post, tmp_path: Path) -> None:
    post.add(job_text("oak-road", name="Oak Road"), tmp_path)
    with post.book.writing() as connection:
        # What the book kept of it is damaged.
        connection.exec_driver_sql("DROP TRIGGER content_no_update")
        connection.exec_driver_sql(
            "UPDATE content SET data = x'00' WHERE sha256 = "
            "(SELECT job_sha256 FROM job_revision WHERE job_id = 'oak-road')"
        )
    done = post.cycle.run()
    assert set(done.troubles) == {"oak-road"}
    # Three people of the other job, and the office.
    assert done.taken >= 3
