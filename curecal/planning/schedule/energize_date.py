"""A zone's date before people come into it: the latest of everything that must cure."""

from __future__ import annotations

from dataclasses import replace
from functools import reduce

from curecal.instants import Window
from curecal.planning.curing.clocks import WaitEnd
from curecal.planning.plan import Governing, HoldState, LayerPlan
from curecal.planning.schedule.layer_schedule import LayerSchedule
from curecal.planning.zone_context import ZoneContext
from curecal.records import Record, record
from curecal.trade.data_sheets import Milestone, Wait
from curecal.trade.findings import Message
from curecal.trade.hold_codes import HoldCode
from curecal.trade.job import CoveringKind
from curecal.trade.sources import Source


@record
class CureDate(Record):
    """A zone's date by its clocks, before people come into it; or why there is none."""

    window: Window | None
    governed_by: Governing | None
    source: Source | None
    blocked: Message | None


def compute_cure_date(ctx: ZoneContext, schedule: LayerSchedule) -> CureDate:
    """Return the latest of all heat dates: every layer's, the heating's, the covering's.

    None while a person has to decide about a base that was covered wet, and while a base that was
    there before is too wet: a new one has no cover date then.

    None as well where others lay the covering: whoever lays it knows when it may be heated.

    Rule: R10, R13, R15, R24a, R24b.
    """
    if ctx.zone.covering.kind is CoveringKind.BY_OTHERS:
        return CureDate(None, None, ctx.rules.source("R13"), Message("covering-by-others"))
    for hold in schedule.holds:
        covered_wet = hold.code is HoldCode.COVERED_WET and hold.is_outstanding
        too_wet = hold.code is HoldCode.MOISTURE_TEST and hold.state is HoldState.FAILED
        if covered_wet or too_wet:
            base = next(layer for layer in ctx.zone.layers if layer.id == hold.layer_id)
            here = Governing(base.id, base.name, Milestone.COVER, "R15")
            return CureDate(None, here, ctx.rules.source("R15"), hold.reason)
    dates = [_heat_date(plan) for plan in schedule.with_clock]
    dates += [_maker_date(plan, due) for plan, due in end_makers_waits(ctx, schedule)]
    windows = [date.window for date in dates if date.window is not None]
    if len(windows) < len(dates):
        return next(date for date in dates if date.window is None)
    if not windows:
        return CureDate(None, None, None, Message("nothing-to-wait-for"))
    window = reduce(Window.later, windows)
    # Of two that end alike the lower layer governs: it is named first.
    governing = dates[[end.earliest for end in windows].index(window.earliest)]
    return replace(governing, window=window)


def _heat_date(plan: LayerPlan) -> CureDate:
    heat = plan.milestones[Milestone.HEAT]
    here = Governing(plan.layer.id, plan.layer.name, Milestone.HEAT, heat.rule)
    return CureDate(heat.window, here, heat.source, heat.blocked)


def _maker_date(plan: LayerPlan, due: WaitEnd) -> CureDate:
    here = Governing(plan.layer.id, plan.layer.name, Milestone.HEAT, due.rule)
    return CureDate(due.window, here, due.wait.source, due.blocked)


def end_makers_waits(ctx: ZoneContext, schedule: LayerSchedule) -> list[tuple[LayerPlan, WaitEnd]]:
    """Return the heating maker's and the covering maker's own waits, each with its layer.

    Rule: R13.

    Returns:
        (layer, result) pairs; those whose layer has no date are left to that layer.
    """
    fresh = [
        (plan, plan.clock_start) for plan in schedule.with_clock if plan.clock_start is not None
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
        # From which layer nobody said: each one's clock counts, since the last one finished need
        # not be the slowest, and a coat more must bring no date nearer.
        for plan, start in named[-1:] or fresh:
            due = ctx.clocks.end_wait(
                rule="R13",
                wait=wait,
                sheet=plan.layer.sheet,
                thickness_m=plan.layer.thickness_m,
                start=start,
            )
            found.append((plan, due))
    return found


def _bed_id(ctx: ZoneContext) -> str | None:
    bed = ctx.build_up.bed_under_covering()
    return bed.id if bed else None
