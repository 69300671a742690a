"""What papers are made of: sections of facts, tables, pictures and places to sign, as plain data.

Everything is worded already. A template only sets it.
"""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime
from enum import StrEnum
from itertools import chain

from curecal.instants import local_day
from curecal.planning.plan import Plan, ZonePlan
from curecal.planning.site_log.log_at_instant import Facts
from curecal.planning.working_time.working_calendar import Calendar
from curecal.records import Record, record
from curecal.trade.job import Person, Role
from curecal.trade.site_log import Entry, Log
from curecal.words.sentences import Words, whole
from curecal.words.values import clean, show


class Presence(StrEnum):
    """Whether a record holds something. Only what a hold point or a maker requires is missing."""

    TOLD = "told"
    MISSING = "missing"
    NOT_RECORDED = "not recorded"


@record
class Fact(Record):
    """One thing with its name."""

    label: str
    text: str
    told: Presence = Presence.TOLD


@record
class FactList(Record):
    """Facts, some beside each other."""

    facts: tuple[Fact, ...]
    block: str = "facts"


@record
class Row(Record):
    """A line of a table; `below` runs across it in small letters.

    `told` is of the cell at `told_at`, which says in words that something is missing.
    """

    cells: tuple[str, ...]
    below: str = ""
    told: Presence = Presence.TOLD
    told_at: int = 1


@record
class PaperTable(Record):
    """A table; `widths` are the shares of its columns. `title` may be empty."""

    title: str
    head: tuple[str, ...]
    rows: tuple[Row, ...]
    widths: tuple[float, ...]
    block: str = "table"


@record
class Picture(Record):
    """A picture, and the same in words."""

    svg: str
    described: str
    block: str = "picture"


@record
class Lines(Record):
    """Sentences, one below another."""

    lines: tuple[str, ...]
    is_large: bool = False
    block: str = "lines"


@record
class Signatures(Record):
    """Places to sign: who, and the name where the job has one."""

    places: tuple[tuple[str, str], ...]
    signature: str
    day: str
    block: str = "signatures"


Block = FactList | PaperTable | Picture | Lines | Signatures


@record
class Section(Record):
    """A titled part of a paper."""

    title: str
    blocks: tuple[Block, ...]


@record
class Paper(Record):
    """A whole paper for a template: `stamp_at` is its date, taken from what it tells."""

    kind: str
    language: str
    title: str
    subtitle: str
    status: str
    lead: tuple[str, ...]
    sections: tuple[Section, ...]
    foot: str
    page: str
    stamp_at: datetime
    draft: str = ""


@record
class PaperContext(Record):
    """A plan with the log it rests on, and the words and working days it is shown with."""

    plan: Plan
    log: Log
    facts: Facts
    words: Words
    calendar: Calendar

    def text(self, key: str, **params: object) -> str:
        """Return one of the papers' texts."""
        return self.words.text(f"paper.{key}", params)

    def shown(self, name: str, value: object) -> str | None:
        """Return a value as people read it, by the ending of its name; None for None."""
        if value is None or value == "":
            return None
        return show(name, value, self.words.catalogue, self.words.reader)

    def fact(self, key: str, text: str | None, *, needed: bool = False) -> Fact:
        """Return a fact; one without a text is missing where it is needed, else not recorded."""
        label = self.text(f"fact.{key}")
        if text:
            return Fact(label, text)
        told = Presence.MISSING if needed else Presence.NOT_RECORDED
        return Fact(label, self.text(f"told.{told.value.replace(' ', '-')}"), told)

    def unrecorded(self, columns: int, what: str, told: Presence) -> Row:
        """Return the line of a table for something that nobody recorded."""
        said = self.text(f"told.{told.value.replace(' ', '-')}")
        return Row((what, said, *[""] * (columns - 2)), told=told)

    def table(
        self,
        columns: Iterable[tuple[str, float]],
        rows: Iterable[Row],
        title: str = "",
    ) -> PaperTable:
        """Return a table; its columns are named by key, each with its share of the width."""
        named = tuple(columns)
        return PaperTable(
            title,
            tuple(self.text(f"column.{key}") for key, _ in named),
            tuple(rows),
            tuple(width for _, width in named),
        )

    def at(self, at: datetime | None) -> str:
        """Return an instant that has happened, in the site's time; empty for None."""
        return "" if at is None else self.words.at(at, down=True)

    def who(self, entry: Entry) -> str:
        """Return who did something, and who typed it and how they know where that is another."""
        return self.words.text(
            "paper.who",
            {
                "by": entry.by or self.text("unsigned"),
                "entered_by": entry.entered_by,
                "origin": entry.origin,
            },
        )

    def person(self, role: Role) -> Person | None:
        """Return the first person who has a role now."""
        return next(iter(self.plan.job.people_as(role, self.plan.as_of)), None)

    def role(self, role: Role) -> str:
        """Return a role as the first word of a line."""
        return whole(self.words.person(role.value)).rstrip(".")

    def entry_name(self, kind: str) -> str:
        """Return what a kind of log entry is called, as the first word of a line."""
        return whole(self.words.text(f"log.kind.{kind}")).rstrip(".")

    def zone_title(self, zone: ZonePlan) -> str:
        """Return a zone's name as the first word of a line."""
        name = clean(zone.zone.name)
        return f"{name[:1].upper()}{name[1:]}"

    @property
    def stamp_at(self) -> datetime:
        """When the last thing a paper tells was written down: no paper carries a clock's time."""
        known = (
            entry.recorded for entry in self.log if max(entry.at, entry.recorded) <= self.plan.as_of
        )
        done = (
            layer.layer.done_at
            for zone in self.plan.zones
            for layer in zone.layers
            if layer.layer.done_at is not None and layer.layer.done_at <= self.plan.as_of
        )
        return max(chain(known, done), default=self.plan.as_of)

    @property
    def today(self) -> str:
        """The local day of the plan."""
        return self.words.day(local_day(self.plan.as_of, self.plan.job.tz))
