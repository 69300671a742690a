"""The terminal report of a plan: the answer first, then what each reader needs, zone by zone."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence

from curecal.instants import Window
from curecal.planning.plan import (
    RELEASED_STATES,
    Governing,
    HeatUp,
    Hold,
    HoldState,
    Plan,
    State,
    ZonePlan,
)
from curecal.trade.findings import Finding, Severity
from curecal.trade.sources import Basis
from curecal.units import show_temperature
from curecal.words.job_places import names_of, place
from curecal.words.layout import NARROWEST, Line, TextRun, bullet, hanging, paragraph, table
from curecal.words.report.cautions import cautions
from curecal.words.report.details import detail_lines
from curecal.words.report.headline import headline, is_overdue
from curecal.words.report.layers import layer_table, next_steps
from curecal.words.report.visit_lines import switch_on_at, visit_lines
from curecal.words.report.watch import to_watch
from curecal.words.sentences import Words, whole
from curecal.words.values import clean

_LABELS = 15
# Its title says no more than the wait beside it.
_OWN_WAIT = "R10"
_NO_NAMES: Mapping[str, object] = {}
_SEVERITIES = tuple(Severity)
_STYLE = {
    Severity.ERROR: "bad",
    Severity.STOP: "bad",
    Severity.WARNING: "warn",
    Severity.CAUTION: "",
}
# What "to do" says already.
_NOT_LOGGED = frozenset(
    {
        "connection-none",
        "inspection-none",
        "moisture-none",
        "points-none",
        "protection-none",
        "test-none",
        "thermostat-none",
    }
)
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
    shown: set[str] = set()
    for zone in plan.zones:
        lines += [(), *_zone(zone, plan, words, width, shown)]
    lines += _visits(plan, words, width)
    lines += finding_lines(
        to_watch((*findings, *plan.findings), plan, words),
        {**names, **names_of(plan.job)},
        words,
        width,
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
    remedy: Callable[[Finding, str], str] = lambda _finding, do: do,
) -> list[Line]:
    """Return every finding with its place, what it says and what to do, the gravest first.

    Args:
        findings: The findings.
        names: The file's content, for the names behind a place.
        words: Language and units.
        width: Columns to write in.
        titled: Whether they stand under a title.
        remedy: What makes of a finding's "what to do" the form the reader types.
    """
    lines: list[Line] = []
    if findings and titled:
        lines += _section("watch", words)
    ordered = sorted(findings, key=lambda finding: _SEVERITIES.index(finding.severity))
    both = [words.finding(finding) for finding in ordered]
    told = [(said, remedy(finding, do)) for finding, (said, do) in zip(ordered, both, strict=True)]
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
    return [(), (TextRun(words.text(f"report.{name}"), "head"),)]


def _zone(zone: ZonePlan, plan: Plan, words: Words, width: int, shown: set[str]) -> list[Line]:
    state = zone.state
    style = "good" if state in _GOOD else "bad" if state in _BAD else "warn"
    title = f"{clean(zone.zone.name)}: {words.state(state)}"
    lines = paragraph(title, width, style="head" if style == "warn" else style)
    for label, text, mark in _facts(zone, plan, words, shown):
        lines += hanging(words.text(f"report.{label}"), text, width, indent=_LABELS, style=mark)
    lines += [(), *layer_table(zone, plan, words, width)]
    steps = next_steps(zone, words)
    if steps:
        lines += [(), (TextRun(f"  {words.text('report.next')}", "head"),)]
        for text in steps:
            lines += bullet(text, width)
    lines += _to_do(zone, words, width)
    for ramp in zone.heat_ups:
        lines += _heat_up(ramp, words, width, zone.state)
    return lines + detail_lines(zone, words, width)


def _facts(zone: ZonePlan, plan: Plan, words: Words, shown: set[str]) -> list[tuple[str, str, str]]:
    """Return what there is to say of a zone's date: label, text, style.

    `shown` holds the sources already shown for other zones.
    """
    facts = []
    if not zone.why.code.startswith("why-"):
        facts.append(("why", words.sentence(zone.why), ""))
    if is_overdue(zone, plan):
        facts.append(("do", words.text("report.log-steps"), ""))
    if remedy := words.remedy(zone.why):
        facts.append(("do", remedy, ""))
    blocked = zone.energize.blocked
    if blocked is not None and blocked != zone.why:
        facts.append(("blocked", words.sentence(blocked), "bad"))
        if remedy := words.remedy(blocked):
            facts.append(("do", remedy, ""))
    facts += _waiting_for(zone, words, shown)
    facts += _dates(zone, plan, words)
    if zone.room_order is not None:
        order = zone.room_order
        temperature = show_temperature(order.at_least_c, words.reader.units.value)
        room = {"least": temperature, "until_at": order.until, "heated_by": order.heated_by}
        facts.append(("room", words.text("report.room-order", room), ""))
    return facts


def _waiting_for(zone: ZonePlan, words: Words, shown: set[str]) -> list[tuple[str, str, str]]:
    """Return which layer a zone waits for, how long, and where that number comes from."""
    energize = zone.energize
    governed = energize.governed_by
    if governed is None or zone.is_released:
        return []
    fallback = energize.source is not None and energize.source.basis is Basis.FALLBACK
    wait_s = _wait_s(zone, governed)
    params = {
        "layer": governed.layer_name,
        "rule": None if governed.rule == _OWN_WAIT else words.rule(governed.rule),
        "wait_s": wait_s,
    }
    text = words.text(f"report.waiting{'-fallback' if fallback else ''}", params)
    facts = [("governs", text, "")]
    if energize.source is not None and not fallback:
        source = words.source(energize.source)
        if source not in shown:
            facts.append(("source", source, "dim"))
        shown.add(source)
    return facts


def _wait_s(zone: ZonePlan, governed: Governing) -> float | None:
    """Return the rated wait behind a zone's date [s]; None where it is no plain wait."""
    waits = [
        wait_s
        for layer in zone.layers
        if layer.layer.id == governed.layer_id and governed.milestone in layer.milestones
        for step in layer.milestones[governed.milestone].steps
        if isinstance(wait_s := step.params.get("wait_s"), float)
    ]
    return waits[0] if len(waits) == 1 else None


def _dates(zone: ZonePlan, plan: Plan, words: Words) -> list[tuple[str, str, str]]:
    energize = zone.energize
    window = energize.window
    facts: list[tuple[str, str, str]] = []
    if zone.state in {State.IN_SERVICE, State.HEATING_UP}:
        return facts
    if window is not None:
        facts += _ends(window, plan, words)
    if energize.start_on is not None and zone.state is not State.STOPPED:
        key = "start-released" if zone.is_released else "start"
        start = {
            "start_at": switch_on_at(zone, plan, energize.start_on),
            "by": words.person(zone.first_switched_on_by.value),
        }
        facts.append(("start", words.text(f"report.{key}-on", start), ""))
    if zone.state is not State.RELEASED:
        dated = energize.owner_date is not None and zone.state is not State.STOPPED
        key = "owner-date" if dated else "owner-none"
        told = words.text(f"report.{key}", {"owner_on": energize.owner_date})
        facts.append(("owner", told, ""))
    if window is not None and not zone.is_released:
        past = window.latest is not None and window.latest <= plan.as_of
        key = "measured" if not energize.provisional else "assumed" if past else "provisional"
        # Down to the percent: what is not measured is never hidden by rounding.
        share = {"measured_fraction": math.floor(energize.measured_share * 100) / 100}
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


def _to_do(zone: ZonePlan, words: Words, width: int) -> list[Line]:
    """Return the hold points to do, by who does them and what they must come before."""
    waiting = [hold for hold in zone.holds if hold.is_outstanding]
    if not waiting:
        return []
    lines: list[Line] = [(), (TextRun(f"  {words.text('report.to-do')}", "head"),)]
    people = list(dict.fromkeys(hold.by for hold in waiting))
    waiting.sort(key=lambda hold: (people.index(hold.by), hold.state is not HoldState.FAILED))
    for by, gates in dict.fromkeys((hold.by, hold.gates) for hold in waiting):
        who = {"by": whole(words.person(by)).rstrip("."), "gates": words.name("gates", gates)}
        lines += paragraph(words.text("report.by", who), width, indent=2, style="dim")
        theirs = [hold for hold in waiting if (hold.by, hold.gates) == (by, gates)]
        for hold in theirs:
            failed = hold.state is HoldState.FAILED
            text = hold_text(hold, words, gates=False)
            lines += bullet(text, width, style="bad" if failed else "")
    return lines


def hold_text(hold: Hold, words: Words, *, gates: bool = True) -> str:
    """Return a hold point that is to do: what it is, before what, and why if there is more."""
    reason = hold.reason if hold.reason is None or hold.reason.code not in _NOT_LOGGED else None
    # Where the reason names the cable, once is enough.
    named = reason is not None and "cable" in reason.params
    params = {
        "what": words.name("hold", hold.code) if named else words.hold(hold),
        "gates": words.name("gates", hold.gates) if gates else None,
        "reason": words.message(reason) if reason is not None else None,
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
    if ramp.target_c < ramp.limit_c:
        params = {"limit_c": ramp.limit_c, "step_k": ramp.step_k}
        lines += paragraph(words.text("report.afterwards", params), width, indent=2)
    if not ramp.start_measured:
        start = show_temperature(ramp.start_c, words.reader.units.value)
        key = "start-was-assumed" if state is State.HEATING_UP else "start-assumed"
        lines += paragraph(words.text(f"report.{key}", {"start": start}), width, indent=2)
    if ramp.provisional and state not in RELEASED_STATES:
        note = words.text(f"report.ramp-provisional-{kind}")
        lines += paragraph(note, width, indent=2, style="warn")
    return lines


def _visits(plan: Plan, words: Words, width: int) -> list[Line]:
    lines = visit_lines(plan, words, width)
    return [*_section("visits", words), *lines] if lines else []


def refused_lines(
    findings: Sequence[Finding], names: Mapping[str, object], words: Words, width: int
) -> list[Line]:
    """Return every finding of a job file that is not understood: the place, what, the remedy."""
    errors = sum(finding.severity is Severity.ERROR for finding in findings)
    title = words.text("report.refused", {"count": errors})
    lines = paragraph(title, max(width, NARROWEST), style="bad")
    return lines + finding_lines(findings, names, words, max(width, NARROWEST), titled=False)
