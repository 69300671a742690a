"""A line to a real mail server that is cut at each octet, either way: what the wire says then.

No cut may turn a mail that the server took into one that was "not taken", nor the other way round:
the first goes out again and again, the second is lost.
"""

from __future__ import annotations

import contextlib
import os
import socket
import threading
from datetime import UTC, datetime, timedelta
from typing import TYPE_CHECKING

import pytest
from mail_server import wait_for
from reminder_samples import Clock, Post, evening, job_text, url_of

from curecal.delivery.channels import Outcome
from curecal.delivery.mail import Letter, MailServer, MailWire, made_mail

if TYPE_CHECKING:
    from collections.abc import Iterator

    from mail_server import MailServer as Server

pytestmark = pytest.mark.slow

AT = datetime(2026, 11, 10, 12, tzinfo=UTC)
# Every octet where everything is run; else each of so many, and all near the end.
STEP = 1 if os.environ.get("CURECAL_TESTS_LONG") == "1" else 9
NEAR_END = 12


class Cut:
    """A line to a server that carries so many octets one way, and then breaks."""

    def __init__(self, port: int) -> None:
        self.port = port
        self.listening = socket.create_server(("127.0.0.1", 0))
        self.own_port = self.listening.getsockname()[1]
        # How many octets to carry to us, or to the server; None for all.
        self.to_us: int | None = None
        self.to_server: int | None = None
        self.carried = {"us": 0, "server": 0}
        threading.Thread(target=self._serve, daemon=True).start()

    def _serve(self) -> None:
        while True:
            try:
                ours, _ = self.listening.accept()
            except OSError:
                return
            theirs = socket.create_connection(("127.0.0.1", self.port))
            # Each connection its own: the last octets of one may be counted when the next began.
            carried = self.carried = {"us": 0, "server": 0}
            ends = threading.Lock()
            for source, target, name, most in (
                (theirs, ours, "us", self.to_us),
                (ours, theirs, "server", self.to_server),
            ):
                how = (source, target, carried, name, most, ends)
                threading.Thread(target=self._carry, args=how, daemon=True).start()

    def _carry(
        self,
        source: socket.socket,
        target: socket.socket,
        carried: dict[str, int],
        name: str,
        most: int | None,
        ends: threading.Lock,
    ) -> None:
        try:
            while data := source.recv(4096):
                left = len(data) if most is None else most - carried[name]
                # Before it is there: whoever has it may look at once how much came.
                carried[name] += min(left, len(data))
                target.sendall(data[:left])
                if left < len(data):
                    break
        except OSError:
            pass
        with ends:
            for end in (source, target):
                # What was carried arrives before the end does.
                with contextlib.suppress(OSError):
                    end.shutdown(socket.SHUT_WR)
                end.close()

    def close(self) -> None:
        self.listening.close()


@pytest.fixture
def cut(mail_server: Server) -> Iterator[Cut]:
    found = Cut(mail_server.port)
    yield found
    found.close()


def send(cut: Cut, number: int) -> Outcome:
    message_id = f"<{number}@tile.example>"
    mail = made_mail(
        Letter("ida@home.example", "Ida", "Leave it off", "text\n.\nmore", message_id, AT),
        sender="office@tile.example",
    )
    server = MailServer("127.0.0.1", cut.own_port, "office@tile.example", security="none")
    return MailWire(server).send("ida@home.example", mail, deadline_s=20.0).outcome


def places(total: int) -> list[int]:
    return sorted({*range(0, total, STEP), *range(max(0, total - NEAR_END), total)})


@pytest.mark.parametrize("way", ["us", "server"])
def test_a_cut_turns_no_mail_that_was_taken_into_one_that_was_not(
    cut: Cut, mail_server: Server, way: str
) -> None:
    assert send(cut, -1) is Outcome.TAKEN
    total = cut.carried[way]
    assert total > 150
    said = {}
    for number in places(total):
        setattr(cut, f"to_{way}", number)
        said[number] = send(cut, number)
    setattr(cut, f"to_{way}", None)
    # One more, taken for sure: whatever came before it is written down by now.
    assert send(cut, total) is Outcome.TAKEN
    counts = mail_server.counts()
    taken = {number: counts.get(f"<{number}@tile.example>", 0) for number in said}
    for number, outcome in said.items():
        assert taken[number] == 1 or outcome in {Outcome.LATER, Outcome.UNSURE}, number
        assert taken[number] == 0 or outcome in {Outcome.TAKEN, Outcome.UNSURE}, number
    # Both sides of the end of the mail were cut, and only after it nobody knows.
    assert {Outcome.LATER, Outcome.UNSURE} <= set(said.values())
    order = [said[number] for number in sorted(said)]
    assert Outcome.LATER not in order[order.index(Outcome.UNSURE) :]


@pytest.mark.parametrize(
    ("word", "whole"),
    [
        ("refuse", Outcome.NEVER),
        ("later", Outcome.LATER),
        ("relay", Outcome.LATER),
        ("login", Outcome.LATER),
        ("never", Outcome.NEVER),
    ],
)
def test_a_cut_refusal_is_one_only_by_its_three_digits(
    cut: Cut, mail_server: Server, word: str, whole: Outcome
) -> None:
    mail_server.behave(word)
    assert send(cut, -1) is whole
    total = cut.carried["us"]
    said = {}
    for number in places(total):
        cut.to_us = number
        said[number] = send(cut, number)
    assert mail_server.taken() == []
    assert Outcome.TAKEN not in said.values()
    # The server refused before the mail: nothing is unsure. After it: until its digits are there.
    assert (Outcome.UNSURE in said.values()) is (word == "never")
    last = [outcome for outcome in said.values() if outcome is not whole]
    assert set(last) <= {Outcome.LATER, Outcome.UNSURE}


def test_a_server_that_hangs_up_after_each_mail_gets_it_no_more_than_twice(
    mail_server: Server, tmp_path_factory: pytest.TempPathFactory
) -> None:
    """By itself the book sends a mail of unsure fate once more, with the same identity."""
    mail_server.behave("drop")
    folder = tmp_path_factory.mktemp("book")
    wire = MailWire(
        MailServer("127.0.0.1", mail_server.port, "office@tile.example", security="none")
    )
    clock = Clock(evening())
    post = Post(url_of(folder), clock, wires={"email": wire})
    post.add(job_text(), folder)
    for _ in range(16):
        post.cycle.run()
        post.sender.drain(until_s=10.0)
        clock.go(timedelta(minutes=10))
    post.close()
    counts = wait_for(mail_server.counts)
    assert len(counts) >= 3
    assert set(counts.values()) == {2}
