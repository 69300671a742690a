"""The tests of a zone's cables: which readings are whose, and what hold points make of them."""

from __future__ import annotations

from collections.abc import Sequence

from curecal.instants import add
from curecal.planning.cable_history import history_checks, note_joint
from curecal.planning.context import Desk
from curecal.planning.evidence import Judged, judge
from curecal.planning.plan import Hold, HoldState
from curecal.planning.repair import chiselled_from
from curecal.trade.buildup import Cable
from curecal.trade.findings import Message, Severity
from curecal.trade.log import Resistance, Stage
from curecal.trade.rules import HoldPoint


def cables_of(desk: Desk) -> tuple[Cable, ...]:
    """Return the cables a zone's tests are about.

    Rule: R24.

    Args:
        desk: the zone on the desk.

    Returns:
        Its cables; one without a name or a label where the job states none.
    """
    return desk.zone.heating.cables or (Cable(""),)


def _entries(desk: Desk, cable: Cable, stage: Stage) -> list[Resistance]:
    return [
        entry
        for entry in desk.facts.of(Resistance, desk.zone)
        if entry.stage is stage and _is_of(desk, cable, entry)
    ]


def _is_of(desk: Desk, cable: Cable, entry: Resistance) -> bool:
    """Return whether readings are of a cable: by its name, or because there is no other."""
    if entry.cable is not None:
        return entry.cable == cable.name
    alone = len(desk.zone.heating.cables) <= 1
    return alone and (entry.zone is not None or len(desk.job.zones) == 1)


def cable_hold(desk: Desk, point: HoldPoint, cable: Cable, faults: list[Message]) -> Hold:
    """Return one cable's test: the last entry of its stage decides.

    Rule: R18, R24, R25.

    Args:
        desk: the zone on the desk; findings are noted on it.
        point: the hold point.
        cable: the cable.
        faults: electrical faults are added to it.

    Returns:
        The hold point as the log leaves it.
    """
    stage = Stage(point.stage or Stage.IN_SERVICE)
    entries = _entries(desk, cable, stage)
    if point.repair:
        entries = [entry for entry in entries if entry.at >= chiselled_from(desk)]
    name = cable.name or None
    if not entries:
        reason = Message("test-none", {"stage": stage.value})
        return Hold(point.code, point.gates, point.by, HoldState.UNMET, name, reason=reason)
    entry = entries[-1]
    judged = judge(cable, entry, desk.rules)
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
    if judged.state is HoldState.MET and _too_soon(desk, entry):
        params = {"cable": cable.name, "tested_at": entry.at}
        judged = Judged(HoldState.UNMET, Message("test-too-soon", params))
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


def _too_soon(desk: Desk, entry: Resistance) -> bool:
    """Return whether a test came before what it is to prove the cable has outlived.

    The third test follows the embedding; the fourth the tiling, but for a screed that is
    connected and heated bare.
    """
    layer = None
    if entry.stage in {Stage.EMBEDDED, Stage.CONNECTION}:
        layer = desk.stack.embedding()
    heated_bare = any(layer.heat_before_covering for layer in desk.zone.layers)
    if entry.stage is Stage.CONNECTION and not heated_bare:
        layer = desk.stack.bed_under_covering() or layer
    if layer is None:
        return False
    return layer.done_at is None or entry.at < add(layer.done_at, -(layer.duration_s or 0.0))


def _last_good(desk: Desk, cable: Cable, failed: Resistance) -> str:
    """Return the stage of the last good test before a failed one, or an empty text."""
    good = ""
    for stage in Stage:
        for entry in _entries(desk, cable, stage):
            if entry.at < failed.at and judge(cable, entry, desk.rules).state is HoldState.MET:
                good = stage.value
    return good


def newest_faults(desk: Desk, known: Sequence[Message]) -> list[Message]:
    """Return faults that no hold point asks about: in the newest readings that decide.

    A fault found in service stops the floor as one found while building does; and so does one
    whose cable nobody named, until somebody says which cable it was.

    Rule: R25.

    Args:
        desk: the zone on the desk; findings are noted on it.
        known: faults found already.

    Returns:
        The faults that come on top.
    """
    cables = cables_of(desk)
    entries = desk.facts.of(Resistance, desk.zone)
    found = []
    for cable in (*cables, None):
        judged = [
            (judge(cable or Cable(entry.cable or ""), entry, desk.rules), entry)
            for entry in entries
            if (_is_of(desk, cable, entry) if cable else _is_nobodys(desk, entry))
        ]
        deciding = [
            (said, entry)
            for said, entry in judged
            if said.electrical_fault or said.state is HoldState.MET
        ]
        if not deciding or not deciding[-1][0].electrical_fault:
            continue
        said, entry = deciding[-1]
        params = {**said.reason.params, "stage": entry.stage.value, "before": ""}
        if any(fault.params.get("tested_at") == entry.at for fault in known):
            continue
        desk.find(Severity.STOP, said.reason.code, entry.path, params)
        found.append(Message(said.reason.code, params))
    return found


def _is_nobodys(desk: Desk, entry: Resistance) -> bool:
    return not any(_is_of(desk, cable, entry) for cable in cables_of(desk))


def note_steps(desk: Desk) -> None:
    """Note what each cable's tests give away in their order, and readings of no known cable.

    Rule: R25.

    Args:
        desk: the zone on the desk; findings are noted on it.
    """
    for entry in desk.facts.of(Resistance, desk.zone):
        if _is_nobodys(desk, entry):
            params = {"tested_at": entry.at, "stage": entry.stage.value}
            desk.find(Severity.WARNING, "which-cable", entry.path, params)
            note_joint(desk, entry)
    for cable in cables_of(desk):
        entries = [entry for stage in Stage for entry in _entries(desk, cable, stage)]
        ordered = sorted(entries, key=lambda entry: (entry.at, entry.recorded, entry.id))
        history_checks(desk, cable, ordered)
