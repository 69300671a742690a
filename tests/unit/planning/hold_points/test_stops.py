"""What stops a released floor, what starts it again, and by whose word."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import pytest
from planning_log import HOUR, READY, a_job, codes, evidence, fact, hold, released, state, wired
from planning_samples import DAY, RULES, START, layer, looked, plan, reading, zone

from curecal.planning.plan import HoldState, Plan, State
from curecal.trade.findings import Severity
from curecal.trade.job import Person, Role
from curecal.trade.site_log import (
    Done,
    Energized,
    Entry,
    HeatStep,
    Place,
    Protection,
    Reading,
    Release,
    Result,
    Stopped,
)
from curecal.words.sentences import words_for

ON = fact(Energized, READY + DAY)
REDONE = fact(Done, READY + DAY * 2, layer="grout")
"""The grout laid again after the release: three days more."""
TRIPPED_NOT = fact(Protection, READY + DAY * 2, type="RCD 30 mA", trip_test="failed")
TRIPPED = fact(Protection, READY + DAY * 4, type="RCD 30 mA", trip_test="passed")
PEOPLE = (
    Person(Role.CREW_LEAD, "Lee"),
    Person(Role.ELECTRICIAN, "Sam"),
    Person(Role.OWNER, "Olga"),
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
    sound = looked(READY + DAY * 2 + HOUR, Result.SOUND)
    assert state(plan(a_job(), [*log, sound, *WARM], READY + DAY * day)) is (
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
    late = fact(Protection, READY + DAY, type="RCD 30 mA", trip_test="passed")
    without = [entry for entry in released() if not isinstance(entry, Protection)]
    open_still = plan(a_job(), without, READY + DAY * 2)
    assert "still to do was " in told(open_still, "release-early")[0]
    made = plan(a_job(), [*without, late], READY + DAY * 2)
    said = told(made, "release-before-evidence")[0]
    assert "still to do was " in said


def test_a_job_without_a_crew_lead_says_on_whose_word_the_release_counts() -> None:
    made = plan(a_job(), released(by="Bob"), READY + DAY)
    assert made.is_released
    assert "by the word of Bob alone" in told(made, "release-unnamed")[0]
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


@pytest.mark.parametrize(
    ("by", "starts"),
    [
        ("Lee", True),
        ("Sam", True),
        ("sam ", True),
        ("Olga", False),
        ("a passer-by", False),
        ("", False),
        (" ", False),
        (None, False),
    ],
)
@pytest.mark.parametrize(
    "stop", [fact(Stopped, READY + DAY, reason="smell"), fact(Energized, START + DAY * 4)]
)
def test_a_stopped_floor_starts_again_by_the_crew_lead_or_the_electrician(
    stop: Entry, by: str | None, *, starts: bool
) -> None:
    sound = replace(looked(READY + DAY * 2, Result.SOUND), by=by)
    made = plan(a_job(people=PEOPLE), [*released(), stop, sound], READY + DAY * 3)
    assert state(made) is (State.RELEASED if starts else State.STOPPED)
    assert ("sound-by" in codes(made)) is not starts


def test_where_nobody_is_named_somebody_who_signs_starts_it_again() -> None:
    stop = fact(Stopped, READY + DAY)
    log = [*released(), stop, looked(READY + DAY * 2, Result.SOUND)]
    assert state(plan(a_job(), log, READY + DAY * 3)) is State.RELEASED
    for nobody in ("the owner", "none", "nobody", "-"):
        sound = looked(READY + DAY * 2, Result.SOUND, by=nobody)
        assert state(plan(a_job(), [*released(), stop, sound], READY + DAY * 3)) is State.STOPPED
        made = plan(a_job(), released(by=nobody), READY + DAY)
        assert "release-by" in codes(made)
    owner = (Person(Role.OWNER, "somebody"),)
    assert state(plan(a_job(people=owner), log, READY + DAY * 3)) is State.STOPPED


def test_a_sound_look_with_nothing_to_settle_is_nobodys_concern() -> None:
    before = replace(looked(READY, Result.SOUND), by=None)
    assert "sound-by" not in codes(plan(a_job(), [*released(), before], READY + DAY))
    stop = fact(Stopped, READY + DAY)
    assert "sound-by" not in codes(plan(a_job(), [*released(), before, stop], READY + DAY * 2))


def test_the_ramp_of_a_floor_that_was_stopped_begins_anew() -> None:
    steps = [ON, fact(HeatStep, READY + DAY + HOUR, to_c=22.0)]
    stop = fact(Stopped, READY + DAY * 2)
    log = [*released(), *steps, stop, looked(READY + DAY * 20, Result.SOUND)]
    made = plan(a_job(), log, READY + DAY * 21)
    assert state(made) is State.RELEASED
    assert made.zones[0].heat_ups[-1].steps[0].on >= (READY + DAY * 20).date()
    on = fact(Energized, READY + DAY * 21)
    assert state(plan(a_job(), [*log, on], READY + DAY * 21)) is State.HEATING_UP
