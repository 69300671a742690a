"""A room's climate over time.

A history is a sequence of segments that follow one another without a gap. Inside a segment
temperature and humidity run straight from start to end; between two segments either may jump.
Time is in seconds from any origin the caller keeps to.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise
from typing import Protocol

from curecal.records import Record, record
from curecal.science.validity import refuse, require

# No room where people work is colder or hotter; a reading that is, is none.
COLDEST_C = -60.0
HOTTEST_C = 100.0
FARTHEST_S = 1e12
"""Thirty thousand years from the origin: a number past it is no instant of a job."""


class Stretch(Protocol):
    """A stretch of time of a history: a segment, or many in a row."""

    @property
    def start_s(self) -> float:
        """Start [s]."""
        ...

    @property
    def end_s(self) -> float:
        """End, after the start [s]."""
        ...


@record(kw_only=True)
class Segment(Record):
    """A stretch of time over which temperature and humidity run straight.

    Attributes:
        start_s: Start [s].
        end_s: End, after the start [s].
        start_c: Temperature at the start [°C].
        end_c: Temperature at the end [°C].
        start_rh: Relative humidity at the start, a fraction [1].
        end_rh: Relative humidity at the end, a fraction [1].
    """

    start_s: float
    end_s: float
    start_c: float
    end_c: float
    start_rh: float
    end_rh: float

    def __post_init__(self) -> None:
        """Refuse what is no stretch of a climate, NaN first of all."""
        # One look at all of it: a history has thousands of them.
        if (
            -FARTHEST_S <= self.start_s < self.end_s <= FARTHEST_S
            and COLDEST_C <= self.start_c <= HOTTEST_C
            and COLDEST_C <= self.end_c <= HOTTEST_C
            and 0.0 <= self.start_rh <= 1.0
            and 0.0 <= self.end_rh <= 1.0
        ):
            return
        require("start_s", self.start_s, low=-FARTHEST_S, high=FARTHEST_S)
        require("end_s", self.end_s, low=-FARTHEST_S, high=FARTHEST_S)
        if not self.start_s < self.end_s:
            refuse("segment-without-length", start_s=self.start_s, end_s=self.end_s)
        require("start_c", self.start_c, low=COLDEST_C, high=HOTTEST_C)
        require("end_c", self.end_c, low=COLDEST_C, high=HOTTEST_C)
        require("start_rh", self.start_rh, low=0.0, high=1.0)
        require("end_rh", self.end_rh, low=0.0, high=1.0)

    @property
    def span_s(self) -> float:
        """Length [s]."""
        return self.end_s - self.start_s

    @property
    def is_constant(self) -> bool:
        """Return whether temperature and humidity stay as they are."""
        return self.start_c == self.end_c and self.start_rh == self.end_rh

    def fraction_at(self, instant_s: float) -> float:
        """Return how much of the way from start to end is over at an instant [1]."""
        return min(1.0, max(0.0, (instant_s - self.start_s) / self.span_s))


def require_contiguous(history: Sequence[Stretch]) -> None:
    """Refuse a history with a gap, an overlap, or segments out of order.

    Raises:
        OutsideValidity: A segment does not start at the very instant the one before it ends.

    Source:
        Our own rule: what lies in a gap is for the caller to decide, never for an integral.
    """
    for index, (one, two) in enumerate(pairwise(history)):
        if one.end_s != two.start_s:
            refuse("history-not-contiguous", index=index, end_s=one.end_s, start_s=two.start_s)
