"""What every reader makes of a calendar, as one value; and what it ought to make of a feed."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from datetime import UTC, date, datetime
from typing import Any

from curecal.calendars import Days, Event, Feed

Moment = date | datetime
"""A day, or an instant in UTC: which of the two tells whether an event lasts whole days."""


@dataclass(frozen=True, slots=True)
class Seen:
    """One event as a reader sees it."""

    uid: str
    sequence: int
    start: Moment
    end: Moment
    summary: str
    description: str
    location: str
    status: str
    alarms: tuple[datetime, ...]
    organizer: str = ""

    @property
    def all_day(self) -> bool:
        """Whether it lasts whole days."""
        return not isinstance(self.start, datetime)


@dataclass(frozen=True, slots=True)
class Reading:
    """A calendar as a reader sees it: its events by UID, and what the reader complains of."""

    events: tuple[Seen, ...] = ()
    errors: tuple[str, ...] = ()
    method: str | None = None


@dataclass(frozen=True, slots=True)
class Reader:
    """A reader by the name that `needs` knows it by."""

    name: str
    read: Callable[[bytes], Reading]


class MisreadError(ValueError):
    """A reader came to a value that our form cannot mean."""


def reading(events: Iterable[Seen], method: str | None = None) -> Reading:
    """A reading without a complaint, in order: no reader need keep that of the file."""
    return Reading(tuple(sorted(events, key=lambda seen: seen.uid)), (), method)


def failed(error: Exception) -> Reading:
    """A reading that the reader broke off."""
    return Reading(errors=(f"{type(error).__name__}: {error}",))


def instant_read(value: object) -> datetime:
    """An instant that a reader gave.

    Args:
        value: What it gave.

    Returns:
        The instant in UTC.

    Raises:
        MisreadError: a time without a zone, or no time at all.
    """
    if not isinstance(value, datetime) or value.utcoffset() is None:
        message = f"no instant: {value!r}"
        raise MisreadError(message)
    return value.astimezone(UTC)


def moment_read(value: object) -> Moment:
    """A day or an instant that a reader gave.

    Args:
        value: What it gave.

    Returns:
        The day, or the instant in UTC.

    Raises:
        MisreadError: a time without a zone, or neither of the two.
    """
    if isinstance(value, date) and not isinstance(value, datetime):
        return value
    return instant_read(value)


def text_read(value: object) -> str:
    """A text that must be there.

    Args:
        value: What a reader gave.

    Returns:
        The text.

    Raises:
        MisreadError: there is none.
    """
    if not isinstance(value, str):
        message = f"no text: {value!r}"
        raise MisreadError(message)
    return value


def written_moment(text: object) -> Moment:
    """A day or an instant in the extended form of ISO 8601.

    Args:
        text: The form: 2026-12-04 or 2026-12-04T10:00:00Z.

    Returns:
        The day, or the instant in UTC.

    Raises:
        ValueError: neither; a time without a zone as well.
    """
    found = text_read(text)
    return (
        instant_read(datetime.fromisoformat(found)) if "T" in found else date.fromisoformat(found)
    )


def meant(feed: Feed, sequences: Mapping[str, int] | None = None) -> tuple[Seen, ...]:
    """What a reader has to see of a calendar.

    Args:
        feed: The calendar.
        sequences: Of each event's UID, its SEQUENCE; else 0 for all.

    Returns:
        Its events by UID.
    """
    known: Mapping[str, Any] = sequences or {}
    found = (_meant(event, feed.uid(event.key), known) for event in feed.events)
    return tuple(sorted(found, key=lambda seen: seen.uid))


def _meant(event: Event, uid: str, sequences: Mapping[str, int]) -> Seen:
    when = event.when
    return Seen(
        uid,
        sequences.get(uid, 0),
        when.start_on if isinstance(when, Days) else when.start_at,
        when.end_on if isinstance(when, Days) else when.end_at,
        event.summary,
        event.description,
        event.location or "",
        event.status.value,
        tuple(sorted(alarm.at for alarm in event.alarms)),
    )
