"""Whose correction counts: nobody lifts a stop, a fault or a frost by correcting another's word."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime

import pytest
from planning_log import HOUR, READY, a_job, codes, evidence, fact, hold, measured, released, state
from planning_samples import (
    ADA,
    DAY,
    RULES,
    START,
    job,
    layer,
    looked,
    plan,
    reading,
    sheet,
    zone,
)

from curecal.planning.plan import HoldState, State
from curecal.planning.site_log.corrections import (
    correction_findings,
    counts_from_anybody,
    may_change,
)
from curecal.planning.site_log.log_at_instant import facts_at
from curecal.trade.findings import Severity
from curecal.trade.job import Person, Role
from curecal.trade.site_log import (
    OPEN_OHM,
    Cause,
    Connected,
    Continuity,
    Correction,
    Device,
    Done,
    Energized,
    Entry,
    HeatStep,
    Inspection,
    Kept,
    LeadAlarm,
    MarkedPoints,
    Method,
    Mode,
    MoistureTest,
    Place,
    Protection,
    Release,
    Remark,
    Result,
    Resumed,
    Stage,
    Stopped,
    ThermostatSet,
    TripTest,
)
from curecal.words.sentences import words_for

LEAD, SPARK, OWNER = "Robin Lead", "Sam Spark", "Kim Owner"
PEOPLE = (
    Person(Role.CREW_LEAD, LEAD),
    Person(Role.ELECTRICIAN, SPARK),
    Person(Role.OWNER, OWNER),
    Person(Role.INSPECTOR, "Ira Inspector"),
    Person(Role.CREW, "Lee"),
)
EVERYBODY = (*PEOPLE, ADA)
LATE = READY + DAY
BED = zone(layer(sheet("thinset", 10.0), START, "bed"))


def corrected(entry: Entry, by: str | None, at: datetime = LATE, **changes: object) -> Correction:
    """A correction; without a change, a withdrawal."""
    return Correction(
        id=f"{entry.id}-{by}-{at:%d%H%M}",
        at=at,
        recorded=at,
        by=by,
        of=entry.id,
        withdrawn=not changes,
        changes=changes,
        path="log.9",
    )


def stands(entry: Entry, *corrections: Correction, people: tuple[Person, ...] = PEOPLE) -> Entry:
    """The one entry as the log leaves it."""
    (found,) = facts_at([entry, *corrections], LATE + DAY, people).entries
    return found


def test_an_owner_does_not_withdraw_the_crew_leads_stop() -> None:
    stop = fact(Stopped, READY + HOUR * 2, cause=Cause.OTHER, by=LEAD, reason="smell")
    log = [*released(by=LEAD), stop]
    refused = plan(a_job(people=EVERYBODY), [*log, corrected(stop, OWNER)], LATE + DAY)
    assert state(refused) is State.STOPPED
    (finding,) = [each for each in refused.findings if each.path == "log.9"]
    assert (finding.code, finding.severity) == ("withdrawn-wants-role", Severity.WARNING)
    said, do = words_for(refused.job, RULES).finding(finding)
    assert OWNER in said
    assert LEAD in said
    assert "stop" in said
    assert "crew lead, electrician" in said
    assert do
    for who in (LEAD, SPARK):
        lifted = plan(a_job(people=EVERYBODY), [*log, corrected(stop, who)], LATE + DAY)
        assert state(lifted) is State.RELEASED
        (finding,) = [each for each in lifted.findings if each.path == "log.9"]
        assert (finding.code, finding.severity) == ("entry-withdrawn", Severity.CAUTION)
        assert who in words_for(lifted.job, RULES).finding(finding)[0]


def test_an_owner_does_not_turn_a_fault_into_a_good_test() -> None:
    fault = measured(
        START + DAY * 6, Stage.CONNECTION, by=SPARK, earth_open=False, to_earth_ohm=26.0
    )
    better: dict[str, object] = {"earth_open": True, "to_earth_ohm": None}
    for who in (OWNER, LEAD, None, "somebody"):
        made = plan(
            a_job(people=EVERYBODY), [*evidence(), fault, corrected(fault, who, **better)], LATE
        )
        assert state(made) is State.STOPPED, who
        assert "corrected-wants-role" in codes(made)
    made = plan(
        a_job(people=EVERYBODY), [*evidence(), fault, corrected(fault, SPARK, **better)], LATE
    )
    assert state(made) is State.CLEAR
    assert "entry-corrected" in codes(made)


def test_an_owner_does_not_turn_a_failed_inspection_into_a_passed_one() -> None:
    failed = looked(START, Result.FAILED, by="Ira Inspector")
    assert stands(failed, corrected(failed, OWNER, result=Result.PASSED)) == failed
    assert stands(failed, corrected(failed, LEAD, result=Result.PASSED)) == failed
    mended = stands(failed, corrected(failed, "Ira Inspector", result=Result.PASSED))
    assert isinstance(mended, Inspection)
    assert mended.result is Result.PASSED


def test_an_unsigned_correction_takes_no_frost_back() -> None:
    frost = reading(START + HOUR * 14, -3.0)
    for who in (None, OWNER, "somebody"):
        warm = corrected(frost, who, START + HOUR * 20, temperature_c=13.0)
        made = plan(job(BED, people=PEOPLE), [frost, warm], START + DAY * 2)
        assert state(made) is State.NO_DATE
        assert "corrected-wants-role" in codes(made)
    warm = corrected(frost, LEAD, START + HOUR * 20, temperature_c=13.0)
    made = plan(job(BED, people=PEOPLE), [frost, warm], START + DAY * 2)
    assert made.zones[0].energize.window is not None
    assert "frost" not in codes(made)


@pytest.mark.parametrize(
    ("entry_by", "by", "counts"),
    [
        ("Lee", "Lee", True),
        ("Lee", " lee ", True),
        ("Lee", "Max", False),
        ("Lee", None, False),
        (None, "Lee", False),
        (None, None, False),
        # The same name counts only of a person of the job.
        ("Max", "Max", False),
    ],
)
def test_who_signed_a_fact_of_the_work_may_correct_it(
    entry_by: str | None, by: str | None, *, counts: bool
) -> None:
    frost = replace(reading(START, -3.0), by=entry_by)
    stop = fact(Stopped, START, cause=Cause.OTHER, by=entry_by)
    test = measured(START, Stage.LAID, by=entry_by)
    assert may_change(PEOPLE, corrected(frost, by), frost) is counts
    assert may_change(PEOPLE, corrected(test, by), test) is counts
    # A stop is not taken back by who made it.
    assert not may_change(PEOPLE, corrected(stop, by), stop)


ELECTRICAL = {"cause": Cause.SMELL_OR_HEAT}
LOW = {"insulation_ohm": 1e3}


@pytest.mark.parametrize(
    ("entry", "may"),
    [
        (reading(START, -3.0), {"Lee", LEAD}),
        (fact(Done, START, layer="bed"), {"Lee", LEAD}),
        # What Lee could not have given is not Lee's to correct.
        (fact(Release, START), {LEAD}),
        (fact(Kept, START, above_c=20.0, from_at=START, to_at=LATE), {"Lee", LEAD}),
        (looked(START, Result.SOUND), {LEAD}),
        (looked(START, Result.FAILED, "bed"), {LEAD}),
        (looked(START, Result.REPLACE), {LEAD}),
        (looked(START, Result.FAILED), {"Ira Inspector"}),
        (looked(START, Result.PASSED), {"Ira Inspector"}),
        (measured(START, Stage.LAID), {"Lee", LEAD}),
        (measured(START, Stage.LAID, **LOW), {SPARK}),
        (measured(START, Stage.LAID, conductor_ohm=OPEN_OHM), {SPARK}),
        (measured(START, Stage.LAID, to_earth_ohm=26.0), {SPARK}),
        (fact(Protection, START, device=Device.RCD, trips_at_a=0.03), {SPARK}),
        (fact(Connected, START), {SPARK}),
        (fact(Connected, START, locked=False), {SPARK}),
        (fact(ThermostatSet, START, mode=Mode.FLOOR), {SPARK}),
        (fact(Continuity, START, state=LeadAlarm.SOUNDED), {SPARK}),
        (fact(Continuity, START, state=LeadAlarm.CONNECTED), {"Lee", LEAD}),
        (fact(Stopped, START, cause=Cause.OTHER), {LEAD, SPARK}),
        (fact(Stopped, START, **ELECTRICAL), {SPARK}),
        (fact(Resumed, START, found="dust"), {LEAD}),
        (fact(Energized, START), {LEAD, SPARK}),
        (fact(HeatStep, START, to_c=29.0), {LEAD, SPARK}),
        (reading(START, 30.0, Place.FLOOR, heating_on=True), {LEAD, SPARK}),
    ],
)
def test_whose_word_changes_what(entry: Entry, may: set[str]) -> None:
    own = replace(entry, by="Lee")
    people = (LEAD, SPARK, OWNER, "Lee", "Ira Inspector", "Max", "", None)
    assert {by for by in people if may_change(PEOPLE, corrected(own, by), own)} == may
    theirs = replace(measured(START, Stage.LAID), by=OWNER)
    assert not may_change(PEOPLE, corrected(theirs, OWNER), theirs)


@pytest.mark.parametrize(
    ("entry", "changes", "free"),
    [
        (reading(START, 12.0), {"temperature_c": 5.0}, True),
        (reading(START, 12.0, Place.AIR), {"temperature_c": 5.0}, False),
        (reading(START, 12.0), {"temperature_c": 13.0}, False),
        (reading(START, 0.0), {"temperature_c": -1.0}, True),
        (reading(START, None, low_c=3.0), {"temperature_c": 13.0}, False),
        (reading(START, 12.0), {"low_c": 5.0}, True),
        (reading(START, 12.0, low_c=3.0), {"low_c": 5.0}, False),
        (reading(START, 12.0), {"temperature_c": 5.0, "humidity": 0.2}, False),
        (reading(START, 31.0, Place.FLOOR), {"temperature_c": 20.0}, False),
        (reading(START, 12.0), {"zone": "attic"}, False),
        (looked(START, Result.PASSED), {"result": Result.FAILED}, True),
        (looked(START, Result.REPLACE), {"result": Result.FAILED}, False),
        (looked(START, Result.FAILED), {"result": Result.SOUND}, False),
        (fact(Protection, START, device=Device.GFCI), {"trip_test": TripTest.DID_NOT_TRIP}, True),
        (fact(Protection, START, device=Device.GFCI), {"trip_test": TripTest.TRIPPED}, False),
        (fact(ThermostatSet, START, mode=Mode.FLOOR), {"mode": Mode.AIR}, True),
        (fact(ThermostatSet, START, mode=Mode.AIR), {"mode": Mode.FLOOR}, False),
        (fact(Connected, START, locked=True), {"locked": False, "tagged": False}, True),
        (fact(Kept, START, above_c=20.0, from_at=START, to_at=LATE), {"above_c": 12.0}, True),
        (fact(Kept, START, above_c=20.0, from_at=START, to_at=LATE), {"above_c": 22.0}, False),
        (
            fact(MoistureTest, START, layer="bed", method=Method.CARBIDE, value_fraction=0.01),
            {"value_fraction": 0.02},
            True,
        ),
        (
            fact(MoistureTest, START, layer="bed", method=Method.CARBIDE, value_fraction=0.01),
            {"value_fraction": 0.001},
            False,
        ),
        (measured(START, Stage.LAID), {"insulation_ohm": 1e3}, True),
        (measured(START, Stage.LAID), {"insulation_ohm": 1e9}, False),
        (measured(START, Stage.LAID), {"insulation_ohm": None}, False),
        (measured(START, Stage.LAID), {"conductor_ohm": OPEN_OHM}, True),
        (measured(START, Stage.LAID), {"conductor_ohm": 91.0}, False),
        (fact(Done, START, layer="bed"), {"lot": "L 2", "note": "the other bag"}, True),
        (fact(Remark, START, text="a"), {"text": "b", "file": "c"}, True),
    ],
)
def test_bad_news_and_what_nothing_is_made_of_count_from_anybody(
    entry: Entry, changes: dict[str, object], *, free: bool
) -> None:
    after = replace(entry, **changes)  # type: ignore[arg-type]
    assert counts_from_anybody(entry, after) is free
    made = facts_at([entry, corrected(entry, None, **changes)], LATE, PEOPLE)
    assert made.entries == ((after,) if free else (entry,))
    assert bool(correction_findings(made.corrected)) is not free


@pytest.mark.parametrize(
    ("entry", "free"),
    [
        (fact(Release, START), True),
        # It may be the only sign that the room was colder than expected.
        (fact(Kept, START, above_c=20.0, from_at=START, to_at=LATE), False),
        (fact(MarkedPoints, START), True),
        (fact(Resumed, START, found="dust"), True),
        (looked(START, Result.SOUND), True),
        (looked(START, Result.FAILED), False),
        (fact(Stopped, START, cause=Cause.OTHER), False),
        (
            fact(
                Protection,
                START,
                device=Device.RCD,
                trips_at_a=0.03,
                trip_test=TripTest.DID_NOT_TRIP,
            ),
            False,
        ),
        (fact(Done, START, layer="bed"), False),
        (reading(START, -3.0), False),
    ],
)
def test_a_good_word_is_withdrawn_by_anybody_and_no_bad_one(entry: Entry, *, free: bool) -> None:
    gone = facts_at([entry, corrected(entry, None)], LATE, PEOPLE)
    assert gone.entries == (() if free else (entry,))


def test_a_withdrawal_is_withdrawn_by_whose_word_the_entry_is() -> None:
    release = fact(Release, START, by=LEAD)
    gone = corrected(release, "Max", START + HOUR)
    assert facts_at([release, gone], LATE, PEOPLE).entries == ()
    for who, back in ((OWNER, False), (LEAD, True)):
        again = corrected(gone, who, START + HOUR * 2)
        made = facts_at([release, gone, again], LATE, PEOPLE)
        assert bool(made.entries) is back
    stop = fact(Stopped, START, cause=Cause.OTHER, by=LEAD)
    off = corrected(stop, SPARK, START + HOUR)
    # The stop stands again by anybody's word.
    assert stands(stop, off, corrected(off, None, START + HOUR * 2)) == stop


def test_each_correction_is_held_against_what_stood_when_it_was_recorded() -> None:
    warm = replace(reading(START, 13.0), by="Lee")
    cold = corrected(warm, "Max", START + HOUR, temperature_c=-3.0)
    mild = corrected(warm, "Ann", START + HOUR * 2, temperature_c=10.0)
    assert stands(warm, cold) == replace(warm, temperature_c=-3.0)
    # 10 °C is colder than what was first told, and warmer than the frost.
    assert stands(warm, cold, mild) == replace(warm, temperature_c=-3.0)
    back = corrected(cold, OWNER, START + HOUR * 3)
    assert stands(warm, cold, back) == replace(warm, temperature_c=-3.0)
    assert stands(warm, cold, corrected(cold, LEAD, START + HOUR * 3)) == warm


def test_a_withdrawal_written_ahead_hides_nothing_that_comes_after_it() -> None:
    look = looked(START, Result.PASSED, by="Ira Inspector")
    failed = corrected(look, "Max", START + HOUR * 2, result=Result.FAILED)
    ahead = corrected(failed, OWNER, START + HOUR)
    found = stands(look, ahead, failed)
    assert isinstance(found, Inspection)
    assert found.result is Result.FAILED


def test_a_correction_of_nothing_known_and_one_of_itself_change_nothing() -> None:
    warm = reading(START, 13.0)
    lost = Correction(id="a", at=LATE, recorded=LATE, of="unknown", withdrawn=True)
    ring = [
        Correction(id="b", at=LATE, recorded=LATE, of="c", withdrawn=True),
        Correction(id="c", at=LATE, recorded=LATE, of="b", withdrawn=True),
    ]
    assert stands(warm, lost, *ring) == warm


def test_a_refused_correction_is_told_for_as_long_as_the_job_lives() -> None:
    frost = reading(START + HOUR * 14, -3.0)
    warm = corrected(frost, None, START + HOUR * 20, temperature_c=13.0)
    for days in (1, 30, 400):
        made = plan(job(BED, people=PEOPLE), [frost, warm], START + DAY * days)
        assert "corrected-wants-role" in codes(made)


def test_a_correction_that_does_not_count_meets_no_hold_point() -> None:
    bad = fact(
        Protection,
        START + DAY * 6,
        by=SPARK,
        device=Device.RCD,
        trips_at_a=0.03,
        trip_test=TripTest.DID_NOT_TRIP,
    )
    log = [*evidence(), bad]
    for who, met in ((OWNER, HoldState.FAILED), (LEAD, HoldState.FAILED), (SPARK, HoldState.MET)):
        mended = corrected(bad, who, trip_test=TripTest.TRIPPED)
        made = plan(a_job(people=EVERYBODY), [*log, mended], LATE)
        assert hold(made, "protection").state is met
