"""Stretches of time that readings cover, and the worst of several where they overlap.

A piece runs straight from one value to another; values are bed or air temperatures [°C] or
relative humidities [fraction]: the arithmetic is the same, only what is worse differs.
"""

from __future__ import annotations

from collections.abc import Callable, Container, Iterable, Sequence
from dataclasses import replace
from itertools import pairwise

from curecal.planning.tolerances import HAIR_S
from curecal.records import Record, record

Worst = Callable[[float, float], float]


@record
class Piece(Record):
    """A value that runs straight from `start` at `start_s` to `end` at `end_s`."""

    start_s: float
    end_s: float
    start: float
    end: float

    def at(self, instant_s: float) -> float:
        """Return the value at an instant inside."""
        if self.start == self.end:
            return self.start
        part = (instant_s - self.start_s) / (self.end_s - self.start_s)
        return self.start + (self.end - self.start) * part

    def between(self, start_s: float, end_s: float) -> Piece:
        """Return the part between two instants inside."""
        if start_s == self.start_s and end_s == self.end_s:
            return self
        return Piece(start_s, end_s, self.at(start_s), self.at(end_s))

    def shifted(self, by: float) -> Piece:
        """Return the piece with its values moved."""
        return self if by == 0.0 else replace(self, start=self.start + by, end=self.end + by)

    def at_or_below(self, threshold: float) -> tuple[float, float] | None:
        """Return the stretch at or below a threshold, or None."""
        if self.start > threshold and self.end > threshold:
            return None
        if self.start <= threshold and self.end <= threshold:
            return self.start_s, self.end_s
        part = (threshold - self.start) / (self.end - self.start)
        crossing_s = self.start_s + (self.end_s - self.start_s) * part
        return (crossing_s, self.end_s) if self.start > threshold else (self.start_s, crossing_s)


def clip_pieces(pieces: Iterable[Piece], *, start_s: float, end_s: float) -> list[Piece]:
    """Return the parts of pieces that lie between two instants.

    Args:
        pieces: any pieces.
        start_s: the first instant [s].
        end_s: the last instant [s].

    Rule: R27.
    """
    return [
        piece.between(max(piece.start_s, start_s), min(piece.end_s, end_s))
        for piece in pieces
        if max(piece.start_s, start_s) < min(piece.end_s, end_s)
    ]


@record
class PlaceIntervals(Record):
    """The stretches that readings of one place cover, and those near enough to one of them.

    `read` are stretches in order and apart [s]; what is covered beside them is only held from one
    reading to the next. `points` are the readings themselves, as they count (instant [s], value).
    """

    pieces: Sequence[Piece]
    read: Sequence[tuple[float, float]] = ()
    points: Sequence[tuple[float, float]] = ()

    def shifted(self, by: float) -> PlaceIntervals:
        """Return the same with its values moved."""
        if by == 0.0:
            return self
        return PlaceIntervals(
            [piece.shifted(by) for piece in self.pieces],
            self.read,
            [(at_s, value + by) for at_s, value in self.points],
        )

    def clipped(self, *, start_s: float, end_s: float) -> PlaceIntervals:
        """Return the same with what is covered cut at two instants [s]."""
        pieces = clip_pieces(self.pieces, start_s=start_s, end_s=end_s)
        return PlaceIntervals(pieces, self.read, self.points)


def spot_pieces(
    spots: Iterable[tuple[float, float]],
    *,
    apart_s: float,
    reach_s: float,
    worst: Worst,
    holding: Container[float] | None = None,
) -> list[Piece]:
    """Return the pieces that single readings of a display cover.

    Each covers a few hours on either side. Between two close enough together the worse value
    holds.

    Args:
        spots: (instant [s], value); several at one instant count as their worst.
        apart_s: how far apart two may be [s].
        reach_s: what one covers on either side [s].
        worst: `min` for temperatures, `max` for humidity.
        holding: the instants up to which something is held [s]; every one by default.

    Rule: R5.
    """
    by_instant: dict[float, float] = {}
    for at_s, value in spots:
        by_instant[at_s] = worst(by_instant.get(at_s, value), value)
    ordered = sorted(by_instant.items())
    pieces = []
    for at_s, value in ordered:
        pieces.append(Piece(at_s - reach_s, at_s, value, value))
        pieces.append(Piece(at_s, at_s + reach_s, value, value))
    for (at_s, value), (next_s, next_value) in pairwise(ordered):
        if next_s - at_s <= apart_s and (holding is None or next_s in holding):
            both = worst(value, next_value)
            pieces.append(Piece(at_s, next_s, both, both))
    return pieces


def straight_pieces(points: Iterable[tuple[float, float]], *, interval_s: float) -> list[Piece]:
    """Return straight pieces between a logger's neighbours no further apart than two intervals.

    Args:
        points: (instant [s], value).
        interval_s: the logger's nominal interval [s].

    Returns:
        Pieces in order; nothing across a longer gap.

    Rule: R4.
    """
    return [
        Piece(start_s, end_s, start, end)
        for (start_s, start), (end_s, end) in pairwise(sorted(points))
        if 0.0 < end_s - start_s <= 2.0 * interval_s
    ]


def combine_ranks(ranks: Sequence[Sequence[Piece]], worst: Worst) -> list[Piece]:
    """Return the worst value, at each covered instant, of the best rank that covers it.

    Args:
        ranks: pieces by rank, the best first.
        worst: `min` for temperatures, `max` for humidity.

    Returns:
        Pieces in order, none overlapping.

    Rule: R7.
    """
    filled = [rank for rank in ranks if rank]
    # Most zones have one logger or none: what does not overlap needs no cutting.
    if not filled:
        return []
    if len(filled) == 1 and _apart(filled[0]):
        return list(filled[0])
    edges = sorted(
        {edge for rank in filled for piece in rank for edge in (piece.start_s, piece.end_s)}
    )
    queues = [sorted(rank, key=lambda piece: piece.start_s) for rank in filled]
    heads = [0] * len(queues)
    active: list[list[Piece]] = [[] for _ in queues]
    found: list[Piece] = []
    for start_s, end_s in pairwise(edges):
        for index, queue in enumerate(queues):
            while heads[index] < len(queue) and queue[heads[index]].start_s <= start_s:
                active[index].append(queue[heads[index]])
                heads[index] += 1
            active[index] = [piece for piece in active[index] if piece.end_s > start_s]
        best = next((pieces for pieces in active if pieces), None)
        if best is not None:
            found.extend(_envelope([piece.between(start_s, end_s) for piece in best], worst))
    return found


def combine_until_read(places: Sequence[PlaceIntervals]) -> list[Piece]:
    """Return the coldest, at each covered instant, of the ranks down to the first read there.

    What is only held between two readings does not outrank a reading of a lower rank taken
    meanwhile: the colder of both counts.

    Args:
        places: what each rank covers, the best first.

    Returns:
        Pieces in order, none overlapping.

    Rule: R5, R7.
    """
    found: list[Piece] = []
    for place in reversed(places):
        under = [part for piece in found for part in cut_out(piece, place.read)]
        found = combine_ranks([[*place.pieces, *under]], min)
    return found


def _apart(pieces: Sequence[Piece]) -> bool:
    return all(first.end_s <= second.start_s for first, second in pairwise(pieces))


def _envelope(pieces: list[Piece], worst: Worst) -> list[Piece]:
    """Return the worst of straight pieces over one common stretch, cut where two cross."""
    first = pieces[0]
    at_start = worst_value([piece.start for piece in pieces], worst)
    at_end = worst_value([piece.end for piece in pieces], worst)
    for piece in pieces:
        if piece.start == at_start and piece.end == at_end:
            return [piece]
    leading = min(
        (piece for piece in pieces if piece.start == at_start),
        key=lambda piece: abs(piece.end - at_end),
    )
    trailing = min(
        (piece for piece in pieces if piece.end == at_end),
        key=lambda piece: abs(piece.start - at_start),
    )
    ahead, behind = trailing.start - leading.start, trailing.end - leading.end
    length_s = first.end_s - first.start_s
    cut_s = first.start_s + length_s * (ahead / (ahead - behind))
    if not first.start_s + HAIR_S < cut_s < first.end_s - HAIR_S:
        # They cross at an end, as far as a float can tell; cut there, they would cross at an end
        # for ever. The straight line between the worst of both ends is never better than the
        # pieces themselves.
        return [Piece(first.start_s, first.end_s, at_start, at_end)]
    left = [piece.between(first.start_s, cut_s) for piece in pieces]
    right = [piece.between(cut_s, first.end_s) for piece in pieces]
    return _envelope(left, worst) + _envelope(right, worst)


def worst_value(values: Iterable[float], worst: Worst) -> float:
    """Return the worst of several values.

    Args:
        values: at least one value.
        worst: `min` for temperatures, `max` for humidity.

    Returns:
        The worst of them [°C or fraction].

    Rule: R7.
    """
    found, *others = values
    for value in others:
        found = worst(found, value)
    return found


def merge_spans(spans: Iterable[tuple[float, float]]) -> tuple[tuple[float, float], ...]:
    """Return stretches joined where they touch or overlap, in order.

    Args:
        spans: (start [s], end [s]) in any order.

    Rule: R23.
    """
    joined: list[tuple[float, float]] = []
    for start_s, end_s in sorted(spans):
        if joined and start_s <= joined[-1][1]:
            joined[-1] = (joined[-1][0], max(joined[-1][1], end_s))
        else:
            joined.append((start_s, end_s))
    return tuple(joined)


def cut_out(piece: Piece, spans: Sequence[tuple[float, float]]) -> list[Piece]:
    """Return what is left of a piece outside stretches.

    Args:
        spans: stretches in order, apart from one another [s].

    Returns:
        Pieces with length.

    Rule: R7.
    """
    left = []
    start_s = piece.start_s
    for span_start_s, span_end_s in spans:
        if span_end_s <= start_s or span_start_s >= piece.end_s:
            continue
        if start_s < span_start_s:
            left.append(piece.between(start_s, span_start_s))
        start_s = span_end_s
    if start_s < piece.end_s:
        left.append(piece.between(max(start_s, piece.start_s), piece.end_s))
    return left
