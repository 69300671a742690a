"""A layer's milestones: its waits run from where its clocks start, and what tests make of them."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from datetime import datetime

from curecal.instants import Window, start_of_day
from curecal.planning.climate.zone_climate import End
from curecal.planning.curing.moisture_not_required import waive_test
from curecal.planning.curing.moisture_tests import Verdict, verdict
from curecal.planning.curing.waits import PLAIN_MILESTONES
from curecal.planning.first_heat.bare_screed import (
    covered_at,
    find_unlogged,
    find_unsure,
    read_bare_log,
)
from curecal.planning.first_heat.first_heat import lacks_flow, plan_bare_heat_up
from curecal.planning.plan import HeatUp, Hold, MilestonePlan, Step
from curecal.planning.zone_context import ZoneContext
from curecal.records import Record, record
from curecal.trade.data_sheets import Milestone
from curecal.trade.findings import Finding, Message
from curecal.trade.job import Layer


@record
class LayerMilestones(Record):
    """A layer's milestones, and what was found on the way to them."""

    plans: Mapping[Milestone, MilestonePlan]
    bare_heat_ups: tuple[HeatUp, ...] = ()
    findings: tuple[Finding, ...] = ()
    holds: tuple[Hold, ...] = ()


@record
class _Cover(Record):
    """When a layer may be covered, as its bare heat-up and its moisture test leave it."""

    plan: MilestonePlan | None
    heat_ups: tuple[HeatUp, ...] = ()
    findings: tuple[Finding, ...] = ()
    holds: tuple[Hold, ...] = ()


def date_milestones(
    ctx: ZoneContext, layer: Layer, start: Window, lead: tuple[Step, ...]
) -> LayerMilestones:
    """Return what a layer allows and when, from the instant its clocks start.

    Rule: R3, R10, R14, R15.

    Args:
        start: where its clocks run from, after frost.
        lead: steps that come first: when the layer was done, what the site did to it.
    """

    def date_from_start(milestone: Milestone) -> MilestonePlan | None:
        return ctx.waits.plan_milestone(ctx.clocks, layer, milestone, start, lead)

    # What its sheet says nothing of is none of its milestones, unless its build-up makes it one.
    given = layer.sheet.waits
    plain = {
        milestone: date_from_start(milestone)
        for milestone in PLAIN_MILESTONES
        if milestone in given or milestone is Milestone.GROUT
    }
    cover = _Cover(date_from_start(Milestone.COVER))
    is_covered = any(other.done_at is not None for other in ctx.build_up.above(layer))
    bare = None
    # Of a screed nobody plans to heat bare it is told only while it still could be.
    if layer.heat_before_covering or not is_covered:
        bare = date_from_start(Milestone.BARE_HEAT)
    if bare is not None and layer.heat_before_covering:
        cover = _after_bare_heat(ctx, layer, bare, cover.plan)
    # After the heat-up: the test is taken of the cold screed, and has the last word.
    cover = _by_test(ctx, layer, cover)
    dated = {
        **plain,
        Milestone.BARE_HEAT: bare and replace(bare, informative=not layer.heat_before_covering),
        Milestone.COVER: cover.plan,
        Milestone.HEAT: ctx.waits.plan_heat(ctx.clocks, layer, start, lead, cover.plan),
    }
    plans = {milestone: plan for milestone, plan in dated.items() if plan is not None}
    return LayerMilestones(plans, cover.heat_ups, cover.findings, cover.holds)


def block_milestones(
    ctx: ZoneContext, layer: Layer, reason: Message
) -> dict[Milestone, MilestonePlan]:
    """Return a layer's milestones without a date, each for the same reason.

    Rule: R15.
    """
    source = ctx.rules.source("R15")
    wanted = [*PLAIN_MILESTONES, Milestone.COVER, Milestone.HEAT]
    gated = {ctx.build_up.required_milestone(layer, other) for other in ctx.build_up.above(layer)}
    return {
        milestone: MilestonePlan(milestone, None, "R15", source, (), reason)
        for milestone in wanted
        if (milestone is Milestone.HEAT and layer.sheet.puts_off_heat)
        or milestone in gated
        or ctx.waits.waits_of(layer, milestone)
    }


def _after_bare_heat(
    ctx: ZoneContext, layer: Layer, bare: MilestonePlan, cover: MilestonePlan | None
) -> _Cover:
    """Return when a screed heated bare may be covered: once it has cooled down."""
    if bare.window is None:
        return _Cover(replace(bare, milestone=Milestone.COVER))
    until = covered_at(ctx, layer)
    begun, warm_until = read_bare_log(ctx, bare.window, until)
    findings = find_unlogged(ctx, layer, bare.window, begun, until)
    first = plan_bare_heat_up(ctx, bare.window.earliest, End.EARLIEST, begun)
    if first is None:
        reason = Message("water-profile-wanted" if lacks_flow(ctx.zone) else "no-working-day")
        blocked = replace(bare, milestone=Milestone.COVER, window=None, blocked=reason)
        return _Cover(blocked, findings=findings)
    if warm_until is not None:
        first = replace(first, ends_on=max(first.ends_on, warm_until))
    cooled_at = start_of_day(first.ends_on, ctx.calendar.tz)
    last = (
        None
        if bare.window.latest is None
        else plan_bare_heat_up(ctx, bare.window.latest, End.LATEST, begun)
    )
    # Once its first day has come and is not sure, what is told is the sure one.
    unsure = find_unsure(ctx, layer, bare.window) if begun is None else ()
    shown = last if unsure else first
    latest = None
    if last is not None:
        latest = max(cooled_at, start_of_day(last.ends_on, ctx.calendar.tz))
    params = {
        "heat_at": bare.window.earliest,
        "first_on": first.steps[0].on,
        "ends_on": first.ends_on,
        "earliest_at": cooled_at,
    }
    steps = [*bare.steps, Step("bare-heat-up", "R14", ctx.rules.source("R14"), params)]
    if cover is not None and cover.window is not None:
        # The drying rule does not hold for a heated screed; what it says is information.
        told = {"earliest_at": cover.window.earliest}
        steps.append(Step("drying-rule-information", "R14", ctx.rules.source("R14"), told))
    cooled = MilestonePlan(
        Milestone.COVER,
        Window(cooled_at, latest),
        "R14",
        ctx.rules.source("R14"),
        tuple(steps),
        estimate=True,
    )
    return _Cover(cooled, () if shown is None else (shown,), (*findings, *unsure))


def _by_test(ctx: ZoneContext, layer: Layer, before: _Cover) -> _Cover:
    """Return when a layer may be covered as its moisture tests leave it, with that hold point."""
    cover = before.plan
    heated = layer.heat_before_covering
    cooled = cover.window if heated and cover is not None else None
    cold_at = None if cooled is None else cooled.earliest
    decided = verdict(ctx.build_up, layer, ctx.facts, ctx.rules, cold_at=cold_at)
    if decided.hold is None and not decided.findings:
        return before
    findings = (*before.findings, *decided.findings)
    if decided.hold is None:
        return replace(before, findings=findings)
    # A fresh base is never let off; that somebody tried is said.
    waived = waive_test(decided.hold, ctx.zone, layer, ctx.facts, ctx.job.expected, ctx.rules)
    if cover is not None:
        cover = _tested_cover(ctx, cover, decided, decided.hold, heated=heated)
    return _Cover(cover, before.heat_ups, (*findings, *waived.findings), (decided.hold,))


def _tested_cover(
    ctx: ZoneContext, cover: MilestonePlan, decided: Verdict, hold: Hold, *, heated: bool
) -> MilestonePlan:
    if decided.test is None:
        return replace(cover, estimate=True)
    source = ctx.rules.source("R3")
    if not decided.passed:
        return replace(cover, window=None, blocked=hold.reason, rule="R3", source=source)
    at = decided.test.at
    window = Window(at, at)
    if heated or not cover.estimate:
        # A heated screed is covered once it is dry and cold, one with a time of its own once it is
        # dry and hard: the later of both.
        if cover.window is None:
            return cover
        window = window.later(cover.window)
    step = Step("test-passed", "R3", source, {"tested_at": at, "earliest_at": window.earliest})
    return replace(
        cover,
        window=window,
        blocked=None,
        rule="R3",
        source=source,
        estimate=False,
        steps=(*cover.steps, step),
    )


def find_last_end(ctx: ZoneContext, layer: Layer, start: Window) -> datetime | None:
    """Return the latest end of the last of a layer's waits; None where one has no end.

    Rule: R16.
    """
    last: datetime | None = start.latest
    # Walking gates nothing, so it must not lengthen what frost may harm either.
    counted = [plain for plain in PLAIN_MILESTONES if plain is not Milestone.WALK]
    milestones = (*counted, Milestone.COVER, Milestone.HEAT)
    if not any(ctx.waits.waits_of(layer, milestone) for milestone in milestones):
        # Nobody knows when it is dry.
        return None
    for milestone in milestones:
        for due in ctx.waits.end_waits(ctx.clocks, layer, milestone, start):
            if due.window is None or due.window.latest is None:
                return None
            last = due.window.latest if last is None else max(last, due.window.latest)
    return last


def find_cover_end(ctx: ZoneContext, layer: Layer, start: Window) -> datetime | None:
    """Return the latest end of what lets a layer be covered first; None where it has no end.

    Rule: R17.
    """
    for milestone in (Milestone.COVER, Milestone.GROUT, Milestone.SEAL, Milestone.WALK):
        dues = ctx.waits.end_waits(ctx.clocks, layer, milestone, start)
        if dues:
            window = dues[0].window
            return None if window is None else window.latest
    return start.latest
