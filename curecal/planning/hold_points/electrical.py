"""Hold points: what must be recorded before the next step, and what the records say.

A forecast meets no hold point. Only a reading, a test, a signature in the log does.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from datetime import datetime

from curecal.instants import add
from curecal.planning.curing.moisture_tests import needs_test
from curecal.planning.first_heat.chisel import repaired_from
from curecal.planning.hold_points.cable_tests import (
    cable_hold,
    cables_of,
    newest_faults,
    trend_findings,
)
from curecal.planning.hold_points.cable_trend import connected_untested
from curecal.planning.hold_points.circuit_checks import supply_faults
from curecal.planning.hold_points.continuity import alarm_faults, find_no_alarm
from curecal.planning.hold_points.judged_hold import (
    JudgedHold,
    finding_of,
    last_word,
    made_hold,
    why_not,
)
from curecal.planning.hold_points.site_devices import (
    connection_hold,
    protection_hold,
    thermostat_hold,
)
from curecal.planning.plan import Hold, HoldState
from curecal.planning.repair import is_repair
from curecal.planning.site_log.last_word import lifts, newest
from curecal.planning.zone_context import ZoneContext
from curecal.records import Record, record
from curecal.trade.findings import Finding, Message, Severity
from curecal.trade.hold_codes import HoldCode
from curecal.trade.job import HeatingKind, Layer
from curecal.trade.layers_below import place_of
from curecal.trade.rules import HoldPoint
from curecal.trade.site_log import (
    Connected,
    Inspection,
    MarkedPoints,
    Result,
)

_INSPECTION = HoldCode.INSPECTION_BEFORE_CONCEALMENT


@record
class Electrical(Record):
    """The hold points of a zone's heating, whether a reading shows a fault, and the findings."""

    holds: tuple[Hold, ...]
    fault: Message | None
    findings: tuple[Finding, ...]


def electrical_holds(ctx: ZoneContext) -> Electrical:
    """Return the hold points of a zone's heating as the log leaves them.

    Rule: R18, R24, R25.

    Args:
        ctx: the zone.

    Returns:
        The hold points, one per cable where each cable is tested.
    """
    holds: list[Hold] = []
    findings: list[Finding] = []
    faults: list[Message] = []
    electric = ctx.zone.heating.kind is HeatingKind.ELECTRIC
    repaired = is_repair(ctx.zone.layers)
    for point in ctx.rules.holds:
        needed = electric and _is_needed(ctx, point, repaired=repaired)
        cables = cables_of(ctx) if point.per_cable else (None,)
        for cable in cables:
            if not needed:
                name = cable.name if cable and cable.name else None
                holds.append(Hold(point.code, point.gates, point.by, HoldState.NOT_NEEDED, name))
            elif cable is not None:
                judged, fault = cable_hold(ctx, point, cable)
                holds.append(judged.hold)
                findings += judged.findings
                faults += [] if fault is None else [fault]
            else:
                judged = _JUDGES[point.code](ctx, point)
                holds.append(judged.hold)
                findings += judged.findings
    if electric:
        findings += trend_findings(ctx)
        findings += find_no_alarm(ctx)
        findings += _connected_in_order(ctx, holds)
        for more_faults, more_findings in (newest_faults(ctx, faults), alarm_faults(ctx)):
            faults += more_faults
            findings += more_findings
        faults.extend(supply_faults(ctx))
    condemned, condemned_findings = _condemned(ctx)
    faults += condemned
    findings += condemned_findings
    return Electrical(tuple(holds), faults[0] if faults else None, tuple(findings))


def _condemned(ctx: ZoneContext) -> tuple[list[Message], list[Finding]]:
    """Return what an inspection gave up: the whole floor, or what was there before it.

    A layer that was laid is judged with its clocks.
    """
    found = []
    findings = []
    subjects = {None: ""} | {layer.id: layer.name for layer in ctx.zone.layers if layer.existing}
    for layer_id, name in subjects.items():
        # What is said of no layer may be the electrical inspection: that is another hold point.
        of_heating = set() if layer_id else {Result.FAILED, Result.PASSED}
        looks = [
            look
            for look in ctx.facts.of(Inspection, ctx.zone)
            if look.layer == layer_id and look.result not in of_heating and ctx.facts.counts(look)
        ]
        bad = {Result.FAILED, Result.REPLACE}
        last = newest([look for look in looks if look.result in bad])
        if not last or any(lifts(look, last[0]) for look in looks):
            continue
        for look in last:
            replace = "replace-layer" if layer_id else "floor-condemned"
            code = "layer-failed" if look.result is Result.FAILED else replace
            params = {"layer": name, "seen_at": look.at, "by": look.by or ""}
            findings.append(finding_of(ctx, Severity.STOP, code, look.path, params, layer_id))
            found.append(Message(code, params))
    return found, findings


def _connected_in_order(ctx: ZoneContext, holds: Sequence[Hold]) -> list[Finding]:
    connected = ctx.facts.of(Connected, ctx.zone)
    before = [hold for hold in holds if hold.code is HoldCode.TEST_BEFORE_CONNECTION]
    needed = [hold for hold in before if hold.state is not HoldState.NOT_NEEDED]
    if not connected:
        return []
    passed = [hold.evidence_at if hold.state is HoldState.MET else None for hold in needed]
    return connected_untested(ctx, passed, connected[-1])


def _is_needed(ctx: ZoneContext, point: HoldPoint, *, repaired: bool) -> bool:
    """Return whether a hold point stands in an electric floor: new or repaired, by its code."""
    if point.repair:
        return repaired_from(ctx) is not None
    if repaired:
        # What stood before the repair is not asked for again; what fails now still says no.
        judge = None if point.code is HoldCode.TEST_POINTS else _JUDGES.get(point.code)
        return judge is not None and judge(ctx, point).hold.state is HoldState.FAILED
    # Where no code asks for an inspection, one that failed still says no.
    if not point.codes or ctx.job.code.value in point.codes:
        return True
    looks = newest(_looks(ctx)) if point.code == _INSPECTION else []
    return any(look.result is Result.FAILED for look in looks)


def _looks(ctx: ZoneContext) -> list[Inspection]:
    """Return the inspections of the floor's heating, not of a layer that was harmed."""
    looks = [look for look in ctx.facts.of(Inspection, ctx.zone) if look.layer is None]
    return [look for look in looks if look.result not in {Result.SOUND, Result.REPLACE}]


def _concealed_at(embedding: Layer) -> datetime | None:
    """Return when the cable began to disappear, or None while it can be seen."""
    if embedding.done_at is None:
        return None
    return add(embedding.done_at, -(embedding.duration_s or 0.0))


def _inspection(ctx: ZoneContext, point: HoldPoint) -> JudgedHold:
    """Return the inspection before concealment."""
    looks = _looks(ctx)
    embedding = ctx.build_up.embedding
    concealed_at = _concealed_at(embedding) if embedding else None
    findings = []
    if embedding and concealed_at:
        before = [look for look in looks if look.at <= concealed_at]
        seen = newest([look for look in before if ctx.facts.counts(look)])
        if not seen or any(look.result is Result.FAILED for look in seen):
            params: dict[str, object] = {"layer": embedding.name}
            findings.append(
                finding_of(
                    ctx,
                    Severity.WARNING,
                    "concealed-uninspected",
                    embedding.path,
                    params,
                    embedding.id,
                )
            )
    none = Message("inspection-none")
    hold = last_word(ctx, point, looks, lambda look: _inspected(point, look), none)
    return JudgedHold(hold, tuple(findings))


def _inspected(point: HoldPoint, look: Inspection) -> Hold:
    """Return what one inspection of the heating says."""
    params = {"seen_at": look.at, "by": look.by or "", "result": look.result.value}
    if look.result is Result.FAILED:
        return made_hold(point, HoldState.FAILED, Message("inspection-failed", params), look)
    code = "inspection-passed" if look.result is Result.PASSED else "inspection-not-required"
    return made_hold(point, HoldState.MET, Message(code, params), look)


def _test_points(ctx: ZoneContext, point: HoldPoint) -> JudgedHold:
    """Return the marking of test points: needed where a tested base lies on the cable."""
    tested = [layer for layer in ctx.zone.layers if needs_test(ctx.build_up, layer)]
    if not any(_lies_on_cable(ctx, layer) for layer in tested):
        return JudgedHold(made_hold(point, HoldState.NOT_NEEDED, Message("no-moisture-test")))
    told = ctx.facts.of(MarkedPoints, ctx.zone)
    marked = [entry for entry in told if ctx.facts.counts(entry)]
    if not marked:
        reason = why_not(ctx, told[-1]) if told else None
        unmet = made_hold(point, HoldState.UNMET, reason or Message("points-none"))
        return JudgedHold(unmet)
    params = {"marked_at": marked[-1].at}
    embedding = ctx.build_up.embedding
    concealed_at = _concealed_at(embedding) if embedding else None
    findings = []
    if concealed_at is not None and marked[0].at > concealed_at:
        # Met by the word of who marked them, and told: nobody could see the cable any more.
        late = finding_of(ctx, Severity.WARNING, "points-marked-late", marked[0].path, params)
        findings.append(late)
    hold = made_hold(point, HoldState.MET, Message("points-marked", params), marked[-1])
    return JudgedHold(hold, tuple(findings))


def _lies_on_cable(ctx: ZoneContext, layer: Layer) -> bool:
    embedding = ctx.build_up.embedding
    layers = ctx.zone.layers
    return embedding is not None and place_of(layers, layer) >= place_of(layers, embedding)


_JUDGES: dict[str, Callable[[ZoneContext, HoldPoint], JudgedHold]] = {
    _INSPECTION: _inspection,
    HoldCode.TEST_POINTS: _test_points,
    HoldCode.PROTECTION: protection_hold,
    HoldCode.THERMOSTAT: thermostat_hold,
    HoldCode.CONNECTION: connection_hold,
}


def concealed_before_test(ctx: ZoneContext, holds: Sequence[Hold]) -> list[Finding]:
    """Return a warning of a cable embedded before its tests were made, or without any.

    Rule: R24.

    Args:
        ctx: the zone.
        holds: its hold points.

    Returns:
        At most one finding.
    """
    embedding = ctx.build_up.embedding
    concealed_at = _concealed_at(embedding) if embedding else None
    if embedding is None or concealed_at is None:
        return []
    late = [
        hold
        for hold in holds
        if hold.code in {HoldCode.TEST_ON_DELIVERY, HoldCode.TEST_AFTER_LAYING}
        and hold.state is not HoldState.NOT_NEEDED
        and (
            hold.state is HoldState.UNMET
            or (hold.evidence_at is not None and hold.evidence_at > concealed_at)
        )
    ]
    if not late:
        return []
    params = {"layer": embedding.name, "count": len(late)}
    return [
        finding_of(ctx, Severity.WARNING, "embedded-untested", embedding.path, params, embedding.id)
    ]
