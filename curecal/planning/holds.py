"""Hold points: what must be recorded before the next step, and what the records say.

A forecast meets no hold point. Only a reading, a test, a signature in the log does.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import datetime

from curecal.instants import add
from curecal.planning.context import Desk
from curecal.planning.evidence import Judged, judge, steps_between
from curecal.planning.heat_up import floor_limit
from curecal.planning.moisture import needs_test
from curecal.planning.plan import Hold, HoldState
from curecal.trade.buildup import Cable, HeatingKind, Layer
from curecal.trade.findings import Message, Severity
from curecal.trade.log import (
    Connected,
    Entry,
    Inspection,
    MarkedPoints,
    Protection,
    Resistance,
    Result,
    Stage,
    ThermostatSet,
)
from curecal.trade.rules import HoldPoint

_TRIPPED = frozenset({"passed", "pass", "ok", "tripped", "trips"})
_NOT_LANDED = frozenset({"not landed", "off", "disconnected", "not connected"})


@dataclass(frozen=True, slots=True)
class Electrical:
    """The hold points of a zone's heating, and whether a reading shows a fault."""

    holds: tuple[Hold, ...]
    fault: Message | None


def is_repair(desk: Desk) -> bool:
    """Return whether a zone is a finished floor under repair.

    Rule: R18.

    Args:
        desk: the zone on the desk.

    Returns:
        True where any layer is a repair.
    """
    return any(layer.repair for layer in desk.zone.layers)


def electrical_holds(desk: Desk) -> Electrical:
    """Return the hold points of a zone's heating as the log leaves them.

    Rule: R18, R24, R25.

    Args:
        desk: the zone on the desk; findings are noted on it.

    Returns:
        The hold points, one per cable where each cable is tested.
    """
    holds: list[Hold] = []
    faults: list[Message] = []
    repair = is_repair(desk)
    electric = desk.zone.heating.kind is HeatingKind.ELECTRIC
    for point in desk.rules.holds:
        if point.code in _ELSEWHERE:
            continue
        needed = electric and point.repair == repair and _by_code(desk, point)
        cables = _cables(desk) if point.per_cable else (None,)
        for cable in cables:
            if not needed:
                name = cable.name if cable and cable.name else None
                holds.append(Hold(point.code, point.gates, point.by, HoldState.NOT_NEEDED, name))
            elif cable is not None:
                holds.append(_cable_hold(desk, point, cable, faults))
            else:
                holds.append(_JUDGES[point.code](desk, point))
    if electric:
        _note_steps(desk)
    return Electrical(tuple(holds), faults[0] if faults else None)


# These hold points are judged where their facts are: with the clocks, and at the end.
_ELSEWHERE = frozenset({"moisture-test", "cure", "release"})


def _by_code(desk: Desk, point: HoldPoint) -> bool:
    return not point.codes or desk.job.code.value in point.codes


def _cables(desk: Desk) -> tuple[Cable, ...]:
    return desk.zone.heating.cables or (Cable(""),)


def _entries(desk: Desk, cable: Cable, stage: Stage) -> list[Resistance]:
    several = len(desk.zone.heating.cables) > 1
    return [
        entry
        for entry in desk.facts.of(Resistance, desk.zone)
        if entry.stage is stage
        and (entry.cable == cable.name or (entry.cable is None and not several))
    ]


def _cable_hold(desk: Desk, point: HoldPoint, cable: Cable, faults: list[Message]) -> Hold:
    """Return one cable's test: the last entry of its stage decides."""
    stage = Stage(point.stage or Stage.IN_SERVICE)
    entries = _entries(desk, cable, stage)
    if point.repair:
        entries = [entry for entry in entries if entry.at >= _chiselled_from(desk)]
    name = cable.name or None
    if not entries:
        reason = Message("test-none", {"stage": stage.value})
        return Hold(point.code, point.gates, point.by, HoldState.UNMET, name, reason=reason)
    entry = entries[-1]
    judged: Judged = judge(cable, entry, desk.rules)
    if judged.state is HoldState.FAILED:
        severity = Severity.STOP if judged.electrical_fault else Severity.WARNING
        params = {
            **judged.reason.params,
            "stage": stage.value,
            "before": _last_good(desk, cable, entry),
        }
        desk.find(severity, judged.reason.code, entry.path, params)
        if judged.electrical_fault:
            faults.append(Message(judged.reason.code, params))
    return Hold(
        point.code,
        point.gates,
        point.by,
        judged.state,
        name,
        evidence=entry.id,
        evidence_at=entry.at,
        reason=judged.reason,
    )


def _chiselled_from(desk: Desk) -> datetime:
    """Return from when a reading can be one after the chiselling: shortly before the mortar."""
    done = [layer.done_at for layer in desk.zone.layers if layer.repair and layer.done_at]
    first = min(done, default=desk.facts.as_of)
    return add(first, -desk.rules.number("R18", "chisel_s"))


def _last_good(desk: Desk, cable: Cable, failed: Resistance) -> str:
    """Return the stage of the last good test before a failed one, or an empty text."""
    good = ""
    for stage in Stage:
        for entry in _entries(desk, cable, stage):
            if entry.at < failed.at and judge(cable, entry, desk.rules).state is HoldState.MET:
                good = stage.value
    return good


def _note_steps(desk: Desk) -> None:
    several = len(desk.zone.heating.cables) > 1
    for entry in desk.facts.of(Resistance, desk.zone):
        names = {cable.name for cable in desk.zone.heating.cables}
        if several and entry.cable not in names:
            params = {"tested_at": entry.at, "stage": entry.stage.value}
            desk.find(Severity.WARNING, "which-cable", entry.path, params)
    for cable in _cables(desk):
        entries = [entry for stage in Stage for entry in _entries(desk, cable, stage)]
        ordered = sorted(entries, key=lambda entry: (entry.at, entry.recorded, entry.id))
        for message in steps_between(cable, ordered, desk.rules):
            desk.find(Severity.WARNING, message.code, desk.zone.path, message.params)


def _hold(point: HoldPoint, state: HoldState, reason: Message, entry: Entry | None = None) -> Hold:
    return Hold(
        point.code,
        point.gates,
        point.by,
        state,
        evidence=entry.id if entry else None,
        evidence_at=entry.at if entry else None,
        reason=reason,
    )


def _inspection(desk: Desk, point: HoldPoint) -> Hold:
    """Return the inspection before concealment: of the floor, not of a layer that was harmed."""
    looks = [look for look in desk.facts.of(Inspection, desk.zone) if look.layer is None]
    looks = [look for look in looks if look.result not in {Result.SOUND, Result.REPLACE}]
    embedding = desk.stack.embedding()
    concealed = embedding is not None and embedding.done_at is not None
    if not looks:
        if embedding is not None and concealed:
            concealed_by = {"layer": embedding.name}
            desk.find(
                Severity.WARNING,
                "concealed-uninspected",
                embedding.path,
                concealed_by,
                embedding.id,
            )
        return _hold(point, HoldState.UNMET, Message("inspection-none"))
    last = looks[-1]
    params = {"seen_at": last.at, "by": last.by or ""}
    match last.result:
        case Result.PASSED:
            return _hold(point, HoldState.MET, Message("inspection-passed", params), last)
        case Result.NOT_REQUIRED if last.by:
            return _hold(point, HoldState.MET, Message("inspection-not-required", params), last)
        case Result.NOT_REQUIRED:
            return _hold(point, HoldState.UNMET, Message("inspection-who", params), last)
        case _:
            return _hold(point, HoldState.FAILED, Message("inspection-failed", params), last)


def _test_points(desk: Desk, point: HoldPoint) -> Hold:
    """Return the marking of test points: needed where a tested base lies on the cable."""
    tested = [layer for layer in desk.zone.layers if needs_test(desk.stack, layer)]
    if not any(_lies_on_cable(desk, layer) for layer in tested):
        return _hold(point, HoldState.NOT_NEEDED, Message("no-moisture-test"))
    marked = desk.facts.of(MarkedPoints, desk.zone)
    if marked:
        params = {"marked_at": marked[-1].at}
        return _hold(point, HoldState.MET, Message("points-marked", params), marked[-1])
    return _hold(point, HoldState.UNMET, Message("points-none"))


def _lies_on_cable(desk: Desk, layer: Layer) -> bool:
    embedding = desk.stack.embedding()
    layers = desk.zone.layers
    return embedding is not None and layers.index(layer) >= layers.index(embedding)


def _protection(desk: Desk, point: HoldPoint) -> Hold:
    entries = desk.facts.of(Protection, desk.zone)
    if not entries:
        return _hold(point, HoldState.UNMET, Message("protection-none"))
    last = entries[-1]
    said = (last.trip_test or "").strip().lower()
    params = {"type": last.type, "tested_at": last.at}
    if said in _TRIPPED:
        return _hold(point, HoldState.MET, Message("protection-trips", params), last)
    if said.startswith("fail"):
        return _hold(point, HoldState.FAILED, Message("protection-failed", params), last)
    return _hold(point, HoldState.UNMET, Message("protection-untested", params), last)


def _thermostat(desk: Desk, point: HoldPoint) -> Hold:
    entries = desk.facts.of(ThermostatSet, desk.zone)
    if not entries:
        return _hold(point, HoldState.UNMET, Message("thermostat-none"))
    last = entries[-1]
    limit_c, _ = floor_limit(desk.zone, desk.rules)
    params = {"mode": last.mode, "set_c": last.limit_c, "limit_c": limit_c, "set_at": last.at}
    if "floor" not in last.mode.lower():
        return _hold(point, HoldState.FAILED, Message("thermostat-air", params), last)
    if last.limit_c is None:
        return _hold(point, HoldState.UNMET, Message("thermostat-no-limit", params), last)
    # A limit typed in whole degrees Fahrenheit may round a hair over the same one in Celsius.
    if not last.limit_c <= limit_c + desk.rules.number("R24", "thermostat_k"):
        return _hold(point, HoldState.FAILED, Message("thermostat-too-high", params), last)
    return _hold(point, HoldState.MET, Message("thermostat-set", params), last)


def _connection(desk: Desk, point: HoldPoint) -> Hold:
    entries = desk.facts.of(Connected, desk.zone)
    if not entries:
        return _hold(point, HoldState.UNMET, Message("connection-none"))
    last = entries[-1]
    leads = (last.heating_leads or "").strip().lower()
    params = {"by": last.by or "", "connected_at": last.at}
    if last.locked is False or last.tagged is False or leads == "landed":
        return _hold(point, HoldState.FAILED, Message("connection-not-locked", params), last)
    if last.licence and last.locked and last.tagged and leads in _NOT_LANDED:
        return _hold(point, HoldState.MET, Message("connection-done", params), last)
    return _hold(point, HoldState.UNMET, Message("connection-incomplete", params), last)


_JUDGES: dict[str, Callable[[Desk, HoldPoint], Hold]] = {
    "inspection-before-concealment": _inspection,
    "test-points": _test_points,
    "protection": _protection,
    "thermostat": _thermostat,
    "connection": _connection,
}


def concealed_before_test(desk: Desk, holds: Sequence[Hold]) -> None:
    """Note a cable embedded before its tests were recorded.

    Rule: R24.

    Args:
        desk: the zone on the desk; the finding is noted on it.
        holds: its hold points.
    """
    embedding = desk.stack.embedding()
    if embedding is None or embedding.done_at is None:
        return
    late = [
        hold
        for hold in holds
        if hold.code in {"test-on-delivery", "test-after-laying"} and hold.state is HoldState.UNMET
    ]
    if late:
        params = {"layer": embedding.name, "count": len(late)}
        desk.find(Severity.WARNING, "embedded-untested", embedding.path, params, embedding.id)
