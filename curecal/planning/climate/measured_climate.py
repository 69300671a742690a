"""What readings say of a zone's climate: of the floor, its surface, the air, and the humidity."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from datetime import datetime
from typing import TYPE_CHECKING

from curecal.planning.climate.intervals import (
    PlaceIntervals,
    combine_ranks,
    combine_until_read,
    cut_out,
)
from curecal.planning.climate.pieces import Piece, Worst, merge_spans
from curecal.planning.climate.temperature_readings import (
    DisplayLow,
    find_display_lows,
    humidity_intervals,
    place_pieces,
)
from curecal.records import Record, record
from curecal.trade.rules import Rules
from curecal.trade.site_log import Place, Reading, Series

if TYPE_CHECKING:
    from curecal.planning.climate.polylines import Polyline


@record
class MeasuredClimate(Record):
    """What some readings cover: `ranks` as the bed has it [°C], the best first; the air as read.

    `bed` is the best of the ranks at each instant, `humid` the dampest, `lows` the displays'
    lowest values.
    """

    ranks: tuple[PlaceIntervals, ...]
    air: PlaceIntervals
    bed: tuple[Piece | Polyline, ...]
    humidity: PlaceIntervals
    humid: tuple[Piece | Polyline, ...]
    lows: tuple[DisplayLow, ...]

    @property
    def on_floor(self) -> tuple[PlaceIntervals, ...]:
        """Return what was read in the floor and on it."""
        return self.ranks[:-1]


def measure_climate(
    readings: Sequence[Reading],
    series: Sequence[Series],
    seconds: Callable[[datetime], float],
    rules: Rules,
    *,
    heated_at: datetime | None,
    unheated: bool,
    offset_k: float,
    until_s: float,
) -> MeasuredClimate:
    """Return what readings cover, from the origin on.

    Rule: R4, R5, R7.

    Args:
        readings: single readings.
        series: loggers' readings.
        seconds: an instant as seconds from the origin.
        heated_at: when the floor was first heated, if it was.
        unheated: whether nothing heats the house.
        offset_k: how much warmer than the air the bed is taken to be [K].
        until_s: the end of the history [s].
    """

    def read_of(place: Place) -> PlaceIntervals:
        whole = place_pieces(place, readings, series, seconds, rules, heated_at, unheated=unheated)
        # A value held between two readings may begin before the origin: cut only afterwards. What
        # a reading covers goes on after now, or the dates would slide while those hours pass.
        return whole.clipped(start_s=0.0, end_s=until_s)

    floor, surface, air = (read_of(place) for place in (Place.FLOOR, Place.SURFACE, Place.AIR))
    ranks = (floor, surface, air.shifted(offset_k))
    humidity = humidity_intervals(readings, series, seconds, rules).clipped(
        start_s=0.0, end_s=until_s
    )
    return MeasuredClimate(
        ranks=ranks,
        air=air,
        bed=tuple(combine_until_read(ranks)),
        humidity=humidity,
        humid=tuple(combine_ranks([humidity.pieces], max)),
        lows=tuple(find_display_lows(readings, seconds)),
    )


def no_better(
    counted: Sequence[Piece | Polyline], told: Sequence[Piece | Polyline], worst: Worst
) -> list[Piece | Polyline]:
    """Return pieces, the worse of them and of others where both cover an instant.

    What somebody says who is not of the job gives no credit; it can only take some.

    Rule: R24c.

    Args:
        counted: pieces that count, in order and apart.
        told: pieces that count only where they are worse.
        worst: `min` for temperatures, `max` for humidity.
    """
    spans = merge_spans((piece.start_s, piece.end_s) for piece in counted)
    inside: list[Piece | Polyline] = []
    for piece in told:
        beyond = cut_out(piece, spans)
        inside += cut_out(piece, [(part.start_s, part.end_s) for part in beyond])
    return combine_ranks([[*counted, *inside]], worst)
