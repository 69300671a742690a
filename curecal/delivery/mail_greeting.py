"""What a mail server says: replies with an end, and of the time; many greetings end with the date.

Source: RFC 5321, 4.3.1 (the text of a greeting is free), RFC 5322, 3.3 (how a date is written);
that many servers put one there: common practice.
"""

from __future__ import annotations

import re
import smtplib
import time
from collections.abc import Iterable
from datetime import UTC, datetime, timedelta
from email.utils import parsedate_to_datetime
from typing import BinaryIO, NamedTuple

from curecal.delivery.channels import Wire

# The monotonic clock of a process may stand still while the machine sleeps: what was heard longer
# ago is not reckoned with.
_FRESH_S = 60.0
# A server's longest reply is a page of help.
_LARGEST_REPLY_BYTES = 1 << 16
_DATE = re.compile(
    r"\b(?:(?:Mon|Tue|Wed|Thu|Fri|Sat|Sun), )?\d{1,2} [A-Z][a-z]{2} \d{4} \d\d:\d\d:\d\d"
    r" (?:[+-]\d{4}|GMT|UT)\b"
)


class ServerDate(NamedTuple):
    """A date that a server named, and when it did, on this machine's monotonic clock [s]."""

    at: datetime
    heard_s: float


def date_in(greeting: str) -> datetime | None:
    """Return the date that a greeting names.

    Args:
        greeting: The text of the greeting.

    Returns:
        The instant in UTC; None where it names none, or one without its offset.
    """
    found = _DATE.search(greeting)
    try:
        return parsedate_to_datetime(found[0]).astimezone(UTC) if found else None
    except (ValueError, OverflowError):
        return None


def server_date(wires: Iterable[Wire]) -> datetime | None:
    """Return the date of now by a server that named one just before.

    Args:
        wires: The ways to people.

    Returns:
        The instant; None where no server named one in the last minute.
    """
    for wire in wires:
        named = getattr(wire, "server_date", None)
        if isinstance(named, ServerDate):
            since_s = time.monotonic() - named.heard_s
            if since_s <= _FRESH_S:
                return named.at + timedelta(seconds=since_s)
    return None


# RFC 5321, 4.2: three digits, then a blank, a hyphen, or the end of the line.
_REPLY = re.compile(rb"\d{3}(?:[ -]|\r?$)")


class _BoundedReply:
    """A reply as it comes in: one without end, or without a code, is a line that was closed."""

    def __init__(self, file: BinaryIO) -> None:
        self._file = file
        self._left = _LARGEST_REPLY_BYTES

    def readline(self, most: int) -> bytes:
        line = self._file.readline(most)
        self._left -= len(line)
        return line if self._left >= 0 and _REPLY.match(line) else b""

    def close(self) -> None:
        self._file.close()


class PlainTalk(smtplib.SMTP):
    """A talk with a mail server that begins in the open.

    The date in its greeting is kept, and no reply is read without end.
    """

    server_date: ServerDate | None = None

    def connect(self, *where: object, **more: object) -> tuple[int, bytes]:
        """Connect, and return the code and the text of the greeting."""
        code, text = super().connect(*where, **more)  # type: ignore[arg-type]
        at = date_in(text.decode("ascii", "replace"))
        self.server_date = None if at is None else ServerDate(at, time.monotonic())
        return code, text

    def getreply(self) -> tuple[int, bytes]:
        """Return the code and the text of a reply."""
        if self.sock is None:
            raise smtplib.SMTPServerDisconnected
        file = self.file or self.sock.makefile("rb")
        self.file = _BoundedReply(file)
        try:
            return super().getreply()
        finally:
            # Where the line was closed there is none any more.
            if self.file is not None:
                self.file = file


class SecretTalk(smtplib.SMTP_SSL, PlainTalk):
    """A talk with a mail server that nobody reads along."""
