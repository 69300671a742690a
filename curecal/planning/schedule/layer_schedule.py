"""The chain of work: what may follow what and when, planned work slid into working hours.

Clocks run side by side, work runs in series: a layer starts once the layers under it allow it.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from datetime import datetime
from functools import reduce

from curecal.instants import Window, add, start_of_day
from curecal.planning.climate.zone_climate import End
from curecal.planning.curing.frost_and_cold import start_after_harm
from curecal.planning.curing.moisture_tests import needs_test, verdict
from curecal.planning.curing.waits import PLAIN_MILESTONES
from curecal.planning.first_heat.bare_screed import (
    bare_heat_up,
    bare_told,
    covered_at,
    note_unlogged,
    note_unsure,
)
from curecal.planning.first_heat.first_heat import lacks_flow
from curecal.planning.plan import (
    HeatUp,
    LayerPlan,
    MilestonePlan,
    Step,
)
from curecal.planning.schedule.covering_order import (
    Gates,
    check_gates,
    check_open_time,
    laid_before,
)
from curecal.planning.zone_context import ZoneContext
from curecal.records import Record, record
from curecal.trade.data_sheets import SPLIT_OVER_A_NIGHT, Kind, Milestone
from curecal.trade.findings import Finding, Message, Severity
from curecal.trade.job import Layer


@record
class Chain(Record):
    """A zone's layers planned, and the heat-ups of screeds that stand bare."""

    layers: tuple[LayerPlan, ...]
    bare_heat_ups: tuple[HeatUp, ...]


def chain(ctx: ZoneContext) -> Chain:
    """Return every layer's dates, from the bottom up.

    Rule: R15, R26, R28.

    Args:
        ctx: the zone; findings and holds are noted on it.

    Returns:
        The layers and the bare heat-ups.
    """
    planned: dict[str, LayerPlan] = {}
    heat_ups: list[HeatUp] = []
    for layer in ctx.zone.layers:
        if layer.existing:
            planned[layer.id] = LayerPlan(layer, planned=False, start=None, finish=None)
            continue
        impossible = laid_before(ctx, layer)
        if impossible is not None:
            blocked = _all_blocked(ctx, layer, impossible)
            planned[layer.id] = LayerPlan(
                layer, planned=False, start=None, finish=None, milestones=blocked
            )
            continue
        gates = _gates(ctx, layer, planned)
        if layer.done_at is not None:
            check_gates(ctx, layer, layer.done_at, gates)
            start = None
            finish: Window | None = Window(layer.done_at, layer.done_at)
        else:
            start, finish = _placed(ctx, layer, gates, planned)
            check_open_time(ctx, layer, start, gates)
        planned[layer.id] = _dated(ctx, layer, start, finish, gates, heat_ups)
    _told_once(ctx)
    return Chain(tuple(planned.values()), tuple(heat_ups))


def _told_once(ctx: ZoneContext) -> None:
    """Say of a late frost once what it says of every layer it reached."""
    alike: dict[tuple[object, object], list[Finding]] = {}
    for found in ctx.findings:
        if found.code == "frost-after-hardening":
            told = found.params
            alike.setdefault((told["frozen_at"], told.get("read_c")), []).append(found)
    for first, *others in alike.values():
        names = ", ".join(str(each.params["layer"]) for each in (first, *others))
        once = replace(first, params={**first.params, "layer": names})
        ctx.findings[ctx.findings.index(first)] = once
        for other in others:
            ctx.findings.remove(other)


def _gates(ctx: ZoneContext, layer: Layer, planned: Mapping[str, LayerPlan]) -> Gates:
    gates: Gates = []
    for under in ctx.stack.below(layer):
        milestone = ctx.stack.gate(under, layer)
        if milestone is not None:
            below = planned[under.id]
            gates.append((below, milestone, below.milestones.get(milestone)))
    return gates


def _placed(
    ctx: ZoneContext, layer: Layer, gates: Gates, planned: Mapping[str, LayerPlan]
) -> tuple[Window | None, Window | None]:
    """Return when a layer that is not done starts and finishes, at both ends."""
    allowed = [gate.window for _, _, gate in gates if gate is not None]
    below = [planned[under.id] for under in ctx.stack.below(layer) if not under.existing]
    windows = [*allowed, *(plan.finish for plan in below)]
    known = [window for window in windows if window is not None]
    if len(known) < len(windows):
        return None, None
    gate = reduce(Window.later, known) if known else None
    _is_it_done(ctx, layer)
    wet = layer.sheet.kind is Kind.UNCOUPLING_SHEET and any(
        under.sheet.kind is Kind.THINSET and not under.existing for under in ctx.stack.below(layer)
    )
    duration_s = 0.0 if wet and layer.duration_s is None else layer.duration_s
    first = _run(ctx, layer, gate.earliest if gate else None, duration_s, free=wet)
    if first is None:
        return None, None
    if gate is None:
        return Window(first[0], first[0]), Window(first[1], first[1])
    last = None
    if gate.latest is not None:
        last = _run(ctx, layer, gate.latest, duration_s, free=wet)
    if last is None:
        return Window(first[0], None), Window(first[1], None)
    return Window(first[0], last[0]), Window(first[1], last[1])


def _is_it_done(ctx: ZoneContext, layer: Layer) -> None:
    if layer.planned_finish_at is not None and layer.planned_finish_at <= ctx.facts.as_of:
        params = {"layer": layer.name, "planned_at": layer.planned_finish_at}
        ctx.find(Severity.WARNING, "is-it-done", layer.path, params, layer.id)


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


def _dated(
    ctx: ZoneContext,
    layer: Layer,
    start: Window | None,
    finish: Window | None,
    gates: Gates,
    heat_ups: list[HeatUp],
) -> LayerPlan:
    """Return a layer with its milestones."""
    is_planned = layer.done_at is None
    if finish is None:
        blocked = next(
            (gate.blocked for _, _, gate in gates if gate is not None and gate.blocked), None
        )
        below = next((plan.layer.name for plan, _, _ in gates), layer.name)
        reason = blocked or Message("waits-for-below", {"layer": layer.name, "under": below})
        return LayerPlan(layer, is_planned, None, None, _all_blocked(ctx, layer, reason))
    if layer.done_at is None:
        params = {"layer": layer.name, "finish_at": finish.earliest}
        lead: tuple[Step, ...] = (Step("planned", "R26", ctx.rules.source("R26"), params),)
        clock_start = finish
    else:
        params = {"layer": layer.name, "done_at": layer.done_at}
        lead = (Step("done", "R27", ctx.rules.source("R27"), params),)
        harmed = start_after_harm(
            ctx.zone,
            layer,
            layer.done_at,
            ctx.clocks,
            ctx.facts,
            last_due=lambda begun: _last_due(ctx, layer, begun),
            cover_due=lambda begun: _cover_due(ctx, layer, begun),
        )
        ctx.findings.extend(harmed.findings)
        ctx.holds.extend(harmed.holds)
        lead += harmed.steps
        if harmed.window is None:
            reason = harmed.blocked or Message("frost")
            return LayerPlan(layer, is_planned, start, finish, _all_blocked(ctx, layer, reason))
        clock_start = harmed.window
    milestones = _milestones(ctx, layer, clock_start, lead, heat_ups)
    return LayerPlan(layer, is_planned, start, finish, milestones, clock_start=clock_start)


def _all_blocked(ctx: ZoneContext, layer: Layer, reason: Message) -> dict[Milestone, MilestonePlan]:
    """Return a layer's milestones without a date, each for the same reason."""
    source = ctx.rules.source("R15")
    wanted = [*PLAIN_MILESTONES, Milestone.COVER, Milestone.HEAT]
    gated = {ctx.stack.gate(layer, other) for other in ctx.stack.above(layer)}
    return {
        milestone: MilestonePlan(milestone, None, "R15", source, (), reason)
        for milestone in wanted
        if milestone is Milestone.HEAT or milestone in gated or ctx.waits.of(layer, milestone)
    }


def _last_due(ctx: ZoneContext, layer: Layer, start: Window) -> datetime | None:
    """Return the latest end of the last of a layer's waits; None where one has no end."""
    last: datetime | None = start.latest
    # Walking gates nothing, so it must not lengthen what frost may harm either.
    counted = [each for each in PLAIN_MILESTONES if each is not Milestone.WALK]
    for milestone in (*counted, Milestone.COVER, Milestone.HEAT):
        for due in ctx.waits.due(ctx.clocks, layer, milestone, start):
            if due.window is None or due.window.latest is None:
                return None
            last = due.window.latest if last is None else max(last, due.window.latest)
    return last


def _cover_due(ctx: ZoneContext, layer: Layer, start: Window) -> datetime | None:
    """Return the latest end of what lets a layer be covered first; None where it has no end."""
    for milestone in (Milestone.COVER, Milestone.GROUT, Milestone.SEAL, Milestone.WALK):
        dues = ctx.waits.due(ctx.clocks, layer, milestone, start)
        if dues:
            window = dues[0].window
            return None if window is None else window.latest
    return start.latest


def _milestones(
    ctx: ZoneContext,
    layer: Layer,
    start: Window,
    lead: tuple[Step, ...],
    heat_ups: list[HeatUp],
) -> dict[Milestone, MilestonePlan]:
    found: dict[Milestone, MilestonePlan] = {}
    for milestone in PLAIN_MILESTONES:
        plan = ctx.waits.plan(ctx.clocks, layer, milestone, start, lead)
        if plan is not None:
            found[milestone] = plan
    cover = ctx.waits.plan(ctx.clocks, layer, Milestone.COVER, start, lead)
    covered = any(other.done_at is not None for other in ctx.stack.above(layer))
    bare = None
    if layer.heat_before_covering or not covered:
        bare = ctx.waits.plan(ctx.clocks, layer, Milestone.BARE_HEAT, start, lead)
    if bare is not None:
        found[Milestone.BARE_HEAT] = replace(bare, informative=not layer.heat_before_covering)
        if layer.heat_before_covering:
            cover = _after_bare_heat(ctx, layer, bare, cover, heat_ups)
    if cover is not None and needs_test(ctx.stack, layer):
        cover = _by_test(ctx, layer, cover)
    heat = ctx.waits.heat(ctx.clocks, layer, start, lead, cover)
    last = {Milestone.COVER: cover, Milestone.HEAT: heat}
    return found | {milestone: plan for milestone, plan in last.items() if plan is not None}


def _after_bare_heat(
    ctx: ZoneContext,
    layer: Layer,
    bare: MilestonePlan,
    cover: MilestonePlan | None,
    heat_ups: list[HeatUp],
) -> MilestonePlan:
    """Return when a screed heated bare may be covered: once it has cooled down."""
    if bare.window is None:
        return replace(bare, milestone=Milestone.COVER)
    ready = bare.window.earliest
    until = covered_at(ctx, layer)
    begun, warm_until = bare_told(ctx, bare.window, until)
    note_unlogged(ctx, layer, bare.window, begun, until)
    first = bare_heat_up(ctx, ready, End.EARLIEST, begun)
    if first is None:
        reason = Message("water-profile-wanted" if lacks_flow(ctx.zone) else "no-working-day")
        return replace(bare, milestone=Milestone.COVER, window=None, blocked=reason)
    if warm_until is not None:
        first = replace(first, ends_on=max(first.ends_on, warm_until))
    cooled_at = start_of_day(first.ends_on, ctx.calendar.tz)
    last = (
        None
        if bare.window.latest is None
        else bare_heat_up(ctx, bare.window.latest, End.LATEST, begun)
    )
    # Once its first day has come and is not sure, what is told is the sure one.
    unsure = begun is None and note_unsure(ctx, layer, bare.window)
    shown = last if unsure else first
    heat_ups.extend([shown] if shown is not None else [])
    latest = None
    if last is not None:
        latest = max(cooled_at, start_of_day(last.ends_on, ctx.calendar.tz))
    params = {
        "heat_at": ready,
        "first_on": first.steps[0].on,
        "ends_on": first.ends_on,
        "earliest_at": cooled_at,
    }
    steps = [*bare.steps, Step("bare-heat-up", "R14", ctx.rules.source("R14"), params)]
    if cover is not None and cover.window is not None:
        # The drying rule does not hold for a heated screed; what it says is information.
        told = {"earliest_at": cover.window.earliest}
        steps.append(Step("drying-rule-information", "R14", ctx.rules.source("R14"), told))
    return MilestonePlan(
        Milestone.COVER,
        Window(cooled_at, latest),
        "R14",
        ctx.rules.source("R14"),
        tuple(steps),
        estimate=True,
    )


def _by_test(ctx: ZoneContext, layer: Layer, cover: MilestonePlan) -> MilestonePlan:
    """Return a cover milestone as the moisture test leaves it."""
    heated = layer.heat_before_covering
    cold_at = cover.window.earliest if heated and cover.window is not None else None
    said = verdict(ctx.stack, layer, ctx.facts, ctx.rules, cold_at=cold_at)
    ctx.holds.append(said.hold)
    ctx.findings.extend(said.findings)
    if said.test is None:
        return replace(cover, estimate=True)
    source = ctx.rules.source("R3")
    if not said.passed:
        return replace(cover, window=None, blocked=said.hold.reason, rule="R3", source=source)
    at = said.test.at
    window = Window(at, at)
    if heated:
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
