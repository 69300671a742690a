"""Temperature and humidity readings: what single ones, loggers and displays cover."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from datetime import datetime
from typing import TYPE_CHECKING

from curecal.planning.climate.intervals import (
    PlaceIntervals,
    spot_pieces,
    straight_pieces,
)
from curecal.planning.climate.outliers import lower_outliers
from curecal.planning.climate.pieces import Piece, merge_spans
from curecal.planning.site_log.log_at_instant import Facts
from curecal.records import Record, record
from curecal.trade.job import Zone
from curecal.trade.logged_points import LoggedPoints
from curecal.trade.rules import Rules
from curecal.trade.site_log import Energized, HeatStep, Kept, Place, Reading, Series

if TYPE_CHECKING:
    # Loaded by who has a long series: a job without one pays for no numerical library.
    from curecal.planning.climate.polylines import Polyline
    from curecal.planning.climate.tracks import Track

Spots = list[tuple[float, float]]
"""Readings one by one: (instant [s], value)."""

LONG = 1000
"""Readings from which on a series is worth the 60 ms in which the numerical library loads."""


@record
class DisplayLow(Record):
    """The lowest value a display kept, over the stretch since the reading before."""

    start_s: float
    end_s: float
    low_c: float
    place: Place


@record
class ReadTemperature(Record):
    """A temperature as somebody or something read it, at the instant it was read."""

    at_s: float
    value_c: float
    place: Place


def find_cold(
    readings: Sequence[Reading],
    series: Sequence[Series],
    kept: Sequence[Kept],
    seconds: Callable[[datetime], float],
    heated_at: datetime | None,
    at_most_c: float,
) -> list[ReadTemperature]:
    """Return every cold temperature, when it was read: a stretch begins at the reading before.

    Rule: R5, R7.

    Args:
        kept: statements that the room stayed at or above a temperature, known at their end.
        heated_at: when the floor was first heated, if it was.
        at_most_c: warmer than this is not cold [°C].
    """
    read = [(at_s, c, place) for place in Place for at_s, c in list_spots(place, readings, seconds)]
    read += [(low.end_s, low.low_c, low.place) for low in find_display_lows(readings, seconds)]
    read += [(seconds(min(stay.to_at, stay.at)), stay.above_c, Place.AIR) for stay in kept]
    for entry in series:
        points = read_points(entry, seconds, heated_at)
        cold = points if isinstance(points, list) else points.at_most(at_most_c)
        read += [(at_s, c, entry.place) for at_s, c in cold]
    return [ReadTemperature(at_s, c, place) for at_s, c, place in read if c <= at_most_c]


def list_spots(
    place: Place, readings: Sequence[Reading], seconds: Callable[[datetime], float]
) -> list[tuple[float, float]]:
    """Return the single readings of one place; of the floor, those with its heating off.

    Rule: R7.

    Args:
        place: where they were taken.

    Returns:
        (instant [s], [°C]) in the order of the log.
    """
    return [
        (seconds(entry.at), entry.temperature_c)
        for entry in readings
        if entry.place is place
        and entry.temperature_c is not None
        and (place is not Place.FLOOR or entry.heating_off)
    ]


def place_pieces(
    place: Place,
    readings: Sequence[Reading],
    series: Sequence[Series],
    seconds: Callable[[datetime], float],
    rules: Rules,
    heated_at: datetime | None = None,
    *,
    unheated: bool = False,
) -> PlaceIntervals:
    """Return what the readings of one place cover; of the heated floor, nothing.

    A reading of the floor's sensor says whether the heating was off. A logger in the floor does
    not: from the first time it was switched on, its readings are the heating's. Where nothing
    heats the house, only a display that kept its lowest value knows of the night between two
    readings.

    Rule: R4, R5, R7.

    Args:
        place: where they were taken.
        heated_at: when the floor was first heated, if it was.
        unheated: whether nothing heats the house.

    Returns:
        Pieces [°C], which may overlap, the stretches near a reading, and the readings.
    """
    if not any(entry.place is place for told in (readings, series) for entry in told):
        return PlaceIntervals(())
    spots = lower_outliers(list_spots(place, readings, seconds), rules)
    kept = [low for low in find_display_lows(readings, seconds) if low.place is place]
    reach_s = rules.spot_readings.lone_s
    level = spot_pieces(
        spots,
        apart_s=rules.spot_readings.apart_s,
        reach_s=reach_s,
        worst=min,
        holding={low.end_s for low in kept} if unheated else None,
    )
    pieces: list[Piece | Polyline] = [_no_higher(piece, kept) for piece in level]
    read = [(at_s - reach_s, at_s + reach_s) for at_s, _ in spots]
    counting = list(spots)
    tracks: list[Track] = []
    for entries, points in group_by_device(place, series, seconds, heated_at):
        if not isinstance(points, list):
            tracks.append(points.lowered(rules))
            for entry in entries:
                for line in _lines_of(entry, tracks[-1], entries, seconds, heated_at):
                    pieces.append(line)
                    read.extend(line.spans_near(reach_s))
            continue
        counted = dict(lower_outliers(points, rules))
        counting.extend(counted.items())
        for entry in entries:
            own = [(at_s, counted[at_s]) for at_s, _ in _listed(entry, seconds, heated_at)]
            straight = straight_pieces(own, interval_s=entry.interval_s)
            pieces.extend(straight)
            for piece in straight:
                # Half way between two readings far apart nothing was read either.
                read.append((piece.start_s, min(piece.start_s + reach_s, piece.end_s)))
                read.append((max(piece.end_s - reach_s, piece.start_s), piece.end_s))
    return PlaceIntervals(pieces, merge_spans(read), counting, tracks)


def _lines_of(
    entry: Series,
    counted: Track,
    entries: Sequence[Series],
    seconds: Callable[[datetime], float],
    heated_at: datetime | None,
) -> list[Polyline]:
    """Return the lines through one part of a long series, as its readings count."""
    if len(entries) == 1:
        return counted.lines(entry.interval_s)
    return counted.at_same(_track(entry, seconds, heated_at)).lines(entry.interval_s)


def group_by_device(
    place: Place,
    series: Sequence[Series],
    seconds: Callable[[datetime], float],
    heated_at: datetime | None,
) -> list[tuple[list[Series], Spots | Track]]:
    """Return the loggers of one place, each with all that it read, in however many parts.

    Rule: R4.

    Args:
        place: where they lay.
        series: the parts.
        heated_at: when the floor was first heated, if it was.

    Returns:
        The parts of each device, and its readings in order; of two at one instant the colder.
    """
    found: dict[str, list[Series]] = {}
    for entry in series:
        if entry.place is place:
            found.setdefault(entry.device, []).append(entry)
    joined: list[tuple[list[Series], Spots | Track]] = []
    for entries in found.values():
        if sum(len(entry.points) for entry in entries) >= LONG:
            tracks = [_track(entry, seconds, heated_at) for entry in entries]
            joined.append((entries, _merged(tracks)))
            continue
        read: dict[float, float] = {}
        for entry in entries:
            for at_s, value_c in _listed(entry, seconds, heated_at):
                read[at_s] = min(read.get(at_s, value_c), value_c)
        joined.append((entries, sorted(read.items())))
    return joined


def read_points(
    entry: Series, seconds: Callable[[datetime], float], heated_at: datetime | None
) -> Spots | Track:
    """Return a part's readings; of a logger in the floor, those before it was first heated.

    Rule: R7.

    Args:
        entry: the part.
        heated_at: when the floor was first heated, if it was.

    Returns:
        Instants [s] with their temperatures [°C], in order.
    """
    is_long = len(entry.points) >= LONG
    return (_track if is_long else _listed)(entry, seconds, heated_at)


def _listed(
    entry: Series, seconds: Callable[[datetime], float], heated_at: datetime | None
) -> list[tuple[float, float]]:
    until = heated_at if entry.place is Place.FLOOR else None
    return [
        (seconds(at), value)
        for at, value, _ in entry.points
        if value is not None and (until is None or at < until)
    ]


def _track(
    entry: Series, seconds: Callable[[datetime], float], heated_at: datetime | None
) -> Track:
    from curecal.planning.climate.tracks import read_track

    points = LoggedPoints.of(entry.points)
    until = heated_at if entry.place is Place.FLOOR else None
    return read_track(points, seconds, until)


def _merged(tracks: Sequence[Track]) -> Track:
    from curecal.planning.climate.tracks import merge_tracks

    return merge_tracks(tracks)


def find_first_heated(facts: Facts, zone: Zone) -> datetime | None:
    """Return when a zone's floor was first heated, by the log.

    Rule: R7.

    Returns:
        An instant, or None where it never was.
    """
    heated = (*facts.of(Energized, zone), *facts.of(HeatStep, zone))
    seen_on = [entry.at for entry in facts.of(Reading, zone) if entry.is_floor_on]
    return min([*(entry.at for entry in heated), *seen_on], default=None)


def find_contradiction(
    kept: Kept, readings: Sequence[Reading], series: Sequence[Series]
) -> tuple[datetime, float] | None:
    """Return the coldest air read while a room is said to have been kept warmer.

    Rule: R7.

    Returns:
        The instant and the value [°C], or None where no reading says otherwise.
    """
    spots = [
        (entry.at, value)
        for entry in readings
        if entry.place is Place.AIR
        for value in (entry.temperature_c, entry.low_c)
        if value is not None
    ]
    colder = [
        (value, at)
        for at, value in spots
        if kept.from_at <= at <= kept.to_at and value < kept.above_c
    ]
    for entry in series:
        if entry.place is Place.AIR:
            colder += _lower_than_kept(entry, kept)
    if not colder:
        return None
    value_c, at = min(colder)
    return at, value_c


def _lower_than_kept(entry: Series, kept: Kept) -> list[tuple[float, datetime]]:
    """Return the coldest that a logger read below what was stated, at least, with its instant."""
    if len(entry.points) >= LONG:
        from curecal.planning.climate.tracks import find_lowest

        points = LoggedPoints.of(entry.points)
        found = find_lowest(points, kept.from_at, kept.to_at, kept.above_c)
        return [] if found is None else [found]
    return [
        (value, at)
        for at, value, _ in entry.points
        if value is not None and kept.from_at <= at <= kept.to_at and value < kept.above_c
    ]


def _no_higher(piece: Piece, kept: Sequence[DisplayLow]) -> Piece:
    """Return a spot piece, which is level, no higher than a lowest value kept over it."""
    level = piece.start
    for low in kept:
        if low.start_s <= piece.start_s < low.end_s:
            level = min(level, low.low_c)
    return Piece(piece.start_s, piece.end_s, level, level)


def find_display_lows(
    readings: Sequence[Reading], seconds: Callable[[datetime], float]
) -> list[DisplayLow]:
    """Return each display's lowest value with the stretch since the reading before it.

    When a display was reset is not known: with no reading of it before, the stretch has no start.
    Only a reading that kept a lowest value is one at the same display.

    Rule: R5.

    Returns:
        The lowest values [°C], in the order of the readings.
    """
    kept = [
        (entry, entry.low_c)
        for entry in readings
        if entry.low_c is not None and (entry.place is not Place.FLOOR or entry.heating_off)
    ]
    found = []
    for entry, low_c in kept:
        before = [
            seconds(other.at)
            for other, _ in kept
            if other.place is entry.place and other.at < entry.at
        ]
        start_s = max(before, default=float("-inf"))
        found.append(DisplayLow(start_s, seconds(entry.at), low_c, entry.place))
    return found


def humidity_intervals(
    readings: Sequence[Reading],
    series: Sequence[Series],
    seconds: Callable[[datetime], float],
    rules: Rules,
) -> PlaceIntervals:
    """Return what humidity readings cover, and the readings.

    Rule: R4, R5.

    Returns:
        Pieces [fraction], which may overlap.
    """
    spots = [
        (seconds(entry.at), entry.humidity) for entry in readings if entry.humidity is not None
    ]
    level = spot_pieces(
        spots,
        apart_s=rules.spot_readings.apart_s,
        reach_s=rules.spot_readings.lone_s,
        worst=max,
    )
    pieces: list[Piece | Polyline] = [*level]
    counting = list(spots)
    tracks: list[Track] = []
    for entry in series:
        if len(entry.points) >= LONG:
            from curecal.planning.climate.tracks import read_track

            told = LoggedPoints.of(entry.points)
            tracks.append(read_track(told, seconds, humid=True))
            pieces.extend(tracks[-1].lines(entry.interval_s))
            continue
        points = [(seconds(at), value) for at, _, value in entry.points if value is not None]
        pieces.extend(straight_pieces(points, interval_s=entry.interval_s))
        counting.extend(points)
    return PlaceIntervals(pieces, points=counting, tracks=tracks)
