"""A zone's climate over time: what was measured, and what is assumed where nothing was.

Two histories come out, one per end of a window: under the expected climate, and under the
coldest and dampest. They agree wherever readings cover an instant.
Seconds count from `origin`.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from datetime import UTC, datetime, tzinfo
from enum import StrEnum
from typing import TYPE_CHECKING

from curecal.instants import add
from curecal.planning.climate.coldest import (
    Histories,
    find_coldest_twice,
    find_stated_coldest,
)
from curecal.planning.climate.intervals import (
    clip_pieces,
    combine_ranks,
    combine_until_read,
    cut_out,
)
from curecal.planning.climate.measured_climate import (
    MeasuredClimate,
    measure_climate,
    no_better,
)
from curecal.planning.climate.pieces import Piece, covered_until, covered_within, merge_spans
from curecal.planning.climate.silence import Assumption, fill_silence, find_near
from curecal.planning.climate.temperature_readings import (
    DisplayLow,
    ReadTemperature,
    find_cold,
    find_contradiction,
    find_first_heated,
)
from curecal.planning.climate.under_air import compute_bed_offset
from curecal.planning.site_log.log_at_instant import Facts
from curecal.records import Record, record
from curecal.science.history import Segment
from curecal.trade.job import Below, Expected, HeatedBy, Zone
from curecal.trade.rules import Rules
from curecal.trade.site_log import Kept, Place, Reading, Series

if TYPE_CHECKING:
    from curecal.planning.climate.polylines import Polyline
    from curecal.science.segment_run import SegmentRun

HORIZON_S = 3 * 365 * 86400.0
"""How far ahead a history goes on: three years; what has not cured by then has no date."""


class End(StrEnum):
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
class ColdReading(Record):
    """A temperature that was read, as the bed had it, and whether that is freezing."""

    at_s: float
    read_c: float
    bed_c: float
    freezing: bool


@record
class Climate(Record):
    """A zone's two histories with what they are made of.

    `measured` are the stretches [s] up to now that temperature facts cover, in order and apart.
    What the last of them cover may go on for a few hours: `frost` are the stretches at freezing,
    `bed` the bed temperature, `air` the room air by facts. Until `one_until_s` both histories are
    surely one. `cold_readings` are what was read cold enough to matter, in order.
    """

    origin: datetime
    histories: Mapping[End, tuple[Segment | SegmentRun, ...]]
    measured: tuple[tuple[float, float], ...]
    bed: tuple[Piece | Polyline, ...]
    air: tuple[Piece | Polyline, ...]
    frost: tuple[tuple[float, float], ...]
    assumed: Assumed
    as_of_s: float
    one_until_s: float
    cold_readings: tuple[ColdReading, ...] = ()

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
        if not first < last or not self.measured:
            return 0.0
        return min(covered_within(self.measured, first, last) / (last - first), 1.0)


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
        origin: where the histories begin; not after any clock's start.
        ahead: the climate expected after `facts.as_of`, where it is to be another.
        site: the site's time zone, which says when it is night.

    Returns:
        The climate, with histories from `origin` to three years after `facts.as_of`.
    """
    if expected.below is not None:
        return _make_climate(zone, expected, facts, origin, rules, ahead, site)

    def over(below: Below) -> Climate:
        later = None if ahead is None else replace(ahead, below=below)
        known = replace(expected, below=below)
        return _make_climate(zone, known, facts, origin, rules, later, site)

    # Nobody said what lies below: the late end has to hold over ground too.
    warm, cold = over(Below.HEATED_ROOM), over(Below.GROUND)
    bed_c = {
        End.EARLIEST: warm.assumed.bed_c[End.EARLIEST],
        End.LATEST: cold.assumed.bed_c[End.LATEST],
    }
    histories = {
        End.EARLIEST: warm.histories[End.EARLIEST],
        End.LATEST: cold.histories[End.LATEST],
    }
    assumed = replace(warm.assumed, bed_c=bed_c)
    return replace(warm, histories=histories, assumed=assumed, one_until_s=0.0)


def _make_climate(
    zone: Zone,
    expected: Expected,
    facts: Facts,
    origin: datetime,
    rules: Rules,
    ahead: Expected | None,
    site: tzinfo,
) -> Climate:
    """Return a zone's climate where it is known what lies below."""

    def seconds(at: datetime) -> float:
        return (at - origin).total_seconds()

    as_of_s = max(seconds(facts.as_of), 0.0)
    until_s = as_of_s + HORIZON_S
    readings = facts.of(Reading, zone)
    series = facts.of(Series, zone)
    heated_at = find_first_heated(facts, zone)
    unheated = expected.heated_by is HeatedBy.NOTHING

    def cut(pieces: Sequence[Piece | Polyline]) -> list[Piece | Polyline]:
        return clip_pieces(pieces, start_s=0.0, end_s=as_of_s)

    # Who is not of the job gives no credit: what they read counts only where it is worse. So does
    # a floor's temperature of which nobody said whether it was heated: it was no warmer without.
    own_told = (
        tuple(entry for entry in readings if facts.is_from_the_job(entry)),
        tuple(entry for entry in series if facts.is_from_the_job(entry)),
    )
    readings = tuple(_as_unheated(entry, heated_at) for entry in readings)
    tellings = [own_told] if own_told == (readings, series) else [own_told, (readings, series)]
    offset_k = min(compute_bed_offset(expected, *told, origin, rules, site) for told in tellings)

    def measure(told: Sequence[Reading], logged: Sequence[Series]) -> MeasuredClimate:
        return measure_climate(
            told,
            logged,
            seconds,
            rules,
            heated_at=heated_at,
            unheated=unheated,
            offset_k=offset_k,
            until_s=until_s,
        )

    measured = [measure(*told) for told in tellings]
    own = measured[0]

    # Nobody can sign for what is still to come: what lies after the signature is a forecast.
    made = [stay for stay in facts.of(Kept, zone) if stay.from_at < min(stay.to_at, stay.at)]
    stated = [(stay, _kept(stay, seconds, _kept_c(stay, readings, series))) for stay in made]
    signed = cut([piece for stay, piece in stated if facts.counts(stay)])
    # What nobody signed gives no credit, and silence is no warmer than it. Whether it is colder
    # than expected is not asked: frost would else depend on what somebody expects.
    unsigned = cut([piece for stay, piece in stated if not facts.counts(stay)])
    told_c = find_stated_coldest(expected, rules)
    cold_again = find_cold(readings, series, (), seconds, heated_at, told_c)
    coldest_c = find_coldest_twice(cold_again, told_c, offset_k, rules)
    assumed = _assumed(replace(expected, coldest_c=coldest_c), offset_k, rules)
    # Another climate ahead comes with its own coldest.
    later = assumed if ahead is None or ahead == expected else _assumed(ahead, offset_k, rules)
    kept_low = [low for told in measured for low in told.lows]
    near_s = rules.unmeasured.near_s
    # "So much at least" is no reading: it counts where there is none.
    counted = combine_ranks([own.bed, [piece.shifted(offset_k) for piece in signed]], min)
    humid: Sequence[Piece | Polyline] = own.humid
    air = combine_ranks([own.air.pieces, signed], min)
    for everyones in measured[1:]:
        counted = no_better(counted, everyones.bed, min)
        humid = no_better(humid, everyones.humid, max)
        air = no_better(air, everyones.air.pieces, min)
    # When a display's lowest value was, nobody knows: it may have been at the end of its stretch.
    stretches = [(low.start_s, low.end_s + near_s, _bed_low(low, offset_k)) for low in kept_low]
    stretches += [(piece.start_s, piece.end_s, piece.lowest + offset_k) for piece in unsigned]
    # Near any reading, of whatever rank: what is assumed is weaker than all of them.
    read = [rank for told in measured for rank in told.ranks]
    near_bed = find_near(
        counted,
        [point for rank in read for point in rank.points],
        [track for rank in read for track in rank.tracks],
        stretches,
        near_s=near_s,
        until_s=until_s,
        worst=min,
    )
    near_humid = find_near(
        humid,
        [point for told in measured for point in told.humidity.points],
        [track for told in measured for track in told.humidity.tracks],
        (),
        near_s=near_s,
        until_s=until_s,
        worst=max,
    )

    def lines_of(end: End) -> tuple[Sequence[Piece | Polyline], Sequence[Piece | Polyline]]:
        bed = Assumption(assumed.bed_c[end], later.bed_c[end], as_of_s, until_s)
        damp = Assumption(assumed.humidity[end], later.humidity[end], as_of_s, until_s)
        return fill_silence(counted, near_bed, bed, min), fill_silence(humid, near_humid, damp, max)

    said_air = combine_ranks([air, unsigned], min)
    frost = merge_spans(
        span for told in measured for span in _frost(told, said_air, offset_k, rules)
    )
    coolest_c = _coolest(zone, offset_k, rules)
    cold = find_cold(readings, series, made, seconds, heated_at, coolest_c)
    levels = [told for one in (assumed, later) for told in (one.bed_c, one.humidity)]
    is_one = all(told[End.EARLIEST] == told[End.LATEST] for told in levels)
    return Climate(
        origin,
        Histories(End, lines_of),
        merge_spans((piece.start_s, piece.end_s) for piece in cut(counted)),
        tuple(counted),
        tuple(air),
        frost,
        later,
        as_of_s,
        until_s if is_one else min(covered_until(counted), covered_until(humid)),
        _judge_cold(cold, offset_k, rules),
    )


def _as_unheated(reading: Reading, heated_at: datetime | None) -> Reading:
    """Return a floor reading as one with the heating off, where nobody said that it was on.

    Before the floor was first heated, that is: what is heated says nothing of the bed's own warmth.
    """
    unsaid = reading.place is Place.FLOOR and not reading.heating_on
    is_before = heated_at is None or reading.at < heated_at
    return replace(reading, heating_off=True) if unsaid and is_before else reading


def _bed_low(low: DisplayLow, offset_k: float) -> float:
    """Return a display's lowest value as the bed had it [°C]."""
    return low.low_c + (offset_k if low.place is Place.AIR else 0.0)


def _kept(entry: Kept, seconds: Callable[[datetime], float], kept_c: float) -> Piece:
    """Return a statement as a piece."""
    return Piece(seconds(entry.from_at), seconds(min(entry.to_at, entry.at)), kept_c, kept_c)


def _coolest(zone: Zone, offset_k: float, rules: Rules) -> float:
    """Return what nothing in a zone minds, in the air or in the bed [°C]."""
    minima_c = [layer.sheet.minimum_c for layer in zone.layers]
    return max(*_freezing(offset_k, rules), *minima_c) - offset_k


def _judge_cold(
    read: Sequence[ReadTemperature], offset_k: float, rules: Rules
) -> tuple[ColdReading, ...]:
    """Return what was read, as the bed had it, and whether that is freezing; in order."""
    surface_c, air_c = _freezing(offset_k, rules)
    found = []
    for told in read:
        by_air = told.place is Place.AIR
        bed_c = told.value_c + offset_k if by_air else told.value_c
        freezing = told.value_c <= (air_c if by_air else surface_c)
        found.append(ColdReading(told.at_s, told.value_c, bed_c, freezing))
    return tuple(sorted(found, key=lambda cold: (cold.at_s, cold.read_c)))


def _freezing(offset_k: float, rules: Rules) -> tuple[float, float]:
    """Return what is freezing at the surface and in the air [°C].

    A bed taken to be colder than its air freezes in warmer air.
    """
    surface_c = rules.frost.surface_c
    return surface_c, max(rules.frost.air_c, surface_c - offset_k)


def _kept_c(entry: Kept, readings: Sequence[Reading], series: Sequence[Series]) -> float:
    """Return what a signed statement is good for: no more than the coldest read meanwhile."""
    colder = find_contradiction(entry, readings, series)
    return entry.above_c if colder is None else colder[1]


def _assumed(expected: Expected, offset_k: float, rules: Rules) -> Assumed:
    coldest_c = find_stated_coldest(expected, rules)
    humidity = expected.humidity
    if humidity is None:
        humidity = rules.unmeasured.humidity_rh
    dampest = expected.dampest
    if dampest is None:
        dampest = min(humidity + rules.unmeasured.damper_rh, rules.unmeasured.dampest_rh)
    return Assumed(
        bed_c={
            End.EARLIEST: expected.air_c + offset_k,
            End.LATEST: coldest_c + offset_k,
        },
        humidity={End.EARLIEST: humidity, End.LATEST: max(dampest, humidity)},
        offset_k=offset_k,
        air_c=expected.air_c,
        coldest_air_c=coldest_c,
    )


def _frost(
    measured: MeasuredClimate,
    air: Sequence[Piece | Polyline],
    offset_k: float,
    rules: Rules,
) -> tuple[tuple[float, float], ...]:
    """Return the measured stretches at freezing: at the surface, or in the air where it is not.

    A surface that was read near by speaks against frost read in the air; one that is only held
    speaks against no more than what somebody stated of the air.
    """
    surface_c, air_c = _freezing(offset_k, rules)
    surface = combine_until_read(measured.on_floor)
    read = merge_spans(span for cover in measured.on_floor for span in cover.read)
    covered = merge_spans((piece.start_s, piece.end_s) for piece in surface)
    alone = [part for piece in measured.air.pieces for part in cut_out(piece, read)]
    alone += [part for piece in air for part in cut_out(piece, covered)]
    spans = [span for piece in surface for span in piece.spans_at_or_below(surface_c)]
    spans += [span for piece in alone for span in piece.spans_at_or_below(air_c)]
    kept = [
        (low.start_s, low.end_s)
        for low in measured.lows
        if low.low_c <= (air_c if low.place is Place.AIR else surface_c)
    ]
    return merge_spans([*spans, *kept])
