"""Clocks: when a wait that began at an instant has run out, and the steps that show it.

Every layer has its own clock from its own instant, with its own law and rated conditions.
Clocks run side by side; the latest counts.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import datetime

from curecal.instants import Window, add, ceil_second
from curecal.planning.climate.zone_climate import Climate, End
from curecal.planning.curing.rate_laws import LAW_RULES, choose_rate
from curecal.planning.plan import Step
from curecal.planning.tolerances import HAIR
from curecal.records import Record, record
from curecal.science.age import Accumulator, KeptAges
from curecal.science.drying import DryingStep, drying_time
from curecal.science.rate import Rate, UnhinderedRate
from curecal.trade.data_sheets import (
    Amount,
    DataSheet,
    DryingWait,
    FixedWait,
    Hardening,
    SheetWait,
    TableWait,
    ThicknessWait,
    UntilTested,
    Wait,
)
from curecal.trade.findings import Message
from curecal.trade.rules import Rules


@record
class WaitEnd(Record):
    """The end of one wait: its window, or why there is none, and the steps.

    `rate` and `needed_s` are the clock it ran on: what share of each instant counts, and the
    age to reach [s].
    """

    rule: str
    wait: Wait
    window: Window | None
    steps: tuple[Step, ...]
    blocked: Message | None = None
    rate: Rate | None = None
    needed_s: float = 0.0


@dataclass(slots=True)
class Clocks:
    """Clocks over one climate. Layers that share a law and a rating share their sums.

    `kept` holds sums over long series, also for other zones and for plans of other instants.
    """

    climate: Climate
    rules: Rules
    kept: KeptAges = field(default_factory=KeptAges)
    _sums: dict[tuple[End, Rate], Accumulator] = field(default_factory=dict)
    _reached: dict[tuple[Rate, End, datetime, float], datetime | None] = field(default_factory=dict)

    def age_s(self, rate: Rate, end: End, start: datetime, until: datetime) -> float:
        """Return the equivalent age from one instant to another.

        Rule: R4.

        Args:
            rate: what share of each instant counts.
            end: under which climate.
            start: where it begins.
            until: where it ends.

        Returns:
            Equivalent age [s].
        """
        sums = self._sum(rate, end)
        first_s, last_s = self.climate.seconds(start), self.climate.seconds(until)
        return sums.age(last_s) - sums.age(first_s)

    def reach(self, rate: Rate, end: End, start: datetime, wait_s: float) -> datetime | None:
        """Return when an age has been reached, rounded up to the second.

        Rule: R8.

        Args:
            rate: what share of each instant counts.
            end: under which climate.
            start: where the clock begins.
            wait_s: the age wanted [s].

        Returns:
            An instant not before `start` plus `wait_s`, or None where the climate never gets
            there.
        """
        # Nothing to wait for is over at once, also beyond the end of the history.
        if wait_s <= 0.0:
            return ceil_second(start)
        if self.climate.seconds(start) >= self.climate.histories[end][-1].end_s:
            return None
        # Frost, the order of work and several milestones ask for the same wait.
        asked = (rate, end, start, wait_s)
        if asked not in self._reached:
            self._reached[asked] = self._reach(*asked)
        return self._reached[asked]

    def _reach(self, rate: Rate, end: End, start: datetime, wait_s: float) -> datetime | None:
        sums = self._sum(rate, end)
        reached_s = sums.time_to_reach(sums.age(self.climate.seconds(start)) + wait_s)
        return None if reached_s is None else ceil_second(self.climate.instant(reached_s))

    def start_by(self, rate: Rate, by: datetime, wait_s: float) -> datetime | None:
        """Return the last instant a clock can start and still run out by another.

        Under the expected climate; the inverse of `reach`.

        Rule: R26.

        Args:
            rate: what share of each instant counts.
            by: when it must have run out.
            wait_s: the age wanted [s].

        Returns:
            An instant, or None where it would have to start before the history.
        """
        sums = self._sum(rate, End.EARLIEST)
        # A date may lie past the end of the history; what is known ends there.
        by_s = min(self.climate.seconds(by), self.climate.histories[End.EARLIEST][-1].end_s)
        spare_s = sums.age(by_s) - wait_s
        if spare_s < 0.0:
            return None
        started_s = sums.time_to_reach(spare_s)
        return None if started_s is None else self.climate.instant(started_s)

    def _sum(self, rate: Rate, end: End) -> Accumulator:
        key = (end, rate)
        if key not in self._sums:
            self._sums[key] = Accumulator(self.climate.histories[end], rate, self.kept)
        return self._sums[key]

    def end_wait(
        self, *, rule: str, wait: Wait, sheet: DataSheet, thickness_m: float | None, start: Window
    ) -> WaitEnd:
        """Return when a wait from a start has run out, at both ends, with its steps.

        Rule: R1 to R9.

        Args:
            rule: the id of the rule that makes this wait count.
            wait: the wait.
            sheet: the sheet of the layer whose clock it is.
            thickness_m: the layer's deepest thickness [m], where known.
            start: where the clock begins, at both ends.

        Returns:
            The window, or what is missing for one.
        """
        source = wait.source
        amount_s, steps, missing = self._amount(wait, sheet, thickness_m)
        if missing is not None:
            return WaitEnd(rule, wait, None, tuple(steps), missing)
        rate, needed_s = choose_rate(wait, sheet, amount_s)
        # Under cover nothing dries out, so those days are elapsed time before the clock begins.
        cover_s = _under_cover(wait.amount)
        begun = _later(start, cover_s)
        if cover_s:
            steps.append(Step("under-cover", "R3", self.rules.source("R3"), {"wait_s": cover_s}))
        steps.extend(self._rates(rate, wait, sheet))
        earliest = self.reach(rate, End.EARLIEST, begun.earliest, needed_s)
        if earliest is None:
            return WaitEnd(rule, wait, None, tuple(steps), self._never(sheet, wait, begun))
        latest = (
            None if begun.latest is None else self.reach(rate, End.LATEST, begun.latest, needed_s)
        )
        steps.extend(self._credited(rate, begun, needed_s, earliest))
        steps.append(
            Step(
                "reached",
                rule,
                source,
                {
                    "since_at": begun.earliest,
                    "earliest_at": earliest,
                    "taken_s": (earliest - begun.earliest).total_seconds(),
                },
            )
        )
        if latest is None:
            coldest_c = self.climate.assumed.bed_c[End.LATEST]
            params = {"coldest_c": coldest_c, "minimum_c": sheet.minimum_c}
            steps.append(Step("latest-never", "R6", self.rules.source("R6"), params))
        else:
            params_latest = {
                "coldest_c": self.climate.assumed.bed_c[End.LATEST],
                "latest_at": latest,
            }
            steps.append(Step("reached-latest", "R6", self.rules.source("R6"), params_latest))
        window = Window(earliest, latest)
        return WaitEnd(rule, wait, window, tuple(steps), None, rate, cover_s + needed_s)

    def _amount(
        self, wait: Wait, sheet: DataSheet, thickness_m: float | None
    ) -> tuple[float, list[Step], Message | None]:
        """Return the wait at rated conditions [s] and how it is found, or what is missing."""
        amount = wait.amount
        rated = {"written": wait.written, "rated_c": wait.rated_c, "layer": sheet.name}
        match amount:
            case FixedWait():
                step = Step("wait", "R9", wait.source, {"wait_s": amount.wait_s, **rated})
                return amount.wait_s, [step], None
            case TableWait():
                longest_s = amount.points[-1][1]
                step = Step("wait-table", "R9", wait.source, {"wait_s": longest_s, **rated})
                return longest_s, [step], None
            case UntilTested():
                return 0.0, [], Message("needs-moisture-test", {"layer": sheet.name})
            case SheetWait():
                return 0.0, [], Message("needs-sheet", {"layer": sheet.name})
            case ThicknessWait():
                return self._by_thickness(amount, wait, sheet, thickness_m)
            case _:
                return self._by_drying(amount, wait, sheet, thickness_m)

    def _by_thickness(
        self, amount: ThicknessWait, wait: Wait, sheet: DataSheet, thickness_m: float | None
    ) -> tuple[float, list[Step], Message | None]:
        if thickness_m is None:
            return 0.0, [], Message("needs-thickness", {"layer": sheet.name})
        deepest_m = amount.bands[-1][0] if amount.bands else amount.limit_m
        if deepest_m is not None and not thickness_m <= deepest_m * (1.0 + HAIR):
            params = {"layer": sheet.name, "thickness_m": thickness_m, "limit_m": deepest_m}
            return 0.0, [], Message("thicker-than-class", params)
        wait_s = max(amount.at_least_s, amount.per_m_s * thickness_m)
        for to_m, band_s in amount.bands:
            if thickness_m <= to_m * (1.0 + HAIR):
                wait_s = max(wait_s, band_s)
                break
        params_wait = {"wait_s": wait_s, "thickness_m": thickness_m, "rated_c": wait.rated_c}
        step = Step("wait-thickness", "R9", wait.source, {**params_wait, "written": wait.written})
        return wait_s, [step], None

    def _by_drying(
        self, amount: DryingWait, wait: Wait, sheet: DataSheet, thickness_m: float | None
    ) -> tuple[float, list[Step], Message | None]:
        if thickness_m is None:
            return 0.0, [], Message("needs-thickness", {"layer": sheet.name})
        deepest_m = amount.segments[-1][0]
        if deepest_m is not None and not thickness_m <= deepest_m:
            beyond = {"layer": sheet.name, "thickness_m": thickness_m, "limit_m": deepest_m}
            return 0.0, [], Message("thicker-than-class", beyond)
        wait_s = drying_time(
            thickness_m, [DryingStep(to_m, rate) for to_m, rate in amount.segments]
        )
        params = {
            "wait_s": wait_s,
            "thickness_m": thickness_m,
            "rated_c": wait.rated_c,
            "rated_rh": wait.rated_rh,
            "written": wait.written,
        }
        return wait_s, [Step("wait-drying", "R3", wait.source, params)], None

    def _rates(self, rate: Rate, wait: Wait, sheet: DataSheet) -> list[Step]:
        """Return how fast the clock runs under the expected and under the coldest climate."""
        rule = LAW_RULES[wait.law]
        if isinstance(rate, UnhinderedRate):
            return []
        assumed = self.climate.assumed
        steps = []
        for code, end in (("rate-expected", End.EARLIEST), ("rate-coldest", End.LATEST)):
            ratio = rate.at(temperature_c=assumed.bed_c[end], humidity=assumed.humidity[end])
            params = {
                "bed_c": assumed.bed_c[end],
                "humidity_rh": assumed.humidity[end],
                "rated_c": wait.rated_c,
                "minimum_c": sheet.minimum_c,
                "rate_ratio": ratio,
            }
            suffix = "-drying" if wait.law is Hardening.DRYING else ""
            steps.append(Step(code + suffix, rule, self.rules.source(rule), params))
        return steps

    def _credited(
        self, rate: Rate, begun: Window, needed_s: float, earliest: datetime
    ) -> list[Step]:
        """Return how much of the wait the past has credited, where the clock has begun."""
        as_of = self.climate.instant(self.climate.as_of_s)
        if not begun.earliest < as_of or isinstance(rate, UnhinderedRate):
            return []
        until = min(as_of, earliest)
        params = {
            "until_at": until,
            "passed_s": (until - begun.earliest).total_seconds(),
            "credited_s": min(self.age_s(rate, End.EARLIEST, begun.earliest, until), needed_s),
            "needed_s": needed_s,
            "measured_fraction": self.climate.share_measured(begun.earliest, until),
        }
        return [Step("credited", "R4", self.rules.source("R4"), params)]

    def _never(self, sheet: DataSheet, wait: Wait, begun: Window) -> Message:
        """Return why a clock never runs out under the expected climate."""
        assumed = self.climate.assumed
        bed_c = assumed.bed_c[End.EARLIEST]
        params = {
            "layer": sheet.name,
            "bed_c": bed_c,
            "minimum_c": sheet.minimum_c,
            "humidity_rh": assumed.humidity[End.EARLIEST],
            "limit_rh": sheet.drying_limit_rh,
        }
        if self.climate.seconds(begun.earliest) >= self.climate.histories[End.EARLIEST][-1].end_s:
            return Message("planned-too-far", {"layer": sheet.name, "planned_at": begun.earliest})
        if not bed_c >= sheet.minimum_c:
            return Message("below-minimum", params)
        if (
            wait.law is Hardening.DRYING
            and not assumed.humidity[End.EARLIEST] < sheet.drying_limit_rh
        ):
            return Message("too-damp", params)
        return Message("beyond-horizon", params)


def _under_cover(amount: Amount) -> float:
    return amount.under_cover_s if isinstance(amount, DryingWait) else 0.0


def _later(start: Window, seconds: float) -> Window:
    """Return a start moved by elapsed time; under cover a screed's clock waits, cold or not."""
    if seconds == 0.0:
        return start
    latest = None if start.latest is None else add(start.latest, seconds)
    return Window(add(start.earliest, seconds), latest)


def find_latest(dues: Sequence[WaitEnd]) -> tuple[Window | None, WaitEnd]:
    """Return the later of several waits, end by end, and the one that governs.

    The one that governs is the one with the latest `earliest`; a wait without a date governs
    them all. Of two alike the first counts.

    Rule: R10.

    Args:
        dues: at least one.

    Returns:
        The window, None where any wait has none; and the governing wait.
    """
    governing = dues[0]
    window = governing.window
    for due in dues[1:]:
        if window is None or due.window is None:
            if window is not None:
                window, governing = None, due
            continue
        if due.window.earliest > window.earliest:
            governing = due
        window = window.later(due.window)
    return window, governing
