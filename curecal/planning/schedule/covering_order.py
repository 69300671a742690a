"""The order of work: what was covered too early, and what was left open too long."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime

from curecal.instants import add
from curecal.planning.curing.build_up import holds_sulfate
from curecal.planning.curing.layer_inspections import (
    find_counting_inspections,
    inspected_hold,
)
from curecal.planning.plan import Hold, LayerPlan, MilestonePlan
from curecal.planning.zone_context import ZoneContext
from curecal.records import Record, record
from curecal.trade.data_sheets import BESIDE_THE_FLOOR, POURED, Hardening, Kind, Milestone
from curecal.trade.findings import Finding, Message, Params, Severity
from curecal.trade.hold_codes import HoldCode
from curecal.trade.job import Layer, Zone
from curecal.trade.layers_below import place_of

# What lies on a base as mortar does, where it hardens by cement: mortar, slurry, a poured finish.
_CEMENT_COATS = frozenset({Kind.THINSET, Kind.MEMBRANE, Kind.POURED_FINISH})


@record
class Prerequisite(Record):
    """Something a layer waits for: a milestone of a layer under it, and that milestone's date.

    `opens` is None where the layer under it has no such milestone.
    """

    below: LayerPlan
    milestone: Milestone
    opens: MilestonePlan | None


@record
class CoveredEarly(Record):
    """What was covered too early: findings, and bases a person has to decide about."""

    findings: tuple[Finding, ...] = ()
    holds: tuple[Hold, ...] = ()


def find_impossible_order(ctx: ZoneContext, layer: Layer) -> Finding | None:
    """Return what leaves a done layer without a date: it was finished before one under it.

    Nobody can have done that, and nobody can tell which of the two was finished while the lower
    one is not logged at all.

    Rule: R15, R27, R28.
    """
    under = find_later_below(ctx.zone, layer)
    if under is None:
        return _find_untold_below(ctx, layer)
    params = {
        "layer": layer.name,
        "under": under.name,
        "done_at": layer.done_at,
        "under_at": under.done_at,
    }
    return ctx.finding(Severity.STOP, "laid-before", layer.path, params, layer.id)


def _find_untold_below(ctx: ZoneContext, layer: Layer) -> Finding | None:
    untold = find_undone_below(ctx.zone, layer)
    if untold is None:
        return None
    params = {"layer": layer.name, "under": untold.name, "done_at": layer.done_at}
    return ctx.finding(Severity.WARNING, "below-not-done", layer.path, params, layer.id)


def find_undone_below(zone: Zone, layer: Layer) -> Layer | None:
    """Return the nearest layer under a done one that has a clock and is not logged as done.

    Rule: R27, R28.

    Returns:
        The layer, or None where every one of them is told.
    """
    if layer.done_at is None or layer.existing or layer.sheet.kind in BESIDE_THE_FLOOR:
        return None
    untold = [
        under
        for under in zone.layers[: place_of(zone.layers, layer)]
        if under.done_at is None
        and not under.existing
        and under.sheet.hardens_by is not Hardening.AT_ONCE
        and under.sheet.kind not in BESIDE_THE_FLOOR
        and (layer.part is None or under.part in {None, layer.part})
    ]
    return untold[-1] if untold else None


def find_later_below(zone: Zone, layer: Layer) -> Layer | None:
    """Return the layer under a layer that was finished later than it, if one was.

    Rule: R15, R28.

    Returns:
        The last finished of them, or None.
    """
    done_at = layer.done_at
    if done_at is None or layer.existing or layer.sheet.kind in BESIDE_THE_FLOOR:
        return None
    later = [
        (under.done_at, under)
        for under in zone.layers[: place_of(zone.layers, layer)]
        if under.done_at is not None
        and not under.existing
        and under.sheet.kind not in BESIDE_THE_FLOOR
        and (layer.part is None or under.part in {None, layer.part})
        and under.done_at > done_at
    ]
    return max(later, key=lambda pair: pair[0])[1] if later else None


def check_covering(
    ctx: ZoneContext, layer: Layer, done_at: datetime, prerequisites: Sequence[Prerequisite]
) -> CoveredEarly:
    """Return what a done layer covered before that allowed it, and coats left open too long.

    Rule: R15.

    Args:
        layer: the layer, done.
        done_at: when.
        prerequisites: what it had to wait for.

    Returns:
        Findings, and a hold for each base that was covered wet.
    """
    begun = add(done_at, -(layer.duration_s or 0.0))
    findings: list[Finding] = []
    holds: list[Hold] = []
    for prerequisite in prerequisites:
        under, opens = prerequisite.below.layer, prerequisite.opens
        if opens is None or (opens.window is not None and begun >= opens.window.earliest):
            continue
        params: dict[str, object] = {
            "layer": layer.name,
            "under": under.name,
            "milestone": prerequisite.milestone.value,
            "done_at": done_at,
        }
        if opens.window is not None:
            params["allowed_at"] = opens.window.earliest
        if ctx.build_up.is_drying_base(under, layer):
            # The water is shut in: no clock tells when that base is dry, so a person decides.
            holds.append(_covered_wet(ctx, under, done_at, params))
            code = "covered-wet"
        elif opens.window is None:
            code = "covered-without-date"
        else:
            code = "covered-early"
        findings.append(ctx.finding(Severity.WARNING, code, layer.path, params, layer.id))
    findings += find_open_too_long(ctx, layer, begun, prerequisites)
    return CoveredEarly(tuple(findings), tuple(holds))


def _covered_wet(ctx: ZoneContext, under: Layer, done_at: datetime, params: Params) -> Hold:
    """Return the hold of a base covered wet: a person decides, and says so about that base."""
    counting = find_counting_inspections(ctx.facts, ctx.zone, under)
    reason = Message("covered-wet", params)
    return inspected_hold(HoldCode.COVERED_WET, under, counting, done_at, reason)


def find_cement_on_sulfate(ctx: ZoneContext, layer: Layer) -> CoveredEarly:
    """Return the hold of each sulfate base that a cement mortar comes on with nothing between.

    Cement and sulfate react where they meet, and the mortar comes off. A primer or a barrier in the
    list of layers keeps them apart; else a person decides, and says so about that base.

    Rule: R15.

    Args:
        layer: the layer on top, done or planned.
    """
    is_mortar = layer.sheet.kind in POURED or layer.sheet.kind in _CEMENT_COATS
    if layer.existing or not is_mortar or layer.sheet.hardens_by is not Hardening.CEMENT:
        return CoveredEarly()
    findings, holds = [], []
    for under in ctx.build_up.below(layer):
        if not holds_sulfate(under):
            continue
        params: dict[str, object] = {"layer": layer.name, "under": under.name}
        findings.append(
            ctx.finding(Severity.WARNING, "cement-on-sulfate", layer.path, params, layer.id)
        )
        looks = find_counting_inspections(ctx.facts, ctx.zone, under)
        # What was laid is looked at after that; before, whoever looks knows what is planned.
        since = layer.done_at or min((look.at for look in looks), default=ctx.facts.as_of)
        reason = Message("cement-on-sulfate", params)
        holds.append(inspected_hold(HoldCode.CEMENT_ON_SULFATE, under, looks, since, reason))
    return CoveredEarly(tuple(findings), tuple(holds))


def find_open_too_long(
    ctx: ZoneContext, layer: Layer, begun: datetime, prerequisites: Sequence[Prerequisite]
) -> list[Finding]:
    """Return coats that lie open longer than their sheet allows before a layer begins.

    Rule: R15.

    Args:
        layer: the layer that follows.
        begun: when it begins.
        prerequisites: what it waits for.
    """
    found = []
    for prerequisite in prerequisites:
        below = prerequisite.below
        limit = below.layer.sheet.no_later.get(prerequisite.milestone)
        if limit is None or below.finish is None:
            continue
        limit_s, _ = limit
        until = add(below.finish.earliest, limit_s)
        if begun > until:
            under = below.layer
            params = {
                "layer": layer.name,
                "under": under.name,
                "limit_s": limit_s,
                "until_at": until,
            }
            found.append(
                ctx.finding(Severity.WARNING, "open-too-long", under.path, params, under.id)
            )
    return found
