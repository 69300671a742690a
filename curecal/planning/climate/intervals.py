"""Stretches of time that readings cover, and the worst of several where they overlap.

A piece runs straight from one value to another; values are bed or air temperatures [°C] or
relative humidities [fraction]: the arithmetic is the same, only what is worse differs.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Container, Iterable, Sequence
from itertools import pairwise
from typing import TYPE_CHECKING

from curecal.planning.climate.pieces import Piece, Span, Worst, merge_spans
from curecal.planning.tolerances import HAIR_S
from curecal.records import Record, record

if TYPE_CHECKING:
    # Loaded by who has a long series: a job without one pays for no numerical library.
    from curecal.planning.climate.polylines import Polyline
    from curecal.planning.climate.tracks import Track


def clip_pieces(
    pieces: Iterable[Piece | Polyline], *, start_s: float, end_s: float
) -> list[Piece | Polyline]:
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
    reading to the next. `points` are the readings themselves, as they count (instant [s], value),
    `tracks` those of long series.
    """

    pieces: Sequence[Piece | Polyline]
    read: Sequence[tuple[float, float]] = ()
    points: Sequence[tuple[float, float]] = ()
    tracks: Sequence[Track] = ()

    def shifted(self, by: float) -> PlaceIntervals:
        """Return the same with its values moved."""
        if by == 0.0:
            return self
        return PlaceIntervals(
            [piece.shifted(by) for piece in self.pieces],
            self.read,
            [(at_s, value + by) for at_s, value in self.points],
            [track.shifted(by) for track in self.tracks],
        )

    def clipped(self, *, start_s: float, end_s: float) -> PlaceIntervals:
        """Return the same with what is covered cut at two instants [s]."""
        pieces = clip_pieces(self.pieces, start_s=start_s, end_s=end_s)
        return PlaceIntervals(pieces, self.read, self.points, self.tracks)


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


def combine_ranks(
    ranks: Sequence[Sequence[Piece | Polyline]], worst: Worst
) -> list[Piece | Polyline]:
    """Return the worst value, at each covered instant, of the best rank that covers it.

    Args:
        ranks: pieces by rank, the best first.
        worst: `min` for temperatures, `max` for humidity.

    Returns:
        Pieces in order, none overlapping.

    Rule: R7.
    """
    found: list[Piece | Polyline] = []
    covered: tuple[tuple[float, float], ...] = ()
    # What a better rank covers stays whole, however much of a lower one lies under it.
    for rank in ranks:
        left = [part for piece in rank for part in cut_out(piece, covered)] if covered else rank
        own = _worst_of(left, worst)
        covered = merge_spans([*covered, *((piece.start_s, piece.end_s) for piece in own)])
        found += own
    return sorted(found, key=_start_s)


def _worst_of(pieces: Sequence[Piece | Polyline], worst: Worst) -> Sequence[Piece | Polyline]:
    """Return the worst value, at each instant, of the pieces that cover it, in order and apart."""
    # Most zones have one logger or none: what does not overlap needs no cutting.
    if _apart(pieces):
        return pieces
    edges = sorted({edge for piece in pieces for edge in (piece.start_s, piece.end_s)})
    queue = sorted(pieces, key=_start_s)
    head = 0
    active: list[Piece | Polyline] = []
    found: list[Piece | Polyline] = []
    for start_s, end_s in pairwise(edges):
        while head < len(queue) and queue[head].start_s <= start_s:
            active.append(queue[head])
            head += 1
        active = [piece for piece in active if piece.end_s > start_s]
        if active:
            found += _envelope([piece.between(start_s, end_s) for piece in active], worst)
    return found


def _start_s(piece: Piece | Polyline) -> float:
    return piece.start_s


def combine_until_read(places: Sequence[PlaceIntervals]) -> list[Piece | Polyline]:
    """Return the coldest, at each covered instant, of the ranks down to the first read there.

    What is only held between two readings does not outrank a reading of a lower rank taken
    meanwhile: the colder of both counts.

    Args:
        places: what each rank covers, the best first.

    Returns:
        Pieces in order, none overlapping.

    Rule: R5, R7.
    """
    found: list[Piece | Polyline] = []
    for place in reversed(places):
        under = [part for piece in found for part in cut_out(piece, place.read)]
        found = combine_ranks([[*place.pieces, *under]], min)
    return found


def _apart(pieces: Sequence[Piece | Polyline]) -> bool:
    return all(first.end_s <= second.start_s for first, second in pairwise(pieces))


def _envelope(pieces: Sequence[Piece | Polyline], worst: Worst) -> list[Piece | Polyline]:
    """Return the worst of pieces over one common stretch, cut where two cross."""
    straight = [piece for piece in pieces if isinstance(piece, Piece)]
    if len(pieces) == 1 or len(straight) == len(pieces):
        return list(_straight_envelope(straight, worst) if straight else pieces)
    from curecal.planning.climate.polylines import find_worst

    return find_worst(pieces, worst)


def _straight_envelope(pieces: list[Piece], worst: Worst) -> list[Piece]:
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
    return _straight_envelope(left, worst) + _straight_envelope(right, worst)


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


def cut_out(
    piece: Piece | Polyline, spans: Sequence[tuple[float, float]]
) -> list[Piece | Polyline]:
    """Return what is left of a piece outside stretches.

    Args:
        spans: stretches in order, apart from one another [s].

    Returns:
        Pieces with length.

    Rule: R7.
    """
    left = cut_spans((piece.start_s, piece.end_s), spans)
    return [piece.between(start_s, end_s) for start_s, end_s in left]


def cut_spans(whole: Span, spans: Sequence[Span]) -> list[Span]:
    """Return what is left of a stretch outside others.

    Args:
        whole: the stretch [s].
        spans: stretches in order, apart from one another [s].

    Rule: R7.
    """
    left = []
    start_s, until_s = whole
    # Of many stretches only those count that begin before the piece ends, from the last on that
    # begins before it does.
    index = max(bisect_right(spans, (start_s, start_s)) - 1, 0)
    while start_s < until_s and index < len(spans) and spans[index][0] < until_s:
        span_start_s, span_end_s = spans[index]
        index += 1
        if span_end_s <= start_s:
            continue
        if start_s < span_start_s:
            left.append((start_s, span_start_s))
        start_s = span_end_s
    if start_s < until_s:
        left.append((start_s, until_s))
    return left
