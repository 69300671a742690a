"""Hold points of what the electrician fits: protection, thermostat, connection."""

from __future__ import annotations

from curecal.planning.first_heat.first_heat import floor_limit
from curecal.planning.hold_points.judged_hold import JudgedHold, last_word, made_hold
from curecal.planning.plan import Hold, HoldState
from curecal.planning.site_log.authority import license_of
from curecal.planning.tolerances import HAIR, HAIR_K
from curecal.planning.zone_context import ZoneContext
from curecal.trade.findings import Message
from curecal.trade.job import Code
from curecal.trade.rules import HoldPoint
from curecal.trade.site_log import (
    Connected,
    Device,
    Leads,
    Mode,
    Protection,
    ThermostatSet,
    TripTest,
)


def protection_hold(ctx: ZoneContext, point: HoldPoint) -> JudgedHold:
    """Return the protection of the circuit: a device, its sensitivity, its trip test.

    Rule: R24, R25.

    Args:
        ctx: the zone.
        point: the hold point.

    Returns:
        The hold point as the log leaves it.
    """
    entries = ctx.facts.of(Protection, ctx.zone)
    none = Message("protection-none")
    hold = last_word(ctx, point, entries, lambda entry: _protected(ctx, point, entry), none)
    return JudgedHold(hold)


def _protected(ctx: ZoneContext, point: HoldPoint, entry: Protection) -> Hold:
    """Return what one entry says of the protection."""
    most_a, is_class_a = _most_residual_a(ctx)
    most_s = ctx.rules.electrical.trip_s
    state = HoldState.UNMET
    if entry.trip_test is TripTest.DID_NOT_TRIP:
        state, code = HoldState.FAILED, "protection-failed"
    elif entry.trips_at_a is not None and not entry.trips_at_a <= most_a + HAIR:
        state = HoldState.FAILED
        code = "protection-not-class-a" if is_class_a else "protection-coarse"
    elif entry.trip_s is not None and not entry.trip_s <= most_s + HAIR:
        state, code = HoldState.FAILED, "protection-slow"
    elif entry.trips_at_a is None and entry.device is not Device.GFCI:
        # A GFCI is class A by its name, 4 to 6 mA; an RCD comes with 10 mA to 300 mA.
        code = "protection-sensitivity"
    elif entry.trip_test is None:
        code = "protection-untested"
    else:
        state, code = HoldState.MET, "protection-trips"
    params = {
        "device": entry.device.value,
        "trips_at_a": entry.trips_at_a,
        "tested_at": entry.at,
        "most_a": most_a,
        "code": ctx.job.code.value,
        "page_a": _coarse_a(ctx) if ctx.job.code is Code.CEC else None,
        # Milliseconds: a duration in words begins at a minute.
        "took_count": None if entry.trip_s is None else entry.trip_s * 1000.0,
        "most_count": most_s * 1000.0,
    }
    return made_hold(point, state, Message(code, params), entry)


def _coarse_a(ctx: ZoneContext) -> float:
    return ctx.rules.electrical.trip_milliampere_count / 1000.0


def _most_residual_a(ctx: ZoneContext) -> tuple[float, bool]:
    """Return the most a zone's protection may trip at [A], and whether class A is asked for.

    NEC wants class A in every room. CEC does too, unless the heating maker's page, cited, allows
    a coarser one; a page lifts no rule of NEC.
    """
    cited = ctx.job.code is Code.CEC and ctx.zone.heating.protection_source is not None
    if ctx.job.code not in {Code.NEC, Code.CEC} or cited:
        return _coarse_a(ctx), False
    return ctx.rules.electrical.class_a_milliampere_count / 1000.0, True


def thermostat_hold(ctx: ZoneContext, point: HoldPoint) -> JudgedHold:
    """Return the thermostat: the floor's own mode, and its limit.

    Rule: R24.

    Args:
        ctx: the zone.
        point: the hold point.

    Returns:
        The hold point as the log leaves it.
    """
    entries = ctx.facts.of(ThermostatSet, ctx.zone)
    none = Message("thermostat-none")
    hold = last_word(ctx, point, entries, lambda entry: _as_set(ctx, point, entry), none)
    return JudgedHold(hold)


def _as_set(ctx: ZoneContext, point: HoldPoint, entry: ThermostatSet) -> Hold:
    """Return what one entry says of the thermostat; a limit stands until another is set."""
    limit_c, _ = floor_limit(ctx.zone, ctx.rules)
    set_c = entry.limit_c if entry.limit_c is not None else _limit_before(ctx, entry)
    params = {"mode": entry.mode.value, "set_c": set_c, "limit_c": limit_c, "set_at": entry.at}
    if entry.mode is not Mode.FLOOR:
        # One that goes by the air heats the floor as long as the room is cold, limit or not.
        return made_hold(point, HoldState.FAILED, Message("thermostat-air", params), entry)
    if set_c is None:
        return made_hold(point, HoldState.UNMET, Message("thermostat-no-limit", params), entry)
    # Set-points round down in the units people read, so a limit over the floor's is one too many.
    if not set_c <= limit_c + HAIR_K:
        return made_hold(point, HoldState.FAILED, Message("thermostat-too-high", params), entry)
    return made_hold(point, HoldState.MET, Message("thermostat-set", params), entry)


def _limit_before(ctx: ZoneContext, entry: ThermostatSet) -> float | None:
    """Return the floor's limit as it was set last; one of another mode is not the floor's."""
    told = [
        earlier
        for earlier in ctx.facts.of(ThermostatSet, ctx.zone)
        if earlier.limit_c is not None and earlier.at <= entry.at and ctx.facts.counts(earlier)
    ]
    last = [earlier for earlier in told if earlier.at == told[-1].at]
    if not all(earlier.mode is Mode.FLOOR for earlier in last):
        return None
    return max((one.limit_c for one in last if one.limit_c is not None), default=None)


def connection_hold(ctx: ZoneContext, point: HoldPoint) -> JudgedHold:
    """Return the connection: by whom, with what license, and what is off.

    Rule: R24.

    Args:
        ctx: the zone.
        point: the hold point.

    Returns:
        The hold point as the log leaves it.
    """
    entries = ctx.facts.of(Connected, ctx.zone)
    none = Message("connection-none")
    hold = last_word(ctx, point, entries, lambda entry: _connected(ctx, point, entry), none)
    return JudgedHold(hold)


def _connected(ctx: ZoneContext, point: HoldPoint, entry: Connected) -> Hold:
    """Return what one entry says of the connection."""
    params = {
        "by": entry.by or "",
        "connected_at": entry.at,
        "license": license_of(ctx.facts.people, entry.by) or "",
    }
    state = HoldState.UNMET
    if entry.locked is False or entry.tagged is False or entry.leads is Leads.ON:
        state, code = HoldState.FAILED, "connection-not-locked"
    elif not (entry.locked and entry.tagged and entry.leads):
        code = "connection-incomplete"
    else:
        state, code = HoldState.MET, "connection-done"
    return made_hold(point, state, Message(code, params), entry)
