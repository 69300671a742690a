"""The differences between two plans of one job: shifts of dates, with their causes.

A move is a fact about two plans; its cause is found by replaying the log between them.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace
from datetime import date, datetime
from typing import Any

from curecal.errors import UsageError
from curecal.planning.comparison.attribution import ShiftCause, causes_between
from curecal.planning.comparison.date_shifts import Shift, layer_shifts, shift
from curecal.planning.comparison.job_diff import LayerChange, job_causes, layer_changes
from curecal.planning.comparison.log_replay import Replay, known_since
from curecal.planning.comparison.plan_snapshot import (
    Decider,
    Ends,
    LayerSnapshot,
    PlanSnapshot,
    VisitSnapshot,
    ZoneSnapshot,
    snapshot,
)
from curecal.planning.plan import Plan
from curecal.planning.working_time.working_calendar import DayOff
from curecal.records import Record, record
from curecal.trade.job import Job
from curecal.trade.rules import Rules
from curecal.trade.site_log import Entry

_NONE: Mapping[str, tuple[Any, ...]] = {}


@record
class HoldChange(Record):
    """A hold point whose state changed; `before` or `after` is None where there was none.

    `evidence` is the log entry that decides it now.
    """

    code: str
    cable: str | None
    layer_id: str | None
    before: str | None
    after: str | None
    evidence: str | None = None


@record
class LayerShifts(Record):
    """A layer's dates that moved, the most important first; `planned` while it is not done."""

    layer_id: str
    layer: str
    planned: bool
    shifts: tuple[Shift, ...]


@record
class VisitShift(Record):
    """A visit that moved, is new (`before` is None) or no longer needed (`after` is None)."""

    kind: str
    zones: tuple[str, ...]
    before: Ends | None
    after: Ends | None


@record
class ZoneComparison(Record):
    """One zone then and now; `energize` is how its own date shifted, None where it did not."""

    before: ZoneSnapshot
    after: ZoneSnapshot
    energize: Shift | None
    holds: tuple[HoldChange, ...] = ()
    layers: tuple[LayerShifts, ...] = ()
    changes: tuple[LayerChange, ...] = ()
    causes: tuple[ShiftCause, ...] = ()

    @property
    def deciders(self) -> tuple[Decider | None, Decider | None] | None:
        """Return what decided then and what decides now, where they differ."""
        before, after = self.before.energize.governed_by, self.after.energize.governed_by
        if before is not None and after is not None:
            same = (before.layer_id, before.milestone) == (after.layer_id, after.milestone)
        else:
            same = before is after
        return None if same else (before, after)

    @property
    def days(self) -> Mapping[str, tuple[date | None, date | None]]:
        """Return the days people are told that differ: "start_on", "owner_date"."""
        pairs = {
            name: (getattr(self.before.energize, name), getattr(self.after.energize, name))
            for name in ("start_on", "owner_date")
        }
        return {name: pair for name, pair in pairs.items() if pair[0] != pair[1]}

    @property
    def has_changed(self) -> bool:
        """Return whether anything at all differs."""
        return bool(
            self.energize
            or self.holds
            or self.layers
            or self.changes
            or self.days
            or self.before.state != self.after.state
        )


@record
class PlanComparison(Record):
    """The differences between two plans of a job.

    `by_log` is True where only the log was looked at: the job then is taken to be the job now.
    """

    since: datetime
    until: datetime
    zones: tuple[ZoneComparison, ...]
    new_zones: tuple[ZoneSnapshot, ...] = ()
    gone_zones: tuple[ZoneSnapshot, ...] = ()
    visits: tuple[VisitShift, ...] = ()
    by_log: bool = False


def compare_since(
    since: datetime, plan: Plan, job: Job, log: Iterable[Entry], *, rules: Rules, day_off: DayOff
) -> PlanComparison:
    """Return how a job's plan differs from its plan at an instant, by the facts in between.

    What the job was then nobody kept: it is taken to be what it is now.

    Rule: R27.

    Args:
        since: the instant to compare with; facts later than it did not exist then.
        plan: the plan now.
        job: the job as read.
        log: the whole site log.
        rules: the rules as data.
        day_off: why a local day is no working day, or None.

    Returns:
        What moved, each date with its causes.

    Raises:
        UsageError: the instant is after the plan's own.
    """
    replay = _replay(since, plan, job, log, rules, day_off)
    before = replay.snapshot(0, since)
    moved = compare_snapshots(before, snapshot(plan), {}, causes_between(replay, before))
    return replace(moved, by_log=True)


def compare_with_kept(
    earlier: PlanSnapshot,
    plan: Plan,
    job: Job,
    log: Iterable[Entry],
    *,
    rules: Rules,
    day_off: DayOff,
) -> PlanComparison:
    """Return how a job's plan differs from one kept before: by its job file and its log.

    The job as it is now is replayed at the kept plan's instant: what differs there was changed
    in the job, what differs later came in by the log.

    Rule: R27.

    Args:
        earlier: the plan kept before.
        plan: the plan now.
        job: the job as read now.
        log: the whole site log.
        rules: the rules as data.
        day_off: why a local day is no working day, or None.

    Returns:
        What moved, each date with its causes.

    Raises:
        UsageError: the kept plan is another job's, or of a later instant.
    """
    if earlier.job_id != plan.job.id:
        raise UsageError("moved-other-job", kept=earlier.job_id, job=plan.job.id)
    replay = _replay(earlier.as_of, plan, job, log, rules, day_off)
    base = replay.snapshot(0, earlier.as_of)
    changes = {
        zone.id: layer_changes(before, zone)
        for zone in base.zones
        for before in earlier.zones
        if before.id == zone.id
    }
    by_job = job_causes(earlier, base, changes, replay)
    by_log = causes_between(replay, base)
    causes = {zone.id: (*by_job.get(zone.id, ()), *by_log.get(zone.id, ())) for zone in base.zones}
    return compare_snapshots(earlier, snapshot(plan), changes, causes)


def _replay(
    since: datetime,
    plan: Plan,
    job: Job,
    log: Iterable[Entry],
    rules: Rules,
    day_off: DayOff,
) -> Replay:
    if since > plan.as_of:
        since_at, as_of_at = since.astimezone(job.tz), plan.as_of.astimezone(job.tz)
        raise UsageError("moved-since-later", since_at=since_at, as_of_at=as_of_at)
    entries = tuple(log)
    facts = known_since(job, entries, since, plan.as_of)
    return Replay(job, entries, facts, since, plan.as_of, rules, day_off)


def compare_snapshots(
    before: PlanSnapshot,
    after: PlanSnapshot,
    changes: Mapping[str, Sequence[LayerChange]] = _NONE,
    causes: Mapping[str, Sequence[ShiftCause]] = _NONE,
) -> PlanComparison:
    """Return the differences between two plans; their causes are found by a replay.

    Rule: R21.

    Args:
        before: the plan then.
        after: the plan now.
        changes: each zone's changes of layers in the job.
        causes: each zone's causes.

    Returns:
        What moved.
    """
    then = {zone.id: zone for zone in before.zones}
    now = {zone.id: zone for zone in after.zones}
    zones = []
    for zone in after.zones:
        if zone.id not in then:
            continue
        old = then[zone.id]
        zones.append(
            ZoneComparison(
                old,
                zone,
                shift("energize", old.energize.ends, zone.energize.ends),
                _holds(old, zone),
                _layers(old.layers, zone.layers),
                tuple(changes.get(zone.id, ())),
                tuple(causes.get(zone.id, ())),
            )
        )
    return PlanComparison(
        before.as_of,
        after.as_of,
        tuple(zones),
        tuple(zone for zone in after.zones if zone.id not in then),
        tuple(zone for zone in before.zones if zone.id not in now),
        _visits(before, after),
    )


def _holds(before: ZoneSnapshot, after: ZoneSnapshot) -> tuple[HoldChange, ...]:
    """Return hold points whose state is another, those that got worse first."""
    then = {hold.key: hold.state for hold in before.holds}
    now = {hold.key: hold for hold in after.holds}
    found = [
        HoldChange(*hold.key, then.get(hold.key), hold.state, hold.evidence)
        for hold in now.values()
        if then.get(hold.key) != hold.state
    ]
    found += [HoldChange(*key, state, None) for key, state in then.items() if key not in now]
    return tuple(sorted(found, key=lambda hold: hold.after in {"met", "not needed"}))


def _layers(
    before: Sequence[LayerSnapshot], after: Sequence[LayerSnapshot]
) -> tuple[LayerShifts, ...]:
    then = {layer.id: layer for layer in before}
    found = []
    for layer in after:
        if layer.id not in then or layer.existing:
            continue
        shifts = layer_shifts(then[layer.id], layer)
        if shifts:
            found.append(LayerShifts(layer.id, layer.title, layer.planned, tuple(shifts)))
    return tuple(found)


def _visits(before: PlanSnapshot, after: PlanSnapshot) -> tuple[VisitShift, ...]:
    """Return the visits that moved; one whose first day only goes on with today has not."""
    found = []
    then = list(before.visits)
    for visit in after.visits:
        old = _same_visit(visit, then)
        if old is None:
            found.append(VisitShift(visit.kind, visit.zones, None, visit.ends))
            continue
        then.remove(old)
        was = old.ends
        if was.earliest is not None and was.earliest <= after.as_of and visit.ends.earliest:
            was = Ends(visit.ends.earliest, was.latest)
        if shift(visit.kind, was, visit.ends) is not None:
            found.append(VisitShift(visit.kind, visit.zones, old.ends, visit.ends))
    found += [VisitShift(visit.kind, visit.zones, visit.ends, None) for visit in then]
    return tuple(found)


def _same_visit(visit: VisitSnapshot, among: Sequence[VisitSnapshot]) -> VisitSnapshot | None:
    alike = [
        other for other in among if other.kind == visit.kind and set(other.zones) & set(visit.zones)
    ]
    return alike[0] if alike else None
