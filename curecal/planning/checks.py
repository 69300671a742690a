"""What else a crew, an electrician or an owner must be told: label, supply, breaker, climate."""

from __future__ import annotations

from curecal.planning.climate import End
from curecal.planning.context import Desk
from curecal.planning.evidence import called, label_resistance
from curecal.planning.plan import LayerPlan, State, ZonePlan
from curecal.planning.reading_checks import coldest_check
from curecal.science.electrical import (
    continuous_load_fits,
    current,
    parallel_resistance,
    power_factor_on_another_voltage,
    resistance_deviation,
    resistance_from_power,
)
from curecal.trade.buildup import Cable, Code, HeatedBy, HeatingKind
from curecal.trade.findings import Message, Severity
from curecal.trade.sheets import FixedWait, Hardening, Kind, Milestone, Wait
from curecal.trade.sources import Basis

_TOO_HIGH = "supply-too-high"
_AMERICAN = frozenset({Code.NEC, Code.CEC})
_SETTLED = frozenset({State.IN_SERVICE, State.HEATING_UP, State.RELEASED})


def electrical_checks(desk: Desk) -> None:
    """Note where a zone's heating contradicts itself or its circuit. Not a design.

    Rule: R25.

    Args:
        desk: the zone on the desk; findings are noted on it.
    """
    heating = desk.zone.heating
    if heating.kind is not HeatingKind.ELECTRIC:
        return
    path = f"{desk.zone.path}.heating"
    for cable in heating.cables:
        _label(desk, cable, path)
        message = _supply(desk, cable)
        if message is not None:
            over = message.code == _TOO_HIGH
            severity = Severity.STOP if over else Severity.WARNING
            desk.find(severity, message.code, path, message.params)
    _load(desk, path)
    labels = [label_resistance(cable) for cable in heating.cables]
    known = [ohm for ohm in labels if ohm is not None]
    if len(known) > 1 and len(known) == len(labels):
        params = {"count": len(known), "joint_ohm": parallel_resistance(known)}
        desk.find(Severity.CAUTION, "cables-together", path, params)


def _label(desk: Desk, cable: Cable, path: str) -> None:
    if not (cable.voltage_v and cable.power_w and cable.resistance_ohm):
        return
    expected_ohm = resistance_from_power(voltage_v=cable.voltage_v, power_w=cable.power_w)
    off = resistance_deviation(measured_ohm=cable.resistance_ohm, rated_ohm=expected_ohm)
    if -cable.below_fraction - 1e-9 <= off <= cable.above_fraction + 1e-9:
        return
    params = {
        "cable": called(cable),
        "label_ohm": cable.resistance_ohm,
        "expected_ohm": expected_ohm,
        "rated_v": cable.voltage_v,
        "rated_w": cable.power_w,
    }
    desk.find(Severity.WARNING, "label-contradicts", path, params)


def supply_faults(desk: Desk) -> list[Message]:
    """Return cables that their circuit would overload: power goes with the square of voltage.

    Rule: R25.

    Args:
        desk: the zone on the desk.

    Returns:
        One message per cable rated under its supply; none of them may be switched on.
    """
    messages = (_supply(desk, cable) for cable in desk.zone.heating.cables)
    return [said for said in messages if said is not None and said.code == _TOO_HIGH]


def _supply(desk: Desk, cable: Cable) -> Message | None:
    supply_v = desk.zone.heating.supply_v
    if not supply_v or not cable.voltage_v:
        return None
    apart = abs(supply_v / cable.voltage_v - 1.0)
    if apart <= desk.rules.number("R25", "supply_fraction") + 1e-9:
        return None
    factor = power_factor_on_another_voltage(rated_v=cable.voltage_v, supply_v=supply_v)
    params = {
        "cable": called(cable),
        "rated_v": cable.voltage_v,
        "supply_v": supply_v,
        "power_ratio": factor,
    }
    over = supply_v > cable.voltage_v
    return Message(_TOO_HIGH if over else "supply-too-low", params)


def _load(desk: Desk, path: str) -> None:
    heating = desk.zone.heating
    if heating.breaker_a is None or not heating.cables:
        return
    loads = [
        current(power_w=cable.power_w, voltage_v=cable.voltage_v)
        for cable in heating.cables
        if cable.power_w and cable.voltage_v
    ]
    if len(loads) < len(heating.cables):
        return
    load_a = sum(loads)
    params = {"load_a": load_a, "breaker_a": heating.breaker_a}
    if desk.job.code in _AMERICAN:
        if not continuous_load_fits(load_a=load_a, breaker_a=heating.breaker_a):
            desk.find(Severity.WARNING, "load-over-80-percent", f"{path}.breaker", params)
    elif load_a > heating.breaker_a:
        desk.find(Severity.WARNING, "load-over-breaker", f"{path}.breaker", params)


def climate_checks(desk: Desk, plan: ZonePlan) -> None:
    """Note what the room must be told: heat that is not this floor, heat that is too much.

    Rule: R6, R7.

    Args:
        desk: the zone on the desk; findings are noted on it.
        plan: its plan.
    """
    if plan.state in _SETTLED:
        return
    expected = desk.job.expected
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
        desk.find(Severity.WARNING, code, "expected.heated_by", params)
    hot_c = desk.rules.number("R1", "hot_c")
    warmest = [max(piece.start, piece.end) for piece in desk.clocks.climate.bed]
    if expected.air_c > hot_c or any(value > hot_c for value in warmest):
        params = {"hot_c": max([expected.air_c, *warmest]), "limit_c": hot_c}
        desk.find(Severity.WARNING, "room-hot", "expected.air", params)
    if energize.window is None or (energize.window.latest or desk.facts.as_of) < desk.facts.as_of:
        return
    coldest_check(desk)
    coldest_c = desk.clocks.climate.assumed.bed_c[End.LATEST]
    for item in plan.layers:
        if item.layer.existing or item.layer.sheet.hardens_by is Hardening.AT_ONCE:
            continue
        if not coldest_c >= item.layer.sheet.minimum_c:
            params = {
                "layer": item.layer.name,
                "coldest_c": coldest_c,
                "minimum_c": item.layer.sheet.minimum_c,
            }
            desk.find(
                Severity.WARNING, "may-fall-below-minimum", item.layer.path, params, item.layer.id
            )
            break


def layer_checks(desk: Desk, plan: ZonePlan) -> None:
    """Note how a layer's wait is known: no sheet, a short sheet, a seal on both sides.

    Rule: R10, R12, R18, R19.

    Args:
        desk: the zone on the desk; findings are noted on it.
        plan: its plan.
    """
    if plan.state in _SETTLED:
        return
    fallback_s = desk.rules.number("R10", "fallback_s")
    for item in plan.layers:
        layer = item.layer
        wait = layer.sheet.waits.get(Milestone.HEAT)
        if layer.existing or wait is None or layer.heat_before_covering:
            continue
        if wait.source.basis is Basis.FALLBACK:
            params: dict[str, object] = {"layer": layer.name, "wait_s": fallback_s}
            desk.find(Severity.CAUTION, "heat-by-fallback", layer.path, params, layer.id)
        elif wait.source.basis is Basis.DATA_SHEET:
            _short_sheet(desk, item, fallback_s)
        if desk.stack.is_sealed_both_sides(layer, desk.rules) and layer.sheet.heat_sealed is None:
            params = {"layer": layer.name, "wait_s": desk.rules.number("R12", "heat_s")}
            desk.find(Severity.WARNING, "sealed-both-sides", layer.path, params, layer.id)
    if any(layer.repair for layer in desk.zone.layers):
        params = {"off_s": desk.rules.number("R18", "off_s")}
        desk.find(Severity.CAUTION, "repair-floor-off", desk.zone.path, params)
    family = desk.zone.covering.kind.family
    if family != "tile":
        desk.find(Severity.CAUTION, f"laying-{family}", f"{desk.zone.path}.covering", {})
    if desk.zone.heating.kind is HeatingKind.ELECTRIC and not desk.zone.heating.cables:
        desk.find(Severity.WARNING, "no-cable-figures", f"{desk.zone.path}.heating", {})


def _short_sheet(desk: Desk, item: LayerPlan, fallback_s: float) -> None:
    """Note a documented heat wait shorter than the longest known one: it is used, and said."""
    layer = item.layer
    wait = layer.sheet.waits[Milestone.HEAT]
    heat_s = _rated_s(desk, item, wait)
    if layer.sheet.kind is Kind.SEALER or heat_s is None or heat_s >= fallback_s:
        return
    params = {
        "layer": layer.name,
        "wait_s": heat_s,
        "fallback_s": fallback_s,
        "source": wait.source.text,
    }
    desk.find(Severity.CAUTION, "heat-under-fallback", layer.path, params, layer.id)


def _rated_s(desk: Desk, item: LayerPlan, wait: Wait) -> float | None:
    """Return how long a wait is at its rated conditions; None where this floor cannot read it."""
    if isinstance(wait.amount, FixedWait):
        return wait.amount.wait_s
    if item.finish is None:
        return None
    due = desk.clocks.due(
        rule="R10",
        wait=wait,
        sheet=item.layer.sheet,
        thickness_m=item.layer.thickness_m,
        start=item.finish,
    )
    return None if due.rate is None else due.needed_s
