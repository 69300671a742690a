"""What stops a zone, and what starts it again: a person's stop, heat without a release."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime

from curecal.planning.first_heat.bare_screed import Span, is_in, says_off, says_on
from curecal.planning.first_heat.chisel import repaired_from
from curecal.planning.hold_points.judged_hold import finding_of
from curecal.planning.plan import Hold, HoldState
from curecal.planning.repair import is_repair
from curecal.planning.schedule.layer_schedule import LayerSchedule
from curecal.planning.site_log.lifted_stops import lifted_by, why_not_lifted
from curecal.planning.zone_context import ZoneContext
from curecal.trade.data_sheets import BESIDE_THE_FLOOR, Milestone
from curecal.trade.findings import Finding, FindingCode, Message, Severity
from curecal.trade.hold_codes import Gate
from curecal.trade.site_log import (
    Cause,
    Entry,
    Reading,
    Release,
    Resumed,
    Stopped,
)


def bare_spans(linked: LayerSchedule) -> list[Span]:
    """Return when a bare screed may be heated: from its date until something lies on it.

    Rule: R14.

    Args:
        linked: the zone's layers.

    Returns:
        (first, last) instants; no last where nothing lies on it yet. None before its date is
        sure, under the coldest that may have been.
    """
    spans: list[Span] = []
    for index, plan in enumerate(linked.layers):
        bare = plan.milestones.get(Milestone.BARE_HEAT)
        if not plan.layer.heat_before_covering or bare is None or bare.window is None:
            continue
        if bare.window.latest is None:
            continue
        above = [
            upper.layer.done_at
            for upper in linked.layers[index + 1 :]
            if upper.layer.done_at and upper.layer.sheet.kind not in BESIDE_THE_FLOOR
        ]
        spans.append((bare.window.latest, min(above, default=None)))
    return spans


def is_bare(spans: Sequence[Span], at: datetime) -> bool:
    """Return whether an instant lies where a bare screed may be heated.

    Rule: R14.

    Args:
        spans: when it may be.
        at: the instant.

    Returns:
        True inside one of the spans.
    """
    return any(is_in(span, at) for span in spans)


def held_while_bare(
    ctx: ZoneContext, linked: LayerSchedule, holds: Sequence[Hold]
) -> tuple[Message | None, list[Finding]]:
    """Return that a screed is heated bare while something that gates the switch is outstanding.

    Rule: R14, R24.

    Args:
        ctx: the zone.
        linked: its layers.
        holds: the hold points of its heating.

    Returns:
        Why it is stopped, or None; and the findings.
    """
    open_spans = [span for span in bare_spans(linked) if span[1] is None]
    waiting = [hold for hold in holds if hold.is_outstanding and hold.gates is not Gate.EMBEDDING]
    on: Entry | None = None
    for entry in ctx.facts.entries:
        if entry.zone not in {None, ctx.zone.id} or not is_bare(open_spans, entry.at):
            continue
        if says_on(entry):
            on = on or entry
        elif says_off(entry) and ctx.facts.is_from_the_job(entry):
            on = None
    if on is None or not waiting:
        return None, []
    waiting.sort(key=lambda hold: hold.state is not HoldState.FAILED)
    stop = Message("bare-held-while-on", {"on_at": on.at, "hold": waiting[0].code})
    return stop, [finding_of(ctx, Severity.STOP, stop.code, on.path, stop.params)]


def on_since(ctx: ZoneContext, released_at: datetime | None) -> datetime | None:
    """Return since when a released floor is on, by what the log says last.

    Rule: R22.

    Args:
        ctx: the zone.
        released_at: when it was released, if it was.

    Returns:
        An instant; None where it is off, or nothing says that it is on.
    """
    if released_at is None:
        return None
    since: datetime | None = None
    for entry in ctx.facts.entries:
        if entry.zone not in {None, ctx.zone.id} or entry.at < released_at:
            continue
        if says_on(entry):
            since = since or entry.at
        elif says_off(entry) and ctx.facts.is_from_the_job(entry):
            since = None
    return since


def held_while_on(
    ctx: ZoneContext, holds: Sequence[Hold], released_at: datetime | None
) -> tuple[Message | None, list[Finding]]:
    """Return that a hold point does not stand while the released floor is on.

    Rule: R22, R24.

    Args:
        ctx: the zone.
        holds: its hold points but the release.
        released_at: when it was released, by a release that counts.

    Returns:
        What to say of it, or None; and the findings.
    """
    since = on_since(ctx, released_at)
    waiting = [hold for hold in holds if hold.is_outstanding]
    if since is None or not waiting:
        return None, []
    held = Message("held-while-on", {"on_at": since, "hold": waiting[0].code})
    return held, [finding_of(ctx, Severity.STOP, held.code, ctx.zone.path, held.params)]


def why_stopped(
    ctx: ZoneContext, linked: LayerSchedule, released: Sequence[datetime]
) -> tuple[Message | None, list[Finding]]:
    """Return why a zone is stopped: a stop, or an early switch-on, that nobody has lifted.

    Switched on is early without a release that counts, but for a bare screed in its own heat-up.
    Who may lift a stop follows from its cause; a sound floor or a passed inspection lifts none.

    Rule: R22, R24c.

    Args:
        ctx: the zone.
        linked: its layers.
        released: when it was released, by releases that count.

    Returns:
        The newest reason, or None; and the findings.
    """
    bare = bare_spans(linked)
    findings: list[Finding] = []
    refused: dict[Resumed, Message] = {}
    stop: Message | None = None
    for entry in ctx.facts.entries:
        if entry.zone not in {None, ctx.zone.id}:
            continue
        if isinstance(entry, Stopped):
            cause = entry.cause
            params = {"cause": cause.value, "reason": entry.reason or "", "stopped_at": entry.at}
            said = Message("stopped", params)
        elif _is_early(ctx, linked, entry, released) and not is_bare(bare, entry.at):
            cause, said = (
                Cause.SWITCHED_ON_EARLY,
                Message(FindingCode.EARLY_SWITCH_ON, {"on_at": entry.at}),
            )
        else:
            continue
        if _lifted_by(ctx, entry, cause) is not None:
            continue
        if (
            isinstance(entry, Reading)
            and stop is not None
            and stop.code == FindingCode.EARLY_SWITCH_ON
        ):
            # One look after another at the same heat says nothing new.
            continue
        stop = said
        findings.append(finding_of(ctx, Severity.STOP, said.code, entry.path, said.params))
        later = [lift for lift in ctx.facts.of(Resumed, ctx.zone) if lift.at > entry.at]
        refused |= {
            lift: why
            for lift in later
            if (why := why_not_lifted(ctx.facts, ctx.zone, ctx.job.tz, entry, lift, cause))
        }
    for lift, why in refused.items():
        findings.append(finding_of(ctx, Severity.WARNING, why.code, lift.path, why.params))
    return stop, findings


def _lifted_by(ctx: ZoneContext, stop: Entry, cause: Cause) -> Resumed | None:
    return lifted_by(ctx.facts, ctx.zone, ctx.job.tz, stop, cause)


def started_again(ctx: ZoneContext) -> datetime | None:
    """Return when the last stop of a person was lifted.

    Rule: R22.

    Args:
        ctx: the zone.

    Returns:
        An instant; None where nobody stopped it, or it still stands.
    """
    stops = ctx.facts.of(Stopped, ctx.zone)
    lift = _lifted_by(ctx, stops[-1], stops[-1].cause) if stops else None
    return lift.at if lift else None


def _is_early(
    ctx: ZoneContext, linked: LayerSchedule, entry: Entry, released: Sequence[datetime]
) -> bool:
    """Return whether an entry says that the floor was heated without a release."""
    if not says_on(entry) or not linked.with_clock:
        return False
    # A floor under repair was in service before: what it did until then is history.
    since = repaired_from(ctx)
    if since is not None and entry.at <= since:
        before = any(told.at <= entry.at for told in ctx.facts.of(Release, ctx.zone))
        return not (before or is_repair(ctx.zone.layers))
    return not any(at <= entry.at for at in released)
