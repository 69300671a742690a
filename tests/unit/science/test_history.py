"""Segments, their parts, and when a history crosses a temperature."""

from __future__ import annotations

import math

import pytest

from curecal.errors import OutsideValidity
from curecal.science.history import (
    Segment,
    clip,
    constant_segment,
    first_time_at_or_below,
    first_time_below,
    require_contiguous,
    spans_at_or_below,
    spans_below,
)


def line(start_s: float, end_s: float, start_c: float, end_c: float) -> Segment:
    return Segment(
        start_s=start_s, end_s=end_s, start_c=start_c, end_c=end_c, start_rh=0.4, end_rh=0.6
    )


# 10 °C falls to -10, rises back to 10: below zero from 50 to 150 s.
FROST = (line(0.0, 100.0, 10.0, -10.0), line(100.0, 200.0, -10.0, 10.0))
# Falls to exactly zero and rises again.
TOUCH = (line(0.0, 100.0, 10.0, 0.0), line(100.0, 200.0, 0.0, 10.0))


@pytest.mark.parametrize(
    ("key", "value"),
    [
        ("start_s", math.nan),
        ("start_s", -math.inf),
        ("end_s", 0.0),
        ("end_s", math.inf),
        ("start_c", math.nan),
        ("start_c", 101.0),
        ("end_c", -61.0),
        ("start_rh", 50.0),
        ("end_rh", math.nan),
    ],
)
def test_a_segment_refuses_what_is_no_climate(key: str, value: float) -> None:
    values = {"start_s": 0.0, "end_s": 1.0, "start_c": 20.0, "end_c": 20.0}
    values |= {"start_rh": 0.5, "end_rh": 0.5, key: value}
    with pytest.raises(OutsideValidity):
        Segment(**values)


def test_a_segment_knows_its_values_between() -> None:
    segment = line(100.0, 200.0, 10.0, 20.0)
    assert segment.span_s == 100.0
    assert not segment.is_constant
    assert segment.temperature_at(150.0) == 15.0
    assert segment.humidity_at(150.0) == pytest.approx(0.5)
    assert (segment.temperature_at(50.0), segment.temperature_at(250.0)) == (10.0, 20.0)


def test_a_constant_segment_does_not_move() -> None:
    segment = constant_segment(start_s=0.0, end_s=9.0, temperature_c=18.0, humidity=0.5)
    assert segment.is_constant
    assert segment.temperature_at(4.0) == 18.0


def test_a_gap_an_overlap_and_disorder_are_refused() -> None:
    for history in ((FROST[1], FROST[0]), (FROST[0], line(101.0, 102.0, 0.0, 0.0))):
        with pytest.raises(OutsideValidity) as refusal:
            require_contiguous(history)
        assert refusal.value.code == "history-not-contiguous"
    require_contiguous(FROST)
    require_contiguous(())


def test_clipping_shortens_the_ends_and_keeps_the_line() -> None:
    first, second = clip(FROST, start_s=25.0, end_s=150.0)
    assert (first.start_s, first.end_s, first.start_c, first.end_c) == (25.0, 100.0, 5.0, -10.0)
    assert (second.start_s, second.end_s, second.start_c, second.end_c) == (
        100.0,
        150.0,
        -10.0,
        0.0,
    )
    assert first.start_rh == pytest.approx(0.45)


def test_clipping_at_the_seam_gives_whole_segments() -> None:
    assert clip(FROST, start_s=0.0, end_s=100.0) == FROST[:1]
    assert clip(FROST, start_s=100.0, end_s=500.0) == FROST[1:]
    assert clip(FROST, start_s=-50.0, end_s=500.0) == FROST


def test_clipping_outside_gives_nothing() -> None:
    assert clip(FROST, start_s=200.0, end_s=300.0) == ()
    assert clip(FROST, start_s=-10.0, end_s=0.0) == ()
    assert clip(FROST, start_s=50.0, end_s=50.0) == ()


def test_clipping_backward_is_refused() -> None:
    with pytest.raises(OutsideValidity):
        clip(FROST, start_s=50.0, end_s=49.0)
    with pytest.raises(OutsideValidity):
        clip(FROST, start_s=math.nan, end_s=49.0)


def test_a_crossing_is_on_the_line() -> None:
    assert spans_at_or_below(FROST, 0.0) == ((50.0, 150.0),)
    assert spans_below(FROST, 0.0) == ((50.0, 150.0),)
    assert first_time_at_or_below(FROST, 0.0) == 50.0
    assert first_time_below(FROST, 5.0) == 25.0


def test_touching_is_at_but_not_below() -> None:
    assert spans_at_or_below(TOUCH, 0.0) == ((100.0, 100.0),)
    assert first_time_at_or_below(TOUCH, 0.0) == 100.0
    assert spans_below(TOUCH, 0.0) == ()
    assert first_time_below(TOUCH, 0.0) is None


def test_a_constant_temperature_at_the_threshold_is_at_but_not_below() -> None:
    steady = (line(0.0, 60.0, 0.0, 0.0),)
    assert spans_at_or_below(steady, 0.0) == ((0.0, 60.0),)
    assert spans_below(steady, 0.0) == ()


def test_two_cold_stretches_stay_two() -> None:
    history = (
        line(0.0, 10.0, -1.0, -1.0),
        line(10.0, 20.0, 5.0, 5.0),
        line(20.0, 30.0, -1.0, -1.0),
    )
    assert spans_below(history, 0.0) == ((0.0, 10.0), (20.0, 30.0))


def test_warm_all_along_crosses_nothing() -> None:
    assert first_time_at_or_below(FROST, -10.1) is None
    assert first_time_below((), 0.0) is None


def test_a_threshold_of_nan_is_refused() -> None:
    with pytest.raises(OutsideValidity):
        spans_at_or_below(FROST, math.nan)
    with pytest.raises(OutsideValidity):
        spans_below(FROST, math.nan)
