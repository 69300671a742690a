"""One rate's clock over a climate: what has counted between two instants, and when enough has."""

from __future__ import annotations

from datetime import datetime

from curecal.instants import after, ceil_second
from curecal.planning.climate.zone_climate import Climate, End
from curecal.planning.plan import Step
from curecal.science.age import Accumulator, KeptAges
from curecal.science.rate import Rate
from curecal.trade.data_sheets import Hardening


class RateClock:
    """The running sums of one rate over a climate, at both ends, for every wait that runs on it.

    `told` is what was said of how fast it runs, by law, rating and minimum.
    """

    __slots__ = ("_climate", "_kept", "_one_until", "_reached", "_sums", "rate", "told")

    def __init__(self, rate: Rate, climate: Climate, kept: KeptAges, one_until: datetime) -> None:
        """Take the rate, the climate, and what keeps the sums of long runs.

        Args:
            rate: what share of each instant counts.
            climate: the climate.
            kept: what keeps the sums of long runs.
            one_until: until when both ends have one history.
        """
        self.rate = rate
        self.told: dict[tuple[Hardening, float, float], tuple[Step, ...]] = {}
        self._climate = climate
        self._kept = kept
        self._one_until = one_until
        self._sums: dict[End, Accumulator] = {}
        self._reached: dict[tuple[End, datetime, float], datetime | None] = {}

    def sums(self, end: End) -> Accumulator:
        """Return the running sums under one of the two climates."""
        found = self._sums.get(end)
        if found is None:
            found = Accumulator(self._climate.histories[end], self.rate, self._kept)
            self._sums[end] = found
        return found

    def age_s(self, end: End, start: datetime, until: datetime) -> float:
        """Return the equivalent age from one instant to another [s].

        Rule: R4.
        """
        sums, climate = self.sums(end), self._climate
        return sums.age(climate.seconds(until)) - sums.age(climate.seconds(start))

    def reach(self, end: End, start: datetime, wait_s: float) -> datetime | None:
        """Return when an age has been reached, rounded up to the second; None for never.

        Rule: R8.
        """
        # Nothing to wait for is over at once, also beyond the end of the history.
        if wait_s <= 0.0:
            return ceil_second(start)
        # Frost, the order of work and several milestones ask for the same wait.
        asked = (end, start, wait_s)
        if asked in self._reached:
            return self._reached[asked]
        # What both ends were measured to be is over for both at once.
        early_at = self._reached.get((End.EARLIEST, start, wait_s))
        is_one = early_at is not None and early_at <= self._one_until
        found = self._reached[asked] = early_at if is_one else self._reach(end, start, wait_s)
        return found

    def _reach(self, end: End, start: datetime, wait_s: float) -> datetime | None:
        climate = self._climate
        start_s = climate.seconds(start)
        sums = self.sums(end)
        if start_s >= sums.end_s:
            return None
        reached_s = sums.time_to_reach(sums.age(start_s) + wait_s)
        return None if reached_s is None else after(climate.origin, reached_s)
