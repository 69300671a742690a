"""The order of work: what was covered too early, and what was left open too long."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime

from curecal.instants import Window, add
from curecal.planning.plan import Hold, HoldState, LayerPlan, MilestonePlan
from curecal.planning.site_log.authority import newest
from curecal.planning.zone_context import ZoneContext
from curecal.trade.data_sheets import Milestone
from curecal.trade.findings import Message, Severity
from curecal.trade.hold_codes import Gate, HoldCode
from curecal.trade.job import Layer, Zone
from curecal.trade.site_log import Inspection, Result

# What says that a layer may stay.
_GOOD = frozenset({Result.SOUND, Result.PASSED})

Gates = list[tuple[LayerPlan, Milestone, MilestonePlan | None]]


def laid_before(ctx: ZoneContext, layer: Layer) -> Message | None:
    """Return that a layer was finished before one under it, which nobody can have done.

    Rule: R15, R28.

    Args:
        ctx: the zone; findings are noted on it.
        layer: the layer.

    Returns:
        Why it has no date, or None.
    """
    under = under_it_later(ctx.zone, layer)
    if under is None:
        return None
    params = {
        "layer": layer.name,
        "under": under.name,
        "done_at": layer.done_at,
        "under_at": under.done_at,
    }
    ctx.find(Severity.STOP, "laid-before", layer.path, params, layer.id)
    return Message("laid-before", params)


def under_it_later(zone: Zone, layer: Layer) -> Layer | None:
    """Return the layer under a layer that was finished later than it, if one was.

    Rule: R15, R28.

    Args:
        zone: the zone.
        layer: the layer.

    Returns:
        The last finished of them, or None.
    """
    done_at = layer.done_at
    if done_at is None or layer.existing:
        return None
    later = [
        (under.done_at, under)
        for under in zone.layers[: zone.layers.index(layer)]
        if under.done_at is not None
        and not under.existing
        and (layer.part is None or under.part in {None, layer.part})
        and under.done_at > done_at
    ]
    return max(later, key=lambda pair: pair[0])[1] if later else None


def check_gates(ctx: ZoneContext, layer: Layer, done_at: datetime, gates: Gates) -> None:
    """Note what was covered before it allowed that, and coats left open too long.

    Rule: R15.

    Args:
        ctx: the zone; findings and holds are noted on it.
        layer: the layer, done.
        done_at: when.
        gates: what it had to wait for.
    """
    begun = add(done_at, -(layer.duration_s or 0.0))
    for below, milestone, gate in gates:
        early = gate is not None and (gate.window is None or begun < gate.window.earliest)
        if not early or gate is None:
            continue
        params: dict[str, object] = {
            "layer": layer.name,
            "under": below.layer.name,
            "milestone": milestone.value,
            "done_at": done_at,
        }
        if gate.window is not None:
            params["allowed_at"] = gate.window.earliest
        if ctx.stack.is_drying_base(below.layer, layer):
            ctx.holds.append(_covered_early(ctx, below.layer, done_at, params))
            code = "covered-wet"
        elif gate.window is None:
            code = "covered-without-date"
        else:
            code = "covered-early"
        ctx.find(Severity.WARNING, code, layer.path, params, layer.id)
    _no_later(ctx, layer, begun, gates)


def _covered_early(
    ctx: ZoneContext, under: Layer, done_at: datetime, params: Mapping[str, object]
) -> Hold:
    """Return the hold of a base covered wet: a person decides, and says so about that base."""
    looks = [
        look
        for look in ctx.facts.of(Inspection, ctx.zone)
        if look.layer == under.id and look.at >= done_at and ctx.facts.counts(look)
    ]
    state = HoldState.UNMET
    if looks:
        good = all(look.result in _GOOD for look in newest(looks))
        state = HoldState.MET if good else HoldState.FAILED
    return Hold(
        HoldCode.COVERED_WET,
        Gate.ENERGIZE,
        "crew_lead",
        state,
        layer_id=under.id,
        evidence=looks[-1].id if looks else None,
        evidence_at=looks[-1].at if looks else None,
        reason=Message("covered-wet", dict(params)),
    )


def check_open_time(ctx: ZoneContext, layer: Layer, start: Window | None, gates: Gates) -> None:
    """Note coats that will be open too long before a planned layer starts.

    Rule: R15.

    Args:
        ctx: the zone; findings are noted on it.
        layer: the layer that is to follow.
        start: when it starts.
        gates: what it waits for.
    """
    if start is not None:
        _no_later(ctx, layer, start.earliest, gates)


def _no_later(ctx: ZoneContext, layer: Layer, begun: datetime, gates: Gates) -> None:
    """Note a coat that is open too long before what must follow it."""
    for below, milestone, _ in gates:
        limit = below.layer.sheet.no_later.get(milestone)
        if limit is None or below.finish is None:
            continue
        limit_s, _ = limit
        if begun > add(below.finish.earliest, limit_s):
            params = {
                "layer": layer.name,
                "under": below.layer.name,
                "limit_s": limit_s,
                "until_at": add(below.finish.earliest, limit_s),
            }
            ctx.find(Severity.WARNING, "open-too-long", below.layer.path, params, below.layer.id)
