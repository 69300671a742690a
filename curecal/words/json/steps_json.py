"""The steps of every date as machine output: each line's numbers beside its sentence."""

from __future__ import annotations

from collections.abc import Sequence

from curecal.planning.comparison.plan_snapshot import milestone_snapshot, step_snapshot
from curecal.planning.comparison.what_if import Gain
from curecal.planning.plan import LayerPlan, MilestonePlan, Plan
from curecal.records import PlainTable
from curecal.trade.findings import Finding
from curecal.words.job_places import names_of
from curecal.words.json.plan_json import SCHEMA, sentences
from curecal.words.json.record_json import Beside, encode
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
) -> PlainTable:
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
    beside = sentences(words, names_of(plan.job))
    document: PlainTable = encode(
        {
            "schema": SCHEMA,
            "job_id": plan.job.id,
            "job": plan.job.name,
            "as_of": plan.as_of,
            "layers": [
                _layer(zone.zone.id, item, beside)
                for zone in plan.zones
                for item in zone.layers
                if id(item) in wanted
            ],
            "sooner": gains,
            "cautions": caution_texts(plan, words),
            "findings": (*findings, *plan.findings),
        },
        beside,
    )
    return document


def _layer(zone_id: str, item: LayerPlan, beside: Beside) -> PlainTable:
    return {
        "zone": zone_id,
        "id": item.layer.id,
        "name": item.layer.name,
        "part": item.layer.part,
        "milestones": {
            milestone: _milestone(found, beside) for milestone, found in item.milestones.items()
        },
    }


def _milestone(milestone: MilestonePlan, beside: Beside) -> PlainTable:
    steps = [step_snapshot(step) for step in milestone.steps]
    return {**encode(milestone_snapshot(milestone), beside), "steps": steps}
