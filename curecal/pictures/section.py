"""A zone's floor cut through, as the trade draws it: layers as they lie, with their thickness."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime
from enum import StrEnum

from curecal.instants import local_day
from curecal.planning.curing.build_up import BuildUp
from curecal.planning.plan import LayerPlan, MilestonePlan, Plan, ZonePlan
from curecal.records import Record, record
from curecal.trade.job import HeatingKind, Layer
from curecal.words.report.headline import headline_of, place_of
from curecal.words.report.layers import days
from curecal.words.sentences import Words
from curecal.words.values import clean


class SlabState(StrEnum):
    """What a layer is today."""

    EXISTING = "existing"
    CURED = "cured"
    CURING = "curing"
    AHEAD = "ahead"
    NO_DATE = "no date"


@record
class Slab(Record):
    """One layer of a section.

    `cured_fraction` is how much of its last wait has counted [0, 1]. `thickness_m` is None where
    the job gives none. `holds_cable`: the heating lies in it. `says` is its state with its date.
    """

    label: str
    thickness_m: float | None
    thickness_text: str
    state: SlabState
    cured_fraction: float
    says: str
    holds_cable: bool = False
    is_governing: bool = False


@record
class FloorSection(Record):
    """One zone's floor, the top slab first. `says` is the answer, empty beside who gives it."""

    title: str
    says: str
    counted_text: str
    governing_text: str
    top_text: str
    bottom_text: str
    cable_text: str
    slabs: tuple[Slab, ...]


def make_section(
    plan: Plan, zone: ZonePlan, words: Words, *, is_for_owner: bool = False
) -> FloorSection:
    """Return the section of one zone of a plan.

    Args:
        plan: The plan.
        zone: The zone in it.
        words: The reader's language and units.
        is_for_owner: Whether it is without dates: an owner is told one day, and not a layer's.
    """
    embedding = BuildUp(zone.zone).embedding if _has_cable(zone) else None
    governed = zone.energize.governed_by
    slabs = [
        _slab(item, plan, words, (embedding, None if governed is None else governed.layer_id))
        for item in reversed(zone.layers)
    ]
    if is_for_owner:
        slabs = [replace(slab, says=_without_date(slab, words)) for slab in slabs]
    return FloorSection(
        title=place_of(plan, zone),
        says="" if is_for_owner else headline_of(plan, zone, words),
        counted_text=words.text("picture.counted-of-layer"),
        governing_text=words.text("picture.governing") if governed is not None else "",
        top_text=words.text("report.column-top"),
        bottom_text=words.text("report.table-bottom"),
        cable_text=words.text("picture.cable"),
        slabs=tuple(slabs),
    )


def _without_date(slab: Slab, words: Words) -> str:
    dated = slab.state in {SlabState.CURING, SlabState.AHEAD}
    return words.text(f"picture.slab-{slab.state.value}-only") if dated else slab.says


def _has_cable(zone: ZonePlan) -> bool:
    return zone.zone.heating.kind is HeatingKind.ELECTRIC and bool(zone.zone.heating.cables)


def _slab(
    item: LayerPlan, plan: Plan, words: Words, known: tuple[Layer | None, str | None]
) -> Slab:
    layer = item.layer
    embedding, governing = known
    last = item.last_milestone
    state = _state(item, last, plan.as_of)
    fraction = {SlabState.EXISTING: 1.0, SlabState.CURED: 1.0}.get(state, 0.0)
    if state is SlabState.CURING and last is not None:
        fraction = _counted(last, item, plan.as_of)
    shown = {} if layer.thickness_m is None else {"thickness_m": layer.thickness_m}
    return Slab(
        label=clean(layer.title),
        thickness_m=layer.thickness_m,
        thickness_text=words.text("picture.thickness", shown) if shown else "",
        state=state,
        cured_fraction=fraction,
        says=_says(state, last, plan, words),
        holds_cable=embedding is not None and layer.id == embedding.id,
        is_governing=layer.id == governing,
    )


def _state(item: LayerPlan, last: MilestonePlan | None, now: datetime) -> SlabState:
    if item.layer.existing:
        return SlabState.EXISTING
    if item.planned or item.finish is None:
        return SlabState.AHEAD
    if last is None:
        return SlabState.CURED
    if last.window is None:
        return SlabState.NO_DATE
    # What is cured at the coldest too is cured for good.
    latest = last.window.latest
    return SlabState.CURED if latest is not None and latest <= now else SlabState.CURING


def _counted(last: MilestonePlan, item: LayerPlan, now: datetime) -> float:
    """Return how much of a wait has counted, by its clock and by the days up to its end."""
    shares = [
        counted / needed
        for step in last.steps
        if isinstance(counted := step.params.get("credited_s"), float)
        and isinstance(needed := step.params.get("needed_s"), float)
        and needed > 0.0
    ]
    if last.window is not None and item.clock_start is not None:
        start = item.clock_start.earliest
        whole_s = (last.window.earliest - start).total_seconds()
        shares.append((now - start).total_seconds() / whole_s if whole_s > 0.0 else 1.0)
    # Where several waits have to run out, the one that is furthest behind is shown.
    return min(max(min(shares, default=0.0), 0.0), 1.0)


def _says(state: SlabState, last: MilestonePlan | None, plan: Plan, words: Words) -> str:
    code = state.value.replace(" ", "-")
    if state in {SlabState.EXISTING, SlabState.CURED, SlabState.NO_DATE}:
        return words.text(f"picture.slab-{code}")
    if last is None or last.window is None:
        return words.text(f"picture.slab-{code}-undated")
    when = days(last.window, plan, words, local_day(plan.as_of, plan.job.tz))
    what = words.name("short", last.milestone.value)
    return words.text(f"picture.slab-{state.value}", {"what": what, "when": when})
