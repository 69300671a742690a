"""What the report's "Watch" shows of the findings: nothing settled, nothing said twice."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import datetime

from curecal.planning.plan import Hold, Plan, ZonePlan
from curecal.trade.findings import Finding, FindingCode
from curecal.trade.hold_codes import CABLE_TESTS, HoldCode
from curecal.words.sentences import Words

_MOISTURE = frozenset({HoldCode.MOISTURE_TEST})
# A test that did not count is history once a later one has met the hold point.
_BY_LATER_TEST: dict[str, frozenset[HoldCode]] = {
    FindingCode.WHICH_CABLE: CABLE_TESTS,
    FindingCode.JOINT_AGREES: CABLE_TESTS,
    FindingCode.JOINT_OFF: CABLE_TESTS,
    FindingCode.MOISTURE_DEPTH: _MOISTURE,
    FindingCode.MOISTURE_FELL: _MOISTURE,
    FindingCode.MOISTURE_IMPLAUSIBLE: _MOISTURE,
    FindingCode.MOISTURE_INCOMPLETE: _MOISTURE,
    FindingCode.MOISTURE_NO_WATER: _MOISTURE,
    FindingCode.MOISTURE_STILL_WARM: _MOISTURE,
    FindingCode.MOISTURE_TOO_DRY: _MOISTURE,
    FindingCode.MOISTURE_TOO_EARLY: _MOISTURE,
}
# Advice for the wait: over once the crew lead has released the floor.
_BEFORE_RELEASE = frozenset(
    {
        FindingCode.HEAT_BY_FALLBACK,
        FindingCode.HEAT_UNDER_FALLBACK,
        FindingCode.ROOM_HOT,
        FindingCode.SEALED_BOTH_SIDES,
    }
)


def to_watch(findings: Sequence[Finding], plan: Plan, words: Words) -> list[Finding]:
    """Return the findings to show: without settled ones, alike ones of several layers as one.

    Args:
        findings: what was found.
        plan: the plan they belong to.
        words: the language; codes with a text "together" are merged.

    Returns:
        The findings, in their order.
    """
    return _merged(not_settled(findings, plan), words)


def not_settled(findings: Sequence[Finding], plan: Plan) -> list[Finding]:
    """Return the findings without those that later facts have settled.

    Args:
        findings: what was found.
        plan: the plan they belong to.

    Returns:
        The findings that still stand, in their order.
    """
    zones = {zone.zone.id: zone for zone in plan.zones}
    return [one for one in findings if not _is_settled(one, zones.get(one.zone_id or ""))]


def _is_settled(finding: Finding, zone: ZonePlan | None) -> bool:
    if finding.code == FindingCode.RELEASE_SETTLED:
        return True
    if zone is None:
        return False
    if finding.code in _BEFORE_RELEASE:
        return zone.is_released
    tested_at = finding.params.get("tested_at")
    codes = _BY_LATER_TEST.get(finding.code)
    if codes is None or not isinstance(tested_at, datetime):
        return False
    tests = [hold for hold in zone.holds if hold.code in codes and _is_about(hold, finding)]
    return bool(tests) and all(_is_met_since(hold, tested_at) for hold in tests)


def _is_about(hold: Hold, finding: Finding) -> bool:
    return None in {hold.layer_id, finding.layer_id} or hold.layer_id == finding.layer_id


def _is_met_since(hold: Hold, tested_at: datetime) -> bool:
    met_at = hold.evidence_at
    return not hold.is_outstanding and met_at is not None and met_at > tested_at


def _merged(findings: Sequence[Finding], words: Words) -> list[Finding]:
    """Return findings, those that say the same of several layers of a zone in one."""
    kept: list[Finding] = []
    places: dict[tuple[str, str | None], int] = {}
    for finding in findings:
        key = (finding.code, finding.zone_id)
        if f"finding.{finding.code}-layers.say" not in words.catalogue:
            kept.append(finding)
        elif key not in places:
            places[key] = len(kept)
            kept.append(finding)
        else:
            kept[places[key]] = _with_layer(kept[places[key]], finding)
    return kept


def _with_layer(first: Finding, other: Finding) -> Finding:
    """Return a finding of one or more layers that says the same of one more."""
    so_far = first.params.get("layers")
    layers = so_far if isinstance(so_far, tuple) else (str(first.params["layer"]),)
    code = first.code if so_far else f"{first.code}-layers"
    params = {**first.params, "layers": (*layers, str(other.params["layer"]))}
    return replace(first, code=code, path=first.path.partition(".layer.")[0], params=params)
