"""Where a reader is known to misread a good file, and how what it saw is compared but for that.

Each case is as narrow as it can be told, and was seen by running the reader. A newer version that
reads right passes as well.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from typing import TYPE_CHECKING

from curecal.calendars.content_lines import fold, text_property

if TYPE_CHECKING:
    from reading import Reading, Seen

NAMES = ("icaljs", "libical", "ics", "vobject")
"""The readers, as `needs` knows them."""

_TEXTS = ("summary", "description", "location")
_FIELDS = ("sequence", "start", "end", "all_day", "status", "alarms", "organizer")
# ics 0.7.3 undoes `\n` and `\r` before `\\`: of an escaped backslash the second half is taken for
# the start of a line break.
_BACKSLASH_BREAK = re.compile(r"\\[nNrR]")


def excused(reader: str, name: str, text: str, got: str) -> bool:
    """Whether a reader is known to misread a text in this way.

    Args:
        reader: The reader.
        name: The property, in capitals.
        text: What was meant.
        got: What it saw.

    Returns:
        True for a known misreading; false for any other, and for what was read right.
    """
    if got == text:
        return False
    if reader == "libical":
        # libical 3.0.16 drops the spaces that a value begins and ends with.
        return got == text.strip(" ")
    if reader == "ics":
        return bool(_BACKSLASH_BREAK.search(text)) or _has_blank_fold(name, text)
    return False


def _has_blank_fold(name: str, text: str) -> bool:
    """Whether a folded line holds nothing but white space: ics 0.7.3 leaves such a line out."""
    return any(
        not line.decode().strip()
        for line in fold(text_property(name, text)).removesuffix(b"\r\n").split(b"\r\n")
    )


def differences(reader: str, wanted: tuple[Seen, ...], found: Reading) -> list[str]:
    """What a reader saw otherwise than it was meant.

    Args:
        reader: The reader.
        wanted: The events, by UID.
        found: What it saw.

    Returns:
        A line for each difference; empty where there is none.
    """
    if found.errors:
        return [f"{reader} complains: {error}" for error in found.errors]
    uids = [event.uid for event in found.events]
    if uids != [event.uid for event in wanted]:
        return [f"{reader} sees the events {uids}"]
    pairs = zip(wanted, found.events, strict=True)
    return [f"{reader}, {line}" for pair in pairs for line in _of_event(reader, *pair)]


def _of_event(reader: str, wanted: Seen, found: Seen) -> Iterator[str]:
    for field in _FIELDS:
        meant, got = getattr(wanted, field), getattr(found, field)
        if got != meant:
            yield f"{wanted.uid} {field}: {got!r} for {meant!r}"
    for field in _TEXTS:
        text, got = getattr(wanted, field), getattr(found, field)
        if got != text and not excused(reader, field.upper(), text, got):
            yield f"{wanted.uid} {field}: {got!r} for {text!r}"
