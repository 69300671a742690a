"""Moisture tests: which layers need one, and what the last complete one decides."""

from __future__ import annotations

from dataclasses import dataclass

from curecal.planning.facts import Facts
from curecal.planning.plan import Hold, HoldState
from curecal.planning.stack import Stack
from curecal.records import Record
from curecal.trade.buildup import Layer
from curecal.trade.findings import Finding, Message, Severity
from curecal.trade.log import MoistureTest
from curecal.trade.rules import Rules
from curecal.trade.sheets import POURED, DryingWait, Hardening, MoistureLimit, UntilTested


def needs_test(stack: Stack, layer: Layer) -> bool:
    """Return whether a moisture test decides when a layer may be covered.

    Rule: R3, R14.

    Args:
        stack: the zone's build-up.
        layer: a layer.

    Returns:
        True for bases that dry, for bases under wood or resilient flooring, and for screeds
        heated before covering.
    """
    if layer.existing or layer.sheet.kind not in POURED:
        return False
    if layer.sheet.needs_moisture_test or layer.heat_before_covering:
        return True
    wait = stack.cover_wait(layer)
    return wait is not None and (
        isinstance(wait.amount, (UntilTested, DryingWait)) or wait.law is Hardening.DRYING
    )


@dataclass(frozen=True, slots=True, eq=False, repr=False)
class Verdict(Record):
    """What the tests of a layer say: the hold, and the deciding test, if any was complete."""

    hold: Hold
    test: MoistureTest | None
    passed: bool
    findings: tuple[Finding, ...]


def verdict(stack: Stack, layer: Layer, facts: Facts, rules: Rules) -> Verdict:
    """Return what a layer's moisture tests decide: the last complete one counts.

    Complete is a method the sheet knows a limit for, a number of points, and the conditions. A
    value over its limit counts however it was taken: what is missing can only speak against dry.
    What is not laid yet cannot have been tested. A depth, where one is told, must lie in the layer
    and far enough down: the surface dries first.

    Rule: R3.

    Args:
        stack: the zone's build-up.
        layer: a layer that needs a test.
        facts: the log as it stood.
        rules: the numbers of the rules.

    Returns:
        The verdict.
    """
    zone = stack.zone
    limits = {limit.method: limit for limit in layer.sheet.moisture_limits}
    findings = []
    last: MoistureTest | None = None
    for entry in facts.of(MoistureTest, zone):
        if entry.layer != layer.id or layer.done_at is None or entry.at < layer.done_at:
            continue
        complete = entry.method in limits and (entry.points or 0) > 0 and entry.conditions
        odd_depth = _odd_depth(layer, entry, rules)
        if odd_depth is not None and _is_dry(limits.get(entry.method), entry, unknown=True):
            said = {**odd_depth, "layer": layer.name, "tested_at": entry.at}
            findings.append(
                Finding(Severity.WARNING, "moisture-depth", entry.path, said, zone.id, layer.id)
            )
            continue
        if not complete and _is_dry(limits.get(entry.method), entry, unknown=True):
            params = {"layer": layer.name, "tested_at": entry.at, "method": entry.method}
            findings.append(
                Finding(
                    Severity.WARNING, "moisture-incomplete", entry.path, params, zone.id, layer.id
                )
            )
            continue
        last = entry
    if last is None:
        reason = Message("moisture-none", {"layer": layer.name})
        hold = Hold(
            "moisture-test", "cover", "crew_lead", HoldState.UNMET, layer_id=layer.id, reason=reason
        )
        return Verdict(hold, None, passed=False, findings=tuple(findings))
    limit = limits[last.method]
    passed = _is_dry(limit, last, unknown=False)
    params = {
        "layer": layer.name,
        "method": last.method,
        "value_fraction": last.value_fraction,
        "limit_fraction": limit.limit_fraction,
        "tested_at": last.at,
    }
    hold = Hold(
        "moisture-test",
        "cover",
        "crew_lead",
        HoldState.MET if passed else HoldState.FAILED,
        layer_id=layer.id,
        evidence=last.id,
        evidence_at=last.at,
        reason=Message("moisture-passed" if passed else "moisture-failed", params),
    )
    return Verdict(hold, last, passed=passed, findings=tuple(findings))


def _odd_depth(layer: Layer, entry: MoistureTest, rules: Rules) -> dict[str, float] | None:
    """Return the depth of a test that says nothing of its layer; None for one that may."""
    depth_m, thickness_m = entry.depth_m, layer.thickness_m
    if depth_m is None or thickness_m is None:
        return None
    least_m = thickness_m * rules.number("R24", "depth_fraction")
    if least_m * (1.0 - 1e-9) <= depth_m <= thickness_m * (1.0 + 1e-9):
        return None
    return {"depth_m": depth_m, "least_m": least_m, "thickness_m": thickness_m}


def _is_dry(limit: MoistureLimit | None, entry: MoistureTest, *, unknown: bool) -> bool:
    """Return whether a value is within its limit; as told where no limit is known."""
    if limit is None:
        return unknown
    return 0.0 <= entry.value_fraction <= limit.limit_fraction + 1e-12
