"""Laws of the equivalent age, over histories nobody would think of."""

from __future__ import annotations

import importlib
import math
from collections.abc import Callable, Sequence
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st
from segment_samples import cut, humidity_at, temperature_at

from curecal.science.age import Accumulator, KeptAges
from curecal.science.history import Segment
from curecal.science.rate import (
    CementRate,
    DryingRate,
    Rate,
    ReactionRate,
    TableRate,
    UnfrozenRate,
)
from curecal.science.segment_run import SegmentRun

NEAR = 1e-6  # what the integral promises, relative

ratings_c = st.sampled_from([16.0, 18.5, 20.0, 21.0, 23.0, 24.0])
minima_c = st.sampled_from([-5.0, 0.0, 4.0, 5.0, 10.0, 15.5])


@st.composite
def histories(draw: st.DrawFn) -> tuple[Segment, ...]:
    """Contiguous segments of minutes to days: lines, steps, and stretches where nothing moves."""
    spans_s = draw(st.lists(st.floats(min_value=60.0, max_value=2e5), min_size=1, max_size=12))
    temperatures = st.one_of(st.floats(min_value=-15.0, max_value=38.0), minima_c, ratings_c)
    humidities = st.one_of(st.floats(min_value=0.05, max_value=1.0), st.just(0.75))
    segments: list[Segment] = []
    start_s = draw(st.sampled_from([0.0, 1.796e9]))
    for span_s in spans_s:
        start_c, start_rh = draw(temperatures), draw(humidities)
        still = draw(st.booleans())
        segments.append(
            Segment(
                start_s=start_s,
                end_s=start_s + span_s,
                start_c=start_c,
                end_c=start_c if still else draw(temperatures),
                start_rh=start_rh,
                end_rh=start_rh if still else draw(humidities),
            )
        )
        start_s += span_s
    return tuple(segments)


@st.composite
def rates(draw: st.DrawFn) -> Rate:
    """Every kind of rate."""
    rated_c, minimum_c = draw(ratings_c), draw(minima_c)
    cement = CementRate(
        rated_c=rated_c,
        minimum_c=minimum_c,
        doubling_k=draw(st.sampled_from([None, 6.0, 10.0])),
    )
    drying = DryingRate(
        rated_c=rated_c,
        rated_rh=draw(st.sampled_from([0.5, 0.65])),
        minimum_c=minimum_c,
        limit_rh=draw(st.sampled_from([0.75, 0.85])),
    )
    cold_s = draw(st.floats(min_value=24.0, max_value=240.0))
    table = TableRate(points=((10.0, cold_s), (rated_c, 24.0)), law=cement)
    reaction = ReactionRate(rated_c=rated_c, minimum_c=minimum_c)
    return draw(st.sampled_from([cement, reaction, drying, table, UnfrozenRate(cement)]))


def equivalent_age(history: Sequence[Segment], rate: Rate) -> float:
    return Accumulator(history, rate).age()


def time_to_reach(history: Sequence[Segment], rate: Rate, age_s: float) -> float | None:
    return Accumulator(history, rate).time_to_reach(age_s)


def elapsed_s(history: tuple[Segment, ...]) -> float:
    return history[-1].end_s - history[0].start_s


def moved(
    history: tuple[Segment, ...], *, colder_k: float = 0.0, damper: float = 0.0
) -> tuple[Segment, ...]:
    return tuple(
        Segment(
            start_s=segment.start_s,
            end_s=segment.end_s,
            start_c=segment.start_c - colder_k,
            end_c=segment.end_c - colder_k,
            start_rh=min(1.0, segment.start_rh + damper),
            end_rh=min(1.0, segment.end_rh + damper),
        )
        for segment in history
    )


@given(history=histories(), rate=rates())
def test_no_more_counts_than_time_passes(history: tuple[Segment, ...], rate: Rate) -> None:
    age_s = equivalent_age(history, rate)
    assert 0.0 <= age_s <= elapsed_s(history) * (1.0 + 1e-12)


@given(history=histories(), rate=rates(), colder_k=st.floats(min_value=0.0, max_value=15.0))
def test_colder_is_never_older(history: tuple[Segment, ...], rate: Rate, colder_k: float) -> None:
    warm_s = equivalent_age(history, rate)
    cold_s = equivalent_age(moved(history, colder_k=colder_k), rate)
    assert cold_s <= warm_s * (1.0 + NEAR) + NEAR


@given(history=histories(), rate=rates(), damper=st.floats(min_value=0.0, max_value=0.5))
def test_damper_is_never_older(history: tuple[Segment, ...], rate: Rate, damper: float) -> None:
    # Cutting humidity at 1 may bend a line; below the cut both stand on the same line.
    assume(all(max(segment.start_rh, segment.end_rh) + damper <= 1.0 for segment in history))
    dry_s = equivalent_age(history, rate)
    assert equivalent_age(moved(history, damper=damper), rate) <= dry_s * (1.0 + NEAR) + NEAR


@given(history=histories(), share=st.floats(min_value=0.01, max_value=0.99), rate=rates())
def test_colder_is_never_earlier(history: tuple[Segment, ...], share: float, rate: Rate) -> None:
    age_s = equivalent_age(history, rate) * share
    warm_s = time_to_reach(history, rate, age_s)
    cold_s = time_to_reach(moved(history, colder_k=2.0), rate, age_s)
    assert warm_s is not None
    assert cold_s is None or cold_s >= warm_s - 1e-2


@given(history=histories(), rated_c=ratings_c, minimum_c=minima_c)
def test_a_higher_rating_is_never_older(
    history: tuple[Segment, ...], rated_c: float, minimum_c: float
) -> None:
    for lower, higher in (
        (
            CementRate(rated_c=rated_c, minimum_c=minimum_c),
            CementRate(rated_c=rated_c + 3.0, minimum_c=minimum_c),
        ),
        (
            DryingRate(rated_c=rated_c, rated_rh=0.5, minimum_c=minimum_c, limit_rh=0.75),
            DryingRate(rated_c=rated_c + 3.0, rated_rh=0.5, minimum_c=minimum_c, limit_rh=0.75),
        ),
    ):
        age_s = equivalent_age(history, lower)
        assert equivalent_age(history, higher) <= age_s * (1.0 + NEAR) + NEAR


@given(history=histories(), share=st.floats(min_value=0.001, max_value=1.0), rate=rates())
def test_the_instant_an_age_is_reached_has_that_age(
    history: tuple[Segment, ...], share: float, rate: Rate
) -> None:
    accumulated = Accumulator(history, rate)
    wanted_s = accumulated.age() * share
    reached_s = accumulated.time_to_reach(wanted_s)
    assert reached_s is not None
    assert history[0].start_s <= reached_s <= history[-1].end_s
    # A millisecond of time is at most a millisecond of age; the origin costs a microsecond.
    assert accumulated.age(reached_s) == pytest.approx(wanted_s, rel=NEAR, abs=1e-3)
    if reached_s - 1.0 > history[0].start_s:
        assert accumulated.age(reached_s - 1.0) <= wanted_s * (1.0 + NEAR) + 1e-3


@given(history=histories(), rate=rates())
def test_more_than_there_is_is_never_reached(history: tuple[Segment, ...], rate: Rate) -> None:
    assert time_to_reach(history, rate, equivalent_age(history, rate) + 1e-3) is None


@given(
    history=histories(),
    rate=rates(),
    cuts=st.lists(st.floats(min_value=0.0, max_value=1.0), max_size=6),
)
def test_cutting_a_history_into_more_segments_changes_nothing(
    history: tuple[Segment, ...], rate: Rate, cuts: list[float]
) -> None:
    first_s, span_s = history[0].start_s, elapsed_s(history)
    places_s = {first_s + part * span_s for part in cuts}
    finer = tuple(
        cut(segment, early_s, late_s)
        for segment in history
        for early_s, late_s in pairwise(
            sorted(
                {segment.start_s, segment.end_s}
                | {place_s for place_s in places_s if segment.start_s < place_s < segment.end_s}
            )
        )
    )
    whole_s = equivalent_age(history, rate)
    # The origin's last bit is 0.24 microseconds: a cut may move a jump by that much.
    assert equivalent_age(finer, rate) == pytest.approx(whole_s, rel=NEAR, abs=1e-4)


def _straight_law(temperature_c: float) -> float:
    """The cement law written out again, from its paper, independent of the program's."""
    energy = 33_500.0 + max(0.0, 1470.0 * (20.0 - temperature_c))
    return math.exp(energy / 8.314 * (1.0 / 293.15 - 1.0 / (temperature_c + 273.15)))


@given(history=histories(), rated_c=ratings_c, minimum_c=minima_c)
def test_the_age_agrees_with_an_independent_integration(
    needs: Callable[[str], str],
    history: tuple[Segment, ...],
    rated_c: float,
    minimum_c: float,
) -> None:
    needs("peers")
    quad = importlib.import_module("scipy.integrate").quad

    def independent(segment: Segment) -> float:
        slope = segment.end_c - segment.start_c

        def share(part: float) -> float:
            temperature_c = segment.start_c + slope * part
            if temperature_c < minimum_c:
                return 0.0
            return min(1.0, _straight_law(temperature_c) / _straight_law(rated_c))

        if slope == 0.0:
            return segment.span_s * share(0.0)
        places = ((place - segment.start_c) / slope for place in (minimum_c, 20.0, rated_c))
        edges = sorted({0.0, 1.0, *(place for place in places if 0.0 < place < 1.0)})
        return segment.span_s * sum(
            quad(share, early, late, limit=200)[0] for early, late in pairwise(edges)
        )

    expected_s = sum(independent(segment) for segment in history)
    age_s = equivalent_age(history, CementRate(rated_c=rated_c, minimum_c=minimum_c))
    assert age_s == pytest.approx(expected_s, rel=1e-6, abs=1e-6)


def test_two_days_of_irregular_readings_agree_with_a_fine_step() -> None:
    # Readings at odd intervals; a step of a second, by hand, knows no quadrature at all.
    rate = DryingRate(rated_c=20.0, rated_rh=0.6, minimum_c=8.0, limit_rh=0.75)
    history: list[Segment] = []
    start_s, start_c, start_rh = 0.0, 14.0, 0.6
    for index in range(60):
        span_s = 600.0 + 977.0 * (index * 13 % 7)
        end_c = 14.0 + 9.0 * math.sin(index * 1.7)
        end_rh = 0.6 + 0.2 * math.sin(index * 0.9)
        history.append(
            Segment(
                start_s=start_s,
                end_s=start_s + span_s,
                start_c=start_c,
                end_c=end_c,
                start_rh=start_rh,
                end_rh=end_rh,
            )
        )
        start_s, start_c, start_rh = start_s + span_s, end_c, end_rh
    fine_s = 0.0
    for segment in history:
        for second in range(round(segment.span_s)):
            instant_s = segment.start_s + second + 0.5
            fine_s += rate.at(
                temperature_c=temperature_at(segment, instant_s),
                humidity=humidity_at(segment, instant_s),
            )
    # A jump inside a second is missed by half a second at most; there are some sixty of them.
    assert equivalent_age(history, rate) == pytest.approx(fine_s, rel=1e-4)


@st.composite
def runs(draw: st.DrawFn) -> SegmentRun:
    """A logger's readings without a gap, in columns."""
    count = draw(st.integers(min_value=2, max_value=40))
    column = st.lists(
        st.one_of(st.floats(min_value=-15.0, max_value=38.0), minima_c, ratings_c),
        min_size=count,
        max_size=count,
    )
    damp = st.lists(st.floats(min_value=0.05, max_value=1.0), min_size=count, max_size=count)
    steps_s = st.lists(
        st.floats(min_value=60.0, max_value=2e5), min_size=count - 1, max_size=count - 1
    )
    instants_s = [draw(st.sampled_from([0.0, 86400.0, 1.796e9]))]
    for step_s in draw(steps_s):
        instants_s.append(instants_s[-1] + step_s)
    return SegmentRun(
        instants_s=np.array(instants_s),
        temperatures_c=np.array(draw(column)),
        humidities=np.array(draw(damp)),
    )


def known_of(run: SegmentRun, count: int) -> tuple[Segment | SegmentRun, ...]:
    """A history of the first readings of a run, read anew, and what is assumed from there on."""
    end_s = float(run.instants_s[count])
    level = {"start_c": 12.0, "end_c": 12.0, "start_rh": 0.6, "end_rh": 0.6}
    return (
        SegmentRun(
            instants_s=run.instants_s[: count + 1].copy(),
            temperatures_c=run.temperatures_c[: count + 1].copy(),
            humidities=run.humidities[: count + 1].copy(),
        ),
        Segment(start_s=end_s, end_s=end_s + 1e8, **level),
    )


@given(
    run=runs(),
    rate=rates(),
    looks=st.lists(
        st.tuples(st.floats(0.0, 1.0), st.none() | st.floats(0.0, 1.0)), min_size=1, max_size=4
    ),
    asked=st.lists(st.tuples(st.booleans(), st.floats(0.001, 1.0)), min_size=1, max_size=8),
)
def test_sums_that_are_kept_answer_to_the_last_bit_as_sums_made_anew(
    run: SegmentRun,
    rate: Rate,
    looks: list[tuple[float, float | None]],
    asked: list[tuple[bool, float]],
) -> None:
    kept = KeptAges()
    whole_s = Accumulator(known_of(run, len(run)), rate).age(run.end_s)
    for look, corrected in looks:
        count = max(1, round(look * len(run)))
        if corrected is not None:
            # One reading is another one from now on.
            run.temperatures_c[round(corrected * len(run))] += 0.25
        later = Accumulator(known_of(run, count), rate, kept)
        for is_age, share in asked:
            # By itself: also in which order one asks is of no account.
            alone = Accumulator(known_of(run, count), rate)
            if is_age:
                at_s = run.start_s + (run.end_s - run.start_s) * share
                assert later.age(at_s) == alone.age(at_s)
            else:
                age_s = whole_s * share
                assert later.time_to_reach(age_s) == alone.time_to_reach(age_s)
