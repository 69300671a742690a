"""What holds a date up or refuses it, told where it belongs: at its layer, its zone or the job."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from curecal.planning.plan import Hold, LayerPlan, Plan, ZonePlan
from curecal.records import Record, record
from curecal.trade.findings import Finding, Message, Severity
from curecal.trade.job import Role
from curecal.words.job_places import names_of, place
from curecal.words.layout import Line, TextRun, bullet
from curecal.words.sentences import Words, whole

_GRAVE = frozenset({Severity.ERROR, Severity.STOP, Severity.WARNING})


@record
class Obstacle(Record):
    """One thing that holds something up: a finding, or a hold point that waits for a person."""

    code: str
    finding: Finding | None = None
    hold: Hold | None = None


def of_layer(findings: Sequence[Finding], zone: ZonePlan, layer: LayerPlan) -> list[Obstacle]:
    """Return what holds one layer up, beside what its milestones say themselves.

    Args:
        findings: what still stands.
        zone: the layer's zone.
        layer: the layer.

    Returns:
        Hold points and findings about it, each reason once.
    """
    said = {milestone.blocked.code for milestone in layer.milestones.values() if milestone.blocked}
    holds = [hold for hold in zone.holds if hold.is_outstanding and hold.layer_id == layer.layer.id]
    own = [finding for finding in findings if _is_about_layer(finding, zone, layer)]
    return list(_each_once(said, holds, own))


def of_zone(findings: Sequence[Finding], zone: ZonePlan) -> list[Obstacle]:
    """Return what holds a zone up and is about none of its layers alone."""
    said = {message.code for message in (zone.why, zone.energize.blocked) if message is not None}
    # What the crew lead has to do; the tests and devices of others are in the plan's "To do".
    holds = [
        hold
        for hold in zone.holds
        if hold.is_outstanding and hold.by is Role.CREW_LEAD and not (hold.cable or hold.layer_id)
    ]
    own = [
        finding
        for finding in findings
        if finding.severity in _GRAVE
        and _is_about_zone(finding, zone)
        and not any(_is_about_layer(finding, zone, layer) for layer in zone.layers)
    ]
    return list(_each_once(said, holds, own))


def of_job(findings: Sequence[Finding], plan: Plan, words: Words, width: int) -> list[Line]:
    """Return the lines of what is about the whole job, such as its climate and its log."""
    rest = [
        finding
        for finding in findings
        if finding.severity in _GRAVE
        and not any(_is_about_zone(finding, zone) for zone in plan.zones)
    ]
    if not rest:
        return []
    lines: list[Line] = [(), (TextRun(words.text("report.watch"), "head"),)]
    names = names_of(plan.job)
    for finding in rest:
        where = place(finding.path, names, words)
        said, do = words.finding(finding)
        what = whole(f"{where}: {said}" if where else said)
        lines += _line(finding.severity, what, do, words, width, 2)
    return lines


def told_lines(told: Sequence[Obstacle], words: Words, width: int, *, indent: int) -> list[Line]:
    """Return one bullet for each: how grave, what, and what to do about it."""
    lines: list[Line] = []
    for one in told:
        if one.finding is not None:
            said, do = words.finding(one.finding)
            lines += _line(one.finding.severity, whole(said), do, words, width, indent)
        if one.hold is not None and one.hold.reason is not None:
            reason = one.hold.reason
            what = f"{words.name('hold', one.hold.code)}: {words.message(reason)}"
            text = words.text(
                "explain.to-do", {"what": whole(what), "do": words.remedy(reason) or None}
            )
            lines += bullet(text, width, indent=indent, mark="! ", style="warn")
    return lines


def _line(
    severity: Severity, what: str, do: str, words: Words, width: int, indent: int
) -> list[Line]:
    params = {"severity": words.name("severity", severity.value), "what": what, "do": do or None}
    style = "warn" if severity is Severity.WARNING else "bad" if severity in _GRAVE else ""
    return bullet(words.text("explain.told", params), width, indent=indent, mark="! ", style=style)


def _each_once(
    said: set[str], holds: Sequence[Hold], findings: Sequence[Finding]
) -> Iterator[Obstacle]:
    """Yield hold points with a reason, then findings; one that says the same is left out."""
    told = set(said)
    for hold in holds:
        reason: Message | None = hold.reason
        if reason is not None and reason.code not in told:
            told.add(reason.code)
            yield Obstacle(reason.code, hold=hold)
    for finding in findings:
        if finding.code not in told:
            yield Obstacle(finding.code, finding)


def _is_about_layer(finding: Finding, zone: ZonePlan, layer: LayerPlan) -> bool:
    if finding.layer_id is not None and finding.zone_id == zone.zone.id:
        return finding.layer_id == layer.layer.id
    return _is_inside(finding.path, layer.layer.path)


def _is_about_zone(finding: Finding, zone: ZonePlan) -> bool:
    return finding.zone_id == zone.zone.id or _is_inside(finding.path, zone.zone.path)


def _is_inside(path: str, place_of: str) -> bool:
    return path == place_of or path.startswith(f"{place_of}.")
