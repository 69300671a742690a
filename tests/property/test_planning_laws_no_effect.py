"""Laws of the planner: what must not matter, and what moves every date alike."""

from __future__ import annotations

import os
import subprocess
import sys
from dataclasses import replace
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st
from planning_jobs import HOUR, Case, cases, evidence, logger, only, windows
from planning_samples import START

from curecal.instants import Window
from curecal.planning.plan import HoldState, Plan
from curecal.trade.job import Layer
from curecal.trade.site_log import Correction, Entry, Kept, Place, Reading, Series

TESTS = Path(__file__).parents[1]


@given(case=cases(), data=st.data())
def test_the_order_of_entries_has_no_effect(case: Case, data: st.DataObject) -> None:
    log = (*case.log, *data.draw(evidence(case)))
    shuffled = tuple(data.draw(st.permutations(log)))
    assert replace(case, log=shuffled).plan() == replace(case, log=log).plan()


def _moved(entry: Entry, by: timedelta) -> Entry:
    moved = replace(entry, at=entry.at + by, recorded=entry.recorded + by)
    if isinstance(moved, Series):
        points = tuple((at + by, value_c, share) for at, value_c, share in moved.points)
        return replace(moved, points=points)
    if isinstance(moved, Kept):
        return replace(moved, from_at=moved.from_at + by, to_at=moved.to_at + by)
    return moved


def _shifted(case: Case, by: timedelta) -> Case:
    def later(at: datetime | None) -> datetime | None:
        return None if at is None else at + by

    def moved(each: Layer) -> Layer:
        return replace(
            each,
            done_at=later(each.done_at),
            planned_start_at=later(each.planned_start_at),
            planned_finish_at=later(each.planned_finish_at),
        )

    log = tuple(_moved(entry, by) for entry in case.log)
    return replace(case.each_layer(moved), log=log, as_of=case.as_of + by)


def _by(window: Window | None, by: timedelta) -> Window | None:
    if window is None:
        return None
    return Window(window.earliest + by, None if window.latest is None else window.latest + by)


@given(case=cases(all_done=True, bare=False), seconds=st.integers(0, 40_000_000))
def test_with_every_layer_done_all_clocks_shift_alike(case: Case, seconds: int) -> None:
    by = timedelta(seconds=seconds)
    assert windows(_shifted(case, by).plan()) == {
        name: _by(window, by) for name, window in windows(case.plan()).items()
    }


@given(case=cases(), weeks=st.integers(1, 60))
def test_a_chain_of_work_shifts_by_whole_weeks(case: Case, weeks: int) -> None:
    by = timedelta(weeks=weeks)
    moved, here = only(_shifted(case, by).plan()), only(case.plan())
    assert windows(_shifted(case, by).plan()) == {
        name: _by(window, by) for name, window in windows(case.plan()).items()
    }
    for before, after in (
        (here.energize.start_on, moved.energize.start_on),
        (here.energize.owner_date, moved.energize.owner_date),
    ):
        assert after == (None if before is None else before + by)


@given(case=cases(), later_h=st.integers(0, 24 * 200), data=st.data())
def test_time_alone_meets_no_hold_but_cure(case: Case, later_h: int, data: st.DataObject) -> None:
    """And cure only where a temperature was recorded."""
    log = (*case.log, *data.draw(evidence(case)))
    known = tuple(entry for entry in log if max(entry.at, entry.recorded) <= case.as_of)
    now = replace(case, log=known)
    after = replace(now, as_of=case.as_of + later_h * HOUR)
    before_holds, after_holds = only(now.plan()).holds, only(after.plan()).holds
    met = {(hold.code, hold.cable, hold.layer_id) for hold in before_holds if _is_met(hold.state)}
    for hold in after_holds:
        if not _is_met(hold.state) or (hold.code, hold.cable, hold.layer_id) in met:
            continue
        assert hold.code == "cure"
        assert any(_is_warmth(entry) for entry in known)


def _is_met(state: HoldState) -> bool:
    return state in {HoldState.MET, HoldState.NOT_NEEDED}


def _is_warmth(entry: Entry) -> bool:
    if isinstance(entry, Reading):
        return entry.temperature_c is not None
    return isinstance(entry, (Series, Kept))


@given(case=cases(all_done=True), later_h=st.integers(0, 24 * 400))
def test_without_a_temperature_on_record_cure_is_never_met(case: Case, later_h: int) -> None:
    blind = replace(case, log=(), as_of=case.as_of + later_h * HOUR)
    cure = next(hold for hold in only(blind.plan()).holds if hold.code == "cure")
    assert cure.state is HoldState.UNMET
    assert not blind.plan().is_released


def untold(case: Case) -> Plan:
    """Return a plan without what it says of corrections: that stays, whatever becomes of them."""
    made = case.plan()
    findings = [each for each in made.findings if "told_at" not in each.params]
    return replace(made, findings=tuple(findings))


@given(case=cases(), data=st.data())
def test_a_withdrawn_correction_restores_the_plan(case: Case, data: st.DataObject) -> None:
    assume(case.log)
    drawn = data.draw(st.sampled_from(case.log))
    entry = replace(drawn, by="Ada")
    case = replace(case, log=tuple(entry if each is drawn else each for each in case.log))
    written: dict[str, Any] = {"at": entry.at, "recorded": entry.recorded, "by": entry.by}
    colder = {"temperature_c": 2.0, "above_c": 2.0, "interval_s": 60.0}
    corrected = Correction(id="c1", of=entry.id, changes=colder, **written)
    withdrawn = Correction(id="c2", of=entry.id, withdrawn=True, **written)
    again = Correction(id="c3", of="c1", withdrawn=True, **written)
    back = Correction(id="c4", of="c2", withdrawn=True, **written)
    plain = untold(case)
    assert untold(replace(case, log=(*case.log, corrected, again))) == plain
    assert untold(replace(case, log=(*case.log, withdrawn, back))) == plain
    gone = replace(case, log=tuple(each for each in case.log if each.id != entry.id))
    assert untold(replace(case, log=(*case.log, withdrawn))) == untold(gone)


@given(
    case=cases(),
    values_c=st.lists(st.floats(-2.0, 26.0), min_size=3, max_size=20),
    data=st.data(),
    place=st.sampled_from(Place),
)
def test_a_logger_read_out_in_two_parts_says_the_same(
    case: Case, values_c: list[float], data: st.DataObject, place: Place
) -> None:
    first = case.layers[0].done_at or START
    whole = logger("logger", first, 3 * HOUR, values_c, 0.55, place)
    cut = data.draw(st.integers(1, len(values_c) - 2))
    left = replace(whole, id="left", points=whole.points[: cut + 1])
    right = replace(whole, id="right", points=whole.points[cut:])
    log = case.log
    one = replace(case, log=(*log, whole)).plan()
    assert replace(case, log=(*log, left, right)).plan() == one
    assert replace(case, log=(right, *log, left)).plan() == one


@given(case=cases(), seconds=st.integers(0, 10_000_000))
def test_a_fact_of_the_future_has_no_effect(case: Case, seconds: int) -> None:
    late = case.as_of + timedelta(seconds=1 + seconds)
    reading = Reading(id="future", at=late, recorded=late, place=Place.SURFACE, temperature_c=-5.0)
    early = replace(reading, id="late-recorded", at=case.as_of)
    assert replace(case, log=(*case.log, reading, early)).plan() == case.plan()


@pytest.mark.slow
@pytest.mark.parametrize("seed", ["0", "1", "4711"])
def test_machine_zone_and_hash_seed_have_no_effect(seed: str) -> None:
    """The same plans, printed by fresh processes under other zones, seeds and languages."""
    printed = {
        subprocess.run(
            [sys.executable, "-c", _PRINT_PLANS],
            env={**os.environ, "TZ": zone, "PYTHONHASHSEED": seed, "LC_ALL": "C.UTF-8"},
            cwd=TESTS,
            check=True,
            capture_output=True,
            text=True,
        ).stdout
        for zone in ("UTC", "Pacific/Auckland", "America/St_Johns")
    }
    printed.add(_here())
    assert len(printed) == 1
    assert len(printed.pop()) > 5000


# Work in a zone with a clock change, planned and done layers, readings in a foreign offset.
_PRINT_PLANS = """
import sys, time
sys.path.insert(0, "samples")
time.tzset()
from datetime import datetime, timedelta, timezone
from zoneinfo import ZoneInfo
from planning_samples import START, daily, expected, job, layer, plan, weekdays, zone
east = timezone(timedelta(hours=5, minutes=45))
layers = [
    layer("leveler", START, thickness_m=0.006),
    layer("membrane"),
    layer("thinset", name="tile bed"),
    layer("cement grout"),
    layer("sealer"),
]
tz = ZoneInfo("America/New_York")
made = job(zone(*layers), climate=expected(17.0, coldest_c=12.0), tz=tz)
for days in (0, 3, 14, 60):
    as_of = START + timedelta(days=days)
    log = daily(START.astimezone(east), days, 16.5, humidity=0.6)
    told = plan(made, log, as_of, weekdays)
    for floor in told.zones:
        print(floor.state, floor.energize, floor.layers, floor.visits if 0 else floor.holds)
    print(told.visits, told.findings)
"""


def _here() -> str:
    return subprocess.run(
        [sys.executable, "-c", _PRINT_PLANS],
        cwd=TESTS,
        check=True,
        capture_output=True,
        text=True,
    ).stdout
