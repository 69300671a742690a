"""A zone's climate over time: what was measured, and what is assumed where nothing was.

Two histories come out, one per end of a window: under the expected climate, and under the
coldest and dampest. They agree wherever readings cover an instant, and inside a log's gaps.
Seconds count from `origin`.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Callable, Mapping, Sequence
from datetime import UTC, datetime, tzinfo
from enum import Enum
from itertools import pairwise

from curecal.instants import add
from curecal.planning.climate.intervals import (
    Cover,
    Piece,
    Worst,
    clipped,
    colder_until_read,
    merged,
    without,
    worst_of_best,
    worst_value,
)
from curecal.planning.climate.temperature_readings import (
    Low,
    Seen,
    contradicted,
    heated_from,
    humid_pieces,
    lows,
    place_pieces,
    seen,
)
from curecal.planning.climate.under_air import bed_offset
from curecal.planning.site_log.log_at_instant import Facts
from curecal.records import Record, record
from curecal.science.history import Segment
from curecal.trade.job import Expected, HeatedBy, Zone
from curecal.trade.rules import Rules
from curecal.trade.site_log import Kept, Place, Reading, Series

HORIZON_S = 3 * 365 * 86400.0
"""How far ahead a history goes on: three years; what has not cured by then has no date."""


class End(Enum):
    """The two ends of every window."""

    EARLIEST = "earliest"
    LATEST = "latest"


@record
class Assumed(Record):
    """The climate where nothing is measured, per end: the air with what lies below counted in."""

    bed_c: Mapping[End, float]
    humidity: Mapping[End, float]
    offset_k: float
    air_c: float
    coldest_air_c: float


@record
class Cold(Record):
    """A temperature that was read, as the bed had it, and whether that is freezing."""

    at_s: float
    read_c: float
    bed_c: float
    freezing: bool


@record
class Climate(Record):
    """A zone's two histories with what they are made of.

    `measured` are the stretches [s] that temperature facts cover, in order and apart; `frost`
    the measured stretches at freezing; `bed` the measured bed temperature; `air` the measured
    room air; `seen` what was read cold enough to matter, each at its instant: as the bed [°C],
    with whether it was freezing.
    """

    origin: datetime
    histories: Mapping[End, tuple[Segment, ...]]
    measured: tuple[tuple[float, float], ...]
    bed: tuple[Piece, ...]
    air: tuple[Piece, ...]
    frost: tuple[tuple[float, float], ...]
    assumed: Assumed
    as_of_s: float
    seen: tuple[Cold, ...] = ()

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
    zone: Zone,
    expected: Expected,
    facts: Facts,
    origin: datetime,
    rules: Rules,
    *,
    ahead: Expected | None = None,
    site: tzinfo = UTC,
) -> Climate:
    """Return a zone's climate from its readings and what is expected.

    Rule: R4 to R7.

    Args:
        zone: the zone.
        expected: the expected climate.
        facts: the log as it stood.
        origin: where the histories begin; not after any clock's start.
        rules: the numbers of the rules.
        ahead: the climate expected after `facts.as_of`, where it is to be another.
        site: the site's time zone, which says when it is night.

    Returns:
        The climate, with histories from `origin` to three years after `facts.as_of`.
    """

    def seconds(at: datetime) -> float:
        return (at - origin).total_seconds()

    as_of_s = max(seconds(facts.as_of), 0.0)
    readings = facts.of(Reading, zone)
    series = facts.of(Series, zone)
    # Looks between two that are close enough may lie before the origin: cut only afterwards.
    heated_at = heated_from(facts, zone)
    unheated = expected.heated_by is HeatedBy.NOTHING
    raw = {
        place: place_pieces(place, readings, series, seconds, rules, heated_at, unheated=unheated)
        for place in Place
    }
    # Nobody can sign for what is still to come: what lies after the signature is a forecast.
    told = [entry for entry in facts.of(Kept, zone) if entry.from_at < min(entry.to_at, entry.at)]
    signed = [
        _kept(entry, seconds, _kept_c(entry, readings, series))
        for entry in told
        if facts.counts(entry)
    ]

    def cut(pieces: Sequence[Piece]) -> list[Piece]:
        return clipped(pieces, start_s=0.0, end_s=as_of_s)

    offset_k = bed_offset(expected, readings, series, origin, rules, site)
    floor, surface, read_air = (
        Cover(cut(raw[place].pieces), raw[place].read)
        for place in (Place.FLOOR, Place.SURFACE, Place.AIR)
    )
    under_air = Cover([piece.shifted(offset_k) for piece in read_air.pieces], read_air.read)
    by_readings = colder_until_read([floor, surface, under_air])

    def bed_with(*statements: Sequence[Piece]) -> list[Piece]:
        # "So much at least" is no reading: it counts where there is none.
        under = [[piece.shifted(offset_k) for piece in cut(stated)] for stated in statements]
        return worst_of_best([by_readings, *under], min)

    air = worst_of_best([read_air.pieces, cut(signed)], min)
    bed = bed_with(signed)
    kept_low = lows(readings, seconds)
    assumed = _assumed(expected, offset_k, rules)
    later = _assumed(ahead or expected, offset_k, rules)
    # What nobody signed gives no credit; colder than expected it counts, as the coldest does.
    unsigned = [
        entry for entry in told if not facts.counts(entry) and entry.above_c < expected.air_c
    ]
    counted, freezing = bed, air
    if unsigned:
        stated = [_kept(entry, seconds, _kept_c(entry, readings, series)) for entry in unsigned]
        at_most = _at_most(stated, assumed.coldest_air_c)
        counted = bed_with(signed, at_most)
        freezing = worst_of_best([air, cut(stated)], min)
    floors = [
        (low.start_s, low.end_s, low.low_c + (offset_k if low.place is Place.AIR else 0.0))
        for low in kept_low
    ]
    humid = worst_of_best([cut(humid_pieces(readings, series, seconds, rules))], max)
    histories = {
        end: _history(
            _filled(counted, (assumed.bed_c, later.bed_c), end, min, floors, as_of_s),
            _filled(humid, (assumed.humidity, later.humidity), end, max, [], as_of_s),
        )
        for end in End
    }
    return Climate(
        origin,
        histories,
        merged((piece.start_s, piece.end_s) for piece in bed),
        tuple(bed),
        tuple(air),
        _frost([floor, surface], read_air, freezing, kept_low, offset_k, rules),
        later,
        as_of_s,
        _cold(
            seen(readings, series, told, seconds, heated_at, _coolest(zone, offset_k, rules)),
            offset_k,
            rules,
        ),
    )


def _kept(entry: Kept, seconds: Callable[[datetime], float], kept_c: float) -> Piece:
    """Return a statement as a piece."""
    return Piece(seconds(entry.from_at), seconds(min(entry.to_at, entry.at)), kept_c, kept_c)


def _at_most(pieces: Sequence[Piece], most_c: float) -> list[Piece]:
    """Return level pieces, none warmer than a temperature."""
    return [piece.shifted(min(0.0, most_c - piece.start)) for piece in pieces]


def _coolest(zone: Zone, offset_k: float, rules: Rules) -> float:
    """Return what nothing in a zone minds, in the air or in the bed [°C]."""
    minima_c = [layer.sheet.minimum_c for layer in zone.layers]
    return max(*_freezing(offset_k, rules), *minima_c) - offset_k


def _cold(read: Sequence[Seen], offset_k: float, rules: Rules) -> tuple[Cold, ...]:
    """Return what was read, as the bed had it, and whether that is freezing; in order."""
    surface_c, air_c = _freezing(offset_k, rules)
    found = []
    for look in read:
        by_air = look.place is Place.AIR
        bed_c = look.value_c + offset_k if by_air else look.value_c
        freezing = look.value_c <= (air_c if by_air else surface_c)
        found.append(Cold(look.at_s, look.value_c, bed_c, freezing))
    return tuple(sorted(found, key=lambda cold: (cold.at_s, cold.read_c)))


def _freezing(offset_k: float, rules: Rules) -> tuple[float, float]:
    """Return what is freezing at the surface and in the air [°C].

    A bed taken to be colder than its air freezes in warmer air.
    """
    surface_c = rules.frost.surface_c
    return surface_c, max(rules.frost.air_c, surface_c - offset_k)


def _kept_c(entry: Kept, readings: Sequence[Reading], series: Sequence[Series]) -> float:
    """Return what a signed statement is good for: no more than the coldest read meanwhile."""
    colder = contradicted(entry, readings, series)
    return entry.above_c if colder is None else colder[1]


def _assumed(expected: Expected, offset_k: float, rules: Rules) -> Assumed:
    coldest_c = expected.coldest_c
    if coldest_c is None:
        coldest_c = expected.air_c - rules.unmeasured.colder_k
    humidity = expected.humidity
    if humidity is None:
        humidity = rules.unmeasured.humidity_rh
    dampest = expected.dampest
    if dampest is None:
        dampest = min(humidity + rules.unmeasured.damper_rh, rules.unmeasured.dampest_rh)
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
    levels: tuple[Mapping[End, float], Mapping[End, float]],
    end: End,
    worst: Worst,
    floors: Sequence[tuple[float, float, float]],
    as_of_s: float,
) -> list[Piece]:
    """Return pieces from the origin to the horizon, what nothing covers filled in.

    `levels` are assumed up to `as_of_s`, and after it.
    """
    assumed, ahead = levels

    def gap(start_s: float, end_s: float, beside: list[float], *, inside: bool) -> Piece:
        if not inside and end is End.EARLIEST:
            return Piece(start_s, end_s, assumed[end], assumed[end])
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
    filled.append(Piece(as_of_s, as_of_s + HORIZON_S, ahead[end], ahead[end]))
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
    on_floor: Sequence[Cover],
    read_air: Cover,
    air: Sequence[Piece],
    kept_low: Sequence[Low],
    offset_k: float,
    rules: Rules,
) -> tuple[tuple[float, float], ...]:
    """Return the measured stretches at freezing: at the surface, or in the air where it is not.

    A surface that was read near by speaks against frost read in the air; one that is only held
    speaks against no more than what somebody stated of the air.
    """
    surface_c, air_c = _freezing(offset_k, rules)
    surface = colder_until_read(on_floor)
    read = merged(span for cover in on_floor for span in cover.read)
    covered = merged((piece.start_s, piece.end_s) for piece in surface)
    alone = [part for piece in read_air.pieces for part in without(piece, read)]
    alone += [part for piece in air for part in without(piece, covered)]
    spans = [piece.at_or_below(surface_c) for piece in surface]
    spans += [piece.at_or_below(air_c) for piece in alone]
    kept = [
        (low.start_s, low.end_s)
        for low in kept_low
        if low.low_c <= (air_c if low.place is Place.AIR else surface_c)
    ]
    return merged([*(span for span in spans if span is not None), *kept])
