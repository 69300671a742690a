"""What stops a zone, and what starts it again: a person's stop, heat without a release."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime

from curecal.planning.first_heat.bare_screed import Span, is_in, says_off, says_on
from curecal.planning.first_heat.chisel import repaired_from
from curecal.planning.plan import Hold, HoldState
from curecal.planning.repair import is_repair
from curecal.planning.schedule.layer_schedule import LayerSchedule
from curecal.planning.site_log.authority import SETTLERS, speaks_as
from curecal.planning.zone_context import Noted as ZoneContext
from curecal.trade.data_sheets import Milestone
from curecal.trade.findings import Message, Severity
from curecal.trade.hold_codes import Gate
from curecal.trade.site_log import (
    Entry,
    Inspection,
    Reading,
    Release,
    Result,
    Stopped,
)

_EARLY = "early-switch-on"


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
        above = [p.layer.done_at for p in linked.layers[index + 1 :] if p.layer.done_at]
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
) -> Message | None:
    """Return that a screed is heated bare while something that gates the switch is outstanding.

    Rule: R14, R24.

    Args:
        ctx: the zone; findings are noted on it.
        linked: its layers.
        holds: the hold points of its heating.

    Returns:
        Why it is stopped, or None.
    """
    open_spans = [span for span in bare_spans(linked) if span[1] is None]
    waiting = [hold for hold in holds if hold.is_outstanding and hold.gates is not Gate.EMBEDDING]
    on: Entry | None = None
    for entry in ctx.facts.entries:
        if entry.zone not in {None, ctx.zone.id} or not is_bare(open_spans, entry.at):
            continue
        if says_on(entry):
            on = on or entry
        elif says_off(entry):
            on = None
    if on is None or not waiting:
        return None
    waiting.sort(key=lambda hold: hold.state is not HoldState.FAILED)
    stop = Message("bare-held-while-on", {"on_at": on.at, "hold": waiting[0].code})
    ctx.find(Severity.STOP, stop.code, on.path, stop.params)
    return stop


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
        elif says_off(entry):
            since = None
    return since


def held_while_on(
    ctx: ZoneContext, holds: Sequence[Hold], released_at: datetime | None
) -> Message | None:
    """Return that a hold point does not stand while the released floor is on.

    Rule: R22, R24.

    Args:
        ctx: the zone; findings are noted on it.
        holds: its hold points but the release.
        released_at: when it was released, by a release that counts.

    Returns:
        What to say of it, or None.
    """
    since = on_since(ctx, released_at)
    waiting = [hold for hold in holds if hold.is_outstanding]
    if since is None or not waiting:
        return None
    held = Message("held-while-on", {"on_at": since, "hold": waiting[0].code})
    ctx.find(Severity.STOP, held.code, ctx.zone.path, held.params)
    return held


def why_stopped(
    ctx: ZoneContext, linked: LayerSchedule, released: Sequence[datetime]
) -> Message | None:
    """Return why a zone is stopped: a stop, or an early switch-on, that nobody has settled.

    Switched on is early without a release that counts, but for a bare screed in its own
    heat-up. The crew lead or the electrician settles it with an inspection that finds the floor
    sound; the electrical inspection is another matter.

    Rule: R22.

    Args:
        ctx: the zone; findings are noted on it.
        linked: its layers.
        released: when it was released, by releases that count.

    Returns:
        The newest reason, or None.
    """
    looks = _sound_looks(ctx)
    settled = _settled(ctx)
    bare = bare_spans(linked)
    stop: Message | None = None
    stopped_at: datetime | None = None
    for entry in ctx.facts.entries:
        if entry.zone not in {None, ctx.zone.id} or any(at > entry.at for at in settled):
            continue
        if isinstance(entry, Stopped):
            stop = Message("stopped", {"reason": entry.reason or "", "stopped_at": entry.at})
        elif _is_early(ctx, linked, entry, released) and not is_bare(bare, entry.at):
            if isinstance(entry, Reading) and stop is not None and stop.code == _EARLY:
                # One look after another at the same heat says nothing new.
                continue
            stop = Message(_EARLY, {"on_at": entry.at})
        else:
            continue
        stopped_at = stopped_at or entry.at
        ctx.find(Severity.STOP, stop.code, entry.path, stop.params)
    for look in looks:
        if stopped_at is not None and look.at > stopped_at and look.at not in settled:
            params = {"seen_at": look.at, "by": look.by or ""}
            ctx.find(Severity.WARNING, "sound-by", look.path, params)
    return stop


def started_again(ctx: ZoneContext) -> datetime | None:
    """Return when the last stop of a person was settled.

    Rule: R22.

    Args:
        ctx: the zone.

    Returns:
        An instant; None where nobody stopped it, or it still stands.
    """
    stopped_at = max((stop.at for stop in ctx.facts.of(Stopped, ctx.zone)), default=None)
    if stopped_at is None:
        return None
    return min((at for at in _settled(ctx) if at > stopped_at), default=None)


def _sound_looks(ctx: ZoneContext) -> list[Inspection]:
    looks = ctx.facts.of(Inspection, ctx.zone)
    return [look for look in looks if look.layer is None and look.result is Result.SOUND]


def _settled(ctx: ZoneContext) -> list[datetime]:
    """Return when somebody whose word counts found the floor sound."""
    return [look.at for look in _sound_looks(ctx) if speaks_as(ctx.job, look.by, SETTLERS)]


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
