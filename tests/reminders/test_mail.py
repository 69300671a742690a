"""Mail: what a server's replies mean, the same octets each time, no header from hostile text."""

from __future__ import annotations

import email
import socket
import threading
from datetime import UTC, datetime
from email.policy import SMTP
from typing import TYPE_CHECKING

import pytest
from hypothesis import given
from hypothesis import strategies as st

from curecal.delivery.channels import Outcome
from curecal.delivery.mail import Letter, MailServer, MailWire, made_mail
from curecal.errors import SourceError

if TYPE_CHECKING:
    from collections.abc import Iterator

    from mail_server import MailServer as Server

AT = datetime(2026, 11, 10, 12, tzinfo=UTC)
HEADERS = {
    "From",
    "To",
    "Subject",
    "Date",
    "Message-ID",
    "Auto-Submitted",
    "Content-Type",
    "Content-Transfer-Encoding",
    "MIME-Version",
}


def letter(**more: object) -> Letter:
    made = {
        "to": "ida@home.example",
        "to_name": "Ida Fennell",
        "subject": "Do not switch on",
        "body": "Leave it off.\n.\n..dots",
        "message_id": "<1@tile.example>",
        "written_at": AT,
        **more,
    }
    return Letter(**made)  # type: ignore[arg-type]


def octets(**more: object) -> bytes:
    return made_mail(letter(**more), sender="office@tile.example", sender_name="Tile office")


def wire(port: int) -> MailWire:
    return MailWire(MailServer("127.0.0.1", port, "office@tile.example", security="none"))


def test_a_mail_arrives_as_it_was_made(mail_server: Server) -> None:
    data = octets()
    answer = wire(mail_server.port).send("ida@home.example", data, deadline_s=10.0)
    assert answer.outcome is Outcome.TAKEN
    [taken] = mail_server.taken()
    assert taken["to"] == ["ida@home.example"]
    assert taken["data"].encode("latin-1") == data
    read = email.message_from_bytes(data, policy=SMTP)
    assert read.get_content() == "Leave it off.\r\n.\r\n..dots\r\n"


@pytest.mark.parametrize(
    ("word", "outcome"),
    [
        ("refuse", Outcome.NEVER),
        ("later", Outcome.LATER),
        ("never", Outcome.NEVER),
        # The mail is taken, and the reply is lost: nobody knows.
        ("drop", Outcome.UNSURE),
        ("hang", Outcome.UNSURE),
        ("slow", Outcome.TAKEN),
    ],
)
def test_what_a_reply_means(mail_server: Server, word: str, outcome: Outcome) -> None:
    mail_server.behave(word)
    deadline_s = 3.0 if word == "hang" else 30.0
    answer = wire(mail_server.port).send("ida@home.example", octets(), deadline_s=deadline_s)
    assert answer.outcome is outcome
    assert bool(mail_server.taken()) is (outcome in {Outcome.TAKEN, Outcome.UNSURE})


def test_nobody_listens() -> None:
    with socket.socket() as listening:
        listening.bind(("127.0.0.1", 0))
        port = listening.getsockname()[1]
        answer = wire(port).send("ida@home.example", octets(), deadline_s=3.0)
    assert answer.outcome is Outcome.LATER


@pytest.fixture
def mute() -> Iterator[int]:
    """A port where somebody listens and says nothing."""
    held = []
    listening = socket.create_server(("127.0.0.1", 0))

    def accept() -> None:
        while True:
            try:
                held.append(listening.accept())
            except OSError:
                return

    thread = threading.Thread(target=accept, daemon=True)
    thread.start()
    yield listening.getsockname()[1]
    listening.shutdown(socket.SHUT_RDWR)
    listening.close()
    thread.join(5)
    for connection, _ in held:
        connection.close()


def test_a_server_that_says_nothing_is_given_up_at_the_deadline(mute: int) -> None:
    answer = wire(mute).send("ida@home.example", octets(), deadline_s=0.5)
    assert answer.outcome is Outcome.LATER


def test_a_calendar_part_says_its_method_and_is_base64() -> None:
    data = octets(calendar=b"BEGIN:VCALENDAR\r\nEND:VCALENDAR\r\n", method="REQUEST")
    read = email.message_from_bytes(data, policy=SMTP)
    parts = [part for part in read.walk() if part.get_content_type() == "text/calendar"]
    assert len(parts) == 1
    assert parts[0].get_param("method") == "REQUEST"
    assert parts[0]["Content-Transfer-Encoding"] == "base64"
    assert parts[0].get_content_disposition() == "inline"
    assert data == octets(calendar=b"BEGIN:VCALENDAR\r\nEND:VCALENDAR\r\n", method="REQUEST")


@pytest.mark.parametrize(
    "more",
    [
        {"subject": "x\r\nBcc: all@home.example"},
        {"subject": "x\ny"},
        {"subject": "x\0y"},
        {"subject": "x\u2028Bcc: y"},
        {"to_name": "Ida\r\nBcc: all@home.example"},
        {"to": "ida@home.example\r\nBcc: all@home.example"},
        {"to": "ida@home.example, all@home.example"},
        {"to": "ida"},
        {"to": "Ida <ida@home.example>"},
        {"to": ""},
        {"to": "ïda@home.example"},
        {"message_id": "<1@x>\r\nBcc: y"},
    ],
)
def test_what_would_make_a_header_more_is_refused(more: dict[str, object]) -> None:
    with pytest.raises(SourceError) as refused:
        octets(**more)
    assert refused.value.code == "mail-header"


@given(st.text(max_size=80), st.text(max_size=80), st.text(max_size=200))
def test_no_text_makes_a_header_more(name: str, subject: str, body: str) -> None:
    try:
        data = octets(to_name=name, subject=subject, body=body.encode("utf-8", "replace").decode())
    except SourceError:
        return
    read = email.message_from_bytes(data, policy=SMTP)
    assert set(read.keys()) <= HEADERS
    assert len(read.keys()) == len(set(read.keys()))
    assert [each.addr_spec for each in read["To"].addresses] == ["ida@home.example"]


def test_a_password_is_never_shown() -> None:
    server = MailServer("h", 25, "a@b.example", user="u", password="hunter2")  # noqa: S106 - invented
    assert "hunter2" not in repr(server)
