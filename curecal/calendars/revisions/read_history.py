"""A calendar file as a history: what an earlier file of ours says was published.

Reads what another program may have saved anew (other line ends, other order, properties of its
own), and takes out of a damaged file what is still in it.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import UTC, datetime

from curecal.calendars.content_lines import refuse_controls, unescape
from curecal.calendars.event import Audience
from curecal.calendars.ical.ical_writer import (
    EVENT_PROPERTY,
    FIRST_PROPERTY,
    JOB_PROPERTY,
    document,
    least_head,
    own,
)
from curecal.calendars.ical.validate import faults
from curecal.calendars.revision import GREATEST_SEQUENCE, Revision, name_of, value_of
from curecal.errors import ValueRefused

_ENDS = re.compile(r"\r\n|\n|\r")
_INSTANT = re.compile(r"[0-9]{8}T[0-9]{6}Z")
_DIGITS = re.compile(r"[0-9]{1,10}")
_TIME = re.compile(r"[0-9]{8}(?:T[0-9]{6}Z)?")
# Far from what any job counts up to, and far from where receivers' numbers end: what stands
# higher in a damaged file is part of the damage.
_PLAUSIBLE = GREATEST_SEQUENCE // 2
_AFTER_LOSS = 100
_AT_LEAST = 1000
_LAST_YEAR = 2100


@dataclass(frozen=True, slots=True)
class Salvaged:
    """What is left of a damaged file: whole events, the SEQUENCE to go on at, the last stamp."""

    revisions: tuple[Revision, ...]
    first: int
    newest_at: datetime | None


def job_of(data: bytes) -> str | None:
    """The id of the job that a calendar file of ours belongs to.

    Args:
        data: Any file.

    Returns:
        The id; None for a file that is not ours.
    """
    return _of_calendar(data, JOB_PROPERTY)


def first_of(data: bytes) -> int:
    """The SEQUENCE that events unknown to a calendar file start at.

    Args:
        data: A file of ours.

    Returns:
        0, but for a file that followed a lost or damaged one: what was lost may come back.
    """
    return min(_number(_of_calendar(data, FIRST_PROPERTY) or "") or 0, _PLAUSIBLE)


def read_history(data: bytes, audience: Audience) -> tuple[Revision, ...] | None:
    """The revisions in a file of ours.

    Args:
        data: The file.
        audience: Whose calendar it is.

    Returns:
        One revision an event, in the file's order; None where the file is cut, or where an event
        in it has no identity, revision or time.
    """
    try:
        lines = loose_lines(data.decode())
    except UnicodeDecodeError:
        return None
    if not lines or lines[0] != "BEGIN:VCALENDAR" or lines[-1] != "END:VCALENDAR":
        return None
    # Between events that lost their first or last line, one would be gone unseen.
    if lines.count("BEGIN:VEVENT") != lines.count("END:VEVENT"):
        return None
    found = [_revision(block, audience) for block in _blocks(lines[1:-1])]
    whole = tuple(each for each in found if each is not None)
    return whole if whole and len(whole) == len(found) and _sound(whole) else None


def salvage(data: bytes, audience: Audience) -> Salvaged:
    """What can still be taken out of a damaged file.

    Args:
        data: Any octets.
        audience: Whose calendar it was.

    Returns:
        The events that stand in it whole, and the SEQUENCE from which everything that is
        published after it is newer than anything that was: the highest known and 100, else 1000.
    """
    lines = loose_lines(data.decode(errors="replace"))
    known = [_number(value_of(line)) for line in lines if name_of(line) == "SEQUENCE"]
    counted = [number for number in known if number is not None and number <= _PLAUSIBLE]
    stamps = [at for line in lines if name_of(line) == "DTSTAMP" and (at := _at(value_of(line)))]
    blocks = (_revision(_closed(block, audience), audience) for block in _blocks(lines))
    whole = [each for each in blocks if each is not None and each.sequence <= _PLAUSIBLE]
    found: list[Revision] = []
    if _sound(whole):
        found = whole
    else:
        for each in whole:
            if _sound((*found, each)):
                found.append(each)
    first = max(counted) + _AFTER_LOSS if counted else _AT_LEAST
    return Salvaged(tuple(found), first, max(stamps, default=None))


def loose_lines(text: str) -> list[str]:
    """The content lines of a file, whatever its lines end in.

    Args:
        text: The file, decoded.

    Returns:
        The lines without their folds; no empty ones.
    """
    found: list[str] = []
    for line in _ENDS.split(text.removeprefix("\ufeff")):
        if line[:1] in {" ", "\t"} and found:
            found[-1] += line[1:]
        elif line:
            found.append(line)
    return found


def _of_calendar(data: bytes, wanted: str) -> str | None:
    """The text of a property of the calendar itself: an event may have been copied from one."""
    lines = loose_lines(data.decode(errors="replace"))
    for line in lines[1:] if lines[:1] == ["BEGIN:VCALENDAR"] else ():
        name = name_of(line)
        if name == "BEGIN":
            break
        if name == wanted:
            return unescape(value_of(line))
    return None


def _blocks(lines: Iterable[str]) -> Iterator[list[str]]:
    """The events among content lines, those without an end included."""
    block: list[str] | None = None
    for line in lines:
        if line == "BEGIN:VEVENT":
            if block is not None:
                yield block
            block = [line]
        elif block is not None:
            block.append(line)
            if line == "END:VEVENT":
                yield block
                block = None
    if block is not None:
        yield block


def _closed(block: list[str], audience: Audience) -> list[str]:
    """An entry of the owner that was cut, without its alarms and the line that was cut.

    It may keep a floor off. Others that were cut are let go: they can only be told anew.
    """
    named = any(name_of(line) == EVENT_PROPERTY for line in block)
    if block[-1] == "END:VEVENT" or audience is not Audience.OWNER or not named:
        return block
    at = block.index("BEGIN:VALARM") if "BEGIN:VALARM" in block else len(block) - 1
    return [*block[:at], "END:VEVENT"]


def _revision(block: list[str], audience: Audience) -> Revision | None:
    """An event's lines as a revision; None where it is not whole."""
    try:
        for line in block:
            refuse_controls(line, "calendar")
    except ValueRefused:
        return None
    made = Revision("", audience, 0, datetime.min.replace(tzinfo=UTC), tuple(block))
    uid, sequence = made.value("UID"), _number(made.value("SEQUENCE") or "")
    changed_at = _at(made.value("DTSTAMP") or "")
    if not uid or sequence is None or sequence > GREATEST_SEQUENCE or changed_at is None:
        return None
    if block[-1] != "END:VEVENT":
        return None
    if not all(_TIME.fullmatch(made.value(name) or "") for name in ("DTSTART", "DTEND")):
        return None
    if not (made.value("SUMMARY") and made.value("STATUS")):
        return None
    return Revision(uid, audience, sequence, changed_at, tuple(block))


def _sound(revisions: Iterable[Revision]) -> bool:
    """Whether events keep the form: one that does not would bar all that is published later."""
    return not faults(document(least_head("any"), map(own, revisions)))


def _number(text: str) -> int | None:
    return int(text) if _DIGITS.fullmatch(text) else None


def _at(text: str) -> datetime | None:
    """An instant as we write it; None for anything else, and for years no job lies in."""
    if not _INSTANT.fullmatch(text):
        return None
    try:
        found = datetime.strptime(text, "%Y%m%dT%H%M%SZ").replace(tzinfo=UTC)
    except ValueError:
        return None
    return found if found.year <= _LAST_YEAR else None
