"""Laws of evidence: what readings, corrections and replays may do to a plan, and may not."""

from __future__ import annotations

import importlib
import math
from collections.abc import Callable, Sequence
from dataclasses import replace
from datetime import datetime, timedelta
from itertools import pairwise

from hypothesis import assume, given, settings
from hypothesis import strategies as st
from planning_jobs import HOUR, Case, cases, evidence, logger, only, windows
from planning_samples import (
    DAY,
    RULES,
    SHEET,
    START,
    expected,
    job,
    layer,
    plan,
    reading,
    sheet,
    weekdays,
    zone,
)

from curecal.planning.climate.outliers import find_outliers, lower_outliers
from curecal.planning.comparison.plan_comparison import PlanComparison, compare_since
from curecal.planning.plan import HoldState, Plan, State
from curecal.trade.data_sheets import FixedWait, Milestone, Wait
from curecal.trade.site_log import Correction, Entry, Place, Resistance, Series, Stage

MINUTE = timedelta(minutes=1)
# A comparison makes dozens of plans for one example.
FEWER = settings(max_examples=settings().max_examples // 3)
points_of = st.lists(st.floats(-5.0, 40.0), min_size=1, max_size=30).map(
    lambda values: [(index * 300.0, value) for index, value in enumerate(values)]
)


@given(points=points_of)
def test_doubted_readings_are_never_warmer_than_they_were_read(
    points: list[tuple[float, float]],
) -> None:
    counted = lower_outliers(points, RULES)
    assert [at_s for at_s, _ in counted] == [at_s for at_s, _ in points]
    assert all(now_c <= read_c for (_, now_c), (_, read_c) in zip(counted, points, strict=True))
    if not find_outliers(points, RULES):
        assert counted == points


@given(points=points_of, by_k=st.floats(-10.0, 10.0))
def test_a_thermometer_read_too_warm_throughout_is_doubted_alike(
    points: list[tuple[float, float]], by_k: float
) -> None:
    # A jump within a float's hair of the threshold may fall on either side of it.
    gaps_k = [abs(after - before) for (_, before), (_, after) in pairwise(points)]
    gaps_k += [abs(last - first) for (_, first), (_, last) in zip(points, points[2:], strict=False)]
    assume(all(abs(gap_k - 5.0) > 1e-6 for gap_k in gaps_k))
    moved = [(at_s, value_c + by_k) for at_s, value_c in points]
    assert [(each.at_s, each.alone) for each in find_outliers(moved, RULES)] == [
        (each.at_s, each.alone) for each in find_outliers(points, RULES)
    ]


@given(case=cases(all_done=True, bare=False), data=st.data())
def test_a_day_in_a_warm_van_brings_no_date_nearer_than_a_day_in_the_room(
    case: Case, data: st.DataObject
) -> None:
    """The last hours before a logger came into the room count as the room, however hot the van."""
    room_c = data.draw(st.floats(5.0, 18.0))
    van_c = data.draw(st.floats(25.0, 50.0))
    van_h = data.draw(st.integers(1, 3))
    first = case.layers[0].done_at or START
    hours = [room_c] * (6 * 48)
    driven = [van_c] * (6 * van_h) + hours[6 * van_h :]
    quiet = replace(case, log=(), as_of=max(case.as_of, first + 3 * DAY))
    honest = replace(quiet, log=(logger("l", first, 10 * MINUTE, hours, 0.5),))
    van = replace(quiet, log=(logger("l", first, 10 * MINUTE, driven, 0.5),))
    before, after = windows(honest.plan()), windows(van.plan())
    for name, window in before.items():
        told = after[name]
        if window is None or told is None:
            continue
        assert told.earliest >= window.earliest, name


@FEWER
@given(case=cases(), data=st.data())
def test_the_order_of_entries_moves_no_cause(case: Case, data: st.DataObject) -> None:
    """Nor is anything in a comparison its writer's to arrange."""
    log = (*case.log, *data.draw(evidence(case)))
    since = case.as_of - data.draw(st.integers(1, 20)) * DAY
    shuffled = tuple(data.draw(st.permutations(log)))
    assert _moved(replace(case, log=shuffled), since) == _moved(replace(case, log=log), since)


def _moved(case: Case, since: datetime) -> PlanComparison:
    return compare_since(since, case.plan(), case.job, case.log, rules=RULES, day_off=weekdays)


@given(case=cases(), data=st.data())
def test_the_causes_of_a_move_add_up_to_it(case: Case, data: st.DataObject) -> None:
    log = (*case.log, *data.draw(evidence(case)))
    since = case.as_of - data.draw(st.integers(1, 30)) * DAY
    (found,) = _moved(replace(case, log=log), since).zones
    shares = [cause.energize for cause in found.causes if cause.energize is not None]
    if found.energize is None or any(each.earliest_s is None for each in (found.energize, *shares)):
        return
    total_s = sum(each.earliest_s or 0.0 for each in shares)
    # Less than a minute is no move, for each step of the way.
    assert abs(total_s - (found.energize.earliest_s or 0.0)) <= 60.0 * (2 * len(log) + 10)


@FEWER
@given(case=cases(), data=st.data())
def test_a_date_that_came_nearer_has_a_cause_that_says_why_it_may(
    case: Case, data: st.DataObject
) -> None:
    log = (*case.log, *data.draw(evidence(case)))
    since = case.as_of - data.draw(st.integers(1, 30)) * DAY
    (found,) = _moved(replace(case, log=log), since).zones
    if found.energize is not None and found.energize.is_nearer:
        assert any(cause.may is not None for cause in found.causes)
    assert all(
        (cause.may is not None) == any(each.is_nearer for _, each in cause.shifts)
        for cause in found.causes
    )


@given(case=cases(), data=st.data())
def test_a_withdrawn_entry_of_any_kind_leaves_the_plan_as_if_it_never_was(
    case: Case, data: st.DataObject
) -> None:
    added = data.draw(evidence(case))
    assume(added)
    drawn = data.draw(st.sampled_from(added))
    gone = replace(drawn, by="Ada")
    back = Correction(
        id="back", at=gone.at, recorded=gone.recorded, by="Ada", of=gone.id, withdrawn=True
    )
    rest = tuple(entry for entry in added if entry is not drawn)
    undone = replace(case, log=(*case.log, *rest, gone, back))
    never = replace(case, log=(*case.log, *rest))
    made = undone.plan()
    # Withdrawn, it stays told.
    findings = [each for each in made.findings if each.code != "entry-withdrawn"]
    assert replace(made, findings=tuple(findings)) == never.plan()


stages = st.sampled_from(Stage)
ohms = st.one_of(st.none(), st.floats(0.0, 1e9), st.sampled_from([90.0, 60.0, 0.09, 90e3]))


@st.composite
def cable_tests(draw: st.DrawFn) -> tuple[Resistance, ...]:
    """Whatever somebody may write of a cable, in any order of stages."""
    found = []
    for index in range(draw(st.integers(1, 6))):
        at = START + draw(st.integers(-48, 240)) * HOUR
        found.append(
            Resistance(
                id=f"t{index}",
                at=at,
                recorded=at,
                stage=draw(stages),
                cable=draw(st.sampled_from([None, "mat", "attic"])),
                conductor_ohm=draw(ohms),
                earth_open=draw(st.booleans()),
                to_earth_ohm=draw(ohms),
                insulation_ohm=draw(ohms),
                insulation_at_v=draw(st.sampled_from([None, 250.0, 500.0])),
                sensor_ohm=draw(ohms),
                floor_c=draw(st.none() | st.floats(0.0, 30.0)),
            )
        )
    return tuple(found)


def _tested(log: Sequence[Entry], days: int = 12) -> Plan:
    made = job(zone(layer(sheet("leveler", 3.0), START, "leveler", thickness_m=0.005)))
    return plan(made, log, START + days * DAY)


@given(log=cable_tests())
def test_whatever_is_written_of_a_cable_is_judged(log: tuple[Resistance, ...]) -> None:
    made = _tested(log)
    said = [finding.code for finding in made.findings]
    # A fault is dated, or said to be without a date; never both, and of one cable once.
    dated = said.count("fault-between") + said.count("fault-since-unknown")
    assert dated <= 1
    if dated:
        assert only(made).state is State.STOPPED
    for finding in made.findings:
        if finding.code == "fault-between":
            first, later = finding.params["first_at"], finding.params["later_at"]
            assert isinstance(first, datetime)
            assert isinstance(later, datetime)
            assert first < later


@given(log=cable_tests(), read_ohm=st.floats(0.0, 0.99e6))
def test_a_low_insulation_is_never_met_by_a_slip_that_was_guessed(
    log: tuple[Resistance, ...], read_ohm: float
) -> None:
    """A reading that fits with another prefix still counts as it is written."""
    last = replace(
        log[0],
        id="last",
        at=START + 11 * DAY,
        recorded=START + 11 * DAY,
        stage=Stage.CONNECTION,
        cable="mat",
        insulation_ohm=read_ohm,
        insulation_at_v=500.0,
    )
    made = _tested((*log, last))
    holds = only(made).holds
    test = next(hold for hold in holds if hold.code == "test-before-connection")
    assert test.state is HoldState.FAILED
    assert not made.is_released


def _cement(temperature_c: float) -> float:
    """The cement law written out anew (Freiesleben Hansen & Pedersen 1977, from memory)."""
    energy = 33_500.0 + max(0.0, 1470.0 * (20.0 - temperature_c))
    return math.exp(energy / 8.314 * (1.0 / 293.15 - 1.0 / (temperature_c + 273.15)))


@st.composite
def irregular(draw: st.DrawFn) -> Series:
    """A logger that wrote at odd intervals, none so long that there is a gap."""
    minutes = draw(st.lists(st.integers(16, 118), min_size=40, max_size=80))
    degrees = st.floats(6.0, 26.0)
    points = [(START, draw(degrees), None)]
    for step in minutes:
        points.append((points[-1][0] + step * MINUTE, draw(degrees), None))
    last = points[-1][0]
    return Series(
        id="odd",
        at=last,
        recorded=last,
        place=Place.SURFACE,
        device="odd",
        interval_s=3600.0,
        points=tuple(points),
    )


@FEWER
@given(seen=irregular(), rated_c=st.floats(15.0, 24.0))
def test_the_date_under_an_irregular_logger_is_that_of_an_independent_integration(
    needs: Callable[[str], str], seen: Series, rated_c: float
) -> None:
    """From the readings to the date, through the whole planner, against scipy on its own."""
    needs("peers")
    counted = lower_outliers(
        [((at - START).total_seconds(), c or 0.0) for at, c, _ in seen.points], RULES
    )
    wanted_s = _age_until(counted, counted[-1][0], rated_c) * 0.999
    assume(wanted_s > 3600.0)
    sheet_ = sheet("thinset", rated_c=rated_c, minimum_c=10.0)
    wait = Wait(FixedWait(wanted_s), SHEET, rated_c, 0.5, sheet_.hardens_by)
    bed = layer(replace(sheet_, waits={**sheet_.waits, Milestone.HEAT: wait}), START, "bed")
    made = plan(job(zone(bed), climate=expected(20.0)), [seen], seen.at)
    window = only(made).layers[0].milestones[Milestone.HEAT].window
    if window is None:
        return  # laid below its minimum: a person is asked first
    more_s = _age_until(counted, (window.earliest - START).total_seconds(), rated_c) - wanted_s
    # A date is rounded up to the second, at a rate of one at most, with a millisecond of slack.
    close_s = 0.002 + 1e-6 * wanted_s
    assert -close_s <= more_s <= 1.0 + close_s


def _age_until(counted: Sequence[tuple[float, float]], until_s: float, rated_c: float) -> float:
    """The age by scipy's quadrature, cut where the line crosses what the law turns at."""
    quad = importlib.import_module("scipy.integrate").quad

    def share(temperature_c: float) -> float:
        if temperature_c < 10.0:
            return 0.0
        return min(1.0, _cement(temperature_c) / _cement(rated_c))

    age_s = 0.0
    for (first_s, first_c), (last_s, last_c) in pairwise(counted):
        slope = (last_c - first_c) / (last_s - first_s)
        kinks = [first_s + (mark - first_c) / slope for mark in (10.0, 20.0, rated_c) if slope]
        end_s = min(last_s, until_s)
        edges = sorted({first_s, end_s, *(kink for kink in kinks if first_s < kink < end_s)})
        for left_s, right_s in pairwise(edges):
            if left_s < right_s <= until_s:
                age_s += quad(
                    lambda at_s, a=first_c, b=slope, s=first_s: share(a + b * (at_s - s)),
                    left_s,
                    right_s,
                    limit=200,
                )[0]
    return age_s


def test_a_lone_look_of_a_display_is_no_jump() -> None:
    made = plan(job(zone(layer("thinset", START))), [reading(START + HOUR, 18.0)])
    assert not [finding for finding in made.findings if finding.code.startswith("reading")]
