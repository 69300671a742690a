"""What a cable's tests say one after the other: between whom a fault appeared, slips of a unit."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime
from itertools import pairwise

from curecal.errors import OutsideValidity
from curecal.instants import add
from curecal.planning.hold_points.cable_limits import (
    Judged,
    called,
    is_insulation_low,
    is_within,
    judge,
    label_resistance,
    sensor_temperature,
    shows_insulated,
    steps_between,
)
from curecal.planning.hold_points.judged_hold import finding_of, why_not
from curecal.planning.plan import HoldState
from curecal.planning.zone_context import ZoneContext
from curecal.science.electrical import parallel_resistance
from curecal.trade.findings import Finding, Severity
from curecal.trade.job import Cable, Thermistor
from curecal.trade.site_log import Connected, Done, Resistance

# A reading written with the wrong prefix is off by one of these.
_PREFIXES = (1e3, 1e-3, 1e6, 1e-6)
# Where a floor's sensor can be while the floor is built.
_PLAUSIBLE_C = (-10.0, 45.0)


def history_checks(ctx: ZoneContext, cable: Cable, entries: Sequence[Resistance]) -> list[Finding]:
    """Return what one cable's tests give away in their order.

    Rule: R25.

    Args:
        ctx: the zone.
        cable: the cable.
        entries: its tests in order of time.

    Returns:
        The findings.
    """
    findings = []
    for before, after in steps_between(entries, ctx.rules):
        if _meant(cable, before) or _meant(cable, after):
            # Another unit is likelier than a change by a thousand; that is said by itself.
            continue
        params = {
            **_between(ctx, cable, before, after),
            "before_ohm": before.conductor_ohm,
            "after_ohm": after.conductor_ohm,
            "step_fraction": _share(before.conductor_ohm or 0.0, after.conductor_ohm or 0.0),
        }
        findings.append(finding_of(ctx, Severity.WARNING, "conductor-step", after.path, params))
    findings += _insulation_fell(ctx, cable, entries)
    findings += _fault_between(ctx, cable, entries)
    last = {entry.stage: entry for entry in entries}
    for entry in last.values():
        findings += _slips(ctx, cable, entry)
    if cable.sensor is None and any(entry.sensor_ohm is not None for entry in entries):
        path = next(entry.path for entry in entries if entry.sensor_ohm is not None)
        unjudged = {"cable": called(cable)}
        findings.append(finding_of(ctx, Severity.CAUTION, "sensor-unjudged", path, unjudged))
    return findings


def _share(before_ohm: float, after_ohm: float) -> float:
    return abs(after_ohm - before_ohm) / before_ohm


def _between(
    ctx: ZoneContext, cable: Cable, before: Resistance, after: Resistance
) -> dict[str, object]:
    """Return two tests, by whom each, and the layers worked on between, each by whom."""
    by = {entry.layer: entry.by for entry in ctx.facts.of(Done, ctx.zone) if entry.by}
    work = [
        f"{layer.title} ({by[layer.id]})" if layer.id in by else layer.title
        for layer in ctx.zone.layers
        if layer.done_at is not None
        and layer.done_at > before.at
        and add(layer.done_at, -(layer.duration_s or 0.0)) < after.at
    ]
    return {
        "cable": called(cable),
        "before": before.stage.value,
        "first_at": before.at,
        "before_by": before.by or "",
        "after": after.stage.value,
        "later_at": after.at,
        "after_by": after.by or "",
        "work": ", ".join(work),
    }


def _insulation_fell(
    ctx: ZoneContext, cable: Cable, entries: Sequence[Resistance]
) -> list[Finding]:
    """Return where the insulation fell far from one test to the next, and still passes."""
    findings = []
    tested = [entry for entry in entries if entry.insulation_ohm is not None]
    most = ctx.rules.electrical.fall_count
    for before, after in pairwise(tested):
        then_ohm, now_ohm = before.insulation_ohm or 0.0, after.insulation_ohm or 0.0
        if cable.insulation_ohm <= now_ohm < then_ohm / most:
            ohms = {"before_ohm": then_ohm, "after_ohm": now_ohm}
            params = {**_between(ctx, cable, before, after), **ohms}
            findings.append(
                finding_of(ctx, Severity.WARNING, "insulation-fell", after.path, params)
            )
    return findings


def _fault_between(ctx: ZoneContext, cable: Cable, entries: Sequence[Resistance]) -> list[Finding]:
    """Return between which two tests a standing fault appeared, by whom, and the work between."""
    first: Resistance | None = None
    good: list[Resistance] = []
    by_tester = False
    for entry in entries:
        said = judged_here(ctx, cable, entry)
        if said.electrical_fault:
            first = first or entry
            by_tester = by_tester or is_insulation_low(cable, entry)
        elif first is None and _shows_it_whole(entry, said):
            good.append(entry)
        elif first is not None and (
            (shows_insulated(cable, entry) and ctx.facts.counts(entry))
            or (said.state is HoldState.MET and not by_tester)
        ):
            first, by_tester = None, False
            good.append(entry)
    if first is None:
        return []
    before = next((entry for entry in reversed(good) if entry.at < first.at), None)
    if before is None:
        params = {"cable": called(cable), "after": first.stage.value, "later_at": first.at}
        return [finding_of(ctx, Severity.WARNING, "fault-since-unknown", first.path, params)]
    between = _between(ctx, cable, before, first)
    return [finding_of(ctx, Severity.WARNING, "fault-between", first.path, between)]


def judged_here(ctx: ZoneContext, cable: Cable, entry: Resistance) -> Judged:
    """Return what readings prove of a cable where it lies: in the floor the tester decides.

    Good readings prove nothing from somebody who may not give them; bad ones count.

    Rule: R24c, R25.

    Args:
        ctx: the zone.
        cable: the cable.
        entry: the readings.

    Returns:
        The state and the reason.
    """
    embedding = ctx.build_up.embedding
    embedded_at = None if embedding is None else embedding.done_at
    judged = judge(cable, entry, ctx.rules, embedded_at=embedded_at)
    lacking = why_not(ctx, entry) if judged.state is HoldState.MET else None
    return judged if lacking is None else Judged(HoldState.UNMET, lacking)


def _shows_it_whole(entry: Resistance, said: Judged) -> bool:
    """Return whether a test found no fault in the cable, whatever else it lacks or found."""
    looked = entry.earth_open or entry.insulation_ohm is not None
    return looked and not said.electrical_fault and entry.conductor_ohm is not None


def _slips(ctx: ZoneContext, cable: Cable, entry: Resistance) -> list[Finding]:
    """Return readings that fit with another prefix: kΩ for Ω, Ω for MΩ. They fail all the same."""
    findings = []
    conductor = _meant(cable, entry)
    if conductor is not None:
        findings.append(_slip(ctx, cable, entry, "conductor", conductor))
    if cable.sensor is not None and entry.sensor_ohm is not None:
        ohms = [entry.sensor_ohm * prefix for prefix in _PREFIXES]
        meant = [ohm for ohm in ohms if _is_plausible(cable.sensor, ohm, entry)]
        if meant and not _is_plausible(cable.sensor, entry.sensor_ohm, entry):
            findings.append(_slip(ctx, cable, entry, "sensor", (entry.sensor_ohm, meant[0])))
    insulation_ohm = entry.insulation_ohm
    if insulation_ohm is None or not is_insulation_low(cable, entry):
        return findings
    # Only where the multimeter says otherwise: a low reading is a fault until shown not to be.
    high = entry.earth_open or (entry.to_earth_ohm or 0.0) >= cable.insulation_ohm
    meant = [insulation_ohm * prefix for prefix in (1e6, 1e3)]
    fitting = [ohm for ohm in meant if ohm >= cable.insulation_ohm]
    if high and fitting:
        findings.append(_slip(ctx, cable, entry, "insulation", (insulation_ohm, fitting[0])))
    return findings


def _meant(cable: Cable, entry: Resistance) -> tuple[float, float] | None:
    """Return what a conductor reads and what would fit its label by another prefix; else None."""
    rated_ohm, read_ohm = label_resistance(cable), entry.conductor_ohm
    if rated_ohm is None or read_ohm is None:
        return None
    ohms = [read_ohm * prefix for prefix in _PREFIXES]
    fitting = [ohm for ohm in ohms if is_within(cable, read_ohm=ohm, rated_ohm=rated_ohm)]
    return (read_ohm, fitting[0]) if fitting else None


def _is_plausible(sensor: Thermistor, sensor_ohm: float, entry: Resistance) -> bool:
    try:
        sensed_c = sensor_temperature(sensor, sensor_ohm)
    except OutsideValidity:
        return False
    least_c, most_c = _PLAUSIBLE_C
    if entry.floor_c is not None:
        least_c, most_c = entry.floor_c - 10.0, entry.floor_c + 10.0
    return least_c <= sensed_c <= most_c


def _slip(
    ctx: ZoneContext, cable: Cable, entry: Resistance, missing: str, ohms: tuple[float, float]
) -> Finding:
    read_ohm, meant_ohm = ohms
    params = {
        "cable": called(cable),
        "missing": missing,
        "read_ohm": read_ohm,
        "meant_ohm": meant_ohm,
        "tested_at": entry.at,
        "id": entry.id,
    }
    return finding_of(ctx, Severity.WARNING, "unit-slip", entry.path, params)


def joint_findings(ctx: ZoneContext, entry: Resistance) -> list[Finding]:
    """Return what a reading that names none of several cables is: of all together, or of none.

    Rule: R25.

    Args:
        ctx: the zone.
        entry: readings of no known cable.

    Returns:
        At most one finding.
    """
    cables = ctx.zone.heating.cables
    labels = [(cable, label_resistance(cable)) for cable in cables]
    rated = [(cable, ohm) for cable, ohm in labels if ohm is not None]
    read_ohm = entry.conductor_ohm
    alone = len(cables) <= 1
    if alone or len(rated) < len(cables) or entry.cable or read_ohm is None:
        return []
    joint_ohm = parallel_resistance([ohm for _, ohm in rated])
    widest = Cable(
        "",
        below_fraction=max(cable.below_fraction for cable in cables),
        above_fraction=max(cable.above_fraction for cable in cables),
    )
    params = {
        "count": len(cables),
        "read_ohm": read_ohm,
        "joint_ohm": joint_ohm,
        "tested_at": entry.at,
    }
    if is_within(widest, read_ohm=read_ohm, rated_ohm=joint_ohm):
        return [finding_of(ctx, Severity.CAUTION, "joint-agrees", entry.path, params)]
    if any(is_within(cable, read_ohm=read_ohm, rated_ohm=ohm) for cable, ohm in rated):
        return []
    return [finding_of(ctx, Severity.WARNING, "joint-off", entry.path, params)]


def connected_untested(
    ctx: ZoneContext, tested: Sequence[datetime | None], connected: Connected
) -> list[Finding]:
    """Return a warning of a connection made before the tests that were to come before it.

    Rule: R24.

    Args:
        ctx: the zone.
        tested: when each cable passed its test before connection, None where it has not.
        connected: the connection.

    Returns:
        At most one finding.
    """
    late = [at for at in tested if at is None or at > connected.at]
    if not late:
        return []
    params = {"connected_at": connected.at, "count": len(late)}
    return [finding_of(ctx, Severity.WARNING, "connected-untested", connected.path, params)]
