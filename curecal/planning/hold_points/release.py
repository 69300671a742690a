"""From the clocks to the crew lead's word: cure, the release."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import datetime

from curecal.planning.first_heat.chisel import repaired_from
from curecal.planning.hold_points.complete_list import complete_list_holds
from curecal.planning.hold_points.electrical import electrical_holds
from curecal.planning.hold_points.judged_hold import JudgedHold, finding_of, why_not
from curecal.planning.hold_points.stops import on_since
from curecal.planning.plan import Hold, HoldState
from curecal.planning.schedule.energize_date import CureDate, compute_cure_date
from curecal.planning.schedule.layer_schedule import LayerSchedule, schedule_layers
from curecal.planning.site_log.authority import names_any
from curecal.planning.zone_context import ZoneContext
from curecal.trade.findings import Finding, Message, Severity
from curecal.trade.hold_codes import Gate, HoldCode
from curecal.trade.job import Role
from curecal.trade.site_log import Energized, HeatStep, Inspection, Release, Remark, Result

_LEAD = frozenset({Role.CREW_LEAD})


def clocks_out(ctx: ZoneContext, linked: LayerSchedule, due: CureDate) -> bool:
    """Return whether every layer is done and every clock has run out, at its latest.

    Rule: R23.

    Args:
        ctx: the zone.
        linked: its layers.
        due: its date.

    Returns:
        True where nothing is left to wait for.
    """
    return (
        due.window is not None
        and due.window.latest is not None
        and due.window.latest <= ctx.facts.as_of
        and all(plan.layer.done_at is not None for plan in linked.with_clock)
    )


def governing_span(linked: LayerSchedule, due: CureDate) -> tuple[datetime, datetime] | None:
    """Return the governing layer's span: from its start to its date.

    Rule: R23.

    Args:
        linked: the zone's layers.
        due: its date.

    Returns:
        Two instants, or None where there is no date.
    """
    if due.window is None or due.governed_by is None:
        return None
    end = due.window.latest or due.window.earliest
    finishes = {plan.layer.id: plan.finish for plan in linked.layers}
    finish = finishes[due.governed_by.layer_id]
    return None if finish is None else (finish.earliest, end)


def cure_hold(ctx: ZoneContext, linked: LayerSchedule, due: CureDate) -> Hold:
    """Return the cure hold point: clocks out at their latest, and a temperature on record.

    Rule: R23.

    Args:
        ctx: the zone.
        linked: its layers.
        due: its date.

    Returns:
        The hold point.
    """
    span = governing_span(linked, due)
    out = clocks_out(ctx, linked, due)
    measured = span is not None and ctx.clocks.climate.share_measured(*span) > 0.0
    latest_at = due.window.latest if due.window else None
    lost = [remark for remark in ctx.facts.of(Remark, ctx.zone) if remark.is_lost]
    if out and lost:
        # They may hide a frost.
        reason = Message("cure-readings-lost", {"file": lost[0].file or ""})
    elif out and measured:
        reason = Message("cure-met", {"latest_at": latest_at})
        return Hold(
            HoldCode.CURE,
            Gate.ENERGIZE,
            Role.CREW_LEAD,
            HoldState.MET,
            evidence_at=latest_at,
            reason=reason,
        )
    elif out:
        layer = due.governed_by.layer_name if due.governed_by else ""
        reason = Message("cure-unmeasured", {"layer": layer})
    else:
        reason = due.blocked or Message("cure-running")
    return Hold(HoldCode.CURE, Gate.ENERGIZE, Role.CREW_LEAD, HoldState.UNMET, reason=reason)


def release_hold(
    ctx: ZoneContext, linked: LayerSchedule, due: CureDate, holds: Sequence[Hold]
) -> tuple[JudgedHold, tuple[datetime, ...]]:
    """Return the release hold point, and the instants of the releases that count.

    One counts when the crew lead made it after every clock had run out, by all that is known
    today, and every other hold point had its evidence, by what was on record when it was
    written. What is recorded later (the thermostat set anew, a trip test in use) neither undoes
    nor saves it; what fails later stands on its own. A layer laid later, or cold told later,
    undoes it. After a repair only what came after it counts.

    Rule: R18, R22, R24.

    Args:
        ctx: the zone.
        linked: its layers.
        due: its date.
        holds: its other hold points.

    Returns:
        The hold point, and instants in order.
    """
    since = repaired_from(ctx)
    entries = [
        entry for entry in ctx.facts.of(Release, ctx.zone) if since is None or entry.at > since
    ]
    counting: list[Release] = []
    refused: list[tuple[Release, Message]] = []
    for entry in entries:
        reason = _why_not(ctx, linked, due, holds, entry)
        if reason is None:
            counting.append(entry)
        else:
            refused.append((entry, reason))
    last = counting[-1] if counting else None
    findings: list[Finding] = []
    for entry, reason in refused:
        if last is not None and entry.at < last.at:
            params: dict[str, object] = {"released_at": entry.at, "later_at": last.at}
            findings.append(
                finding_of(ctx, Severity.CAUTION, "release-settled", entry.path, params)
            )
        else:
            findings.append(finding_of(ctx, Severity.STOP, reason.code, entry.path, reason.params))
    if not names_any(ctx.job.people, _LEAD, ctx.facts.as_of) and (
        entries or clocks_out(ctx, linked, due)
    ):
        findings.append(finding_of(ctx, Severity.WARNING, "release-unnamed", "people", {}))
    hold = Hold(HoldCode.RELEASE, Gate.ENERGIZE, Role.CREW_LEAD, HoldState.UNMET)
    if last is None:
        if refused:
            entry, reason = refused[-1]
            hold = replace(hold, evidence=entry.id, reason=reason)
        return JudgedHold(hold, tuple(findings)), ()
    params = {"released_at": last.at, "by": last.by or ""}
    hold = replace(
        hold,
        state=HoldState.MET,
        evidence=last.id,
        evidence_at=last.at,
        reason=Message("released", params),
    )
    return JudgedHold(hold, tuple(findings)), tuple(entry.at for entry in counting)


def _why_not(
    ctx: ZoneContext, linked: LayerSchedule, due: CureDate, holds: Sequence[Hold], release: Release
) -> Message | None:
    """Return why a release does not count, or None."""
    params: dict[str, object] = {"released_at": release.at}
    unsigned = why_not(ctx, release)
    if unsigned is not None:
        return unsigned
    if due.blocked is not None:
        return Message("release-undated", {**params, "why": due.blocked})
    failed = [
        look
        for look in ctx.facts.of(Inspection, ctx.zone)
        if look.layer is not None and look.result is Result.FAILED and look.at > release.at
    ]
    if failed:
        layers = {layer.id: layer.name for layer in ctx.zone.layers}
        name = layers.get(failed[-1].layer or "", failed[-1].layer)
        return Message(
            "release-before-failure", {"layer": name, "seen_at": failed[-1].at, **params}
        )
    running = _clocks_at(linked, due, release.at)
    if running is not None:
        return Message("release-early", {**params, **running})
    return _evidence_at(ctx, holds, release)


def _evidence_at(ctx: ZoneContext, holds: Sequence[Hold], release: Release) -> Message | None:
    """Return what the evidence lacked when a release was written, or None."""
    params: dict[str, object] = {"released_at": release.at}
    fault, then = _outstanding_then(ctx.as_known(release))
    if fault is None and not then:
        return None
    still_open = [hold.code for hold in holds if hold.is_outstanding]
    if still_open:
        return Message("release-early", {**params, "hold": still_open[0]})
    if fault is not None:
        return Message("release-over-fault", {**params, "why": fault})
    return Message("release-before-evidence", {**params, "hold": then[0]})


def _clocks_at(linked: LayerSchedule, due: CureDate, at: datetime) -> dict[str, object] | None:
    """Return what of the floor had not had its time at an instant, by all that is known since.

    A layer laid after a release, or a cold night told later, takes it back for good: nobody
    released what has hardened since.
    """
    for plan in linked.with_clock:
        if plan.layer.done_at is None or plan.layer.done_at > at:
            return {"layer": plan.layer.name}
    latest_at = due.window.latest if due.window else None
    return None if latest_at is not None and latest_at <= at else {"latest_at": latest_at}


def _outstanding_then(then: ZoneContext) -> tuple[Message | None, list[str]]:
    """Return the fault and the hold points that stood by what was known at a release.

    What is written down later may show that nothing had been outstanding; nobody knew it then.
    """
    linked = schedule_layers(then)
    due = compute_cure_date(then, linked)
    heating = electrical_holds(then)
    listed = complete_list_holds(then)
    holds = (*heating.holds, *linked.holds, *listed, cure_hold(then, linked, due))
    return heating.fault, [hold.code for hold in holds if hold.is_outstanding]


def heat_up_entries(ctx: ZoneContext, free_at: datetime | None) -> tuple[Energized | HeatStep, ...]:
    """Return the entries of the heat-up under the finished floor, since its release.

    A floor that somebody stopped begins anew once it is found sound. Seen on, it was switched on.

    Rule: R19.

    Args:
        ctx: the zone.
        free_at: when it was released, or went on after a later stop; None without a release.

    Returns:
        Entries in order.
    """
    if free_at is None:
        return ()
    told = tuple(
        entry
        for entry in ctx.facts.entries
        if isinstance(entry, (Energized, HeatStep))
        and entry.zone in {None, ctx.zone.id}
        and entry.at >= free_at
    )
    on_at = None if told else on_since(ctx, free_at)
    # Nobody wrote down who switched it on, and it was seen on.
    return told if on_at is None else (Energized(id="", at=on_at, recorded=on_at),)
