"""The terminal report of a plan: the answer first, then what each reader needs, zone by zone."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from curecal.instants import Window
from curecal.planning.plan import HeatUp, Hold, HoldState, Plan, State, Visit, ZonePlan
from curecal.planning.zone.zone_state import MAY_ENERGIZE
from curecal.trade.findings import Finding, Severity
from curecal.trade.job import Role
from curecal.units import show_temperature
from curecal.words.job_places import names_of, place
from curecal.words.layout import NARROWEST, Line, Segment, bullet, hanging, paragraph, table
from curecal.words.report.cautions import cautions
from curecal.words.report.headline import headline, is_overdue
from curecal.words.report.layers import layer_table, next_steps
from curecal.words.sentences import Words
from curecal.words.values import clean

_LABELS = 15
_NO_NAMES: Mapping[str, object] = {}
_SEVERITIES = tuple(Severity)
_STYLE = {
    Severity.ERROR: "bad",
    Severity.STOP: "bad",
    Severity.WARNING: "warn",
    Severity.CAUTION: "",
}
_GOOD = {State.RELEASED, State.HEATING_UP, State.IN_SERVICE, State.CLEAR}
_BAD = {State.STOPPED, State.NO_DATE}


def report(
    plan: Plan,
    findings: Sequence[Finding],
    *,
    words: Words,
    width: int,
    names: Mapping[str, object] = _NO_NAMES,
) -> list[Line]:
    """Return the report in lines no wider than `width`.

    Args:
        plan: the plan.
        findings: what reading the job found; the plan's own follow.
        words: language, units, electrical words, the rules' titles.
        width: columns, at least 40.
        names: the files as read: the names behind a finding's place that no plan holds.

    Returns:
        Lines of styled segments.
    """
    width = max(width, NARROWEST)
    style = "good" if plan.may_energize else "bad"
    lines = paragraph(headline(plan, words), width, style=style)
    for zone in plan.zones:
        lines += [(), *_zone(zone, plan, words, width)]
    lines += _visits(plan, words, width)
    lines += finding_lines(
        (*findings, *plan.findings), {**names, **names_of(plan.job)}, words, width
    )
    lines += cautions(plan, words, width)
    as_of = words.text("report.as-of", {"as_of_at": plan.as_of, "timezone": plan.job.timezone})
    lines += [(), *paragraph(as_of, width, style="dim")]
    return lines


def finding_lines(
    findings: Sequence[Finding],
    names: Mapping[str, object],
    words: Words,
    width: int,
    *,
    titled: bool = True,
) -> list[Line]:
    """Return every finding with its place, what it says and what to do, the gravest first."""
    lines: list[Line] = []
    if findings and titled:
        lines += _section("watch", words)
    ordered = sorted(findings, key=lambda finding: _SEVERITIES.index(finding.severity))
    told = [words.finding(finding) for finding in ordered]
    for index, (finding, (said, do)) in enumerate(zip(ordered, told, strict=True)):
        where = place(finding.path, names, words)
        severity = words.name("severity", finding.severity.value)
        lead = f"{severity}: {where}: {said}" if where else f"{severity}: {said}"
        lines += bullet(lead, width, style=_STYLE[finding.severity])
        # Of several findings with one remedy, the last carries it.
        if do and (index + 1 == len(told) or told[index + 1][1] != do):
            lines += bullet(do, width, indent=4, mark="> ")
    return lines


def _section(name: str, words: Words) -> list[Line]:
    return [(), (Segment(words.text(f"report.{name}"), "head"),)]


def _zone(zone: ZonePlan, plan: Plan, words: Words, width: int) -> list[Line]:
    state = zone.state
    style = "good" if state in _GOOD else "bad" if state in _BAD else "warn"
    title = f"{clean(zone.zone.name)}: {words.state(state)}"
    lines = paragraph(title, width, style="head" if style == "warn" else style)
    for label, text, mark in _facts(zone, plan, words):
        lines += hanging(words.text(f"report.{label}"), text, width, indent=_LABELS, style=mark)
    lines += [(), *layer_table(zone, plan, words, width)]
    steps = next_steps(zone, words)
    if steps:
        lines += [(), (Segment(f"  {words.text('report.next')}", "head"),)]
        for text in steps:
            lines += bullet(text, width)
    lines += _outstanding(zone, words, width)
    for ramp in zone.heat_ups:
        lines += _heat_up(ramp, words, width, zone.state)
    return lines


def _facts(zone: ZonePlan, plan: Plan, words: Words) -> list[tuple[str, str, str]]:
    """Return what there is to say of a zone's date: label, text, style."""
    energize = zone.energize
    facts = [("why", _why(zone, words), "")]
    if is_overdue(zone, plan):
        facts.append(("do", words.text("report.log-steps"), ""))
    if remedy := words.remedy(zone.why):
        facts.append(("do", remedy, ""))
    if energize.blocked is not None and energize.blocked != zone.why:
        facts.append(("blocked", words.sentence(energize.blocked), "bad"))
        if remedy := words.remedy(energize.blocked):
            facts.append(("do", remedy, ""))
    governed = energize.governed_by
    if governed is not None:
        params = {
            "layer": governed.layer_name,
            "milestone": governed.milestone,
            "rule": words.rule(governed.rule),
        }
        text = words.text("report.governed", params)
        facts.append(("governs", text, ""))
    if energize.source is not None:
        facts.append(("source", words.source(energize.source), "dim"))
    facts += _dates(zone, plan, words)
    if zone.room_order is not None:
        order = zone.room_order
        temperature = show_temperature(order.at_least_c, words.reader.units.value)
        room = {"least": temperature, "until_at": order.until, "heated_by": order.heated_by}
        facts.append(("room", words.text("report.room-order", room), ""))
    return facts


def _why(zone: ZonePlan, words: Words) -> str:
    """Return why a zone is as it is; of what is not laid yet not that it hardens."""
    governed = zone.energize.governed_by
    planned = {layer.layer.id for layer in zone.layers if layer.planned}
    if zone.why.code == "why-curing" and governed is not None and governed.layer_id in planned:
        return words.text("report.why-planned", {"layer": governed.layer_name})
    return words.sentence(zone.why)


def _dates(zone: ZonePlan, plan: Plan, words: Words) -> list[tuple[str, str, str]]:
    energize = zone.energize
    window = energize.window
    facts: list[tuple[str, str, str]] = []
    if zone.state in {State.IN_SERVICE, State.HEATING_UP}:
        return facts
    if window is not None:
        facts += _ends(window, plan, words)
    if energize.start_on is not None and zone.state is not State.STOPPED:
        key = "start-with" if zone.first_switched_on_by is Role.ELECTRICIAN else "start-on"
        key += "-released" if zone.state is State.RELEASED else ""
        start = {"start_on": energize.start_on, "start": f"{plan.job.work.start:%H:%M}"}
        facts.append(("start", words.text(f"report.{key}", start), ""))
    if zone.state is not State.RELEASED:
        dated = energize.owner_date is not None and zone.state is not State.STOPPED
        key = "owner-date" if dated else "owner-none"
        told = words.text(f"report.{key}", {"owner_on": energize.owner_date})
        facts.append(("owner", told, ""))
    if window is not None:
        past = window.latest is not None and window.latest <= plan.as_of
        key = "measured" if not energize.provisional else "assumed" if past else "provisional"
        share = {"measured_fraction": energize.measured_share}
        facts.append(("measured-label", words.text(f"report.{key}", share), ""))
    return facts


def _ends(window: Window, plan: Plan, words: Words) -> list[tuple[str, str, str]]:
    """Return the two ends of a date: what is past has cured, what is ahead has not."""
    air_c = plan.job.expected.air_c
    params = {"air_c": air_c, "earliest_at": window.earliest, "latest_at": window.latest}
    latest_at = window.latest
    if latest_at is not None and latest_at <= plan.as_of:
        same = latest_at == window.earliest
        text = words.at(latest_at) if same else words.text("report.cured-by", params)
        return [("cured", text, "")]
    if latest_at == window.earliest:
        return [("earliest", words.text("report.earliest-both", params), "")]
    key = "earliest-past" if window.earliest <= plan.as_of else "earliest-at"
    latest = words.text(f"report.latest-{'at' if latest_at else 'none'}", params)
    return [
        ("earliest", words.text(f"report.{key}", params), ""),
        ("latest", latest, "" if latest_at else "warn"),
    ]


def _outstanding(zone: ZonePlan, words: Words, width: int) -> list[Line]:
    """Return the hold points not met, grouped by who meets them, failed ones first."""
    waiting = [hold for hold in zone.holds if hold.is_outstanding]
    if not waiting:
        return []
    lines: list[Line] = [(), (Segment(f"  {words.text('report.outstanding')}", "head"),)]
    for person in dict.fromkeys(hold.by for hold in waiting):
        text = words.text("report.by", {"by": words.person(person)})
        lines += paragraph(text, width, indent=2, style="dim")
        theirs = [hold for hold in waiting if hold.by == person]
        for hold in sorted(theirs, key=lambda hold: hold.state is not HoldState.FAILED):
            failed = hold.state is HoldState.FAILED
            lines += bullet(hold_text(hold, words), width, style="bad" if failed else "")
    return lines


def hold_text(hold: Hold, words: Words) -> str:
    """Return a hold point that is not met: what it is, before what, and why."""
    # Where the reason names the cable, once is enough.
    named = hold.reason is not None and "cable" in hold.reason.params
    params = {
        "what": words.name("hold", hold.code) if named else words.hold(hold),
        "gates": words.name("gates", hold.gates),
        "reason": words.message(hold.reason) if hold.reason is not None else None,
    }
    return words.text(f"report.hold-{hold.state.value}", params)


def _heat_up(ramp: HeatUp, words: Words, width: int, state: State) -> list[Line]:
    title = words.text("report.heat-up", {"purpose": ramp.purpose})
    lines: list[Line] = [(), *paragraph(title, width, indent=2, style="head")]
    head = [words.text(f"report.{key}") for key in ("from-day", f"set-{ramp.basis}", "days")]
    rows = [
        [
            [words.day(step.on)],
            [setting],
            [words.text("report.hold-days", {"count": step.hold_days})],
        ]
        for step, setting in zip(ramp.steps, words.settings(ramp), strict=True)
    ]
    if rows:
        lines += table(head, rows, width)
    kind = ramp.purpose.replace(" ", "-")
    ending = words.text(f"report.ends-{kind}", {"ends_on": ramp.ends_on})
    lines += paragraph(ending, width, indent=2)
    limit = words.text(
        "report.limit", {"limit_c": ramp.limit_c, "from": words.message(ramp.limit_from)}
    )
    lines += paragraph(limit, width, indent=2)
    if not ramp.start_measured:
        start = show_temperature(ramp.start_c, words.reader.units.value)
        key = "start-was-assumed" if state is State.HEATING_UP else "start-assumed"
        lines += paragraph(words.text(f"report.{key}", {"start": start}), width, indent=2)
    if ramp.provisional and state not in MAY_ENERGIZE:
        note = words.text(f"report.ramp-provisional-{kind}")
        lines += paragraph(note, width, indent=2, style="warn")
    return lines


def _visits(plan: Plan, words: Words, width: int) -> list[Line]:
    if not plan.visits:
        return []
    lines = _section("visits", words)
    names = {zone.zone.id: clean(zone.zone.name) for zone in plan.zones}
    for visit in plan.visits:
        params = {
            "purpose": words.name("visit", visit.kind),
            "zones": ", ".join(names.get(zone_id, zone_id) for zone_id in visit.zone_ids),
            "when": _when(visit, words),
        }
        lines += bullet(words.text("report.visit", params), width)
    return lines


def _when(visit: Visit, words: Words) -> str:
    if visit.window is None:
        return words.text("report.visit-undated")
    if visit.window.latest is None:
        return words.text("report.visit-from", {"earliest_at": visit.window.earliest})
    if visit.window.latest == visit.window.earliest:
        return words.at(visit.window.earliest)
    params = {"earliest_at": visit.window.earliest, "latest_at": visit.window.latest}
    return words.text("report.visit-between", params)


def refused_lines(
    findings: Sequence[Finding], names: Mapping[str, object], words: Words, width: int
) -> list[Line]:
    """Return every finding of a job file that is not understood: the place, what, the remedy."""
    errors = sum(finding.severity is Severity.ERROR for finding in findings)
    title = words.text("report.refused", {"count": errors})
    lines = paragraph(title, max(width, NARROWEST), style="bad")
    return lines + finding_lines(findings, names, words, max(width, NARROWEST), titled=False)
