"""Whether a calendar file keeps the form we write. Rests on no library, so that it checks one.

This module reads a file into components; what must hold of them stands in `constraints`.
"""

from __future__ import annotations

import re
from collections.abc import Iterator

from curecal.calendars.content_lines import LONGEST, unfold
from curecal.calendars.ical.components import Fault, Part
from curecal.calendars.ical.constraints import calendar_faults

# A calendar begins so; what stands before it is a mark or a slip.
_HEAD = 1024
_BARE = re.compile(rb"\r(?!\n)|(?<!\r)\n")
_CONTROL = re.compile(r"[\x00-\x1f\x7f-\x9f]")
_LINE = re.compile(
    r'(?P<name>[A-Za-z0-9-]+)(?P<params>(?:;[A-Za-z0-9-]+=(?:"[^"]*"|[^";:]*))*):(?P<value>.*)',
    re.DOTALL,
)


def faults(data: bytes) -> tuple[Fault, ...]:
    """Return what is wrong with a calendar file, by the form we write.

    Args:
        data: The file.

    Returns:
        The faults in order; empty where there are none.
    """
    if b"BEGIN:VCALENDAR" not in data[:_HEAD].upper():
        # Each of its lines would be a fault, and none would say what is wrong.
        return (Fault("calendar-none", 1),)
    found = list(_octets(data))
    try:
        lines = unfold(data)
    except UnicodeDecodeError as error:
        return (*found, Fault("calendar-not-utf8", 1, str(error.start)))
    root = Part("", 1)
    found += _read(lines, root)
    if [part.name for part in root.children] != ["VCALENDAR"] or root.properties:
        return (*found, Fault("calendar-not-one-calendar", 1))
    return (*found, *calendar_faults(root.children[0]))


def _octets(data: bytes) -> Iterator[Fault]:
    """Give what can be seen before a line is read."""
    if data.startswith(b"\xef\xbb\xbf"):
        yield Fault("calendar-bom", 1)
    if not data.endswith(b"\r\n"):
        yield Fault("calendar-no-end-of-line", max(1, data.count(b"\r\n")))
    for bare in _BARE.finditer(data):
        yield Fault("calendar-bare-line-end", data.count(b"\r\n", 0, bare.start()) + 1)
    for number, line in enumerate(data.split(b"\r\n"), start=1):
        if len(line) > LONGEST:
            yield Fault("calendar-long-line", number, str(len(line)))
        if line.isascii():
            continue
        try:
            line.decode()
        except UnicodeDecodeError:
            yield Fault("calendar-cut-character", number)


def _read(lines: list[str], root: Part) -> Iterator[Fault]:
    """Put the lines into components, and report those that fit nowhere."""
    stack = [root]
    for number, line in enumerate(lines, start=1):
        match = _LINE.match(line)
        if _CONTROL.search(line):
            yield Fault("calendar-control-character", number)
        if match is None:
            yield Fault("calendar-not-a-property", number, line[:20])
            continue
        name, params, value = match["name"].upper(), match["params"], match["value"]
        if name == "BEGIN":
            part = Part(value.upper(), number)
            stack[-1].children.append(part)
            stack.append(part)
        elif name == "END":
            if len(stack) == 1 or stack[-1].name != value.upper():
                yield Fault("calendar-nesting", number, value)
            else:
                stack.pop()
        else:
            stack[-1].properties.setdefault(name, []).append((params.upper(), value, number))
            if "TZID=" in params.upper():
                yield Fault("calendar-not-our-form", number, "TZID")
    if len(stack) > 1:
        yield Fault("calendar-nesting", len(lines), stack[-1].name)
