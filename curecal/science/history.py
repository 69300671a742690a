"""A room's climate over time, and when it crosses a temperature.

A history is a sequence of segments that follow one another without a gap. Inside a segment
temperature and humidity run straight from start to end; between two segments either may jump.
Time is in seconds from any origin the caller keeps to.
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from itertools import pairwise

from curecal.science.validity import refuse, require

COLDEST_C = -60.0
HOTTEST_C = 100.0
_FARTHEST_S = 1e12


@dataclass(frozen=True, slots=True, kw_only=True)
class Segment:
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
        require("start_s", self.start_s, low=-_FARTHEST_S, high=_FARTHEST_S)
        require("end_s", self.end_s, low=-_FARTHEST_S, high=_FARTHEST_S)
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
        """Whether neither temperature nor humidity moves."""
        return self.start_c == self.end_c and self.start_rh == self.end_rh

    def fraction_at(self, instant_s: float) -> float:
        """How much of the way from start to end is over at an instant [1]."""
        return min(1.0, max(0.0, (instant_s - self.start_s) / self.span_s))

    def temperature_at(self, instant_s: float) -> float:
        """Temperature at an instant inside the segment [°C]."""
        return _between(self.start_c, self.end_c, self.fraction_at(instant_s))

    def humidity_at(self, instant_s: float) -> float:
        """Relative humidity at an instant inside the segment, a fraction [1]."""
        return _between(self.start_rh, self.end_rh, self.fraction_at(instant_s))


def constant_segment(
    *, start_s: float, end_s: float, temperature_c: float, humidity: float
) -> Segment:
    """Return a segment over which nothing moves.

    Args:
        start_s: Start [s].
        end_s: End [s].
        temperature_c: Temperature [°C].
        humidity: Relative humidity, a fraction [1].

    Returns:
        The segment [s, °C, 1].

    Raises:
        OutsideValidity: A value is not one of a climate.

    Validity:
        -60 to 100 °C; humidity 0 to 1; the end after the start.

    Source:
        Definition.
    """
    return Segment(
        start_s=start_s,
        end_s=end_s,
        start_c=temperature_c,
        end_c=temperature_c,
        start_rh=humidity,
        end_rh=humidity,
    )


def require_contiguous(history: Sequence[Segment]) -> None:
    """Refuse a history with a gap, an overlap, or segments out of order.

    Args:
        history: The segments.

    Returns:
        Nothing.

    Raises:
        OutsideValidity: A segment does not start at the very instant the one before it ends.

    Validity:
        Any number of segments, none included.

    Source:
        Our own rule: what lies in a gap is for the caller to decide, never for an integral.
    """
    for index, (one, two) in enumerate(pairwise(history)):
        if one.end_s != two.start_s:
            refuse("history-not-contiguous", index=index, end_s=one.end_s, start_s=two.start_s)


def clip(history: Sequence[Segment], *, start_s: float, end_s: float) -> tuple[Segment, ...]:
    """Return the part of a history between two instants.

    Args:
        history: Contiguous segments.
        start_s: Where the part starts [s].
        end_s: Where the part ends [s].

    Returns:
        The segments between, the first and last shortened [s, °C, 1]; empty when the history
        does not reach between the instants.

    Raises:
        OutsideValidity: An instant is not a finite number, or the end is before the start.

    Validity:
        Contiguous segments.

    Source:
        Linear interpolation.
    """
    require("start_s", start_s, low=-_FARTHEST_S, high=_FARTHEST_S)
    require("end_s", end_s, low=start_s, high=_FARTHEST_S)
    if start_s == end_s:
        return ()
    first = bisect_right(history, start_s, key=lambda segment: segment.end_s)
    last = bisect_left(history, end_s, key=lambda segment: segment.start_s)
    return tuple(_shortened(segment, start_s, end_s) for segment in history[first:last])


def first_time_at_or_below(history: Sequence[Segment], threshold_c: float) -> float | None:
    """Return the first instant at which the temperature is at or below a threshold.

    Args:
        history: Contiguous segments.
        threshold_c: The threshold [°C].

    Returns:
        The instant [s], or None when the temperature stays above.

    Raises:
        OutsideValidity: The threshold is not a temperature of a climate.

    Validity:
        -60 to 100 °C.

    Source:
        Linear interpolation.
    """
    return next((start for start, _ in spans_at_or_below(history, threshold_c)), None)


def first_time_below(history: Sequence[Segment], threshold_c: float) -> float | None:
    """Return the instant from which the temperature is first strictly below a threshold.

    Args:
        history: Contiguous segments.
        threshold_c: The threshold [°C].

    Returns:
        The instant [s], or None when the temperature never goes below.

    Raises:
        OutsideValidity: The threshold is not a temperature of a climate.

    Validity:
        -60 to 100 °C.

    Source:
        Linear interpolation.
    """
    return next((start for start, _ in spans_below(history, threshold_c)), None)


def spans_at_or_below(
    history: Sequence[Segment], threshold_c: float
) -> tuple[tuple[float, float], ...]:
    """Return every stretch over which the temperature is at or below a threshold.

    A temperature that only touches the threshold gives a stretch without length: it froze.

    Args:
        history: Contiguous segments.
        threshold_c: The threshold [°C].

    Returns:
        Start and end of each stretch, in order [s].

    Raises:
        OutsideValidity: The threshold is not a temperature of a climate.

    Validity:
        -60 to 100 °C.

    Source:
        Linear interpolation.
    """
    require("threshold_c", threshold_c, low=COLDEST_C, high=HOTTEST_C)
    return _joined(
        _part_below(segment, threshold_c)
        for segment in history
        if min(segment.start_c, segment.end_c) <= threshold_c
    )


def spans_below(history: Sequence[Segment], threshold_c: float) -> tuple[tuple[float, float], ...]:
    """Return every stretch over which the temperature is strictly below a threshold.

    Args:
        history: Contiguous segments.
        threshold_c: The threshold [°C].

    Returns:
        Start and end of each stretch, in order [s].

    Raises:
        OutsideValidity: The threshold is not a temperature of a climate.

    Validity:
        -60 to 100 °C.

    Source:
        Linear interpolation.
    """
    require("threshold_c", threshold_c, low=COLDEST_C, high=HOTTEST_C)
    return _joined(
        _part_below(segment, threshold_c)
        for segment in history
        if min(segment.start_c, segment.end_c) < threshold_c
    )


def _between(start: float, end: float, fraction: float) -> float:
    # The end is returned as it was written, not as start + (end - start), which may miss it.
    return end if fraction == 1.0 else start + (end - start) * fraction


def _shortened(segment: Segment, start_s: float, end_s: float) -> Segment:
    if start_s <= segment.start_s and segment.end_s <= end_s:
        return segment
    from_s = max(start_s, segment.start_s)
    to_s = min(end_s, segment.end_s)
    return Segment(
        start_s=from_s,
        end_s=to_s,
        start_c=segment.temperature_at(from_s),
        end_c=segment.temperature_at(to_s),
        start_rh=segment.humidity_at(from_s),
        end_rh=segment.humidity_at(to_s),
    )


def _part_below(segment: Segment, threshold_c: float) -> tuple[float, float]:
    """Return the part of a segment that reaches the threshold which lies at or below it."""
    if max(segment.start_c, segment.end_c) <= threshold_c:
        return segment.start_s, segment.end_s
    fraction = (threshold_c - segment.start_c) / (segment.end_c - segment.start_c)
    crossing_s = segment.start_s + segment.span_s * fraction
    if segment.start_c > segment.end_c:
        return min(crossing_s, segment.end_s), segment.end_s
    return segment.start_s, max(crossing_s, segment.start_s)


def _joined(spans: Iterable[tuple[float, float]]) -> tuple[tuple[float, float], ...]:
    joined: list[tuple[float, float]] = []
    for start_s, end_s in spans:
        if joined and joined[-1][1] == start_s:
            joined[-1] = (joined[-1][0], end_s)
        else:
            joined.append((start_s, end_s))
    return tuple(joined)
