"""Whether a calendar file keeps the form we write. Rests on no library, so that it checks one."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterator
from dataclasses import dataclass, field

from curecal.calendars.form import JOB_PROPERTY
from curecal.calendars.lines import LONGEST, unfold

_BARE = re.compile(rb"\r(?!\n)|(?<!\r)\n")
_LINE = re.compile(r'(?P<name>[A-Za-z0-9-]+)(?P<params>(?:;[A-Za-z0-9-]+=(?:"[^"]*"|[^";:]*))*):')
_INSTANT = re.compile(r"\d{8}T\d{6}Z")
_DATE = re.compile(r"\d{8}")
_ONCE = {
    "VCALENDAR": ("VERSION", "PRODID", JOB_PROPERTY),
    "VEVENT": (
        "UID",
        "DTSTAMP",
        "LAST-MODIFIED",
        "SEQUENCE",
        "DTSTART",
        "DTEND",
        "SUMMARY",
        "STATUS",
    ),
    "VALARM": ("UID", "ACTION", "TRIGGER", "DESCRIPTION"),
}
_NEVER = frozenset({"METHOD", "ORGANIZER", "ATTENDEE", "DURATION", "RRULE", "X-WR-TIMEZONE"})
_STATUS = frozenset({"CONFIRMED", "TENTATIVE", "CANCELLED"})
_VALUE_DATE, _VALUE_INSTANT = "VALUE=DATE", "VALUE=DATE-TIME"


@dataclass(frozen=True, slots=True)
class Fault:
    """Something a calendar file must not be; `line_count` is the content line it stands at."""

    code: str
    line_count: int
    detail: str = ""


@dataclass(slots=True)
class _Part:
    """A component that has been begun: its properties, each with parameters, value and line."""

    name: str
    line: int
    properties: dict[str, list[tuple[str, str, int]]] = field(default_factory=dict)
    children: list[_Part] = field(default_factory=list)

    def first(self, name: str) -> tuple[str, str, int]:
        return self.properties.get(name, [("", "", self.line)])[0]


def faults(data: bytes) -> tuple[Fault, ...]:
    """What is wrong with a calendar file, by the form we write.

    Args:
        data: The file.

    Returns:
        The faults in order; empty where there are none.
    """
    found = list(_octets(data))
    try:
        lines = unfold(data)
    except UnicodeDecodeError as error:
        return (*found, Fault("calendar-not-utf8", 1, str(error.start)))
    root = _Part("", 1)
    found += _read(lines, root)
    found += _whole(root)
    return tuple(found)


def _octets(data: bytes) -> Iterator[Fault]:
    """What can be seen before a line is read."""
    if data.startswith(b"\xef\xbb\xbf"):
        yield Fault("calendar-bom", 1)
    if not data.endswith(b"\r\n"):
        yield Fault("calendar-no-end-of-line", max(1, data.count(b"\r\n")))
    for bare in _BARE.finditer(data):
        yield Fault("calendar-bare-line-end", data.count(b"\r\n", 0, bare.start()) + 1)
    for number, line in enumerate(data.split(b"\r\n"), start=1):
        if len(line) > LONGEST:
            yield Fault("calendar-long-line", number, str(len(line)))
        try:
            line.decode()
        except UnicodeDecodeError:
            yield Fault("calendar-cut-character", number)


def _read(lines: list[str], root: _Part) -> Iterator[Fault]:
    """Put the lines into components, and report those that fit nowhere."""
    stack = [root]
    for number, line in enumerate(lines, start=1):
        match = _LINE.match(line)
        if any(unicodedata.category(sign) == "Cc" for sign in line):
            yield Fault("calendar-control-character", number)
        if match is None:
            yield Fault("calendar-not-a-property", number, line[:20])
            continue
        name, params, value = match["name"].upper(), match["params"].upper(), line[match.end() :]
        if name == "BEGIN":
            part = _Part(value.upper(), number)
            stack[-1].children.append(part)
            stack.append(part)
        elif name == "END":
            if len(stack) == 1 or stack[-1].name != value.upper():
                yield Fault("calendar-nesting", number, value)
            else:
                stack.pop()
        else:
            stack[-1].properties.setdefault(name, []).append((params, value, number))
            if name in _NEVER or "TZID=" in params:
                yield Fault("calendar-not-our-form", number, name)
    if len(stack) > 1:
        yield Fault("calendar-nesting", len(lines), stack[-1].name)


def _whole(root: _Part) -> Iterator[Fault]:
    """What can be seen of whole components."""
    if [part.name for part in root.children] != ["VCALENDAR"] or root.properties:
        yield Fault("calendar-not-one-calendar", 1)
        return
    calendar = root.children[0]
    yield from _once(calendar)
    if calendar.first("VERSION")[1] != "2.0":
        yield Fault("calendar-version", calendar.first("VERSION")[2])
    if not calendar.children:
        yield Fault("calendar-empty", calendar.line)
    seen: set[str] = set()
    for part in calendar.children:
        if part.name != "VEVENT":
            yield Fault("calendar-not-our-form", part.line, part.name)
            continue
        yield from _event(part)
        for known in (part, *part.children):
            uid = known.first("UID")[1]
            if uid in seen:
                yield Fault("calendar-uid-twice", known.line, uid)
            seen.add(uid)


def _once(part: _Part) -> Iterator[Fault]:
    """Properties that must be there, and each of them once."""
    for name in _ONCE[part.name]:
        count = len(part.properties.get(name, []))
        if count != 1:
            yield Fault("calendar-property-count", part.line, f"{part.name} {name} {count}")


def _event(part: _Part) -> Iterator[Fault]:
    yield from _once(part)
    yield from _times(part)
    for name in ("DTSTAMP", "LAST-MODIFIED"):
        if not _INSTANT.fullmatch(part.first(name)[1]):
            yield Fault("calendar-not-utc", part.first(name)[2])
    if not part.first("SEQUENCE")[1].isdecimal():
        yield Fault("calendar-sequence", part.first("SEQUENCE")[2])
    if part.first("STATUS")[1] not in _STATUS:
        yield Fault("calendar-status", part.first("STATUS")[2])
    yield from _alarms(part)


def _is_day(found: tuple[str, str, int]) -> bool:
    """Whether a property says that its value is a day."""
    return _VALUE_DATE in found[0].split(";")


def _times(part: _Part) -> Iterator[Fault]:
    """Start and end: both days or both instants in UTC, the end after the start."""
    start, end = part.first("DTSTART"), part.first("DTEND")
    form = _DATE if _is_day(start) else _INSTANT
    if _is_day(start) is not _is_day(end):
        yield Fault("calendar-mixed-times", end[2])
    elif not (form.fullmatch(start[1]) and form.fullmatch(end[1])):
        yield Fault("calendar-not-utc", start[2])
    elif end[1] <= start[1]:
        yield Fault("calendar-no-length", end[2])


def _alarms(part: _Part) -> Iterator[Fault]:
    """Alarms: at instants in UTC, none twice, none after the start."""
    start = part.first("DTSTART")
    instants: set[str] = set()
    for alarm in part.children:
        if alarm.name != "VALARM":
            yield Fault("calendar-not-our-form", alarm.line, alarm.name)
            continue
        yield from _once(alarm)
        params, value, line = alarm.first("TRIGGER")
        if _VALUE_INSTANT not in params.split(";") or not _INSTANT.fullmatch(value):
            yield Fault("calendar-alarm", line, "relative")
        elif value in instants:
            yield Fault("calendar-alarm", line, "twice")
        elif not _is_day(start) and value >= start[1]:
            yield Fault("calendar-alarm", line, "late")
        instants.add(value)
