"""A plan as machine output, in the form every release keeps: keys are added, never renamed."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import UTC, date, datetime
from typing import Any

from curecal.instants import Window, ceil_second
from curecal.planning.comparison.what_if import Gain
from curecal.planning.plan import (
    Energize,
    HeatUp,
    Hold,
    LayerPlan,
    MilestonePlan,
    Plan,
    Visit,
    ZonePlan,
)
from curecal.trade.findings import Finding
from curecal.words.job_places import names_of, place
from curecal.words.report.cautions import caution_texts
from curecal.words.report.headline import headline
from curecal.words.sentences import Words, whole

SCHEMA = 1

_NO_NAMES: Mapping[str, object] = {}


def plan_json(
    plan: Plan,
    findings: Sequence[Finding],
    *,
    words: Words,
    version: str,
    tzdata: str,
    gains: Sequence[Gain] = (),
    names: Mapping[str, object] = _NO_NAMES,
) -> dict[str, Any]:
    """Return a plan in the form of `plan --json`.

    Args:
        plan: the plan.
        findings: what reading the job found; the plan's own follow.
        words: the language of the sentences in it.
        version: curecal's version.
        tzdata: the version of the time zone data.
        gains: what would bring a date forward.
        names: the files as read: the names behind a finding's place that no plan holds.

    Returns:
        What `json.dumps` takes.
    """
    return {
        "schema": SCHEMA,
        "curecal": version,
        "tzdata": tzdata,
        "job_id": plan.job.id,
        "job": plan.job.name,
        "timezone": plan.job.timezone,
        "as_of": stamp(plan.as_of),
        "may_energize": plan.may_energize,
        "answer": headline(plan, words),
        "zones": [_zone(zone, words) for zone in plan.zones],
        "visits": [_visit(visit, words) for visit in plan.visits],
        "sooner": gains_json(gains, words),
        "cautions": caution_texts(plan, words),
        "findings": findings_json(
            (*findings, *plan.findings), {**names, **names_of(plan.job)}, words
        ),
    }


def gains_json(gains: Sequence[Gain], words: Words) -> list[dict[str, Any]]:
    """Return what would bring a date forward, the largest gain first."""
    return [
        {
            "zone": gain.zone_id,
            "code": gain.what.code,
            "what": whole(words.message(gain.what)),
            "days": gain.days,
        }
        for gain in gains
    ]


def findings_json(
    findings: Sequence[Finding], names: Mapping[str, object], words: Words
) -> list[dict[str, Any]]:
    """Return findings with their place, sentence and remedy."""
    listed = []
    for finding in findings:
        message, do = words.finding(finding)
        listed.append(
            {
                "severity": finding.severity.value,
                "code": finding.code,
                "path": finding.path,
                "where": place(finding.path, names, words),
                "message": whole(message),
                "do": do,
            }
        )
    return listed


def stamp(at: datetime | None) -> str | None:
    """Return an instant as `…Z`, to the second, rounded up."""
    if at is None:
        return None
    return f"{ceil_second(at).astimezone(UTC).replace(tzinfo=None).isoformat()}Z"


def _day(day: date | None) -> str | None:
    return None if day is None else day.isoformat()


def _ends(window: Window | None) -> dict[str, str | None]:
    if window is None:
        return {"earliest": None, "latest": None}
    return {"earliest": stamp(window.earliest), "latest": stamp(window.latest)}


def _zone(zone: ZonePlan, words: Words) -> dict[str, Any]:
    order = zone.room_order
    return {
        "id": zone.zone.id,
        "name": zone.zone.name,
        "state": zone.state.value,
        "may_energize": zone.may_energize,
        "why": words.sentence(zone.why),
        "do": words.remedy(zone.why),
        "energize": _energize(zone.energize, words),
        "holds": [_hold(hold, words) for hold in zone.holds],
        "layers": [_layer(layer, words) for layer in zone.layers],
        "heat_ups": [_heat_up(ramp, words) for ramp in zone.heat_ups],
        "room_order": None
        if order is None
        else {
            "at_least_c": order.at_least_c,
            "until": stamp(order.until),
            "heated_by": order.heated_by,
        },
    }


def _energize(energize: Energize, words: Words) -> dict[str, Any]:
    governed = energize.governed_by
    return {
        **_ends(energize.window),
        "start_on": _day(energize.start_on),
        "owner_date": _day(energize.owner_date),
        "governed_by": None
        if governed is None
        else {
            "layer": governed.layer_name,
            "layer_id": governed.layer_id,
            "milestone": governed.milestone.value,
            "rule": words.rule(governed.rule),
            "rule_id": governed.rule,
        },
        "basis": energize.source.basis.value if energize.source else None,
        "source": energize.source.text if energize.source else None,
        "provisional": energize.provisional,
        "measured_share": energize.measured_share,
        "blocked": words.sentence(energize.blocked) if energize.blocked else None,
    }


def _hold(hold: Hold, words: Words) -> dict[str, Any]:
    return {
        "code": hold.code,
        "what": words.hold(hold),
        "gates": hold.gates,
        "state": hold.state.value,
        "by": hold.by,
        "cable": hold.cable,
        "layer_id": hold.layer_id,
        "evidence": hold.evidence,
        "evidence_at": stamp(hold.evidence_at),
        "reason": words.sentence(hold.reason) if hold.reason else None,
    }


def _layer(layer: LayerPlan, words: Words) -> dict[str, Any]:
    finish = layer.finish
    return {
        "id": layer.layer.id,
        "name": layer.layer.name,
        "part": layer.layer.part,
        "existing": layer.layer.existing,
        "done": None if finish is None or layer.planned else stamp(finish.earliest),
        "planned": layer.planned,
        "start": _ends(layer.start),
        "finish": _ends(finish),
        "latest_start": None
        if layer.latest_start_at is None
        else f"{layer.latest_start_at.astimezone(UTC):%Y-%m-%dT%H:%M:%S}Z",
        "milestones": {
            each.value: milestone_json(milestone, words)
            for each, milestone in layer.milestones.items()
        },
    }


def milestone_json(milestone: MilestonePlan, words: Words) -> dict[str, Any]:
    """Return one milestone's dates, basis and what blocks it."""
    return {
        **_ends(milestone.window),
        "basis": milestone.source.basis.value,
        "source": milestone.source.text,
        "rule": words.rule(milestone.rule),
        "rule_id": milestone.rule,
        "estimate": milestone.estimate,
        "informative": milestone.informative,
        "blocked": words.sentence(milestone.blocked) if milestone.blocked else None,
        "do": (words.remedy(milestone.blocked) or None) if milestone.blocked else None,
    }


def _heat_up(ramp: HeatUp, words: Words) -> dict[str, Any]:
    return {
        "purpose": ramp.purpose,
        "basis": ramp.basis,
        "steps": [
            {
                "on": _day(step.on),
                "to_c": step.to_c,
                "setting": setting,
                "hold_days": step.hold_days,
            }
            for step, setting in zip(ramp.steps, words.settings(ramp), strict=True)
        ],
        "ends_on": _day(ramp.ends_on),
        "step_k": ramp.step_k,
        "start_c": ramp.start_c,
        "start_measured": ramp.start_measured,
        "limit_c": ramp.limit_c,
        "limit_from": words.sentence(ramp.limit_from),
        "provisional": ramp.provisional,
        "rule": words.rule(ramp.rule),
        "rule_id": ramp.rule,
        "source": ramp.source.text,
    }


def _visit(visit: Visit, words: Words) -> dict[str, Any]:
    return {
        "kind": visit.kind,
        "purpose": words.name("visit", visit.kind),
        "zones": list(visit.zone_ids),
        "gates": list(visit.gates),
        **_ends(visit.window),
    }
