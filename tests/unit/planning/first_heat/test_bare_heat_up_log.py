"""What the log says of a bare screed's heat-up: what gates it, what counts, when it is cold."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, datetime, timedelta

import pytest
from planning_log import codes, fact, measured, state, wired, without
from planning_samples import (
    ADA,
    DAY,
    START,
    expected,
    item,
    job,
    layer,
    plan,
    reading,
    zone,
)

from curecal.planning.plan import HoldState, LayerPlan, Plan, State
from curecal.trade.data_sheets import Milestone
from curecal.trade.findings import Severity
from curecal.trade.job import Heating, HeatingKind, Person, Role
from curecal.trade.site_log import (
    Cause,
    Device,
    Energized,
    Entry,
    HeatStep,
    Kept,
    Method,
    MoistureTest,
    Place,
    Protection,
    Resumed,
    Stage,
    Stopped,
    TripTest,
)

HOUR = timedelta(hours=1)
# The screed is ready at noon of 22 March (21 d); the first morning is 23 March, 08:00.
FIRST = datetime(2027, 3, 23, 8, tzinfo=START.tzinfo)
DAYS = ((0, 18.0), (1, 23.0), (2, 25.0), (5, 29.0), (9, 24.0), (10, 19.0))
KEPT = fact(Kept, FIRST, above_c=21.0, from_at=START, to_at=FIRST - HOUR * 6)
COLD_18 = reading(FIRST - HOUR, 18.0, Place.FLOOR)
WIRED = [KEPT, COLD_18, *wired(DAY * 21)]
ON = fact(Energized, FIRST)


def on_the_steps(days: Sequence[tuple[int, float]] = DAYS) -> list[Entry]:
    return [fact(HeatStep, FIRST + DAY * day, to_c=to_c) for day, to_c in days]


def seen_on(day: float, value_c: float | None = None) -> Entry:
    at = FIRST + DAY * day
    return reading(at, value_c, Place.FLOOR, heating_off=False, heating_on=True)


def seen_off(day: float, value_c: float = 19.0) -> Entry:
    return reading(FIRST + DAY * day, value_c, Place.FLOOR)


def dry(day: float) -> Entry:
    made = {
        "method": Method.CARBIDE,
        "value_fraction": 0.01,
        "points": 3,
        "depth_m": 0.03,
        "air_c": 20.0,
        "humidity": 0.55,
        "heating_off_s": 86400.0,
    }
    return fact(MoistureTest, FIRST + DAY * day, layer="screed", **made)


def bare(log: Sequence[Entry], day: float, tiled: float | None = None, **more: object) -> Plan:
    mortar = None if tiled is None else FIRST + DAY * tiled
    made = job(
        zone(
            layer(
                "sand-cement screed", START, "screed", thickness_m=0.05, heat_before_covering=True
            ),
            layer("thinset", mortar, "mortar"),
            layer("cement grout", None, "grout"),
        ),
        climate=expected(21.0, humidity=0.6, dampest=0.6),
        **more,
    )
    return plan(made, log, FIRST + DAY * day)


def cold_on(made: Plan) -> date:
    ends_on = made.zones[0].heat_ups[0].ends_on
    cover = cover_of(made)
    assert cover.milestones[Milestone.COVER].window is not None
    assert cover.milestones[Milestone.COVER].window.earliest.date() >= ends_on
    return ends_on


def cover_of(made: Plan) -> LayerPlan:
    return item(made, "screed")


def moisture(made: Plan) -> HoldState:
    return next(hold.state for hold in made.zones[0].holds if hold.code == "moisture-test")


@pytest.mark.parametrize(
    "told", [[ON], on_the_steps(), [seen_on(0.0, 18.0)], [ON, *on_the_steps()]]
)
def test_a_heat_up_counts_however_it_is_written_down(told: list[Entry]) -> None:
    made = bare([*WIRED, *told], 30)
    # 18, 23, 25 for 3, 29 for 4, 24, 19: eleven days from 23 March.
    assert cold_on(made) == date(2027, 4, 3)
    assert state(made) is not State.STOPPED


def test_a_heat_up_that_is_not_written_down_is_asked_for() -> None:
    made = bare(WIRED, 20, tiled=14)
    assert "bare-heat-not-logged" in codes(made)
    assert "bare-heat-not-logged" not in codes(bare([*WIRED, ON], 20, tiled=14))


def test_one_that_was_stopped_counts_from_its_last_start() -> None:
    stop = fact(Stopped, FIRST + DAY * 2, cause=Cause.TRIPPED, reason="the RCD trips")
    people = (Person(Role.CREW_LEAD, "Robin"), Person(Role.ELECTRICIAN, "Lee"), ADA)
    read = measured(FIRST + DAY * 4, Stage.IN_SERVICE)
    lift = fact(Resumed, FIRST + DAY * 4, by="Lee", found="water in the box")
    log = [*WIRED, ON, stop, read, lift]
    again = fact(Energized, FIRST + DAY * 18)
    made = bare([*log, again], 20, people=people)
    assert made.zones[0].heat_ups[0].steps[0].on == (FIRST + DAY * 18).date()
    # Not begun again: it has still to be done.
    assert bare(log, 10, people=people).zones[0].heat_ups[0].steps[0].on > FIRST.date() + DAY * 9


def test_a_stop_once_it_is_cold_takes_nothing_back() -> None:
    stop = fact(Stopped, FIRST + DAY * 14, cause=Cause.OTHER, reason="hollow tile next door")
    assert cold_on(bare([*WIRED, ON, stop], 15)) == date(2027, 4, 3)


def test_a_stop_before_the_heat_up_breaks_nothing_off() -> None:
    stop = fact(Stopped, FIRST + HOUR, cause=Cause.OTHER, reason="no power on site")
    again = fact(Energized, FIRST + DAY)
    assert cold_on(bare([*WIRED, stop, again], 20)) == date(2027, 4, 4)


def test_a_dry_test_opens_no_water_floor_whose_heat_up_is_not_stated() -> None:
    water = zone(
        layer("sand-cement screed", START, "screed", thickness_m=0.05, heat_before_covering=True),
        layer("thinset", None, "mortar"),
        heating=Heating(HeatingKind.WATER),
    )
    made = plan(job(water, climate=expected(21.0)), [*WIRED, ON, dry(12)], FIRST + DAY * 13)
    cover = item(made, "screed").milestones[Milestone.COVER]
    assert cover.window is None
    assert cover.blocked is not None
    assert cover.blocked.code == "water-profile-wanted"


def test_a_pause_of_more_than_a_day_starts_it_anew() -> None:
    paused = bare([*WIRED, ON, seen_off(2), seen_on(4)], 20)
    assert paused.zones[0].heat_ups[0].steps[0].on == (FIRST + DAY * 4).date()
    short = bare([*WIRED, ON, seen_off(2), seen_on(2.5)], 20)
    assert short.zones[0].heat_ups[0].steps[0].on == FIRST.date()


@pytest.mark.parametrize(
    ("told", "cold"),
    [
        # 29 °C seen on 6 April: that day, then 24 and 19.
        ([ON, seen_on(14, 29.0)], date(2027, 4, 9)),
        # Nobody wrote how warm: as if at the top.
        ([ON, seen_on(14)], date(2027, 4, 9)),
        ([ON, seen_on(14, 19.0)], date(2027, 4, 7)),
        # The top reached two days late is held as long as any: 30 March, 4 days, 2 down.
        (on_the_steps(((0, 18.0), (1, 23.0), (2, 25.0), (7, 29.0))), date(2027, 4, 5)),
        # What was set the day before says more than the look after it.
        ([*on_the_steps(), seen_on(10.2, 22.0)], date(2027, 4, 3)),
        # Switched on again once cold: it comes down again from the top.
        ([ON, fact(Energized, FIRST + DAY * 14)], date(2027, 4, 9)),
    ],
)
def test_a_floor_still_warm_puts_off_its_cover(told: list[Entry], cold: date) -> None:
    assert cold_on(bare([*WIRED, *told], 25)) == cold


def test_tile_on_a_screed_seen_warm_is_told() -> None:
    log = [*WIRED, ON, dry(12), seen_on(15, 29.0)]
    assert "covered-early" in codes(bare(log, 17, tiled=16))
    assert "covered-early" not in codes(bare([*WIRED, ON, dry(12)], 17, tiled=16))


@pytest.mark.parametrize(
    ("day", "found"),
    [(-3.0, HoldState.UNMET), (6.0, HoldState.UNMET), (11.0, HoldState.MET)],
)
def test_a_dry_test_counts_once_the_screed_is_cold(day: float, found: HoldState) -> None:
    made = bare([*WIRED, ON, dry(day)], 12)
    assert moisture(made) is found
    assert ("moisture-still-warm" in codes(made)) is (found is HoldState.UNMET)


@pytest.mark.parametrize("left_out", [None, Protection])
@pytest.mark.parametrize("on", [ON, on_the_steps()[0], seen_on(0.0)])
def test_what_gates_the_switch_gates_the_bare_screed(left_out: object, on: Entry) -> None:
    log = [*(WIRED if left_out is None else without(WIRED, Protection)), on]
    made = bare(log, 1)
    assert (state(made) is State.STOPPED) is (left_out is not None)
    stops = [each.code for each in made.findings if each.severity is Severity.STOP]
    assert stops == ([] if left_out is None else ["bare-held-while-on"])
    assert made.zones[0].is_released is False
    if left_out is not None:
        off = bare([*log, seen_off(0.5)], 1)
        assert state(off) is not State.STOPPED


def test_a_failed_trip_test_is_named_first() -> None:
    failed = fact(
        Protection,
        FIRST + HOUR,
        device=Device.RCD,
        trips_at_a=0.03,
        trip_test=TripTest.DID_NOT_TRIP,
    )
    other = fact(HeatStep, FIRST, to_c=18.0, zone="another")
    log = [entry for entry in WIRED if entry.id != WIRED[-1].id]
    made = bare([*log, other, ON, failed], 1)
    assert made.zones[0].why.params["hold"] == "protection"
    # The connection is not logged either.
    assert made.zones[0].why.code == "bare-held-while-on"


def test_a_bare_screed_is_heated_from_the_sure_end_of_its_date() -> None:
    # Of 21 days nothing is measured: at the coldest, 16 °C, they take longer.
    made = job(
        zone(
            layer(
                "sand-cement screed", START, "screed", thickness_m=0.05, heat_before_covering=True
            ),
            layer("thinset", None, "mortar"),
        ),
        climate=expected(21.0, coldest_c=16.0),
    )
    log = wired(DAY * 21)
    before = plan(made, log, FIRST)
    window = item(before, "screed").milestones[Milestone.BARE_HEAT].window
    assert window is not None
    assert window.latest is not None
    assert window.earliest < FIRST < window.latest
    assert "bare-heat-unsure" in codes(before)
    assert before.zones[0].heat_ups[0].steps[0].on >= window.latest.date()
    early = plan(made, [*log, ON], FIRST + HOUR)
    assert early.zones[0].why.code == "early-switch-on"
    assert state(plan(made, [*log, KEPT, ON], FIRST + HOUR)) is not State.STOPPED


def test_a_bare_screed_is_warmed_no_faster_than_any() -> None:
    steep = bare([*WIRED, *on_the_steps(((0, 18.0), (1, 29.0)))], 2)
    found = next(each for each in steep.findings if each.code == "heat-step-steep")
    assert found.params["step_k"] == 5.0
    assert found.params["rise_k"] == 11.0
    assert "heat-step-steep" not in codes(bare([*WIRED, *on_the_steps()], 12))


def test_a_bare_screed_is_switched_on_by_the_electrician() -> None:
    people = (Person(Role.OWNER, "Lee"), Person(Role.ELECTRICIAN, "Pim"), ADA)
    log = [*WIRED, fact(Energized, FIRST, by="Lee")]
    assert "switched-on-by" in codes(bare(log, 1, people=people))
    assert "switched-on-by" not in codes(
        bare([*WIRED, fact(Energized, FIRST, by="Pim")], 1, people=people)
    )
