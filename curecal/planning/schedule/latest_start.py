"""The latest start of planned work that still keeps the date told."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import datetime

from curecal.instants import Window
from curecal.planning.plan import Energize, LayerPlan
from curecal.planning.zone_context import ZoneContext
from curecal.trade.data_sheets import SPLIT_OVER_A_NIGHT, Milestone


def with_latest_starts(
    ctx: ZoneContext, layers: Sequence[LayerPlan], energize: Energize
) -> tuple[LayerPlan, ...]:
    """Return the layers, those planned with the last start that keeps the first day.

    From the top down: a layer must finish early enough for its own heat wait, and for what
    follows it to start in time. Under the expected climate.

    Rule: R26.
    """
    if energize.start_on is None:
        return tuple(layers)
    opening = ctx.calendar.opens(energize.start_on)
    starts: dict[str, datetime] = {}
    dated: dict[str, LayerPlan] = {}
    for plan in reversed(layers):
        by = _finish_by(ctx, plan, opening, starts)
        start = None
        if plan.planned and by is not None:
            split = plan.layer.sheet.kind in SPLIT_OVER_A_NIGHT
            start = ctx.calendar.latest_start(by, plan.layer.duration_s, split=split)
            if start is not None and plan.start is not None:
                start = max(start, plan.start.earliest)
                starts[plan.layer.id] = start
        dated[plan.layer.id] = plan if start is None else replace(plan, latest_start_at=start)
    return tuple(dated[plan.layer.id] for plan in layers)


def _finish_by(
    ctx: ZoneContext, plan: LayerPlan, opening: datetime, starts: dict[str, datetime]
) -> datetime | None:
    """Return by when a planned layer must be finished; None where nothing tells."""
    if not plan.planned or plan.finish is None:
        return None
    finish = plan.finish
    limits: list[datetime | None] = []
    if plan.layer.sheet.puts_off_heat:
        limits.append(_clock_start(ctx, plan, finish, Milestone.HEAT, opening))
    for other in ctx.build_up.above(plan.layer):
        begin = starts.get(other.id)
        milestone = ctx.build_up.required_milestone(plan.layer, other)
        if begin is None:
            continue
        if milestone is None:
            limits.append(begin)
        else:
            limits.append(_clock_start(ctx, plan, finish, milestone, begin))
    known = [limit for limit in limits if limit is not None]
    # Never before the plan's own finish: where the date is tight, the plan itself is the latest.
    return max(min(known), plan.finish.earliest) if known else None


def _clock_start(
    ctx: ZoneContext, plan: LayerPlan, finish: Window, milestone: Milestone, by: datetime
) -> datetime | None:
    """Return the last start from which all waits of a milestone run out by an instant."""
    starts = []
    for due in ctx.waits.end_waits(ctx.clocks, plan.layer, milestone, finish):
        rate = due.rate
        start = None if rate is None else ctx.clocks.start_by(rate, by, due.needed_s)
        if start is None:
            return None
        starts.append(start)
    return min(starts, default=by)
