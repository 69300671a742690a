"""What a mail server's refusals are about: one reader, one mail, or us, who send nothing."""

from __future__ import annotations

import contextlib
import socket
import threading
import time
import tracemalloc
from datetime import UTC, datetime
from typing import TYPE_CHECKING

import pytest

from curecal.delivery.channel_settings import mail_server as mail_server_of
from curecal.delivery.channel_settings import sender_of, settings_from, wires_for
from curecal.delivery.channels import Outcome
from curecal.delivery.mail import Letter, MailServer, MailWire, made_mail
from curecal.errors import SourceError

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

    from mail_server import MailServer as Server

AT = datetime(2026, 11, 10, 12, tzinfo=UTC)
MAIL = made_mail(
    Letter("ida@home.example", "Ida", "Leave it off", "text", "<1@tile.example>", AT),
    sender="office@tile.example",
)


def wire(port: int) -> MailWire:
    return MailWire(MailServer("127.0.0.1", port, "office@tile.example", security="none"))


@pytest.mark.parametrize(
    ("word", "outcome", "is_down"),
    [
        # RFC 4954, 6, and RFC 3463 (X.7.x): the server would say the same of every mail of ours.
        ("login", Outcome.LATER, True),
        ("relay", Outcome.LATER, True),
        # RFC 5321, 4.2.1: of this mailbox for good, or for now.
        ("refuse", Outcome.NEVER, False),
        ("later", Outcome.LATER, False),
        ("never", Outcome.NEVER, False),
    ],
)
def test_what_a_refusal_is_about(
    mail_server: Server, word: str, outcome: Outcome, *, is_down: bool
) -> None:
    mail_server.behave(word)
    answer = wire(mail_server.port).send("ida@home.example", MAIL, deadline_s=30.0)
    assert (answer.outcome, answer.is_down) == (outcome, is_down)
    assert mail_server.taken() == []


@pytest.fixture(params=["greeting", "end"])
def dripping(request: pytest.FixtureRequest) -> Iterator[int]:
    """A server whose reply never ends, a sign at a time: at the start, or to the whole mail."""
    over, listening = threading.Event(), socket.create_server(("127.0.0.1", 0))

    def drip(talk: socket.socket) -> None:
        try:
            while not over.wait(0.1):
                talk.sendall(b"2")
        except OSError:
            return

    def serve() -> None:
        talk, _ = listening.accept()
        with talk, talk.makefile("rb") as lines:
            if request.param == "end":
                talk.sendall(b"220 hello\r\n")
                for line in lines:
                    if line == b".\r\n":
                        break
                    if line.split(b" ")[0].strip() in {b"ehlo", b"MAIL", b"RCPT", b"mail", b"rcpt"}:
                        talk.sendall(b"250 go on\r\n")
                    elif line.strip().lower() == b"data":
                        talk.sendall(b"354 go on\r\n")
            drip(talk)

    thread = threading.Thread(target=serve, daemon=True)
    thread.start()
    yield listening.getsockname()[1]
    over.set()
    listening.close()
    thread.join(10)


@pytest.mark.slow
def test_a_reply_that_drips_is_given_up_at_the_deadline(
    dripping: int, request: pytest.FixtureRequest
) -> None:
    begun_s = time.monotonic()
    answer = wire(dripping).send("ida@home.example", MAIL, deadline_s=3.0)
    assert time.monotonic() - begun_s < 15.0
    on_its_way = "end" in request.node.name
    assert answer.outcome is (Outcome.UNSURE if on_its_way else Outcome.LATER)


@pytest.mark.parametrize("replying", [b"250-go on\r\n" * 5_000_000], indirect=True, ids=["long"])
def test_a_reply_without_end_is_not_read_to_it(replying: int) -> None:
    tracemalloc.start()
    answer = wire(replying).send("ida@home.example", MAIL, deadline_s=30.0)
    _, peak = tracemalloc.get_traced_memory()
    tracemalloc.stop()
    assert answer.outcome is Outcome.UNSURE
    assert peak < 8 << 20


@pytest.fixture
def replying(request: pytest.FixtureRequest) -> Iterator[int]:
    """A server that gives the whole mail one reply, as octets, and closes the connection."""
    listening = socket.create_server(("127.0.0.1", 0))
    answers = {b"ehlo": b"250 go on\r\n", b"mail": b"250 go on\r\n", b"rcpt": b"250 go on\r\n"}

    def serve() -> None:
        talk, _ = listening.accept()
        with talk, talk.makefile("rb") as lines:
            talk.sendall(b"220 hello\r\n")
            for line in lines:
                verb = line.split(b" ")[0].strip().lower()
                if line == b".\r\n":
                    break
                if verb in answers:
                    talk.sendall(answers[verb])
                elif verb == b"data":
                    talk.sendall(b"354 go on\r\n")
            with contextlib.suppress(OSError):
                talk.sendall(request.param)

    thread = threading.Thread(target=serve, daemon=True)
    thread.start()
    yield listening.getsockname()[1]
    listening.close()
    thread.join(10)


@pytest.mark.parametrize(
    ("replying", "outcome"),
    [
        # RFC 5321, 4.2: a reply is three digits and a text. Cut off, it may have been a 250.
        (b"", Outcome.UNSURE),
        (b"2", Outcome.UNSURE),
        (b"25", Outcome.UNSURE),
        (b"25\r\n", Outcome.UNSURE),
        (b"5", Outcome.UNSURE),
        (b"55", Outcome.UNSURE),
        (b"55\r\n", Outcome.UNSURE),
        (b"5_5 x\r\n", Outcome.UNSURE),
        (b"junk\r\n", Outcome.UNSURE),
        (b"\r\n", Outcome.UNSURE),
        (b"550-not\r\n", Outcome.UNSURE),
        (b"354 go on\r\n", Outcome.UNSURE),
        (b"221 bye\r\n", Outcome.UNSURE),
        (b"999 what\r\n", Outcome.UNSURE),
        (b"421 closing\r\n", Outcome.UNSURE),
        (b"451 later\r\n", Outcome.LATER),
        (b"550-not\r\n550 wanted\r\n", Outcome.NEVER),
        (b"554 not wanted\r\n", Outcome.NEVER),
        (b"250 taken\r\n", Outcome.TAKEN),
    ],
    indirect=["replying"],
)
def test_only_a_whole_refusal_after_the_mail_is_one(replying: int, outcome: Outcome) -> None:
    answer = wire(replying).send("ida@home.example", MAIL, deadline_s=30.0)
    assert answer.outcome is outcome
    assert not answer.is_down


@pytest.mark.parametrize(
    ("mail", "key"),
    [
        ({"from": "Tile Office <office@tile.example>"}, "from"),
        ({"from": "office"}, "from"),
        ({"from": "öffice@tile.example"}, "from"),
        ({"from": "a@tile.example, b@tile.example"}, "from"),
        ({"from": ""}, "from"),
        ({"from": "office@tile.example", "name": "Tile\nBcc: x"}, "name"),
    ],
)
def test_a_sender_that_no_mail_can_be_from_is_refused_at_the_start(
    mail: dict[str, str], key: str
) -> None:
    with pytest.raises(SourceError) as refused:
        wires_for({"mail": {"server": "mail.example", **mail}}, None)
    assert (refused.value.code, refused.value.params["key"]) == ("mail-setting", key)
    assert refused.value.exit_code == 3
    if mail["from"]:
        with pytest.raises(SourceError):
            sender_of({"mail": mail})


@pytest.mark.parametrize(
    ("text", "code", "key"),
    [
        ('[mial]\nserver = "mail.example"', "secrets-key-unknown", "mial"),
        ('[mail]\nsevrer = "mail.example"', "secrets-key-unknown", "[mail] sevrer"),
        ('[text]\ngateway = ""\npassword = "hunter2"', "secrets-key-unknown", "[text] password"),
        ('password = "hunter2"', "secrets-key-unknown", "password"),
        ("[mail]\npassword = 2222", "secrets-no-text", "[mail] password"),
    ],
)
def test_what_is_no_setting_in_the_secrets_file_is_refused(
    tmp_path: Path, text: str, code: str, key: str
) -> None:
    """Passed over, it would be missed when a message should go out."""
    file = tmp_path / "secrets.toml"
    file.touch(mode=0o600)
    file.write_text(text, encoding="utf-8")
    with pytest.raises(SourceError) as refused:
        settings_from({"CURECAL_SECRETS": str(file)})
    assert (refused.value.code, refused.value.params["key"]) == (code, key)
    assert "2222" not in str(refused.value.params)
    assert "hunter2" not in str(refused.value.params)


def test_a_name_stands_beside_the_address() -> None:
    found = settings_from(
        {"CURECAL_MAIL_FROM": "office@tile.example", "CURECAL_MAIL_FROM_NAME": "Tile Office"}
    )
    assert sender_of(found) == ("office@tile.example", "Tile Office")


LOGIN = {"from": "office@tile.example", "user": "office", "password": "hunter2hunter2"}


@pytest.mark.parametrize(
    "host", ["mail.example", "192.0.2.7", "127.0.0.1.example", "[2001:db8::1]"]
)
def test_a_password_over_an_open_line_needs_a_word_that_says_so(host: str) -> None:
    mail = {**LOGIN, "server": f"{host}:2525", "security": "none"}
    with pytest.raises(SourceError) as refused:
        mail_server_of({"mail": mail})
    assert refused.value.code == "mail-password-open"
    assert "hunter2" not in str(refused.value.params)
    allowed = mail_server_of({"mail": {**mail, "security": refused.value.params["word"]}})
    assert allowed is not None
    assert (allowed.security, allowed.port) == ("none", 2525)
    # Without a password, and where nobody else can listen, nothing needs saying.
    assert mail_server_of({"mail": {**mail, "user": ""}})
    for own in ("localhost:25", "127.0.0.1:25", "[::1]:25"):
        assert mail_server_of({"mail": {**mail, "server": own}})


def test_a_server_that_offers_no_tls_gets_no_password() -> None:
    heard: list[bytes] = []
    listening = socket.create_server(("127.0.0.1", 0))

    def serve() -> None:
        talk, _ = listening.accept()
        with talk, talk.makefile("rb") as lines:
            talk.sendall(b"220 hello\r\n")
            for line in lines:
                heard.append(line)
                talk.sendall(b"250-go on\r\n250 AUTH PLAIN LOGIN\r\n")

    thread = threading.Thread(target=serve, daemon=True)
    thread.start()
    port = listening.getsockname()[1]
    server = mail_server_of({"mail": {**LOGIN, "server": f"127.0.0.1:{port}"}})
    assert server is not None
    answer = MailWire(server).send("ida@home.example", MAIL, deadline_s=30.0)
    listening.close()
    thread.join(10)
    assert (answer.outcome, answer.is_down) == (Outcome.LATER, True)
    assert heard
    assert not [line for line in heard if line.upper().startswith((b"AUTH", b"MAIL"))]
