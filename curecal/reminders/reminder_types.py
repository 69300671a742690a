"""What the reminders talk about: who is reached, what is wanted, what was told, the rules as data.

A reminder names texts and what goes into them; nothing here holds a sentence.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import field, replace
from datetime import UTC, date, datetime, time
from enum import StrEnum

from curecal.planning.plan import VisitKind
from curecal.records import PlainTable, PlainView, Record, record
from curecal.trade.findings import Params
from curecal.trade.job import Role

ORDER = (Role.CREW_LEAD, Role.ELECTRICIAN, Role.OWNER)
"""Who is several things hears what concerns all in the first of these roles."""


class Channel(StrEnum):
    """How somebody is reached. Nobody is called by the program: `phone` is a call to make."""

    EMAIL = "email"
    TEXT = "text"
    PUSH = "push"
    PHONE = "phone"


class MessageKind(StrEnum):
    """What a message is about; the reminders' rules say who hears it, and when."""

    STILL_CURING = "still-curing"
    EVENING_BEFORE = "evening-before"
    HEAT_DAY = "heat-day"
    IN_SERVICE = "in-service"
    NEXT_STEP = "next-step"
    READING_DUE = "reading-due"
    INSPECTION_DUE = "inspection-due"
    KEEP_ROOM = "keep-room"
    CLIMATE_RISK = "climate-risk"
    TEMPERATURE_DUE = "temperature-due"
    LOGGER_DUE = "logger-due"
    IS_IT_DONE = "is-it-done"
    RELEASE_DUE = "release-due"
    BARE_HEAT_DAY = "bare-heat-day"
    VISIT_BOOKED = "visit-booked"
    VISIT_TOMORROW = "visit-tomorrow"
    VISIT_MOVED = "visit-moved"
    VISIT_OFF = "visit-off"
    VISIT_AGREED = "visit-agreed"
    VISIT_MISFIT = "visit-misfit"
    VISIT_CALLED_OFF = "visit-called-off"
    VISIT_EVE = "visit-eve"
    MOVED = "moved"
    RELEASED = "released"
    NO_LONGER = "no-longer"
    STOPPED = "stopped"
    STOP_OVER = "stop-over"
    EARLY_SWITCH_ON = "early-switch-on"
    CLOCK_UNSURE = "clock-unsure"
    UNDELIVERED = "undelivered"
    UNSURE = "unsure"
    MISSED = "missed"
    CALL = "call"
    DAMAGED = "damaged"


class Topic(StrEnum):
    """Which day a message tells its reader."""

    NONE = ""
    OWNER = "owner"
    CREW = "crew"
    # A stop tells everybody that there is no day.
    EVERYBODY = "day"
    ROUGH_IN_VISIT = "visit rough-in-and-first-test"
    CONNECTION_VISIT = "visit test-and-connect"
    ENERGIZE_VISIT = "visit energize"

    @classmethod
    def of_visit(cls, kind: VisitKind) -> Topic:
        """Return the topic of a visit's day."""
        return cls(f"visit {kind.value}")

    @property
    def visit(self) -> VisitKind | None:
        """Which visit's day it is; None for another day."""
        return next((kind for kind in VisitKind if self is Topic.of_visit(kind)), None)


@record
class Occasion(Record):
    """What tells two messages of one kind and subject apart.

    `on` is the day it is said for, `at` the instant it rests on, `detail` a number or a code it
    names; `also` are the days it tells of further zones, None where one has none.
    """

    on: date | None = None
    at: datetime | None = None
    detail: str = ""
    also: tuple[tuple[str, date | None], ...] = ()

    @property
    def text(self) -> str:
        """Return it as one text, for keys."""
        at = self.at and self.at.astimezone(UTC).isoformat()
        also = [f"{zone_id}={day or ''}" for zone_id, day in self.also]
        return " ".join(str(part) for part in (self.on, at, self.detail, *also) if part)

    def kept(self) -> PlainTable:
        """Return it as plain values, as JSON takes them."""
        return {
            "on": self.on and self.on.isoformat(),
            "at": self.at and self.at.isoformat(),
            "detail": self.detail,
            "also": [[zone_id, day and day.isoformat()] for zone_id, day in self.also],
        }

    @classmethod
    def read(cls, kept: PlainView) -> Occasion:
        """Return it from the plain values it was kept as.

        Raises:
            LookupError, TypeError, ValueError: what stands there was never kept by this program.
        """
        return cls(
            date.fromisoformat(kept["on"]) if kept["on"] else None,
            datetime.fromisoformat(kept["at"]) if kept["at"] else None,
            str(kept["detail"]),
            tuple(
                (zone_id, date.fromisoformat(day) if day else None) for zone_id, day in kept["also"]
            ),
        )


MAY = frozenset({MessageKind.RELEASED, MessageKind.HEAT_DAY})
"""Kinds after which an owner believes that the floor may be on."""

STOPS = frozenset({MessageKind.STOPPED, MessageKind.EARLY_SWITCH_ON})
"""Kinds that stop a floor."""

MAY_NOT = STOPS | {MessageKind.NO_LONGER}
"""Kinds that take a "may" back."""

BY_A_SURE_CLOCK = frozenset(
    {
        MessageKind.RELEASED,
        MessageKind.HEAT_DAY,
        MessageKind.BARE_HEAT_DAY,
        MessageKind.IN_SERVICE,
        MessageKind.STOP_OVER,
    }
)
"""Kinds that let somebody heat, or name a number: none goes out by a clock nobody confirmed."""

NO_VISIT = frozenset({MessageKind.VISIT_OFF, MessageKind.VISIT_CALLED_OFF})
"""Kinds after which nobody is to come."""

AGREEMENTS = frozenset(
    {MessageKind.VISIT_AGREED, MessageKind.VISIT_MISFIT, MessageKind.VISIT_CALLED_OFF}
)
"""Kinds that tell how an appointment stands."""


@record
class Recipient(Record):
    """One person, in all of their roles. `id` is their normalized address.

    `ways` are channel and address in the order they want to be reached.
    """

    id: str
    name: str
    roles: tuple[Role, ...]
    ways: tuple[tuple[Channel, str], ...]
    language: str | None = None


@record
class KindRule(Record):
    """One kind of message as data.

    `to` are the roles it is for; `at` the wall time on site, where the kind has one; `before`
    how many days ahead of its day; `every` after how many days it is said again; `keeps_s` how
    long after its time it is still worth saying [s], None for always; an `urgent` one ignores
    quiet hours and goes every way there is; one that goes `alone` waits for no other message.
    """

    kind: MessageKind
    to: frozenset[Role]
    keeps_s: float | None = None
    at: time | None = None
    before: int = 0
    every: int = 0
    urgent: bool = False
    alone: bool = False
    off: bool = False


@record
class ReminderRules(Record):
    """All rules: kinds by name, quiet hours, working days, and what the clock may do.

    `message_at` is when the day's one message goes to each role.
    """

    kinds: Mapping[MessageKind, KindRule]
    message_at: Mapping[Role, time]
    quiet_from: time
    quiet_to: time
    working_days: frozenset[Role]
    settle_s: float
    patience_s: float
    sooner_s: float
    soon: time
    late_s: float
    jump_s: float
    ahead_s: float
    logger_s: float


@record
class Reminder(Record):
    """One message wanted: who is told what, and when.

    `subject` is what of the zone it is about (a layer, a visit, a hold point); `occasion` tells
    two of one subject apart. `parts` name the texts of its body. `topic` names the day it tells,
    `day_on`; None says that there is none; an empty topic tells no day. One that goes `alone` is
    a message of its own; the others of a person and day are lines of one. `language` is what its
    reader wished for, empty for the job's: nobody can be asked who is gone from the job's file.
    """

    kind: MessageKind
    zone_id: str
    subject: str
    occasion: Occasion
    recipient: str
    channel: Channel
    address: str
    due_at: datetime
    until_at: datetime | None = None
    parts: tuple[str, ...] = ("text",)
    params: Params = field(default_factory=dict)
    topic: Topic = Topic.NONE
    day_on: date | None = None
    urgent: bool = False
    alone: bool = False
    language: str = ""

    @property
    def key(self) -> str:
        """Return what makes it this reminder, however its time or its words move."""
        about = f"{self.kind}|{self.zone_id}|{self.subject}|{self.occasion.text}"
        return f"{about}|{self.channel.value}|{self.recipient}"


@record
class Heard(Record):
    """What somebody was told, or may have been: sent, on the wire, or of unsure fate.

    `number` orders what was told at one instant; `channel` and `address` are the way it went, and
    `language` what its reader wished for then.
    """

    kind: MessageKind
    zone_id: str
    subject: str
    occasion: Occasion
    recipient: str
    told_at: datetime
    topic: Topic = Topic.NONE
    day_on: date | None = None
    number: int = 0
    channel: str = ""
    address: str = ""
    language: str = ""


class Told:
    """Everything that was told of a job, looked up by person."""

    def __init__(self, heard: Iterable[Heard]) -> None:
        self._by_recipient: dict[str, list[Heard]] = {}
        for message in sorted(heard, key=lambda one: (one.told_at, one.number, one.kind)):
            self._by_recipient.setdefault(message.recipient, []).append(message)
            for also in _also(message):
                self._by_recipient[message.recipient].append(also)

    def everyone(self) -> list[str]:
        """Return who ever heard anything, on the job still or not."""
        return list(self._by_recipient)

    def of(self, recipient: str, zone_id: str | None = None) -> list[Heard]:
        """Return what a person heard, oldest first; with a zone, about that."""
        return [
            heard
            for heard in self._by_recipient.get(recipient, ())
            if zone_id is None or heard.zone_id == zone_id
        ]

    def day(self, recipient: str, zone_id: str, topic: Topic) -> Heard | None:
        """Return the last that told a person a day of a topic, or that it has none."""
        told = [heard for heard in self.of(recipient, zone_id) if heard.topic == topic]
        return told[-1] if told else None

    def last(self, recipient: str, zone_id: str, kinds: frozenset[MessageKind]) -> Heard | None:
        """Return the last of some kinds that a person heard about a zone."""
        told = [heard for heard in self.of(recipient, zone_id) if heard.kind in kinds]
        return told[-1] if told else None

    def about(self, recipient: str, zone_id: str, kind: MessageKind, subject: str) -> list[Heard]:
        """Return what a person heard of one kind about one subject, oldest first."""
        return [
            heard
            for heard in self.of(recipient, zone_id)
            if heard.kind == kind and heard.subject == subject
        ]


def _also(heard: Heard) -> list[Heard]:
    """Return what one message told of further zones: a day of each, in its occasion."""
    return [
        replace(heard, zone_id=zone_id, day_on=day_on, occasion=Occasion(on=day_on))
        for zone_id, day_on in heard.occasion.also
    ]
