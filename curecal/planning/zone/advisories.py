"""What else a crew or an owner must be told of a zone: its climate, its layers, short sheets."""

from __future__ import annotations

from curecal.planning.climate.zone_climate import End
from curecal.planning.plan import LayerPlan, State, ZonePlan
from curecal.planning.zone.reading_checks import coldest_check
from curecal.planning.zone_context import ZoneContext
from curecal.trade.data_sheets import FixedWait, Hardening, Kind, Milestone, Wait
from curecal.trade.findings import Severity
from curecal.trade.job import Code, HeatedBy, HeatingKind
from curecal.trade.sources import Basis

_TOO_HIGH = "supply-too-high"
_AMERICAN = frozenset({Code.NEC, Code.CEC})
# Floors under tile are heated with 100 to 160 W/m², some with more; common practice. Beyond this
# span power or area is of another floor, or in another unit.
_DENSITY_W_M2 = (60.0, 250.0)
_SETTLED = frozenset({State.IN_SERVICE, State.HEATING_UP, State.RELEASED})


def climate_checks(ctx: ZoneContext, plan: ZonePlan) -> None:
    """Note what the room must be told: heat that is not this floor, heat that is too much.

    Rule: R6, R7.

    Args:
        ctx: the zone; findings are noted on it.
        plan: its plan.
    """
    if plan.state in _SETTLED:
        return
    expected = ctx.job.expected
    energize = plan.energize
    if expected.heated_by is HeatedBy.NOTHING:
        until = energize.window.latest or energize.window.earliest if energize.window else None
        order = plan.room_order
        params: dict[str, object] = {
            "at_least_c": order.at_least_c if order else expected.air_c,
            "air_c": expected.air_c,
        }
        if until is not None:
            params["until_at"] = until
        code = "house-needs-heat" if until is not None else "house-needs-heat-no-date"
        ctx.find(Severity.WARNING, code, "expected.heated_by", params)
    hot_c = ctx.rules.cement.hot_c
    warmest = [max(piece.start, piece.end) for piece in ctx.clocks.climate.bed]
    if expected.air_c > hot_c or any(value > hot_c for value in warmest):
        params = {"hot_c": max([expected.air_c, *warmest]), "limit_c": hot_c}
        ctx.find(Severity.WARNING, "room-hot", "expected.air", params)
    if energize.window is None or (energize.window.latest or ctx.facts.as_of) < ctx.facts.as_of:
        return
    coldest_check(ctx)
    coldest_c = ctx.clocks.climate.assumed.bed_c[End.LATEST]
    for item in plan.layers:
        if item.layer.existing or item.layer.sheet.hardens_by is Hardening.AT_ONCE:
            continue
        if not coldest_c >= item.layer.sheet.minimum_c:
            params = {
                "layer": item.layer.name,
                "coldest_c": coldest_c,
                "minimum_c": item.layer.sheet.minimum_c,
            }
            ctx.find(
                Severity.WARNING, "may-fall-below-minimum", item.layer.path, params, item.layer.id
            )
            break


def layer_checks(ctx: ZoneContext, plan: ZonePlan) -> None:
    """Note how a layer's wait is known: no sheet, a short sheet, a seal on both sides.

    Rule: R10, R12, R18, R19.

    Args:
        ctx: the zone; findings are noted on it.
        plan: its plan.
    """
    if plan.state in _SETTLED:
        return
    fallback_s = ctx.rules.heat_wait.fallback_s
    for item in plan.layers:
        layer = item.layer
        wait = layer.sheet.waits.get(Milestone.HEAT)
        if layer.existing or wait is None or layer.heat_before_covering:
            continue
        if wait.source.basis is Basis.FALLBACK:
            params: dict[str, object] = {"layer": layer.name, "wait_s": fallback_s}
            ctx.find(Severity.CAUTION, "heat-by-fallback", layer.path, params, layer.id)
        elif wait.source.basis is Basis.DATA_SHEET:
            _short_sheet(ctx, item, fallback_s)
        if ctx.stack.is_sealed_both_sides(layer, ctx.rules) and layer.sheet.heat_sealed is None:
            params = {"layer": layer.name, "wait_s": ctx.rules.sealed_mortar.heat_s}
            ctx.find(Severity.WARNING, "sealed-both-sides", layer.path, params, layer.id)
    if any(layer.repair for layer in ctx.zone.layers):
        params = {"off_s": ctx.rules.repair.off_s}
        ctx.find(Severity.CAUTION, "repair-floor-off", ctx.zone.path, params)
    family = ctx.zone.covering.kind.family
    if family != "tile":
        ctx.find(Severity.CAUTION, f"laying-{family}", f"{ctx.zone.path}.covering", {})
    if ctx.zone.heating.kind is HeatingKind.ELECTRIC and not ctx.zone.heating.cables:
        ctx.find(Severity.WARNING, "no-cable-figures", f"{ctx.zone.path}.heating", {})


def _short_sheet(ctx: ZoneContext, item: LayerPlan, fallback_s: float) -> None:
    """Note a documented heat wait shorter than the longest known one: it is used, and said."""
    layer = item.layer
    wait = layer.sheet.waits[Milestone.HEAT]
    heat_s = _rated_s(ctx, item, wait)
    if layer.sheet.kind is Kind.SEALER or heat_s is None or heat_s >= fallback_s:
        return
    params = {
        "layer": layer.name,
        "wait_s": heat_s,
        "fallback_s": fallback_s,
        "source": wait.source.text,
    }
    ctx.find(Severity.CAUTION, "heat-under-fallback", layer.path, params, layer.id)


def _rated_s(ctx: ZoneContext, item: LayerPlan, wait: Wait) -> float | None:
    """Return how long a wait is at its rated conditions; None where this floor cannot read it."""
    if isinstance(wait.amount, FixedWait):
        return wait.amount.wait_s
    if item.finish is None:
        return None
    due = ctx.clocks.due(
        rule="R10",
        wait=wait,
        sheet=item.layer.sheet,
        thickness_m=item.layer.thickness_m,
        start=item.finish,
    )
    return None if due.rate is None else due.needed_s
