"""The crew lead's word that an old base needs no moisture test: when it counts, else why not."""

from __future__ import annotations

from dataclasses import replace

from curecal.instants import add
from curecal.planning.plan import Hold, HoldState
from curecal.planning.site_log.last_word import newest
from curecal.planning.site_log.log_at_instant import Facts
from curecal.records import Record, record
from curecal.trade.data_sheets import POURED
from curecal.trade.findings import Finding, Message, Severity
from curecal.trade.job import Below, CoveringFamily, Expected, Layer, Zone
from curecal.trade.rules import Rules
from curecal.trade.site_log import Inspection, Result


@record
class Waiver(Record):
    """A layer's moisture hold point as the crew lead's word leaves it, and what is said of that."""

    hold: Hold
    findings: tuple[Finding, ...] = ()


def says_not_required(entry: Inspection) -> bool:
    """Return whether an inspection says that a layer needs no moisture test.

    Rule: R24b.
    """
    return entry.layer is not None and entry.result is Result.NOT_REQUIRED


def waive_test(
    hold: Hold, zone: Zone, layer: Layer, facts: Facts, expected: Expected, rules: Rules
) -> Waiver:
    """Return a layer's moisture hold point with the crew lead's word that it needs no test.

    Rule: R24b.

    Args:
        hold: the hold point as the tests leave it.
        zone: the zone.
        layer: the layer, one that wants a test.
        facts: the log as it stood.
        expected: what the job says of what lies below.
        rules: the numbers of the rules.

    Returns:
        The hold point, not needed where that word counts; a warning where it does not.
    """
    told = [
        entry
        for entry in facts.of(Inspection, zone)
        if entry.layer == layer.id and says_not_required(entry) and facts.counts(entry)
    ]
    if not told or hold.state is HoldState.MET:
        return Waiver(hold)
    last = newest(told)[-1]
    doubt = (
        Message("waiver-wet", {"layer": layer.name})
        if hold.state is HoldState.FAILED
        else doubt_about_waiver(zone, layer, last, expected, rules)
    )
    if doubt is None:
        params = {"layer": layer.name, "by": last.by, "told_at": last.at, "why": last.note}
        return Waiver(
            replace(
                hold,
                state=HoldState.NOT_NEEDED,
                evidence=last.id,
                evidence_at=last.at,
                reason=Message("moisture-not-required", params),
            )
        )
    finding = Finding(Severity.WARNING, doubt.code, last.path, doubt.params, zone.id, layer.id)
    return Waiver(hold, (finding,))


def doubt_about_waiver(
    zone: Zone, layer: Layer, entry: Inspection, expected: Expected, rules: Rules
) -> Message | None:
    """Return why a layer needs its moisture test whatever the crew lead says; None where it may go.

    An old base is as dry as it will ever be, unless water comes from the ground or from this job.

    Rule: R24b.

    Args:
        zone: the zone.
        layer: the layer.
        entry: what the crew lead said.
        expected: what the job says of what lies below.
        rules: the numbers of the rules.

    Returns:
        The first reason against it.
    """
    age_s = rules.moisture.old_base_s
    since_at, below = layer.since_at, expected.below
    poured = [
        other.name for other in zone.layers if other.sheet.kind in POURED and not other.existing
    ]
    reasons = {
        "waiver-without-why": not entry.note,
        "waiver-of-fresh": not layer.existing,
        "waiver-under-wood": zone.covering.kind.family is CoveringFamily.WOOD,
        "waiver-below-unknown": below is None,
        "waiver-on-ground": below is Below.GROUND,
        "waiver-fresh-pour": bool(poured),
        "waiver-age-unknown": since_at is None,
        "waiver-too-young": since_at is not None and entry.at < add(since_at, age_s),
    }
    code = next((code for code, holds in reasons.items() if holds), None)
    if code is None:
        return None
    params: dict[str, object] = {
        "layer": layer.name,
        "covering": zone.covering.kind.value,
        "poured": ", ".join(poured),
    }
    return Message(code, params)
