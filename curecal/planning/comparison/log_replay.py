"""Facts that became known between two instants, and the plans made with only some of them."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field, replace
from datetime import datetime

from curecal.planning.comparison.plan_snapshot import PlanSnapshot, snapshot
from curecal.planning.make_plan import make_plan
from curecal.planning.site_log.entry_kinds import kind_of
from curecal.planning.working_time.working_calendar import DayOff
from curecal.records import Record, record
from curecal.science.age import KeptAges
from curecal.trade.entry_kinds import EntryKind
from curecal.trade.job import Job, Layer, Zone
from curecal.trade.rules import Rules
from curecal.trade.site_log import Entry


@record
class DoneInFile(Record):
    """A layer of a zone that the job file says is done."""

    zone_id: str
    layer: Layer


@record
class LearnedFact(Record):
    """One thing that became known, and when: a log entry, or a layer done by the job file."""

    known_at: datetime
    kind: EntryKind
    id: str
    source: Entry | DoneInFile


@dataclass(slots=True)
class Replay:
    """A job with the facts that came in between two instants, and the plans made of them."""

    job: Job
    log: tuple[Entry, ...]
    facts: tuple[LearnedFact, ...]
    since: datetime
    until: datetime
    rules: Rules
    day_off: DayOff
    made: dict[tuple[int, datetime], PlanSnapshot] = field(default_factory=dict)
    kept: KeptAges = field(default_factory=KeptAges)

    def snapshot(self, count: int, at: datetime) -> PlanSnapshot:
        """Return the plan at an instant with the first facts known, kept once made."""
        key = (count, at)
        if key not in self.made:
            self.made[key] = self.snapshot_of(self.job, count, at)
        return self.made[key]

    def snapshot_of(self, job: Job, count: int, at: datetime) -> PlanSnapshot:
        """Return the plan of a changed job at an instant with the first facts known."""
        later = self.facts[count:]
        hidden = {id(fact.source) for fact in later}
        undone = {
            (fact.source.zone_id, fact.source.layer.id)
            for fact in later
            if isinstance(fact.source, DoneInFile)
        }
        known = [
            entry
            for entry in self.log
            if id(entry) not in hidden and max(entry.at, entry.recorded) <= self.until
        ]
        zones = tuple(_undone(zone, undone) for zone in job.zones)
        then = replace(job, zones=zones)
        return snapshot(
            make_plan(then, known, at, rules=self.rules, day_off=self.day_off, kept=self.kept)
        )

    def at_fact(self, count: int) -> PlanSnapshot:
        """Return the plan once a number of facts were known; with all of them, the plan now."""
        if count == len(self.facts) + 1:
            return self.snapshot(len(self.facts), self.until)
        at = self.facts[count - 1].known_at if count else self.since
        return self.snapshot(count, at)


def _undone(zone: Zone, undone: set[tuple[str, str]]) -> Zone:
    """Return a zone whose layers are not yet done that the file says were done only later."""
    layers = tuple(
        replace(layer, done_at=None) if (zone.id, layer.id) in undone else layer
        for layer in zone.layers
    )
    return replace(zone, layers=layers)


def known_since(
    job: Job, log: Iterable[Entry], since: datetime, until: datetime
) -> tuple[LearnedFact, ...]:
    """Return the facts that became known between two instants, in order.

    An entry is known once it has happened and is recorded; a layer the file says is done, once
    it is.

    Rule: R27.

    Args:
        job: the job as read.
        log: the site log.
        since: the first instant; what was known then is not in it.
        until: the last instant.

    Returns:
        Facts in the order they became known.
    """
    found = [
        LearnedFact(known_at, kind_of(entry), entry.id, entry)
        for entry in log
        if since < (known_at := max(entry.at, entry.recorded)) <= until
    ]
    found += [
        LearnedFact(layer.done_at, EntryKind.DONE, "", DoneInFile(zone.id, layer))
        for zone in job.zones
        for layer in zone.layers
        if layer.done_at is not None and not layer.existing and since < layer.done_at <= until
    ]
    return tuple(sorted(found, key=lambda fact: (fact.known_at, fact.id)))
