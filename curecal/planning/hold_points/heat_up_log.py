"""What the log says of a heat-up that runs: who switched it on, and what was set."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime

from curecal.instants import local_day
from curecal.planning.first_heat.bare_screed import Span
from curecal.planning.first_heat.first_heat import (
    find_heat_up_runs,
    floor_limit,
    most_flow_step,
    most_step,
)
from curecal.planning.first_heat.heat_up_runs import (
    Running,
    find_runs,
    opening_temperature,
)
from curecal.planning.hold_points.judged_hold import finding_of
from curecal.planning.hold_points.stops import bare_spans, is_bare
from curecal.planning.repair import first_switched_on_by
from curecal.planning.schedule.layer_schedule import LayerSchedule
from curecal.planning.site_log.authority import names_any, speaks_as
from curecal.planning.tolerances import HAIR_K
from curecal.planning.zone_context import ZoneContext
from curecal.trade.findings import Finding, Message, Severity
from curecal.trade.job import HeatingKind, Role
from curecal.trade.site_log import Energized, HeatStep, Place, Reading

_ELECTRICIAN = frozenset({Role.ELECTRICIAN})


def switched_on_by(ctx: ZoneContext, running: Running) -> list[Finding]:
    """Return a warning of a first switch-on that was the electrician's, made by somebody else.

    Rule: R20.

    Args:
        ctx: the zone.
        running: the entries of the heat-up since the release, in order.

    Returns:
        At most one finding.
    """
    first_by = first_switched_on_by(ctx.zone, ctx.zone.layers)
    if first_by is not Role.ELECTRICIAN or not running:
        return []
    first = running[0]
    unsaid = not first.by and not names_any(ctx.job.people, _ELECTRICIAN, first.at)
    if unsaid or speaks_as(ctx.job.people, first, _ELECTRICIAN):
        return []
    params = {"on_at": first.at, "by": first.by or ""}
    return [finding_of(ctx, Severity.WARNING, "switched-on-by", first.path, params)]


def over_limit(
    ctx: ZoneContext, linked: LayerSchedule, running: Running
) -> tuple[Message | None, list[Finding]]:
    """Return that a floor is set over its limit, as long as nothing lower was set.

    Rule: R14, R19.

    Args:
        ctx: the zone.
        linked: its layers.
        running: the entries of the heat-up since the release, in order.

    Returns:
        Why the floor is stopped, or None; and the findings.
    """
    findings = []
    bare = bare_spans(linked)
    under = [step for step in ctx.facts.of(HeatStep, ctx.zone) if is_bare(bare, step.at)]
    after = [step for step in running if isinstance(step, HeatStep) and step not in under]
    last_at = max((step.at for step in (*under, *after)), default=None)
    stop: Message | None = None
    for steps, is_under in ((under, True), (after, False)):
        limit_c = _limit(ctx, bare=is_under)
        for step in steps:
            if limit_c is None or step.to_c <= limit_c + HAIR_K:
                continue
            params = {"set_c": step.to_c, "limit_c": limit_c, "set_at": step.at}
            if step.at == last_at:
                stop = Message("set-over-limit", params)
                findings.append(finding_of(ctx, Severity.STOP, stop.code, step.path, params))
            else:
                findings.append(
                    finding_of(ctx, Severity.WARNING, "was-over-limit", step.path, params)
                )
    seen, seen_findings = _seen_over(ctx, bare, running)
    return seen or stop, [*findings, *seen_findings]


def _seen_over(
    ctx: ZoneContext, bare: Sequence[Span], running: Running
) -> tuple[Message | None, list[Finding]]:
    """Return that a floor was measured over its limit, as long as nothing lower was measured."""
    since = running[0].at if running else None
    findings = []
    stop: Message | None = None
    looks = [
        (look, look.temperature_c, is_bare(bare, look.at))
        for look in ctx.facts.of(Reading, ctx.zone)
        if look.place is Place.FLOOR
        and look.temperature_c is not None
        and (is_bare(bare, look.at) or (since is not None and look.at >= since))
    ]
    own_at = [look.at for look, _, _ in looks if ctx.facts.is_from_the_job(look)]
    for look, seen_c, is_under in looks:
        limit_c = _floor_limit(ctx, bare=is_under)
        if look.heating_off or seen_c <= limit_c + HAIR_K:
            continue
        params = {"seen_c": seen_c, "limit_c": limit_c, "seen_at": look.at}
        if not any(at > look.at for at in own_at):
            stop = Message("floor-over-limit", params)
            findings.append(finding_of(ctx, Severity.STOP, stop.code, look.path, params))
        else:
            findings.append(
                finding_of(ctx, Severity.WARNING, "floor-was-over-limit", look.path, params)
            )
    return stop, findings


def _limit(ctx: ZoneContext, *, bare: bool) -> float | None:
    """Return what no set-point may pass [°C]; None where no flow temperature is stated."""
    if ctx.zone.heating.kind is HeatingKind.WATER:
        return max((flow_c for flow_c, _ in ctx.zone.heat_up.flow), default=None)
    return _floor_limit(ctx, bare=bare)


def _floor_limit(ctx: ZoneContext, *, bare: bool) -> float:
    limit_c, _ = floor_limit(ctx.zone, ctx.rules)
    return min(limit_c, ctx.rules.bare_screed.most_c) if bare else limit_c


def bare_running(ctx: ZoneContext, linked: LayerSchedule) -> Running:
    """Return what was switched on or set while a screed was heated bare, in order.

    Rule: R14.

    Args:
        ctx: the zone.
        linked: its layers.

    Returns:
        Entries in order; none for a zone without such a screed.
    """
    bare = bare_spans(linked)
    return [
        entry
        for entry in ctx.facts.entries
        if isinstance(entry, (Energized, HeatStep))
        and entry.zone in {None, ctx.zone.id}
        and is_bare(bare, entry.at)
    ]


def steep_steps(
    ctx: ZoneContext, running: Running, warmed_at: datetime | None, *, bare: bool = False
) -> list[Finding]:
    """Return a warning of each day of the heat-up that added more than a day may.

    Rule: R14, R19.

    Args:
        ctx: the zone.
        running: the entries of the heat-up since the release, or of a bare screed, in order.
        warmed_at: when the heat-up was over, if it is: what is set in service is no step of it.
        bare: whether it is a bare screed's.

    Returns:
        The findings.
    """
    findings: list[Finding] = []
    zone, tz = ctx.zone, ctx.calendar.tz
    by_water = zone.heating.kind is HeatingKind.WATER
    if by_water and bare:
        # Its own rule takes a bare screed from 25 °C to the highest at once.
        return findings
    if by_water:
        most_k = most_flow_step(zone, ctx.rules)
        runs = find_runs(ctx, running, None)
    elif bare:
        most_k = ctx.rules.bare_screed.step_k
        most_k = min(most_k, zone.heat_up.step_k or most_k)
        # Of a bare screed only what was set counts, or where it started.
        runs = find_runs(ctx, running, lambda start_c: [(start_c, 1)])
    else:
        most_k = most_step(zone, ctx.rules)
        runs = find_heat_up_runs(ctx, running)
    for run in runs:
        base_c, measured = ctx.rules.bare_screed.flow_c, True
        if not by_water:
            base_c, measured = opening_temperature(ctx, run)
        set_c = base_c
        base_on = local_day(run.opened_at or ctx.facts.as_of, tz)
        for entry in run.entries:
            if not isinstance(entry, HeatStep) or (warmed_at and entry.at >= warmed_at):
                continue
            today = local_day(entry.at, tz)
            if today != base_on:
                base_c, base_on, measured = set_c, today, True
            raised, set_c = entry.to_c > set_c, entry.to_c
            if raised and set_c - base_c > most_k + HAIR_K:
                params = {
                    "set_c": set_c,
                    "set_at": entry.at,
                    "rise_k": set_c - base_c,
                    "step_k": most_k,
                    "assumed_c": None if measured else base_c,
                }
                findings.append(
                    finding_of(ctx, Severity.WARNING, "heat-step-steep", entry.path, params)
                )
    return findings
