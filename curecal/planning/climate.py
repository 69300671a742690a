"""A zone's climate over time: what was measured, and what is assumed where nothing was.

Two histories come out, one per end of a window: under the expected climate, and under the
coldest and dampest. They agree wherever readings cover an instant, and inside a log's gaps.
Seconds count from `origin`.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from enum import Enum
from itertools import pairwise

from curecal.instants import add
from curecal.planning.coverage import (
    Piece,
    Worst,
    clipped,
    merged,
    spot_pieces,
    straight_pieces,
    without,
    worst_of_best,
    worst_value,
)
from curecal.planning.facts import Facts
from curecal.science.history import Segment
from curecal.trade.buildup import Below, Expected, Zone
from curecal.trade.log import Kept, Place, Reading, Series
from curecal.trade.rules import Rules

HORIZON_S = 3 * 365 * 86400.0
"""How far ahead a history goes on: three years; what has not cured by then has no date."""


class End(Enum):
    """The two ends of every window."""

    EARLIEST = "earliest"
    LATEST = "latest"


@dataclass(frozen=True, slots=True)
class Assumed:
    """The climate where nothing is measured, per end: the air with what lies below counted in."""

    bed_c: Mapping[End, float]
    humidity: Mapping[End, float]
    offset_k: float
    air_c: float
    coldest_air_c: float


@dataclass(frozen=True, slots=True)
class Low:
    """The lowest value a display kept, over the stretch since the look before."""

    start_s: float
    end_s: float
    low_c: float
    place: Place


@dataclass(frozen=True, slots=True)
class Climate:
    """A zone's two histories with what they are made of.

    `measured` are the stretches [s] that temperature facts cover, in order and apart; `frost`
    the measured stretches at freezing; `bed` the measured bed temperature; `air` the measured
    room air.
    """

    origin: datetime
    histories: Mapping[End, tuple[Segment, ...]]
    measured: tuple[tuple[float, float], ...]
    bed: tuple[Piece, ...]
    air: tuple[Piece, ...]
    frost: tuple[tuple[float, float], ...]
    assumed: Assumed
    as_of_s: float

    def seconds(self, at: datetime) -> float:
        """Return an instant as seconds from the origin."""
        return (at - self.origin).total_seconds()

    def instant(self, seconds: float) -> datetime:
        """Return seconds from the origin as an instant."""
        return add(self.origin, seconds)

    def share_measured(self, start: datetime, end: datetime) -> float:
        """Return the share of a span that temperature facts cover [0, 1]; 0 for an empty span.

        Rule: R23.

        Args:
            start: start of the span.
            end: end of the span.

        Returns:
            A fraction [-].
        """
        first, last = self.seconds(start), self.seconds(end)
        if not first < last:
            return 0.0
        covered = sum(max(0.0, min(last, b) - max(first, a)) for a, b in self.measured)
        return min(covered / (last - first), 1.0)


def make_climate(
    zone: Zone, expected: Expected, facts: Facts, origin: datetime, rules: Rules
) -> Climate:
    """Return a zone's climate from its readings and what is expected.

    Rule: R4 to R7.

    Args:
        zone: the zone.
        expected: the expected climate.
        facts: the log as it stood.
        origin: where the histories begin; not after any clock's start.
        rules: the numbers of the rules.

    Returns:
        The climate, with histories from `origin` to three years after `facts.as_of`.
    """

    def seconds(at: datetime) -> float:
        return (at - origin).total_seconds()

    as_of_s = max(seconds(facts.as_of), 0.0)
    readings = facts.of(Reading, zone)
    series = facts.of(Series, zone)
    # Looks between two that are close enough may lie before the origin: cut only afterwards.
    raw = {place: _place_pieces(place, readings, series, seconds, rules) for place in Place}
    kept = [
        Piece(seconds(entry.from_at), seconds(entry.to_at), entry.above_c, entry.above_c)
        for entry in facts.of(Kept, zone)
        if entry.from_at < entry.to_at
    ]

    def cut(pieces: Sequence[Piece]) -> list[Piece]:
        return clipped(pieces, start_s=0.0, end_s=as_of_s)

    air = worst_of_best([cut(raw[Place.AIR]), cut(kept)], min)
    offset_k = _offset(expected, readings, air, seconds, rules)
    surface = worst_of_best([cut(raw[Place.FLOOR]), cut(raw[Place.SURFACE])], min)
    bed = worst_of_best([surface, [piece.shifted(offset_k) for piece in air]], min)
    lows = _lows(readings, seconds)
    assumed = _assumed(expected, offset_k, rules)
    floors = [
        (low.start_s, low.end_s, low.low_c + (offset_k if low.place is Place.AIR else 0.0))
        for low in lows
    ]
    humid = worst_of_best([cut(_humid_pieces(readings, series, seconds, rules))], max)
    histories = {
        end: _history(
            _filled(bed, assumed.bed_c, end, min, floors, as_of_s),
            _filled(humid, assumed.humidity, end, max, [], as_of_s),
        )
        for end in End
    }
    return Climate(
        origin,
        histories,
        merged((piece.start_s, piece.end_s) for piece in bed),
        tuple(bed),
        tuple(air),
        _frost(surface, air, lows, offset_k, rules),
        assumed,
        as_of_s,
    )


def _place_pieces(
    place: Place,
    readings: Sequence[Reading],
    series: Sequence[Series],
    seconds: Callable[[datetime], float],
    rules: Rules,
) -> list[Piece]:
    """Return what the readings of one place cover; of the heated floor, nothing."""
    spots = [
        (seconds(entry.at), entry.temperature_c)
        for entry in readings
        if entry.place is place
        and entry.temperature_c is not None
        and (place is not Place.FLOOR or entry.heating_off)
    ]
    pieces = spot_pieces(
        spots,
        apart_s=rules.number("R5", "apart_s"),
        reach_s=rules.number("R5", "lone_s"),
        worst=min,
    )
    lows = [low for low in _lows(readings, seconds) if low.place is place]
    pieces = [_no_higher(piece, lows) for piece in pieces]
    for entry in series:
        if entry.place is place:
            points = [(seconds(at), value) for at, value, _ in entry.points if value is not None]
            pieces.extend(straight_pieces(points, interval_s=entry.interval_s))
    return pieces


def _no_higher(piece: Piece, lows: Sequence[Low]) -> Piece:
    """Return a spot piece, which is level, no higher than a lowest value kept over it."""
    level = piece.start
    for low in lows:
        if low.start_s <= piece.start_s < low.end_s:
            level = min(level, low.low_c)
    return Piece(piece.start_s, piece.end_s, level, level)


def _lows(readings: Sequence[Reading], seconds: Callable[[datetime], float]) -> list[Low]:
    """Return each display's lowest value with the stretch since the look before it.

    When a display was reset is not known: with no look before, the stretch has no start.
    """
    lows = []
    for entry in readings:
        if entry.low_c is None or (entry.place is Place.FLOOR and not entry.heating_off):
            continue
        before = [
            seconds(other.at)
            for other in readings
            if other.place is entry.place and other.at < entry.at
        ]
        start_s = max(before, default=float("-inf"))
        lows.append(Low(start_s, seconds(entry.at), entry.low_c, entry.place))
    return lows


def _humid_pieces(
    readings: Sequence[Reading],
    series: Sequence[Series],
    seconds: Callable[[datetime], float],
    rules: Rules,
) -> list[Piece]:
    spots = [
        (seconds(entry.at), entry.humidity) for entry in readings if entry.humidity is not None
    ]
    pieces = spot_pieces(
        spots,
        apart_s=rules.number("R5", "apart_s"),
        reach_s=rules.number("R5", "lone_s"),
        worst=max,
    )
    for entry in series:
        points = [(seconds(at), value) for at, _, value in entry.points if value is not None]
        pieces.extend(straight_pieces(points, interval_s=entry.interval_s))
    return pieces


def _offset(
    expected: Expected,
    readings: Sequence[Reading],
    air: Sequence[Piece],
    seconds: Callable[[datetime], float],
    rules: Rules,
) -> float:
    """Return how much colder than the air the bed is taken to be [K], zero or below.

    The least surface minus air seen counts, never more than zero: a bed warmer than its air
    would be credit nobody measured everywhere.
    """
    if expected.below is Below.HEATED_ROOM:
        return 0.0
    seen = []
    for entry in readings:
        if entry.place is not Place.SURFACE or entry.temperature_c is None:
            continue
        at_s = seconds(entry.at)
        over = [piece.at(at_s) for piece in air if piece.start_s <= at_s <= piece.end_s]
        if over:
            seen.append(entry.temperature_c - min(over))
    return min(0.0, *seen) if seen else -rules.number("R7", "colder_k")


def _assumed(expected: Expected, offset_k: float, rules: Rules) -> Assumed:
    coldest_c = expected.coldest_c
    if coldest_c is None:
        coldest_c = expected.air_c - rules.number("R6", "colder_k")
    humidity = expected.humidity
    if humidity is None:
        humidity = rules.number("R6", "humidity_rh")
    dampest = expected.dampest
    if dampest is None:
        dampest = min(humidity + rules.number("R6", "damper_rh"), rules.number("R6", "dampest_rh"))
    return Assumed(
        bed_c={
            End.EARLIEST: expected.air_c + offset_k,
            End.LATEST: min(coldest_c, expected.air_c) + offset_k,
        },
        humidity={End.EARLIEST: humidity, End.LATEST: max(dampest, humidity)},
        offset_k=offset_k,
        air_c=expected.air_c,
        coldest_air_c=min(coldest_c, expected.air_c),
    )


def _filled(
    pieces: Sequence[Piece],
    assumed: Mapping[End, float],
    end: End,
    worst: Worst,
    floors: Sequence[tuple[float, float, float]],
    as_of_s: float,
) -> list[Piece]:
    """Return pieces from the origin to the horizon, what nothing covers filled in."""
    level_ahead = assumed[end]

    def gap(start_s: float, end_s: float, beside: list[float], *, inside: bool) -> Piece:
        if not inside and end is End.EARLIEST:
            return Piece(start_s, end_s, level_ahead, level_ahead)
        kept = [low for a, b, low in floors if a < end_s and b > start_s]
        level = worst_value([assumed[End.LATEST], *beside, *kept], worst)
        return Piece(start_s, end_s, level, level)

    filled: list[Piece] = []
    if pieces and pieces[0].start_s > 0.0:
        filled.append(gap(0.0, pieces[0].start_s, [pieces[0].start], inside=False))
    for before, after in pairwise(pieces):
        filled.append(before)
        if before.end_s < after.start_s:
            filled.append(gap(before.end_s, after.start_s, [before.end, after.start], inside=True))
    last_s = 0.0
    if pieces:
        filled.append(pieces[-1])
        last_s = pieces[-1].end_s
    if last_s < as_of_s:
        beside = [pieces[-1].end] if pieces else []
        filled.append(gap(last_s, as_of_s, beside, inside=False))
    filled.append(Piece(as_of_s, as_of_s + HORIZON_S, level_ahead, level_ahead))
    return filled


def _history(bed: Sequence[Piece], humid: Sequence[Piece]) -> tuple[Segment, ...]:
    """Return one history from temperature pieces and humidity pieces over the same time."""
    segments = []
    starts = [piece.start_s for piece in humid]
    for piece in bed:
        index = max(bisect_right(starts, piece.start_s) - 1, 0)
        start_s = piece.start_s
        while start_s < piece.end_s:
            damp = humid[index]
            end_s = min(piece.end_s, damp.end_s)
            segments.append(
                Segment(
                    start_s=start_s,
                    end_s=end_s,
                    start_c=piece.at(start_s),
                    end_c=piece.at(end_s),
                    start_rh=damp.at(start_s),
                    end_rh=damp.at(end_s),
                )
            )
            start_s = end_s
            index += 1
    return tuple(segments)


def _frost(
    surface: Sequence[Piece],
    air: Sequence[Piece],
    lows: Sequence[Low],
    offset_k: float,
    rules: Rules,
) -> tuple[tuple[float, float], ...]:
    """Return the measured stretches at freezing: at the surface, or in the air where it is not.

    A bed taken to be colder than its air freezes in warmer air.
    """
    surface_c = rules.number("R16", "surface_c")
    air_c = max(rules.number("R16", "air_c"), surface_c - offset_k)
    covered = merged((piece.start_s, piece.end_s) for piece in surface)
    alone = [part for piece in air for part in without(piece, covered)]
    spans = [piece.at_or_below(surface_c) for piece in surface]
    spans += [piece.at_or_below(air_c) for piece in alone]
    kept = [
        (low.start_s, low.end_s)
        for low in lows
        if low.low_c <= (air_c if low.place is Place.AIR else surface_c)
    ]
    return merged([*(span for span in spans if span is not None), *kept])
