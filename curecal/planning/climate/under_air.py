"""The bed's temperature under the air's: over ground, an unheated space, outdoors."""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Callable, Sequence
from datetime import datetime, timedelta, tzinfo
from typing import TYPE_CHECKING

from curecal.planning.climate.intervals import combine_ranks, straight_pieces
from curecal.planning.climate.pieces import Piece
from curecal.planning.climate.temperature_readings import list_spots, read_points
from curecal.records import Record, record
from curecal.trade.job import Below, Expected
from curecal.trade.rules import Rules
from curecal.trade.site_log import Place, Reading, Series

if TYPE_CHECKING:
    from curecal.planning.climate.polylines import Polyline
    from curecal.planning.climate.tracks import Track


@record
class _Pair(Record):
    """A surface read together with its air: how much warmer than the air it was [K]."""

    at_s: float
    over_air_k: float


def compute_bed_offset(
    expected: Expected,
    readings: Sequence[Reading],
    series: Sequence[Series],
    origin: datetime,
    rules: Rules,
    site: tzinfo,
) -> float:
    """Return how much colder than the air the bed is taken to be [K], zero or below.

    An allowance, until surface and air are known together for a day with a night in it: by day
    the sun lies on the floor. Then the least surface minus air seen, never more than zero: a bed
    warmer than its air would be credit nobody measured everywhere. A statement that the air was
    so much at least says nothing here.

    Rule: R7.

    Args:
        expected: the expected climate, with what lies below.
        origin: where seconds count from.
        site: the site's time zone, which says when it is night.
    """
    if expected.below is Below.HEATED_ROOM:
        return 0.0

    def seconds(at: datetime) -> float:
        return (at - origin).total_seconds()

    def is_night(pair: _Pair) -> bool:
        local = (origin + timedelta(seconds=pair.at_s)).astimezone(site)
        clock_s = timedelta(hours=local.hour, minutes=local.minute).total_seconds()
        from_s, until_s = rules.bed.night_from_s, rules.bed.night_until_s
        return clock_s >= from_s or clock_s < until_s

    pairs = _pairs(readings, series, seconds, rules.bed.together_s)
    instants = [pair.at_s for pair in pairs]
    long_enough = pairs and max(instants) - min(instants) >= rules.bed.known_s
    if not long_enough or not any(is_night(pair) for pair in pairs):
        return -rules.bed.colder_k
    return min(0.0, *(pair.over_air_k for pair in pairs))


def _pairs(
    readings: Sequence[Reading],
    series: Sequence[Series],
    seconds: Callable[[datetime], float],
    together_s: float,
) -> list[_Pair]:
    """Return every reading of the surface that has air beside it: the warmest air near it."""
    air = sorted(list_spots(Place.AIR, readings, seconds))
    instants = [at_s for at_s, _ in air]
    surface = list_spots(Place.SURFACE, readings, seconds)
    logged: list[Piece | Polyline] = []
    tracks: list[Track] = []
    for entry in series:
        points = read_points(entry, seconds, None)
        if entry.place is Place.AIR:
            logged += (
                straight_pieces(points, interval_s=entry.interval_s)
                if isinstance(points, list)
                else points.lines(entry.interval_s)
            )
        elif entry.place is Place.SURFACE:
            if isinstance(points, list):
                surface += points
            else:
                tracks.append(points)
    lines = combine_ranks([logged], max)
    starts = [line.start_s for line in lines]
    pairs = [
        _Pair(at_s, over_air_k)
        for track in tracks
        for at_s, over_air_k in track.over(lines, air, together_s=together_s)
    ]
    for at_s, surface_c in surface:
        first, last = (
            bisect_left(instants, at_s - together_s),
            bisect_right(instants, at_s + together_s),
        )
        over = [air_c for _, air_c in air[first:last]]
        # Two stretches may meet at the reading.
        index = bisect_right(starts, at_s)
        over += [line.at(at_s) for line in lines[max(index - 2, 0) : index] if at_s <= line.end_s]
        if over:
            pairs.append(_Pair(at_s, surface_c - max(over)))
    return pairs
