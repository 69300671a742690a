"""Planned work in time: after what it waits for, at its planned hour, in working hours."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime
from functools import reduce

from curecal.instants import Window, add
from curecal.planning.site_log.doubtful_finish import FAR_OFF
from curecal.planning.zone_context import ZoneContext
from curecal.trade.data_sheets import BEDS, SHEETS_AND_BOARDS, SPLIT_OVER_A_NIGHT
from curecal.trade.findings import Finding, Severity
from curecal.trade.job import Layer


def fit_planned_work(
    ctx: ZoneContext, layer: Layer, gates: Sequence[Window]
) -> tuple[Window, Window] | None:
    """Return when a layer that is not done starts and finishes, at both ends.

    None where no day works within reach.

    Rule: R26.

    Args:
        gates: from when each thing it waits for allows it.
    """
    # Sheets and boards go into the mortar while that is wet: no work of their own, at no own hour.
    wet = layer.sheet.kind in SHEETS_AND_BOARDS and any(
        under.sheet.kind in BEDS and not under.existing for under in ctx.build_up.below(layer)
    )
    duration_s = 0.0 if wet and layer.duration_s is None else layer.duration_s
    gate = reduce(Window.later, gates) if gates else None
    first = _run(ctx, layer, gate.earliest if gate else None, duration_s, free=wet)
    if first is None:
        return None
    if gate is None:
        return Window(first[0], first[0]), Window(first[1], first[1])
    last = None
    if gate.latest is not None:
        last = _run(ctx, layer, gate.latest, duration_s, free=wet)
    if last is None:
        return Window(first[0], None), Window(first[1], None)
    return Window(first[0], last[0]), Window(first[1], last[1])


def ask_about_plan(ctx: ZoneContext, layer: Layer) -> tuple[Finding, ...]:
    """Return a question where a layer's planned time has passed unrecorded, or is a year ahead.

    Rule: R26, R27.
    """
    planned_at = layer.planned_finish_at or layer.planned_start_at
    if planned_at is None:
        return ()
    params = {"layer": layer.name, "planned_at": planned_at}
    if planned_at - ctx.facts.as_of > FAR_OFF:
        found = ctx.finding(Severity.WARNING, "planned-far-ahead", layer.path, params, layer.id)
        return (found,)
    finish_at = _planned_finish(ctx, layer, planned_at)
    if finish_at is None or finish_at > ctx.facts.as_of:
        return ()
    params["planned_at"] = finish_at
    return (ctx.finding(Severity.WARNING, "is-it-done", layer.path, params, layer.id),)


def _planned_finish(ctx: ZoneContext, layer: Layer, planned_at: datetime) -> datetime | None:
    """Return by when a layer was planned to be finished: from its start, its usual time later."""
    if layer.planned_finish_at is not None:
        return layer.planned_finish_at
    split = layer.sheet.kind in SPLIT_OVER_A_NIGHT
    placed = ctx.calendar.run(planned_at, layer.duration_s, split=split)
    return None if placed is None else placed[1]


def _run(
    ctx: ZoneContext,
    layer: Layer,
    gate: datetime | None,
    duration_s: float | None,
    *,
    free: bool,
) -> tuple[datetime, datetime] | None:
    """Return start and finish after a gate: at the planned time where that is free, or later."""
    as_of = ctx.facts.as_of
    split = layer.sheet.kind in SPLIT_OVER_A_NIGHT
    wished_finish = layer.planned_finish_at
    wished_start = layer.planned_start_at
    if wished_finish is not None and wished_start is None:
        # Its start follows from its finish; a default day of work is not held against the plan.
        wished_start = add(wished_finish, -(layer.duration_s or 0.0))
    passed = wished_finish is not None and wished_finish <= as_of
    span_s = 0.0
    if wished_start is not None and not passed:
        if gate is None or gate <= wished_start:
            return _as_wished(ctx, layer, wished_start, duration_s, free=free)
        not_before = max(gate, as_of)
        if wished_finish is not None:
            # What a gate pushes back takes no less time than somebody planned for it.
            span_s = (wished_finish - wished_start).total_seconds()
    else:
        not_before = as_of if gate is None else max(gate, as_of)
    if free:
        return not_before, add(not_before, max(duration_s or 0.0, span_s))
    placed = ctx.calendar.run(not_before, duration_s, split=split)
    return placed and (placed[0], max(placed[1], add(placed[0], span_s)))


def _as_wished(
    ctx: ZoneContext, layer: Layer, start: datetime, duration_s: float | None, *, free: bool
) -> tuple[datetime, datetime] | None:
    """Return planned work at its planned time: a person chose the hours."""
    if layer.planned_finish_at is not None:
        return start, max(start, layer.planned_finish_at)
    not_before = max(start, ctx.facts.as_of)
    if free:
        return not_before, add(not_before, duration_s or 0.0)
    split = layer.sheet.kind in SPLIT_OVER_A_NIGHT
    return ctx.calendar.run(not_before, duration_s, split=split)
