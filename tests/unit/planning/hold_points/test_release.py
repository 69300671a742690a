"""From the clocks to the crew lead's word: cure, release, stops, and what comes after."""

from __future__ import annotations

from datetime import datetime

import pytest
from planning_log import (
    HOUR,
    READY,
    a_job,
    codes,
    courses,
    evidence,
    fact,
    floor,
    hold,
    measured,
    released,
    state,
    wired,
    without,
)
from planning_samples import ADA, DAY, START, expected, layer, looked, plan, reading, sheet, zone

from curecal.planning.plan import HoldState, State
from curecal.trade.findings import Severity
from curecal.trade.job import Person, Role, Zone
from curecal.trade.site_log import (
    Cause,
    Connected,
    Device,
    Energized,
    Entry,
    HeatStep,
    Kept,
    Mode,
    Protection,
    Reading,
    Release,
    Resistance,
    Result,
    Resumed,
    Stage,
    Stopped,
    ThermostatSet,
    TripTest,
)

LEAD = (Person(Role.CREW_LEAD, "Lee"), Person(Role.OWNER, "Olga"), ADA)


def test_the_clocks_of_the_sample_run_out_together_with_the_grout() -> None:
    energize = plan(a_job(), as_of=START + DAY * 5).zones[0].energize
    assert energize.window is not None
    assert energize.window.earliest == READY
    assert energize.governed_by is not None
    assert energize.governed_by.layer_name == "grout"


def test_cure_is_met_once_every_clock_has_run_out_with_a_temperature_on_record() -> None:
    early = plan(a_job(), evidence(), READY - HOUR)
    assert hold(early, "cure").state is HoldState.UNMET
    assert state(early) is State.CURING
    made = plan(a_job(), evidence(), READY)
    cure = hold(made, "cure")
    assert cure.state is HoldState.MET
    assert cure.evidence_at == READY
    assert state(made) is State.CLEAR
    assert not made.is_released


def test_a_forecast_meets_no_cure_however_long_ago() -> None:
    made = plan(a_job(), without(evidence(), Reading), READY + DAY * 300)
    cure = hold(made, "cure")
    assert cure.state is HoldState.UNMET
    assert cure.reason is not None
    assert cure.reason.code == "cure-unmeasured"
    assert state(made) is State.ON_HOLD


@pytest.mark.parametrize(
    ("entry", "counts"),
    [
        (reading(START + DAY * 5, 20.0), True),
        (reading(START + DAY * 2, 20.0), False),
        (reading(READY + DAY, 20.0), False),
        (
            fact(
                Kept,
                READY,
                by="Ada",
                above_c=18.0,
                from_at=START + DAY * 4,
                to_at=READY,
            ),
            True,
        ),
    ],
)
def test_the_temperature_on_record_lies_in_the_governing_layers_span(
    entry: Entry, *, counts: bool
) -> None:
    # The grout governs: from day 4 to day 7.
    made = plan(a_job(), [*without(evidence(), Reading), entry], READY + DAY * 9)
    assert (hold(made, "cure").state is HoldState.MET) is counts


def test_cure_counts_the_unmeasured_past_at_its_coldest() -> None:
    cold = a_job(climate=expected(20.0, coldest_c=13.0))
    log = [*without(evidence(), Reading), reading(START + DAY * 5, 20.0)]
    assert hold(plan(cold, log, READY), "cure").state is HoldState.UNMET
    assert state(plan(cold, log, READY)) is State.CURING
    assert hold(plan(cold, log, READY + DAY * 6), "cure").state is HoldState.MET


def test_no_promise_no_cure() -> None:
    freezing = a_job(climate=expected(20.0, coldest_c=5.0))
    log = without(evidence(), Reading)
    assert hold(plan(freezing, log, READY + DAY * 300), "cure").state is HoldState.UNMET


def test_a_zone_without_a_date_says_why_its_cure_is_open() -> None:
    made = plan(a_job(climate=expected(9.0)))
    cure = hold(made, "cure")
    assert cure.reason == made.zones[0].energize.blocked
    assert cure.reason is not None


def test_a_zone_of_old_layers_waits_for_nothing_and_has_no_date() -> None:
    old = zone(layer("mortar bed", None, existing=True))
    made = plan(a_job(old), [fact(Energized, START)])
    assert state(made) is State.NO_DATE
    assert made.zones[0].why.code == "nothing-to-wait-for"


def test_the_release_comes_after_all_of_that() -> None:
    made = plan(a_job(people=LEAD), released(by="Lee"), READY + DAY)
    assert state(made) is State.RELEASED
    assert made.is_released
    release = hold(made, "release")
    assert release.state is HoldState.MET
    assert release.evidence_at == READY + HOUR
    assert hold(plan(a_job(), evidence(), READY), "release").state is HoldState.UNMET


@pytest.mark.parametrize("by", ["Olga", None])
def test_only_the_crew_lead_releases(by: str | None) -> None:
    made = plan(a_job(people=LEAD), released(by=by), READY + DAY)
    assert state(made) is State.CLEAR
    found = [
        finding
        for finding in made.findings
        if finding.code in {"signature-role", "signature-unsigned"}
    ]
    assert [finding.severity for finding in found] == [Severity.STOP]


def test_a_word_of_somebody_else_does_not_undo_the_crew_leads() -> None:
    log = [*released(by="Lee"), fact(Release, READY + DAY, by="Olga")]
    made = plan(a_job(people=LEAD), log, READY + DAY * 2)
    assert state(made) is State.RELEASED
    assert "signature-role" in codes(made)


@pytest.mark.parametrize("kind", [Resistance, Protection, ThermostatSet, Connected, Reading])
def test_a_release_with_something_outstanding_does_not_count(kind: type[Entry]) -> None:
    made = plan(a_job(), without(released(), kind), READY + DAY * 400)
    assert state(made) is State.ON_HOLD
    assert "release-early" in codes(made)
    assert hold(made, "release").state is HoldState.UNMET


def test_a_release_before_the_clocks_ran_out_never_counts() -> None:
    log = [*evidence(), fact(Release, READY - HOUR)]
    assert "release-early" in codes(plan(a_job(), log, READY - HOUR))
    later = plan(a_job(), log, READY + DAY)
    assert "release-early" in codes(later)
    assert state(later) is State.CLEAR


def test_a_release_before_its_evidence_never_counts() -> None:
    late = fact(
        Protection, READY + DAY, device=Device.RCD, trips_at_a=0.03, trip_test=TripTest.TRIPPED
    )
    made = plan(a_job(), [*without(released(), Protection), late], READY + DAY * 2)
    assert "release-before-evidence" in codes(made)
    assert state(made) is State.CLEAR


def test_what_is_recorded_in_use_does_not_undo_a_release() -> None:
    log = [
        *released(),
        fact(
            Protection,
            READY + DAY * 90,
            device=Device.RCD,
            trips_at_a=0.03,
            trip_test=TripTest.TRIPPED,
        ),
        fact(ThermostatSet, READY + DAY * 90, mode=Mode.FLOOR, limit_c=27.0),
    ]
    assert state(plan(a_job(), log, READY + DAY * 91)) is State.RELEASED


def test_what_fails_after_the_release_holds_the_floor_until_it_is_put_right() -> None:
    air = fact(ThermostatSet, READY + DAY, mode=Mode.AIR)
    back = fact(ThermostatSet, READY + DAY * 3, mode=Mode.FLOOR, limit_c=29.0)
    assert state(plan(a_job(), [*released(), air], READY + DAY * 2)) is State.ON_HOLD
    assert state(plan(a_job(), [*released(), air, back], READY + DAY * 4)) is State.RELEASED


def test_a_release_over_a_standing_fault_does_not_count() -> None:
    broken = measured(READY - HOUR, Stage.IN_SERVICE, earth_open=False, to_earth_ohm=26.0)
    mended = measured(READY + DAY, Stage.IN_SERVICE)
    made = plan(a_job(), [*released(), broken, mended], READY + DAY * 2)
    assert "release-over-fault" in codes(made)
    assert state(made) is State.CLEAR


def test_a_layer_added_after_the_release_takes_it_back() -> None:
    more = floor(layers=(*courses(), layer(sheet("cement grout", 3.0), READY + DAY, "late")))
    made = plan(a_job(more), released(), READY + DAY * 2)
    assert state(made) is State.CURING
    assert "release-early" in codes(made)


@pytest.mark.parametrize("kind", [Energized, HeatStep])
@pytest.mark.parametrize("at", [START - HOUR, START + DAY * 4, READY + HOUR])
def test_switched_on_without_a_release_stops_the_floor(kind: type[Entry], at: datetime) -> None:
    more = {"to_c": 22.0} if kind is HeatStep else {}
    on = fact(kind, at, **more)
    made = plan(a_job(), [*evidence(), on], READY + DAY)
    assert state(made) is State.STOPPED
    assert made.zones[0].why.code == "early-switch-on"
    assert made.zones[0].heat_ups == ()
    # Clocks go on.
    assert (
        made.zones[0].energize.window == plan(a_job(), evidence(), READY).zones[0].energize.window
    )


def test_a_release_that_does_not_count_excuses_no_switch_on() -> None:
    log = [*evidence(), fact(Release, START + DAY * 5), fact(Energized, START + DAY * 6)]
    assert state(plan(a_job(), log, READY)) is State.STOPPED
    by_owner = [*evidence(), fact(Release, READY, by="Olga"), fact(Energized, READY + HOUR)]
    assert state(plan(a_job(people=LEAD), by_owner, READY + DAY)) is State.STOPPED


def test_a_person_settles_an_early_switch_on_and_the_ramp_starts_anew() -> None:
    on = fact(Energized, START + DAY * 4)
    lift = fact(Resumed, START + DAY * 5, found="no crack")
    made = plan(a_job(), [*released(), on, lift], READY + DAY)
    assert state(made) is State.RELEASED
    assert "early-switch-on" not in codes(made)
    assert made.zones[0].heat_ups[0].steps[0].on >= READY.date()


@pytest.mark.parametrize(
    "look",
    [
        looked(START + DAY * 5, Result.PASSED),
        looked(START + DAY * 5, Result.REPLACE),
        looked(START + DAY * 5, Result.SOUND, "grout"),
        looked(START + DAY * 5, Result.SOUND),
        fact(Resumed, START + DAY * 4, found="no crack"),
    ],
)
def test_nothing_else_settles_it(look: Entry) -> None:
    on = fact(Energized, START + DAY * 4)
    assert state(plan(a_job(), [*evidence(), on, look], READY)) is State.STOPPED


def test_a_stop_stands_until_a_person_lifts_it() -> None:
    stop = fact(Stopped, READY + DAY, cause=Cause.OTHER, reason="burning smell")
    made = plan(a_job(), [*released(), stop], READY + DAY * 2)
    assert state(made) is State.STOPPED
    assert made.zones[0].why.params["reason"] == "burning smell"
    lift = fact(Resumed, READY + DAY * 3, found="the neighbor's stove")
    assert state(plan(a_job(), [*released(), stop, lift], READY + DAY * 4)) is State.RELEASED


def test_what_happens_in_another_zone_stops_only_that() -> None:
    other = floor(id="bath", name="bath", path="zone.1")
    stop = fact(Stopped, START, cause=Cause.OTHER, zone="bath")
    made = plan(a_job(floor(), other), [stop])
    assert [plan_.state for plan_ in made.zones] == [State.CURING, State.STOPPED]


def heated_bare(above: datetime | None) -> Zone:
    bed = layer("sand-cement screed", START, "screed", thickness_m=0.05, heat_before_covering=True)
    return zone(bed, layer("thinset", above, "mortar"))


@pytest.mark.parametrize(
    ("day", "stopped"),
    [(20, True), (21, False), (30, False), (41, True)],
)
def test_a_bare_screed_is_heated_from_its_day_until_something_lies_on_it(
    day: int, *, stopped: bool
) -> None:
    on = fact(Energized, START + DAY * day)
    made = plan(a_job(heated_bare(START + DAY * 40)), [on], START + DAY * 50)
    assert ("early-switch-on" in codes(made)) is stopped


def test_a_bare_screed_with_nothing_on_it_yet_may_be_heated() -> None:
    on = fact(Energized, START + DAY * 30)
    made = plan(a_job(heated_bare(None)), [*wired(DAY * 29), on], START + DAY * 31)
    assert state(made) is not State.STOPPED


def test_a_bare_screed_without_a_date_may_not() -> None:
    on = fact(Energized, START + DAY * 30)
    made = plan(a_job(heated_bare(None), climate=expected(9.0)), [on], START + DAY * 31)
    assert state(made) is State.STOPPED


def repaired(*, existing: bool = True) -> Zone:
    old = layer("mortar bed", None, "old floor", existing=True)
    first = (old,) if existing else courses()
    at = START + DAY * 100
    return zone(
        *first,
        layer(sheet("thinset", 10.0), at, "reset mortar", repair=True),
        layer(sheet("cement grout", 10.0), at + DAY * 2, "joint", repair=True),
    )


RESET = START + DAY * 100


def test_a_floor_under_repair_was_in_service_before() -> None:
    log = [
        fact(Release, READY + HOUR),
        fact(Energized, READY + DAY),
        *[reading(RESET + DAY * n, 20.0) for n in range(13)],
        measured(RESET - HOUR, Stage.IN_SERVICE),
    ]
    made = plan(a_job(repaired()), log, RESET + DAY * 12)
    assert state(made) is State.CLEAR
    assert not {"release-early", "early-switch-on", "release-before-evidence"} & {*codes(made)}
    done = [*log, fact(Release, RESET + DAY * 12 + HOUR)]
    made = plan(a_job(repaired()), done, RESET + DAY * 13)
    assert state(made) is State.RELEASED
    assert made.zones[0].heat_ups[0].purpose == "after repair"


def test_the_release_before_a_repair_excuses_no_switch_on_after_it() -> None:
    log = [fact(Release, READY + HOUR), fact(Energized, RESET + DAY)]
    made = plan(a_job(repaired()), log, RESET + DAY * 2)
    assert state(made) is State.STOPPED


def test_a_repair_in_a_floor_with_its_whole_history_keeps_that_history() -> None:
    log = [*released(), fact(Energized, READY + DAY)]
    made = plan(a_job(repaired(existing=False)), log, RESET + DAY)
    assert state(made) is State.CURING
    assert "early-switch-on" not in codes(made)
    early = [*evidence(), fact(Energized, READY - DAY)]
    assert state(plan(a_job(repaired(existing=False)), early, RESET + DAY)) is State.STOPPED
