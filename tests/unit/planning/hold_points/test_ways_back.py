"""Events that break a plan: each is recorded, told with a remedy, and taken back by an entry."""

from __future__ import annotations

from dataclasses import dataclass, replace

import pytest
from planning_log import HOUR, READY, a_job, codes, courses, evidence, fact, floor, measured, state
from planning_samples import (
    DAY,
    RULES,
    START,
    daily,
    expected,
    job,
    layer,
    looked,
    plan,
    reading,
    sheet,
    zone,
)

from curecal.planning.plan import Plan, State
from curecal.trade.findings import Severity
from curecal.trade.job import Covering, CoveringKind, Job
from curecal.trade.site_log import (
    Cause,
    Correction,
    Done,
    Energized,
    Entry,
    Result,
    Resumed,
    Stage,
    Stopped,
)
from curecal.words.sentences import words_for

LATE = READY + DAY
COLD_START = replace(reading(START + HOUR * 3, 6.0), by="Ada")
FROST = [
    replace(reading(START + HOUR * hours, air_c), by="Ada")
    for hours, air_c in ((40, -2.0), (50, 12.0))
]
BED = job(zone(layer(sheet("thinset", 10.0), START, "bed")))
SCREED = job(
    zone(
        layer("calcium-sulfate screed", START, "screed", thickness_m=0.05),
        layer("thinset", START + DAY * 2, "bed"),
    ),
    climate=expected(20.0, humidity=0.5),
)


def withdrawn(entry: Entry) -> Correction:
    return Correction(
        id=f"{entry.id}-off", at=LATE, recorded=LATE, by=entry.by, of=entry.id, withdrawn=True
    )


@dataclass(frozen=True)
class Event:
    """What happened on a job, what is said of it, and the entries that take it back."""

    job: Job
    log: tuple[Entry, ...]
    event: tuple[Entry, ...]
    code: str
    severity: Severity
    ways_back: tuple[tuple[Entry, ...], ...]

    def plan(self, *more: Entry) -> Plan:
        return plan(self.job, [*self.log, *more], READY + DAY * 2)


EARLY = fact(Energized, START + DAY * 3)
STOP = fact(Stopped, START + DAY * 3, cause=Cause.OTHER, reason="smell of burning")
FAULT = measured(
    START + DAY * 5 + HOUR, Stage.CONNECTION, by="Ada", earth_open=False, to_earth_ohm=26.0
)
EVENTS = {
    "frost": Event(
        BED,
        (reading(START, 12.0),),
        tuple(FROST),
        "frost",
        Severity.STOP,
        (
            (looked(START + DAY * 3, Result.SOUND, "bed"),),
            tuple(withdrawn(entry) for entry in FROST),
            # Replaced: the old bed is out, the new one has its own time.
            (
                looked(START + DAY * 3, Result.REPLACE, "bed"),
                fact(Done, START + DAY * 4, layer="bed"),
            ),
        ),
    ),
    "laid in the cold": Event(
        BED,
        (reading(START + HOUR * 20, 20.0),),
        (COLD_START,),
        "cold-at-application",
        Severity.WARNING,
        ((withdrawn(COLD_START),),),
    ),
    "early switch-on": Event(
        a_job(),
        tuple(evidence()),
        (EARLY,),
        "early-switch-on",
        Severity.STOP,
        ((fact(Resumed, READY, found="no crack"),), (withdrawn(EARLY),)),
    ),
    "stopped by somebody": Event(
        a_job(),
        tuple(evidence()),
        (STOP,),
        "stopped",
        Severity.STOP,
        ((fact(Resumed, READY, found="a neighbor's fire"),), (withdrawn(STOP),)),
    ),
    "finite reading to earth": Event(
        a_job(),
        tuple(evidence()),
        (FAULT,),
        "earth-finite",
        Severity.STOP,
        ((measured(READY, Stage.CONNECTION),), (withdrawn(FAULT),)),
    ),
}


@pytest.mark.parametrize("event", EVENTS.values(), ids=list(EVENTS))
def test_what_breaks_a_plan_goes_in_and_comes_back_out(event: Event) -> None:
    before = event.plan()
    assert event.code not in codes(before)
    broken = event.plan(*event.event)
    found = [finding for finding in broken.findings if finding.code == event.code]
    assert found
    assert {finding.severity for finding in found} == {event.severity}
    _, remedy = words_for(event.job, RULES).finding(found[0])
    assert "log" in remedy.lower() or "correct" in remedy.lower()
    for way in event.ways_back:
        mended = event.plan(*event.event, *way)
        assert event.code not in codes(mended)
        assert mended.zones[0].energize.window is not None
        assert state(mended) not in {State.STOPPED, State.NO_DATE}


@pytest.mark.parametrize(
    "event", [EVENTS["early switch-on"], EVENTS["stopped by somebody"]], ids=["switch-on", "stop"]
)
def test_clocks_run_on_while_a_floor_is_stopped(event: Event) -> None:
    stopped = event.plan(*event.event)
    assert state(stopped) is State.STOPPED
    assert stopped.zones[0].energize.window == event.plan().zones[0].energize.window


def test_laid_in_the_cold_the_makers_answer_meets_the_hold_and_the_lost_hours_stay_lost() -> None:
    event = EVENTS["laid in the cold"]
    answer = looked(START + DAY * 3, Result.SOUND, "bed", by="Ada")
    broken, answered = event.plan(COLD_START), event.plan(COLD_START, answer)

    def asked(made: Plan) -> str:
        return next(h.state.value for h in made.zones[0].holds if h.code == "ask-the-maker")

    assert (asked(broken), asked(answered)) == ("unmet", "met")
    assert broken.zones[0].energize.window == answered.zones[0].energize.window


def test_frost_found_sound_has_its_full_wait_again_and_withdrawn_its_old_date() -> None:
    event = EVENTS["frost"]
    sound, undone, replaced = event.ways_back
    dates = [
        made.zones[0].energize.window
        for made in (
            event.plan(),
            event.plan(*event.event, *undone),
            event.plan(*event.event, *sound),
            event.plan(*event.event, *replaced),
        )
    ]
    untouched, back, thawed, renewed = dates
    assert untouched is not None
    assert thawed is not None
    assert renewed is not None
    assert back == untouched
    assert thawed.earliest >= START + HOUR * 50 + DAY * 10
    assert renewed.earliest >= START + DAY * 14


def test_a_base_covered_wet_has_no_date_until_a_person_decides_or_the_time_is_corrected() -> None:
    wet = plan(SCREED, daily(START, 4, 20.0), START + DAY * 5)
    assert "covered-wet" in codes(wet)
    assert wet.zones[0].energize.window is None
    sound = looked(START + DAY * 4, Result.SOUND, "screed")
    decided = plan(SCREED, [*daily(START, 4, 20.0), sound], START + DAY * 5)
    hold = next(each for each in decided.zones[0].holds if each.code == "covered-wet")
    assert hold.evidence == sound.id
    assert decided.zones[0].energize.blocked != wet.zones[0].energize.blocked
    bad = looked(START + DAY * 4 + HOUR, Result.REPLACE, "screed")
    assert plan(SCREED, [sound, bad], START + DAY * 5).zones[0].energize.window is None


def test_work_in_the_wrong_order_is_told_and_a_corrected_time_takes_it_back() -> None:
    leveler, mortar, grout = courses()
    early = fact(Done, START + HOUR * 9, layer="mortar")
    made = a_job(floor(layers=(leveler, replace(mortar, done_at=None), grout)))
    assert "covered-early" in codes(plan(made, [early], LATE))
    right = Correction(
        id="c", at=LATE, recorded=LATE, by="Ada", of=early.id, changes={"at": START + DAY * 2}
    )
    assert "covered-early" not in codes(plan(made, [early, right], LATE))


def test_a_second_pour_has_its_own_clock_and_taken_out_again_the_old_date() -> None:
    first = layer(sheet("leveler", 28.0), START, "first pour", thickness_m=0.005)
    second = layer(sheet("rapid leveler", 3.0), START + DAY * 2, "second pour", thickness_m=0.005)
    alone, both = plan(job(zone(first))), plan(job(zone(first, second)), as_of=START + DAY * 3)
    assert both.zones[0].energize.window == alone.zones[0].energize.window
    late = replace(second, sheet=sheet("leveler", 28.0))
    moved = plan(job(zone(first, late)), as_of=START + DAY * 3).zones[0].energize.window
    assert moved is not None
    assert moved.earliest == START + DAY * 30


def test_a_repair_holds_the_whole_zone_until_its_readings_and_its_time() -> None:
    old = layer("mortar bed", None, "old floor", existing=True)
    mortar = layer(sheet("thinset", 3.0), START, "mortar", repair=True)
    joint = layer(sheet("cement grout", 3.0), START + DAY * 2, "joint", repair=True)
    under_repair = job(zone(old, mortar, joint, covering=Covering(CoveringKind.CERAMIC)))
    looks = daily(START, 5, 20.0)
    waiting = plan(under_repair, looks, START + DAY * 6)
    assert state(waiting) is State.ON_HOLD
    test = measured(START + HOUR, Stage.IN_SERVICE)
    assert state(plan(under_repair, [*looks, test], START + DAY * 6)) is State.CLEAR
    broken = measured(START + DAY, Stage.IN_SERVICE, conductor_ohm=5e6)
    log = [*looks, test, broken]
    assert state(plan(under_repair, log, START + DAY * 6)) is State.STOPPED
    spliced = measured(START + DAY * 3, Stage.IN_SERVICE)
    assert state(plan(under_repair, [*log, spliced], START + DAY * 6)) is State.CLEAR
