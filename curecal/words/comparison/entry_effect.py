"""What an entry did to the plan: dates, hold points, and what it leaves open of its own kind."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace

from curecal.planning.comparison.plan_comparison import ZoneComparison, compare_snapshots
from curecal.planning.comparison.plan_snapshot import snapshot
from curecal.planning.plan import Hold, HoldState, Plan
from curecal.trade.findings import Finding
from curecal.trade.hold_codes import HoldCode
from curecal.words.comparison.plan_changes import moved_dates, moved_hold
from curecal.words.layout import Line, bullet, paragraph
from curecal.words.report.report import hold_text
from curecal.words.sentences import Words

# The hold points an entry of a kind is written for.
_SERVES: Mapping[str, frozenset[str]] = {
    "inspection": frozenset(
        {
            HoldCode.INSPECTION_BEFORE_CONCEALMENT,
            HoldCode.ASK_THE_MAKER,
            HoldCode.COVERED_WET,
            HoldCode.CEMENT_ON_SULFATE,
        }
    ),
    "connected": frozenset({HoldCode.CONNECTION}),
    "kept": frozenset({HoldCode.CURE}),
    "moisture": frozenset({HoldCode.MOISTURE_TEST}),
    "protection": frozenset({HoldCode.PROTECTION}),
    "release": frozenset({HoldCode.RELEASE}),
    "test_points": frozenset({HoldCode.TEST_POINTS}),
    "thermostat": frozenset({HoldCode.THERMOSTAT}),
    "resistance delivery": frozenset({HoldCode.TEST_ON_DELIVERY}),
    "resistance laid": frozenset({HoldCode.TEST_AFTER_LAYING}),
    "resistance embedded": frozenset({HoldCode.TEST_AFTER_EMBEDDING}),
    "resistance connection": frozenset({HoldCode.TEST_BEFORE_CONNECTION}),
    "resistance in service": frozenset({HoldCode.TEST_AFTER_CHISELLING, "test-after-repair"}),
}
# Kept and never computed with: nobody expects a date to move by them.
_KEPT = frozenset({"note", "photo"})
_WAITING = frozenset({HoldState.UNMET, HoldState.FAILED})


def left_open(was: Plan | None, plan: Plan, entry: Mapping[str, object]) -> list[Hold]:
    """Return the hold points an entry is about that are not met with it, or met no longer.

    Args:
        was: the plan without the entry; None where there was none.
        plan: the plan with it.
        entry: its kind, its zone's id, its stage, its cable.

    Returns:
        Hold points, those that failed first.
    """
    differences = () if was is None else compare_snapshots(snapshot(was), snapshot(plan)).zones
    # A hold point that was not asked for before counts as changed.
    changed = {
        (zone.after.id, change.code, change.cable, change.layer_id)
        for zone in differences
        if zone.before.holds
        for change in zone.holds
    }
    found = []
    for zone in plan.zones:
        ours = entry.get("zone") in {None, zone.zone.id}
        for hold in zone.holds:
            served = ours and hold.code in _served(entry) and _is_cable(hold, entry)
            key = (zone.zone.id, hold.code.value, hold.cable, hold.layer_id)
            if hold.is_outstanding and (served or key in changed):
                found.append(hold)
    return sorted(found, key=lambda hold: hold.state is not HoldState.FAILED)


def effect_lines(
    plans: tuple[Plan | None, Plan],
    entry: Mapping[str, object],
    findings: Sequence[Finding],
    words: Words,
    width: int,
) -> list[Line]:
    """Return what an entry did: dates moved, hold points met, what it leaves open; or nothing.

    Args:
        plans: the plan without the entry, None where there was none, and with it, of one instant.
        entry: its kind, its zone's id, its stage, its cable.
        findings: what is found since the entry, and said after these lines.
        words: language and units.
        width: columns.

    Returns:
        Lines of styled segments.
    """
    was, plan = plans
    zones = () if was is None else compare_snapshots(snapshot(was), snapshot(plan)).zones
    zones = tuple(zone for zone in zones if zone.has_changed)
    lines: list[Line] = []
    for zone in zones:
        for text in _changes(zone, words):
            lines += bullet(text, width)
    said = {finding.code for finding in findings}
    for hold in left_open(was, plan, entry):
        if hold.reason is not None and hold.reason.code in said:
            # Said in full as a finding, with what to do.
            continue
        text = hold_text(hold, words)
        failed = hold.state is HoldState.FAILED
        text = text if failed else words.text("note.open", {"what": text})
        lines += bullet(text, width, style="bad" if failed else "warn")
    if was is not None and not zones and not findings and entry.get("kind") not in _KEPT:
        lines = paragraph(words.text("note.nothing"), width) + lines
    return lines


def _changes(zone: ZoneComparison, words: Words) -> list[str]:
    """Return what moved in one zone: its date, its hold points met, how many dates beside."""
    texts = moved_dates(zone, words) if zone.energize is not None else []
    # What is not met is said with its reason.
    waiting = {state.value for state in _WAITING}
    texts += [
        moved_hold(replace(hold, evidence=None), words)
        for hold in zone.holds
        if hold.after not in waiting
    ]
    count = sum(len(layer.shifts) for layer in zone.layers)
    if count and zone.energize is None:
        named = {"zone": zone.after.name, "count": count}
        texts.append(words.text("note.layers", named))
    return texts


def _served(entry: Mapping[str, object]) -> frozenset[str]:
    kind = str(entry.get("kind"))
    return _SERVES.get(kind) or _SERVES.get(f"{kind} {entry.get('stage')}") or frozenset()


def _is_cable(hold: Hold, entry: Mapping[str, object]) -> bool:
    return entry.get("cable") is None or hold.cable in {None, entry.get("cable")}
