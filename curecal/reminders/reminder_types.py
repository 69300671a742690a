"""What the reminders talk about: who is reached, what is wanted, what was told, the rules as data.

A reminder names texts and what goes into them; nothing here holds a sentence.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import field, replace
from datetime import date, datetime, time
from enum import StrEnum

from curecal.records import Record, record
from curecal.trade.findings import Params
from curecal.trade.job import Role

NO_ZONE = ""


class Channel(StrEnum):
    """How somebody is reached. Nobody is called by the program: `phone` is a call to make."""

    EMAIL = "email"
    TEXT = "text"
    PUSH = "push"
    PHONE = "phone"


MAY = frozenset({"released", "heat-day"})
"""Kinds after which an owner believes that the floor may be on."""

MAY_NOT = frozenset({"no-longer", "stopped", "early-switch-on"})
"""Kinds that take that back."""


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
    quiet hours and goes every way there is.
    """

    kind: str
    to: frozenset[Role]
    keeps_s: float | None = None
    at: time | None = None
    before: int = 0
    every: int = 0
    urgent: bool = False
    off: bool = False


@record
class ReminderRules(Record):
    """All rules: kinds by name, quiet hours, working days, and what the clock may do."""

    kinds: Mapping[str, KindRule]
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
    `day_on`; None says that there is none; an empty topic tells no day.
    """

    kind: str
    zone_id: str
    subject: str
    occasion: str
    recipient: str
    channel: Channel
    address: str
    due_at: datetime
    until_at: datetime | None = None
    parts: tuple[str, ...] = ("text",)
    params: Params = field(default_factory=dict)
    topic: str = ""
    day_on: date | None = None
    urgent: bool = False

    @property
    def key(self) -> str:
        """What makes it this reminder, however its time or its words move."""
        about = f"{self.kind}|{self.zone_id}|{self.subject}|{self.occasion}"
        return f"{about}|{self.channel.value}|{self.recipient}"


@record
class Heard(Record):
    """What somebody was told, or may have been: sent, on the wire, or of unsure fate.

    `number` orders what was told at one instant; `channel` and `address` are the way it went.
    """

    kind: str
    zone_id: str
    subject: str
    occasion: str
    recipient: str
    told_at: datetime
    topic: str = ""
    day_on: date | None = None
    number: int = 0
    channel: str = ""
    address: str = ""


class Told:
    """Everything that was told of a job, looked up by person."""

    def __init__(self, heard: Iterable[Heard]) -> None:
        self._by_recipient: dict[str, list[Heard]] = {}
        for each in sorted(heard, key=lambda one: (one.told_at, one.number, one.kind)):
            self._by_recipient.setdefault(each.recipient, []).append(each)
            for also in _also(each):
                self._by_recipient[each.recipient].append(also)

    def everyone(self) -> list[str]:
        """Return who ever heard anything, on the job still or not."""
        return list(self._by_recipient)

    def of(self, recipient: str, zone_id: str | None = None) -> list[Heard]:
        """Return what a person heard, oldest first; with a zone, about that."""
        return [
            each
            for each in self._by_recipient.get(recipient, ())
            if zone_id is None or each.zone_id == zone_id
        ]

    def day(self, recipient: str, zone_id: str, topic: str) -> Heard | None:
        """Return the last that told a person a day of a topic, or that it has none."""
        told = [each for each in self.of(recipient, zone_id) if each.topic == topic]
        return told[-1] if told else None

    def last(self, recipient: str, zone_id: str, kinds: frozenset[str]) -> Heard | None:
        """Return the last of some kinds that a person heard about a zone."""
        told = [each for each in self.of(recipient, zone_id) if each.kind in kinds]
        return told[-1] if told else None

    def about(self, recipient: str, zone_id: str, kind: str, subject: str) -> list[Heard]:
        """Return what a person heard of one kind about one subject, oldest first."""
        return [
            each
            for each in self.of(recipient, zone_id)
            if each.kind == kind and each.subject == subject
        ]


def _also(each: Heard) -> list[Heard]:
    """Return what one message told of further zones: a day of each, in its occasion."""
    found = []
    for word in each.occasion.split()[2:] if each.kind == "moved" else ():
        zone_id, _, day = word.partition("=")
        day_on = date.fromisoformat(day) if day else None
        found.append(replace(each, zone_id=zone_id, day_on=day_on, occasion=word))
    return found
