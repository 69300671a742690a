"""What counts where nobody measured: an assumed value, and near a reading nothing better than it.

Before, between and after readings, past and future: silence is silence. A cold
that was read does not end within the hour; for how long it stays, nobody knows.
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Iterable, Sequence
from heapq import heappop, heappush
from itertools import groupby, pairwise
from operator import itemgetter
from typing import TYPE_CHECKING

from curecal.planning.climate.intervals import cut_spans
from curecal.planning.climate.pieces import Piece, Span, Worst, merge_spans
from curecal.records import Record, record

if TYPE_CHECKING:
    from curecal.planning.climate.polylines import Polyline
    from curecal.planning.climate.tracks import Track

Level = tuple[float, float, float]
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
    near: Sequence[Level],
    assumption: Assumption,
    worst: Worst,
) -> list[Piece | Polyline]:
    """Return pieces over a whole history, what nothing covers filled in.

    Rule: R6.

    Args:
        covered: what is measured or stated, in order and apart.
        near: what silence near readings is no better than, in order and apart.
        assumption: what counts elsewhere.
        worst: `min` for temperatures, `max` for humidity.
    """
    spans = merge_spans((piece.start_s, piece.end_s) for piece in covered)
    starts_s, ends_s = [start_s for start_s, _, _ in near], [end_s for _, end_s, _ in near]
    found: list[Piece | Polyline] = [*covered]
    for assumed in assumption.pieces:
        for silent in cut_spans((assumed.start_s, assumed.end_s), spans):
            first = bisect_right(ends_s, silent[0])
            last = bisect_left(starts_s, silent[1])
            found += _fill(silent, assumed.start, near[first:last], worst)
    return sorted(found, key=lambda piece: piece.start_s)


def _fill(silent: Span, assumed: float, near: Sequence[Level], worst: Worst) -> list[Piece]:
    """Return level pieces over a silent stretch, what is alike in one piece.

    Args:
        silent: the stretch [s].
        assumed: what counts in it.
        near: what it is no better than there, in order and apart; all of them touch it.
    """
    at_s, until_s = silent
    changes = []
    for start_s, end_s, value in near:
        if start_s > at_s:
            changes.append((at_s, assumed))
            at_s = start_s
        changes.append((at_s, worst(value, assumed)))
        at_s = end_s
    if at_s < until_s:
        changes.append((at_s, assumed))
    levels = [next(alike) for _, alike in groupby(changes, key=itemgetter(1))]
    starts_s = [start_s for start_s, _ in levels]
    return [
        Piece(start_s, end_s, value, value)
        for (start_s, value), end_s in zip(levels, [*starts_s[1:], until_s], strict=True)
    ]


def find_near(
    covered: Sequence[Piece | Polyline],
    points: Iterable[tuple[float, float]],
    tracks: Sequence[Track],
    stretches: Iterable[Level],
    *,
    near_s: float,
    until_s: float,
    worst: Worst,
) -> list[Level]:
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
        Level stretches in order and apart; some reach into what is covered, where they say nothing.
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
        for at_s, value in _not_outdone(here, (start_s, end_s), worst):
            inside.append((max(at_s - near_s, start_s), min(at_s + near_s, end_s), value))
    return _worst_of(inside, worst)


def _not_outdone(
    readings: Sequence[tuple[float, float]], silent: Span, worst: Worst
) -> list[tuple[float, float]]:
    """Return readings without those that one nearer to the silence is as bad as, or worse.

    Args:
        readings: (instant [s], value) before it, in it and after it.
        silent: the silence [s].
        worst: `min` for temperatures, `max` for humidity.
    """
    ordered = sorted(readings)
    first = bisect_right(ordered, (silent[0], float("inf")))
    last = max(bisect_left(ordered, (silent[1],)), first)
    found = ordered[first:last]
    for outward in (ordered[:first][::-1], ordered[last:]):
        worst_yet: float | None = None
        for spot in outward:
            value = spot[1]
            if worst_yet is None or worst(value, worst_yet) != worst_yet:
                found.append(spot)
                worst_yet = value
    return found


def _close_together(spans: Sequence[Span], apart_s: float) -> list[Span]:
    """Return stretches, those no farther apart as one."""
    joined: list[Span] = []
    for start_s, end_s in spans:
        if joined and start_s - joined[-1][1] <= apart_s:
            joined[-1] = joined[-1][0], end_s
        else:
            joined.append((start_s, end_s))
    return joined


def _worst_of(level: Iterable[Level], worst: Worst) -> list[Level]:
    """Return the worst of level stretches at each instant any of them covers."""
    # The worst lies on top of a heap; what has ended is taken off when it comes up.
    sign = 1.0 if worst(0.0, 1.0) == 0.0 else -1.0
    queue = sorted(stretch for stretch in level if stretch[0] < stretch[1])
    edges = sorted({edge for start_s, end_s, _ in queue for edge in (start_s, end_s)})
    heap: list[tuple[float, float]] = []
    found: list[Level] = []
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
