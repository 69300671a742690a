"""What must hold of the clocks, worked out by hand: run against each mutant, and the original.

    python clock_assertions.py DIRECTORY

DIRECTORY is where `curecal` must come from. Exit code 0: all held; 1: one did not, its name
printed; 2: nothing could be asked.
"""

from __future__ import annotations

import sys
import traceback
from collections.abc import Callable, Sequence
from dataclasses import replace
from datetime import datetime, timedelta
from pathlib import Path

from planning_samples import DAY, RULES, SHEET, START, daily, expected, reading, sheet

import curecal
from curecal.instants import Window
from curecal.planning.climate.zone_climate import End, make_climate
from curecal.planning.curing.clocks import Clocks, WaitEnd, find_latest
from curecal.planning.curing.rate_laws import UnhinderedRate, choose_rate
from curecal.planning.site_log.log_at_instant import facts_at
from curecal.trade.data_sheets import (
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
from curecal.trade.job import Expected, HeatUpWish, Zone
from curecal.trade.site_log import Entry

HOUR = timedelta(hours=1)
NOON = Window(START, START)
CEMENT = sheet("thinset")


def clocks(
    climate: Expected, log: Sequence[Entry] = (), as_of: datetime = START, origin: datetime = START
) -> Clocks:
    """Return the clocks of a zone in a climate."""
    floor = Zone("hall", "hall", "zone.0", (), heat_up=HeatUpWish())
    made = make_climate(floor, climate, facts_at(log, as_of, ()), origin, RULES)
    return Clocks(made, RULES)


def fixed(hours: float, rated_c: float = 20.0, law: Hardening = Hardening.CEMENT) -> Wait:
    """Return so many hours at a rating."""
    return Wait(FixedWait(hours * 3600.0), SHEET, rated_c, 0.5, law, f"{hours} h")


def due(
    wait: Wait,
    climate: Expected,
    made: DataSheet = CEMENT,
    thickness_m: float | None = None,
    start: Window = NOON,
) -> WaitEnd:
    """Return what a wait comes to, with nothing measured."""
    return clocks(climate).end_wait(
        rule="R9", wait=wait, sheet=made, thickness_m=thickness_m, start=start
    )


def window(told: WaitEnd) -> Window:
    """Return a window that must be there."""
    assert told.window is not None, told.blocked
    return told.window


def hours(told: WaitEnd) -> float:
    """Return how long a wait takes from noon [h]."""
    return (window(told).earliest - START) / HOUR


def latest_hours(told: WaitEnd) -> float:
    """Return how long a wait takes at the latest, from noon [h]."""
    at = window(told).latest
    assert at is not None
    return (at - START) / HOUR


def close(value: float, wanted: float, within: float) -> None:
    """Assert that a value lies near another."""
    assert abs(value - wanted) <= within, (value, wanted)


def code(told: WaitEnd) -> str:
    """Return why a wait has no date."""
    assert told.window is None
    assert told.blocked is not None
    return told.blocked.code


def step(told: WaitEnd, name: str) -> dict[str, float]:
    """Return the numbers of one step."""
    found = [each for each in told.steps if each.code == name]
    assert len(found) == 1, [each.code for each in told.steps]
    return dict(found[0].params)  # type: ignore[arg-type]


def _thinly(**more: object) -> Wait:
    return Wait(ThicknessWait(**more), SHEET, 20.0, 0.5, Hardening.CEMENT)  # type: ignore[arg-type]


def rate_at_ten_degrees() -> None:
    """Ratio of rates: rated 23 °C, at 10 °C, 0.43271."""
    told = due(fixed(100.0, 23.0), expected(10.0))
    close(step(told, "rate-expected")["rate_ratio"], 0.43271, 5e-6)
    close(hours(told), 100.0 / 0.43271, 0.002)


def a_cool_month() -> None:
    """28 d at 20 °C in a room of 66 °F takes 29.58 d."""
    told = due(fixed(28 * 24.0), expected(170.0 / 9.0))
    close(hours(told) / 24.0, 29.58, 0.005)


def a_day_at_thirteen() -> None:
    """24 h rated 21 °C at 13 °C: 39.0 h, noon to 03:01 two days on; doubling by 8 °C 48.0 h."""
    told = due(fixed(24.0, 21.0), expected(13.0))
    close(hours(told), 39.0, 0.05)
    at = window(told).earliest
    assert (at.day, at.hour, at.minute) == (START.day + 2, 3, 1), at
    slower = due(fixed(24.0, 21.0), expected(13.0), sheet("thinset", doubling_k=8.0))
    close(hours(slower), 48.0, 1e-3)


def an_exact_month_is_exact() -> None:
    """At its rating, and warmer, a wait takes its own length to the second."""
    for air_c in (20.0, 27.0):
        assert window(due(fixed(28 * 24.0), expected(air_c))) == Window(
            START + 28 * DAY, START + 28 * DAY
        )


def results_round_up() -> None:
    """To the whole second, and never down."""
    begun = START + timedelta(microseconds=400_000)
    told = due(fixed(1.0), expected(20.0), start=Window(begun, begun))
    assert window(told).earliest == START + HOUR + timedelta(seconds=1)
    nothing = due(fixed(0.0), expected(20.0), start=Window(begun, begun))
    assert window(nothing).earliest == START + timedelta(seconds=1)


def short_waits_are_waits() -> None:
    """Three hours are three hours."""
    close(hours(due(fixed(3.0), expected(20.0))), 3.0, 1e-9)


def a_screed_dries() -> None:
    """55 mm calcium sulfate at 17 °C, 62 %: 0.8996, 70 d take 77.8 d."""
    made = sheet("calcium-sulfate screed")
    told = due(made.covers["any"], expected(17.0, humidity=0.62, dampest=0.62), made, 0.055)
    close(step(told, "rate-expected-drying")["rate_ratio"], 0.8996, 5e-5)
    close(step(told, "wait-drying")["wait_s"] / 86400.0, 70.0, 1e-6)
    close(hours(told) / 24.0, 77.8, 0.05)


def under_cover_comes_first() -> None:
    """A cement screed's 40 mm: 7 d under cover, however cold, then 40 d."""
    made = sheet("sand-cement screed")
    start = Window(START, START + DAY)
    told = due(made.covers["wood"], expected(20.0), made, 0.04, start)
    assert window(told) == Window(START + 47 * DAY, START + 48 * DAY)
    close(told.needed_s / 86400.0, 47.0, 1e-6)
    assert step(told, "under-cover") == {"wait_s": 7 * 86400.0}
    promised = due(made.covers["wood"], expected(20.0), made, 0.04, Window(START, None))
    assert window(promised) == Window(START + 47 * DAY, None)


def the_late_end_is_the_coldest() -> None:
    """Expected 20 °C, 10 °C at the coldest; the late end also starts late."""
    climate = expected(20.0, coldest_c=10.0)
    told = due(fixed(100.0, 23.0), climate)
    close(latest_hours(told), 100.0 / 0.43271, 0.002)
    assert hours(told) < latest_hours(told)
    late = due(fixed(100.0), climate, start=Window(START, START + 5 * DAY))
    close(latest_hours(late) - latest_hours(due(fixed(100.0), climate)), 120.0, 1e-3)
    close(hours(late), 100.0, 1e-9)


def no_promise_in_the_cold() -> None:
    """Coldest below the minimum, or a start without a promise: no latest date."""
    assert window(due(fixed(24.0), expected(20.0, coldest_c=9.0))).latest is None
    told = due(fixed(24.0), expected(20.0), start=Window(START, None))
    assert window(told) == Window(START + DAY, None)


def why_there_is_no_date() -> None:
    """Too cold, too damp, too far off: each says so."""
    assert code(due(fixed(24.0), expected(9.9))) == "below-minimum"
    wet = expected(20.0, humidity=0.75, dampest=0.75)
    made = sheet("calcium-sulfate screed")
    assert code(due(made.covers["any"], wet, made, 0.03)) == "too-damp"
    assert code(due(fixed(4 * 365 * 24.0), expected(20.0))) == "beyond-horizon"
    assert code(due(fixed(24.0), expected(20.0), start=Window(START + 1300 * DAY, None))) == (
        "planned-too-far"
    )
    assert hours(due(fixed(24.0), expected(10.0))) > 24.0


def limits_of_humidity_differ() -> None:
    """A membrane still dries at 80 %, a screed does not; a membrane not at 85 %."""
    damp = expected(20.0, humidity=0.80, dampest=0.80)
    membrane, screed = sheet("membrane"), sheet("calcium-sulfate screed")
    # A membrane rated at 50 % dries by the deficit: 0.2 against 0.5.
    close(hours(due(membrane.covers["any"], damp, membrane)), 48.0 / 0.4, 1e-3)
    assert code(due(screed.covers["any"], damp, screed, 0.03)) == "too-damp"
    wetter = expected(20.0, humidity=0.85, dampest=0.85)
    assert code(due(membrane.covers["any"], wetter, membrane)) == "too-damp"


def resins_halve() -> None:
    """Epoxy: half as fast per 10 K below its rating, nothing below its minimum."""
    made = sheet("epoxy barrier")
    resin = fixed(24.0, 23.0, Hardening.REACTION)
    close(hours(due(resin, expected(13.0), made)), 48.0, 1e-3)
    assert code(due(resin, expected(9.9), made)) == "below-minimum"


def what_needs_no_time_takes_none() -> None:
    """The law of what is ready at once is the clock on the wall, in any cold."""
    wait = fixed(24.0, law=Hardening.AT_ONCE)
    made = sheet("uncoupling sheet", minimum_c=-30.0)
    close(hours(due(wait, expected(-5.0), made)), 24.0, 1e-9)
    rate, needed_s = choose_rate(wait, made, 86400.0)
    assert rate == UnhinderedRate()
    assert needed_s == 86400.0


def ice_gives_nothing() -> None:
    """A sheet that allows -5 °C still earns nothing at 0 °C and below."""
    made = sheet("thinset", minimum_c=-5.0)
    assert due(fixed(24.0), expected(0.0), made).window is None
    assert hours(due(fixed(24.0), expected(1.0), made)) > 24.0


def a_table_is_a_rate() -> None:
    """72 h at 10 °C, 24 h at 20 °C: 36 h at 15 °C; below it the slower of end and law."""
    table = Wait(
        TableWait(((10.0, 72 * 3600.0), (20.0, 24 * 3600.0))), SHEET, 23.0, 0.5, Hardening.CEMENT
    )
    made = sheet("thinset", minimum_c=5.0)
    close(hours(due(table, expected(15.0), made)), 36.0, 1e-3)
    close(hours(due(table, expected(25.0), made)), 24.0, 1e-3)
    # By the law 0.4084 at 8 °C, rated 20 °C: faster than the table's own third.
    close(hours(due(table, expected(8.0), made)), 72.0, 1e-3)
    # By the law 0.3286 at 6 °C: slower than six sevenths, the end of a table that hardly falls.
    flat = replace(table, amount=TableWait(((10.0, 28 * 3600.0), (20.0, 24 * 3600.0))))
    close(hours(due(flat, expected(6.0), made)), 24.0 / 0.3286, 0.02)
    assert code(due(table, expected(4.0), made)) == "below-minimum"


def a_rating_below_the_minimum() -> None:
    """Counts as rated at the minimum."""
    close(hours(due(fixed(24.0, 8.0), expected(12.0))), 24.0, 1e-3)


def depth_counts() -> None:
    """A day, or 8 h per mm, to 12 mm; bands by the deepest point; deeper, the sheet."""
    by_rate = _thinly(at_least_s=86400.0, per_m_s=8 * 3600.0 * 1000.0, limit_m=0.012)
    warm = expected(20.0)
    close(hours(due(by_rate, warm, thickness_m=0.002)), 24.0, 1e-6)
    close(hours(due(by_rate, warm, thickness_m=0.005)), 40.0, 1e-6)
    close(hours(due(by_rate, warm, thickness_m=0.012)), 96.0, 1e-6)
    assert code(due(by_rate, warm, thickness_m=0.0125)) == "thicker-than-class"
    assert code(due(by_rate, warm)) == "needs-thickness"
    bands = _thinly(bands=((0.010, 6 * 3600.0), (0.030, 86400.0)))
    close(hours(due(bands, warm, thickness_m=0.010)), 6.0, 1e-6)
    close(hours(due(bands, warm, thickness_m=0.011)), 24.0, 1e-6)
    assert code(due(bands, warm, thickness_m=0.031)) == "thicker-than-class"
    drying = Wait(DryingWait(((0.04, 86.4e6),)), SHEET, 20.0, 0.5, Hardening.DRYING)
    assert code(due(drying, warm)) == "needs-thickness"
    assert code(due(drying, warm, thickness_m=0.041)) == "thicker-than-class"


def what_the_sheet_must_say() -> None:
    """A test, a missing number: no date, and which of the two."""
    tested = Wait(UntilTested(), SHEET, 20.0, 0.5, Hardening.DRYING)
    silent = Wait(SheetWait(), SHEET, 20.0, 0.5, Hardening.CEMENT)
    assert code(due(tested, expected(20.0))) == "needs-moisture-test"
    assert code(due(silent, expected(20.0))) == "needs-sheet"


def a_clock_starts_at_its_own_instant() -> None:
    """What the room was worth before the pour is no credit, nor what came after asking."""
    before = clocks(expected(20.0), origin=START - 30 * DAY)
    rate, wait_s = choose_rate(fixed(24.0), CEMENT, 86400.0)
    assert before.of(rate).reach(End.EARLIEST, START, wait_s) == START + DAY
    close(before.of(rate).age_s(End.EARLIEST, START, START + DAY), 86400.0, 1e-3)
    assert before.start_by(rate, START + 2 * DAY, wait_s) == START + DAY
    assert before.start_by(rate, START - 29.5 * DAY, wait_s) is None


def the_measured_past_counts_as_measured() -> None:
    """Two days at 10 °C seen, 20 °C expected: what they gave is told, never more than needed."""
    log = daily(START, 2, 10.0, by=None)
    made = clocks(expected(20.0), log, START + 2 * DAY)
    told = made.end_wait(rule="R9", wait=fixed(48.0), sheet=CEMENT, thickness_m=None, start=NOON)
    credited = step(told, "credited")
    close(credited["credited_s"] / 3600.0, 48.0 * 0.4974, 0.01)
    close(credited["passed_s"] / 3600.0, 48.0, 1e-6)
    close(credited["measured_fraction"], 1.0, 1e-6)
    # The day after the last look counts no warmer than it (R6); then it goes on as expected.
    left = 48.0 - credited["credited_s"] / 3600.0
    close(hours(told), 48.0 + 24.0 + (left - 24.0 * 0.4974), 1e-2)
    later = clocks(expected(20.0), (), START + 9 * DAY)
    over = later.end_wait(rule="R9", wait=fixed(24.0), sheet=CEMENT, thickness_m=None, start=NOON)
    assert step(over, "credited")["credited_s"] == 86400.0
    assert step(over, "credited")["passed_s"] == 86400.0


def a_cold_day_moves_the_early_end_and_leaves_no_late_one() -> None:
    """A day read below the minimum costs it and the next one (R6); the late end is gone."""
    log = [reading(START, 5.0, by=None), reading(START + DAY, 5.0, by=None)]
    made = clocks(expected(20.0), log, START + DAY)
    told = made.end_wait(rule="R9", wait=fixed(24.0), sheet=CEMENT, thickness_m=None, start=NOON)
    assert window(told) == Window(START + 3 * DAY, None)


def each_end_has_its_own_sum() -> None:
    """Asked for both ends and for two ratings in turn, the answers stay apart."""
    made = clocks(expected(20.0, coldest_c=10.0))
    rate, wait_s = choose_rate(fixed(100.0, 23.0), CEMENT, 360_000.0)
    other, _ = choose_rate(fixed(100.0, 10.0), CEMENT, 360_000.0)
    early = made.of(rate).reach(End.EARLIEST, START, wait_s)
    late = made.of(rate).reach(End.LATEST, START, wait_s)
    full = made.of(other).reach(End.LATEST, START, wait_s)
    assert early is not None
    assert late is not None
    assert full == START + 100 * HOUR
    assert full < early < late
    assert made.of(rate).reach(End.EARLIEST, START, wait_s) == early


def the_latest_wait_counts() -> None:
    """End by end, and the one that governs; one without a date governs them all."""
    warm = expected(20.0)
    short, long = due(fixed(24.0), warm), due(fixed(48.0), warm)
    never = due(Wait(SheetWait(), SHEET, 20.0, 0.5, Hardening.CEMENT), warm)
    for dues in ([short, long], [long, short]):
        at, governing = find_latest(dues)
        assert at == Window(START + 2 * DAY, START + 2 * DAY)
        assert governing is long
    for dues in ([short, never], [never, short], [short, never, long]):
        at, governing = find_latest(dues)
        assert at is None
        assert governing is never
    late = replace(short, window=Window(START + DAY, START + 9 * DAY))
    for dues in ([late, long], [long, late]):
        at, governing = find_latest(dues)
        assert at == Window(START + 2 * DAY, START + 9 * DAY)
        assert governing is long


CHECKS: tuple[Callable[[], None], ...] = (
    *(rate_at_ten_degrees, a_cool_month, a_day_at_thirteen, an_exact_month_is_exact),
    *(results_round_up, short_waits_are_waits, a_screed_dries, under_cover_comes_first),
    *(the_late_end_is_the_coldest, no_promise_in_the_cold, why_there_is_no_date),
    *(limits_of_humidity_differ, resins_halve, what_needs_no_time_takes_none, ice_gives_nothing),
    *(a_table_is_a_rate, a_rating_below_the_minimum, depth_counts, what_the_sheet_must_say),
    *(a_clock_starts_at_its_own_instant, the_measured_past_counts_as_measured),
    *(
        a_cold_day_moves_the_early_end_and_leaves_no_late_one,
        each_end_has_its_own_sum,
        the_latest_wait_counts,
    ),
)


def main(directory: str) -> int:
    """Ask everything of the `curecal` in a directory; return an exit code."""
    if not Path(curecal.__file__).is_relative_to(directory):
        sys.stderr.write(f"curecal came from {curecal.__file__}\n")
        return 2
    for check in CHECKS:
        try:
            check()
        except Exception:  # noqa: BLE001 # a mutant may fail in any way; how is printed
            sys.stdout.write(f"caught by {check.__name__}\n")
            traceback.print_exc()
            return 1
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1]))
