"""Mail: a message made once, and sent with the same octets however often it must be tried.

Source: RFC 5322 (form), RFC 5321 (what a reply means), RFC 6047, 2.4 (calendar parts), RFC 3834
(`Auto-Submitted`).
"""

from __future__ import annotations

import smtplib
import socket
import ssl
import time
from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import datetime
from email.errors import HeaderParseError
from email.headerregistry import Address
from email.message import EmailMessage
from email.policy import SMTP
from email.utils import format_datetime
from typing import Any

from curecal.delivery.channels import Answer, Outcome, shown
from curecal.delivery.deadline import Crossing, Crossings
from curecal.delivery.mail_greeting import PlainTalk, SecretTalk, ServerDate
from curecal.errors import SourceError

# Reply codes of RFC 5321, 4.2.1: 4yz refuses for now, 5yz for good.
_REFUSED = range(400, 600)
_FOR_GOOD = range(500, 600)
_TAKEN = 250
_GO_AHEAD = 354
# The server closes, perhaps while it thinks: it has not said what it did with the mail.
_CLOSING = 421
# The server wants another from us, and would say the same of every mail (RFC 4954).
_NOT_LET_IN = frozenset({530, 534, 535, 538})


@dataclass(frozen=True, slots=True)
class MailServer:
    """Who takes our mail. `security` is "starttls", "tls" or "none"; a password is never shown."""

    host: str
    port: int
    sender: str
    sender_name: str = ""
    security: str = "starttls"
    user: str | None = None
    password: str | None = field(default=None, repr=False)


@dataclass(frozen=True, slots=True)
class Letter:
    """What a mail says: plain text, and a calendar where it tells of an event."""

    to: str
    to_name: str
    subject: str
    body: str
    message_id: str
    written_at: datetime
    calendar: bytes | None = None
    method: str = ""


def made_mail(letter: Letter, *, sender: str, sender_name: str = "") -> bytes:
    """Return a mail as octets: the same for the same letter.

    Args:
        letter: What it says.
        sender: The address it comes from.
        sender_name: The name beside it.

    Returns:
        The whole message.

    Raises:
        SourceError: a header would hold a line end or another control character, or an address
            is none (`mail-header`).
    """
    made = EmailMessage(policy=SMTP)
    made["From"] = _address("from", sender, sender_name)
    made["To"] = _address("to", letter.to, letter.to_name)
    made["Subject"] = _plain("subject", letter.subject)
    made["Date"] = format_datetime(letter.written_at)
    made["Message-ID"] = _plain("message id", letter.message_id)
    made["Auto-Submitted"] = "auto-generated"
    made.set_content(letter.body.rstrip("\n") + "\n", cte="quoted-printable")
    if letter.calendar is not None:
        made.add_alternative(
            letter.calendar,
            maintype="text",
            subtype="calendar",
            disposition="inline",
            cte="base64",
            params={"method": letter.method, "charset": "UTF-8"},
        )
        # Python draws a boundary at random; the same message must be the same octets.
        made.set_boundary(f"=_{letter.message_id.strip('<>').partition('@')[0][:40]}")
    return bytes(made)


def check_sender(address: str, name: str) -> None:
    """Refuse a sender that no mail can be from.

    Args:
        address: The address, alone: no name stands with it.
        name: The name beside it.

    Raises:
        SourceError: it is none (`mail-setting`, and whether `from` or `name`).
    """
    for key, own in (("from", ""), ("name", name)):
        try:
            _address("from", address, own)
        except SourceError:
            raise SourceError("mail-setting", key=key) from None


def _plain(field_name: str, text: str) -> str:
    if not text.isprintable():
        raise SourceError("mail-header", field=field_name)
    return text


def _address(field_name: str, address: str, name: str) -> Address:
    try:
        found = Address(
            display_name=_plain(field_name, name), addr_spec=_plain(field_name, address)
        )
        address.encode("ascii")
    except (ValueError, IndexError, HeaderParseError):
        raise SourceError("mail-header", field=field_name) from None
    if not (found.username and found.domain):
        raise SourceError("mail-header", field=field_name)
    return found


class MailWire:
    """Hands mail to a server, one message a connection, and reads what its replies mean.

    Before the server has taken the end of the message nothing is taken; from the moment the
    message is on its way until the reply to it, nobody knows. `server_date` is the last date that
    a greeting named.
    """

    def __init__(
        self, server: MailServer, *, clock_s: Callable[[], float] = time.monotonic
    ) -> None:
        self.server = server
        self.server_date: ServerDate | None = None
        self._clock_s = clock_s
        self._crossings = Crossings()

    def send(self, address: str, data: bytes, *, deadline_s: float) -> Answer:
        """Send a mail.

        Args:
            address: Where to.
            data: The whole message.
            deadline_s: How long it may take at most [s].

        Returns:
            What became of it.
        """
        return self._crossings.run(
            lambda crossing: self._sent(crossing, address, data, deadline_s), deadline_s=deadline_s
        )

    def _sent(self, crossing: Crossing, address: str, data: bytes, deadline_s: float) -> Answer:
        end_s = self._clock_s() + deadline_s
        try:
            talk = self._connected(deadline_s)
        except smtplib.SMTPResponseException as error:
            return _down(_said(error.smtp_code, error.smtp_error))
        except (OSError, smtplib.SMTPException) as error:
            return _down(shown(error) or type(error).__name__)
        try:
            return self._handed_over(talk, crossing, address, data, end_s)
        finally:
            # The mail is taken or not; how the connection ends changes nothing.
            talk.close()

    def _connected(self, deadline_s: float) -> smtplib.SMTP:
        server = self.server
        context = ssl.create_default_context()
        talk: PlainTalk | SecretTalk
        if server.security == "tls":
            talk = SecretTalk(server.host, server.port, timeout=deadline_s, context=context)
        else:
            talk = PlainTalk(server.host, server.port, timeout=deadline_s)
        self.server_date = talk.server_date or self.server_date
        try:
            if server.security == "starttls":
                talk.starttls(context=context)
            if server.user is not None:
                talk.login(server.user, server.password or "")
            talk.ehlo_or_helo_if_needed()
        except BaseException:
            talk.close()
            raise
        return talk

    def _handed_over(
        self, talk: smtplib.SMTP, crossing: Crossing, address: str, data: bytes, end_s: float
    ) -> Answer:
        try:
            for verb, what, yes in (
                ("MAIL", f"FROM:<{self.server.sender}>", {_TAKEN}),
                # 251: taken, and handed on to where the reader has moved (RFC 5321, 3.4).
                ("RCPT", f"TO:<{address}>", {_TAKEN, _TAKEN + 1}),
                # Of a server whose replies are out of step the next 250 would be about RCPT.
                ("DATA", "", {_GO_AHEAD}),
            ):
                self._hurry(talk, end_s)
                code, text = talk.docmd(verb, what)
                if code not in yes:
                    return _refused(verb, code, text)
            self._hurry(talk, end_s)
            crossing.leave()
        except (OSError, smtplib.SMTPException) as error:
            return _down(shown(error) or type(error).__name__)
        try:
            talk.send(_dotted(data))
            self._hurry(talk, end_s)
            code, text = talk.getreply()
        except (OSError, smtplib.SMTPException) as error:
            return Answer(Outcome.UNSURE, shown(error) or type(error).__name__)
        if code == _TAKEN:
            return Answer(Outcome.TAKEN)
        # The server has the whole mail: only a whole refusal says that it did not keep it. Of a
        # reply that was cut off ("25", then the connection closes) nobody knows the rest.
        if code not in _REFUSED or code == _CLOSING:
            return Answer(Outcome.UNSURE, _said(code, text))
        return _refused("end of mail", code, text)

    def _hurry(self, talk: smtplib.SMTP, end_s: float) -> None:
        """Leave only what is left of the time for the next step."""
        left_s = end_s - self._clock_s()
        if not left_s > 0.0:
            raise TimeoutError
        if isinstance(talk.sock, socket.socket):
            talk.sock.settimeout(left_s)


def _down(reason: str) -> Answer:
    return Answer(Outcome.LATER, reason, is_down=True)


def _refused(verb: str, code: int, text: Any) -> Answer:
    """Return what a refusal means: of this mail for good only where it is about its reader or it.

    At MAIL the server speaks of us; so it does where it wants a password, or carries nothing on
    for us (X.7.x of RFC 3463, the security and policy of a site).
    """
    said = _said(code, text)
    words = said.partition(" ")[2].lower()
    about_us = code in _NOT_LET_IN or words.startswith("5.7.") or "relay" in words
    if verb == "MAIL" or (about_us and verb != "end of mail"):
        return _down(said)
    if code in _NOT_LET_IN:
        return _down(said)
    is_final = code in _FOR_GOOD and verb != "DATA"
    return Answer(Outcome.NEVER if is_final else Outcome.LATER, said)


def _said(code: int, text: Any) -> str:
    words = text.decode("utf-8", "replace") if isinstance(text, bytes) else str(text)
    return shown(f"{code} {words}")


def _dotted(data: bytes) -> bytes:
    """Return a message as it goes over the wire: a dot at a line's start is doubled."""
    lines = data.replace(b"\r\n", b"\n").replace(b"\r", b"\n").rstrip(b"\n").split(b"\n")
    stuffed = (b"." + line if line.startswith(b".") else line for line in lines)
    return b"\r\n".join(stuffed) + b"\r\n.\r\n"
