"""Events to bytes, in the one form that every reader we know reads alike.

Instants in UTC, days as dates, no zone by name, no durations: the local time stands in the text.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from datetime import UTC, date, datetime
from enum import StrEnum

from curecal.calendars.content_lines import fold, refuse_controls, text_property
from curecal.calendars.event import Audience, Days, Event, Feed, Stamp, Status
from curecal.calendars.revision import Draft, Revision
from curecal.errors import CurecalError
from curecal.instants import ceil_second

JOB_PROPERTY = "X-CURECAL-JOB"
"""Holds the job's id: by it, and not by PRODID, a file is known to be ours."""
STANDS_PROPERTY = "X-CURECAL-KEEPS-OFF"
"""Holds the id of the zone that an entry keeps off: such an entry goes only with a release."""

LEDGER_PROPERTY = "X-CURECAL-LEDGER"
"""Stands in an output: the ledger's id, its count for this calendar, and a digest, if any."""

EVENT_PROPERTY = "X-CURECAL-EVENT"
"""Holds what an event is about, as its UID is made of it: reader, zone, layer, purpose."""
DONE_PROPERTY = "X-CURECAL-DONE"
"""Says that what an event asked for has been done."""
SENT_PROPERTY = "X-CURECAL-SENT"
"""Stands in an event on a server only: what we sent last, to tell an edit from a moved plan."""

_PRODID = "-//curecal//calendars 1//EN"
_REFRESH = "PT6H"
# Names of CSS, the only colors that RFC 7986, 5.9 allows.
_COLORS = {
    Audience.CREW: "darkorange",
    Audience.ELECTRICIAN: "royalblue",
    Audience.OWNER: "seagreen",
}


def render(feed: Feed, stamps: Mapping[str, Stamp]) -> bytes:
    """A calendar as a file.

    Args:
        feed: The calendar.
        stamps: Of each event's UID, its revision.

    Returns:
        UTF-8 octets with CRLF.

    Raises:
        ValueRefused: a control character.
        KeyError: an event has no stamp.
    """
    found = drafts(feed)
    return document(head(feed), (stamped(draft, stamps[draft.uid]) for draft in found))


@dataclass(frozen=True, slots=True)
class Party:
    """Somebody who sends or gets an event: an address of mail, and a name to show."""

    address: str
    name: str = ""

    def __post_init__(self) -> None:
        """Refuse what could end its line."""
        refuse_controls(self.address, "email")
        refuse_controls(self.name, "name")


class CalendarMethod(StrEnum):
    """What a calendar that was sent asks its reader to do (RFC 5546, 1.4)."""

    PUBLISH = "PUBLISH"
    REQUEST = "REQUEST"
    CANCEL = "CANCEL"


@dataclass(frozen=True, slots=True)
class Sending:
    """How a calendar travels: what it asks for, from whom, to whom.

    Published it has no attendee; requested or cancelled it has one, who is not the organizer.
    """

    method: CalendarMethod
    organizer: Party
    attendee: Party | None = None

    def __post_init__(self) -> None:
        """Refuse an attendee where there must be none, and none where there must be one."""
        wanted = self.method is not CalendarMethod.PUBLISH
        mine = self.organizer.address.casefold()
        same = self.attendee is not None and self.attendee.address.casefold() == mine
        if (self.attendee is not None) is not wanted or same:
            raise CurecalError("calendar-parties", method=self.method.value)

    @property
    def lines(self) -> tuple[str, ...]:
        """The content lines that every event of the calendar gets."""
        found = [f"ORGANIZER{_named(self.organizer)}"]
        if self.attendee:
            role = ";ROLE=REQ-PARTICIPANT;PARTSTAT=NEEDS-ACTION;RSVP=FALSE"
            asks = role if self.method is CalendarMethod.REQUEST else ""
            found.append(f"ATTENDEE{asks}{_named(self.attendee)}")
        return tuple(found)


def document(
    head_lines: Iterable[str], revisions: Iterable[Revision], *, sending: Sending | None = None
) -> bytes:
    """A calendar of revisions as a file.

    Args:
        head_lines: Its own properties, as `head` gives them.
        revisions: Its events, in the order they are to stand in.
        sending: How it travels; a calendar that is only read names nobody.

    Returns:
        UTF-8 octets with CRLF.

    Raises:
        ValueRefused: a control character.
    """
    method = (f"METHOD:{sending.method.value}",) if sending else ()
    parties = sending.lines if sending else ()
    folded = [fold(line) for line in ("BEGIN:VCALENDAR", *head_lines, *method)]
    for revision in revisions:
        # Who sends stands behind BEGIN and UID.
        lines = (*revision.lines[:2], *parties, *revision.lines[2:])
        folded.extend(map(fold, lines))
    folded.append(fold("END:VCALENDAR"))
    return b"".join(folded)


def _named(party: Party) -> str:
    """A party's name as a parameter, with its address as the value."""
    # A parameter's value cannot hold the sign that it is quoted with, and a backslash before
    # that sign is read as part of the name by a library that many programs use.
    name = party.name.replace('"', "'").replace("\\", "/")
    return f';CN="{name}":mailto:{party.address}' if name else f":mailto:{party.address}"


def head(feed: Feed) -> tuple[str, ...]:
    """Return what stands in a calendar file of a feed before its events.

    Args:
        feed: The calendar.

    Returns:
        Content lines.
    """
    return job_head(feed.job_id, feed.name, feed.audience)


def job_head(job_id: str, name: str, audience: Audience) -> tuple[str, ...]:
    """Return what stands in a calendar file of a job before its events.

    Args:
        job_id: The job's id.
        name: What the calendar is called.
        audience: Whose it is.

    Returns:
        Content lines.
    """
    return (
        *least_head(job_id),
        text_property("NAME", name),
        text_property("X-WR-CALNAME", name),
        text_property("COLOR", _COLORS[audience]),
        f"REFRESH-INTERVAL;VALUE=DURATION:{_REFRESH}",
        f"X-PUBLISHED-TTL:{_REFRESH}",
    )


def person_head(name: str) -> tuple[str, ...]:
    """Return what stands in a person's calendar over several jobs before its events.

    Args:
        name: The person's name.

    Returns:
        Content lines; no job's id, since the file is none of a single job's.
    """
    return (
        "VERSION:2.0",
        text_property("PRODID", _PRODID),
        text_property("NAME", name),
        text_property("X-WR-CALNAME", name),
        f"REFRESH-INTERVAL;VALUE=DURATION:{_REFRESH}",
        f"X-PUBLISHED-TTL:{_REFRESH}",
    )


def least_head(job_id: str) -> tuple[str, ...]:
    """Return what stands before a single event that travels alone.

    Args:
        job_id: The job's id.

    Returns:
        Content lines.
    """
    return (
        "VERSION:2.0",
        text_property("PRODID", _PRODID),
        text_property(JOB_PROPERTY, job_id),
    )


def drafts(feed: Feed) -> tuple[Draft, ...]:
    """The events of a feed as content lines, before they are stamped.

    Args:
        feed: The calendar.

    Returns:
        One draft an event, in the feed's order.
    """
    return tuple(
        Draft(feed.uid(event.key), feed.audience, tuple(_event(feed, event)))
        for event in feed.events
    )


def stamped(draft: Draft, stamp: Stamp) -> Revision:
    """A draft as a revision.

    Args:
        draft: What the event says.
        stamp: Which revision this is, and when it changed.

    Returns:
        The revision, with its stamp in its lines.
    """
    changed_at = ceil_second(stamp.changed_at)
    changed = utc_text(changed_at)
    # Behind BEGIN and UID, so that a reader of lines meets identity, revision, content.
    lines = (
        *draft.lines[:2],
        f"DTSTAMP:{changed}",
        f"LAST-MODIFIED:{changed}",
        f"SEQUENCE:{stamp.sequence}",
        *draft.lines[2:],
    )
    return Revision(draft.uid, draft.audience, stamp.sequence, changed_at, lines)


def utc_text(at: datetime) -> str:
    """An instant as iCalendar writes it in UTC.

    Args:
        at: The instant, to the second.

    Returns:
        For example "20261202T200000Z".
    """
    # strftime leaves out the zeros before a year under 1000 on some systems.
    utc = at.astimezone(UTC)
    return f"{day_text(utc)}T{utc:%H%M%S}Z"


def day_text(day: date) -> str:
    """A day as iCalendar writes it.

    Args:
        day: The day.

    Returns:
        For example "20261202".
    """
    return f"{day.year:04}{day.month:02}{day.day:02}"


def _event(feed: Feed, event: Event) -> Iterator[str]:
    yield "BEGIN:VEVENT"
    yield f"UID:{feed.uid(event.key)}"
    if isinstance(event.when, Days):
        yield f"DTSTART;VALUE=DATE:{day_text(event.when.start_on)}"
        yield f"DTEND;VALUE=DATE:{day_text(event.when.end_on)}"
    else:
        yield f"DTSTART:{utc_text(event.when.start_at)}"
        yield f"DTEND:{utc_text(event.when.end_at)}"
    yield text_property("SUMMARY", event.summary)
    if event.description:
        yield text_property("DESCRIPTION", event.description)
    if event.location:
        yield text_property("LOCATION", event.location)
    yield f"STATUS:{event.status.value}"
    busy = event.busy and event.status is not Status.CANCELLED
    yield f"TRANSP:{'OPAQUE' if busy else 'TRANSPARENT'}"
    yield text_property(EVENT_PROPERTY, event.key.text)
    if event.keeps_off is not None:
        yield text_property(STANDS_PROPERTY, event.keeps_off)
    for link in event.follows:
        gap = f";GAP=PT{link.gap_hours}H" if link.gap_hours else ""
        yield f"RELATED-TO;RELTYPE=FINISHTOSTART{gap}:{feed.uid(link.key)}"
    for alarm in event.alarms:
        yield "BEGIN:VALARM"
        yield f"UID:{feed.alarm_uid(event, alarm)}"
        yield "ACTION:DISPLAY"
        yield f"TRIGGER;VALUE=DATE-TIME:{utc_text(alarm.at)}"
        yield text_property("DESCRIPTION", event.summary)
        yield "END:VALARM"
    yield "END:VEVENT"
