"""Segments, and that a history has neither gap nor overlap."""

from __future__ import annotations

import math

import pytest
from segment_samples import line

from curecal.errors import OutsideValidity
from curecal.science.history import Segment, require_contiguous


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


def test_a_segment_knows_its_length_and_how_much_of_it_is_over() -> None:
    segment = line(100.0, 200.0, 10.0, 20.0)
    assert segment.span_s == 100.0
    assert not segment.is_constant
    assert [segment.fraction_at(instant_s) for instant_s in (50.0, 125.0, 250.0)] == [0, 0.25, 1]
    assert line(0.0, 9.0, 18.0, 18.0).is_constant


def test_a_gap_an_overlap_and_disorder_are_refused() -> None:
    falling, rising = line(0.0, 100.0, 10.0, -10.0), line(100.0, 200.0, -10.0, 10.0)
    for history in ((rising, falling), (falling, line(101.0, 102.0, 0.0, 0.0))):
        with pytest.raises(OutsideValidity) as refusal:
            require_contiguous(history)
        assert refusal.value.code == "history-not-contiguous"
    require_contiguous((falling, rising))
    require_contiguous(())
