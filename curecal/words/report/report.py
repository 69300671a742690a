"""The terminal report of a plan: the answer first, then what each reader needs, zone by zone."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace

from curecal.planning.plan import (
    RELEASED_STATES,
    HeatUp,
    HeatUpPurpose,
    Hold,
    HoldState,
    Plan,
    State,
    ZonePlan,
)
from curecal.trade.findings import Finding, FindingCode, Severity
from curecal.units import show_temperature
from curecal.words.job_places import names_of, place, place_beside
from curecal.words.layout import NARROWEST, Line, TextRun, bullet, hanging, paragraph, table
from curecal.words.report.cautions import cautions
from curecal.words.report.details import detail_lines
from curecal.words.report.headline import headline
from curecal.words.report.layers import layer_table, next_steps
from curecal.words.report.visit_lines import visit_lines
from curecal.words.report.watch import to_watch
from curecal.words.report.zone_facts import remedies_shown, zone_facts
from curecal.words.sentences import Words, whole
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
# What "to do" says already.
_NOT_LOGGED = frozenset(
    {
        FindingCode.CONNECTION_NONE,
        FindingCode.INSPECTION_NONE,
        FindingCode.MOISTURE_NONE,
        FindingCode.POINTS_NONE,
        FindingCode.PROTECTION_NONE,
        FindingCode.TEST_NONE,
        FindingCode.THERMOSTAT_NONE,
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
    full: bool = False,
) -> list[Line]:
    """Return the report in lines no wider than `width`: about a screen, or all of it.

    The short form keeps the answer, the dates, the layers, what is to do, and everything that
    stops or warns. Its last line says what it leaves out.

    Args:
        plan: the plan.
        findings: what reading the job found; the plan's own follow.
        words: language, units, electrical words, the rules' titles.
        width: columns, at least 40.
        names: the files as read: the names behind a finding's place that no plan holds.
        full: with cautions, sources, the first heat ahead of its release, visits and details.

    Returns:
        Lines of styled segments.
    """
    width = max(width, NARROWEST)
    style = "good" if plan.may_energize else "bad"
    lines = paragraph(headline(plan, words), width, style=style)
    shown: set[str] | None = set() if full else None
    for zone in plan.zones:
        lines += [(), *_zone(zone, plan, words, width, shown)]
    lines += _visits(plan, words, width, full=full)
    watched = to_watch((*findings, *plan.findings), plan, words)
    told = [one for one in watched if full or one.severity is not Severity.CAUTION]
    shown_above = {zone.zone.id: remedies_shown(zone, words) for zone in plan.zones}
    lines += finding_lines(
        told,
        {**names, **names_of(plan.job)},
        words,
        width,
        remedy=lambda found, do: "" if do in shown_above.get(found.zone_id or "", ()) else do,
    )
    if full:
        lines += cautions(plan, words, width)
    as_of = words.text("report.as-of", {"as_of_at": plan.as_of, "timezone": plan.job.timezone})
    lines += [(), *paragraph(as_of, width, style="dim")]
    if not full:
        lines += paragraph(_left_out(plan, len(watched) - len(told), words), width, style="dim")
    return lines


def _left_out(plan: Plan, count: int, words: Words) -> str:
    """Return what the short form leaves out, in a line."""
    left = [words.text("report.left-cautions", {"count": count})] if count else []
    if any(not _is_shown(ramp, zone.state) for zone in plan.zones for ramp in zone.heat_ups):
        left.append(words.text("report.left-heat"))
    return words.text("report.left-out", {"more": ", ".join(left) or None})


def _is_shown(ramp: HeatUp, state: State) -> bool:
    """Return whether a heat-up is somebody's work now: the crew's own, or one released."""
    return ramp.purpose is HeatUpPurpose.BARE_SCREED or state in RELEASED_STATES


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
        titled: Whether they stand under a title, as part of a report on the job.
        remedy: What makes of a finding's "what to do" the form the reader types.
    """
    lines: list[Line] = []
    if findings and titled:
        lines += _section("watch", words)
    ordered = sorted(findings, key=lambda finding: _SEVERITIES.index(finding.severity))
    both = [words.finding(finding) for finding in ordered]
    told = [(said, remedy(finding, do)) for finding, (said, do) in zip(ordered, both, strict=True)]
    for index, (finding, (said, do)) in enumerate(zip(ordered, told, strict=True)):
        where = (
            place_beside(said, finding.path, names, words)
            if titled
            else place(finding.path, names, words)
        )
        severity = words.name("severity", finding.severity.value)
        lead = f"{severity}: {where}: {said}" if where else f"{severity}: {said}"
        lines += bullet(lead, width, style=_STYLE[finding.severity])
        # Of several findings with one remedy, the last carries it.
        if do and (index + 1 == len(told) or told[index + 1][1] != do):
            lines += bullet(do, width, indent=4, mark="> ")
    return lines


def _section(name: str, words: Words) -> list[Line]:
    return [(), (TextRun(words.text(f"report.{name}"), "head"),)]


def _zone(
    zone: ZonePlan, plan: Plan, words: Words, width: int, shown: set[str] | None
) -> list[Line]:
    """Return a zone's chapter; `shown` holds the sources already shown, None in the short form."""
    full = shown is not None
    state = zone.state
    style = "good" if state in _GOOD else "bad" if state in _BAD else "warn"
    title = f"{clean(zone.zone.name)}: {words.state(state)}"
    lines = paragraph(title, width, style="head" if style == "warn" else style)
    for label, text, mark in zone_facts(zone, plan, words, shown):
        lines += hanging(words.text(f"report.{label}"), text, width, indent=_LABELS, style=mark)
    lines += [(), *layer_table(zone, plan, words, width)]
    steps = next_steps(zone, plan, words, every=full)
    if steps:
        lines += [(), (TextRun(f"  {words.text('report.next')}", "head"),)]
        for text in steps:
            lines += bullet(text, width)
    lines += _to_do(zone, words, width, full=full)
    for ramp in zone.heat_ups:
        if full or _is_shown(ramp, state):
            lines += _heat_up(ramp, words, width, state)
    return [*lines, *detail_lines(zone, words, width)] if full else lines


def _to_do(zone: ZonePlan, words: Words, width: int, *, full: bool) -> list[Line]:
    """Return the hold points to do, by who does them and what they must come before."""
    waiting = [hold for hold in zone.holds if hold.is_outstanding]
    if not waiting:
        return []
    lines: list[Line] = [(), (TextRun(f"  {words.text('report.to-do')}", "head"),)]
    people = list(dict.fromkeys(hold.by for hold in waiting))
    waiting.sort(key=lambda hold: (people.index(hold.by), hold.state is not HoldState.FAILED))
    for by, gates in dict.fromkeys((hold.by, hold.gates) for hold in waiting):
        who = {"by": whole(words.person(by)).rstrip("."), "gates": words.name("gates", gates)}
        lead = words.text("report.by", who)
        theirs = [hold for hold in waiting if (hold.by, hold.gates) == (by, gates)]
        if full:
            lines += paragraph(lead, width, indent=2, style="dim")
            for hold in theirs:
                failed = hold.state is HoldState.FAILED
                text = hold_text(hold, words, gates=False)
                lines += bullet(text, width, style="bad" if failed else "")
            continue
        for failed in (True, False):
            texts = [
                hold_text(_without_known_reason(hold), words, gates=False)
                for hold in theirs
                if failed is (hold.state is HoldState.FAILED)
            ]
            if texts:
                told = f"{lead}: {'; '.join(texts)}"
                lines += bullet(told, width, style="bad" if failed else "")
    return lines


def _without_known_reason(hold: Hold) -> Hold:
    """Return a hold point without a reason that the first line has given."""
    known = hold.reason is not None and hold.reason.code == FindingCode.CURE_RUNNING
    return replace(hold, reason=None) if known else hold


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
        lines += paragraph(words.condition(ramp), width, indent=2, style="warn")
    return lines


def _visits(plan: Plan, words: Words, width: int, *, full: bool) -> list[Line]:
    lines = visit_lines(plan, words, width, every=full)
    return [*_section("visits", words), *lines] if lines else []


def refused_lines(
    findings: Sequence[Finding], names: Mapping[str, object], words: Words, width: int
) -> list[Line]:
    """Return every finding of a job file that is not understood: the place, what, the remedy."""
    errors = sum(finding.severity is Severity.ERROR for finding in findings)
    title = words.text("report.refused", {"count": errors})
    lines = paragraph(title, max(width, NARROWEST), style="bad")
    return lines + finding_lines(findings, names, words, max(width, NARROWEST), titled=False)
