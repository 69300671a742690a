"""What is ours in an event that another program may have written, brought back into our form.

A calendar program spells what we sent in its own way, and its user may have changed it. Whatever
became of it can be compared with what is wanted, cancelled, or left standing. Pure.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Collection, Iterable, Mapping
from datetime import UTC, datetime, timedelta

from curecal.calendars.content_lines import text_property, unescape
from curecal.calendars.event import Audience, Stamp, Status
from curecal.calendars.ical.ical_writer import MARKS, STANDS_PROPERTY, day_text, utc_text
from curecal.calendars.revision import Revision, name_of, value_of

_TEXTS = ("SUMMARY", "DESCRIPTION", "LOCATION")
_UNTITLED = "?"
_LAST_YEAR = 2100
_DAY_FORM, _INSTANT_FORM = "%Y%m%d", "%Y%m%dT%H%M%SZ"
_DAY = re.compile(r"\d{8}", re.ASCII)
_RELATED = re.compile(r"[0-9a-f]{8}(?:-[0-9a-f]{4}){3}-[0-9a-f]{12}")
_GAP = re.compile(r';GAP="?(PT[1-9][0-9]*H)"?[;:]', re.IGNORECASE | re.ASCII)
# Control characters, halves of a pair, and signs that some readers take for the end of a line.
_ENDING = frozenset({"Cc", "Cs", "Zl", "Zp"})


def restored(
    uid: str,
    audience: Audience,
    stamp: Stamp,
    event: list[str],
    *,
    known: Collection[str],
    status: Status | None,
) -> Revision:
    """What is ours in an event, in the form we write.

    Args:
        uid: Its UID.
        audience: Whose calendar it stands in.
        stamp: The highest SEQUENCE known of it, and when it was changed.
        event: Its content lines from BEGIN to END.
        known: UIDs and instants of alarms that are ours.
        status: The status we sent; None where that is not known.

    Returns:
        The revision. It keeps our form whatever the lines hold.
    """
    first: dict[str, str] = {}
    for line in own_lines(event, depth=1):
        first.setdefault(name_of(line), printable(line))
    marks = [
        text_property(name, unescape(value_of(first[name]))) for name in MARKS if name in first
    ]
    stands = STANDS_PROPERTY in first
    start, end = _times(first, stamp.changed_at, days=stands)
    said = status or _status(first, stands=stands)
    off = said is Status.CANCELLED
    busy = not off and value_of(first.get("TRANSP", "")).upper() == "OPAQUE"
    texts = {
        name: text
        for name in _TEXTS
        if name in first and (text := unescape(value_of(first[name])).strip("\r"))
    }
    changed = utc_text(stamp.changed_at)
    lines = (
        "BEGIN:VEVENT",
        f"UID:{uid}",
        f"DTSTAMP:{changed}",
        f"LAST-MODIFIED:{changed}",
        f"SEQUENCE:{stamp.sequence}",
        start,
        end,
        *(text_property(name, text) for name, text in {"SUMMARY": _UNTITLED, **texts}.items()),
        f"STATUS:{said.value}",
        f"TRANSP:{'OPAQUE' if busy else 'TRANSPARENT'}",
        *(mark for mark in marks if not (off and name_of(mark) == STANDS_PROPERTY)),
        *_related(uid, event),
        *([] if off else _alarms(event, known, value_of(start))),
        "END:VEVENT",
    )
    return Revision(uid, audience, stamp.sequence, stamp.changed_at, lines)


def blocks(lines: Iterable[str], name: str) -> list[list[str]]:
    """The components of a name among content lines, each with its begin and end.

    Args:
        lines: Content lines.
        name: The component's name, in capitals.
    """
    found: list[list[str]] = []
    block: list[str] | None = None
    for line in lines:
        tag = line.upper()
        if block is None and tag == f"BEGIN:{name}":
            block = []
        if block is not None:
            block.append(line)
            if tag == f"END:{name}":
                found.append(block)
                block = None
    return found


def own_lines(lines: Iterable[str], *, depth: int) -> list[str]:
    """The properties at a depth: 1 are those of the component that the lines begin with.

    Args:
        lines: Content lines.
        depth: How many components they stand in.
    """
    found, at = [], 0
    for line in lines:
        name = name_of(line)
        if name in {"BEGIN", "END"}:
            at += 1 if name == "BEGIN" else -1
        elif at == depth:
            found.append(line)
    return found


def values(block: Iterable[str], name: str) -> list[str]:
    """The values of a property of a component.

    Args:
        block: The component's content lines.
        name: The property's name, in capitals.
    """
    return [value_of(line) for line in own_lines(block, depth=1) if name_of(line) == name]


def printable(line: str) -> str:
    """A line that may be written: signs that could end it become spaces.

    Args:
        line: The line.
    """
    return "".join(" " if unicodedata.category(sign) in _ENDING else sign for sign in line)


def instant_in(text: str) -> datetime | None:
    """An instant in UTC as iCalendar writes it; None for anything else.

    Args:
        text: For example "20261202T200000Z".
    """
    return _read(text, _INSTANT_FORM)


def _read(text: str, form: str) -> datetime | None:
    try:
        found = datetime.strptime(text, form).replace(tzinfo=UTC)
    except ValueError:
        return None
    # Python's reader takes other spellings too; and no time may be so late that none comes after.
    exact = text in {utc_text(found), day_text(found)} and found.year <= _LAST_YEAR
    return found if exact else None


def _status(first: Mapping[str, str], *, stands: bool) -> Status:
    """The status as it stands; what keeps a zone off is never cancelled by another program."""
    found = value_of(first.get("STATUS", "")).upper()
    try:
        said = Status(found)
    except ValueError:
        return Status.TENTATIVE
    return Status.CONFIRMED if stands and said is Status.CANCELLED else said


def _times(first: Mapping[str, str], changed_at: datetime, *, days: bool) -> tuple[str, str]:
    """Start and end as we write them: as they stand, else by the day that can still be read."""
    start, end = first.get("DTSTART", ""), first.get("DTEND", "")
    values = value_of(start), value_of(end)
    if "TZID" not in f"{start}{end}".upper() and values[0] < values[1]:
        if all(_read(value, _DAY_FORM) for value in values):
            return f"DTSTART;VALUE=DATE:{values[0]}", f"DTEND;VALUE=DATE:{values[1]}"
        if not days and all(instant_in(value) for value in values):
            return f"DTSTART:{values[0]}", f"DTEND:{values[1]}"
    found = _DAY.match(values[0])
    day = (_read(found[0], _DAY_FORM) if found else None) or changed_at
    after = day + timedelta(days=1)
    return f"DTSTART;VALUE=DATE:{day_text(day)}", f"DTEND;VALUE=DATE:{day_text(after)}"


def _related(uid: str, event: list[str]) -> list[str]:
    """What the event follows, as we write it."""
    found: dict[str, str] = {}
    for line in own_lines(event, depth=1):
        value = value_of(line)
        if name_of(line) == "RELATED-TO" and _RELATED.fullmatch(value) and value != uid:
            gap = _GAP.search(line)
            said = f";GAP={gap[1].upper()}" if gap else ""
            found.setdefault(value, f"RELATED-TO;RELTYPE=FINISHTOSTART{said}:{value}")
    return list(found.values())


def _alarms(event: list[str], known: Collection[str], start: str) -> list[str]:
    """The alarms of ours that are still whole, as we write them."""
    lines: list[str] = []
    seen: set[str] = set()
    for block in blocks(event, "VALARM"):
        uid, at = "".join(values(block, "UID")[:1]), "".join(values(block, "TRIGGER")[:1])
        text = unescape(printable("".join(values(block, "DESCRIPTION")[:1])))
        late = len(start) == len(at) and at >= start
        whole = bool(text) and values(block, "ACTION") == ["DISPLAY"] and instant_in(at) is not None
        if uid not in known or {uid, at} & seen or late or not whole:
            continue
        seen |= {uid, at}
        trigger = f"TRIGGER;VALUE=DATE-TIME:{at}"
        said = text_property("DESCRIPTION", text)
        lines += ["BEGIN:VALARM", f"UID:{uid}", "ACTION:DISPLAY", trigger, said, "END:VALARM"]
    return lines
