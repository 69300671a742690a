"""The coldest air to count with, and one history of temperature and humidity together."""

from __future__ import annotations

from bisect import bisect_left, bisect_right, insort
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from typing import TYPE_CHECKING, TypeVar

from curecal.planning.climate.pieces import Piece
from curecal.planning.climate.temperature_readings import ReadTemperature
from curecal.science.history import Segment
from curecal.trade.job import Expected
from curecal.trade.rules import Rules
from curecal.trade.site_log import Place

if TYPE_CHECKING:
    from curecal.planning.climate.polylines import Polyline
    from curecal.science.segment_run import SegmentRun


def find_stated_coldest(expected: Expected, rules: Rules) -> float:
    """Return the coldest air the job counts with, said or by rule [°C].

    Rule: R6.
    """
    if expected.coldest_c is None:
        return expected.air_c - rules.unmeasured.colder_k
    return min(expected.coldest_c, expected.air_c)


def find_coldest_twice(
    read: Sequence[ReadTemperature], told_c: float, offset_k: float, rules: Rules
) -> float:
    """Return the coldest air that was read twice, nights apart and within a week [°C].

    Of two readings the warmer counts: the other may have been a door left open. Without two, what
    was told.

    Rule: R6.

    Args:
        read: what was read cold.
        told_c: the coldest air told [°C].
        offset_k: the bed under its air [K].
    """
    apart_s, within_s = rules.unmeasured.apart_s, rules.unmeasured.within_s
    by_cold = sorted(
        (told.value_c - (0.0 if told.place is Place.AIR else offset_k), told.at_s)
        for told in read
        if told.at_s >= 0.0
    )
    colder_s: list[float] = []
    for air_c, at_s in by_cold:
        if air_c >= told_c:
            break
        before, after = (at_s - within_s, at_s - apart_s), (at_s + apart_s, at_s + within_s)
        for from_s, until_s in (before, after):
            if bisect_left(colder_s, from_s) < bisect_right(colder_s, until_s):
                return air_c
        insort(colder_s, at_s)
    return told_c


K = TypeVar("K")

_Lines = Sequence["Piece | Polyline"]
_Joined = dict[
    tuple[int, int, float, float], tuple["SegmentRun", "Piece | Polyline", "Piece | Polyline"]
]


class Histories(Mapping[K, tuple["Segment | SegmentRun", ...]]):
    """Histories, each of temperature pieces and humidity pieces over the same time.

    One is made when it is first asked for: what is over at the early end is so at the late one.

    Rule: R4.
    """

    __slots__ = ("_joined", "_lines_of", "_made")

    def __init__(self, ends: Iterable[K], lines_of: Callable[[K], tuple[_Lines, _Lines]]) -> None:
        """Take what gives the pieces of each end."""
        self._lines_of = lines_of
        self._made: dict[K, tuple[Segment | SegmentRun, ...] | None] = dict.fromkeys(ends)
        # Both ends have the same long series: it is joined once, by the lines that it joins.
        self._joined: _Joined = {}

    def __getitem__(self, end: K) -> tuple[Segment | SegmentRun, ...]:
        made = self._made[end]
        if made is None:
            made = self._made[end] = _make_history(*self._lines_of(end), self._joined)
        return made

    def __iter__(self) -> Iterator[K]:
        return iter(self._made)

    def __len__(self) -> int:
        return len(self._made)


def _make_history(bed: _Lines, humid: _Lines, joined: _Joined) -> tuple[Segment | SegmentRun, ...]:
    segments = []
    starts = [piece.start_s for piece in humid]
    for piece in bed:
        index = max(bisect_right(starts, piece.start_s) - 1, 0)
        start_s, until_s = piece.start_s, piece.end_s
        while start_s < until_s:
            damp = humid[index]
            end_s = min(until_s, damp.end_s)
            segments.append(_join(piece, damp, start_s, end_s, joined))
            start_s = end_s
            index += 1
    return tuple(segments)


def _join(
    bed: Piece | Polyline, humid: Piece | Polyline, start_s: float, end_s: float, joined: _Joined
) -> Segment | SegmentRun:
    """Return a stretch over which both run straight, or a long series does."""
    if isinstance(bed, Piece) and isinstance(humid, Piece):
        # What is assumed is level, and there is much of it ahead.
        still, as_damp = bed.start == bed.end, humid.start == humid.end
        return Segment(
            start_s=start_s,
            end_s=end_s,
            start_c=bed.start if still else bed.at(start_s),
            end_c=bed.start if still else bed.at(end_s),
            start_rh=humid.start if as_damp else humid.at(start_s),
            end_rh=humid.start if as_damp else humid.at(end_s),
        )
    asked = (id(bed), id(humid), start_s, end_s)
    found = joined.get(asked)
    if found is None:
        from curecal.planning.climate.polylines import join_climate

        run = join_climate(bed.between(start_s, end_s), humid.between(start_s, end_s))
        # Both lines are kept with it: one that is gone leaves its id to the next that is made.
        found = joined[asked] = run, bed, humid
    return found[0]
