"""Moisture tests: which layers need one, and what the last complete one decides."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime

from curecal.instants import add
from curecal.planning.curing.build_up import BuildUp, holds_sulfate
from curecal.planning.plan import Hold, HoldState
from curecal.planning.site_log.authority import Evidence, gap_message
from curecal.planning.site_log.last_word import newest
from curecal.planning.site_log.log_at_instant import Facts
from curecal.planning.tolerances import HAIR
from curecal.records import Record, record
from curecal.science.drying import DryingStep, drying_time
from curecal.trade.data_sheets import (
    POURED,
    DryingWait,
    Hardening,
    MoistureLimit,
    UntilTested,
    strictest,
)
from curecal.trade.findings import Finding, Message, Params, Severity
from curecal.trade.hold_codes import Gate, HoldCode
from curecal.trade.job import CoveringFamily, Layer, Role, Zone
from curecal.trade.rules import Rules
from curecal.trade.site_log import Energized, HeatStep, Method, MoistureTest, Reading

_DRYING_SCREED = "calcium-sulfate screed"


def needs_test(build_up: BuildUp, layer: Layer) -> bool:
    """Return whether a moisture test decides when a layer may be covered.

    Under what shuts water in, the topmost pour is tested, one that was there before too; and one
    below it that a pour closes in, unless something impervious keeps them apart.

    Rule: R3, R14, R24b.

    Args:
        build_up: the zone's build-up.
        layer: a layer.

    Returns:
        True for bases that dry, for bases under wood or resilient flooring, and for screeds
        heated before covering.
    """
    if layer.sheet.kind not in POURED or not build_up.is_opened(layer):
        return False
    if holds_sulfate(layer) or _waits_for_test(build_up, layer):
        return True
    if build_up.zone.covering.kind.family is CoveringFamily.TILE and not _dries_by_rule(
        build_up, layer
    ):
        return False
    return build_up.is_topmost_pour(layer) or build_up.is_closed_by_pour(layer)


def _waits_for_test(build_up: BuildUp, layer: Layer) -> bool:
    wait = build_up.cover_wait(layer)
    until_tested = wait is not None and isinstance(wait.amount, UntilTested)
    return not layer.existing and (until_tested or layer.heat_before_covering)


def _dries_by_rule(build_up: BuildUp, layer: Layer) -> bool:
    """Return whether a new layer's sheet only estimates when it is dry."""
    wait = build_up.cover_wait(layer)
    return not layer.existing and wait is not None and wait.law is Hardening.DRYING


@record
class Verdict(Record):
    """What the tests of a layer say: the hold, and the deciding test, if any was complete.

    `hold` is None where nobody has to test the layer, and no test says that it is wet.
    """

    hold: Hold | None
    test: MoistureTest | None
    passed: bool
    findings: tuple[Finding, ...]


def verdict(
    build_up: BuildUp, layer: Layer, facts: Facts, rules: Rules, *, cold_at: datetime | None = None
) -> Verdict:
    """Return what a layer's moisture tests decide: the last complete one counts.

    One that failed decides whoever asked for it; one that passed opens nothing that waits for none.

    Complete is a method with a limit, a number of points, the depth where it is taken in the base,
    and the air's conditions; of the base's and the covering's limit the stricter counts; once the
    floor was on, also that the heating was off for a day. A dry value counts only from who may
    give it. A value over its limit counts however it was taken: what is missing can only speak
    against dry. What is not laid yet cannot have been tested, nor is a pour dry on its first day.
    A depth, where one is told, must lie in the layer and far enough down: the surface dries first.
    A humidity no screed has is another method's figure, and no carbide bottle reads nothing at
    all. A screed heated bare is tested once it is cold. A pass far sooner than it dries, or far
    under a value of the same week, wants a second one. Of tests of one instant the worst decides.

    Rule: R3, R24b.

    Args:
        build_up: the zone's build-up.
        layer: a layer, done or there before.
        facts: the log as it stood.
        rules: the numbers of the rules.
        cold_at: from when a screed heated bare is cold; None for any other.

    Returns:
        The verdict.
    """
    wanted = needs_test(build_up, layer)
    tests = _tests_of(build_up.zone, layer, facts)
    if not tests and not wanted:
        return Verdict(None, None, passed=False, findings=())
    limits = _limits(build_up, layer)
    sorted_tests = _sort_tests(build_up, layer, tests, limits, facts, rules, cold_at)
    counting, findings = sorted_tests.counting, sorted_tests.findings
    if not counting:
        reason = sorted_tests.reason or Message("moisture-none", {"layer": layer.name})
        hold = Hold(
            HoldCode.MOISTURE_TEST,
            Gate.COVER,
            Role.CREW_LEAD,
            HoldState.UNMET,
            layer_id=layer.id,
            reason=reason,
        )
        return Verdict(hold if wanted else None, None, passed=False, findings=findings)
    wet = [test for test in newest(counting) if not _is_dry(limits[test.method], test)]
    passed = not wet
    if passed and not wanted:
        return Verdict(None, None, passed=False, findings=findings)
    last = wet[0] if wet else counting[-1]
    params: dict[str, object] = {
        "layer": layer.name,
        "method": last.method.value,
        **_shown(last),
        "tested_at": last.at,
    }
    limit = limits[last.method]
    if limit.limit_kgm2s is None:
        params["limit_fraction"] = limit.limit_fraction
    else:
        params["limit_kgm2s"] = limit.limit_kgm2s
    hold = Hold(
        HoldCode.MOISTURE_TEST,
        Gate.COVER,
        Role.CREW_LEAD,
        HoldState.MET if passed else HoldState.FAILED,
        layer_id=layer.id,
        evidence=last.id,
        evidence_at=last.at,
        reason=Message("moisture-passed" if passed else "moisture-failed", params),
    )
    return Verdict(hold, last, passed=passed, findings=findings)


@record
class _SortedTests(Record):
    """A layer's tests: those that count, what the others lack, and the last lack as a reason."""

    counting: tuple[MoistureTest, ...]
    findings: tuple[Finding, ...]
    reason: Message | None


def _tests_of(zone: Zone, layer: Layer, facts: Facts) -> list[MoistureTest]:
    return [
        entry
        for entry in facts.of(MoistureTest, zone)
        if entry.layer == layer.id and _may_be_tested(layer, entry.at)
    ]


def _sort_tests(
    build_up: BuildUp,
    layer: Layer,
    tests: list[MoistureTest],
    limits: Mapping[Method, MoistureLimit],
    facts: Facts,
    rules: Rules,
    cold_at: datetime | None,
) -> _SortedTests:
    zone = build_up.zone
    findings = []
    counting: list[MoistureTest] = []
    reason: Message | None = None
    own_s = None if cold_at else _drying_s(build_up, layer, rules)
    passed: list[MoistureTest] = []
    for entry in tests:
        limit = limits.get(entry.method)
        doubt = (
            _doubt(layer, entry, limit, rules)
            or _still_warm(layer, entry, cold_at)
            or _warm_from_below(facts, zone, layer, entry, rules)
        )
        lacking = facts.gap(entry)
        if not _is_dry(limit, entry, unknown=True):
            counting.append(entry)
            passed.clear()
            continue
        if doubt is None and lacking is None:
            reason = doubt = _ask_again(layer, entry, tests, passed, own_s, rules)
            passed.append(entry)
            if doubt is None:
                counting.append(entry)
                continue
        if doubt is None and lacking is not None:
            # Found with all that want another signature; here it is the hold's reason.
            reason = gap_message(lacking, entry, Evidence.MOISTURE)
        if doubt is not None:
            code, params = doubt.code, doubt.params
            findings.append(Finding(Severity.WARNING, code, entry.path, params, zone.id, layer.id))
    return _SortedTests(tuple(counting), tuple(findings), reason)


def _ask_again(
    layer: Layer,
    entry: MoistureTest,
    tests: list[MoistureTest],
    passed: list[MoistureTest],
    own_s: float | None,
    rules: Rules,
) -> Message | None:
    """Return why a pass that can hardly be right wants a second one; None where it has that.

    Args:
        tests: all tests of the layer, in order of time.
        passed: the complete passes before it, since the last value that was too wet.
        own_s: the layer's own drying time [s], where it has one.
    """
    rule = rules.moisture
    if any(entry.at >= add(earlier.at, rule.again_s) for earlier in passed):
        return None
    said: dict[str, object] = {"layer": layer.name, "tested_at": entry.at}
    said["again_s"] = rule.again_s
    if layer.done_at is not None and own_s is not None:
        likely_at = add(layer.done_at, own_s * rule.plausible_fraction)
        if entry.at < likely_at:
            return Message("moisture-implausible", {**said, "wait_s": own_s})
    for earlier in tests:
        is_near = earlier.at < entry.at < add(earlier.at, rule.fall_s)
        fell = entry.figure < earlier.figure * rule.fall_fraction
        if earlier.method is entry.method and is_near and fell:
            was = {f"was_{name}": value for name, value in _shown(earlier, "").items()}
            return Message("moisture-fell", {**said, **_shown(entry), **was, "was_at": earlier.at})
    return None


def _drying_s(build_up: BuildUp, layer: Layer, rules: Rules) -> float | None:
    """Return how long a new layer takes to dry by its sheet, else by our rule for screeds [s].

    None where its time is not one of drying: then it is not covered before that, dry or not.
    """
    wait = build_up.cover_wait(layer)
    amount = None if wait is None else wait.amount
    if isinstance(amount, UntilTested):
        amount = rules.classes[_DRYING_SCREED].covers["any"].amount
    if layer.thickness_m is None or not isinstance(amount, DryingWait):
        return None
    # A rule that ends counts on at its last rate: what is deeper takes no less.
    ended = [*amount.segments[:-1], (None, amount.segments[-1][1])]
    segments = [DryingStep(to_m, rate) for to_m, rate in ended]
    return amount.under_cover_s + drying_time(layer.thickness_m, segments)


def _still_warm(layer: Layer, entry: MoistureTest, cold_at: datetime | None) -> Message | None:
    """Return that a screed heated bare was not cold yet."""
    if cold_at is None or entry.at >= cold_at:
        return None
    params = {"layer": layer.name, "tested_at": entry.at, "cold_at": cold_at}
    return Message("moisture-still-warm", params)


def _may_be_tested(layer: Layer, at: datetime) -> bool:
    """Return whether a layer lay there: what is not laid yet cannot have been tested."""
    if layer.existing:
        return True
    return layer.done_at is not None and at >= layer.done_at


def _doubt(
    layer: Layer, entry: MoistureTest, limit: MoistureLimit | None, rules: Rules
) -> Message | None:
    """Return why a test proves no dryness, or None where nothing speaks against it."""
    said: dict[str, object] = {"layer": layer.name, "tested_at": entry.at}
    odd_depth = _odd_depth(layer, entry, rules)
    if odd_depth is not None:
        return Message("moisture-depth", {**odd_depth, **said})
    incomplete = _lack(entry, limit, said) or _odd_figure(entry, rules, said)
    if incomplete is not None:
        return incomplete
    least_s = rules.moisture.least_age_s
    if layer.done_at is not None and entry.at < add(layer.done_at, least_s):
        return Message("moisture-too-early", {**said, "least_s": least_s})
    return None


def _lack(entry: MoistureTest, limit: MoistureLimit | None, said: Params) -> Message | None:
    """Return what a test lacks to be complete, or None."""
    method = entry.method.value
    if limit is None:
        return Message("moisture-without-limit", {**said, "method": method})
    if not (entry.points or 0) > 0 or entry.air_c is None or entry.humidity is None:
        return Message("moisture-incomplete", {**said, "method": method})
    if entry.depth_m is None and not entry.method.lies_on_top:
        return Message("moisture-without-depth", {**said, "method": method})
    return None


def _odd_figure(entry: MoistureTest, rules: Rules, said: Params) -> Message | None:
    """Return that no base reads so little by a method, or None."""
    if entry.method.reads_humidity and entry.figure < rules.moisture.least_humidity_rh:
        return Message("moisture-too-dry", {**said, **_shown(entry)})
    if entry.method is Method.CARBIDE and entry.figure < rules.moisture.least_carbide_fraction:
        return Message("moisture-no-water", {**said, **_shown(entry)})
    return None


def _warm_from_below(
    facts: Facts, zone: Zone, layer: Layer, entry: MoistureTest, rules: Rules
) -> Message | None:
    """Return that a floor that was on had not been off for long enough, as far as is known."""
    was_on = any(
        isinstance(told, (Energized, HeatStep)) or (isinstance(told, Reading) and told.is_floor_on)
        for told in facts.entries
        if told.at < entry.at and told.zone in {None, zone.id}
    )
    least_s = rules.moisture.heating_off_s
    if not was_on or (entry.heating_off_s or 0.0) >= least_s:
        return None
    params = {"layer": layer.name, "tested_at": entry.at, "least_s": least_s}
    return Message("moisture-heating-on", params)


def _odd_depth(layer: Layer, entry: MoistureTest, rules: Rules) -> dict[str, float] | None:
    """Return the depth of a test that says nothing of its layer; None for one that may."""
    depth_m, thickness_m = entry.depth_m, layer.thickness_m
    if depth_m is None or thickness_m is None or entry.method.lies_on_top:
        return None
    least_m = thickness_m * rules.moisture.depth_fraction
    if least_m * (1.0 - HAIR) <= depth_m <= thickness_m * (1.0 + HAIR):
        return None
    return {"depth_m": depth_m, "least_m": least_m, "thickness_m": thickness_m}


def _is_dry(limit: MoistureLimit | None, entry: MoistureTest, *, unknown: bool = False) -> bool:
    """Return whether a value is within its limit; as told where no limit is known."""
    if limit is None:
        return unknown
    return 0.0 <= entry.figure <= limit.figure * (1.0 + HAIR)


def _limits(build_up: BuildUp, layer: Layer) -> dict[Method, MoistureLimit]:
    """Return the strictest limit for each method that has one: of the base and of the covering.

    One that only says relative humidity binds by a probe and under a hood too, and gives them none.
    """
    told = (*layer.sheet.moisture_limits, *build_up.zone.covering.moisture_limits)
    limits = {Method(limit.method): limit for limit in strictest(told)}
    humid = limits.get(Method.HUMIDITY)
    for method, limit in limits.items():
        if humid is not None and method.reads_humidity and humid.figure < limit.figure:
            limits[method] = humid
    return limits


def _shown(entry: MoistureTest, prefix: str = "value_") -> dict[str, object]:
    """Return what a test read, as a parameter."""
    if entry.value_kgm2s is not None:
        return {f"{prefix}kgm2s": entry.value_kgm2s}
    return {f"{prefix}fraction": entry.value_fraction}
