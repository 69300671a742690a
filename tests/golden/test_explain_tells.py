"""`explain` tells everything that makes a date later or refuses it, with its reason and remedy."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from golden import expected_path, folders

from curecal.cli.shared.common import PlannedJob, planned
from curecal.planning.plan import LayerPlan, ZonePlan
from curecal.trade.findings import Finding, Message, Severity
from curecal.words.layout import plain
from curecal.words.report.explain import explain
from curecal.words.report.watch import not_settled

GRAVE = {Severity.STOP, Severity.WARNING, Severity.ERROR}
JOBS = [folder for folder in folders() if "zones" in json.loads(expected_path(folder).read_text())]


def made_of(folder: Path) -> PlannedJob:
    as_of = json.loads(expected_path(folder).read_text())["asked_at"]
    made = planned(
        folder / "job.toml",
        as_of=as_of,
        logs=(),
        company=None,
        units=None,
        refused=lambda *_: None,
    )
    assert made is not None
    return made


def text(made: PlannedJob, layer: str | None = None) -> str:
    lines = plain(
        explain(made.plan, words=made.words, width=100, layer=layer, findings=made.findings)
    )
    return " ".join(" ".join(lines).split())


def reasons(zone: ZonePlan) -> set[str]:
    """What the zone and its layers say by themselves, as the reason why there is no date."""
    own: list[Message | None] = [zone.why, zone.energize.blocked]
    own += [plan.blocked for layer in zone.layers for plan in layer.milestones.values()]
    own += [hold.reason for hold in zone.holds]
    return {message.code for message in own if message is not None}


@pytest.mark.parametrize("folder", JOBS, ids=lambda folder: folder.name)
def test_every_grave_finding_is_explained_with_what_to_do(folder: Path) -> None:
    made = made_of(folder)
    known = {code for zone in made.plan.zones for code in reasons(zone)}
    said = text(made)
    untold = [
        part
        for finding in not_settled((*made.findings, *made.plan.findings), made.plan)
        if finding.severity in GRAVE and finding.code not in known
        for part in parts(*made.words.finding(finding))
        if part not in said
    ]
    assert untold == []


@pytest.mark.parametrize("folder", JOBS, ids=lambda folder: folder.name)
def test_every_reason_why_a_layer_has_no_date_stands_with_its_remedy(folder: Path) -> None:
    made = made_of(folder)
    said = text(made)
    blocked = [zone.energize.blocked for zone in made.plan.zones]
    layers = [layer for zone in made.plan.zones for layer in zone.layers]
    blocked += [plan.blocked for layer in layers for plan in layer.milestones.values()]
    untold = [
        part
        for message in blocked
        if message is not None
        for part in parts(made.words.message(message), made.words.remedy(message))
        if part not in said
    ]
    assert untold == []


@pytest.mark.parametrize("folder", JOBS, ids=lambda folder: folder.name)
def test_what_is_about_a_layer_is_told_when_only_that_layer_is_asked_for(folder: Path) -> None:
    made = made_of(folder)
    standing = not_settled((*made.findings, *made.plan.findings), made.plan)
    untold = [
        part
        for zone in made.plan.zones
        for layer in zone.layers
        for finding in standing
        if is_of(finding, zone, layer) and finding.code not in reasons(zone)
        for part in parts(*made.words.finding(finding))
        if part not in text(made, layer.layer.id)
    ]
    assert untold == []


def parts(said: str, do: str) -> list[str]:
    """A sentence without its first letter, large or small, and its stop; and the remedy."""
    return [" ".join(said[1:].rstrip(".").split()), " ".join(do.split())]


def is_of(finding: Finding, zone: ZonePlan, layer: LayerPlan) -> bool:
    return (finding.zone_id, finding.layer_id) == (zone.zone.id, layer.layer.id)
