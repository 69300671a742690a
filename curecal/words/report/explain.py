"""Every step that leads to a date, in whole sentences, checkable by hand, with sources."""

from __future__ import annotations

from collections.abc import Sequence

from curecal.errors import UsageError
from curecal.planning.comparison.what_if import Gain
from curecal.planning.plan import HeatUp, LayerPlan, MilestonePlan, Plan, Step, ZonePlan
from curecal.trade.data_sheets import Kind
from curecal.trade.findings import Finding
from curecal.trade.names import comparable_name
from curecal.words.layout import NARROWEST, Line, bullet, paragraph
from curecal.words.report.cautions import cautions
from curecal.words.report.details import final_cure_text
from curecal.words.report.headline import headline
from curecal.words.report.holding_up import of_job, of_layer, of_zone, told_lines
from curecal.words.report.watch import not_settled
from curecal.words.sentences import Words, whole
from curecal.words.values import clean

_NAMED_AT_MOST = 8
# Under the words of a numbered step: its indent of 6 and the mark "1. ".
_BECAUSE = 9
# The rules whose formula an hour of hardening follows.
_FORMULAS = ("R1", "R2", "R3")
# Too thin for a moisture test.
_COATS = frozenset({Kind.MEMBRANE, Kind.PRIMER, Kind.SEALER})


def explain(
    plan: Plan,
    *,
    words: Words,
    width: int,
    layer: str | None = None,
    gains: Sequence[Gain] | None = None,
    findings: Sequence[Finding] = (),
) -> list[Line]:
    """Return the steps of every milestone, or of one layer's, and what holds them up.

    Args:
        plan: the plan.
        words: language, units, electrical words, the rules' titles.
        width: columns, at least 40.
        layer: a layer's id or name; None for all.
        gains: what would bring dates forward; None leaves that out.
        findings: what reading the job found; the plan's own follow.

    Returns:
        Lines of styled segments.

    Raises:
        UsageError: no layer has that id or name.
    """
    width = max(width, NARROWEST)
    wanted = chosen_layers(plan, layer)
    lines: list[Line] = []
    if layer is None:
        lines += paragraph(
            headline(plan, words), width, style="good" if plan.may_energize else "bad"
        )
    standing = not_settled((*findings, *plan.findings), plan)
    for zone in plan.zones:
        chosen = [one for one in zone.layers if id(one) in wanted]
        if not chosen:
            continue
        lines += [(), *paragraph(clean(zone.zone.name), width, style="head")]
        for shown in chosen:
            lines += _layer(shown, words, width)
            lines += told_lines(of_layer(standing, zone, shown), words, width, indent=4)
        if layer is None:
            lines += _date(zone, words, width)
            lines += told_lines(of_zone(standing, zone), words, width, indent=2)
            for ramp in zone.heat_ups:
                lines += _heat_up(ramp, words, width)
            lines += _helps(zone, gains, words, width)
    if layer is None:
        lines += of_job(standing, plan, words, width)
    lines += _formulas(plan, wanted, words, width)
    lines += cautions(plan, words, width)
    return lines[1:] if lines and not lines[0] else lines


def chosen_layers(plan: Plan, name: str | None) -> set[int]:
    """Return which layers are asked for, by identity.

    Args:
        plan: the plan.
        name: a layer's id or name; None for all.

    Returns:
        The `id()` of each layer's plan.

    Raises:
        UsageError: no layer has that id or name.
    """
    layers = [layer for zone in plan.zones for layer in zone.layers]
    if name is None:
        return {id(layer) for layer in layers}
    asked = comparable_name(name)
    found = {
        id(layer)
        for layer in layers
        if asked in {comparable_name(layer.layer.id), comparable_name(layer.layer.name)}
    }
    if not found:
        known = list(dict.fromkeys(layer.layer.name for layer in layers))[:_NAMED_AT_MOST]
        raise UsageError("layer-unknown", layer=name, known=known)
    return found


def _layer(layer: LayerPlan, words: Words, width: int) -> list[Line]:
    title = f"{clean(layer.layer.title)}: {_laid(layer, words)}"
    lines: list[Line] = [(), *paragraph(title, width, indent=2, style="head")]
    told: set[str] = set()
    for milestone in layer.milestones.values():
        lines += _milestone(milestone, words, width, told)
        if milestone.estimate:
            key = "estimate-coat" if layer.layer.sheet.kind in _COATS else "estimate"
            lines += paragraph(words.text(f"explain.{key}"), width, indent=6)
        if milestone.informative:
            lines += paragraph(words.text("explain.informative"), width, indent=6)
    if cure := final_cure_text(layer, words):
        lines += paragraph(whole(cure), width, indent=4)
    if not layer.milestones:
        key = "explain.existing" if layer.layer.existing else "explain.no-clock"
        lines += paragraph(words.text(key), width, indent=4)
    return lines


def _laid(layer: LayerPlan, words: Words) -> str:
    if layer.layer.existing:
        return words.text("report.existing")
    if layer.finish is None:
        return words.text("explain.undated")
    key = "explain.planned" if layer.planned else "explain.done"
    finish = layer.finish
    params = {
        "done_at": finish.earliest,
        "finish_at": finish.earliest,
        "latest_at": finish.latest,
    }
    if layer.planned and layer.finish.latest == layer.finish.earliest:
        params["latest_at"] = None
    return words.text(key, params)


def _milestone(milestone: MilestonePlan, words: Words, width: int, told: set[str]) -> list[Line]:
    """Return one milestone's steps; `told` are rules and sources given for this layer already."""
    name = words.name("milestone", milestone.milestone.value)
    window = milestone.window
    if window is None:
        title = words.text("explain.no-date", {"milestone": name})
    elif window.latest is None:
        params = {"milestone": name, "earliest_at": window.earliest}
        title = words.text("explain.from", params)
    elif window.latest == window.earliest:
        title = words.text("explain.at", {"milestone": name, "earliest_at": window.earliest})
    else:
        params = {"earliest_at": window.earliest, "latest_at": window.latest}
        title = words.text("explain.between", {"milestone": name, **params})
    lines = paragraph(title, width, indent=4, style="good" if window else "bad")
    lines += _steps(milestone.steps, words, width, told)
    if not milestone.steps:
        # Where a plan carries no steps, its rule and source still say where the date is from.
        lines += _because(milestone.rule, words.source(milestone.source), words, width)
    if milestone.blocked is not None:
        blocked = f"{words.sentence(milestone.blocked)} {words.remedy(milestone.blocked)}"
        lines += bullet(blocked.strip(), width, indent=6, style="bad", mark="! ")
    return lines


def _steps(steps: Sequence[Step], words: Words, width: int, told: set[str]) -> list[Line]:
    lines: list[Line] = []
    for number, step in enumerate(steps, start=1):
        mark = f"{number}. "
        lines += bullet(words.step(step), width, indent=6, mark=mark)
        source = words.source(step.source)
        if step.rule not in told or source not in told:
            # A source that has been given for this layer is not given again.
            new = "" if source in told else source
            lines += _because(step.rule, new, words, width, indent=6 + len(mark))
        told |= {step.rule, source}
    return lines


def _because(
    rule: str, source: str, words: Words, width: int, *, indent: int = _BECAUSE
) -> list[Line]:
    text = words.text("explain.because", {"rule": words.rule(rule), "source": source})
    return paragraph(text, width, indent=indent, style="dim")


def _date(zone: ZonePlan, words: Words, width: int) -> list[Line]:
    governed = zone.energize.governed_by
    lines: list[Line] = [()]
    if governed is None:
        why = zone.energize.blocked or zone.why
        text = f"{words.sentence(why)} {words.remedy(why)}".strip()
        return lines + paragraph(text, width, indent=2)
    params = {
        "layer": governed.layer_name,
        "milestone": words.name("milestone", governed.milestone.value),
        "start_on": zone.energize.start_on,
        "owner_on": zone.energize.owner_date,
    }
    lines += paragraph(words.text("explain.governs", params), width, indent=2)
    if zone.energize.source is not None:
        source = words.source(zone.energize.source)
        lines += _because(governed.rule, source, words, width)
    return lines


def _formulas(plan: Plan, wanted: set[int], words: Words, width: int) -> list[Line]:
    """Return the formulas behind the rates that the steps name, so that a hand can check them."""
    used = {
        step.rule
        for zone in plan.zones
        for layer in zone.layers
        if id(layer) in wanted
        for milestone in layer.milestones.values()
        for step in milestone.steps
    }
    said = [rule for rule in _FORMULAS if rule in used]
    if not said:
        return []
    lines: list[Line] = [(), *paragraph(words.text("explain.formulas"), width, style="head")]
    for rule in said:
        lines += bullet(words.text(f"formula.{rule}"), width)
    return lines


def _helps(zone: ZonePlan, gains: Sequence[Gain] | None, words: Words, width: int) -> list[Line]:
    """Return what would bring a zone's date forward; that nothing would is an answer too."""
    if gains is None or zone.may_energize:
        return []
    title = words.text("explain.helps")
    lines: list[Line] = [(), *paragraph(title, width, indent=2, style="head")]
    own = [gain for gain in gains if gain.zone == zone.zone.id]
    for gain in own:
        params = {"what": whole(words.message(gain.what)).rstrip("."), "count": gain.days}
        lines += bullet(words.text("explain.gain", params), width)
    return lines if own else lines + paragraph(words.text("explain.helps-nothing"), width, indent=2)


def _heat_up(ramp: HeatUp, words: Words, width: int) -> list[Line]:
    title = words.text("report.heat-up", {"purpose": ramp.purpose})
    lines: list[Line] = [(), *paragraph(title, width, indent=2, style="head")]
    params = {
        "start": words.text("explain.temperature", {"value_c": ramp.start_c}),
        "limit_c": ramp.limit_c,
        "from": words.message(ramp.limit_from),
        "count": len(ramp.steps),
    }
    key = "explain.ramp-measured" if ramp.start_measured else "explain.ramp-assumed"
    lines += bullet(words.text(key, params), width, indent=4)
    return lines + _because(ramp.rule, words.source(ramp.source), words, width)
