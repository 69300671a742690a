"""A value that runs straight over a stretch of time: what one reading, or two of them, cover."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import replace

from curecal.records import Record, record
from curecal.science.history import Stretch

Worst = Callable[[float, float], float]
Span = tuple[float, float]
"""From and to [s]."""


@record
class Dip(Record):
    """Pieces that are below a threshold somewhere: their stretches, the lowest value of them.

    `last_s` is when the last of them begins.
    """

    spans: tuple[Span, ...]
    lowest: float
    last_s: float


@record
class Piece(Record):
    """A value that runs straight from `start` at `start_s` to `end` at `end_s`."""

    start_s: float
    end_s: float
    start: float
    end: float

    @property
    def lowest(self) -> float:
        """Return the lowest value."""
        return min(self.start, self.end)

    @property
    def highest(self) -> float:
        """Return the highest value."""
        return max(self.start, self.end)

    def at(self, instant_s: float) -> float:
        """Return the value at an instant inside."""
        if self.start == self.end:
            return self.start
        part = (instant_s - self.start_s) / (self.end_s - self.start_s)
        return self.start + (self.end - self.start) * part

    def spans(self, start_s: float, end_s: float) -> bool:
        """Return whether it goes from one instant to the other, and no further."""
        return start_s == self.start_s and end_s == self.end_s

    def between(self, start_s: float, end_s: float) -> Piece:
        """Return the part between two instants inside."""
        if self.spans(start_s, end_s):
            return self
        return Piece(start_s, end_s, self.at(start_s), self.at(end_s))

    def shifted(self, by: float) -> Piece:
        """Return the piece with its values moved."""
        return self if by == 0.0 else replace(self, start=self.start + by, end=self.end + by)

    def spans_at_or_below(self, threshold: float) -> list[Span]:
        """Return the stretch at or below a threshold, if there is one."""
        if self.start > threshold and self.end > threshold:
            return []
        if self.start <= threshold and self.end <= threshold:
            return [(self.start_s, self.end_s)]
        part = (threshold - self.start) / (self.end - self.start)
        crossing_s = self.start_s + (self.end_s - self.start_s) * part
        if self.start > threshold:
            return [(crossing_s, self.end_s)]
        return [(self.start_s, crossing_s)]

    def find_dip(self, threshold: float, start_s: float, end_s: float) -> Dip | None:
        """Return the piece, if it is below a threshold somewhere and touches a stretch."""
        touches = self.start_s <= end_s and self.end_s >= start_s
        if not touches or not self.lowest < threshold:
            return None
        return Dip(((self.start_s, self.end_s),), self.lowest, self.start_s)


def covered_until(pieces: Iterable[Stretch]) -> float:
    """Return until when pieces, in order and apart, leave no gap from the origin on [s].

    Rule: R6.
    """
    until_s = 0.0
    for piece in pieces:
        if piece.start_s > until_s:
            break
        until_s = piece.end_s
    return until_s


def covered_within(spans: Iterable[Span], first_s: float, last_s: float) -> float:
    """Return how much of a stretch others cover [s].

    Args:
        spans: stretches in order and apart [s].
        first_s: where the stretch begins [s].
        last_s: where it ends [s].

    Rule: R23.
    """
    covered_s = 0.0
    for start_s, end_s in spans:
        covered_s += max(0.0, min(last_s, end_s) - max(first_s, start_s))
    return covered_s


def merge_spans(spans: Iterable[Span]) -> tuple[Span, ...]:
    """Return stretches joined where they touch or overlap, in order.

    Args:
        spans: (start [s], end [s]) in any order.

    Rule: R23.
    """
    told = sorted(spans)
    if len(told) <= 1:
        return tuple(told)
    joined: list[Span] = []
    for start_s, end_s in told:
        if joined and start_s <= joined[-1][1]:
            joined[-1] = (joined[-1][0], max(joined[-1][1], end_s))
        else:
            joined.append((start_s, end_s))
    return tuple(joined)
