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
    note_steps,
)
from curecal.planning.hold_points.cable_trend import connected_untested
from curecal.planning.hold_points.circuit_checks import supply_faults
from curecal.planning.hold_points.site_devices import (
    connection_hold,
    made_hold,
    protection_hold,
    thermostat_hold,
    worst,
)
from curecal.planning.plan import Hold, HoldState
from curecal.planning.repair import is_repair
from curecal.planning.site_log.authority import lifts
from curecal.planning.site_log.said import OWNERS, may_say, newest
from curecal.planning.zone_context import Noted as ZoneContext
from curecal.records import Record, record
from curecal.trade.findings import Message, Severity
from curecal.trade.hold_codes import HoldCode
from curecal.trade.job import HeatingKind, Layer
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
    """The hold points of a zone's heating, and whether a reading shows a fault."""

    holds: tuple[Hold, ...]
    fault: Message | None


def electrical_holds(ctx: ZoneContext) -> Electrical:
    """Return the hold points of a zone's heating as the log leaves them.

    Rule: R18, R24, R25.

    Args:
        ctx: the zone; findings are noted on it.

    Returns:
        The hold points, one per cable where each cable is tested.
    """
    holds: list[Hold] = []
    faults: list[Message] = []
    electric = ctx.zone.heating.kind is HeatingKind.ELECTRIC
    for point in ctx.rules.holds:
        needed = electric and _is_needed(ctx, point)
        cables = cables_of(ctx) if point.per_cable else (None,)
        for cable in cables:
            if not needed:
                name = cable.name if cable and cable.name else None
                holds.append(Hold(point.code, point.gates, point.by, HoldState.NOT_NEEDED, name))
            elif cable is not None:
                holds.append(cable_hold(ctx, point, cable, faults))
            else:
                holds.append(_JUDGES[point.code](ctx, point))
    if electric:
        note_steps(ctx)
        _connected_in_order(ctx, holds)
        faults.extend(newest_faults(ctx, faults))
        faults.extend(supply_faults(ctx))
    faults.extend(_condemned(ctx))
    return Electrical(tuple(holds), faults[0] if faults else None)


def _condemned(ctx: ZoneContext) -> list[Message]:
    """Return what an inspection gave up: the whole floor, or what was there before it.

    A layer that was laid is judged with its clocks.
    """
    found = []
    subjects = {None: ""} | {layer.id: layer.name for layer in ctx.zone.layers if layer.existing}
    for layer_id, name in subjects.items():
        # What is said of no layer may be the electrical inspection: that is another hold point.
        of_heating = set() if layer_id else {Result.FAILED, Result.PASSED}
        looks = [
            look
            for look in ctx.facts.of(Inspection, ctx.zone)
            if look.layer == layer_id and look.result not in of_heating
        ]
        bad = {Result.FAILED, Result.REPLACE}
        last = newest([look for look in looks if look.result in bad])
        if not last or any(lifts(ctx.job, look, last[0]) for look in looks):
            continue
        for look in last:
            replace = "replace-layer" if layer_id else "floor-condemned"
            code = "layer-failed" if look.result is Result.FAILED else replace
            params = {"layer": name, "seen_at": look.at, "by": look.by or ""}
            ctx.find(Severity.STOP, code, look.path, params, layer_id)
            found.append(Message(code, params))
    return found


def _connected_in_order(ctx: ZoneContext, holds: Sequence[Hold]) -> None:
    connected = ctx.facts.of(Connected, ctx.zone)
    before = [hold for hold in holds if hold.code is HoldCode.TEST_BEFORE_CONNECTION]
    needed = [hold for hold in before if hold.state is not HoldState.NOT_NEEDED]
    if connected:
        passed = [hold.evidence_at if hold.state is HoldState.MET else None for hold in needed]
        connected_untested(ctx, passed, connected[-1])


def _is_needed(ctx: ZoneContext, point: HoldPoint) -> bool:
    """Return whether a hold point stands in an electric floor: new or repaired, by its code."""
    if point.repair:
        return repaired_from(ctx) is not None
    if is_repair(ctx.zone.layers):
        # What stood before the repair is not asked for again; what fails now still says no.
        judge = None if point.code is HoldCode.TEST_POINTS else _JUDGES.get(point.code)
        return judge is not None and judge(ctx, point).state is HoldState.FAILED
    # Where no code asks for an inspection, one that failed still says no.
    looks = _looks(ctx) if point.code == _INSPECTION else []
    failed = any(look.result is Result.FAILED for look in newest(looks))
    return failed or not point.codes or ctx.job.code.value in point.codes


def _looks(ctx: ZoneContext) -> list[Inspection]:
    """Return the inspections of the floor's heating, not of a layer that was harmed."""
    looks = [look for look in ctx.facts.of(Inspection, ctx.zone) if look.layer is None]
    return [look for look in looks if look.result not in {Result.SOUND, Result.REPLACE}]


def _concealed_at(embedding: Layer) -> datetime | None:
    """Return when the cable began to disappear, or None while it can be seen."""
    if embedding.done_at is None:
        return None
    return add(embedding.done_at, -(embedding.duration_s or 0.0))


def _inspection(ctx: ZoneContext, point: HoldPoint) -> Hold:
    """Return the inspection before concealment."""
    looks = _looks(ctx)
    embedding = ctx.build_up.embedding()
    concealed_at = _concealed_at(embedding) if embedding else None
    if embedding and concealed_at:
        seen = newest([look for look in looks if look.at <= concealed_at and _counts(ctx, look)])
        if not seen or any(look.result is Result.FAILED for look in seen):
            params: dict[str, object] = {"layer": embedding.name}
            ctx.find(
                Severity.WARNING, "concealed-uninspected", embedding.path, params, embedding.id
            )
    # A good word that does not count hides nothing that was said before it.
    counting = [look for look in looks if _counts(ctx, look)] or looks
    unmet = made_hold(point, HoldState.UNMET, Message("inspection-none"))
    return worst([_inspected(ctx, point, look) for look in newest(counting)], unmet)


def _counts(ctx: ZoneContext, look: Inspection) -> bool:
    """Return whether an inspection counts: a good word needs a name, and not the owner's."""
    good = look.result not in {Result.FAILED, Result.REPLACE}
    return not good or may_say(ctx.job.people, look.by, barred=OWNERS)


def _inspected(ctx: ZoneContext, point: HoldPoint, look: Inspection) -> Hold:
    """Return what one inspection of the heating says."""
    params = {"seen_at": look.at, "by": look.by or "", "result": look.result.value}
    if look.result is Result.FAILED:
        return made_hold(point, HoldState.FAILED, Message("inspection-failed", params), look)
    if not _counts(ctx, look):
        return made_hold(point, HoldState.UNMET, Message("inspection-who", params), look)
    code = "inspection-passed" if look.result is Result.PASSED else "inspection-not-required"
    return made_hold(point, HoldState.MET, Message(code, params), look)


def _test_points(ctx: ZoneContext, point: HoldPoint) -> Hold:
    """Return the marking of test points: needed where a tested base lies on the cable."""
    tested = [layer for layer in ctx.zone.layers if needs_test(ctx.build_up, layer)]
    if not any(_lies_on_cable(ctx, layer) for layer in tested):
        return made_hold(point, HoldState.NOT_NEEDED, Message("no-moisture-test"))
    marked = ctx.facts.of(MarkedPoints, ctx.zone)
    if marked:
        params = {"marked_at": marked[-1].at}
        embedding = ctx.build_up.embedding()
        concealed_at = _concealed_at(embedding) if embedding else None
        if concealed_at is not None and marked[0].at > concealed_at:
            # Met by the word of who marked them, and told: nobody could see the cable any more.
            ctx.find(Severity.WARNING, "points-marked-late", marked[0].path, params)
        return made_hold(point, HoldState.MET, Message("points-marked", params), marked[-1])
    return made_hold(point, HoldState.UNMET, Message("points-none"))


def _lies_on_cable(ctx: ZoneContext, layer: Layer) -> bool:
    embedding = ctx.build_up.embedding()
    layers = ctx.zone.layers
    return embedding is not None and layers.index(layer) >= layers.index(embedding)


_JUDGES: dict[str, Callable[[ZoneContext, HoldPoint], Hold]] = {
    _INSPECTION: _inspection,
    HoldCode.TEST_POINTS: _test_points,
    HoldCode.PROTECTION: protection_hold,
    HoldCode.THERMOSTAT: thermostat_hold,
    HoldCode.CONNECTION: connection_hold,
}


def concealed_before_test(ctx: ZoneContext, holds: Sequence[Hold]) -> None:
    """Note a cable embedded before its tests were made, or without any.

    Rule: R24.

    Args:
        ctx: the zone; findings are noted on it.
        holds: its hold points.
    """
    embedding = ctx.build_up.embedding()
    concealed_at = _concealed_at(embedding) if embedding else None
    if embedding is None or concealed_at is None:
        return
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
    if late:
        params = {"layer": embedding.name, "count": len(late)}
        ctx.find(Severity.WARNING, "embedded-untested", embedding.path, params, embedding.id)
