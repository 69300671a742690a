"""The coldest air to count with, and one history of temperature and humidity together."""

from __future__ import annotations

from bisect import bisect_left, bisect_right, insort
from collections.abc import Sequence
from typing import TYPE_CHECKING

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


def make_history(
    bed: Sequence[Piece | Polyline], humid: Sequence[Piece | Polyline]
) -> tuple[Segment | SegmentRun, ...]:
    """Return one history from temperature pieces and humidity pieces over the same time.

    Rule: R4.
    """
    segments = []
    starts = [piece.start_s for piece in humid]
    for piece in bed:
        index = max(bisect_right(starts, piece.start_s) - 1, 0)
        start_s = piece.start_s
        while start_s < piece.end_s:
            damp = humid[index]
            end_s = min(piece.end_s, damp.end_s)
            segments.append(_joined(piece, damp, start_s, end_s))
            start_s = end_s
            index += 1
    return tuple(segments)


def _joined(
    bed: Piece | Polyline, humid: Piece | Polyline, start_s: float, end_s: float
) -> Segment | SegmentRun:
    """Return a stretch over which both run straight, or a long series does."""
    if isinstance(bed, Piece) and isinstance(humid, Piece):
        return Segment(
            start_s=start_s,
            end_s=end_s,
            start_c=bed.at(start_s),
            end_c=bed.at(end_s),
            start_rh=humid.at(start_s),
            end_rh=humid.at(end_s),
        )
    warm, damp = bed.between(start_s, end_s), humid.between(start_s, end_s)
    from curecal.planning.climate.polylines import join_climate

    return join_climate(warm, damp)
