"""Events as values: what a calendar says, before any byte of it is written.

Two events are equal when a reader sees the same: stamps and sequence numbers are not part of
them.
"""

from __future__ import annotations

import uuid
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta
from enum import StrEnum

from curecal.calendars.content_lines import refuse_controls
from curecal.errors import CurecalError
from curecal.instants import instant
from curecal.trade.job import Role

_NAMESPACE = uuid.UUID("55b61ffd-7ab6-42e6-b948-cc8fb8c54afd")
# Of all places on earth the day starts at most this long after it starts in UTC.
_LATEST_MIDNIGHT = timedelta(hours=12)


class Audience(StrEnum):
    """Whose calendar it is; one file each."""

    CREW = "crew"
    ELECTRICIAN = "electrician"
    OWNER = "owner"


READERS: Mapping[Audience, frozenset[Role]] = {
    Audience.CREW: frozenset({Role.CREW_LEAD, Role.CREW}),
    Audience.ELECTRICIAN: frozenset({Role.ELECTRICIAN}),
    Audience.OWNER: frozenset({Role.OWNER}),
}
"""Who reads which calendar."""


class Status(StrEnum):
    """How firm an event is."""

    CONFIRMED = "CONFIRMED"
    TENTATIVE = "TENTATIVE"
    CANCELLED = "CANCELLED"


@dataclass(frozen=True, slots=True, order=True)
class EventKey:
    """What an event is about, for its whole life: no index, no date, no name that is edited."""

    audience: Audience
    zone_id: str
    layer_id: str
    purpose: str

    def __post_init__(self) -> None:
        """Refuse ids that could run into one another when they are joined."""
        refuse_controls(self.zone_id, "zone id")
        refuse_controls(self.layer_id, "layer id")
        refuse_controls(self.purpose, "purpose")

    @property
    def text(self) -> str:
        """The key on four lines: no part of it can hold a line break, so no two keys are alike."""
        return f"{self.audience.value}\n{self.zone_id}\n{self.layer_id}\n{self.purpose}"


@dataclass(frozen=True, slots=True)
class Timed:
    """From one instant to another, in UTC, to the second."""

    start_at: datetime
    end_at: datetime

    def __post_init__(self) -> None:
        """Refuse what iCalendar cannot say: no length, or a fraction of a second."""
        object.__setattr__(self, "start_at", instant(self.start_at))
        object.__setattr__(self, "end_at", instant(self.end_at))
        if self.start_at.microsecond or self.end_at.microsecond:
            raise CurecalError("calendar-fraction", start_at=self.start_at, end_at=self.end_at)
        if self.end_at <= self.start_at:
            raise CurecalError("calendar-no-length", start_at=self.start_at, end_at=self.end_at)


@dataclass(frozen=True, slots=True)
class Days:
    """Whole local days of the site; `end_on` is the first day that no longer belongs."""

    start_on: date
    end_on: date

    def __post_init__(self) -> None:
        """Refuse a span without a day in it."""
        if self.end_on <= self.start_on:
            raise CurecalError("calendar-no-length", start_on=self.start_on, end_on=self.end_on)


@dataclass(frozen=True, slots=True)
class Alarm:
    """A courtesy at an instant before the start."""

    at: datetime
    purpose: str


@dataclass(frozen=True, slots=True)
class Follows:
    """This event cannot start before another is finished, and a gap after it has passed."""

    key: EventKey
    gap_hours: int | None = None


@dataclass(frozen=True, slots=True)
class Event:
    """One entry of one person's calendar.

    `keeps_off` is the id of the zone that the entry tells its reader to leave off: such an entry
    goes only with a release.
    """

    key: EventKey
    summary: str
    description: str
    when: Timed | Days
    status: Status = Status.CONFIRMED
    busy: bool = False
    location: str | None = None
    alarms: tuple[Alarm, ...] = ()
    follows: tuple[Follows, ...] = ()
    keeps_off: str | None = None

    def __post_init__(self) -> None:
        """Refuse control characters, and alarms that come too late or twice."""
        refuse_controls(self.summary, f"{self.key.purpose} summary")
        if not self.summary.strip():
            raise CurecalError("calendar-no-summary", purpose=self.key.purpose)
        refuse_controls(self.description, f"{self.key.purpose} description", breaks=True)
        refuse_controls(self.location or "", "address")
        refuse_controls(self.keeps_off or "", "zone id")
        instants = [alarm.at for alarm in self.alarms]
        if len(set(instants)) != len(instants) or any(at >= self._starts_by() for at in instants):
            raise CurecalError("calendar-alarm", purpose=self.key.purpose)

    def _starts_by(self) -> datetime:
        """The instant that no place on earth starts the event after."""
        if isinstance(self.when, Timed):
            return self.when.start_at
        return datetime.combine(self.when.start_on, time(), UTC) + _LATEST_MIDNIGHT


@dataclass(frozen=True, slots=True)
class Feed:
    """One person's calendar of one job."""

    audience: Audience
    job_id: str
    name: str
    events: tuple[Event, ...]

    def __post_init__(self) -> None:
        """Refuse an empty calendar and two events of one key; put the events in order."""
        refuse_controls(self.job_id, "job.id")
        refuse_controls(self.name, "job.name")
        keys = {event.key for event in self.events}
        if not keys or len(keys) != len(self.events):
            raise CurecalError("calendar-keys", audience=self.audience.value)
        object.__setattr__(self, "events", tuple(sorted(self.events, key=_order)))

    @property
    def file_name(self) -> str:
        """The name of its file: `crew.ics`, `electrician.ics`, `owner.ics`."""
        return f"{self.audience.value}.ics"

    def uid(self, key: EventKey) -> str:
        """The UID of an event: a name-based UUID, the same for the life of the event.

        Args:
            key: The event's key.

        Returns:
            The bare UUID: no host and nothing personal in it.
        """
        return str(uuid.uuid5(_NAMESPACE, f"{self.job_id}\n{key.text}"))

    def alarm_uid(self, event: Event, alarm: Alarm) -> str:
        """The UID of an alarm of an event (RFC 9074).

        Args:
            event: The event.
            alarm: The alarm.

        Returns:
            The bare UUID; it stays when the alarm moves with its event.
        """
        name = f"{self.job_id}\n{event.key.text}\nalarm\n{alarm.purpose}"
        return str(uuid.uuid5(_NAMESPACE, name))


@dataclass(frozen=True, slots=True)
class Stamp:
    """Which revision of an event this is, and when it last changed."""

    sequence: int
    changed_at: datetime


def _order(event: Event) -> tuple[str, EventKey]:
    """By the first day, then by key: the order never rests on a hash."""
    start = event.when.start_at if isinstance(event.when, Timed) else event.when.start_on
    return start.isoformat(), event.key
