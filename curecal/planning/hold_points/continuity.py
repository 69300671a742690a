"""The continuity alarm on the heating leads: a sound is a failure until a complete test passed."""

from __future__ import annotations

from curecal.instants import add
from curecal.planning.hold_points.cable_limits import called
from curecal.planning.hold_points.cable_tests import cables_of, is_of
from curecal.planning.hold_points.cable_trend import judged_here
from curecal.planning.hold_points.judged_hold import finding_of
from curecal.planning.plan import HoldState
from curecal.planning.repair import is_repair
from curecal.planning.zone_context import ZoneContext
from curecal.trade.findings import Finding, Message, Severity
from curecal.trade.job import Cable
from curecal.trade.site_log import Connected, Continuity, Done, Entry, LeadAlarm, Resistance


def alarm_faults(ctx: ZoneContext) -> tuple[list[Message], list[Finding]]:
    """Return cables whose alarm sounded since their last complete passed test.

    A sound counts from anybody. Complete is a test with the insulation tester.

    Rule: R25.

    Args:
        ctx: the zone.

    Returns:
        A fault for each cable, and a finding with the work since it was last known whole.
    """
    faults: list[Message] = []
    findings: list[Finding] = []
    for cable in cables_of(ctx):
        sounds = [
            entry
            for entry in ctx.facts.of(Continuity, ctx.zone)
            if entry.state is LeadAlarm.SOUNDED
            and (entry.cable is None or entry.cable == cable.name)
        ]
        whole = _whole_tests(ctx, cable)
        if not sounds or any(test.at > sounds[-1].at for test in whole):
            continue
        sound = sounds[-1]
        params = _between(ctx, cable, sound, whole)
        faults.append(Message("alarm-sounded", params))
        findings.append(finding_of(ctx, Severity.STOP, "alarm-sounded", sound.path, params))
    return faults, findings


def find_no_alarm(ctx: ZoneContext) -> list[Finding]:
    """Return a note that no continuity alarm was logged on a cable that is covered.

    It is common practice, no requirement: it holds nothing, and ends with the connection.

    Rule: R25.
    """
    embedding = ctx.build_up.embedding
    covered = embedding is not None and embedding.done_at is not None
    told = bool(ctx.facts.of(Continuity, ctx.zone)) or bool(ctx.facts.of(Connected, ctx.zone))
    if embedding is None or not covered or told or is_repair(ctx.zone.layers):
        return []
    params = {"layer": embedding.name}
    return [finding_of(ctx, Severity.CAUTION, "alarm-not-logged", embedding.path, params)]


def _whole_tests(ctx: ZoneContext, cable: Cable) -> list[Resistance]:
    """Return a cable's complete passed tests."""
    return [
        entry
        for entry in ctx.facts.of(Resistance, ctx.zone)
        if is_of(ctx, cable, entry)
        and entry.insulation_ohm is not None
        and judged_here(ctx, cable, entry).state is HoldState.MET
    ]


def _between(
    ctx: ZoneContext, cable: Cable, sound: Continuity, whole: list[Resistance]
) -> dict[str, object]:
    """Return when a cable was last known whole, when it sounded, and the work between."""
    quiet: list[Entry] = [
        entry
        for entry in ctx.facts.of(Continuity, ctx.zone)
        if entry.state is LeadAlarm.CONNECTED and entry.cable in {None, cable.name}
    ]
    before = [entry for entry in (*quiet, *whole) if entry.at < sound.at]
    last = max(before, key=lambda entry: entry.at, default=None)
    by = {entry.layer: entry.by for entry in ctx.facts.of(Done, ctx.zone) if entry.by}
    work = [
        f"{layer.title} ({by[layer.id]})" if layer.id in by else layer.title
        for layer in ctx.zone.layers
        if layer.done_at is not None
        and (last is None or layer.done_at > last.at)
        and add(layer.done_at, -(layer.duration_s or 0.0)) < sound.at
    ]
    return {
        "cable": called(cable),
        "sounded_at": sound.at,
        "by": sound.by or "",
        "last_at": None if last is None else last.at,
        "before_by": "" if last is None else last.by or "",
        "work": ", ".join(work),
    }
