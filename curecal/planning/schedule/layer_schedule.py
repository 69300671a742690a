"""When each layer starts, finishes and allows what follows; planned work in working hours.

Clocks run side by side, work runs in series: a layer starts once the layers under it allow it.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from curecal.instants import Window
from curecal.planning.curing.frost_and_cold import find_clock_start
from curecal.planning.curing.moisture_not_required import waive_test
from curecal.planning.curing.moisture_tests import verdict
from curecal.planning.plan import HeatUp, Hold, LayerPlan, Step
from curecal.planning.schedule.covering_order import (
    Prerequisite,
    check_covering,
    find_cement_on_sulfate,
    find_impossible_order,
    find_open_too_long,
)
from curecal.planning.schedule.layer_milestones import (
    block_milestones,
    date_milestones,
    find_cover_end,
    find_last_end,
)
from curecal.planning.schedule.planned_work import ask_about_plan, fit_planned_work
from curecal.planning.site_log.doubtful_finish import doubt_about_finish
from curecal.planning.zone_context import ZoneContext
from curecal.records import Record, record
from curecal.trade.findings import Finding, FindingCode, Message, Severity
from curecal.trade.job import Layer


@record
class LayerSchedule(Record):
    """A zone's layers from the bottom up, with the heat-ups of screeds that lie bare.

    `holds` are the hold points of its layers: moisture tests, cold, bases covered wet.
    """

    layers: tuple[LayerPlan, ...] = ()
    bare_heat_ups: tuple[HeatUp, ...] = ()
    findings: tuple[Finding, ...] = ()
    holds: tuple[Hold, ...] = ()

    @property
    def with_clock(self) -> tuple[LayerPlan, ...]:
        """The layers the heat waits for: not those there before, nor joints and edges (R29)."""
        return tuple(
            [
                plan
                for plan in self.layers
                if not plan.layer.existing and plan.layer.sheet.puts_off_heat
            ]
        )

    def plan_of(self, layer: Layer) -> LayerPlan:
        """Return one layer's plan."""
        return next(plan for plan in self.layers if plan.layer.id == layer.id)

    def followed_by(self, upper: LayerSchedule) -> LayerSchedule:
        """Return both schedules as one, the other's layers on top."""
        if not (self.layers or self.findings or self.holds or self.bare_heat_ups):
            return upper
        return LayerSchedule(
            (*self.layers, *upper.layers),
            (*self.bare_heat_ups, *upper.bare_heat_ups),
            (*self.findings, *upper.findings),
            (*self.holds, *upper.holds),
        )


def schedule_layers(ctx: ZoneContext) -> LayerSchedule:
    """Return every layer's dates, from the bottom up: each waits for what lies under it.

    Rule: R15, R26, R28.
    """
    schedule = LayerSchedule()
    for layer in ctx.zone.layers:
        schedule = schedule.followed_by(_schedule_layer(ctx, layer, schedule))
    findings = _joined_late_frost(schedule.findings)
    return LayerSchedule(schedule.layers, schedule.bare_heat_ups, findings, schedule.holds)


def _joined_late_frost(findings: Sequence[Finding]) -> tuple[Finding, ...]:
    """Return findings, a late frost said once for all the layers it reached."""
    joined: dict[tuple[object, object], Finding] = {}
    for finding in findings:
        if finding.code == FindingCode.FROST_AFTER_HARDENING:
            frost = (finding.params["frozen_at"], finding.params.get("read_c"))
            first = joined.setdefault(frost, finding)
            if first is not finding:
                names = f"{first.params['layer']}, {finding.params['layer']}"
                joined[frost] = replace(first, params={**first.params, "layer": names})
    others = [finding for finding in findings if finding.code != FindingCode.FROST_AFTER_HARDENING]
    return (*others, *joined.values())


def _schedule_layer(ctx: ZoneContext, layer: Layer, below: LayerSchedule) -> LayerSchedule:
    """Return one layer's schedule, what lies under it being scheduled."""
    undated = LayerPlan(layer, planned=False, start=None, finish=None)
    if layer.existing:
        decided = verdict(ctx.build_up, layer, ctx.facts, ctx.rules)
        if decided.hold is None:
            return LayerSchedule((undated,), findings=decided.findings)
        waived = waive_test(decided.hold, ctx.zone, layer, ctx.facts, ctx.job.expected, ctx.rules)
        findings = (*decided.findings, *waived.findings)
        return LayerSchedule((undated,), findings=findings, holds=(waived.hold,))
    refused = find_impossible_order(ctx, layer) or _find_doubt(ctx, layer)
    if refused is not None:
        reason = Message(refused.code, refused.params)
        blocked = replace(undated, milestones=block_milestones(ctx, layer, reason))
        return LayerSchedule((blocked,), findings=(refused,))
    unprimed = find_cement_on_sulfate(ctx, layer)
    return _after(unprimed.findings, unprimed.holds, _place_layer(ctx, layer, below))


def _place_layer(ctx: ZoneContext, layer: Layer, below: LayerSchedule) -> LayerSchedule:
    """Return one layer's schedule in a possible order: when it was done, or can be."""
    prerequisites = _prerequisites(ctx, layer, below)
    if layer.done_at is not None:
        covering = check_covering(ctx, layer, layer.done_at, prerequisites)
        finish = Window(layer.done_at, layer.done_at)
        done = _with_milestones(ctx, layer, None, finish)
        return _after(covering.findings, covering.holds, done)
    gates = _gates(ctx, layer, prerequisites, below)
    if gates is None:
        reason = _why_not_placed(layer, prerequisites)
        return LayerSchedule((_blocked(ctx, layer, None, None, reason),))
    findings = ask_about_plan(ctx, layer)
    placed = fit_planned_work(ctx, layer, gates)
    if placed is None:
        reason = _why_not_placed(layer, prerequisites)
        return LayerSchedule((_blocked(ctx, layer, None, None, reason),), findings=findings)
    start, finish = placed
    findings += tuple(find_open_too_long(ctx, layer, start.earliest, prerequisites))
    return _after(findings, (), _with_milestones(ctx, layer, start, finish))


def _after(
    findings: tuple[Finding, ...], holds: tuple[Hold, ...], placed: LayerSchedule
) -> LayerSchedule:
    """Return a layer's schedule with what was found before it was placed."""
    if not findings and not holds:
        return placed
    return LayerSchedule(findings=findings, holds=holds).followed_by(placed)


def _find_doubt(ctx: ZoneContext, layer: Layer) -> Finding | None:
    """Return the question whether a layer's finish is right, where it looks like a slip."""
    doubt = doubt_about_finish(ctx.job, ctx.zone, layer, ctx.facts)
    if doubt is None:
        return None
    return ctx.finding(Severity.WARNING, doubt.code, layer.path, doubt.params, layer.id)


def _prerequisites(ctx: ZoneContext, layer: Layer, below: LayerSchedule) -> list[Prerequisite]:
    found = []
    for under in (*ctx.build_up.below(layer), *ctx.build_up.bases_under_films(layer)):
        milestone = ctx.build_up.required_milestone(under, layer)
        if milestone is not None:
            plan = below.plan_of(under)
            found.append(Prerequisite(plan, milestone, plan.milestones.get(milestone)))
    return found


def _gates(
    ctx: ZoneContext, layer: Layer, prerequisites: Sequence[Prerequisite], below: LayerSchedule
) -> list[Window] | None:
    """Return what a layer that is not done waits for; None where some of it has no date."""
    allowed = [wait.opens.window for wait in prerequisites if wait.opens is not None]
    # Nothing is laid on what is not down yet, whatever it waits for.
    finished = [
        below.plan_of(under).finish for under in ctx.build_up.below(layer) if not under.existing
    ]
    windows = [*allowed, *finished]
    known = [window for window in windows if window is not None]
    return known if len(known) == len(windows) else None


def _with_milestones(
    ctx: ZoneContext, layer: Layer, start: Window | None, finish: Window
) -> LayerSchedule:
    """Return a layer whose finish is known with its milestones; `start` where it is planned."""
    findings: tuple[Finding, ...] = ()
    holds: tuple[Hold, ...] = ()
    if layer.done_at is None:
        params = {"layer": layer.name, "finish_at": finish.earliest}
        lead: tuple[Step, ...] = (Step("planned", "R26", ctx.rules.source("R26"), params),)
        clock_start = finish
    else:
        params = {"layer": layer.name, "done_at": layer.done_at}
        lead = (Step("done", "R27", ctx.rules.source("R27"), params),)
        clock = find_clock_start(
            ctx.zone,
            layer,
            layer.done_at,
            ctx.clocks,
            ctx.facts,
            last_end=lambda begun: find_last_end(ctx, layer, begun),
            cover_end=lambda begun: find_cover_end(ctx, layer, begun),
        )
        findings, holds = clock.findings, clock.holds
        lead += clock.steps
        if clock.window is None:
            reason = clock.blocked or Message("frost")
            plan = _blocked(ctx, layer, start, finish, reason)
            return LayerSchedule((plan,), findings=findings, holds=holds)
        clock_start = clock.window
    found = date_milestones(ctx, layer, clock_start, lead)
    plan = LayerPlan(
        layer, layer.done_at is None, start, finish, found.plans, clock_start=clock_start
    )
    return LayerSchedule(
        (plan,), found.bare_heat_ups, (*findings, *found.findings), (*holds, *found.holds)
    )


def _why_not_placed(layer: Layer, prerequisites: Sequence[Prerequisite]) -> Message:
    """Return why a planned layer has no day: what blocks the one under it, or that one itself."""
    opening = [wait.opens for wait in prerequisites if wait.opens is not None]
    under = next((wait.below.layer.name for wait in prerequisites), layer.name)
    waits = Message("waits-for-below", {"layer": layer.name, "under": under})
    return next((opens.blocked for opens in opening if opens.blocked), waits)


def _blocked(
    ctx: ZoneContext, layer: Layer, start: Window | None, finish: Window | None, reason: Message
) -> LayerPlan:
    blocked = block_milestones(ctx, layer, reason)
    return LayerPlan(layer, layer.done_at is None, start, finish, blocked)
