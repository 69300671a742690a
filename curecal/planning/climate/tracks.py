"""A long series' readings in columns: what `temperature_readings` and `outliers` say of short ones.

A short series is read one by one, and loads no numerical library. Both ways give the same.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from datetime import datetime

import numpy as np

from curecal.planning.climate.outliers import Outlier, level_of
from curecal.planning.climate.pieces import Piece
from curecal.planning.climate.polylines import Column, Polyline, split_line
from curecal.trade.logged_points import EPOCH, LoggedPoints, microseconds
from curecal.trade.rules import Rules


class Track:
    """A logger's readings of one kind: instants in order [s], and a value at each."""

    __slots__ = ("_lowest", "_outliers", "instants_s", "is_rising", "values")

    def __init__(self, instants_s: Column, values: Column, *, is_rising: bool) -> None:
        """Take both columns, and whether no two readings are of one instant."""
        self.instants_s = instants_s
        self.values = values
        self.is_rising = is_rising
        self._lowest: float | None = None
        self._outliers: tuple[Rules, list[Outlier]] | None = None

    def __len__(self) -> int:
        return len(self.values)

    def shifted(self, by: float) -> Track:
        """Return the track with its values moved."""
        return Track(self.instants_s, self.values + by, is_rising=self.is_rising)

    def near(self, start_s: float, end_s: float) -> list[tuple[float, float]]:
        """Return the readings from one instant to another, both included."""
        first = self.instants_s.searchsorted(start_s, side="left")
        last = self.instants_s.searchsorted(end_s, side="right")
        return _pairs(self.instants_s[first:last], self.values[first:last])

    def at_most(self, most: float) -> list[tuple[float, float]]:
        """Return the readings no higher than a value."""
        if self._lowest is None:
            self._lowest = float(np.minimum.reduce(self.values, initial=np.inf))
        if self._lowest > most:
            return []
        low = self.values <= most
        return _pairs(self.instants_s[low], self.values[low])

    def lines(self, interval_s: float) -> list[Polyline]:
        """Return the lines through its readings."""
        return split_line(self.instants_s, self.values, interval_s=interval_s)

    def find_outliers(self, rules: Rules) -> list[Outlier]:
        """Return where readings jump as no room does, and single ones far from both neighbors.

        Rule: R5.
        """
        # What counts of a logger and what is asked about it rest on the same.
        if self._outliers is None or self._outliers[0] is not rules:
            self._outliers = rules, self._find_outliers(rules)
        return self._outliers[1]

    def _find_outliers(self, rules: Rules) -> list[Outlier]:
        spots = rules.spot_readings
        steps = self.values[1:] - self.values[:-1]
        # A value is no further from both its neighbors than from either.
        if not len(steps) or np.abs(steps).max() <= spots.jump_k:
            return []
        steps_s = self.instants_s[1:] - self.instants_s[:-1]
        jumps = (steps_s > 0.0) & (steps_s <= spots.jump_s) & (np.abs(steps) > spots.jump_k)
        found = [
            Outlier(float(self.instants_s[place + 1]), *self.values[place : place + 2].tolist())
            for place in jumps.nonzero()[0].tolist()
        ]
        near = (steps_s[1:] <= spots.lone_s) & (steps_s[:-1] <= spots.lone_s)
        before, here, after = self.values[:-2], self.values[1:-1], self.values[2:]
        coldest, warmest = np.minimum(before, after), np.maximum(before, after)
        below, above = coldest - here, here - warmest
        alone = near & (np.maximum(below, above) > spots.jump_k)
        beside = np.where(above > below, coldest, warmest)
        found += [
            Outlier(
                float(self.instants_s[place + 1]),
                float(beside[place]),
                float(here[place]),
                alone=True,
            )
            for place in alone.nonzero()[0].tolist()
        ]
        return sorted(found, key=lambda doubt: (doubt.at_s, doubt.alone))

    def lowered(self, rules: Rules) -> Track:
        """Return the readings with the warm side of every jump as cold as the cold one.

        Rule: R5.
        """
        doubts = self.find_outliers(rules)
        if not doubts:
            return self
        values, instants_s = self.values.copy(), self.instants_s.tolist()
        for doubt in doubts:
            first, last, cold_c = level_of(doubt, instants_s, rules)
            np.minimum(values[first:last], cold_c, out=values[first:last])
        return Track(self.instants_s, values, is_rising=self.is_rising)

    def at_same(self, other: Track) -> Track:
        """Return the values at another's instants, each of which is one of its own."""
        places = self.instants_s.searchsorted(other.instants_s)
        return Track(other.instants_s, self.values[places], is_rising=other.is_rising)

    def over(self, lines: Iterable[Polyline | Piece], spots: Sequence[tuple[float, float]], *,
             together_s: float) -> list[tuple[float, float]]:  # fmt: skip
        """Return how much higher each reading is than the highest of what lies beside it.

        Args:
            lines: what runs beside it.
            spots: single readings (instant [s], value).
            together_s: how near a single reading is beside one [s].

        Returns:
            (instant [s], difference) of each reading that has something beside it.
        """
        highest = np.full(len(self), -np.inf)

        def raise_to(start_s: float, end_s: float, value: Polyline | Piece | float) -> None:
            first = self.instants_s.searchsorted(start_s, side="left")
            last = self.instants_s.searchsorted(end_s, side="right")
            here = self.instants_s[first:last]
            if isinstance(value, Polyline):
                beside = value.at_each(here)
            elif isinstance(value, Piece):
                beside = np.array([value.at(at_s) for at_s in here.tolist()])
            else:
                beside = np.full(len(here), value)
            np.maximum(highest[first:last], beside, out=highest[first:last])

        for line in lines:
            raise_to(line.start_s, line.end_s, line)
        for at_s, value in spots:
            raise_to(at_s - together_s, at_s + together_s, value)
        known = np.isfinite(highest)
        return _pairs(self.instants_s[known], (self.values - highest)[known])


def read_track(
    points: LoggedPoints,
    seconds: Callable[[datetime], float],
    until: datetime | None = None,
    *,
    humid: bool = False,
) -> Track:
    """Return a series' temperatures, or its humidities.

    Rule: R4.

    Args:
        points: the series.
        seconds: an instant as seconds from the origin.
        until: only what was read before, where that is said.
        humid: whether its humidities are asked for.
    """
    origin_us = -round(seconds(EPOCH) * 1e6)
    return points.derived(
        (humid, origin_us, until), lambda: _read_track(points, origin_us, until, humid=humid)
    )


def _read_track(
    points: LoggedPoints, origin_us: int, until: datetime | None, *, humid: bool
) -> Track:
    column = np.asarray(points.humidity if humid else points.temperature_c)
    instants_s, is_rising = points.derived(origin_us, lambda: _read_instants(points, origin_us))
    left_out = np.isnan(column)
    if until is not None:
        left_out |= np.asarray(points.at_us) >= microseconds(until)
    if left_out.any():
        instants_s, column = instants_s[~left_out], column[~left_out]
    if not is_rising:
        order = np.lexsort((column, instants_s))
        instants_s, column = instants_s[order], column[order]
    return Track(instants_s, column, is_rising=is_rising)


def _read_instants(points: LoggedPoints, origin_us: int) -> tuple[Column, bool]:
    """Return a series' instants [s], and whether each is later than the one before it."""
    # Whole microseconds become seconds as a duration's own total does, to the last bit.
    instants_s = (np.asarray(points.at_us) - origin_us) / 1e6
    return instants_s, bool(np.logical_and.reduce(instants_s[1:] > instants_s[:-1]))


def merge_tracks(tracks: Sequence[Track]) -> Track:
    """Return readings of one logger in however many parts: of two at one instant the lower.

    Rule: R4.
    """
    if len(tracks) == 1 and tracks[0].is_rising:
        return tracks[0]
    instants_s = np.concatenate([track.instants_s for track in tracks])
    values = np.concatenate([track.values for track in tracks])
    order = np.lexsort((values, instants_s))
    instants_s, values = instants_s[order], values[order]
    # Parts may have nothing: of one in the floor, all may be read after the heat was on.
    first = np.concatenate(([True], instants_s[1:] > instants_s[:-1]))[: len(instants_s)]
    return Track(instants_s[first], values[first], is_rising=True)


def find_lowest(
    points: LoggedPoints, start: datetime, end: datetime, below: float
) -> tuple[float, datetime] | None:
    """Return the lowest temperature of a stretch that is below a value, and when it was read.

    Rule: R7.

    Args:
        points: the series.
        start: the first instant.
        end: the last instant.
        below: what it must be below [°C].

    Returns:
        The value [°C] and the instant; None where nothing is below.
    """
    at_us = np.asarray(points.at_us)
    values = np.asarray(points.temperature_c)
    lower = (at_us >= microseconds(start)) & (at_us <= microseconds(end)) & (values < below)
    if not lower.any():
        return None
    lowest = values[lower].min()
    place = (lower & (values == lowest)).nonzero()[0]
    return float(lowest), points[int(place[at_us[place].argmin()])][0]


def _pairs(instants_s: Column, values: Column) -> list[tuple[float, float]]:
    return list(zip(instants_s.tolist(), values.tolist(), strict=True))
