"""A long run of segments without a jump, in columns: a logger's readings as one part of a history.

Its running sum is made in one go, by the same quadrature as that of a single segment, and a
question costs a search in it and one segment.
"""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np

from curecal.science.history import COLDEST_C, FARTHEST_S, HOTTEST_C, Segment
from curecal.science.rate import Rate
from curecal.science.rate_columns import Column, ages_of
from curecal.science.segment_ages import SLACK_S, age_until, instant_in

MOST_ANSWERS = 1000
"""Answers kept of each run: a floor asks for a few dozen."""


class SegmentRun:
    """Segments that follow one another, each beginning with the values the one before ends with.

    Attributes:
        instants_s: Instants, rising [s].
        temperatures_c: Temperature at each of them [°C].
        humidities: Relative humidity at each of them, fractions [1].
    """

    __slots__ = ("end_s", "humidities", "instants_s", "start_s", "temperatures_c")

    def __init__(self, *, instants_s: Column, temperatures_c: Column, humidities: Column) -> None:
        """Take the columns, of two instants at least.

        Raises:
            OutsideValidity: A segment of it is refused.
        """
        self.instants_s = instants_s
        self.temperatures_c = temperatures_c
        self.humidities = humidities
        self.start_s = float(instants_s[0])
        self.end_s = float(instants_s[-1])
        for index in self._suspects():
            self.segment(index)  # refuses it in its own words

    def __len__(self) -> int:
        return len(self.instants_s) - 1

    def segment(self, index: int) -> Segment:
        """Return one of the segments."""
        return Segment(
            start_s=float(self.instants_s[index]),
            end_s=float(self.instants_s[index + 1]),
            start_c=float(self.temperatures_c[index]),
            end_c=float(self.temperatures_c[index + 1]),
            start_rh=float(self.humidities[index]),
            end_rh=float(self.humidities[index + 1]),
        )

    def under(self, rate: Rate, begun: RunAges | None = None, shared: int = 0) -> RunAges:
        """Return the running sums under a rate.

        Args:
            rate: The rate.
            begun: Sums of a run that begins as this one does.
            shared: How many segments of its beginning.
        """
        if begun is None:
            return RunAges(self, rate)
        made = RunAges(self, rate, begun.summed_s[: shared + 1])
        if shared == len(begun):
            # What was asked of a run stays so where it goes on.
            made.instants_s.update(begun.instants_s)
            made.ages_s.update(begun.ages_s)
        return made

    def begins(self, rate: Rate) -> tuple[Rate, tuple[float, ...]]:
        """Return what two runs have in common that share sums under a rate."""
        first = (self.start_s, float(self.temperatures_c[0]), float(self.humidities[0]))
        return rate, first if rate.breaks_rh else first[:2]

    def _suspects(self) -> Iterable[int]:
        """Return segments that may be none."""
        # Written as what must hold, so that NaN is a suspect too.
        fine = (
            np.minimum.reduce(self.temperatures_c) >= COLDEST_C
            and np.maximum.reduce(self.temperatures_c) <= HOTTEST_C
            and np.minimum.reduce(self.humidities) >= 0.0
            and np.maximum.reduce(self.humidities) <= 1.0
            and np.logical_and.reduce(self.instants_s[1:] > self.instants_s[:-1])
            and self.start_s >= -FARTHEST_S
            and self.end_s <= FARTHEST_S
        )
        return () if fine else range(len(self))

    def shared(self, other: SegmentRun, *, humid: bool) -> int:
        """Return how many segments two runs that begin alike have in common from there on.

        Args:
            other: The other run.
            humid: Whether the humidity has to be the same, too.
        """
        count = min(len(self), len(other)) + 1
        for mine, others in (
            (self.instants_s, other.instants_s),
            (self.temperatures_c, other.temperatures_c),
            *([(self.humidities, other.humidities)] if humid else []),
        ):
            if mine is not others:
                unlike = mine[:count] != others[:count]
                first = int(unlike.argmax())
                count = first if unlike[first] else count
        # Two instants in common make one segment.
        return count - 1


class RunAges:
    """The running equivalent age of a run under a rate, summed as far as anybody asked.

    `summed_s` are the ages at the first instants of the run, as far as they are known: what is
    over is over, and a reading behind it is not looked at.
    """

    __slots__ = ("ages_s", "instants_s", "rate", "run", "summed_s")

    def __init__(self, run: SegmentRun, rate: Rate, begun_s: Column | None = None) -> None:
        """Take the run and the rate, and the sums over its first segments where they are known."""
        self.run = run
        self.rate = rate
        self.ages_s: dict[float, float] = {}
        self.instants_s: dict[float, float] = {}
        self.summed_s = np.zeros(1) if begun_s is None else begun_s

    def __len__(self) -> int:
        return len(self.run)

    @property
    def sums_s(self) -> Column:
        """The age at each instant of the run [s]."""
        first = len(self.summed_s) - 1
        if first < len(self):
            run, done = self.run, self.summed_s
            added = ages_of(
                self.rate,
                run.instants_s[first:],
                run.temperatures_c[first:],
                run.humidities[first:],
            )
            # In order from the last sum on: the sums are those of one go, to the last bit.
            further = np.cumsum(np.concatenate((done[-1:], added)))
            self.summed_s = np.concatenate((done[:-1], further))
        return self.summed_s

    @property
    def total_s(self) -> float:
        """The age over the whole run [s]."""
        return float(self.sums_s[-1])

    @property
    def least_s(self) -> float:
        """The age as far as it is summed [s]: the whole run's is no less."""
        return float(self.summed_s[-1])

    def age(self, until_s: float) -> float:
        """Return the age from the start of the run to an instant inside [s]."""
        if until_s not in self.ages_s:
            _keep(self.ages_s, until_s, self._age(until_s))
        return self.ages_s[until_s]

    def _age(self, until_s: float) -> float:
        index = int(self.run.instants_s[1:].searchsorted(until_s))
        sums_s = self.summed_s if index + 1 < len(self.summed_s) else self.sums_s
        segment = self.run.segment(index)
        part = segment.fraction_at(until_s)
        if part == 1.0:
            return float(sums_s[index + 1])
        return float(sums_s[index]) + age_until(segment, self.rate, part)

    def time_to_reach(self, age_s: float) -> float:
        """Return the instant at which an age is reached that the run reaches [s]."""
        if age_s not in self.instants_s:
            _keep(self.instants_s, age_s, self._instant(age_s))
        return self.instants_s[age_s]

    def _instant(self, age_s: float) -> float:
        enough_s = age_s - SLACK_S
        sums_s = self.summed_s if self.least_s >= enough_s else self.sums_s
        place = int(sums_s.searchsorted(enough_s))
        index = min(max(place - 1, 0), len(self) - 1)
        missing_s = age_s - float(sums_s[index])
        return instant_in(self.run.segment(index), self.rate, missing_s)


def _keep(answers: dict[float, float], asked: float, answer: float) -> None:
    if len(answers) >= MOST_ANSWERS:
        answers.clear()
    answers[asked] = answer
