"""Laws of the planner: what a measurement may do to a date, and how the heat-up is shown."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime, timedelta
from itertools import pairwise

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st
from planning_jobs import HOUR, Case, cases, climates, heat, logger, only, windows
from planning_samples import DAY, START, expected, job, layer, plan, reading, weekdays, zone

from curecal.planning.plan import HeatUp
from curecal.trade.job import (
    Below,
    Covering,
    CoveringKind,
    Expected,
    HeatUpWish,
    Room,
)
from curecal.trade.site_log import Entry, Kept, Place, Reading, Series
from curecal.units import ramp, set_point

HAIR = 1e-9


def _measured(case: Case, share: float) -> tuple[Entry, ...]:
    """Return a logger that saw just what was expected, over a share of the time since the start."""
    climate = case.job.expected
    first = min((each.done_at for each in case.layers if each.done_at), default=START) - DAY
    hours = max(1, int((case.as_of - first) / HOUR * share))
    values_c = [climate.air_c] * (hours + 1)
    return (logger("same", first, HOUR, values_c, climate.humidity),)


@given(
    case=cases(),
    share=st.floats(0.0, 1.0),
    below=st.sampled_from([Below.HEATED_ROOM, Below.GROUND, Below.OUTDOORS]),
)
def test_measuring_what_was_expected_narrows_every_window(
    case: Case, share: float, below: Below
) -> None:
    """The early end stays where it is, the late end never moves out."""
    blind = replace(case, log=()).in_climate(replace(case.job.expected, below=below))
    seen = replace(blind, log=_measured(blind, share))
    # Air so cold that it would be frost is another law's: harm is done by what is measured.
    assume(blind.job.expected.air_c > 14.0)
    before, after = windows(blind.plan()), windows(seen.plan())
    assert before.keys() == after.keys()
    for name, window in before.items():
        narrowed = after[name]
        if window is None or narrowed is None:
            assert window is narrowed, name
            continue
        assert abs(narrowed.earliest - window.earliest) <= timedelta(seconds=1), name
        if window.latest is not None:
            assert narrowed.latest is not None, name
            assert narrowed.latest <= window.latest, name


@pytest.mark.slow
@given(case=cases(all_done=True), later_h=st.integers(0, 24 * 300))
def test_measuring_the_whole_span_closes_every_window_that_is_over(
    case: Case, later_h: int
) -> None:
    blind = replace(case, log=(), as_of=case.as_of + later_h * HOUR)
    assume(blind.job.expected.air_c > 14.0)
    seen = replace(blind, log=_measured(blind, 1.0))
    # To the last hour: what comes after the logger is unmeasured again.
    until = seen.log[0].at
    for name, window in windows(seen.plan()).items():
        if window is not None and window.earliest <= until:
            assert window.latest == window.earliest, name


@given(case=cases(most_c=15.0), warmer_k=st.floats(0.0, 5.0))
def test_warmer_readings_below_the_rating_are_never_later(case: Case, warmer_k: float) -> None:
    """All by the same, in a house heated below: between two places the bed is another matter."""

    def warmer(entry: Entry) -> Entry:
        if isinstance(entry, Reading):
            low_c = None if entry.low_c is None else entry.low_c + warmer_k
            value_c = None if entry.temperature_c is None else entry.temperature_c + warmer_k
            return replace(entry, temperature_c=value_c, low_c=low_c)
        if isinstance(entry, Series):
            points = tuple(
                (at, (value_c or 0.0) + warmer_k, rh) for at, value_c, rh in entry.points
            )
            return replace(entry, points=points)
        assert isinstance(entry, Kept)
        return replace(entry, above_c=entry.above_c + warmer_k)

    before = windows(case.plan())
    after = windows(replace(case, log=tuple(warmer(entry) for entry in case.log)).plan())
    for name, window in before.items():
        if window is None:
            continue
        sooner = after[name]
        assert sooner is not None, name
        assert sooner.earliest <= window.earliest, name
        if window.latest is not None:
            assert sooner.latest is not None, name
            assert sooner.latest <= window.latest, name


@given(case=cases(), at_h=st.integers(0, 1400))
def test_a_look_as_warm_as_the_worst_case_is_never_earlier_than_expected(
    case: Case, at_h: int
) -> None:
    """A reading no warmer than expected gives no credit that was not expected before."""
    climate = case.job.expected
    quiet = replace(case, log=())
    at = START + at_h * HOUR
    cool = reading(at, climate.coldest_c, Place.AIR, humidity=climate.dampest)
    before, after = windows(quiet.plan()), windows(replace(quiet, log=(cool,)).plan())
    for name, window in after.items():
        told = before[name]
        if window is not None:
            assert told is not None, name
            assert window.earliest >= told.earliest, name


@st.composite
def heat_ups(draw: st.DrawFn) -> tuple[HeatUp, float]:
    """A floor's first heat-up and the most a day may add to it."""
    kind = draw(st.sampled_from([kind for kind in CoveringKind if kind.family != "others"]))
    limit_c = draw(st.none() | st.floats(22.0, 35.0))
    wish = HeatUpWish(
        draw(st.none() | st.floats(22.0, 35.0)), draw(st.none() | st.floats(0.5, 8.0))
    )
    at = START + 60 * DAY
    floor = zone(
        layer("thinset", START),
        covering=Covering(kind, limit_c=limit_c),
        heat_up=wish,
        room=draw(st.sampled_from(Room)),
    )
    looked = reading(at, draw(st.floats(8.0, 26.0)), Place.FLOOR)
    made = plan(job(floor, climate=expected(20.0)), [looked], at + HOUR)
    families = {"tile": 5.0, "vinyl": 2.8, "wood": 2.0, "poured": 2.8}
    is_cement = kind in {CoveringKind.MICROCEMENT, CoveringKind.TERRAZZO}
    most_k = min(5.0 if is_cement else families[kind.family], wish.step_k or 99.0)
    return only(made).heat_ups[-1], most_k


@given(made=heat_ups(), units=st.sampled_from(["metric", "imperial"]))
def test_a_set_point_shown_never_exceeds_its_own_nor_the_limit(
    made: tuple[HeatUp, float], units: str
) -> None:
    heat_up, _ = made
    for step in heat_up.steps:
        shown_c = _in_celsius(set_point(step.to_c, units), units)  # type: ignore[arg-type]
        assert shown_c <= step.to_c + HAIR
        assert step.to_c <= heat_up.limit_c + HAIR


@given(made=heat_ups())
def test_no_day_adds_more_than_the_covering_bears(made: tuple[HeatUp, float]) -> None:
    heat_up, most_k = made
    for before, after in pairwise(heat_up.steps):
        assert before.to_c < after.to_c <= before.to_c + most_k + HAIR
        assert after.on - before.on == timedelta(days=before.hold_days)


@given(made=heat_ups(), units=st.sampled_from(["metric", "imperial"]))
def test_no_day_as_shown_adds_more_than_the_covering_bears(
    made: tuple[HeatUp, float], units: str
) -> None:
    heat_up, most_k = made
    assert heat_up.step_k <= most_k + HAIR
    steps_c = [step.to_c for step in heat_up.steps]
    shown = ramp(steps_c, units, step_k=heat_up.step_k)  # type: ignore[arg-type]
    shown_c = [_in_celsius(setting, units) for setting in shown]
    assert (
        all(
            setting_c <= limit_c + HAIR for setting_c, limit_c in zip(shown_c, steps_c, strict=True)
        )
        or heat_up.purpose == "bare screed"
    )
    assert max(shown_c) <= heat_up.limit_c + HAIR
    for before_c, after_c in pairwise(shown_c):
        assert after_c <= before_c + most_k + HAIR
        assert after_c >= before_c - most_k - HAIR


def _in_celsius(shown: float, units: str) -> float:
    return (shown - 32.0) / 1.8 if units == "imperial" else shown


@given(climate=climates(), days=st.integers(0, 40), later=st.integers(1, 30))
def test_time_alone_never_moves_the_date_of_finished_work_earlier(
    climate: Expected, days: int, later: int
) -> None:
    """Unmeasured past counts as expected, unmeasured future too: nothing moves."""
    made = job(zone(layer("thinset", START), layer("cement grout", START + DAY)), climate=climate)
    told = heat(plan(made, (), START + (1 + days) * DAY))
    again = heat(plan(made, (), START + (1 + days + later) * DAY))
    assert told == again
    assume(told is not None)
    assert told is not None
    assert told.earliest >= START + 29 * DAY


def test_one_confirmed_day_of_forty_moves_nothing_else() -> None:
    """A window by hand: 28 d at 20 °C, 15 °C at the coldest, measured for exactly 14 days."""
    climate = Expected(20.0, 0.5, 15.0, 0.5)
    made = job(zone(layer("thinset", START)), climate=climate)
    seen: datetime = START + 14 * DAY
    half = logger("half", START, HOUR, [20.0] * (14 * 24 + 1), 0.5)
    blind, known = heat(plan(made, (), seen)), heat(plan(made, (half,), seen))
    assert blind is not None
    assert known is not None
    assert blind.latest is not None
    assert known.latest is not None
    assert blind.earliest == known.earliest == START + 28 * DAY
    # Half of what was open is closed: the rate at 15 °C is the same in both.
    assert (known.latest - known.earliest) / (blind.latest - blind.earliest) == pytest.approx(
        0.5, abs=1e-5
    )


@pytest.mark.parametrize("days", [120, 195, 208, 700])
def test_a_job_that_was_begun_long_ago_still_has_its_dates(days: int) -> None:
    """After 194 days a second counted from the first pour no longer holds a billionth of itself."""
    made = job(zone(layer("thinset", START)))
    assert heat(plan(made, (), START + days * DAY)) == heat(plan(made, (), START + DAY))


def test_planned_work_pushed_back_never_ends_before_its_own_plan() -> None:
    """A gate an hour past the planned start leaves the planned days of work as they are."""
    gate = layer("leveler", START, thickness_m=0.006)  # 48 h: to Wednesday noon
    before, at, after = (START + hours * HOUR for hours in (47, 48, 49))

    def finish(wished: datetime) -> datetime:
        bed = layer("thinset", planned_start_at=wished, planned_finish_at=START + 9 * DAY)
        planned = only(plan(job(zone(gate, bed)))).layers[1].finish
        assert planned is not None
        return planned.earliest

    assert finish(at) == finish(after) == START + 9 * DAY
    assert finish(before) >= START + 9 * DAY


def test_a_sheet_goes_into_the_fresh_mortar_whatever_hour_was_planned() -> None:
    """Planned for a Saturday, or pushed there by the mortar: it does not wait for Monday."""
    saturday = START + 5 * DAY
    mortar = layer("thinset", planned_finish_at=saturday)
    for wished, wanted in ((saturday + HOUR, saturday + HOUR), (saturday - HOUR, saturday)):
        sheet_layer = layer("uncoupling sheet", planned_start_at=wished)
        made = plan(job(zone(mortar, sheet_layer)), day_off=weekdays)
        start = only(made).layers[1].start
        assert start is not None
        assert start.earliest == wanted
