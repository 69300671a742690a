"""What moved between two plans of one job, by how much, and because of what.

A move is a fact about two plans; its cause is found by replaying the log between them.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace
from datetime import date, datetime
from typing import Any

from curecal.errors import UsageError
from curecal.planning.comparison.attribution import Cause, causes_between
from curecal.planning.comparison.date_shifts import Shift, shift
from curecal.planning.comparison.job_diff import LayerChange, job_causes, layer_changes
from curecal.planning.comparison.log_replay import Replay, known_since
from curecal.planning.comparison.plan_snapshot import (
    Decider,
    Ends,
    LayerTold,
    Told,
    VisitTold,
    ZoneTold,
    told,
)
from curecal.planning.plan import Plan
from curecal.planning.working_time.working_calendar import DayOff
from curecal.records import Record, record
from curecal.trade.job import Job
from curecal.trade.rules import Rules
from curecal.trade.site_log import Entry

# Most important first: what the next trade waits for, then how the floor may be used.
_ORDER = ("start", "finish", "heat", "bare_heat", "cover", "grout", "seal", "wet", "load", "walk")

_NONE: Mapping[str, tuple[Any, ...]] = {}


@record
class HoldMoved(Record):
    """A hold point whose state changed; `before` or `after` is empty where there was none.

    `evidence` is the log entry that decides it now.
    """

    code: str
    cable: str
    layer_id: str
    before: str
    after: str
    evidence: str | None = None


@record
class LayerMoved(Record):
    """A layer's dates that moved, the most important first; `planned` while it is not done."""

    layer_id: str
    layer: str
    planned: bool
    shifts: tuple[Shift, ...]


@record
class VisitMoved(Record):
    """A visit that moved, is new (`before` is None) or no longer needed (`after` is None)."""

    kind: str
    zone_ids: tuple[str, ...]
    before: Ends | None
    after: Ends | None


@record
class ZoneMoved(Record):
    """One zone then and now; `own` is what moved of its window, None where nothing did."""

    before: ZoneTold
    after: ZoneTold
    own: Shift | None
    holds: tuple[HoldMoved, ...] = ()
    layers: tuple[LayerMoved, ...] = ()
    changes: tuple[LayerChange, ...] = ()
    causes: tuple[Cause, ...] = ()

    @property
    def deciders(self) -> tuple[Decider | None, Decider | None] | None:
        """What decided then and what decides now, where that is not the same."""
        before, after = self.before.decider, self.after.decider
        if before is not None and after is not None:
            same = (before.layer_id, before.milestone) == (after.layer_id, after.milestone)
        else:
            same = before is after
        return None if same else (before, after)

    @property
    def days(self) -> Mapping[str, tuple[date | None, date | None]]:
        """The days told to people that are not the same: "start_on", "owner_date"."""
        pairs = {
            "start_on": (self.before.start_on, self.after.start_on),
            "owner_date": (self.before.owner_date, self.after.owner_date),
        }
        return {name: pair for name, pair in pairs.items() if pair[0] != pair[1]}

    @property
    def anything(self) -> bool:
        """True where anything at all is not as it was told."""
        return bool(
            self.own
            or self.holds
            or self.layers
            or self.changes
            or self.days
            or self.before.state != self.after.state
        )


@record
class Moved(Record):
    """What moved between two plans of a job.

    `by_log` is True where only the log was looked at: the job then is taken to be the job now.
    """

    since: datetime
    until: datetime
    zones: tuple[ZoneMoved, ...]
    new_zones: tuple[ZoneTold, ...] = ()
    gone_zones: tuple[ZoneTold, ...] = ()
    visits: tuple[VisitMoved, ...] = ()
    by_log: bool = False


def moved_since(
    since: datetime, plan: Plan, job: Job, log: Iterable[Entry], *, rules: Rules, day_off: DayOff
) -> Moved:
    """Return what moved in a job's plan since an instant, by the facts that came in between.

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
    before = replay.told(0, since)
    moved = compared_with(before, told(plan), {}, causes_between(replay, before))
    return replace(moved, by_log=True)


def moved_against(
    earlier: Told, plan: Plan, job: Job, log: Iterable[Entry], *, rules: Rules, day_off: DayOff
) -> Moved:
    """Return what moved in a job's plan against one kept before: by its job file and its log.

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
    base = replay.told(0, earlier.as_of)
    changes = {
        zone.id: layer_changes(before, zone)
        for zone in base.zones
        for before in earlier.zones
        if before.id == zone.id
    }
    by_job = job_causes(earlier, base, changes, replay)
    by_log = causes_between(replay, base)
    causes = {zone.id: (*by_job.get(zone.id, ()), *by_log.get(zone.id, ())) for zone in base.zones}
    return compared_with(earlier, told(plan), changes, causes)


def _replay(
    since: datetime,
    plan: Plan,
    job: Job,
    log: Iterable[Entry],
    rules: Rules,
    day_off: DayOff,
) -> Replay:
    if since > plan.as_of:
        shown = [at.astimezone(job.tz).isoformat(" ", "minutes") for at in (since, plan.as_of)]
        raise UsageError("moved-since-later", since=shown[0], as_of=shown[1])
    entries = tuple(log)
    facts = known_since(job, entries, since, plan.as_of)
    return Replay(job, entries, facts, since, plan.as_of, rules, day_off)


def compared_with(
    before: Told,
    after: Told,
    changes: Mapping[str, Sequence[LayerChange]] = _NONE,
    causes: Mapping[str, Sequence[Cause]] = _NONE,
) -> Moved:
    """Return what differs between two plans as told; causes are found by a replay.

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
            ZoneMoved(
                old,
                zone,
                shift("energize", old.ends, zone.ends),
                _holds(old, zone),
                _layers(old.layers, zone.layers),
                tuple(changes.get(zone.id, ())),
                tuple(causes.get(zone.id, ())),
            )
        )
    return Moved(
        before.as_of,
        after.as_of,
        tuple(zones),
        tuple(zone for zone in after.zones if zone.id not in then),
        tuple(zone for zone in before.zones if zone.id not in now),
        _visits(before, after),
    )


def _holds(before: ZoneTold, after: ZoneTold) -> tuple[HoldMoved, ...]:
    """Return hold points whose state is another, those that got worse first."""
    found = []
    for key in dict.fromkeys((*after.holds, *before.holds)):
        was, now = before.holds.get(key, ""), after.holds.get(key, "")
        if was != now:
            found.append(HoldMoved(*key, was, now, after.evidence.get(key)))
    return tuple(sorted(found, key=lambda hold: hold.after in {"met", "not needed"}))


def _layers(before: Sequence[LayerTold], after: Sequence[LayerTold]) -> tuple[LayerMoved, ...]:
    then = {layer.id: layer for layer in before}
    found = []
    for layer in after:
        if layer.id not in then or layer.existing:
            continue
        old = then[layer.id]
        named = [name for name in _ORDER if name in layer.dates and name in old.dates]
        shifts = [shift(name, old.dates[name], layer.dates[name]) for name in named]
        moves = tuple(each for each in shifts if each is not None)
        if moves:
            found.append(LayerMoved(layer.id, layer.name, layer.planned, moves))
    return tuple(found)


def _visits(before: Told, after: Told) -> tuple[VisitMoved, ...]:
    """Return the visits that moved; one whose first day only goes on with today has not."""
    found = []
    then = list(before.visits)
    for visit in after.visits:
        old = _same_visit(visit, then)
        if old is None:
            found.append(VisitMoved(visit.kind, visit.zone_ids, None, visit.ends))
            continue
        then.remove(old)
        was = old.ends
        if was.earliest is not None and was.earliest <= after.as_of and visit.ends.earliest:
            was = Ends(visit.ends.earliest, was.latest)
        if shift(visit.kind, was, visit.ends) is not None:
            found.append(VisitMoved(visit.kind, visit.zone_ids, old.ends, visit.ends))
    found += [VisitMoved(visit.kind, visit.zone_ids, visit.ends, None) for visit in then]
    return tuple(found)


def _same_visit(visit: VisitTold, among: Sequence[VisitTold]) -> VisitTold | None:
    alike = [
        other
        for other in among
        if other.kind == visit.kind and set(other.zone_ids) & set(visit.zone_ids)
    ]
    return alike[0] if alike else None
