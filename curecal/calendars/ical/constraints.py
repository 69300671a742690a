"""What must hold of a calendar's components, as tables of properties and a few rules.

Source: RFC 5545 (values 3.3, components 3.6, properties 3.8), RFC 5546 3.2 (what each method asks
of an event), RFC 7986 5 (NAME, COLOR, REFRESH-INTERVAL, UID), RFC 9074 (an alarm's UID), RFC 9253
(RELATED-TO with GAP); from memory. Narrower than these where our own form is.
"""

from __future__ import annotations

import functools
import re
from collections.abc import Callable, Iterator, Mapping
from datetime import UTC, datetime

from curecal.calendars.event import Status
from curecal.calendars.ical.components import Fault, Part, Property
from curecal.calendars.ical.ical_writer import (
    DONE_PROPERTY,
    EVENT_PROPERTY,
    JOB_PROPERTY,
    LEDGER_PROPERTY,
    SENT_PROPERTY,
    STANDS_PROPERTY,
    CalendarMethod,
)
from curecal.calendars.revision import GREATEST_SEQUENCE

_TEXT = re.compile(r"(?:[^\\;,]|\\[\\;,nN])*")
_UUID = re.compile(r"[0-9a-f]{8}(?:-[0-9a-f]{4}){3}-[0-9a-f]{12}")
_DIGITS = re.compile(r"[0-9]{1,10}")
_LENGTH = re.compile(
    r"P(?:[1-9][0-9]*W|(?=.)(?:[1-9][0-9]*D)?(?:T(?=.)(?:[1-9][0-9]*H)?(?:[1-9][0-9]*M)?(?:[1-9][0-9]*S)?)?)"
)
_COLOR = re.compile(r"[a-z]{3,20}")
_MAIL = re.compile(r"mailto:[^\s@]+@[^\s@]+", re.IGNORECASE)
_CHILDREN = {"VCALENDAR": "VEVENT", "VEVENT": "VALARM", "VALARM": ""}
_DAY, _INSTANT = "VALUE=DATE", "VALUE=DATE-TIME"

Check = Callable[[Property], str]
"""Gives the code of the fault of a property, or nothing."""


def calendar_faults(calendar: Part) -> Iterator[Fault]:
    """Give what is wrong with a calendar.

    Args:
        calendar: The component VCALENDAR.

    Yields:
        The faults, in order.
    """
    yield from _properties(calendar)
    events = [part for part in calendar.children if part.name == "VEVENT"]
    if not events:
        yield Fault("calendar-empty", calendar.line)
    method = calendar.first("METHOD")[1]
    if method in {CalendarMethod.REQUEST, CalendarMethod.CANCEL} and len(events) > 1:
        yield Fault("calendar-one-event", events[1].line, method)
    seen: set[str] = set()
    for event in events:
        yield from _event(event, method)
        for part in (event, *event.children):
            uid = part.first("UID")[1]
            if uid in seen:
                yield Fault("calendar-uid-twice", part.line, uid)
            seen.add(uid)


def _properties(part: Part) -> Iterator[Fault]:
    """Each property as often as it may stand, none that we do not write, each with a good value."""
    table = _TABLES[part.name]
    for name, (least, most, _) in table.items():
        count = len(part.properties.get(name, ()))
        if not least <= count <= most:
            yield Fault("calendar-property-count", part.line, f"{part.name} {name} {count}")
    for name, found in part.properties.items():
        if name not in table:
            yield Fault("calendar-not-our-form", found[0][2], name)
            continue
        check = table[name][2]
        for place in found:
            if code := check(place):
                yield Fault(code, place[2], name)
    for child in part.children:
        if child.name != _CHILDREN[part.name]:
            yield Fault("calendar-not-our-form", child.line, child.name)


def _event(part: Part, method: str) -> Iterator[Fault]:
    yield from _properties(part)
    yield from _times(part)
    yield from _parties(part, method)
    if part.first("LAST-MODIFIED")[1] != part.first("DTSTAMP")[1]:
        yield Fault("calendar-stamps-differ", part.first("LAST-MODIFIED")[2])
    if any(value == part.first("UID")[1] for _, value, _ in part.properties.get("RELATED-TO", ())):
        yield Fault("calendar-related-to-itself", part.first("RELATED-TO")[2])
    cancelled = part.first("STATUS")[1] == Status.CANCELLED
    if cancelled and part.first("TRANSP")[1] == "OPAQUE":
        yield Fault("calendar-cancelled-busy", part.first("TRANSP")[2])
    if cancelled and (part.children or part.has(STANDS_PROPERTY)):
        yield Fault("calendar-cancelled-alarm", part.line)
    yield from _alarms(part)


def _times(part: Part) -> Iterator[Fault]:
    """Start and end: both days or both instants, the end after the start."""
    start, end = part.first("DTSTART"), part.first("DTEND")
    if _says(start, _DAY) is not _says(end, _DAY):
        yield Fault("calendar-mixed-times", end[2])
    elif end[1] <= start[1]:
        yield Fault("calendar-no-length", end[2])


def _parties(part: Part, method: str) -> Iterator[Fault]:
    """Who sends and who is asked, as the method wants it."""
    organizers = part.properties.get("ORGANIZER", [])
    attendees = part.properties.get("ATTENDEE", [])
    asked = method in {CalendarMethod.REQUEST, CalendarMethod.CANCEL}
    if len(organizers) != bool(method) or len(attendees) != asked:
        yield Fault("calendar-parties", part.line, method)
    elif asked and organizers[0][1].casefold() == attendees[0][1].casefold():
        yield Fault("calendar-invites-itself", attendees[0][2])
    cancelled = part.first("STATUS")[1] == Status.CANCELLED
    if asked and cancelled is not (method == CalendarMethod.CANCEL):
        yield Fault("calendar-method-status", part.first("STATUS")[2], method)


def _alarms(part: Part) -> Iterator[Fault]:
    """Alarms: at instants, none twice, none after the start."""
    start = part.first("DTSTART")
    instants: set[str] = set()
    for alarm in part.children:
        if alarm.name != "VALARM":
            continue
        yield from _properties(alarm)
        _, value, line = alarm.first("TRIGGER")
        if value in instants:
            yield Fault("calendar-alarm", line, "twice")
        elif not _says(start, _DAY) and value >= start[1]:
            yield Fault("calendar-alarm", line, "late")
        instants.add(value)


def _says(found: Property, param: str) -> bool:
    """Return whether a property has a parameter."""
    return param in found[0].split(";")


@functools.lru_cache(maxsize=4096)
def _is_instant(value: str) -> bool:
    return len(value) == len("20261202T200000Z") and _is_time(value, "%Y%m%dT%H%M%SZ")


@functools.lru_cache(maxsize=4096)
def _is_day(value: str) -> bool:
    return len(value) == len("20261202") and _is_time(value, "%Y%m%d")


def _is_time(value: str, form: str) -> bool:
    try:
        datetime.strptime(value, form).replace(tzinfo=UTC)
    except ValueError:
        return False
    return value.isascii()


def _instant(found: Property) -> str:
    good = _is_instant(found[1]) and found[0] in {"", f";{_INSTANT}"}
    return "" if good else "calendar-not-utc"


def _moment(found: Property) -> str:
    """A start or an end: a day that says so, or an instant in UTC."""
    day = _says(found, _DAY)
    return "" if (_is_day(found[1]) if day else _is_instant(found[1])) else "calendar-not-utc"


def _trigger(found: Property) -> str:
    return "" if _says(found, _INSTANT) and _is_instant(found[1]) else "calendar-alarm-relative"


def _sequence(found: Property) -> str:
    good = _DIGITS.fullmatch(found[1]) and int(found[1]) <= GREATEST_SEQUENCE
    return "" if good else "calendar-sequence"


def _refresh(found: Property) -> str:
    good = _says(found, "VALUE=DURATION") and _LENGTH.fullmatch(found[1])
    return "" if good else "calendar-duration"


def _related(found: Property) -> str:
    gaps = [param[4:] for param in found[0].split(";") if param.startswith("GAP=")]
    good = _UUID.fullmatch(found[1]) and all(_LENGTH.fullmatch(gap) for gap in gaps)
    return "" if good else "calendar-related"


def _like(pattern: re.Pattern[str], code: str) -> Check:
    return lambda found: "" if pattern.fullmatch(found[1]) else code


def _among(code: str, *values: str) -> Check:
    return lambda found: "" if found[1] in values else code


_MANY = 1_000
_ANY_TEXT = _like(_TEXT, "calendar-text")
_AN_ID = _like(_UUID, "calendar-uid-form")
_A_MAILBOX = _like(_MAIL, "calendar-mailbox")
_TABLES: Mapping[str, Mapping[str, tuple[int, int, Check]]] = {
    "VCALENDAR": {
        "VERSION": (1, 1, _among("calendar-version", "2.0")),
        "PRODID": (1, 1, _ANY_TEXT),
        JOB_PROPERTY: (0, 1, _ANY_TEXT),
        LEDGER_PROPERTY: (0, 1, _ANY_TEXT),
        "METHOD": (0, 1, _among("calendar-method", *CalendarMethod)),
        "NAME": (0, 1, _ANY_TEXT),
        "X-WR-CALNAME": (0, 1, _ANY_TEXT),
        "COLOR": (0, 1, _like(_COLOR, "calendar-color")),
        "REFRESH-INTERVAL": (0, 1, _refresh),
        "X-PUBLISHED-TTL": (0, 1, _like(_LENGTH, "calendar-duration")),
    },
    "VEVENT": {
        "UID": (1, 1, _AN_ID),
        "DTSTAMP": (1, 1, _instant),
        "LAST-MODIFIED": (1, 1, _instant),
        "SEQUENCE": (1, 1, _sequence),
        "ORGANIZER": (0, 1, _A_MAILBOX),
        "ATTENDEE": (0, 1, _A_MAILBOX),
        "DTSTART": (1, 1, _moment),
        "DTEND": (1, 1, _moment),
        "SUMMARY": (1, 1, _ANY_TEXT),
        "DESCRIPTION": (0, 1, _ANY_TEXT),
        "LOCATION": (0, 1, _ANY_TEXT),
        "STATUS": (1, 1, _among("calendar-status", *Status)),
        "TRANSP": (0, 1, _among("calendar-transp", "OPAQUE", "TRANSPARENT")),
        EVENT_PROPERTY: (0, 1, _ANY_TEXT),
        STANDS_PROPERTY: (0, 1, _ANY_TEXT),
        SENT_PROPERTY: (0, 1, _ANY_TEXT),
        DONE_PROPERTY: (0, 1, _among("calendar-done", "TRUE")),
        "RELATED-TO": (0, _MANY, _related),
    },
    "VALARM": {
        "UID": (1, 1, _AN_ID),
        "ACTION": (1, 1, _among("calendar-action", "DISPLAY")),
        "TRIGGER": (1, 1, _trigger),
        "DESCRIPTION": (1, 1, _ANY_TEXT),
    },
}
