"""From the date to the set-points: limits, the floor's own temperature, days.

The floor starts from what it measures that morning; until somebody measured it, the ramp is
shown from the expected air less an allowance, and marked.
"""

from __future__ import annotations

from datetime import date, datetime
from itertools import pairwise

from curecal.instants import local_day
from curecal.planning.climate.zone_climate import End
from curecal.planning.first_heat.heat_up_runs import (
    HeatUpRun,
    Running,
    find_runs,
    opening_temperature,
    starting_temperature,
)
from curecal.planning.first_heat.set_points import (
    Profile,
    bare_screed_profile,
    finished_flow_profile,
    first_heat_profile,
    set_on_days,
)
from curecal.planning.plan import HeatUp, HeatUpPurpose
from curecal.planning.repair import mends
from curecal.planning.tolerances import HAIR_K
from curecal.planning.zone_context import ZoneContext
from curecal.trade.findings import Finding, Message, Severity
from curecal.trade.job import CoveringFamily, CoveringKind, HeatingKind, Room, Zone
from curecal.trade.rules import Rules
from curecal.trade.site_log import Mode, ThermostatSet


def floor_limit(zone: Zone, rules: Rules) -> tuple[float, Message]:
    """Return the strictest limit of a floor's temperature, and where it comes from.

    Rule: R19.

    Returns:
        The limit [°C] and a message that names its source.
    """
    limits_c = {
        Room.LIVING_SPACE: rules.first_heat.living_space_c,
        Room.BATHROOM: rules.first_heat.bathroom_c,
        Room.PERIMETER_STRIP: rules.first_heat.perimeter_c,
    }
    room_c = limits_c[zone.room]
    limits = [(room_c, Message("limit-room", {"room_kind": zone.room.value}))]
    if not zone.covering.kind.is_mineral:
        soft_c = rules.first_heat.wood_resilient_c
        by_kind = Message("limit-covering-kind", {"kind": zone.covering.kind.value})
        if zone.covering.kind is CoveringKind.BY_OTHERS:
            by_kind = Message("limit-covering-by-others")
        limits.append((soft_c, by_kind))
    if zone.covering.limit_c is not None:
        message = Message("limit-covering", {"kind": zone.covering.kind.value})
        limits.append((zone.covering.limit_c, message))
    if zone.heating.floor_limit_c is not None:
        limits.append((zone.heating.floor_limit_c, Message("limit-heating")))
    return min(limits, key=lambda limit: limit[0])


def step_limit(zone: Zone, rules: Rules) -> float:
    """Return the most a day may add under a covering [K].

    Rule: R19.
    """
    if zone.covering.kind.is_mineral:
        return rules.first_heat.step_k
    if zone.covering.kind.family in {CoveringFamily.VINYL, CoveringFamily.POURED}:
        return rules.first_heat.vinyl_step_k
    # Of a covering that others choose the gentlest is taken.
    return rules.first_heat.wood_step_k


def check_wishes(zone: Zone, rules: Rules) -> list[Finding]:
    """Return what to know of a job's heat-up wishes: each beyond its limit, which is used instead.

    Rule: R19.
    """
    found = []
    limit_c, limit_from = floor_limit(zone, rules)
    target_c, step_k, hold_days = zone.heat_up.target_c, zone.heat_up.step_k, zone.heat_up.hold_days
    path = f"{zone.path}.heat_up"
    if target_c is not None and target_c > limit_c + HAIR_K:
        params: dict[str, object] = {"wish_c": target_c, "limit_c": limit_c, "why": limit_from}
        found.append(
            Finding(Severity.WARNING, "target-over-limit", f"{path}.target", params, zone.id)
        )
    most_k = step_limit(zone, rules)
    if step_k is not None and step_k > most_k + HAIR_K:
        params = {"wish_k": step_k, "limit_k": most_k, "kind": zone.covering.kind.value}
        found.append(Finding(Severity.WARNING, "step-over-limit", f"{path}.step", params, zone.id))
    least = rules.first_heat.hold_count
    if hold_days is not None and hold_days < least:
        params = {"wish_count": hold_days, "count": least}
        found.append(
            Finding(Severity.WARNING, "hold-under-practice", f"{path}.hold", params, zone.id)
        )
    return [*found, *_check_flow(zone, rules), *_name_floor_limit(zone, rules)]


def _check_flow(zone: Zone, rules: Rules) -> list[Finding]:
    """Return a warning of the first rise of the water that is too steep under a finished floor.

    The first day is no rise up to where a bare screed begins.
    """
    most_k = most_flow_step(zone, rules)
    flows_c = [rules.bare_screed.flow_c, *(flow_c for flow_c, _ in zone.heat_up.flow)]
    for from_c, to_c in pairwise(flows_c):
        if to_c - from_c > most_k + HAIR_K:
            params = {"from_c": from_c, "to_c": to_c, "limit_k": most_k}
            path = f"{zone.path}.heat_up.flow"
            return [Finding(Severity.WARNING, "flow-rises-steeply", path, params, zone.id)]
    return []


def _name_floor_limit(zone: Zone, rules: Rules) -> list[Finding]:
    """Return how warm wood or resilient flooring may be: flow temperatures say nothing of that."""
    if zone.heating.kind is not HeatingKind.WATER or zone.covering.kind.is_mineral:
        return []
    limit_c, limit_from = floor_limit(zone, rules)
    params: dict[str, object] = {"limit_c": limit_c, "why": limit_from}
    path = f"{zone.path}.heat_up.flow"
    return [Finding(Severity.CAUTION, "flow-and-floor-limit", path, params, zone.id)]


def find_target(ctx: ZoneContext) -> tuple[float, float, Message]:
    """Return where a first heat ends, how far the floor may ever go [°C], and why no further.

    What the thermostat is limited to counts like any limit. Where nobody wished a temperature the
    first heat ends at a gentle one: a floor may go further later, and need not.

    Rule: R19.
    """
    zone = ctx.zone
    limit_c, limit_from = floor_limit(zone, ctx.rules)
    set_c = _thermostat_limit(ctx)
    if set_c is not None and set_c < limit_c:
        limit_c, limit_from = set_c, Message("limit-thermostat")
    wish_c = zone.heat_up.target_c
    if wish_c is None:
        return min(ctx.rules.first_heat.target_c, limit_c), limit_c, limit_from
    if wish_c < limit_c:
        limit_c, limit_from = wish_c, Message("limit-wish")
    return limit_c, limit_c, limit_from


def _thermostat_limit(ctx: ZoneContext) -> float | None:
    """Return the floor's limit as the thermostat has it [°C]; what counts for nothing only lowers.

    Of two at one instant the lower counts, and one that goes by the air has no limit of the
    floor's.
    """
    limit_c: float | None = None
    limited_at: datetime | None = None
    for entry in ctx.facts.of(ThermostatSet, ctx.zone):
        if entry.mode is not Mode.FLOOR or entry.limit_c is None:
            continue
        replaces = ctx.facts.counts(entry) and entry.at != limited_at
        if limit_c is None or replaces or entry.limit_c < limit_c:
            limit_c, limited_at = entry.limit_c, entry.at
    return limit_c


def lacks_flow(zone: Zone) -> bool:
    """Return whether a floor heated by water has no flow temperatures stated: none is guessed.

    Rule: R14.
    """
    return zone.heating.kind is HeatingKind.WATER and not zone.heat_up.flow


def plan_bare_heat_up(
    ctx: ZoneContext, ready: datetime, end: End, begun: datetime | None
) -> HeatUp | None:
    """Return the heat-up of a bare screed: from the day it may start, or did, to its cooling.

    None where no working day comes, or where a floor heated by water has no flow temperatures
    stated.

    Rule: R14.

    Args:
        ready: from when the bare screed may be heated.
        end: under which climate an unmeasured floor is taken.
        begun: when it was switched on, where it was.
    """
    zone, calendar, rules = ctx.zone, ctx.calendar, ctx.rules
    if begun is not None:
        first: date | None = local_day(begun, calendar.tz)
    else:
        # The electrician is there when it goes on: the cable is not under tile yet.
        first = calendar.start_on(max(ready, ctx.facts.as_of), working_day=True)
    if first is None or lacks_flow(zone):
        return None
    bare = rules.bare_screed
    step_k = min(bare.step_k, zone.heat_up.step_k or bare.step_k)
    limit_c, limit_from = floor_limit(zone, rules)
    if zone.heating.kind is HeatingKind.WATER:
        most_c = max(flow_c for flow_c, _ in zone.heat_up.flow)
        # The water is as warm as somebody sets it: nothing to measure first.
        start_c, measured, basis = min(bare.flow_c, most_c), True, "flow"
        profile: Profile = [(start_c, bare.flow_count), (most_c, bare.flow_most_count)]
        limit_from = Message("limit-wish")
    else:
        start_c, measured = starting_temperature(ctx, begun or calendar.opens(first), end)
        basis = "floor"
        if bare.most_c < limit_c:
            limit_c, limit_from = bare.most_c, Message("limit-bare-screed")
        profile = bare_screed_profile(
            start_c=start_c,
            middle_c=bare.middle_c,
            target_c=limit_c,
            step_k=step_k,
            middle_days=bare.middle_count,
            target_days=bare.most_count,
        )
    steps, ends_on = set_on_days(profile, first)
    return HeatUp(
        purpose=HeatUpPurpose.BARE_SCREED,
        basis=basis,
        start_c=start_c,
        start_measured=measured,
        target_c=max(step.to_c for step in steps),
        limit_c=max(step.to_c for step in steps),
        limit_from=limit_from,
        steps=steps,
        ends_on=ends_on,
        step_k=step_k,
        provisional=begun is None or not measured,
        rule="R14",
        source=rules.source("R14"),
    )


def plan_first_heat_up(
    ctx: ZoneContext,
    start_on: date,
    *,
    begun: Running,
    released: bool,
) -> HeatUp:
    """Return the heat-up of a finished floor.

    Once begun it keeps its days; after a pause of more than a day, or found cold, it starts again
    from the floor's own temperature. A floor heated by water has its flow temperatures stated.

    Rule: R19.

    Args:
        start_on: the first day, where it has not begun.
        begun: log entries of the heat-up since the release, in order.
        released: whether the floor is released.
    """
    zone, calendar, rules = ctx.zone, ctx.calendar, ctx.rules
    if zone.heating.kind is HeatingKind.WATER:
        step_k = most_flow_step(zone, rules)
        profile = finished_flow_profile(
            list(zone.heat_up.flow),
            start_c=rules.bare_screed.flow_c,
            step_k=step_k,
        )
        start_c, measured, basis = profile[0][0], True, "flow"
        target_c = limit_c = max(flow_c for flow_c, _ in profile)
        limit_from = Message("limit-wish")
        first = local_day(begun[0].at, calendar.tz) if begun else start_on
    else:
        step_k = most_step(zone, rules)
        target_c, limit_c, limit_from = find_target(ctx)
        first, start_c, measured = _opening(ctx, begun, start_on)
        basis = "floor"
        profile = _profile_from(ctx, start_c)
    steps, ends_on = set_on_days(profile, first)
    is_restart = any(mends(zone.layers, layer) for layer in zone.layers)
    return HeatUp(
        purpose=HeatUpPurpose.AFTER_REPAIR if is_restart else HeatUpPurpose.FIRST_HEAT,
        basis=basis,
        start_c=start_c,
        start_measured=measured,
        target_c=target_c,
        limit_c=limit_c,
        limit_from=limit_from,
        steps=steps,
        ends_on=ends_on,
        step_k=step_k,
        provisional=not (released and measured),
        rule="R19",
        source=rules.source("R19"),
    )


def most_step(zone: Zone, rules: Rules) -> float:
    """Return the most a day adds under a finished floor: by its covering, or less as wished [K].

    Rule: R19.
    """
    most_k = step_limit(zone, rules)
    return min(most_k, zone.heat_up.step_k or most_k)


def most_flow_step(zone: Zone, rules: Rules) -> float:
    """Return the most a day adds to the water under a finished floor, or less as wished [K].

    Rule: R14.
    """
    most_k = rules.bare_screed.flow_step_k
    return min(most_k, zone.heat_up.step_k or most_k)


def find_heat_up_runs(ctx: ZoneContext, begun: Running) -> list[HeatUpRun]:
    """Return the runs of a finished floor's heat-up, the last of them the one that counts.

    Rule: R19.

    Args:
        ctx: the zone.
        begun: log entries of the heat-up since the release, in order.
    """
    if ctx.zone.heating.kind is HeatingKind.WATER:
        return find_runs(ctx, begun, None)
    return find_runs(ctx, begun, lambda start_c: _profile_from(ctx, start_c))


def _profile_from(ctx: ZoneContext, start_c: float) -> Profile:
    target_c, _, _ = find_target(ctx)
    return first_heat_profile(
        start_c=start_c,
        target_c=target_c,
        step_k=most_step(ctx.zone, ctx.rules),
        hold_days=max(ctx.rules.first_heat.hold_count, ctx.zone.heat_up.hold_days or 0),
    )


def _opening(ctx: ZoneContext, begun: Running, start_on: date) -> tuple[date, float, bool]:
    """Return the first day, the temperature it starts from [°C], and whether that was measured."""
    runs = find_heat_up_runs(ctx, begun)
    if not runs:
        opens_at = ctx.calendar.opens(start_on)
        return start_on, *starting_temperature(ctx, opens_at, End.EARLIEST)
    run = runs[-1]
    first = local_day(run.opened_at or ctx.facts.as_of, ctx.calendar.tz)
    return first, *opening_temperature(ctx, run)
