"""An event as a resource of a collection: what stands there to a revision, a revision to octets.

Whoever holds the calendar may change what stands in it. Beside each event stands what we sent
last, so that an edit is told from a plan that moved, and their alarms from ours. Pure.
"""

from __future__ import annotations

import hashlib
import re
from collections.abc import Iterable
from dataclasses import dataclass, replace
from datetime import UTC, datetime

from curecal.calendars.content_lines import unescape
from curecal.calendars.event import Audience, Stamp, Status
from curecal.calendars.ical.ical_writer import JOB_PROPERTY, SENT_PROPERTY, document, least_head
from curecal.calendars.ical.round_trip_check import refuse_faults
from curecal.calendars.revision import (
    GREATEST_SEQUENCE,
    Content,
    Revision,
    content,
    name_of,
    value_of,
)
from curecal.calendars.revisions.read_history import loose_lines
from curecal.delivery.caldav.http_client import shown
from curecal.delivery.caldav.normalize_event import (
    blocks,
    instant_in,
    own_lines,
    printable,
    restored,
    values,
)

_LONGEST_TITLE = 200
_EPOCH = datetime(1970, 1, 1, tzinfo=UTC)
# What makes an event take place otherwise than its start and end say.
_REPEATS = frozenset({"RRULE", "RDATE", "EXDATE", "EXRULE", "DURATION", "RECURRENCE-ID"})
# When an event takes place, and whether.
_DECIDING = frozenset({"DTSTART", "DTEND", "STATUS"})
_DEFAULT_TYPE = re.compile(";VALUE=DATE-TIME(?=[;:])", re.IGNORECASE)
# What people put on entries for their own order; it says nothing about the floor.
_THEIRS = frozenset({"CATEGORIES", "COLOR", "CLASS", "PRIORITY", "COMMENT"})
_OF_ALARM = ("UID", "TRIGGER")
# Far from what any job counts up to, and far from where receivers' numbers end.
_PLAUSIBLE = GREATEST_SEQUENCE // 2
_WHOLE = re.compile(r"\d{1,10}", re.ASCII)
_SENT = re.compile(
    r"(\d{1,10}) ([0-9a-f]{24}) (CONFIRMED|TENTATIVE|CANCELLED)((?: \S+)*)", re.ASCII
)


@dataclass(frozen=True, slots=True)
class Sent:
    """What we sent last, as it stands beside the event; `known` are UIDs and instants of alarms."""

    sequence: int
    digest: str
    status: Status
    known: frozenset[str]


@dataclass(frozen=True, slots=True)
class Entry:
    """What stands in a collection under one href.

    `revision` is what of it is ours, in our form; its SEQUENCE is the highest known. `stored` is
    the SEQUENCE that stands there, -1 where it is none. `alarms` and `theirs` are content lines
    of whoever holds the calendar. `twisted` says that the event takes place otherwise than
    `revision` says.
    """

    jobs: frozenset[str]
    revision: Revision
    stored: int
    sent: Sent | None
    alarms: tuple[tuple[str, ...], ...]
    theirs: tuple[str, ...]
    twisted: bool

    @property
    def edited(self) -> bool:
        """Whether somebody else changed what is ours."""
        same = self.sent is not None and self.sent.digest == digest_of(self.revision)
        return self.twisted or not same

    def says(self, revision: Revision) -> bool:
        """Whether nothing needs to be sent for a revision to stand there."""
        return (
            not self.twisted
            and self.stored == revision.sequence
            and self.revision.content == revision.content
        )


def read_entry(text: str, audience: Audience, ours: Iterable[str] = ()) -> Entry | None:
    """What a calendar object holds.

    Args:
        text: The object, from a server.
        audience: Whose calendar it stands in.
        ours: The UIDs of alarms known to be ours.

    Returns:
        The entry; None for what is no event with a UID.
    """
    lines = loose_lines(text)
    events = blocks(lines, "VEVENT")
    # An exception to a repeated event comes before or after it.
    masters = [each for each in events if not values(each, "RECURRENCE-ID")] or events
    if not masters or not (uid := _first(masters[0], "UID")):
        return None
    event = masters[0]
    sent = _sent(_first(event, SENT_PROPERTY))
    known = frozenset(ours) | (sent.known if sent else frozenset())
    stored = _sequence(_first(event, "SEQUENCE"))
    sequence = max(0, stored, sent.sequence if sent else 0)
    stamp = Stamp(sequence, instant_in(_first(event, "DTSTAMP")) or _EPOCH)
    own = own_lines(event, depth=1)
    jobs = (unescape(value) for value in values(lines, JOB_PROPERTY))
    alarms = (_theirs(block, known) for block in blocks(event, "VALARM"))
    status = sent.status if sent else None
    revision = restored(printable(uid), audience, stamp, event, known=known, status=status)
    # What could not be read as it stands may by chance have been restored to what is wanted.
    plain = _deciding(event) == _deciding(revision.lines)
    repeated = len(events) > 1 or any(name_of(line) in _REPEATS for line in own)
    return Entry(
        frozenset(jobs),
        revision,
        stored,
        sent,
        tuple(alarm for alarm in alarms if alarm),
        tuple(printable(line) for line in own if name_of(line) in _THEIRS and value_of(line)),
        repeated or not plain,
    )


def octets_of(job_id: str, revision: Revision, entry: Entry | None) -> bytes:
    """A revision as a calendar object, with what is not ours in the entry it replaces.

    Args:
        job_id: The job.
        revision: The event.
        entry: What stands there, if anything.

    Returns:
        The octets to send.

    Raises:
        CurecalError: what is ours of them does not keep our form (`calendar-form`); our own fault.
    """
    refuse_faults(document(least_head(job_id), [revision]))
    # SEQUENCE, digest of the content, status, UID and instant of each alarm.
    mine = blocks(revision.lines, "VALARM")
    known = [value for each in mine for name in _OF_ALARM for value in values(each, name)]
    status = revision.value("STATUS")
    sent = " ".join((str(revision.sequence), digest_of(revision), str(status), *known))
    # Properties stand before alarms in every example of the standard; some readers count on it.
    at = revision.lines.index("BEGIN:VALARM" if mine else "END:VEVENT")
    lines = (
        *revision.lines[:at],
        f"{SENT_PROPERTY}:{sent}",
        *(entry.theirs if entry else ()),
        *revision.lines[at:-1],
        *(line for alarm in carried(revision, entry) for line in alarm),
        revision.lines[-1],
    )
    return document(least_head(job_id), [replace(revision, lines=lines)])


def carried(revision: Revision, entry: Entry | None) -> tuple[tuple[str, ...], ...]:
    """The alarms of whoever holds the calendar that stay when a revision is sent.

    Args:
        revision: The event.
        entry: What stands there, if anything.

    Returns:
        Their content lines; none where the event is cancelled.
    """
    return () if entry is None or revision.cancelled else entry.alarms


def digest_of(revision: Revision) -> str:
    """A short name of what an event says.

    Args:
        revision: The event.

    Returns:
        The same for the same content, in hexadecimal digits.
    """
    return hashlib.sha256(repr(revision.content).encode()).hexdigest()[:24]


def title_of(revision: Revision) -> str:
    """The title of an event, as it may be shown.

    Args:
        revision: The event.
    """
    return shown(revision.summary, longest=_LONGEST_TITLE)


def _deciding(event: Iterable[str]) -> Content:
    """What of an event says when it takes place, and whether; the default type may be spelled."""
    own = own_lines(event, depth=1)
    said = (_DEFAULT_TYPE.sub("", line) for line in own if name_of(line) in _DECIDING)
    return content(("BEGIN:VEVENT", *said))


def _theirs(block: list[str], known: frozenset[str]) -> tuple[str, ...] | None:
    """An alarm that its holder has put there; None for one at an instant of ours, or no alarm.

    A program may have dropped the UID of one of ours; its instant tells it as well.
    """
    if known & {*values(block, "UID"), *values(block, "TRIGGER")}:
        return None
    if not (values(block, "ACTION") and values(block, "TRIGGER")):
        return None
    if sum(name_of(line) == "BEGIN" for line in block) > 1:
        return None
    return tuple(printable(line) for line in block)


def _first(block: Iterable[str], name: str) -> str:
    return "".join(values(block, name)[:1])


def _sent(text: str) -> Sent | None:
    found = _SENT.fullmatch(text)
    if found is None:
        return None
    known = frozenset(found[4].split())
    return Sent(_sequence(found[1]), found[2], Status(found[3]), known)


def _sequence(text: str) -> int:
    """A SEQUENCE as it stands, 0 where there is none; -1 for one that no counting comes to."""
    if not text:
        return 0
    found = int(text) if _WHOLE.fullmatch(text) else -1
    return found if found <= _PLAUSIBLE else -1
