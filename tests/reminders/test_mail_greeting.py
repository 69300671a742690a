"""Dates in the greetings of mail servers, in the forms that RFC 5322, 3.3 gives."""

from __future__ import annotations

import socket
import threading
from datetime import UTC, datetime

import pytest

from curecal.delivery.mail import MailServer, MailWire
from curecal.delivery.mail_greeting import date_in

AT = datetime(2026, 11, 30, 11, 0, 5, tzinfo=UTC)


@pytest.mark.parametrize(
    ("greeting", "at"),
    [
        ("mail.tile.example ESMTP; Mon, 30 Nov 2026 11:00:05 GMT", AT),
        ("mail.tile.example ESMTP ready at Mon, 30 Nov 2026 07:00:05 -0400", AT),
        ("mail.tile.example ESMTP 30 Nov 2026 12:00:05 +0100 (CET)", AT),
        ("mail.tile.example ESMTP", None),
        ("mail.tile.example ready at 30 Nov 2026 11:00:05", None),
        ("99 Abc 2026 11:00:05 GMT", None),
        ("30 Nov 2026 99:99:99 GMT", None),
        ("", None),
    ],
)
def test_the_date_of_a_greeting(greeting: str, at: datetime | None) -> None:
    assert date_in(greeting) == at


def test_a_greetings_date_is_kept() -> None:
    listening = socket.create_server(("127.0.0.1", 0))

    def serve() -> None:
        talk, _ = listening.accept()
        with talk:
            talk.sendall(b"220 mail.tile.example; Mon, 30 Nov 2026 11:00:05 GMT\r\n")

    thread = threading.Thread(target=serve, daemon=True)
    thread.start()
    port = listening.getsockname()[1]
    wire = MailWire(MailServer("127.0.0.1", port, "office@tile.example", security="none"))
    wire.send("ida@home.example", b"x", deadline_s=5.0)
    listening.close()
    thread.join(10)
    assert wire.server_date is not None
    assert wire.server_date.at == AT
