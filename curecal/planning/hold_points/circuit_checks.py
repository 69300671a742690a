"""Checks of a heating circuit: label, supply, breaker."""

from __future__ import annotations

from curecal.planning.hold_points.cable_laying import check_cable_laying
from curecal.planning.hold_points.cable_limits import called, is_deviation_within, label_resistance
from curecal.planning.hold_points.judged_hold import finding_of
from curecal.planning.tolerances import HAIR
from curecal.planning.zone_context import ZoneContext
from curecal.science.electrical import (
    continuous_load_ampacity,
    current,
    parallel_resistance,
    power_factor_on_another_voltage,
    resistance_deviation,
    resistance_from_power,
)
from curecal.trade.findings import Finding, FindingCode, Message, Severity
from curecal.trade.job import Cable, Code, HeatingKind

_AMERICAN = frozenset({Code.NEC, Code.CEC})


def electrical_checks(ctx: ZoneContext) -> list[Finding]:
    """Return where a zone's heating contradicts itself or its circuit. Not a design.

    Rule: R25.

    Args:
        ctx: the zone.

    Returns:
        The findings.
    """
    findings: list[Finding] = []
    heating = ctx.zone.heating
    if heating.kind is not HeatingKind.ELECTRIC:
        return findings
    path = f"{ctx.zone.path}.heating"
    for cable in heating.cables:
        findings += _label(ctx, cable, path)
        message = _supply(ctx, cable)
        if message is not None:
            over = message.code == FindingCode.SUPPLY_TOO_HIGH
            severity = Severity.STOP if over else Severity.WARNING
            findings.append(finding_of(ctx, severity, message.code, path, message.params))
    findings += _load(ctx, path)
    findings += check_cable_laying(ctx, path)
    labels = [label_resistance(cable) for cable in heating.cables]
    known = [ohm for ohm in labels if ohm is not None]
    if len(known) > 1 and len(known) == len(labels):
        params = {"count": len(known), "joint_ohm": parallel_resistance(known)}
        findings.append(finding_of(ctx, Severity.CAUTION, "cables-together", path, params))
    return findings


def _label(ctx: ZoneContext, cable: Cable, path: str) -> list[Finding]:
    if not (cable.voltage_v and cable.power_w and cable.resistance_ohm):
        return []
    expected_ohm = resistance_from_power(voltage_v=cable.voltage_v, power_w=cable.power_w)
    off = resistance_deviation(measured_ohm=cable.resistance_ohm, rated_ohm=expected_ohm)
    if is_deviation_within(cable, off):
        return []
    params = {
        "cable": called(cable),
        "label_ohm": cable.resistance_ohm,
        "expected_ohm": expected_ohm,
        "rated_v": cable.voltage_v,
        "rated_w": cable.power_w,
    }
    return [finding_of(ctx, Severity.WARNING, "label-contradicts", path, params)]


def supply_faults(ctx: ZoneContext) -> list[Message]:
    """Return cables that their circuit would overload: power goes with the square of voltage.

    Rule: R25.

    Args:
        ctx: the zone.

    Returns:
        One message per cable rated under its supply; none of them may be switched on.
    """
    messages = (_supply(ctx, cable) for cable in ctx.zone.heating.cables)
    return [
        said for said in messages if said is not None and said.code == FindingCode.SUPPLY_TOO_HIGH
    ]


def _supply(ctx: ZoneContext, cable: Cable) -> Message | None:
    supply_v = ctx.zone.heating.supply_v
    if not supply_v or not cable.voltage_v:
        return None
    apart = abs(supply_v / cable.voltage_v - 1.0)
    if apart <= ctx.rules.electrical.supply_fraction + HAIR:
        return None
    factor = power_factor_on_another_voltage(rated_v=cable.voltage_v, supply_v=supply_v)
    params = {
        "cable": called(cable),
        "rated_v": cable.voltage_v,
        "supply_v": supply_v,
        "power_ratio": factor,
    }
    over = supply_v > cable.voltage_v
    return Message(FindingCode.SUPPLY_TOO_HIGH if over else "supply-too-low", params)


def _load(ctx: ZoneContext, path: str) -> list[Finding]:
    heating = ctx.zone.heating
    if heating.breaker_a is None or not heating.cables:
        return []
    loads = [
        current(power_w=cable.power_w, voltage_v=cable.voltage_v)
        for cable in heating.cables
        if cable.power_w and cable.voltage_v
    ]
    if len(loads) < len(heating.cables):
        return []
    load_a = sum(loads)
    params = {"load_a": load_a, "breaker_a": heating.breaker_a}
    if ctx.job.code in _AMERICAN:
        over = continuous_load_ampacity(load_a) > heating.breaker_a
        code = "load-over-80-percent"
    else:
        over, code = load_a > heating.breaker_a, "load-over-breaker"
    return [finding_of(ctx, Severity.WARNING, code, f"{path}.breaker", params)] if over else []
