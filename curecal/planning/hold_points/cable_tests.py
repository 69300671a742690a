"""The tests of a zone's cables: which readings are whose, and what hold points make of them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from curecal.instants import add, local_day, start_of_day
from curecal.planning.first_heat.chisel import chiselled_from
from curecal.planning.hold_points.cable_limits import (
    Judged,
    called,
    is_insulation_low,
    judge,
    mildness,
    shows_insulated,
)
from curecal.planning.hold_points.cable_trend import (
    history_checks,
    joint_findings,
    judged_here,
)
from curecal.planning.hold_points.judged_hold import JudgedHold, finding_of
from curecal.planning.plan import Hold, HoldState
from curecal.planning.site_log.last_word import newest
from curecal.planning.zone_context import ZoneContext
from curecal.trade.findings import Finding, Message, Severity
from curecal.trade.job import Cable
from curecal.trade.rules import HoldPoint
from curecal.trade.site_log import NotTested, Resistance, Stage


def cables_of(ctx: ZoneContext) -> tuple[Cable, ...]:
    """Return the cables a zone's tests are about.

    Rule: R24.

    Args:
        ctx: the zone.

    Returns:
        Its cables; one without a name or a label where the job states none.
    """
    return ctx.zone.heating.cables or (Cable(""),)


def _entries(ctx: ZoneContext, cable: Cable, stage: Stage) -> list[Resistance]:
    return [
        entry
        for entry in ctx.facts.of(Resistance, ctx.zone)
        if entry.stage is stage and is_of(ctx, cable, entry)
    ]


def is_of(ctx: ZoneContext, cable: Cable, entry: Resistance) -> bool:
    """Return whether readings are of a cable: by its name, or because there is no other.

    Rule: R24.

    Args:
        ctx: the zone.
        cable: the cable.
        entry: the readings.

    Returns:
        True for its own.
    """
    if entry.cable is not None:
        return entry.cable == cable.name
    alone = len(ctx.zone.heating.cables) <= 1
    return alone and (entry.zone is not None or len(ctx.job.zones) == 1)


def cable_hold(
    ctx: ZoneContext, point: HoldPoint, cable: Cable
) -> tuple[JudgedHold, Message | None]:
    """Return one cable's test: the last entry of its stage decides, of equal ones the worst.

    What the insulation tester found stands until an insulation tester says otherwise.

    Rule: R18, R24, R25.

    Args:
        ctx: the zone.
        point: the hold point.
        cable: the cable.

    Returns:
        The hold point as the log leaves it, and the electrical fault it shows, if any.
    """
    stage = Stage(point.stage or Stage.IN_SERVICE)
    entries = _entries(ctx, cable, stage)
    if point.repair:
        entries = [entry for entry in entries if entry.at >= chiselled_from(ctx)]
    name = cable.name or None
    if not entries:
        return JudgedHold(_missed(ctx, point, cable, stage)), None
    findings: list[Finding] = []
    fault: Message | None = None
    entry, judged = _deciding(ctx, cable, entries)
    if judged.state is HoldState.FAILED:
        severity = Severity.STOP if judged.electrical_fault else Severity.WARNING
        params = {
            **judged.reason.params,
            "stage": stage.value,
            "before": _last_good(ctx, cable, entry),
        }
        findings.append(finding_of(ctx, severity, judged.reason.code, entry.path, params))
        if judged.electrical_fault:
            fault = Message(judged.reason.code, params)
    findings += _said_missed(ctx, cable, entry)
    late = _too_soon(ctx, entry) if judged.state is HoldState.MET else None
    if late is not None:
        judged = Judged(HoldState.UNMET, late)
    hold = Hold(
        point.code,
        point.gates,
        point.by,
        judged.state,
        name,
        evidence=entry.id,
        evidence_at=entry.at,
        reason=judged.reason,
    )
    return JudgedHold(hold, tuple(findings)), fault


def _said_missed(ctx: ZoneContext, cable: Cable, test: Resistance) -> list[Finding]:
    """Return a finding where a test is logged, and somebody says that it was never made.

    Rule: R24c2.
    """
    told = [
        entry
        for entry in ctx.facts.of(NotTested, ctx.zone)
        if entry.stage is test.stage and entry.cable in {None, cable.name}
    ]
    if not told:
        return []
    params = {
        "cable": called(cable),
        "stage": test.stage.value,
        "tested_at": test.at,
        "signed_at": told[-1].at,
        "by": told[-1].by or "",
    }
    return [finding_of(ctx, Severity.WARNING, "missed-and-tested", told[-1].path, params)]


def _missed(ctx: ZoneContext, point: HoldPoint, cable: Cable, stage: Stage) -> Hold:
    """Return a test that nobody made: once the cable is embedded a complete one stands in for it.

    The crew lead signs that it was missed, so that nobody is driven to write an earlier date.

    Rule: R24c2.
    """
    name = cable.name or None
    none = Message("test-none", {"stage": stage.value})
    unmet = Hold(point.code, point.gates, point.by, HoldState.UNMET, name, reason=none)
    whole = _whole_since_embedding(ctx, cable)
    if whole is None or stage not in {Stage.DELIVERY, Stage.LAID}:
        return unmet
    signed = [
        entry
        for entry in ctx.facts.of(NotTested, ctx.zone)
        if entry.stage is stage and entry.cable in {None, cable.name} and ctx.facts.counts(entry)
    ]
    params = {"stage": stage.value, "tested_at": whole.at}
    if not signed:
        return replace(unmet, reason=Message("test-missed-unsigned", params))
    reason = Message("test-missed", {**params, "by": signed[-1].by or ""})
    return replace(
        unmet, state=HoldState.MET, evidence=whole.id, evidence_at=whole.at, reason=reason
    )


def _whole_since_embedding(ctx: ZoneContext, cable: Cable) -> Resistance | None:
    """Return the last passed test with the insulation tester since a cable was embedded."""
    embedding = ctx.build_up.embedding
    embedded_at = None if embedding is None else embedding.done_at
    tests = [
        entry
        for entry in ctx.facts.of(Resistance, ctx.zone)
        if embedded_at is not None
        and entry.at >= embedded_at
        and is_of(ctx, cable, entry)
        and entry.insulation_ohm is not None
        and judged_here(ctx, cable, entry).state is HoldState.MET
    ]
    return tests[-1] if tests else None


def _deciding(
    ctx: ZoneContext, cable: Cable, entries: Sequence[Resistance]
) -> tuple[Resistance, Judged]:
    """Return which of a stage's readings decide, and what they prove."""
    low: Resistance | None = None
    counting = []
    for entry in entries:
        counts = ctx.facts.counts(entry)
        if is_insulation_low(cable, entry):
            low = entry
        elif low is not None and shows_insulated(cable, entry) and entry.at > low.at and counts:
            low = None
        # Good readings of somebody who may not give them hide nothing that was found before.
        if counts or judge(cable, entry, ctx.rules).state is not HoldState.MET:
            counting.append(entry)
    last = newest(counting or entries) if low is None else [low]
    judged = [(entry, judged_here(ctx, cable, entry)) for entry in last]
    return min(judged, key=lambda pair: mildness(pair[1]))


def _too_soon(ctx: ZoneContext, entry: Resistance) -> Message | None:
    """Return why a test came before what it is to prove the cable has outlived; else None.

    The third test follows the embedding; the fourth the tiling, but for a screed that is
    connected and heated bare. Work is outlived when it is finished, not when it begins.
    """
    layer = None
    if entry.stage in {Stage.EMBEDDED, Stage.CONNECTION}:
        layer = ctx.build_up.embedding
    heated_bare = any(layer.heat_before_covering for layer in ctx.zone.layers)
    if entry.stage is Stage.CONNECTION and not heated_bare:
        layer = ctx.build_up.bed_under_covering() or layer
    if layer is None or (layer.done_at is not None and entry.at >= layer.done_at):
        return None
    params = {"layer": layer.name, "tested_at": entry.at}
    if layer.done_at is None:
        return Message("test-too-soon", params)
    tz = ctx.job.tz
    # A day without an hour ends at midnight: a test of that day may have come before the work.
    by_day = layer.done_at == start_of_day(local_day(layer.done_at, tz), tz)
    same_day = local_day(entry.at, tz) == local_day(add(layer.done_at, -1.0), tz)
    return Message("test-same-day" if by_day and same_day else "test-too-soon", params)


def _last_good(ctx: ZoneContext, cable: Cable, failed: Resistance) -> str:
    """Return the stage of the last good test before a failed one, or an empty text."""
    good = ""
    for stage in Stage:
        for entry in _entries(ctx, cable, stage):
            if entry.at < failed.at and judged_here(ctx, cable, entry).state is HoldState.MET:
                good = stage.value
    return good


def newest_faults(
    ctx: ZoneContext, known: Sequence[Message]
) -> tuple[list[Message], list[Finding]]:
    """Return faults that no hold point asks about: in the newest readings that decide.

    A fault found in service stops the floor as one found while building does; and so does one
    whose cable nobody named, until somebody says which cable it was, or every cable of the zone
    is found whole by its name.

    Rule: R25.

    Args:
        ctx: the zone.
        known: faults found already.

    Returns:
        The faults that come on top, and a finding for each.
    """
    cables = cables_of(ctx)
    entries = ctx.facts.of(Resistance, ctx.zone)
    faults = []
    findings = []
    for cable in (*cables, None):
        judged = [
            (judged_here(ctx, cable or Cable(entry.cable or ""), entry), entry)
            for entry in entries
            if (is_of(ctx, cable, entry) if cable else _is_nobodys(ctx, entry))
        ]
        standing = _standing(cable or Cable(""), judged)
        if standing is None:
            continue
        said, entry = standing
        if cable is None and _each_whole_since(ctx, entry):
            continue
        code = said.reason.code if cable else f"{said.reason.code}-unnamed"
        params = {**said.reason.params, "stage": entry.stage.value, "before": ""}
        if any(fault.params.get("tested_at") == entry.at for fault in known):
            continue
        findings.append(finding_of(ctx, Severity.STOP, code, entry.path, params))
        faults.append(Message(code, params))
    return faults, findings


def _each_whole_since(ctx: ZoneContext, fault: Resistance) -> bool:
    """Return whether each cable of a zone passed an insulation test after one of all of them."""
    here = fault.zone is not None or len(ctx.job.zones) == 1
    entries = [
        entry
        for entry in ctx.facts.of(Resistance, ctx.zone)
        if entry.at > fault.at and entry.insulation_ohm is not None
    ]
    return (
        here
        and fault.cable is None
        and all(
            any(
                is_of(ctx, cable, entry) and judged_here(ctx, cable, entry).state is HoldState.MET
                for entry in entries
            )
            for cable in cables_of(ctx)
        )
    )


def _standing(
    cable: Cable, judged: Sequence[tuple[Judged, Resistance]]
) -> tuple[Judged, Resistance] | None:
    """Return the newest fault that no later good test has cleared.

    One that the insulation tester found is cleared by an insulation tester alone; a test of the
    same instant clears nothing.
    """
    fault: tuple[Judged, Resistance] | None = None
    by_tester = False
    for said, entry in judged:
        if said.electrical_fault:
            fault = (said, entry)
            by_tester = by_tester or is_insulation_low(cable, entry)
        elif (
            fault is not None
            and said.state is HoldState.MET
            and entry.at > fault[1].at
            and (entry.insulation_ohm is not None or not by_tester)
        ):
            fault, by_tester = None, False
    return fault


def _is_nobodys(ctx: ZoneContext, entry: Resistance) -> bool:
    return not any(is_of(ctx, cable, entry) for cable in cables_of(ctx))


def trend_findings(ctx: ZoneContext) -> list[Finding]:
    """Return what each cable's tests give away in their order, and readings of no known cable.

    Rule: R25.

    Args:
        ctx: the zone.

    Returns:
        The findings.
    """
    findings = []
    for entry in ctx.facts.of(Resistance, ctx.zone):
        if _is_nobodys(ctx, entry):
            params = {"tested_at": entry.at, "stage": entry.stage.value}
            findings.append(finding_of(ctx, Severity.WARNING, "which-cable", entry.path, params))
            findings += joint_findings(ctx, entry)
    for cable in cables_of(ctx):
        entries = [entry for stage in Stage for entry in _entries(ctx, cable, stage)]
        ordered = sorted(entries, key=lambda entry: (entry.at, entry.recorded, entry.id))
        findings += history_checks(ctx, cable, ordered)
    return findings
