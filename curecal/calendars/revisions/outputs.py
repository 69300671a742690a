"""What the outputs of a ledger show, and when nothing may be written over them.

A folder, a collection on a server: each shows what a ledger published, and none of them is asked
what is true. They carry the ledger's id and how far it had counted, so that a copy of the job, or
one that came back from a backup, is noticed before it writes.
"""

from __future__ import annotations

import hashlib
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Protocol

from curecal.calendars.event import Audience
from curecal.calendars.ical.ical_writer import LEDGER_PROPERTY
from curecal.calendars.ical.loose_reader import first_value
from curecal.calendars.revision import History, LogMark, Revision, content
from curecal.calendars.revisions.lost_ledger import Salvaged, salvage
from curecal.calendars.revisions.revise import Revised
from curecal.errors import SourceError

_MARK_PARTS = 3


@dataclass(frozen=True, slots=True)
class OutputMark:
    """Which ledger an output is of, how far that had counted, and what was written then."""

    ledger_id: str
    count: int
    digest: str = ""

    @property
    def line(self) -> str:
        """The content line."""
        return f"{LEDGER_PROPERTY}:{self.ledger_id} {self.count} {self.digest}".rstrip()


@dataclass(frozen=True, slots=True)
class ShownCalendar:
    """What one calendar of an output shows.

    `marks` are those of ours in it. `written` is the SEQUENCE that we gave each event which
    stands as we wrote it, `stands` the one that stands of each event that the ledger knows;
    `edited` are those that somebody changed. `texts` are the content lines of all that is there,
    for a lost ledger.
    """

    place: str
    audience: Audience
    marks: frozenset[OutputMark] = frozenset()
    written: Mapping[str, int] = field(default_factory=dict)
    stands: Mapping[str, int] = field(default_factory=dict)
    edited: frozenset[str] = frozenset()
    texts: Sequence[list[str]] = ()

    def salvaged(self) -> list[Salvaged]:
        """Return what can be taken out of it where no ledger knows it."""
        return [salvage(lines, self.audience) for lines in self.texts]


class MissingEntriesError(SourceError):
    """The plan's log lacks entries that were published; `missing` are their marks by id."""

    def __init__(self, missing: Mapping[str, LogMark]) -> None:
        super().__init__("ledger-entries", count=len(missing), entries=", ".join(missing))
        self.missing = missing


class Output(Protocol):
    """Where people see what was published."""

    def look(self, job_id: str, known: Mapping[str, Revision]) -> Sequence[ShownCalendar]:
        """Return what is there now, by calendar.

        Args:
            job_id: The job's id.
            known: What the ledger knows, by UID.

        Raises:
            CurecalError: it cannot be read, or is another job's.
        """
        ...

    def show(self, job_id: str, revised: Revised, history: History) -> None:
        """Show what was published, in the place of what was looked at.

        Args:
            job_id: The job's id.
            revised: What was published, and what became of each event.
            history: What the ledger keeps now.

        Raises:
            StoreMoved: somebody else wrote there since the look.
            CurecalError: it cannot be written. The ledger keeps what was published.
        """
        ...


def digest_of(events: Iterable[Sequence[str]]) -> str:
    """A digest of what the events of a calendar say, the same for every order and spelling.

    Args:
        events: The content lines of each, from BEGIN to END.
    """
    said = sorted((content(lines), first_value(lines, "SEQUENCE")) for lines in events)
    return hashlib.sha256(repr(said).encode()).hexdigest()[:24]


def mark_in(text: str) -> OutputMark | None:
    """The mark that a property's value holds; None for anything else.

    Args:
        text: The value.
    """
    ledger_id, count, digest = [*text.split(" "), "", ""][:_MARK_PARTS]
    if not (ledger_id and count.isascii() and count.isdigit()):
        return None
    return OutputMark(ledger_id, int(count), digest)


def refuse_foreign(history: History, outputs: Iterable[ShownCalendar]) -> None:
    """Refuse to write over what this ledger did not publish.

    Args:
        history: What the ledger knows.
        outputs: What is shown.

    Raises:
        SourceError: there is a calendar and no ledger (`ledger-missing`), it is another ledger's
            (`ledger-other`), or it shows what this ledger does not know yet (`ledger-behind`).
    """
    for shown in outputs:
        if not shown.texts:
            continue
        if not history.ledger_id:
            raise SourceError("ledger-missing", place=shown.place)
        if any(mark.ledger_id != history.ledger_id for mark in shown.marks):
            raise SourceError("ledger-other", place=shown.place)
        count = history.count_of(shown.audience)
        ahead = any(mark.count > count for mark in shown.marks)
        if ahead or any(_is_ahead(history, *event) for event in shown.written.items()):
            raise SourceError("ledger-behind", place=shown.place)


def refuse_without_entries(history: History, rests_on: Mapping[str, LogMark]) -> None:
    """Refuse to publish a plan that does not rest on all that was published before.

    A copy of the job that lacks entries could move a date nearer.

    Args:
        history: What the ledger knows.
        rests_on: The log entries of the plan.

    Raises:
        MissingEntriesError: entries are missing or say something else (`ledger-entries`).
    """
    missing = {
        entry_id: mark
        for entry_id, mark in history.rests_on.items()
        if entry_id not in rests_on or rests_on[entry_id].digest != mark.digest
    }
    if missing:
        raise MissingEntriesError(missing)


def _is_ahead(history: History, uid: str, sequence: int) -> bool:
    known = history.revisions.get(uid)
    return known is None or sequence > known.sequence
