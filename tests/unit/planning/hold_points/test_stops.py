"""What stops a released floor, what starts it again, and by whose word."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import pytest
from planning_log import (
    HOUR,
    READY,
    a_job,
    codes,
    evidence,
    fact,
    hold,
    measured,
    released,
    state,
    wired,
)
from planning_samples import ADA, DAY, RULES, START, layer, looked, plan, reading, zone

from curecal.planning.plan import HoldState, Plan, State
from curecal.trade.findings import Severity
from curecal.trade.job import Person, Role
from curecal.trade.site_log import (
    Cause,
    Device,
    Done,
    Energized,
    Entry,
    HeatStep,
    Origin,
    Place,
    Protection,
    Reading,
    Release,
    Resistance,
    Result,
    Resumed,
    Stage,
    Stopped,
    TripTest,
)
from curecal.words.sentences import words_for

ON = fact(Energized, READY + DAY)
STOPPED_AT = READY + DAY
REDONE = fact(Done, READY + DAY * 2, layer="grout")
"""The grout laid again after the release: three days more."""
TRIPPED_NOT = fact(
    Protection, READY + DAY * 2, device=Device.RCD, trips_at_a=0.03, trip_test=TripTest.DID_NOT_TRIP
)
TRIPPED = fact(
    Protection, READY + DAY * 4, device=Device.RCD, trips_at_a=0.03, trip_test=TripTest.TRIPPED
)
PEOPLE = (
    Person(Role.CREW_LEAD, "Lee"),
    Person(Role.ELECTRICIAN, "Sam"),
    Person(Role.OWNER, "Olga"),
    ADA,
)
WARM = [reading(READY + DAY * n, 20.0) for n in range(1, 40)]


def told(made: Plan, code: str) -> list[str]:
    """Return what is said by one code, as sentences."""
    words = words_for(made.job, RULES)
    return [words.finding(each)[0] for each in made.findings if each.code == code]


def heat_on(at_day: float, **more: object) -> Reading:
    """Return a look at the floor's sensor that says the heating was on."""
    look = reading(START + DAY * at_day, 27.0, Place.FLOOR, heating_off=False)
    return replace(look, heating_on=True, **more)  # type: ignore[arg-type]


@pytest.mark.parametrize("day", [3, 4, 6, 30, 300])
def test_an_old_release_does_not_come_back_once_a_layer_laid_after_it_is_cured(day: int) -> None:
    made = plan(a_job(), [*released(), REDONE, *WARM], READY + DAY * day)
    assert not made.is_released
    assert state(made) is (State.CLEAR if day > 4 else State.CURING)
    assert told(made, "release-early") == [
        "the release of Mon 8 Mar 2027, 13:00 does not count: the grout was not done by then"
    ]
    again = fact(Release, READY + DAY * 6)
    made = plan(a_job(), [*released(), REDONE, *WARM, again], READY + DAY * 7)
    assert made.is_released


@pytest.mark.parametrize("day", [3, 30, 300])
def test_a_floor_that_ran_when_a_layer_was_laid_anew_stays_stopped(day: int) -> None:
    log = [*released(), ON, REDONE]
    made = plan(a_job(), log, READY + DAY * day)
    assert state(made) is State.STOPPED
    assert told(made, "early-switch-on")
    lift = fact(Resumed, READY + DAY * 2 + HOUR, found="nothing wrong")
    assert state(plan(a_job(), [*log, lift, *WARM], READY + DAY * day)) is (
        State.CURING if day == 3 else State.CLEAR
    )


@pytest.mark.parametrize("day", [3, 4, 30])
def test_cold_told_after_the_release_takes_it_back_for_good(day: int) -> None:
    cold = [reading(START + DAY * 4 + HOUR * n * 6, 12.0, Place.SURFACE) for n in range(1, 12)]
    late = [replace(look, recorded=READY + DAY * 2) for look in cold]
    log = [*released(), ON, *late, *WARM]
    assert plan(a_job(), log, READY + DAY + HOUR).is_released
    made = plan(a_job(), log, READY + DAY * day)
    assert state(made) is State.STOPPED
    assert "the layers are cured" in told(made, "release-early")[0]


def test_a_release_that_no_date_stands_behind_says_why() -> None:
    condemned = looked(READY + DAY, Result.REPLACE, "grout")
    made = plan(a_job(), [*released(), condemned], READY + DAY * 30)
    assert not made.is_released
    assert "does not count" in told(made, "release-undated")[0]


def test_an_early_release_is_only_noted_once_a_later_one_counts() -> None:
    early = fact(Release, READY - DAY)
    alone = plan(a_job(), [*evidence(), early], READY + DAY)
    assert [each.severity for each in alone.findings if each.code == "release-early"] == [
        Severity.STOP
    ]
    made = plan(a_job(), [*released(), early], READY + DAY)
    assert made.is_released
    assert {each.severity for each in made.findings} <= {Severity.CAUTION, Severity.WARNING}
    assert told(made, "release-settled") == [
        "the release of Sun 7 Mar 2027, 12:00 did not count; that of Mon 8 Mar 2027, 13:00 does"
    ]
    # What was switched on by the early one is no better for it.
    on = fact(Energized, READY - HOUR)
    assert state(plan(a_job(), [*released(), early, on], READY + DAY)) is State.STOPPED


def test_a_refused_release_names_what_was_not_met() -> None:
    late = fact(
        Protection, READY + DAY, device=Device.RCD, trips_at_a=0.03, trip_test=TripTest.TRIPPED
    )
    without = [entry for entry in released() if not isinstance(entry, Protection)]
    open_still = plan(a_job(), without, READY + DAY * 2)
    assert "still to do was " in told(open_still, "release-early")[0]
    made = plan(a_job(), [*without, late], READY + DAY * 2)
    said = told(made, "release-before-evidence")[0]
    assert "still to do was " in said


def test_a_job_without_a_crew_lead_cannot_be_released() -> None:
    people = (replace(ADA, role=Role.CREW, roles=tuple(set(Role) - {Role.CREW_LEAD})),)
    made = plan(a_job(people=people), released(), READY + DAY)
    assert state(made) is State.CLEAR
    assert "names no crew lead" in told(made, "release-unnamed")[0]
    # Said when a release is next, or was tried; not before.
    assert "release-unnamed" in codes(plan(a_job(people=people), evidence(), READY + DAY))
    assert "release-unnamed" not in codes(plan(a_job(people=people), evidence(), START + DAY))
    assert "release-unnamed" not in codes(plan(a_job(people=PEOPLE), released(), READY + DAY))


@pytest.mark.parametrize("at_day", [3.0, 6.9])
def test_a_heating_read_as_on_before_the_release_is_an_early_switch_on(at_day: float) -> None:
    made = plan(a_job(), [*released(), heat_on(at_day)], READY + DAY)
    assert state(made) is State.STOPPED
    assert made.zones[0].why.code == "early-switch-on"
    twice = plan(a_job(), [*released(), heat_on(at_day), heat_on(at_day + 0.05)], READY + DAY)
    assert len(told(twice, "early-switch-on")) == 1


@pytest.mark.parametrize(
    "look",
    [
        reading(START + DAY * 3, 27.0, Place.FLOOR, heating_off=False),
        reading(START + DAY * 3, 20.0, Place.FLOOR),
        heat_on(3, place=Place.AIR),
        heat_on(3, zone="another"),
    ],
)
def test_silent_or_off_is_none(look: Entry) -> None:
    made = plan(a_job(), [*released(), look], READY + DAY)
    assert state(made) is State.RELEASED


def test_a_released_floor_seen_on_is_heating_up() -> None:
    made = plan(a_job(), [*released(), heat_on(7.5)], READY + DAY)
    assert state(made) is State.HEATING_UP
    off = reading(START + DAY * 7.6, 20.0, Place.FLOOR)
    assert state(plan(a_job(), [*released(), heat_on(7.5), off], READY + DAY)) is State.RELEASED


def test_a_bare_screed_may_read_as_heated_in_its_own_days() -> None:
    bed = layer("sand-cement screed", START, "screed", thickness_m=0.05, heat_before_covering=True)
    screed = zone(bed, layer("thinset", None, "mortar"))
    made = plan(a_job(screed), [*wired(DAY * 29), heat_on(30)], START + DAY * 31)
    assert state(made) is not State.STOPPED
    assert state(plan(a_job(screed), [heat_on(20)], START + DAY * 31)) is State.STOPPED


def test_a_hold_that_fails_while_the_floor_runs_switches_it_off() -> None:
    log = [*released(), ON, TRIPPED_NOT]
    as_of = READY + DAY * 3
    made = plan(a_job(), log, as_of)
    assert state(made) is State.ON_HOLD
    assert hold(made, "protection").state is HoldState.FAILED
    stops = [each for each in made.findings if each.severity is Severity.STOP]
    assert [each.code for each in stops] == ["held-while-on"]
    why = made.zones[0].why
    assert why.code == "held-while-on"
    assert words_for(made.job, RULES).remedy(why).startswith("Switch it off and lock it off")
    # Nobody is told a day that is past, and the ramp lies ahead.
    energize = made.zones[0].energize
    assert energize.start_on is not None
    assert energize.owner_date is not None
    assert min(energize.start_on, energize.owner_date) >= as_of.date()
    ramp = made.zones[0].heat_ups[-1]
    assert ramp.steps[0].on >= as_of.date()
    assert ramp.provisional
    windows = [visit.window for visit in made.visits if visit.window is not None]
    assert all(window.earliest >= as_of for window in windows)
    mended = plan(a_job(), [*log, TRIPPED], READY + DAY * 5)
    assert state(mended) is State.HEATING_UP
    assert "held-while-on" not in codes(mended)


@pytest.mark.parametrize(
    ("more", "on"),
    [
        ([], False),
        ([ON], True),
        ([heat_on(8)], True),
        ([ON, reading(READY + DAY * 2 + HOUR, 20.0, Place.FLOOR)], False),
        ([ON, reading(READY + DAY * 2 + HOUR, 20.0, Place.FLOOR, heating_off=False)], True),
        ([replace(ON, zone="another")], False),
    ],
)
def test_the_floor_is_on_as_the_log_last_says(more: Sequence[Entry], *, on: bool) -> None:
    made = plan(a_job(), [*released(), *more, TRIPPED_NOT], READY + DAY * 3)
    assert ("held-while-on" in codes(made)) is on
    assert state(made) is State.ON_HOLD


LEAD_OR_SPARK = {"Lee", "sam ", "Ada"}
SPARK_ALONE = {"sam ", "Ada"}


@pytest.mark.parametrize(
    ("stop", "may_lift"),
    [
        (fact(Stopped, STOPPED_AT, cause=Cause.TRIPPED), SPARK_ALONE),
        (fact(Stopped, STOPPED_AT, cause=Cause.SMELL_OR_HEAT), SPARK_ALONE),
        (fact(Stopped, STOPPED_AT, cause=Cause.CABLE_DAMAGED), SPARK_ALONE),
        (fact(Stopped, STOPPED_AT, cause=Cause.READING_FAILED), SPARK_ALONE),
        (fact(Stopped, STOPPED_AT, cause=Cause.FROST), LEAD_OR_SPARK),
        (fact(Stopped, STOPPED_AT, cause=Cause.CRACK, by=None), LEAD_OR_SPARK),
        (fact(Stopped, STOPPED_AT, cause=Cause.SWITCHED_ON_EARLY), LEAD_OR_SPARK),
        (fact(Stopped, STOPPED_AT, cause=Cause.OTHER, by="a passer-by"), LEAD_OR_SPARK),
        (fact(Energized, START + DAY * 4), LEAD_OR_SPARK),
    ],
    ids=lambda case: getattr(getattr(case, "cause", None), "value", None),
)
def test_a_stop_is_lifted_by_who_may_lift_its_cause(stop: Entry, may_lift: set[str]) -> None:
    test = measured(STOPPED_AT + DAY, Stage.IN_SERVICE)
    for by in ("Lee", "sam ", "Ada", "Olga", "a passer-by", "", " ", None):
        lift = fact(Resumed, STOPPED_AT + DAY, by=by, found="a loose wire")
        log = [*released(), stop, test, lift]
        made = plan(a_job(people=PEOPLE), log, STOPPED_AT + DAY * 2)
        assert (state(made) is State.RELEASED) is (by in may_lift), by
        gaps = [code for code in codes(made) if code.startswith("signature-")]
        assert bool(gaps) is (by not in may_lift), by


def test_an_electrical_stop_is_lifted_with_a_reading_of_that_day() -> None:
    stop = fact(Stopped, STOPPED_AT, cause=Cause.TRIPPED)
    lift = fact(Resumed, STOPPED_AT + DAY, found="water in the box")
    for days, by, lifted in ((0, "Ada", False), (1, "Ada", True), (1, None, False)):
        test = measured(STOPPED_AT + DAY * days, Stage.IN_SERVICE, by=by)
        made = plan(a_job(), [*released(), stop, test, lift], STOPPED_AT + DAY * 2)
        assert (state(made) is State.RELEASED) is lifted
        assert ("resumed-unread" in codes(made)) is not lifted


def test_a_reading_of_before_the_stop_lifts_it_not_on_the_same_day_either() -> None:
    stop = fact(Stopped, STOPPED_AT, cause=Cause.TRIPPED)
    lift = fact(Resumed, STOPPED_AT + HOUR * 3, by="Sam", found="a loose wire")
    for hours, lifted in ((-1, False), (1, True)):
        test = measured(STOPPED_AT + HOUR * hours, Stage.IN_SERVICE)
        made = plan(a_job(people=PEOPLE), [*released(), stop, test, lift], STOPPED_AT + DAY)
        assert (state(made) is State.RELEASED) is lifted
        assert ("resumed-unread" in codes(made)) is not lifted


@pytest.mark.parametrize(
    ("figures", "lifted"),
    [
        ({}, False),
        ({"sensor_ohm": 12e3}, False),
        ({"conductor_ohm": 90.0}, False),
        ({"insulation_ohm": 550e6, "insulation_at_v": 500.0}, False),
        ({"conductor_ohm": 90.0, "earth_open": True}, True),
    ],
)
def test_the_reading_that_lifts_an_electrical_stop_is_of_the_cable(
    figures: dict[str, object], *, lifted: bool
) -> None:
    stop = fact(Stopped, STOPPED_AT, cause=Cause.TRIPPED)
    test = fact(Resistance, STOPPED_AT + DAY, stage=Stage.IN_SERVICE, by="Ada", **figures)
    lift = fact(Resumed, STOPPED_AT + DAY, found="water in the box")
    made = plan(a_job(), [*released(), stop, test, lift], STOPPED_AT + DAY * 2)
    assert ("resumed-unread" in codes(made)) is not lifted


def test_the_electricians_lift_typed_by_the_office_needs_its_photo() -> None:
    people = (*PEOPLE, Person(Role.OFFICE, "Ollie"))
    stop = fact(Stopped, STOPPED_AT, cause=Cause.TRIPPED)
    test = measured(STOPPED_AT + DAY, Stage.IN_SERVICE)
    typed = {"by": "Sam", "entered_by": "Ollie", "origin": Origin.PHONE, "found": "a loose wire"}
    for photo, lifted in ((None, False), ("meter.jpg", True)):
        lift = fact(Resumed, STOPPED_AT + DAY, photo=photo, **typed)
        made = plan(a_job(people=people), [*released(), stop, test, lift], STOPPED_AT + DAY * 2)
        assert (state(made) is State.RELEASED) is lifted
        assert ("signature-photo" in codes(made)) is not lifted


def test_an_inspection_lifts_no_stop_and_a_lift_no_later_one() -> None:
    stop = fact(Stopped, STOPPED_AT, cause=Cause.OTHER)
    sound = looked(STOPPED_AT + DAY, Result.SOUND)
    lift = fact(Resumed, STOPPED_AT - HOUR, found="nothing")
    made = plan(a_job(), [*released(), lift, stop, sound], STOPPED_AT + DAY * 2)
    assert state(made) is State.STOPPED
    assert "signature-role" not in codes(made)


def test_a_lift_with_nothing_to_lift_is_nobodys_concern() -> None:
    before = fact(Resumed, READY, by=None, found="nothing")
    made = plan(a_job(), [*released(), before], READY + DAY)
    assert not [code for code in codes(made) if code.startswith("signature-")]


def test_the_ramp_of_a_floor_that_was_stopped_begins_anew() -> None:
    steps = [ON, fact(HeatStep, READY + DAY + HOUR, to_c=22.0)]
    stop = fact(Stopped, READY + DAY * 2, cause=Cause.OTHER)
    log = [*released(), *steps, stop, fact(Resumed, READY + DAY * 20, found="dust")]
    made = plan(a_job(), log, READY + DAY * 21)
    assert state(made) is State.RELEASED
    assert made.zones[0].heat_ups[-1].steps[0].on >= (READY + DAY * 20).date()
    on = fact(Energized, READY + DAY * 21)
    assert state(plan(a_job(), [*log, on], READY + DAY * 21)) is State.HEATING_UP
