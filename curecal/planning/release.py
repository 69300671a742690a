"""From the clocks to the crew lead's word: cure, stops, early switch-ons, the release."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

from curecal.instants import Window
from curecal.planning.context import Desk
from curecal.planning.holds import is_repair
from curecal.planning.plan import Governing, Hold, HoldState, LayerPlan
from curecal.planning.sequence import Chain
from curecal.trade.buildup import Role
from curecal.trade.findings import Message, Severity
from curecal.trade.log import Energized, HeatStep, Inspection, Release, Result, Stopped
from curecal.trade.sheets import Milestone
from curecal.trade.sources import Source


@dataclass(frozen=True, slots=True)
class ZoneDate:
    """A zone's date before people come into it."""

    window: Window | None
    governed_by: Governing | None
    source: Source | None
    blocked: Message | None


def fresh_layers(linked: Chain) -> list[LayerPlan]:
    """Return the layers that have a clock: all but those that were there before.

    Rule: R29.

    Args:
        linked: the zone's layers.

    Returns:
        Layers, bottom to top.
    """
    return [plan for plan in linked.layers if not plan.layer.existing]


def is_outstanding(hold: Hold) -> bool:
    """Return whether a hold point still stands between the floor and its release.

    Rule: R24.

    Args:
        hold: the hold point.

    Returns:
        True for one unmet or failed.
    """
    return hold.state in {HoldState.UNMET, HoldState.FAILED}


def clocks_out(desk: Desk, linked: Chain, due: ZoneDate) -> bool:
    """Return whether every layer is done and every clock has run out, at its latest."""
    return (
        due.window is not None
        and due.window.latest is not None
        and due.window.latest <= desk.facts.as_of
        and all(plan.layer.done_at is not None for plan in fresh_layers(linked))
    )


def governing_span(linked: Chain, due: ZoneDate) -> tuple[datetime, datetime] | None:
    """Return the governing layer's span: from its start to its date."""
    if due.window is None or due.governed_by is None:
        return None
    for plan in linked.layers:
        if plan.layer.id == due.governed_by.layer_id and plan.finish is not None:
            return plan.finish.earliest, due.window.latest or due.window.earliest
    return None


def cure_hold(desk: Desk, linked: Chain, due: ZoneDate) -> Hold:
    """Return the cure hold point: clocks out at their latest, and a temperature on record.

    Rule: R23.
    """
    span = governing_span(linked, due)
    out = clocks_out(desk, linked, due)
    measured = span is not None and desk.clocks.climate.share_measured(*span) > 0.0
    if out and measured and due.window is not None:
        reason = Message("cure-met", {"latest_at": due.window.latest})
        return Hold(
            "cure",
            "energize",
            "crew_lead",
            HoldState.MET,
            evidence_at=due.window.latest,
            reason=reason,
        )
    if out:
        layer = due.governed_by.layer_name if due.governed_by else ""
        reason = Message("cure-unmeasured", {"layer": layer})
    else:
        reason = due.blocked or Message("cure-running")
    return Hold("cure", "energize", "crew_lead", HoldState.UNMET, reason=reason)


def _bare_screeds(linked: Chain) -> list[tuple[datetime, datetime | None]]:
    """Return when a bare screed may be heated: from its date until something lies on it."""
    spans = []
    for index, plan in enumerate(linked.layers):
        bare = plan.milestones.get(Milestone.BARE_HEAT)
        if not plan.layer.heat_before_covering or bare is None or bare.window is None:
            continue
        above = [p.layer.done_at for p in linked.layers[index + 1 :] if p.layer.done_at]
        spans.append((bare.window.earliest, min(above, default=None)))
    return spans


def why_stopped(desk: Desk, linked: Chain) -> Message | None:
    """Return why a zone is stopped: a stop, or an early switch-on, that nobody has settled."""
    done = [plan.layer.done_at for plan in fresh_layers(linked) if plan.layer.done_at]
    if is_repair(desk):
        done = [
            plan.layer.done_at
            for plan in fresh_layers(linked)
            if plan.layer.repair and plan.layer.done_at
        ]
    settled = [
        look.at
        for look in desk.facts.of(Inspection, desk.zone)
        if look.layer is None and look.result in {Result.SOUND, Result.PASSED}
    ]
    bare = _bare_screeds(linked)
    released = [entry.at for entry in desk.facts.of(Release, desk.zone)]
    stop: Message | None = None
    for entry in (*desk.facts.of(Stopped, desk.zone), *desk.facts.of(Energized, desk.zone)):
        if any(at > entry.at for at in settled):
            continue
        if isinstance(entry, Stopped):
            stop = Message("stopped", {"reason": entry.reason or "", "stopped_at": entry.at})
            desk.find(Severity.STOP, "stopped", entry.path, stop.params)
            continue
        in_bare = any(
            first <= entry.at and (last is None or entry.at < last) for first, last in bare
        )
        early = any(at < entry.at for at in done) and not any(at <= entry.at for at in released)
        if early and not in_bare:
            stop = Message("early-switch-on", {"on_at": entry.at})
            desk.find(Severity.STOP, "early-switch-on", entry.path, stop.params)
    return stop


def release_hold(
    desk: Desk, linked: Chain, due: ZoneDate, holds: Sequence[Hold]
) -> tuple[Hold, datetime | None]:
    """Return the release hold point, and the instant of a release that counts.

    It counts when the crew lead made it after every clock had run out and every other hold
    point had its evidence.
    """
    entries = desk.facts.of(Release, desk.zone)
    if not entries:
        return Hold("release", "energize", "crew_lead", HoldState.UNMET), None
    last = entries[-1]
    leads = {person.name for person in desk.job.people if person.role is Role.CREW_LEAD}
    open_codes = [hold.code for hold in holds if is_outstanding(hold)]
    ready = [hold.evidence_at for hold in holds if hold.evidence_at is not None]
    reason: Message | None = None
    if leads and last.by not in leads:
        reason = Message("release-by", {"by": last.by or "", "released_at": last.at})
    elif open_codes or not clocks_out(desk, linked, due):
        params = {"released_at": last.at, "count": len(open_codes)}
        reason = Message("release-early", params)
    elif max(ready, default=last.at) > last.at:
        reason = Message("release-before-evidence", {"released_at": last.at})
    if reason is not None:
        desk.find(Severity.STOP, reason.code, last.path, reason.params)
        hold = Hold(
            "release", "energize", "crew_lead", HoldState.UNMET, evidence=last.id, reason=reason
        )
        return hold, None
    hold = Hold(
        "release",
        "energize",
        "crew_lead",
        HoldState.MET,
        evidence=last.id,
        evidence_at=last.at,
        reason=Message("released", {"released_at": last.at, "by": last.by or ""}),
    )
    return hold, last.at


def heat_up_entries(desk: Desk, released_at: datetime | None) -> tuple[Energized | HeatStep, ...]:
    """Return the entries of the heat-up under the finished floor, since its release."""
    if released_at is None:
        return ()
    return tuple(
        entry
        for entry in desk.facts.entries
        if isinstance(entry, (Energized, HeatStep))
        and entry.zone in {None, desk.zone.id}
        and entry.at >= released_at
    )
