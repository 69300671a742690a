"""Hold points: what must be recorded before the next step, and what the records say.

A forecast meets no hold point. Only a reading, a test, a signature in the log does.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import datetime

from curecal.instants import add
from curecal.planning.cable_history import connected_untested
from curecal.planning.cables import cable_hold, cables_of, newest_faults, note_steps
from curecal.planning.checks import supply_faults
from curecal.planning.context import Desk
from curecal.planning.heat_up import floor_limit
from curecal.planning.moisture import needs_test
from curecal.planning.plan import Hold, HoldState
from curecal.planning.repair import is_repair, repaired_from
from curecal.records import Record
from curecal.trade.buildup import HeatingKind, Layer
from curecal.trade.findings import Message, Severity
from curecal.trade.log import (
    Connected,
    Entry,
    Inspection,
    MarkedPoints,
    Protection,
    Result,
    ThermostatSet,
)
from curecal.trade.rules import HoldPoint

_TRIPPED = frozenset({"passed", "pass", "ok", "tripped", "trips"})
_NOT_LANDED = frozenset({"not landed", "off", "disconnected", "not connected"})
_NOT_BY_FLOOR = frozenset({"air", "room", "no", "not", "without"})
_MILLIAMPERE = re.compile(r"(\d+(?:[.,]\d+)?) ?mA", re.ASCII)
_INSPECTION = "inspection-before-concealment"
# Unit conversion may leave a last bit: 84.2 °F is 29 °C.
_HAIR_K = 1e-6


@dataclass(frozen=True, slots=True, eq=False, repr=False)
class Electrical(Record):
    """The hold points of a zone's heating, and whether a reading shows a fault."""

    holds: tuple[Hold, ...]
    fault: Message | None


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
    electric = desk.zone.heating.kind is HeatingKind.ELECTRIC
    for point in desk.rules.holds:
        needed = electric and _is_needed(desk, point)
        cables = cables_of(desk) if point.per_cable else (None,)
        for cable in cables:
            if not needed:
                name = cable.name if cable and cable.name else None
                holds.append(Hold(point.code, point.gates, point.by, HoldState.NOT_NEEDED, name))
            elif cable is not None:
                holds.append(cable_hold(desk, point, cable, faults))
            else:
                holds.append(_JUDGES[point.code](desk, point))
    if electric:
        note_steps(desk)
        _connected_in_order(desk, holds)
        faults.extend(newest_faults(desk, faults))
        faults.extend(supply_faults(desk))
    return Electrical(tuple(holds), faults[0] if faults else None)


def _connected_in_order(desk: Desk, holds: Sequence[Hold]) -> None:
    connected = desk.facts.of(Connected, desk.zone)
    before = [hold for hold in holds if hold.code == "test-before-connection"]
    needed = [hold for hold in before if hold.state is not HoldState.NOT_NEEDED]
    if connected:
        passed = [hold.evidence_at if hold.state is HoldState.MET else None for hold in needed]
        connected_untested(desk, passed, connected[-1])


def _is_needed(desk: Desk, point: HoldPoint) -> bool:
    """Return whether a hold point stands in an electric floor: new or repaired, by its code."""
    if point.repair:
        return repaired_from(desk) is not None
    if is_repair(desk):
        return False
    # Where no code asks for an inspection, one that failed still says no.
    looks = _looks(desk) if point.code == _INSPECTION else []
    failed = bool(looks) and looks[-1].result is Result.FAILED
    return failed or not point.codes or desk.job.code.value in point.codes


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


def _looks(desk: Desk) -> list[Inspection]:
    """Return the inspections of the floor's heating, not of a layer that was harmed."""
    looks = [look for look in desk.facts.of(Inspection, desk.zone) if look.layer is None]
    return [look for look in looks if look.result not in {Result.SOUND, Result.REPLACE}]


def _concealed_at(embedding: Layer) -> datetime | None:
    """Return when the cable began to disappear, or None while it can be seen."""
    if embedding.done_at is None:
        return None
    return add(embedding.done_at, -(embedding.duration_s or 0.0))


def _inspection(desk: Desk, point: HoldPoint) -> Hold:
    """Return the inspection before concealment."""
    looks = _looks(desk)
    embedding = desk.stack.embedding()
    concealed_at = _concealed_at(embedding) if embedding else None
    if embedding and concealed_at:
        seen = [look for look in looks if look.at <= concealed_at]
        if not seen or seen[-1].result is Result.FAILED:
            params: dict[str, object] = {"layer": embedding.name}
            desk.find(
                Severity.WARNING, "concealed-uninspected", embedding.path, params, embedding.id
            )
    if not looks:
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
        embedding = desk.stack.embedding()
        concealed_at = _concealed_at(embedding) if embedding else None
        if concealed_at is not None and marked[0].at > concealed_at:
            # Met by the word of who marked them, and told: nobody could see the cable any more.
            desk.find(Severity.WARNING, "points-marked-late", marked[0].path, params)
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
    most_a = desk.rules.number("R25", "trip_milliampere_count") / 1000.0
    named = [float(figure.replace(",", ".")) / 1000.0 for figure in _MILLIAMPERE.findall(last.type)]
    if not said.startswith("fail") and any(trip_a > most_a for trip_a in named):
        coarse = {**params, "most_a": most_a}
        return _hold(point, HoldState.UNMET, Message("protection-coarse", coarse), last)
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
    words = set(last.mode.lower().replace("-", " ").replace("/", " ").split())
    if "floor" not in words or words & _NOT_BY_FLOOR:
        return _hold(point, HoldState.FAILED, Message("thermostat-air", params), last)
    if last.limit_c is None:
        return _hold(point, HoldState.UNMET, Message("thermostat-no-limit", params), last)
    # Set-points round down in the units people read, so a limit over the floor's is one too many.
    if not last.limit_c <= limit_c + _HAIR_K:
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
    _INSPECTION: _inspection,
    "test-points": _test_points,
    "protection": _protection,
    "thermostat": _thermostat,
    "connection": _connection,
}


def concealed_before_test(desk: Desk, holds: Sequence[Hold]) -> None:
    """Note a cable embedded before its tests were made, or without any.

    Rule: R24.

    Args:
        desk: the zone on the desk; the finding is noted on it.
        holds: its hold points.
    """
    embedding = desk.stack.embedding()
    concealed_at = _concealed_at(embedding) if embedding else None
    if embedding is None or concealed_at is None:
        return
    late = [
        hold
        for hold in holds
        if hold.code in {"test-on-delivery", "test-after-laying"}
        and hold.state is not HoldState.NOT_NEEDED
        and (
            hold.state is HoldState.UNMET
            or (hold.evidence_at is not None and hold.evidence_at > concealed_at)
        )
    ]
    if late:
        params = {"layer": embedding.name, "count": len(late)}
        desk.find(Severity.WARNING, "embedded-untested", embedding.path, params, embedding.id)
