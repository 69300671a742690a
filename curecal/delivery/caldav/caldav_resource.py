"""An event as a resource of a collection: what stands there, and what is sent in its place.

Whoever holds the calendar may change what stands in it. Beside each event stands a digest of what
we sent last, so that an edit is told from a plan that moved, and their alarms from ours. Pure.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass, replace
from datetime import UTC, datetime

from curecal.calendars.event import Audience, EventKey
from curecal.calendars.ical.ical_writer import (
    LEDGER_PROPERTY,
    SENT_PROPERTY,
    document,
    least_head,
)
from curecal.calendars.ical.loose_reader import (
    blocks,
    first_value,
    loose_lines,
    own_lines,
    printable,
    values,
)
from curecal.calendars.ical.round_trip_check import refuse_faults
from curecal.calendars.revision import Revision, name_of, value_of
from curecal.calendars.revisions.lost_ledger import sequence_in
from curecal.calendars.revisions.outputs import OutputMark, mark_in
from curecal.delivery.caldav.http_client import shown

_LONGEST_TITLE = 200
# What makes an event take place otherwise than its start and end say.
_REPEATS = frozenset({"RRULE", "RDATE", "EXDATE", "EXRULE", "DURATION", "RECURRENCE-ID"})
# What people put on entries for their own order; it says nothing about the floor.
_THEIRS = frozenset({"CATEGORIES", "COLOR", "CLASS", "PRIORITY", "COMMENT"})
# What stands on a server is compared by what it says, never by when.
_UNSTAMPED = datetime(1970, 1, 1, tzinfo=UTC)
_OF_ALARM = ("UID", "TRIGGER")
_SENT = re.compile(r"(\d{1,10}) ([0-9a-f]{24})((?: \S+)*)", re.ASCII)


@dataclass(frozen=True, slots=True)
class SentResource:
    """What we sent last, as it stands beside the event; `known` are UIDs and instants of alarms."""

    sequence: int
    digest: str
    known: frozenset[str]


@dataclass(frozen=True, slots=True)
class CalendarObject:
    """What stands in a collection under one href.

    `event` is the event as it stands, with those of its alarms that are ours; `sequence` is the
    SEQUENCE in it, -1 where no counting comes to it. `alarms` and `theirs` are content lines of
    whoever holds the calendar. `is_twisted` says that it takes place otherwise than it says.
    """

    event: Revision
    sequence: int
    sent: SentResource | None
    mark: OutputMark | None
    alarms: tuple[tuple[str, ...], ...]
    theirs: tuple[str, ...]
    is_twisted: bool

    @property
    def uid(self) -> str:
        """The event's UID."""
        return self.event.uid

    @property
    def key(self) -> EventKey | None:
        """Return what the event is about, if that still stands in it."""
        return self.event.key

    @property
    def is_as_sent(self) -> bool:
        """Return whether nobody changed what is ours since we sent it."""
        same = self.sent is not None and self.sent.digest == self.event.digest
        return same and not self.is_twisted

    def says(self, revision: Revision) -> bool:
        """Return whether nothing needs to be sent for a revision to stand there.

        A program that puts in an alarm of its user's may raise SEQUENCE: that is left alone.
        """
        same = self.event.content == revision.content
        return same and self.sequence >= revision.sequence and not self.is_twisted


def read_object(text: str, audience: Audience, known: Revision | None) -> CalendarObject | None:
    """Return what a calendar object holds.

    Args:
        text: The object, from a server.
        audience: Whose calendar it stands in.
        known: The ledger's revision of the event, whose alarms are ours.

    Returns:
        The object; None for what holds no event with a UID.
    """
    lines = loose_lines(text)
    events = blocks(lines, "VEVENT")
    # An exception to a repeated event comes before or after it.
    masters = [event for event in events if not values(event, "RECURRENCE-ID")] or events
    if not masters or not (uid := first_value(masters[0], "UID")):
        return None
    event = masters[0]
    sent = _sent(first_value(event, SENT_PROPERTY))
    ours = (sent.known if sent else frozenset()) | frozenset(alarm_names(known))
    own = own_lines(event, depth=1)
    stands = sequence_in(first_value(event, "SEQUENCE") or "0")
    alarms = blocks(event, "VALARM")
    mine = [line for alarm in alarms if _is_ours(alarm, ours) for line in alarm]
    sequence = -1 if stands is None else stands
    return CalendarObject(
        _as_it_stands(uid, audience, max(0, sequence), [*own, *mine]),
        sequence,
        sent,
        mark_in(first_value(lines, LEDGER_PROPERTY)),
        tuple(theirs for alarm in alarms if (theirs := _theirs(alarm, ours))),
        tuple(printable(line) for line in own if name_of(line) in _THEIRS and value_of(line)),
        len(events) > 1 or any(name_of(line) in _REPEATS for line in own),
    )


def octets_of(
    job_id: str, revision: Revision, mark: OutputMark, there: CalendarObject | None
) -> bytes:
    """A revision as a calendar object, with what is not ours in the one it replaces.

    Args:
        job_id: The job.
        revision: The event.
        mark: The ledger it is from.
        there: What stands there, if anything.

    Returns:
        The octets to send.

    Raises:
        CurecalError: what is ours of them does not keep our form (`calendar-form`); our own fault.
    """
    head = (*least_head(job_id), mark.line)
    refuse_faults(document(head, [revision]))
    # SEQUENCE, digest of the content, UID and instant of each alarm.
    sent = " ".join((str(revision.sequence), revision.digest, *alarm_names(revision)))
    # Properties stand before alarms in every example of the standard; some readers count on it.
    has_alarms = "BEGIN:VALARM" in revision.lines
    at = revision.lines.index("BEGIN:VALARM" if has_alarms else "END:VEVENT")
    lines = (
        *revision.lines[:at],
        f"{SENT_PROPERTY}:{sent}",
        *(there.theirs if there else ()),
        *revision.lines[at:-1],
        *(line for alarm in carried(revision, there) for line in alarm),
        revision.lines[-1],
    )
    return document(head, [replace(revision, lines=lines)])


def carried(revision: Revision, there: CalendarObject | None) -> tuple[tuple[str, ...], ...]:
    """The alarms of whoever holds the calendar that stay when a revision is sent.

    Args:
        revision: The event.
        there: What stands there, if anything.

    Returns:
        Their content lines; none where the event is cancelled.
    """
    return () if there is None or revision.cancelled else there.alarms


def alarm_names(revision: Revision | None) -> list[str]:
    """The UIDs and instants of an event's alarms, by which a server's copies are known.

    Args:
        revision: The event, if there is one.
    """
    alarms = blocks(revision.lines, "VALARM") if revision else []
    return [value for alarm in alarms for name in _OF_ALARM for value in values(alarm, name)]


def title_of(revision: Revision) -> str:
    """The title of an event, as it may be shown.

    Args:
        revision: The event.
    """
    return shown(revision.summary, longest=_LONGEST_TITLE)


def _as_it_stands(uid: str, audience: Audience, sequence: int, lines: Iterable[str]) -> Revision:
    whole = ("BEGIN:VEVENT", *lines, "END:VEVENT")
    return Revision(uid, audience, sequence, _UNSTAMPED, whole)


def _is_ours(alarm: list[str], ours: frozenset[str]) -> bool:
    """Return whether an alarm is ours; its instant tells where a program dropped its UID."""
    return bool(ours & {*values(alarm, "UID"), *values(alarm, "TRIGGER")})


def _theirs(alarm: list[str], ours: frozenset[str]) -> tuple[str, ...] | None:
    """An alarm that its holder has put there; None for one at an instant of ours, or no alarm."""
    if _is_ours(alarm, ours) or not (values(alarm, "ACTION") and values(alarm, "TRIGGER")):
        return None
    if sum(name_of(line) == "BEGIN" for line in alarm) > 1:
        return None
    return tuple(printable(line) for line in alarm)


def _sent(text: str) -> SentResource | None:
    found = _SENT.fullmatch(text)
    sequence = sequence_in(found[1]) if found else None
    if found is None or sequence is None:
        return None
    return SentResource(sequence, found[2], frozenset(found[3].split()))
