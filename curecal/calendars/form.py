"""Events to bytes, in the one form that every reader we know reads alike.

Instants in UTC, days as dates, no zone by name, no durations: the local time stands in the text.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from datetime import UTC, date, datetime

from curecal.calendars.lines import fold, text_property
from curecal.calendars.model import Audience, Days, Event, Feed, Stamp, Status
from curecal.instants import ceil_second

JOB_PROPERTY = "X-CURECAL-JOB"
"""Holds the job's id: by it, and not by PRODID, a file is known to be ours."""

_PRODID = "-//curecal//calendars 1//EN"
_REFRESH = "PT6H"
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
    lines = (line for part in (_head(feed), *_events(feed, stamps), _foot()) for line in part)
    return b"".join(fold(line) for line in lines)


def _head(feed: Feed) -> Iterator[str]:
    yield "BEGIN:VCALENDAR"
    yield "VERSION:2.0"
    yield text_property("PRODID", _PRODID)
    yield text_property(JOB_PROPERTY, feed.job_id)
    yield text_property("NAME", feed.name)
    yield text_property("X-WR-CALNAME", feed.name)
    yield text_property("COLOR", _COLORS[feed.audience])
    yield f"REFRESH-INTERVAL;VALUE=DURATION:{_REFRESH}"
    yield f"X-PUBLISHED-TTL:{_REFRESH}"


def _foot() -> Iterator[str]:
    yield "END:VCALENDAR"


def _events(feed: Feed, stamps: Mapping[str, Stamp]) -> Iterator[Iterator[str]]:
    for event in feed.events:
        yield _event(feed, event, stamps[feed.uid(event.key)])


def _event(feed: Feed, event: Event, stamp: Stamp) -> Iterator[str]:
    changed = _utc(ceil_second(stamp.changed_at))
    yield "BEGIN:VEVENT"
    yield f"UID:{feed.uid(event.key)}"
    yield f"DTSTAMP:{changed}"
    yield f"LAST-MODIFIED:{changed}"
    yield f"SEQUENCE:{stamp.sequence}"
    if isinstance(event.when, Days):
        yield f"DTSTART;VALUE=DATE:{_date(event.when.start_on)}"
        yield f"DTEND;VALUE=DATE:{_date(event.when.end_on)}"
    else:
        yield f"DTSTART:{_utc(event.when.start_at)}"
        yield f"DTEND:{_utc(event.when.end_at)}"
    yield text_property("SUMMARY", event.summary)
    yield text_property("DESCRIPTION", event.description)
    if event.location:
        yield text_property("LOCATION", event.location)
    yield f"STATUS:{event.status.value}"
    busy = event.busy and event.status is not Status.CANCELLED
    yield f"TRANSP:{'OPAQUE' if busy else 'TRANSPARENT'}"
    for link in event.follows:
        gap = f";GAP=PT{link.gap_hours}H" if link.gap_hours else ""
        yield f"RELATED-TO;RELTYPE=FINISHTOSTART{gap}:{feed.uid(link.key)}"
    for alarm in event.alarms:
        yield "BEGIN:VALARM"
        yield f"UID:{feed.alarm_uid(event, alarm)}"
        yield "ACTION:DISPLAY"
        yield f"TRIGGER;VALUE=DATE-TIME:{_utc(alarm.at)}"
        yield text_property("DESCRIPTION", event.summary)
        yield "END:VALARM"
    yield "END:VEVENT"


def _utc(at: datetime) -> str:
    # strftime leaves out the zeros before a year under 1000 on some systems.
    utc = at.astimezone(UTC)
    return f"{_date(utc)}T{utc:%H%M%S}Z"


def _date(day: date) -> str:
    return f"{day.year:04}{day.month:02}{day.day:02}"
