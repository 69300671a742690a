"""Instants as a page has them: in the time of the site, or by the telephone's clock.

A time that the clock on site shows twice is asked about, one that it skips is refused. A telephone
whose clock is off gives no instant without being asked.
"""

from __future__ import annotations

import re
from datetime import UTC, datetime, timedelta, tzinfo
from enum import StrEnum

from curecal.instants import WallKind, resolve
from curecal.records import Record, record

OFF_AT_MOST = timedelta(minutes=2)
"""How far a telephone's clock may be off before it is asked about."""
# As in a job file: before and after, zones have offsets of seconds, or the calendar ends.
_YEARS = range(2000, 2101)
# 24:00 is no time to Python before 3.14, and none here.
_WALL = re.compile(r"\d{4}-\d\d-\d\d[T ](?!24)\d\d:\d\d(?::\d\d)?", re.ASCII)


class InstantGap(StrEnum):
    """Why an instant that was typed is none."""

    UNREADABLE = "unreadable"
    SKIPPED = "skipped"
    TWICE = "twice"


@record
class TypedInstant(Record):
    """An instant that was typed; or why it is none, with the two that it can be."""

    at: datetime | None
    gap: InstantGap | None = None
    both: tuple[datetime, ...] = ()


def typed_instant(text: str, zone: tzinfo, *, which: str = "") -> TypedInstant:
    """Return the instant of a time of the site.

    Args:
        text: What a field of date and time sends.
        zone: The zone of the site.
        which: "first" or "second", where somebody was asked about an hour that comes twice.

    Returns:
        The instant, or why there is none.
    """
    wall = _wall(text.strip())
    if wall is None:
        return TypedInstant(None, InstantGap.UNREADABLE)
    found = resolve(wall, zone)
    if found.kind is WallKind.GAP:
        return TypedInstant(None, InstantGap.SKIPPED, (found.first,))
    if found.kind is WallKind.FOLD:
        both = (found.first, found.second)
        chosen = {"first": found.first, "second": found.second}.get(which)
        return TypedInstant(chosen, None if chosen else InstantGap.TWICE, both)
    return TypedInstant(found.first)


def telephone_instant(text: str) -> datetime | None:
    """Return an instant as a script writes it ("2026-11-30T16:00:00.000Z"); None for any other.

    Args:
        text: What came with the form.
    """
    try:
        at = datetime.fromisoformat(text.strip()) if len(text) < len("x" * 40) else None
    except ValueError:
        return None
    is_instant = at is not None and at.tzinfo is not None and at.year in _YEARS
    return at.astimezone(UTC) if at is not None and is_instant else None


def as_typed_instant(at: datetime, zone: tzinfo) -> str:
    """Return an instant as a field of date and time shows it, in the time of the site."""
    return f"{at.astimezone(zone):%Y-%m-%dT%H:%M}"


def _wall(text: str) -> datetime | None:
    """Return a time without a zone; None for what has one, or is none."""
    if not _WALL.fullmatch(text):
        return None
    try:
        wall = datetime.fromisoformat(text)
    except ValueError:
        return None
    return wall if wall.year in _YEARS else None
