"""Rates: how much of an hour counts at a temperature and a humidity, from 0 to 1.

Warmth above a data sheet's own conditions never makes anything ready sooner: every rate is cut
off at 1. Below the sheet's minimum nothing counts.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import field
from itertools import pairwise
from typing import Protocol

from curecal.records import Record, record
from curecal.science.cement import (
    REFERENCE_C,
    rate_freiesleben_hansen_pedersen_1977,
    rate_inside,
)
from curecal.science.doubling import RESIN_DOUBLING_K, rate_doubling
from curecal.science.history import Segment
from curecal.science.humid_air import saturation_pressure_over_water, vapor_pressure_deficit
from curecal.science.validity import refuse, require

# Where water freezes: nothing counts below, and the law of vapor is that of liquid water.
FREEZING_C = 0.0

# A data sheet beyond these is misread: nothing is laid so cold, nothing rated so hot.
_LOWEST_MINIMUM_C = -20.0
_HIGHEST_RATED_C = 60.0
_HALVINGS = 48
"""Enough to find a place as finely as binary fractions tell apart."""

_SAMPLES = 16
"""Looks along a segment on which a rate may rise and fall again."""


class Rate(Protocol):
    """What share of each instant counts toward a wait."""

    @property
    def breaks_c(self) -> tuple[float, ...]:
        """Temperatures at which the rate jumps or bends [°C]."""
        ...

    @property
    def breaks_rh(self) -> tuple[float, ...]:
        """Relative humidities at which the rate jumps or bends, fractions [1].

        A rate that depends on the humidity at all has one.
        """
        ...

    def at(self, *, temperature_c: float, humidity: float) -> float:
        """Return the share of an instant that counts, from 0 to 1 [1]."""
        ...

    def bends(self, segment: Segment, /) -> tuple[float, ...]:
        """Return fractions of the way through a segment where the rate bends besides [1]."""
        ...

    def __hash__(self) -> int:
        """Return the same for rates alike: sums are kept by their rate."""
        ...


@record(kw_only=True)
class CementRate(Record):
    """Rate of hardening of cement by Freiesleben Hansen & Pedersen 1977 against a sheet's rating.

    Attributes:
        rated_c: Temperature the sheet's waits hold at [°C].
        minimum_c: Temperature strictly below which nothing counts [°C].
        doubling_k: The sheet's own step that doubles time, or None; the lesser rate counts [K].
        rated_rate: The law's rate at the rating, relative to that at 20 °C [1].
    """

    rated_c: float
    minimum_c: float
    doubling_k: float | None = None
    breaks_c: tuple[float, ...] = field(init=False)
    breaks_rh: tuple[float, ...] = field(init=False)
    rated_rate: float = field(init=False)

    def __post_init__(self) -> None:
        """Refuse what is no rating, and find where the law and the doubling step change places."""
        _require_rating(rated_c=self.rated_c, minimum_c=self.minimum_c)
        object.__setattr__(self, "rated_rate", rate_freiesleben_hansen_pedersen_1977(self.rated_c))
        breaks_c = {self.minimum_c, self.rated_c, REFERENCE_C, FREEZING_C}
        if self.doubling_k is not None:
            require("doubling_k", self.doubling_k, low=1.0, high=100.0)
            breaks_c.update(self._changes_c(self.doubling_k))
        object.__setattr__(self, "breaks_c", tuple(sorted(breaks_c)))
        object.__setattr__(self, "breaks_rh", ())

    def at(self, *, temperature_c: float, humidity: float) -> float:
        """Return the share of an instant that counts [1]."""
        del humidity  # the shape of Rate; this one does not depend on it
        if not temperature_c >= self.minimum_c:
            return 0.0
        if temperature_c >= self.rated_c:
            return 1.0
        # A rating lies inside the law's range, and so does all between it and its minimum.
        law = rate_inside(temperature_c) / self.rated_rate
        if self.doubling_k is None:
            return law
        doubling_k = self.doubling_k
        return min(
            law,
            rate_doubling(temperature_c=temperature_c, rated_c=self.rated_c, doubling_k=doubling_k),
        )

    def bends(self, _segment: Segment, /) -> tuple[float, ...]:
        """Return nothing: every bend is at a temperature."""
        return ()

    def _changes_c(self, doubling_k: float) -> tuple[float, ...]:
        def lead(temperature_c: float) -> float:
            law = rate_freiesleben_hansen_pedersen_1977(temperature_c) / self.rated_rate
            return math.log(law) - math.log(2.0) * (temperature_c - self.rated_c) / doubling_k

        # One kelvin apart is close enough: both logarithms are nearly straight.
        count = max(1, math.ceil(self.rated_c - self.minimum_c))
        return _sign_changes(lead, start=self.minimum_c, end=self.rated_c, samples=count)


@record(kw_only=True)
class ReactionRate(Record):
    """Rate of cure of a reaction resin against a sheet's rating: time doubles per 10 K.

    Attributes:
        rated_c: Temperature the sheet's waits hold at [°C].
        minimum_c: Temperature strictly below which nothing counts [°C].
    """

    rated_c: float
    minimum_c: float
    breaks_c: tuple[float, ...] = field(init=False)
    breaks_rh: tuple[float, ...] = field(init=False)

    def __post_init__(self) -> None:
        """Refuse what is no rating."""
        _require_rating(rated_c=self.rated_c, minimum_c=self.minimum_c)
        object.__setattr__(self, "breaks_c", tuple(sorted({self.minimum_c, self.rated_c})))
        object.__setattr__(self, "breaks_rh", ())

    def at(self, *, temperature_c: float, humidity: float) -> float:
        """Return the share of an instant that counts [1]."""
        del humidity  # the shape of Rate; this one does not depend on it
        if not temperature_c >= self.minimum_c:
            return 0.0
        if temperature_c >= self.rated_c:
            return 1.0
        return rate_doubling(
            temperature_c=temperature_c, rated_c=self.rated_c, doubling_k=RESIN_DOUBLING_K
        )

    def bends(self, _segment: Segment, /) -> tuple[float, ...]:
        """Return nothing: every bend is at a temperature."""
        return ()


@record(kw_only=True)
class DryingRate(Record):
    """Rate of drying: vapor-pressure deficit over water against that of a sheet's conditions.

    Attributes:
        rated_c: Temperature the sheet's waits hold at [°C].
        rated_rh: Relative humidity the sheet's waits hold at, a fraction [1].
        minimum_c: Temperature strictly below which nothing counts [°C]; never below 0 °C.
        limit_rh: Relative humidity from which nothing counts, a fraction [1].
        rated_pa: The vapor-pressure deficit of the sheet's conditions [Pa].
    """

    rated_c: float
    rated_rh: float
    minimum_c: float
    limit_rh: float
    breaks_c: tuple[float, ...] = field(init=False)
    breaks_rh: tuple[float, ...] = field(init=False)
    rated_pa: float = field(init=False)

    def __post_init__(self) -> None:
        """Refuse what is no rating; air that cannot dry anything cannot be a rating."""
        _require_rating(rated_c=self.rated_c, minimum_c=self.minimum_c)
        require("rated_c", self.rated_c, low=1.0, high=_HIGHEST_RATED_C)
        require("rated_rh", self.rated_rh, low=0.0, high=0.95)
        require("limit_rh", self.limit_rh, low=0.01, high=1.0)
        rated_pa = vapor_pressure_deficit(temperature_c=self.rated_c, humidity=self.rated_rh)
        object.__setattr__(self, "rated_pa", rated_pa)
        object.__setattr__(self, "breaks_c", tuple(sorted({self.minimum_c, FREEZING_C})))
        object.__setattr__(self, "breaks_rh", (self.limit_rh,))

    def at(self, *, temperature_c: float, humidity: float) -> float:
        """Return the share of an instant that counts [1]."""
        if not temperature_c >= max(self.minimum_c, FREEZING_C) or not humidity < self.limit_rh:
            return 0.0
        deficit_pa = vapor_pressure_deficit(temperature_c=temperature_c, humidity=humidity)
        return min(1.0, deficit_pa / self.rated_pa)

    def bends(self, segment: Segment, /) -> tuple[float, ...]:
        """Return the fractions of the way where the deficit passes the rated one [1]."""
        colder_c = max(FREEZING_C, min(segment.start_c, segment.end_c))
        warmer_c = max(FREEZING_C, segment.start_c, segment.end_c)
        drier = min(segment.start_rh, segment.end_rh)
        damper = max(segment.start_rh, segment.end_rh)
        if (
            vapor_pressure_deficit(temperature_c=warmer_c, humidity=drier) <= self.rated_pa
            or vapor_pressure_deficit(temperature_c=colder_c, humidity=damper) >= self.rated_pa
        ):
            return ()

        def lead(fraction: float) -> float:
            temperature_c = segment.start_c + (segment.end_c - segment.start_c) * fraction
            humidity = segment.start_rh + (segment.end_rh - segment.start_rh) * fraction
            saturation_pa = saturation_pressure_over_water(max(FREEZING_C, temperature_c))
            return saturation_pa * (1.0 - humidity) - self.rated_pa

        # Warmer while drier, or the other way: the deficit only rises or only falls. Warmer while
        # damper: it may rise and fall again, so look closer.
        moves = (segment.end_c - segment.start_c) * (segment.end_rh - segment.start_rh)
        return _sign_changes(lead, start=0.0, end=1.0, samples=_SAMPLES if moves > 0.0 else 1)


@record(kw_only=True)
class TableRate(Record):
    """Rate by a sheet's own table of waits, against the wait at its warmest temperature.

    Between two rows the rate (one over the wait) is linear in temperature. Below the table the
    slower of its cold end and the law counts; above it the rate is cut off at 1. Where the law
    gives nothing (too cold, too damp), the table gives nothing either.

    Attributes:
        points: Temperature, rising [°C], and wait, never longer when warmer [s].
        law: The rate below the table, rated at the table's warmest temperature.
        rates: Temperature [°C] and rate [1] of each row.
    """

    points: tuple[tuple[float, float], ...]
    law: Rate
    breaks_c: tuple[float, ...] = field(init=False)
    breaks_rh: tuple[float, ...] = field(init=False)
    rates: tuple[tuple[float, float], ...] = field(init=False)

    def __post_init__(self) -> None:
        """Refuse a table that is not one: colder must never be sooner."""
        if not self.points:
            refuse("wait-table-empty")
        for temperature_c, wait_s in self.points:
            require("temperature_c", temperature_c, low=_LOWEST_MINIMUM_C, high=_HIGHEST_RATED_C)
            require("wait_s", wait_s, low=1.0, high=1e9)
        for (cold_c, cold_s), (warm_c, warm_s) in pairwise(self.points):
            if not (cold_c < warm_c and cold_s >= warm_s):
                refuse("wait-table-not-falling", cold_c=cold_c, warm_c=warm_c)
        if self.law.at(temperature_c=self.rated_c, humidity=0.0) != 1.0:
            refuse("wait-table-law-rated-elsewhere", rated_c=self.rated_c)
        rates = tuple((row_c, self.rated_wait_s / wait_s) for row_c, wait_s in self.points)
        object.__setattr__(self, "rates", rates)
        rows_c = {row_c for row_c, _ in self.points}
        object.__setattr__(self, "breaks_c", tuple(sorted(rows_c.union(self.law.breaks_c))))
        object.__setattr__(self, "breaks_rh", self.law.breaks_rh)

    @property
    def rated_c(self) -> float:
        """The table's warmest temperature [°C]."""
        return self.points[-1][0]

    @property
    def rated_wait_s(self) -> float:
        """The wait at the table's warmest temperature: the age to reach [s]."""
        return self.points[-1][1]

    def at(self, *, temperature_c: float, humidity: float) -> float:
        """Return the share of an instant that counts [1]."""
        by_law = self.law.at(temperature_c=temperature_c, humidity=humidity)
        if by_law == 0.0:
            return 0.0
        coldest_c, coldest_rate = self.rates[0]
        if temperature_c < coldest_c:
            return min(by_law, coldest_rate)
        for (cold_c, cold_rate), (warm_c, warm_rate) in pairwise(self.rates):
            if temperature_c < warm_c:
                part = (temperature_c - cold_c) / (warm_c - cold_c)
                return cold_rate + (warm_rate - cold_rate) * part
        return 1.0

    def bends(self, segment: Segment, /) -> tuple[float, ...]:
        """Return where the law bends, and where it passes the table's cold end [1]."""
        bends = self.law.bends(segment)
        coldest_c, coldest_rate = self.rates[0]
        if min(segment.start_c, segment.end_c) >= coldest_c:
            return bends

        def lead(fraction: float) -> float:
            temperature_c = segment.start_c + (segment.end_c - segment.start_c) * fraction
            humidity = segment.start_rh + (segment.end_rh - segment.start_rh) * fraction
            return self.law.at(temperature_c=temperature_c, humidity=humidity) - coldest_rate

        return bends + _sign_changes(lead, start=0.0, end=1.0, samples=_SAMPLES)


@record
class UnfrozenRate(Record):
    """Another rate, with nothing counted at or below 0 °C.

    Attributes:
        inner: The rate above 0 °C.
    """

    inner: Rate

    @property
    def breaks_c(self) -> tuple[float, ...]:
        """Temperatures at which the rate jumps or bends [°C]."""
        return (*self.inner.breaks_c, FREEZING_C)

    @property
    def breaks_rh(self) -> tuple[float, ...]:
        """Relative humidities at which the rate jumps or bends, fractions [1]."""
        return self.inner.breaks_rh

    def at(self, *, temperature_c: float, humidity: float) -> float:
        """Return the share of an instant that counts [1]."""
        if not temperature_c > FREEZING_C:
            return 0.0
        return self.inner.at(temperature_c=temperature_c, humidity=humidity)

    def bends(self, segment: Segment, /) -> tuple[float, ...]:
        """Return where the inner rate bends [1]."""
        return self.inner.bends(segment)


@record
class UnhinderedRate(Record):
    """The rate of what needs no time of its own: every instant counts."""

    breaks_c: tuple[float, ...] = ()
    breaks_rh: tuple[float, ...] = ()

    def at(self, *, temperature_c: float, humidity: float) -> float:
        """Return 1: every instant counts [1]."""
        del temperature_c, humidity  # the shape of Rate; this one does not depend on them
        return 1.0

    def bends(self, _segment: Segment, /) -> tuple[float, ...]:
        """Return nothing: it never bends."""
        return ()


def _require_rating(*, rated_c: float, minimum_c: float) -> None:
    require("minimum_c", minimum_c, low=_LOWEST_MINIMUM_C, high=_HIGHEST_RATED_C)
    require("rated_c", rated_c, low=minimum_c, high=_HIGHEST_RATED_C)


def _sign_changes(
    lead: Callable[[float], float], *, start: float, end: float, samples: int
) -> tuple[float, ...]:
    """Return where a function changes its sign, found by sampling and then halving."""
    places = [start + (end - start) * index / samples for index in range(samples + 1)]
    ahead = [lead(place) > 0.0 for place in places]
    changes: list[float] = []
    for (low, high), (before, after) in zip(pairwise(places), pairwise(ahead), strict=True):
        if before == after:
            continue
        early, late = low, high
        for _ in range(_HALVINGS):
            middle = (early + late) / 2.0
            early, late = (early, middle) if (lead(middle) > 0.0) == after else (middle, late)
        changes.append(late)
    return tuple(changes)
