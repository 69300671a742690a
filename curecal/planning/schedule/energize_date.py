"""A zone's date before people come into it: the latest of everything that must cure."""

from __future__ import annotations

from curecal.instants import Window
from curecal.planning.curing.clocks import Due
from curecal.planning.plan import Governing, LayerPlan
from curecal.planning.schedule.layer_schedule import Chain
from curecal.planning.zone_context import ZoneContext
from curecal.records import Record, record
from curecal.trade.data_sheets import Milestone, Wait
from curecal.trade.findings import Message
from curecal.trade.hold_codes import HoldCode
from curecal.trade.sources import Source


@record
class ZoneDate(Record):
    """A zone's date before people come into it."""

    window: Window | None
    governed_by: Governing | None
    source: Source | None
    blocked: Message | None


def fresh_layers(linked: Chain) -> list[LayerPlan]:
    """Return the layers that have a clock: all but those that were there before.

    Rule: R29.

    Args:
        linked: the zone's layers.

    Returns:
        Layers, bottom to top.
    """
    return [plan for plan in linked.layers if not plan.layer.existing]


def zone_date(ctx: ZoneContext, linked: Chain) -> ZoneDate:
    """Return the latest of all heat dates: every layer's, the heating's, the covering's.

    None while a person has to decide about a base that was covered wet.

    Rule: R10, R13, R15.

    Args:
        ctx: the zone, with its layers' hold points.
        linked: its layers.

    Returns:
        The date, or why there is none.
    """
    for hold in ctx.holds:
        if hold.code is HoldCode.COVERED_WET and hold.is_outstanding and hold.layer_id is not None:
            base = next(layer for layer in ctx.zone.layers if layer.id == hold.layer_id)
            here = Governing(base.id, base.name, Milestone.COVER, "R15")
            return ZoneDate(None, here, ctx.rules.source("R15"), hold.reason)
    window: Window | None = None
    governed: Governing | None = None
    source: Source | None = None
    for plan in fresh_layers(linked):
        heat = plan.milestones[Milestone.HEAT]
        here = Governing(plan.layer.id, plan.layer.name, Milestone.HEAT, heat.rule)
        if heat.window is None:
            return ZoneDate(None, here, heat.source, heat.blocked)
        if window is None or heat.window.earliest > window.earliest:
            governed, source = here, heat.source
        window = heat.window if window is None else window.later(heat.window)
    for plan, due in makers_dues(ctx, linked):
        here = Governing(plan.layer.id, plan.layer.name, Milestone.HEAT, due.rule)
        if due.window is None:
            return ZoneDate(None, here, due.wait.source, due.blocked)
        if window is None or due.window.earliest > window.earliest:
            governed, source = here, due.wait.source
        window = due.window if window is None else window.later(due.window)
    blocked = None if window else Message("nothing-to-wait-for")
    return ZoneDate(window, governed, source, blocked)


def makers_dues(ctx: ZoneContext, linked: Chain) -> list[tuple[LayerPlan, Due]]:
    """Return the heating maker's and the covering maker's own waits, each with its layer.

    Rule: R13.

    Args:
        ctx: the zone.
        linked: its layers.

    Returns:
        (layer, result) pairs; those whose layer has no date are left to that layer.
    """
    fresh = [
        (plan, plan.clock_start) for plan in fresh_layers(linked) if plan.clock_start is not None
    ]
    wanted: list[tuple[Wait | None, str | None]] = [
        (ctx.zone.heating.wait, ctx.zone.heating.wait_from),
        (ctx.zone.covering.wait, _bed_id(ctx)),
    ]
    found = []
    for wait, layer_id in wanted:
        if wait is None or not fresh:
            continue
        named = [pair for pair in fresh if pair[0].layer.id == layer_id]
        plan, start = named[-1] if named else max(fresh, key=lambda pair: pair[1].earliest)
        due = ctx.clocks.due(
            rule="R13",
            wait=wait,
            sheet=plan.layer.sheet,
            thickness_m=plan.layer.thickness_m,
            start=start,
        )
        found.append((plan, due))
    return found


def _bed_id(ctx: ZoneContext) -> str | None:
    bed = ctx.stack.bed_under_covering()
    return bed.id if bed else None
