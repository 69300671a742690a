"""Answers with something changed in them: nothing is taken for sent that nobody took.

What a server really said is known here octet by octet, and read a second time by hand: the code of
a reply (RFC 5321, 4.2; RFC 9112, 4), and whether the server ever had the whole message.
"""

from __future__ import annotations

import contextlib
import random
import re
import socket
import threading
from collections import Counter
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from datetime import UTC, datetime
from typing import TYPE_CHECKING

import pytest
from dav_hostile import hostile
from dav_samples import LATER, crew, grout, published, uid, walk
from file_mutations import count_of, drawn, spoil_lines, spoil_octets, spoil_value
from icalendar import Calendar

from curecal.delivery.channels import Answer, Outcome
from curecal.delivery.mail import Letter, MailServer, MailWire, made_mail
from curecal.delivery.push import GatewayWire
from curecal.errors import CurecalError

if TYPE_CHECKING:
    from dav_hostile import Handler, Request

# The gateway's library still uses a module that Python 3.13 has not.
pytestmark = [
    pytest.mark.filterwarnings("ignore:'imghdr':DeprecationWarning"),
    # Lines that are cut are closed by whoever collects them.
    pytest.mark.filterwarnings("ignore::ResourceWarning"),
]

AT = datetime(2026, 11, 10, 12, tzinfo=UTC)
MAIL = made_mail(
    Letter("ida@home.example", "Ida", "Leave it off", "Until Monday.", "<1@tile.example>", AT),
    sender="office@tile.example",
)
# Whoever waits for the rest of a reply that never comes waits so long, and for one that comes
# longer.
LIMIT_S, PATIENCE_S = 0.3, 30.0
GREETING, HELLO, FROM, TO, DATA, END = range(6)
GOOD = (
    b"220 mail.tile.example ready; Tue, 10 Nov 2026 12:00:00 +0000\r\n",
    b"250-mail.tile.example\r\n250-PIPELINING\r\n250-SIZE 10240000\r\n250 8BITMIME\r\n",
    b"250 2.1.0 OK\r\n",
    b"250 2.1.5 OK\r\n",
    b"354 go ahead, end with a dot\r\n",
    b"250 2.0.0 OK: queued as 12345\r\n",
)
# Other replies than yes, at some step.
NO: dict[int, tuple[bytes, ...]] = {
    FROM: (b"530 5.7.0 authentication required\r\n",),
    TO: (b"550 5.1.1 no such mailbox\r\n", b"450 4.2.1 busy\r\n", b"251 moved\r\n"),
    DATA: (b"451 4.3.0 try again\r\n",),
    END: (b"552 5.3.4 too large\r\n", b"451 4.3.0 local error\r\n", b"421 4.3.2 closing\r\n"),
}


@dataclass
class Talk:
    """A server of one connection: what it is to reply, and what it was given."""

    replies: list[bytes]
    heard: bytes = b""
    has_whole: bool = False
    began: set[int] = field(default_factory=set)

    def serve(self, listening: socket.socket) -> None:
        line, _ = listening.accept()
        with line, contextlib.suppress(OSError):
            line.settimeout(30.0)
            self._reply(line, GREETING)
            for verb, step in ((b"EHLO", HELLO), (b"MAIL", FROM), (b"RCPT", TO), (b"DATA", DATA)):
                if not self._command(line, verb):
                    return
                self._reply(line, step)
            while not self.heard.endswith(b"\r\n.\r\n"):
                self._more(line)
            self.has_whole = True
            self._reply(line, END)

    def _more(self, line: socket.socket) -> None:
        piece = line.recv(1 << 16)
        if not piece:
            raise ConnectionError
        self.heard += piece

    def _command(self, line: socket.socket, verb: bytes) -> bool:
        """Wait for a command; whether it is the one that comes next."""
        self.heard = b""
        while not self.heard.endswith(b"\n"):
            self._more(line)
        said = self.heard
        self.heard = b""
        return said.upper().startswith(verb)

    def _reply(self, line: socket.socket, step: int) -> None:
        self.began.add(step)
        line.sendall(self.replies[step])
        if not self.replies[step].endswith(b"\n"):
            # A reply that is cut off is the last that comes.
            raise ConnectionError


def code_of(reply: bytes) -> int | None:
    """Return the code of a whole reply, of one line or several; None for anything else."""
    lines = reply.split(b"\n")[:-1]
    for line in lines:
        match = re.match(rb"(\d\d\d)(?:([ -])|\r?$)", line)
        if match is None:
            return None
        if match[2] != b"-":
            return int(match[1])
    return None


def mailed(replies: list[bytes], limit_s: float = PATIENCE_S) -> tuple[Answer, Talk]:
    """Return what a wire says of a server that replies so, and what the server was given."""
    talk = Talk(replies)
    with socket.create_server(("127.0.0.1", 0)) as listening:
        serving = threading.Thread(target=talk.serve, args=(listening,))
        serving.start()
        server = MailServer(
            "127.0.0.1", listening.getsockname()[1], "office@tile.example", security="none"
        )
        answer = MailWire(server).send("ida@home.example", MAIL, deadline_s=limit_s)
        serving.join(60.0)
    assert not serving.is_alive()
    return answer, talk


def wrong_of_mail(answer: Answer, talk: Talk) -> str:
    """Return what an answer says that is not so; empty where it is."""
    end = talk.replies[END]
    if answer.outcome is Outcome.TAKEN:
        # A reply cut off behind its code has said its code.
        said = code_of(end if end.endswith(b"\n") else end + b" \n")
        return "" if talk.has_whole and said == 250 else "taken for sent"
    if answer.outcome is Outcome.UNSURE:
        return "" if DATA in talk.began else "doubtful before it was on its way"
    if talk.has_whole and not 400 <= (code_of(end) or 0) < 600:
        return "would be sent again although it may have been taken"
    if answer.outcome is Outcome.NEVER and not talk.has_whole:
        refused = code_of(talk.replies[TO]) or 0
        return "" if 500 <= refused < 600 else "given up without a refusal"
    return ""


def test_a_mail_is_sent_and_refused_as_the_server_says() -> None:
    assert mailed(list(GOOD))[0].outcome is Outcome.TAKEN
    for step, replies in NO.items():
        for reply in replies:
            answer, talk = mailed([*GOOD[:step], reply, *GOOD[step + 1 :]])
            assert wrong_of_mail(answer, talk) == "", reply
            # What holds the answers to the truth can fail.
            if step == END:
                assert wrong_of_mail(Answer(Outcome.TAKEN), talk) == "taken for sent"


@pytest.mark.parametrize(
    ("step", "reply", "outcome"),
    [
        # Each later reply is read one command too early.
        (HELLO, GOOD[HELLO] + b"250 once more\r\n", Outcome.LATER),
        (FROM, GOOD[FROM] * 2, Outcome.LATER),
        (FROM, GOOD[FROM] * 3, Outcome.LATER),
        (DATA, GOOD[DATA] * 2, Outcome.UNSURE),
        # No code that there is, so no refusal for good.
        (TO, b"816 2.1.5 OK\r\n", Outcome.LATER),
        (FROM, b"354 2.1.0 OK\r\n", Outcome.LATER),
        # Four digits are no code.
        (TO, b"5580 5.1.1 no such mailbox\r\n", Outcome.LATER),
        (END, b"250250 2.0.0 OK\r\n", Outcome.UNSURE),
    ],
)
def test_replies_out_of_step_are_no_mail_taken(step: int, reply: bytes, outcome: Outcome) -> None:
    answer, talk = mailed([*GOOD[:step], reply, *GOOD[step + 1 :]])
    assert answer.outcome is outcome
    assert wrong_of_mail(answer, talk) == ""


def spoil_reply(reply: bytes, draw: random.Random) -> bytes:
    """Return a reply with its code, its text, its lines or octets changed."""
    kind = draw.randrange(6)
    text = reply.decode("ascii", "replace")
    if kind == 0:
        return spoil_octets(reply, draw)
    if kind == 1:
        return spoil_lines(text, draw).encode()
    if kind == 2:
        return draw.choice((reply + reply, reply[: draw.randrange(len(reply))], b"", reply * 3))
    if kind == 3:
        return f"{draw.randrange(1000):03d}{text[3:]}".encode()
    if kind == 4:
        return draw.choice((b"250", b"354", b"-", b"0", b"\r\n", b"9" * 3000)) + reply
    return spoil_value(text, draw).encode("utf-8", "replace")


def test_a_mutated_reply_sends_no_mail_twice_and_loses_none() -> None:
    draw, ends = drawn("mail server"), Counter[str]()
    for number in range(count_of("mail server")):
        replies = list(GOOD)
        if draw.random() < 0.3:
            step = draw.choice(sorted(NO))
            replies[step] = draw.choice(NO[step])
        for _ in range(draw.choice((1, 1, 2))):
            step = draw.randrange(6)
            replies[step] = spoil_reply(replies[step] or GOOD[step], draw)
        answer, talk = mailed(replies, LIMIT_S)
        assert not wrong_of_mail(answer, talk), (number, answer, talk)
        ends[answer.outcome] += 1
    assert ends[Outcome.TAKEN]
    assert ends[Outcome.LATER]


PAGES = (
    b"HTTP/1.1 200 OK\r\nContent-Length: 2\r\nContent-Type: text/plain\r\n\r\nok",
    b"HTTP/1.1 200 OK\r\nContent-Length: 2\r\nContent-Type: text/plain\r\n\r\nok",
    b"HTTP/1.1 503 Service Unavailable\r\nRetry-After: 120\r\nContent-Length: 0\r\n\r\n",
    b"HTTP/1.1 401 Unauthorized\r\nContent-Length: 4\r\n\r\nwho?",
    b"HTTP/1.1 302 Found\r\nLocation: /elsewhere\r\nContent-Length: 0\r\n\r\n",
    b"HTTP/1.1 500 Internal Server Error\r\nContent-Length: 4\r\n\r\noops",
)
# Source: RFC 9110, 15: with these the request was not carried out.
NOT_DONE = {*range(300, 500), 501, 503} - {408, 409}


def status_of(page: bytes) -> int | None:
    """Return the status of an answer; None where its first line is none."""
    match = re.match(rb"HTTP/\d\.\d +\+?(\d\d\d)(?:[ \r\n]|$)", page)
    return int(match[1]) if match else None


@contextlib.contextmanager
def gateway() -> Iterator[tuple[GatewayWire, list[bytes], list[bytes]]]:
    """Give a wire to a gateway that answers with what stands first in a list, and what it heard."""
    pages: list[bytes] = []
    heard: list[bytes] = []
    with socket.create_server(("127.0.0.1", 0)) as listening:

        def serve() -> None:
            while True:
                line, _ = listening.accept()
                with line, contextlib.suppress(OSError):
                    line.settimeout(30.0)
                    if not pages:
                        return
                    asked = line.recv(1 << 16)
                    length = int((re.search(rb"Content-Length: (\d+)", asked) or [0, 0])[1])
                    while len(asked.partition(b"\r\n\r\n")[2]) < length:
                        asked += line.recv(1 << 16)
                    heard.append(asked)
                    line.sendall(pages[0])

        serving = threading.Thread(target=serve)
        serving.start()
        port = listening.getsockname()[1]
        yield GatewayWire(f"json://127.0.0.1:{port}/{{phone}}"), pages, heard
        pages.clear()
        with socket.create_connection(("127.0.0.1", port)):
            pass
        serving.join(60.0)
        assert not serving.is_alive()


def test_a_mutated_answer_of_a_gateway_is_no_message_taken(
    needs: Callable[[str], str],
) -> None:
    del needs
    draw, ends = drawn("gateway"), Counter[str]()
    with gateway() as (wire, pages, heard):
        for number in range(count_of("gateway")):
            whole = draw.choice(PAGES)
            page = spoil_page(whole, draw) if number else whole
            pages[:] = [page]
            heard.clear()
            answer = wire.send("+19025550177", b"Leave it off.", deadline_s=PATIENCE_S)
            status, about = status_of(page), (number, answer, page)
            assert len(heard) == 1, about
            if answer.outcome is Outcome.TAKEN:
                assert status in range(200, 300), about
            elif answer.outcome is Outcome.LATER:
                assert status in NOT_DONE, about
            else:
                assert answer.outcome is Outcome.UNSURE, about
            assert "127.0.0.1" not in answer.reason, about
            ends[answer.outcome] += 1
    assert ends[Outcome.TAKEN]
    assert ends[Outcome.UNSURE]


def spoil_page(page: bytes, draw: random.Random) -> bytes:
    """Return an answer with its status, a header, its lines or octets changed."""
    kind = draw.randrange(5)
    text = page.decode("ascii")
    if kind == 0:
        return spoil_octets(page, draw)
    if kind == 1:
        return spoil_lines(text, draw).encode()
    first, _, rest = text.partition("\r\n")
    if kind == 2:
        return f"{spoil_value(first, draw)}\r\n{rest}".encode("utf-8", "replace")
    if kind == 3:
        return text.replace(first[9:12], f"{draw.randrange(100, 1000)}", 1).encode()
    return spoil_value(text, draw).encode("utf-8", "replace")


def spoil_body(body: bytes, draw: random.Random) -> bytes:
    """Return what a calendar server says, with a value, a line or octets changed."""
    kind = draw.randrange(3)
    if kind == 0:
        return spoil_octets(body, draw)
    text = body.decode()
    if kind == 1 or ">" not in text:
        return spoil_lines(text, draw).encode()
    at = draw.choice([found.end() for found in re.finditer(">", text)])
    end = text.find("<", at)
    value = text[at : end if end >= 0 else len(text)]
    return (text[:at] + spoil_value(value, draw) + text[at + len(value) :]).encode(
        "utf-8", "replace"
    )


def days_in(store: dict[str, bytes]) -> dict[str, object]:
    """Return the day of each event that a server holds, as another program reads it."""
    return {
        str(event["UID"]): event["DTSTART"].dt
        for data in store.values()
        for event in Calendar.from_ical(data).walk("VEVENT")
    }


def test_a_mutated_answer_of_a_calendar_server_loses_no_event() -> None:
    draw, ends = drawn("calendar server"), Counter[str]()
    with hostile() as server:
        for number in range(count_of("calendar server")):
            place = f"/cal-{number}/"
            server.collections, server.trick = {place}, None
            server.store.clear()
            published(f"{server.url}{place}", crew(walk(), grout()))
            assert len(server.store) == 2
            turns = draw.randrange(1, 6)

            def play(handler: Handler, request: Request, left: list[int] = [turns]) -> bool:  # noqa: B006
                left[0] -= 1
                honest = handler.answer

                def answer(status: int, body: bytes = b"", **headers: str) -> None:
                    said = {name: spoil_value(one, draw) for name, one in headers.items()}
                    is_header = "".join(said.values()).isprintable() and draw.randrange(3) == 0
                    if is_header and "".join(said.values()).isascii():
                        honest(status, body, **said)
                    else:
                        honest(status, spoil_body(body, draw), **headers)

                if left[0] == 0:
                    handler.answer = answer  # type: ignore[method-assign]
                handler.honest(request)
                return True

            server.trick = play
            try:
                published(f"{server.url}{place}", crew(walk(8), grout()), now=LATER)
            except CurecalError:
                ends["refused"] += 1
                continue
            assert days_in(server.store)[uid()] == datetime(2026, 12, 8).date(), number  # noqa: DTZ001
            assert len(server.store) == 2, number
            ends["shown"] += 1
    assert ends["shown"]
