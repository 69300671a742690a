"""From the clocks to the crew lead's word: cure, stops, early switch-ons, the release."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import datetime

from curecal.planning.context import Desk
from curecal.planning.holds import electrical_holds
from curecal.planning.plan import Hold, HoldState
from curecal.planning.repair import is_repair, repaired_from
from curecal.planning.sequence import Chain, chain
from curecal.planning.zone_date import ZoneDate, fresh_layers, is_outstanding, zone_date
from curecal.trade.buildup import Role
from curecal.trade.findings import Message, Severity
from curecal.trade.log import Energized, Entry, HeatStep, Inspection, Release, Result, Stopped
from curecal.trade.sheets import Milestone


def clocks_out(desk: Desk, linked: Chain, due: ZoneDate) -> bool:
    """Return whether every layer is done and every clock has run out, at its latest.

    Rule: R23.

    Args:
        desk: the zone on the desk.
        linked: its layers.
        due: its date.

    Returns:
        True where nothing is left to wait for.
    """
    return (
        due.window is not None
        and due.window.latest is not None
        and due.window.latest <= desk.facts.as_of
        and all(plan.layer.done_at is not None for plan in fresh_layers(linked))
    )


def governing_span(linked: Chain, due: ZoneDate) -> tuple[datetime, datetime] | None:
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


def cure_hold(desk: Desk, linked: Chain, due: ZoneDate) -> Hold:
    """Return the cure hold point: clocks out at their latest, and a temperature on record.

    Rule: R23.

    Args:
        desk: the zone on the desk.
        linked: its layers.
        due: its date.

    Returns:
        The hold point.
    """
    span = governing_span(linked, due)
    out = clocks_out(desk, linked, due)
    measured = span is not None and desk.clocks.climate.share_measured(*span) > 0.0
    latest_at = due.window.latest if due.window else None
    if out and measured:
        reason = Message("cure-met", {"latest_at": latest_at})
        return Hold(
            "cure", "energize", "crew_lead", HoldState.MET, evidence_at=latest_at, reason=reason
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


def why_stopped(desk: Desk, linked: Chain, released: Sequence[datetime]) -> Message | None:
    """Return why a zone is stopped: a stop, or an early switch-on, that nobody has settled.

    Switched on is early without a release that counts, but for a bare screed in its own
    heat-up. Somebody settles it with an inspection that finds the floor sound; the electrical
    inspection is another matter.

    Rule: R22.

    Args:
        desk: the zone on the desk; findings are noted on it.
        linked: its layers.
        released: when it was released, by releases that count.

    Returns:
        The newest reason, or None.
    """
    settled = [
        look.at
        for look in desk.facts.of(Inspection, desk.zone)
        if look.layer is None and look.result is Result.SOUND
    ]
    bare = _bare_screeds(linked)
    stop: Message | None = None
    for entry in desk.facts.entries:
        if entry.zone not in {None, desk.zone.id} or any(at > entry.at for at in settled):
            continue
        if isinstance(entry, Stopped):
            stop = Message("stopped", {"reason": entry.reason or "", "stopped_at": entry.at})
        elif _is_early(desk, linked, entry, released) and not _in_bare(bare, entry.at):
            stop = Message("early-switch-on", {"on_at": entry.at})
        else:
            continue
        desk.find(Severity.STOP, stop.code, entry.path, stop.params)
    return stop


def _is_early(desk: Desk, linked: Chain, entry: Entry, released: Sequence[datetime]) -> bool:
    """Return whether an entry says that the floor was heated without a release."""
    if not isinstance(entry, (Energized, HeatStep)) or not fresh_layers(linked):
        return False
    # A floor under repair was in service before: what it did until then is history.
    since = repaired_from(desk)
    if since is not None and entry.at <= since:
        before = any(told.at <= entry.at for told in desk.facts.of(Release, desk.zone))
        return not (before or is_repair(desk))
    return not any(at <= entry.at for at in released)


def _in_bare(spans: Sequence[tuple[datetime, datetime | None]], at: datetime) -> bool:
    return any(first <= at and (last is None or at < last) for first, last in spans)


def release_hold(
    desk: Desk, linked: Chain, due: ZoneDate, holds: Sequence[Hold]
) -> tuple[Hold, tuple[datetime, ...]]:
    """Return the release hold point, and the instants of the releases that count.

    One counts when the crew lead made it after every clock had run out and every other hold
    point had its evidence, by what was on record when it was written. What is recorded later
    (the thermostat set anew, a trip test in use) neither undoes nor saves it; what fails later
    stands on its own. After a repair only what came after it counts.

    Rule: R18, R22, R24.

    Args:
        desk: the zone on the desk; findings are noted on it.
        linked: its layers.
        due: its date.
        holds: its other hold points.

    Returns:
        The hold point, and instants in order.
    """
    since = repaired_from(desk)
    entries = [
        entry for entry in desk.facts.of(Release, desk.zone) if since is None or entry.at > since
    ]
    counting: list[Release] = []
    refused: tuple[Release, Message] | None = None
    for entry in entries:
        reason = _why_not(desk, linked, due, holds, entry)
        if reason is None:
            counting.append(entry)
        else:
            refused = (entry, reason)
            desk.find(Severity.STOP, reason.code, entry.path, reason.params)
    if counting:
        last = counting[-1]
        params = {"released_at": last.at, "by": last.by or ""}
        hold = Hold(
            "release",
            "energize",
            "crew_lead",
            HoldState.MET,
            evidence=last.id,
            evidence_at=last.at,
            reason=Message("released", params),
        )
        return hold, tuple(entry.at for entry in counting)
    hold = Hold("release", "energize", "crew_lead", HoldState.UNMET)
    if refused is not None:
        hold = replace(hold, evidence=refused[0].id, reason=refused[1])
    return hold, ()


def _why_not(
    desk: Desk, linked: Chain, due: ZoneDate, holds: Sequence[Hold], release: Release
) -> Message | None:
    """Return why a release does not count, or None."""
    people = desk.job.people
    leads = {person.name for person in people if person.role is Role.CREW_LEAD}
    not_leads = {person.name for person in people} - leads
    # Where the job names no crew lead, nobody it names as somebody else is one.
    if not release.by or release.by in not_leads or (leads and release.by not in leads):
        return Message("release-by", {"by": release.by or "", "released_at": release.at})
    if not clocks_out(desk, linked, due):
        still_open = [hold for hold in holds if is_outstanding(hold)]
        params = {"released_at": release.at, "count": len(still_open)}
        return Message("release-early", params)
    if _was_clear(desk.as_known(release)):
        return None
    still_open = [hold for hold in holds if is_outstanding(hold)]
    if still_open:
        params = {"released_at": release.at, "count": len(still_open)}
        return Message("release-early", params)
    return Message("release-before-evidence", {"released_at": release.at})


def _was_clear(then: Desk) -> bool:
    """Return whether every hold point had its evidence by what was known at a release.

    What is written down later may show that nothing had been outstanding; nobody knew it then.
    """
    linked = chain(then)
    due = zone_date(then, linked)
    heating = electrical_holds(then)
    holds = (*heating.holds, *then.holds, cure_hold(then, linked, due))
    return heating.fault is None and not any(is_outstanding(hold) for hold in holds)


def heat_up_entries(desk: Desk, released_at: datetime | None) -> tuple[Energized | HeatStep, ...]:
    """Return the entries of the heat-up under the finished floor, since its release.

    Rule: R19.

    Args:
        desk: the zone on the desk.
        released_at: when it was released, if it was.

    Returns:
        Entries in order.
    """
    if released_at is None:
        return ()
    return tuple(
        entry
        for entry in desk.facts.entries
        if isinstance(entry, (Energized, HeatStep))
        and entry.zone in {None, desk.zone.id}
        and entry.at >= released_at
    )
