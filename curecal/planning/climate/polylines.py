"""Many straight pieces in a row as one line, in columns: what a long series covers.

A line answers what a piece answers. It is cut, moved and compared as a whole, so that a hundred
thousand readings cost little more than one.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from curecal.planning.climate.pieces import Dip, Piece, Span, Worst
from curecal.planning.tolerances import HAIR_S
from curecal.science.segment_run import SegmentRun

Column = NDArray[np.float64]


class Polyline:
    """A value that runs straight from each of its instants to the next, without a jump."""

    __slots__ = ("_lowest", "end_s", "instants_s", "start_s", "values")

    def __init__(self, instants_s: Column, values: Column) -> None:
        """Take instants, rising [s], and the value at each; two of them at least."""
        self.instants_s = instants_s
        self.values = values
        self.start_s = float(instants_s[0])
        self.end_s = float(instants_s[-1])
        self._lowest: float | None = None

    @property
    def lowest(self) -> float:
        """Return the lowest value."""
        # Every layer asks whether it was too cold for it.
        if self._lowest is None:
            self._lowest = float(np.minimum.reduce(self.values))
        return self._lowest

    @property
    def highest(self) -> float:
        """Return the highest value."""
        return float(self.values.max())

    def at(self, instant_s: float) -> float:
        """Return the value at an instant inside."""
        index = int(self.instants_s.searchsorted(instant_s, side="right")) - 1
        return self._piece(min(index, len(self.values) - 2)).at(instant_s)

    def at_each(self, instants_s: Column) -> Column:
        """Return the values at instants inside."""
        if instants_s is self.instants_s:
            return self.values
        return np.interp(instants_s, self.instants_s, self.values)

    def between(self, start_s: float, end_s: float) -> Polyline | Piece:
        """Return the part between two instants inside."""
        if start_s == self.start_s and end_s == self.end_s:
            return self
        first = int(self.instants_s.searchsorted(start_s, side="right"))
        last = int(self.instants_s.searchsorted(end_s, side="left"))
        start, end = self.at(start_s), self.at(end_s)
        if first >= last:
            return Piece(start_s, end_s, start, end)
        return Polyline(
            np.concatenate(((start_s,), self.instants_s[first:last], (end_s,))),
            np.concatenate(((start,), self.values[first:last], (end,))),
        )

    def shifted(self, by: float) -> Polyline:
        """Return the line with its values moved."""
        return self if by == 0.0 else Polyline(self.instants_s, self.values + by)

    def spans_at_or_below(self, threshold: float) -> list[Span]:
        """Return the stretches at or below a threshold, in order and apart."""
        if self.lowest > threshold:
            return []
        low = (np.minimum(self.values[:-1], self.values[1:]) <= threshold).nonzero()[0]
        start, end = self.values[low], self.values[low + 1]
        starts_s, ends_s = self.instants_s[low], self.instants_s[low + 1]
        falls, rises = start > threshold, end > threshold
        # Whole or not at all at one of the ends, so that the other is divided by no zero.
        step = np.where(falls | rises, end - start, 1.0)
        crossing_s = starts_s + (ends_s - starts_s) * ((threshold - start) / step)
        starts_s, ends_s = (
            np.where(falls, crossing_s, starts_s),
            np.where(rises, crossing_s, ends_s),
        )
        return _joined(starts_s, ends_s)

    def find_dip(self, threshold: float, start_s: float, end_s: float) -> Dip | None:
        """Return its pieces that are below a threshold somewhere and touch a stretch."""
        lowest = np.minimum(self.values[:-1], self.values[1:])
        touches = (self.instants_s[:-1] <= end_s) & (self.instants_s[1:] >= start_s)
        low = (touches & (lowest < threshold)).nonzero()[0]
        if not len(low):
            return None
        spans = _joined(self.instants_s[low], self.instants_s[low + 1])
        return Dip(tuple(spans), float(lowest[low].min()), float(self.instants_s[low[-1]]))

    def spans_near(self, reach_s: float) -> list[Span]:
        """Return the stretches no further from an instant of its own than a reach [s]."""
        steps_s = self.instants_s[1:] - self.instants_s[:-1]
        if np.maximum.reduce(steps_s) <= 2.0 * reach_s:
            return [(self.start_s, self.end_s)]
        far = (steps_s > 2.0 * reach_s).nonzero()[0]
        starts = [self.start_s, *(self.instants_s[far + 1] - reach_s).tolist()]
        ends = [*(self.instants_s[far] + reach_s).tolist(), self.end_s]
        return list(zip(starts, ends, strict=True))

    def _piece(self, index: int) -> Piece:
        return Piece(
            float(self.instants_s[index]),
            float(self.instants_s[index + 1]),
            float(self.values[index]),
            float(self.values[index + 1]),
        )


def find_worst(pieces: Sequence[Polyline | Piece], worst: Worst) -> list[Polyline | Piece]:
    """Return the worst of lines and pieces over one common stretch, cut where two cross.

    Args:
        pieces: lines and pieces that begin and end together.
        worst: `min` for temperatures, `max` for humidity.

    Rule: R7.
    """
    found, *others = (_as_line(piece) for piece in pieces)
    for other in others:
        found = _worse(found, other, worst)
    return [found]


def join_climate(bed: Polyline | Piece, humid: Polyline | Piece) -> SegmentRun:
    """Return temperature and humidity over one common stretch as a run.

    Args:
        bed: the temperature [°C].
        humid: the humidity [fraction].

    Rule: R4.
    """
    one, other = _as_line(bed), _as_line(humid)
    if _are_together(one, other):
        # What one logger reads it reads together.
        instants_s, warm, damp = one.instants_s, one.values, other.values
    else:
        instants_s = _all_instants(one, other)
        warm, damp = one.at_each(instants_s), other.at_each(instants_s)
    return SegmentRun(instants_s=instants_s, temperatures_c=warm, humidities=damp)


def _joined(starts_s: Column, ends_s: Column) -> list[Span]:
    """Return stretches in order, joined where they touch."""
    apart = (starts_s[1:] > ends_s[:-1]).nonzero()[0]
    firsts, lasts = starts_s[:1].tolist(), ends_s[-1:].tolist()
    starts = firsts + starts_s[apart + 1].tolist()
    return list(zip(starts, ends_s[apart].tolist() + lasts, strict=True))


def _as_line(piece: Polyline | Piece) -> Polyline:
    if isinstance(piece, Polyline):
        return piece
    return Polyline(np.array([piece.start_s, piece.end_s]), np.array([piece.start, piece.end]))


def _are_together(one: Polyline, other: Polyline) -> bool:
    """Return whether two lines have the same instants."""
    is_one = one.instants_s is other.instants_s
    return is_one or np.array_equal(one.instants_s, other.instants_s)


def _all_instants(one: Polyline, other: Polyline) -> Column:
    """Return the instants of two lines in order, those of one where they are the same."""
    if _are_together(one, other):
        return one.instants_s
    for most, least in ((one, other), (other, one)):
        if len(least.instants_s) == len((least.start_s, least.end_s)):
            return most.instants_s
    return np.union1d(one.instants_s, other.instants_s)


def _worse(one: Polyline, other: Polyline, worst: Worst) -> Polyline:
    """Return the worse of two lines over the same stretch."""
    instants_s = _all_instants(one, other)
    first, second = one.at_each(instants_s), other.at_each(instants_s)
    ahead = first - second
    crossing = (np.sign(ahead[:-1]) * np.sign(ahead[1:]) < 0.0).nonzero()[0]
    before, after = ahead[crossing], ahead[crossing + 1]
    length_s = np.diff(instants_s)[crossing]
    cut_s = instants_s[crossing] + length_s * (before / (before - after))
    # As far as a float can tell, two that cross nearer to an end cross at it.
    clear = (cut_s > instants_s[crossing] + HAIR_S) & (cut_s < instants_s[crossing + 1] - HAIR_S)
    places = crossing[clear] + 1
    instants_s = np.insert(instants_s, places, cut_s[clear])
    pick = np.minimum if worst(0.0, 1.0) == 0.0 else np.maximum
    values = pick(one.at_each(instants_s), other.at_each(instants_s))
    return Polyline(instants_s, values)


def split_line(instants_s: Column, values: Column, *, interval_s: float) -> list[Polyline]:
    """Return lines through readings; none across a gap longer than two intervals.

    Args:
        instants_s: when they were read, in order.
        values: what was read.
        interval_s: the logger's nominal interval [s].

    Rule: R4.
    """
    steps_s = instants_s[1:] - instants_s[:-1]
    near = (steps_s > 0.0) & (steps_s <= 2.0 * interval_s)
    if len(near) and np.logical_and.reduce(near):
        return [Polyline(instants_s, values)]
    gaps = (~near).nonzero()[0] + 1
    edges = [0, *gaps.tolist(), len(instants_s)]
    return [
        Polyline(instants_s[first:last], values[first:last])
        for first, last in pairwise(edges)
        if last - first > 1
    ]
