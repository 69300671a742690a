"""Temperature and humidity readings: what single ones, loggers and displays cover."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from datetime import datetime

from curecal.planning.climate.intervals import (
    Piece,
    PlaceIntervals,
    merge_spans,
    spot_pieces,
    straight_pieces,
)
from curecal.planning.climate.outliers import lower_outliers
from curecal.planning.site_log.log_at_instant import Facts
from curecal.records import Record, record
from curecal.trade.job import Zone
from curecal.trade.rules import Rules
from curecal.trade.site_log import Energized, HeatStep, Kept, Place, Reading, Series


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
        read += [(at_s, c, entry.place) for at_s, c in list_points(entry, seconds, heated_at)]
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
    spots = lower_outliers(list_spots(place, readings, seconds), rules)
    kept = [low for low in find_display_lows(readings, seconds) if low.place is place]
    reach_s = rules.spot_readings.lone_s
    pieces = spot_pieces(
        spots,
        apart_s=rules.spot_readings.apart_s,
        reach_s=reach_s,
        worst=min,
        holding={low.end_s for low in kept} if unheated else None,
    )
    pieces = [_no_higher(piece, kept) for piece in pieces]
    read = [(at_s - reach_s, at_s + reach_s) for at_s, _ in spots]
    counting = list(spots)
    for entries, points in group_by_device(place, series, seconds, heated_at):
        counted = dict(lower_outliers(points, rules))
        counting.extend(counted.items())
        for entry in entries:
            own = [(at_s, counted[at_s]) for at_s, _ in list_points(entry, seconds, heated_at)]
            straight = straight_pieces(own, interval_s=entry.interval_s)
            pieces.extend(straight)
            for piece in straight:
                # Half way between two readings far apart nothing was read either.
                read.append((piece.start_s, min(piece.start_s + reach_s, piece.end_s)))
                read.append((max(piece.end_s - reach_s, piece.start_s), piece.end_s))
    return PlaceIntervals(pieces, merge_spans(read), counting)


def group_by_device(
    place: Place,
    series: Sequence[Series],
    seconds: Callable[[datetime], float],
    heated_at: datetime | None,
) -> list[tuple[list[Series], list[tuple[float, float]]]]:
    """Return the loggers of one place, each with all that it read, in however many parts.

    Rule: R4.

    Args:
        place: where they lay.
        series: the parts.
        heated_at: when the floor was first heated, if it was.

    Returns:
        The parts of each device, and its readings (instant [s], [°C]) in order; of two at one
        instant the colder.
    """
    found: dict[str, list[Series]] = {}
    for entry in series:
        if entry.place is place:
            found.setdefault(entry.device, []).append(entry)
    joined = []
    for entries in found.values():
        read: dict[float, float] = {}
        for entry in entries:
            for at_s, value_c in list_points(entry, seconds, heated_at):
                read[at_s] = min(read.get(at_s, value_c), value_c)
        joined.append((entries, sorted(read.items())))
    return joined


def list_points(
    entry: Series, seconds: Callable[[datetime], float], heated_at: datetime | None
) -> list[tuple[float, float]]:
    """Return a part's readings; of a logger in the floor, those before it was first heated.

    Rule: R7.

    Args:
        entry: the part.
        heated_at: when the floor was first heated, if it was.

    Returns:
        (instant [s], [°C]) in order.
    """
    until = heated_at if entry.place is Place.FLOOR else None
    return [
        (seconds(at), value)
        for at, value, _ in entry.points
        if value is not None and (until is None or at < until)
    ]


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
    logged = [
        (at, value)
        for entry in series
        if entry.place is Place.AIR
        for at, value, _ in entry.points
        if value is not None
    ]
    colder = [
        (value, at)
        for at, value in (*spots, *logged)
        if kept.from_at <= at <= kept.to_at and value < kept.above_c
    ]
    if not colder:
        return None
    value_c, at = min(colder)
    return at, value_c


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
    pieces = spot_pieces(
        spots,
        apart_s=rules.spot_readings.apart_s,
        reach_s=rules.spot_readings.lone_s,
        worst=max,
    )
    counting = list(spots)
    for entry in series:
        points = [(seconds(at), value) for at, _, value in entry.points if value is not None]
        pieces.extend(straight_pieces(points, interval_s=entry.interval_s))
        counting.extend(points)
    return PlaceIntervals(pieces, points=counting)
