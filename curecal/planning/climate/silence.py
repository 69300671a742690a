"""What counts where nobody measured: an assumed value, and near a reading nothing better than it.

Before, between and after readings, past and future: silence is silence. A cold
that was read does not end within the hour; for how long it stays, nobody knows.
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Iterable, Sequence
from heapq import heappop, heappush
from itertools import pairwise
from typing import TYPE_CHECKING

from curecal.planning.climate.intervals import cut_spans
from curecal.planning.climate.pieces import Piece, Span, Worst, merge_spans
from curecal.records import Record, record

if TYPE_CHECKING:
    from curecal.planning.climate.polylines import Polyline
    from curecal.planning.climate.tracks import Track

_Level = tuple[float, float, float]
"""From and to [s], and the value that holds meanwhile."""


@record
class Assumption(Record):
    """What is assumed where nothing is said: up to now, and ahead, from now to `until_s`."""

    past: float
    ahead: float
    as_of_s: float
    until_s: float

    @property
    def pieces(self) -> list[Piece]:
        """The assumed values over the whole history."""
        pieces = [
            Piece(0.0, self.as_of_s, self.past, self.past),
            Piece(self.as_of_s, self.until_s, self.ahead, self.ahead),
        ]
        return [piece for piece in pieces if piece.start_s < piece.end_s]


def fill_silence(
    covered: Sequence[Piece | Polyline],
    near: Sequence[Piece],
    assumption: Assumption,
    worst: Worst,
) -> list[Piece | Polyline]:
    """Return pieces over a whole history, what nothing covers filled in.

    Rule: R6.

    Args:
        covered: what is measured or stated, in order and apart.
        near: what silence near readings is no better than: level pieces in it, in order.
        assumption: what counts elsewhere.
        worst: `min` for temperatures, `max` for humidity.
    """
    spans = merge_spans((piece.start_s, piece.end_s) for piece in covered)
    edges = [(piece.start_s, piece.end_s) for piece in near]
    found: list[Piece | Polyline] = [*covered]
    for assumed in assumption.pieces:
        for silent in _level_outside(assumed, spans):
            found += _level_outside(silent, edges)
            first = max(bisect_right(edges, (silent.start_s, silent.start_s)) - 1, 0)
            last = bisect_left(edges, (silent.end_s,))
            for piece in near[first:last]:
                start_s, end_s = max(piece.start_s, silent.start_s), min(piece.end_s, silent.end_s)
                if start_s < end_s:
                    value = worst(piece.start, silent.start)
                    is_same = value == piece.start and piece.spans(start_s, end_s)
                    found.append(piece if is_same else Piece(start_s, end_s, value, value))
    return sorted(found, key=lambda piece: piece.start_s)


def _level_outside(piece: Piece, spans: Sequence[Span]) -> list[Piece]:
    """Return what is left of a level piece outside stretches."""
    left = cut_spans((piece.start_s, piece.end_s), spans)
    return [Piece(start_s, end_s, piece.start, piece.start) for start_s, end_s in left]


def find_near(
    covered: Sequence[Piece | Polyline],
    points: Iterable[tuple[float, float]],
    tracks: Sequence[Track],
    stretches: Iterable[_Level],
    *,
    near_s: float,
    until_s: float,
    worst: Worst,
) -> list[Piece]:
    """Return the worst that was read near each instant, where there is silence near by.

    Rule: R6.

    Args:
        covered: what is measured or stated, in order and apart.
        points: (instant [s], value) of every single reading.
        tracks: the readings of long series.
        stretches: (start [s], end [s], value) of what was read without its instant.
        near_s: how far a reading speaks on either side [s].
        until_s: the end of the history [s].
        worst: `min` for temperatures, `max` for humidity.

    Returns:
        Level pieces outside of what is covered, in order and apart.
    """
    counted = merge_spans((piece.start_s, piece.end_s) for piece in covered)
    silent = cut_spans((0.0, until_s), counted)
    ordered = sorted(points)
    inside = [
        (max(start_s, 0.0), min(end_s, until_s), value) for start_s, end_s, value in stretches
    ]
    # A logger has many readings and few holes: only those near a hole are looked at, and what
    # they say of it. Holes farther from one another share no reading.
    for start_s, end_s in _close_together(silent, 2.0 * near_s):
        from_s, to_s = start_s - near_s, end_s + near_s
        first, last = bisect_left(ordered, (from_s,)), bisect_right(ordered, (to_s, float("inf")))
        here = ordered[first:last]
        for track in tracks:
            here += track.near(from_s, to_s)
        for at_s, value in here:
            inside.append((max(at_s - near_s, start_s), min(at_s + near_s, end_s), value))
    return [
        Piece(start_s, end_s, value, value)
        for from_s, to_s, value in _worst_of(inside, worst)
        for start_s, end_s in cut_spans((from_s, to_s), counted)
    ]


def _close_together(spans: Sequence[Span], apart_s: float) -> list[Span]:
    """Return stretches, those no farther apart as one."""
    joined: list[Span] = []
    for start_s, end_s in spans:
        if joined and start_s - joined[-1][1] <= apart_s:
            joined[-1] = joined[-1][0], end_s
        else:
            joined.append((start_s, end_s))
    return joined


def _worst_of(level: Iterable[_Level], worst: Worst) -> list[_Level]:
    """Return the worst of level stretches at each instant any of them covers."""
    # The worst lies on top of a heap; what has ended is taken off when it comes up.
    sign = 1.0 if worst(0.0, 1.0) == 0.0 else -1.0
    queue = sorted(stretch for stretch in level if stretch[0] < stretch[1])
    edges = sorted({edge for start_s, end_s, _ in queue for edge in (start_s, end_s)})
    heap: list[tuple[float, float]] = []
    found: list[_Level] = []
    index = 0
    for start_s, end_s in pairwise(edges):
        while index < len(queue) and queue[index][0] <= start_s:
            _, until_s, value = queue[index]
            heappush(heap, (sign * value, until_s))
            index += 1
        while heap and heap[0][1] <= start_s:
            heappop(heap)
        if not heap:
            continue
        value = sign * heap[0][0]
        goes_on = found and found[-1][1] == start_s and found[-1][2] == value
        begun_s = found.pop()[0] if goes_on else start_s
        found.append((begun_s, end_s, value))
    return found
