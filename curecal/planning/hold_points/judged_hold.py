"""A hold point as the log leaves it, with what was found on the way."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import TypeVar

from curecal.planning.plan import Hold, HoldState
from curecal.planning.site_log.authority import evidence_of, gap, gap_message
from curecal.planning.site_log.last_word import newest
from curecal.planning.zone_context import ZoneContext
from curecal.records import Record, record
from curecal.trade.findings import Finding, Message, Params, Severity
from curecal.trade.rules import HoldPoint
from curecal.trade.site_log import Entry

E = TypeVar("E", bound=Entry)


@record
class JudgedHold(Record):
    """A hold point, and the findings of whoever judged it."""

    hold: Hold
    findings: tuple[Finding, ...] = ()


def finding_of(
    ctx: ZoneContext,
    severity: Severity,
    code: str,
    path: str,
    params: Params,
    layer_id: str | None = None,
) -> Finding:
    """Return a finding about a zone.

    Rule: R24.

    Args:
        ctx: the zone.
        severity: how much it matters.
        code: what it says.
        path: the place in the job file.
        params: what goes into its places.
        layer_id: the layer it is about, if it is about one.

    Returns:
        The finding.
    """
    return Finding(severity, code, path, params, ctx.zone.id, layer_id)


def made_hold(
    point: HoldPoint, state: HoldState, reason: Message, entry: Entry | None = None
) -> Hold:
    """Return a hold point's state with its reason, and the entry it rests on.

    Rule: R24.

    Args:
        point: the hold point.
        state: its state.
        reason: why.
        entry: the entry, if any.

    Returns:
        The hold point as the log leaves it.
    """
    return Hold(
        point.code,
        point.gates,
        point.by,
        state,
        evidence=entry.id if entry else None,
        evidence_at=entry.at if entry else None,
        reason=reason,
    )


def worst(holds: Sequence[Hold], none: Hold) -> Hold:
    """Return the worst of what the entries of one instant say, or the hold point without one.

    Rule: R24.

    Args:
        holds: what each entry makes of the hold point.
        none: what it is without entries.

    Returns:
        One of them.
    """
    order = (HoldState.FAILED, HoldState.UNMET, HoldState.MET)
    return min(holds, key=lambda hold: order.index(hold.state), default=none)


def last_word(
    ctx: ZoneContext,
    point: HoldPoint,
    entries: Sequence[E],
    judge: Callable[[E], Hold],
    none: Message,
) -> Hold:
    """Return what the last entry that counts says; of one instant the worst decides.

    What fails counts from anybody. What does not count hides nothing that was said before it.

    Rule: R24, R24c.

    Args:
        ctx: the zone.
        point: the hold point.
        entries: the entries about it, in order of time.
        judge: what one entry makes of the hold point.
        none: why it is unmet without an entry.

    Returns:
        The hold point as the log leaves it.
    """
    counting = [
        entry
        for entry in entries
        if ctx.facts.counts(entry) or judge(entry).state is HoldState.FAILED
    ]
    if counting:
        unmet = made_hold(point, HoldState.UNMET, none)
        return worst([judge(entry) for entry in newest(counting)], unmet)
    if entries:
        return made_hold(point, HoldState.UNMET, why_not(ctx, entries[-1]) or none, entries[-1])
    return made_hold(point, HoldState.UNMET, none)


def why_not(ctx: ZoneContext, entry: Entry) -> Message | None:
    """Return why an entry does not count by who signed it; None where it does.

    Rule: R24c.

    Args:
        ctx: the zone.
        entry: the entry.

    Returns:
        What it lacks, as a message.
    """
    evidence = evidence_of(entry)
    found = None if evidence is None else gap(ctx.facts.people, entry, evidence)
    if evidence is None or found is None:
        return None
    return gap_message(found, entry, evidence)
