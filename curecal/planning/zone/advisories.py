"""Advice on a zone beside its date: its climate, its layers, short sheets."""

from __future__ import annotations

from curecal.planning.climate.zone_climate import End
from curecal.planning.hold_points.cable_limits import label_resistance
from curecal.planning.plan import RELEASED_STATES, LayerPlan, ZonePlan
from curecal.planning.zone.reading_checks import check_coldest
from curecal.planning.zone_context import ZoneContext
from curecal.trade.data_sheets import FixedWait, Hardening, Kind, Milestone, SheetWait, Wait
from curecal.trade.findings import Finding, Severity
from curecal.trade.job import Covering, CoveringFamily, CoveringKind, HeatedBy, HeatingKind
from curecal.trade.sources import Basis


def check_climate(ctx: ZoneContext, plan: ZonePlan) -> tuple[Finding, ...]:
    """Return what the room must be told: heat that is not this floor, heat that is too much.

    Rule: R6, R7.
    """
    if plan.state in RELEASED_STATES:
        # Its clocks have run out: the room's climate moves no date any more.
        return ()
    found = [*_house_without_heat(ctx, plan), *_hot_room(ctx)]
    window = plan.energize.window
    if window is not None and (window.latest or ctx.facts.as_of) >= ctx.facts.as_of:
        found += [*check_coldest(ctx), *_below_minimum(ctx, plan)]
    return tuple(found)


def _house_without_heat(ctx: ZoneContext, plan: ZonePlan) -> list[Finding]:
    expected = ctx.job.expected
    if expected.heated_by is not HeatedBy.NOTHING:
        return []
    order, window = plan.room_order, plan.energize.window
    params: dict[str, object] = {
        "at_least_c": order.at_least_c if order else expected.air_c,
        "air_c": expected.air_c,
    }
    code = "house-needs-heat-no-date"
    if window is not None:
        code, params["until_at"] = "house-needs-heat", window.latest or window.earliest
    return [ctx.finding(Severity.WARNING, code, "expected.heated_by", params)]


def _hot_room(ctx: ZoneContext) -> list[Finding]:
    hot_c = ctx.rules.cement.hot_c
    read = [piece.highest for piece in ctx.clocks.climate.bed]
    warmest_c = max([ctx.job.expected.air_c, *read])
    if not warmest_c > hot_c:
        return []
    params = {"hot_c": warmest_c, "limit_c": hot_c}
    return [ctx.finding(Severity.WARNING, "room-hot", "expected.air", params)]


def _below_minimum(ctx: ZoneContext, plan: ZonePlan) -> list[Finding]:
    """Return the lowest layer that the coldest room may stop: one tells whoever heats it."""
    coldest_c = ctx.clocks.climate.assumed.bed_c[End.LATEST]
    for item in plan.layers:
        layer = item.layer
        if layer.existing or layer.sheet.hardens_by is Hardening.AT_ONCE:
            continue
        if not coldest_c >= layer.sheet.minimum_c:
            params = {
                "layer": layer.name,
                "coldest_c": coldest_c,
                "minimum_c": layer.sheet.minimum_c,
            }
            code = "may-fall-below-minimum"
            return [ctx.finding(Severity.WARNING, code, layer.path, params, layer.id)]
    return []


def check_layers(ctx: ZoneContext, plan: ZonePlan) -> tuple[Finding, ...]:
    """Return how a layer's wait is known: no sheet, a short sheet, a seal on both sides.

    Rule: R10, R12, R18, R19.
    """
    if plan.state in RELEASED_STATES:
        # Released is released: nobody waits for any of it any more.
        return ()
    found = [finding for item in plan.layers for finding in _heat_wait_known(ctx, item)]
    if any(layer.repair and layer.done_at is None for layer in ctx.zone.layers):
        params = {"off_s": ctx.rules.repair.off_s}
        found.append(ctx.finding(Severity.WARNING, "repair-floor-off", ctx.zone.path, params))
    family = ctx.zone.covering.kind.family
    if family in {CoveringFamily.WOOD, CoveringFamily.VINYL} and not _lies_loose(ctx.zone.covering):
        path = f"{ctx.zone.path}.covering"
        kind = {"covering": ctx.zone.covering.kind.value}
        found.append(ctx.finding(Severity.CAUTION, f"laying-{family}", path, kind))
    labels = [label_resistance(cable) for cable in ctx.zone.heating.cables]
    if ctx.zone.heating.kind is HeatingKind.ELECTRIC and not any(labels):
        path = f"{ctx.zone.path}.heating"
        found.append(ctx.finding(Severity.WARNING, "no-cable-figures", path, {}))
    return tuple(found)


def _lies_loose(covering: Covering) -> bool:
    """Return whether it is a carpet with no adhesive under it: the heat does it no harm."""
    return covering.kind is CoveringKind.CARPET and covering.is_floating


def _heat_wait_known(ctx: ZoneContext, item: LayerPlan) -> list[Finding]:
    layer = item.layer
    wait = layer.sheet.waits.get(Milestone.HEAT)
    if layer.existing or wait is None or layer.heat_before_covering:
        return []
    # Where only the sheet knows, no other time is used: the plan asks for the sheet.
    if isinstance(wait.amount, SheetWait):
        return []
    found = []
    if wait.source.basis is Basis.FALLBACK:
        params: dict[str, object] = {
            "layer": layer.name,
            "wait_s": ctx.rules.heat_wait.fallback_s,
        }
        found.append(
            ctx.finding(Severity.CAUTION, "heat-by-fallback", layer.path, params, layer.id)
        )
    elif wait.source.basis is Basis.DATA_SHEET:
        found += _short_sheet(ctx, item, wait)
    is_sealed = ctx.build_up.is_sealed_both_sides(layer, ctx.rules)
    under = ctx.build_up.impervious_below(layer) if is_sealed else None
    if under is not None and layer.sheet.heat_sealed is None:
        params = {
            "layer": layer.name,
            "under": under.name,
            "closed_by": ctx.build_up.closed_by(ctx.rules),
            "wait_s": ctx.rules.sealed_mortar.heat_s,
        }
        found.append(
            ctx.finding(Severity.WARNING, "sealed-both-sides", layer.path, params, layer.id)
        )
        board = ctx.build_up.unnamed_board(layer)
        if board is not None:
            params = {"layer": layer.name, "under": board.name}
            found.append(
                ctx.finding(Severity.WARNING, "board-not-named", board.path, params, board.id)
            )
    return found


def _short_sheet(ctx: ZoneContext, item: LayerPlan, wait: Wait) -> list[Finding]:
    """Return a documented heat wait shorter than the longest known one: it is used, and said."""
    layer = item.layer
    heat_s, fallback_s = _rated_s(ctx, item, wait), ctx.rules.heat_wait.fallback_s
    # A sealer is a thin coat: a short wait is what its sheet should say.
    if layer.sheet.kind is Kind.SEALER or heat_s is None or heat_s >= fallback_s:
        return []
    params = {
        "layer": layer.name,
        "wait_s": heat_s,
        "fallback_s": fallback_s,
        "source": wait.source.text,
    }
    return [ctx.finding(Severity.CAUTION, "heat-under-fallback", layer.path, params, layer.id)]


def _rated_s(ctx: ZoneContext, item: LayerPlan, wait: Wait) -> float | None:
    """Return how long a wait is at its rated conditions; None where this floor cannot read it."""
    if isinstance(wait.amount, FixedWait):
        return wait.amount.wait_s
    if item.finish is None:
        return None
    due = ctx.clocks.end_wait(
        rule="R10",
        wait=wait,
        sheet=item.layer.sheet,
        thickness_m=item.layer.thickness_m,
        start=item.finish,
    )
    return None if due.rate is None else due.needed_s
