"""Changes of the job itself between a plan kept before and now: layers, sheets, dates."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from enum import StrEnum

from curecal.planning.comparison.attribution import ShiftCause, attribute_to
from curecal.planning.comparison.log_replay import Replay
from curecal.planning.comparison.plan_snapshot import LayerSnapshot, PlanSnapshot, ZoneSnapshot
from curecal.records import Record, record
from curecal.trade.findings import Message
from curecal.trade.job import Job


class LayerChangeKind(StrEnum):
    """How a layer changed in the job."""

    NEW = "new"
    GONE = "gone"
    DATA = "data"
    DONE = "done"


@record
class LayerChange(Record):
    """A layer that is new, gone, rests on other data, or was finished at another time."""

    change: LayerChangeKind
    layer_id: str
    layer: str


def layer_changes(before: ZoneSnapshot, after: ZoneSnapshot) -> tuple[LayerChange, ...]:
    """Return how a zone's layers in the job differ from those of a plan kept before.

    Rule: R11, R27.

    Args:
        before: the zone of the plan kept before.
        after: the zone as the job has it now, looked at from the same instant.

    Returns:
        Changes, bottom to top; layers that are gone last.
    """
    then = {layer.id: layer for layer in before.layers}
    now = {layer.id for layer in after.layers}
    found = []
    for layer in after.layers:
        change = _change(then.get(layer.id), layer)
        if change is not None:
            found.append(LayerChange(change, layer.id, layer.title))
    gone = [layer for layer in before.layers if layer.id not in now]
    return (*found, *(LayerChange(LayerChangeKind.GONE, layer.id, layer.title) for layer in gone))


def _change(before: LayerSnapshot | None, after: LayerSnapshot) -> LayerChangeKind | None:
    if before is None:
        return LayerChangeKind.NEW
    shared = before.waits.keys() & after.waits.keys()
    same = before.existing == after.existing and before.waits.keys() == after.waits.keys()
    if not same or any(before.waits[name] != after.waits[name] for name in shared):
        return LayerChangeKind.DATA
    return LayerChangeKind.DONE if before.done != after.done else None


def job_causes(
    before: PlanSnapshot,
    base: PlanSnapshot,
    changes: Mapping[str, Sequence[LayerChange]],
    replay: Replay,
) -> dict[str, tuple[ShiftCause, ...]]:
    """Return the shifts of each zone's dates that the changes of the job caused.

    A new layer's share is found by planning without it; the rest has the other changes as its
    cause, and where there are none, whatever else a job holds.

    Rule: R11, R27.

    Args:
        before: the plan kept before.
        base: the job as it is now, planned for the instant of that plan.
        changes: each zone's changes of layers.
        replay: makes the plans.

    Returns:
        Causes by zone id.
    """
    then = {zone.id: zone for zone in before.zones}
    found = {}
    for zone in base.zones:
        if zone.id not in then:
            continue
        causes: list[ShiftCause] = []
        job, here = replay.job, zone
        ours = changes.get(zone.id, ())
        for new in reversed([change for change in ours if change.change is LayerChangeKind.NEW]):
            job = _without(job, zone.id, new.layer_id)
            lesser = replay.snapshot_of(job, 0, replay.since)
            less = next(other for other in lesser.zones if other.id == zone.id)
            causes += attribute_to(
                Message("moved-by-new-layer", {"layer": new.layer}), less, here, ()
            )
            here = less
        found[zone.id] = (*_rest(then[zone.id], here, ours), *reversed(causes))
    return found


def _without(job: Job, zone_id: str, layer_id: str) -> Job:
    zones = tuple(
        replace(zone, layers=tuple(layer for layer in zone.layers if layer.id != layer_id))
        if zone.id == zone_id
        else zone
        for zone in job.zones
    )
    return replace(job, zones=zones)


def _rest(
    before: ZoneSnapshot, after: ZoneSnapshot, changes: Sequence[LayerChange]
) -> list[ShiftCause]:
    others = [change for change in changes if change.change is not LayerChangeKind.NEW]
    if not others:
        return attribute_to(Message("moved-by-job"), before, after, ())
    gone = tuple(other.layer for other in others if other.change is LayerChangeKind.GONE)
    data = tuple(other.layer for other in others if other.change is LayerChangeKind.DATA)
    done = tuple(other.layer for other in others if other.change is LayerChangeKind.DONE)
    params = {"gone": ", ".join(gone), "data": ", ".join(data), "done": ", ".join(done)}
    said = Message("moved-by-layers", params)
    return attribute_to(said, before, after, (), Message("moved-may-layers"))
