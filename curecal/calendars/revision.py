"""What people were told: revisions of events, and the port to the ledger that keeps them.

A revision keeps the very lines that left, not a value they could be made from again: what has not
changed goes out as it went out before, whatever the program has learned since.
"""

from __future__ import annotations

import hashlib
import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from datetime import datetime
from typing import Protocol

from curecal.calendars.content_lines import unescape
from curecal.calendars.event import Audience, EventKey

STAMPS = frozenset({"DTSTAMP", "LAST-MODIFIED", "SEQUENCE"})
"""Which properties tell one revision from the next and say nothing to a person."""
# What we write into an event. All else was put there by the program of whoever holds the copy.
OURS = STAMPS | {
    "BEGIN",
    "END",
    "UID",
    "DTSTART",
    "DTEND",
    "SUMMARY",
    "DESCRIPTION",
    "LOCATION",
    "STATUS",
    "TRANSP",
    "X-CURECAL-EVENT",
    "X-CURECAL-KEEPS-OFF",
    "X-CURECAL-DONE",
    "RELATED-TO",
    "ACTION",
    "TRIGGER",
}
GREATEST_SEQUENCE = 2**31 - 1
"""Receivers keep SEQUENCE in 32 bits."""
_KEY_PARTS = 4
# What stands behind a name ends it: with a sign in between it is no property that anybody reads.
_NAME = re.compile(r"[A-Za-z0-9-]+(?=[;:])")
_PARAM = re.compile(r';([A-Za-z0-9-]+)=("[^"]*"|[^";:]*)')

Content = tuple[tuple[str, ...], ...]


@dataclass(frozen=True, slots=True)
class Draft:
    """What an event is to say: its content lines from BEGIN to END, without a stamp.

    The first line is `BEGIN:VEVENT`, the second the UID.
    """

    uid: str
    audience: Audience
    lines: tuple[str, ...]

    @property
    def content(self) -> Content:
        """Return what a person reads of it, in an order that rests on no writer."""
        return content(self.lines)


@dataclass(frozen=True, slots=True)
class Revision:
    """What an event said from an instant on: its content lines from BEGIN to END, with its stamp.

    A line of `lines` is unfolded and without its end.
    """

    uid: str
    audience: Audience
    sequence: int
    changed_at: datetime
    lines: tuple[str, ...]

    @property
    def content(self) -> Content:
        """Return what a person reads of it, in an order that rests on no writer."""
        return content(self.lines)

    @property
    def draft(self) -> Draft:
        """The same without its stamp."""
        lines = tuple(line for line in self.lines if name_of(line) not in STAMPS)
        return Draft(self.uid, self.audience, lines)

    @property
    def digest(self) -> str:
        """A short name of what it says: the same for every order and spelling of its lines."""
        return hashlib.sha256(repr(self.content).encode()).hexdigest()[:24]

    @property
    def key(self) -> EventKey | None:
        """Return what it is about; None for one whose line was lost."""
        parts = unescape(self.value("X-CURECAL-EVENT") or "").split("\n")
        if len(parts) != _KEY_PARTS or parts[0] != self.audience.value:
            return None
        return EventKey(self.audience, *parts[1:])

    @property
    def cancelled(self) -> bool:
        """Return whether it says that the event is off."""
        return self.value("STATUS") == "CANCELLED"

    @property
    def summary(self) -> str:
        """Its title, as a person reads it."""
        return unescape(self.value("SUMMARY") or "")

    def value(self, name: str) -> str | None:
        """The value of a property of the event itself, not of its alarms.

        Args:
            name: The property's name, in capitals.

        Returns:
            The value as it is written; None where the event has no such property.
        """
        depth = 0
        for line in self.lines[1:-1]:
            found = name_of(line)
            depth += (found == "BEGIN") - (found == "END")
            if not depth and found == name:
                return value_of(line)
        return None


@dataclass(frozen=True, slots=True)
class LogMark:
    """A log entry that a publication rested on: a digest of what it said, and how to name it."""

    digest: str
    kind: str
    at: datetime


@dataclass(frozen=True, slots=True)
class Mailed:
    """A mail that was written: which revision of which event, to whom, and who sent it."""

    uid: str
    sequence: int
    recipient: str
    sender: str


@dataclass(frozen=True, slots=True)
class History:
    """All that a ledger knows of what was published of a job.

    `generation` names the state of the ledger. `ledger_id` is empty where nothing was published.
    `first` is the SEQUENCE of an event that is not known: 0, but higher where a ledger was lost,
    so that nobody takes the new for the old; `newest_at` is then the latest stamp that is known.
    What is `suspect` may be older than what people hold, and is published anew from `first` on.
    `rests_on` are the log entries, by id, that the plans rested on. `raised` is the SEQUENCE
    that stands of an event in an output, where `edited` are those that somebody changed; a ledger
    keeps neither. `is_lost` says that people may hold more than is known here.
    """

    generation: str
    revisions: Mapping[str, Revision] = field(default_factory=dict)
    first: int = 0
    newest_at: datetime | None = None
    suspect: frozenset[str] = frozenset()
    ledger_id: str = ""
    rests_on: Mapping[str, LogMark] = field(default_factory=dict)
    mailed: frozenset[Mailed] = frozenset()
    raised: Mapping[str, int] = field(default_factory=dict)
    edited: frozenset[str] = frozenset()
    is_lost: bool = False

    def count_of(self, audience: Audience) -> int:
        """How often a calendar's events were published: an output carries it as its revision.

        No event ever leaves a ledger, so the count grows with every change of the calendar.
        """
        return sum(revision.sequence + 1 for revision in self.of(audience))

    def of(self, audience: Audience) -> tuple[Revision, ...]:
        """The revisions in one reader's calendar."""
        return tuple(one for one in self.revisions.values() if one.audience is audience)


class Ledger(Protocol):
    """Where it is kept what was published of a job: the job book, or a file beside the job file."""

    def history(self, job_id: str) -> History:
        """All of a job.

        Args:
            job_id: The job's id.

        Returns:
            What is known; an empty history for a job never published.

        Raises:
            CurecalError: the ledger cannot be read.
        """
        ...

    def put(self, job_id: str, made: History, *, expected: str) -> History:
        """Keep what was published of a job, all of it or nothing.

        Args:
            job_id: The job's id.
            made: All of the job, unchanged revisions as well.
            expected: The generation of the history it was made from.

        Returns:
            The same as it is kept now, with its ledger's id.

        Raises:
            StoreMoved: somebody else published since; nothing was kept.
            CurecalError: the ledger cannot be written.
        """
        ...


def name_of(line: str) -> str:
    """The name of a content line's property.

    Args:
        line: The line.

    Returns:
        The name in capitals; empty for what is no property.
    """
    found = _NAME.match(line)
    return found[0].upper() if found else ""


def value_of(line: str) -> str:
    """The value of a content line.

    Args:
        line: The line.

    Returns:
        What stands behind the first colon outside a quoted parameter.
    """
    return line[_split(line) + 1 :]


def content(lines: Iterable[str]) -> Content:
    """Return what a person reads of an event, the same for every order and spelling of its lines.

    Stamps, and properties that we do not write, are left out: another program that saves a file
    anew changes its bytes, not what it says.

    Args:
        lines: Content lines from BEGIN to END.

    Returns:
        The event's properties and one tuple for each of its alarms, in order.
    """
    event: list[str] = []
    alarms: list[tuple[str, ...]] = []
    here = event
    depth = 0
    for line in lines:
        name = name_of(line)
        if name == "BEGIN":
            depth += 1
            here = event if depth == 1 else []
        elif name == "END":
            depth -= 1
            if depth == 1:
                alarms.append(tuple(sorted(here)))
                here = event
        elif name in OURS and name not in STAMPS:
            here.append(_plain(name, line))
    return (tuple(sorted(event)), *sorted(alarms))


def spelled_as_ours(line: str) -> str:
    """A line with its name and parameters in capitals, and no quotes that need not be.

    Args:
        line: A content line that another program may have written.

    Returns:
        The line as we write it.
    """
    name = name_of(line)
    params = line[len(name) : _split(line)]
    found = (f";{one[1]}={one[2].strip(chr(34))}".upper() for one in _PARAM.finditer(params))
    return f"{name}{''.join(found)}:{value_of(line)}"


def _plain(name: str, line: str) -> str:
    """A line with its parameters in order and its value without escapes."""
    at = _split(line)
    written = line[len(name) : at]
    spelled = (
        f"{found[1].upper()}={found[2].strip(chr(34)).upper()}"
        for found in _PARAM.finditer(written)
    )
    # What is no parameter stays to be seen.
    strange = _PARAM.sub("", written)
    # The type that a time has without a word, and that an alarm's instant shows by its form.
    params = sorted(param for param in spelled if param != "VALUE=DATE-TIME")
    return f"{name}{strange}\n{';'.join(params)}\n{unescape(line[at + 1 :])}"


def _split(line: str) -> int:
    """Where the colon stands that ends name and parameters."""
    found = _NAME.match(line)
    at = found.end() if found else 0
    while found := _PARAM.match(line, at):
        at = found.end()
    return line.index(":", at) if ":" in line[at:] else len(line)
