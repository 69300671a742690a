"""Clocks: when a wait that began at an instant has run out, and the steps that show it.

Every layer has its own clock from its own instant, with its own law and rated conditions.
Clocks run side by side; the latest counts.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime

from curecal.instants import Window, add
from curecal.planning.climate.zone_climate import Climate, End
from curecal.planning.curing.rate_clock import RateClock
from curecal.planning.curing.rate_laws import LAW_RULES, choose_rate
from curecal.planning.plan import Step
from curecal.planning.tolerances import HAIR
from curecal.records import Record, record
from curecal.science.age import KeptAges
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


class Clocks:
    """Clocks over one climate. Layers that share a law and a rating share their sums."""

    __slots__ = ("_as_of", "_clocks", "_kept", "_one_until", "climate", "rules")

    def __init__(self, climate: Climate, rules: Rules, kept: KeptAges | None = None) -> None:
        """Take the climate, the rules, and what keeps sums over long series.

        Those also serve other zones, and plans of other instants.
        """
        self.climate = climate
        self.rules = rules
        self._kept = KeptAges() if kept is None else kept
        self._as_of = climate.instant(climate.as_of_s)
        # Dates are told to the second: none that was rounded lies behind it.
        self._one_until = climate.instant(climate.one_until_s - 1.0)
        self._clocks: dict[int, RateClock] = {}

    def of(self, rate: Rate) -> RateClock:
        """Return the clock of a rate."""
        # Rates are made once, and a clock keeps its own: no need to compare what they are made of.
        found = self._clocks.get(id(rate))
        if found is None:
            found = RateClock(rate, self.climate, self._kept, self._one_until)
            self._clocks[id(rate)] = found
        return found

    def start_by(self, rate: Rate, by: datetime, wait_s: float) -> datetime | None:
        """Return the last instant a clock can start and still run out by another.

        Under the expected climate; the inverse of `RateClock.reach`.

        Rule: R26.

        Args:
            rate: what share of each instant counts.
            by: when it must have run out.
            wait_s: the age wanted [s].

        Returns:
            An instant, or None where it would have to start before the history.
        """
        sums = self.of(rate).sums(End.EARLIEST)
        # A date may lie past the end of the history; what is known ends there.
        by_s = min(self.climate.seconds(by), self.climate.histories[End.EARLIEST][-1].end_s)
        spare_s = sums.age(by_s) - wait_s
        if spare_s < 0.0:
            return None
        started_s = sums.time_to_reach(spare_s)
        return None if started_s is None else self.climate.instant(started_s)

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
        clock = self.of(rate)
        steps += self._rates(clock, wait, sheet)
        earliest = clock.reach(End.EARLIEST, begun.earliest, needed_s)
        if earliest is None:
            return WaitEnd(rule, wait, None, tuple(steps), self._never(sheet, wait, begun))
        latest = None if begun.latest is None else clock.reach(End.LATEST, begun.latest, needed_s)
        if begun.earliest < self._as_of and not isinstance(rate, UnhinderedRate):
            steps.append(self._credited(clock, begun, needed_s, earliest))
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
        coldest_c = self.climate.assumed.bed_c[End.LATEST]
        if latest is None:
            params = {"coldest_c": coldest_c, "minimum_c": sheet.minimum_c}
            steps.append(Step("latest-never", "R6", self.rules.source("R6"), params))
        else:
            params_latest = {"coldest_c": coldest_c, "latest_at": latest}
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

    def _rates(self, clock: RateClock, wait: Wait, sheet: DataSheet) -> tuple[Step, ...]:
        """Return how fast the clock runs under the expected and under the coldest climate."""
        # All waits of a layer, and of most zones, run on a few clocks.
        asked = (wait.law, wait.rated_c, sheet.minimum_c)
        told = clock.told.get(asked)
        if told is None:
            told = clock.told[asked] = self._tell_rates(clock.rate, *asked)
        return told

    def _tell_rates(
        self, rate: Rate, law: Hardening, rated_c: float, minimum_c: float
    ) -> tuple[Step, ...]:
        if isinstance(rate, UnhinderedRate):
            return ()
        rule = LAW_RULES[law]
        assumed = self.climate.assumed
        steps = []
        for code, end in (("rate-expected", End.EARLIEST), ("rate-coldest", End.LATEST)):
            ratio = rate.at(temperature_c=assumed.bed_c[end], humidity=assumed.humidity[end])
            params = {
                "bed_c": assumed.bed_c[end],
                "humidity_rh": assumed.humidity[end],
                "rated_c": rated_c,
                "minimum_c": minimum_c,
                "rate_ratio": ratio,
            }
            suffix = "-drying" if law is Hardening.DRYING else ""
            steps.append(Step(code + suffix, rule, self.rules.source(rule), params))
        return tuple(steps)

    def _credited(
        self, clock: RateClock, begun: Window, needed_s: float, earliest: datetime
    ) -> Step:
        """Return how much of the wait the past has credited."""
        until = min(self._as_of, earliest)
        params = {
            "until_at": until,
            "passed_s": (until - begun.earliest).total_seconds(),
            "credited_s": min(clock.age_s(End.EARLIEST, begun.earliest, until), needed_s),
            "needed_s": needed_s,
            "measured_fraction": self.climate.share_measured(begun.earliest, until),
        }
        return Step("credited", "R4", self.rules.source("R4"), params)

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
