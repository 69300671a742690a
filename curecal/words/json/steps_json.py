"""The steps of every date as machine output: each line's numbers beside its sentence."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import date, datetime
from typing import Any

from curecal.planning.comparison.what_if import Gain
from curecal.planning.plan import LayerPlan, MilestonePlan, Plan, Step
from curecal.trade.findings import Finding
from curecal.words.job_places import names_of
from curecal.words.json.plan_json import SCHEMA, findings_json, gains_json, milestone_json, stamp
from curecal.words.report.cautions import caution_texts
from curecal.words.report.explain import chosen_layers
from curecal.words.sentences import Words


def explain_json(
    plan: Plan,
    findings: Sequence[Finding],
    *,
    words: Words,
    layer: str | None = None,
    gains: Sequence[Gain] = (),
) -> dict[str, Any]:
    """Return the steps of every milestone, or of one layer's, as `json.dumps` takes them.

    Args:
        plan: the plan.
        findings: what reading the job found; the plan's own follow.
        words: language, units, the rules' titles.
        layer: a layer's id or name; None for all.
        gains: what would bring dates forward.

    Returns:
        A table; a step's `inputs` are in SI, their names end in the unit.

    Raises:
        UsageError: no layer has that id or name.
    """
    wanted = chosen_layers(plan, layer)
    return {
        "schema": SCHEMA,
        "job_id": plan.job.id,
        "job": plan.job.name,
        "as_of": stamp(plan.as_of),
        "layers": [
            _layer(zone.zone.id, each, words)
            for zone in plan.zones
            for each in zone.layers
            if id(each) in wanted
        ],
        "sooner": gains_json(gains, words),
        "cautions": caution_texts(plan, words),
        "findings": findings_json((*findings, *plan.findings), names_of(plan.job), words),
    }


def _layer(zone_id: str, layer: LayerPlan, words: Words) -> dict[str, Any]:
    return {
        "zone": zone_id,
        "id": layer.layer.id,
        "name": layer.layer.name,
        "part": layer.layer.part,
        "milestones": {
            milestone.value: _milestone(found, words)
            for milestone, found in layer.milestones.items()
        },
    }


def _milestone(milestone: MilestonePlan, words: Words) -> dict[str, Any]:
    steps = [_step(step, words) for step in milestone.steps]
    return {**milestone_json(milestone, words), "steps": steps}


def _step(step: Step, words: Words) -> dict[str, Any]:
    return {
        "code": step.code,
        "says": words.step(step),
        "inputs": _inputs(step.params),
        "rule": words.rule(step.rule),
        "rule_id": step.rule,
        "basis": step.source.basis.value,
        "source": step.source.text,
    }


def _inputs(params: Mapping[str, object]) -> dict[str, Any]:
    """Return parameters as JSON has them: instants in UTC, days as dates."""
    found: dict[str, Any] = {}
    for name, value in params.items():
        match value:
            case datetime():
                found[name] = stamp(value)
            case date():
                found[name] = value.isoformat()
            case _:
                found[name] = value
    return found
