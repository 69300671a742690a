"""Equivalent age: how much of a history counts, and when enough of it has.

The rate is integrated over each instant, never taken at a mean: a night below the minimum gives
nothing, an afternoon above the rating gives no more than its length. The integral is a running
sum over the parts of a history, made once as far as it is asked for, and searched by every
question. A rate must name every jump and bend it has: one that it keeps to itself may be missed.
"""

from __future__ import annotations

from bisect import bisect_left
from collections import OrderedDict
from collections.abc import Sequence
from typing import TYPE_CHECKING

from curecal.science.history import Segment, require_contiguous
from curecal.science.rate import Rate
from curecal.science.segment_ages import SLACK_S, age_until, instant_in, segment_age
from curecal.science.validity import refuse, require

if TYPE_CHECKING:
    # Loaded by who has a long series: a job without one pays for no numerical library.
    from curecal.science.segment_run import RunAges, SegmentRun

_LONGEST_S = 1e12
"""As far as a history may reach."""

_MOST_KEPT = 2_000_000
"""Readings whose sums are kept from one plan to the next: some 80 MB at most."""


MOST_ALIKE = 4
"""Runs kept that begin alike: what was corrected since, and what was known at a release."""


class KeptAges:
    """Running sums of runs of readings, kept for whoever asks again.

    A run that begins as one did before goes on from the sums of that one: a further reading costs
    no more than itself. What is found is compared value by value, so that no sum is ever that of
    other readings. Those that nobody asked for longest are given up where they grow too many.
    """

    __slots__ = ("_alike", "_most", "count")

    def __init__(self, most: int = _MOST_KEPT) -> None:
        """Take how many readings may be kept."""
        self._most = most
        self.count = 0
        self._alike: OrderedDict[object, list[RunAges]] = OrderedDict()

    def of(self, run: SegmentRun, rate: Rate) -> RunAges:
        """Return the running sums of a run under a rate."""
        begins = run.begins(rate)
        alike = self._alike.setdefault(begins, [])
        self._alike.move_to_end(begins)
        best, shared = None, 0
        for old in alike:
            common = run.shared(old.run, humid=bool(rate.breaks_rh))
            if common > shared:
                best, shared = old, common
        if best is not None and shared == len(run) == len(best):
            return best
        made = run.under(rate, best, shared)
        if shared < len(run):
            if best is not None and shared == len(best):
                alike.remove(best)
                self.count -= len(best)
            alike.append(made)
            self.count += len(made)
            self._give_up(alike)
        return made

    def _give_up(self, alike: list[RunAges]) -> None:
        while len(alike) > MOST_ALIKE:
            self.count -= len(alike.pop(0))
        while self.count > self._most:
            alike = next(iter(self._alike.values()))
            if alike:
                self.count -= len(alike.pop(0))
            else:
                self._alike.popitem(last=False)


class Accumulator:
    """The running equivalent age of one history under one rate, for several questions.

    Sums are made as far as a question needs and kept, so that another question costs a search.

    Attributes:
        end_s: Where the history ends; 0 where it is empty [s].
    """

    __slots__ = ("_ages_s", "_ends_s", "_history", "_kept", "_rate", "_runs", "_sums_s", "end_s")

    def __init__(
        self,
        history: Sequence[Segment | SegmentRun],
        rate: Rate,
        kept: KeptAges | None = None,
    ) -> None:
        """Take the history, the rate, and what keeps the sums of long runs.

        Raises:
            OutsideValidity: The history has a gap, an overlap, or is out of order.
        """
        require_contiguous(history)
        self._history = tuple(history)
        self._rate = rate
        self._kept = KeptAges() if kept is None else kept
        self._ages_s: dict[float, float] = {}
        self._runs: dict[int, RunAges] = {}
        self._sums_s = [0.0]
        self._ends_s = [part.end_s for part in self._history]
        self.end_s = self._ends_s[-1] if self._ends_s else 0.0

    def age(self, until_s: float | None = None) -> float:
        """Return the equivalent age from the start of the history to an instant [s].

        The integral of the rate over time, by Gauss-Legendre quadrature.

        Args:
            until_s: The instant; None for the end of the history.

        Raises:
            OutsideValidity: The instant is not inside the history.
        """
        if until_s is None:
            return self._sum_to(len(self._history))
        if not self._history:
            refuse("history-empty")
        # Many waits begin at one instant.
        found = self._ages_s.get(until_s)
        if found is None:
            require("until_s", until_s, low=self._history[0].start_s, high=self._ends_s[-1])
            found = self._ages_s[until_s] = self._age(until_s)
        return found

    def _age(self, until_s: float) -> float:
        index = bisect_left(self._ends_s, until_s)
        part = self._history[index]
        if until_s == part.end_s:
            return self._sum_to(index + 1)
        if not isinstance(part, Segment):
            return self._sum_to(index) + self._run(index, part).age(until_s)
        return self._sum_to(index) + age_until(part, self._rate, part.fraction_at(until_s))

    def time_to_reach(self, age_s: float) -> float | None:
        """Return the first instant at which an equivalent age is reached [s].

        None when the history ends before. The inverse of `age`: in closed form where the rate
        does not change, else by Newton's method inside a bracket.

        Raises:
            OutsideValidity: The age is negative or not a finite number.
        """
        # Each wait of a floor asks.
        if not 0.0 <= age_s <= _LONGEST_S:
            require("age_s", age_s, low=0.0, high=_LONGEST_S)
        if not self._history:
            return None
        if age_s <= SLACK_S:
            return self._history[0].start_s
        enough_s = age_s - SLACK_S
        while self._sums_s[-1] < enough_s:
            index = len(self._sums_s) - 1
            if index == len(self._history):
                return None
            part = self._history[index]
            if not isinstance(part, Segment):
                # What was reached before its last readings needs no sum over those.
                run, begun_s = self._run(index, part), self._sums_s[index]
                if begun_s + run.least_s >= enough_s:
                    return run.time_to_reach(age_s - begun_s)
            self._sum_to(index + 1)
        index = bisect_left(self._sums_s, enough_s) - 1
        part, missing_s = self._history[index], age_s - self._sums_s[index]
        if not isinstance(part, Segment):
            return self._run(index, part).time_to_reach(missing_s)
        return instant_in(part, self._rate, missing_s)

    def _sum_to(self, count: int) -> float:
        while len(self._sums_s) <= count:
            index = len(self._sums_s) - 1
            part = self._history[index]
            if isinstance(part, Segment):
                added_s = segment_age(part, self._rate)
            else:
                added_s = self._run(index, part).total_s
            self._sums_s.append(self._sums_s[-1] + added_s)
        return self._sums_s[count]

    def _run(self, index: int, part: SegmentRun) -> RunAges:
        if index not in self._runs:
            self._runs[index] = self._kept.of(part, self._rate)
        return self._runs[index]
