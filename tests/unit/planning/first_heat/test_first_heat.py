"""The heat-ups of a zone: limits, steps, where they start, pauses, and when they are over."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta

import pytest
from planning_log import HOUR, READY, a_job, codes, evidence, fact, floor, released, state
from planning_samples import DAY, RULES, START, expected, layer, plan, reading, weekdays, zone

from curecal.planning.first_heat.first_heat import floor_limit, step_limit
from curecal.planning.plan import HeatUp, Plan, RampStep, State
from curecal.trade.job import (
    Covering,
    CoveringKind,
    Heating,
    HeatingKind,
    HeatUpWish,
    Room,
    Zone,
)
from curecal.trade.site_log import Energized, Entry, HeatStep, Kept, Place

MORNING = (READY + DAY).replace(hour=8)
DAY_1 = MORNING.date()
WATER = Heating(HeatingKind.WATER)
FLOW = HeatUpWish(flow=((25.0, 3), (35.0, 4), (20.0, 1)))


def ramp(made: Plan) -> HeatUp:
    return made.zones[0].heat_ups[-1]


def shown(made: HeatUp) -> list[tuple[int, float, int]]:
    """Return a heat-up's steps, days counted from one."""
    first = made.steps[0].on
    return [
        ((step.on - first).days + 1, round(step.to_c, 6), step.hold_days) for step in made.steps
    ]


def floor_at(value_c: float | None, at: datetime = MORNING - HOUR) -> Entry:
    return reading(at, value_c, Place.FLOOR)


@pytest.mark.parametrize(
    ("room", "kind", "covering_c", "heating_c", "expected_c", "why"),
    [
        (Room.LIVING_SPACE, CoveringKind.STONE, None, None, 29.0, "limit-room"),
        (Room.BATHROOM, CoveringKind.CERAMIC, None, None, 33.0, "limit-room"),
        (Room.PERIMETER_STRIP, CoveringKind.CERAMIC, None, None, 35.0, "limit-room"),
        (Room.BATHROOM, CoveringKind.WOOD, None, None, 27.0, "limit-covering-kind"),
        (Room.BATHROOM, CoveringKind.CARPET, None, None, 27.0, "limit-covering-kind"),
        (Room.LIVING_SPACE, CoveringKind.WOOD, 26.0, None, 26.0, "limit-covering"),
        # A maker's higher limit lifts none of the others.
        (Room.LIVING_SPACE, CoveringKind.WOOD, 31.0, 32.0, 27.0, "limit-covering-kind"),
        (Room.BATHROOM, CoveringKind.CERAMIC, None, 28.0, 28.0, "limit-heating"),
    ],
)
def test_the_strictest_limit_counts(
    room: Room,
    kind: CoveringKind,
    covering_c: float | None,
    heating_c: float | None,
    expected_c: float,
    why: str,
) -> None:
    made = floor(
        room=room,
        covering=Covering(kind, limit_c=covering_c),
        heating=Heating(floor_limit_c=heating_c),
    )
    limit_c, message = floor_limit(made, RULES)
    assert (limit_c, message.code) == (expected_c, why)


@pytest.mark.parametrize(
    ("kind", "step_k"),
    [
        (CoveringKind.PORCELAIN, 5.0),
        (CoveringKind.STONE, 5.0),
        (CoveringKind.VINYL, 2.8),
        (CoveringKind.LINOLEUM, 2.8),
        (CoveringKind.WOOD, 2.0),
        (CoveringKind.LAMINATE, 2.0),
    ],
)
def test_the_covering_says_how_fast(kind: CoveringKind, step_k: float) -> None:
    assert step_limit(floor(covering=Covering(kind)), RULES) == step_k


def test_from_20_to_29_in_service_on_day_6() -> None:
    made = ramp(plan(a_job(), [*released(), floor_at(20.0)], MORNING))
    assert shown(made) == [(1, 20.0, 1), (2, 25.0, 1), (3, 29.0, 3)]
    assert made.steps[0].on == DAY_1
    assert made.ends_on == DAY_1 + timedelta(days=5)
    assert made.purpose == "first heat"
    assert made.basis == "floor"
    assert made.start_measured
    assert not made.provisional
    assert made.limit_c == 29.0


@pytest.mark.parametrize(
    ("extra", "start_c", "measured"),
    [
        ([], 17.0, False),
        ([floor_at(19.0)], 19.0, True),
        ([floor_at(19.0, MORNING - DAY)], 19.0, True),
        # Older than a day, or after the first step: not that morning's.
        ([floor_at(19.0, MORNING - DAY - timedelta(seconds=1))], 17.0, False),
        ([floor_at(None)], 17.0, False),
        ([floor_at(19.0, MORNING - HOUR * 2), floor_at(18.0)], 18.0, True),
        # The surface is not the floor sensor.
        ([reading(MORNING - HOUR, 21.0, Place.SURFACE)], 17.0, False),
    ],
)
def test_it_starts_from_the_floor_of_that_morning_or_from_the_air_less_3_k(
    extra: list[Entry], start_c: float, *, measured: bool
) -> None:
    made = ramp(plan(a_job(), [*released(), *extra], MORNING))
    assert (made.start_c, made.start_measured) == (start_c, measured)
    assert made.provisional is not measured


def test_before_the_release_it_is_provisional() -> None:
    made = ramp(plan(a_job(), [*evidence(), floor_at(20.0, READY - HOUR)], READY))
    assert made.provisional


@pytest.mark.parametrize(
    ("wish", "expected", "code"),
    [
        (HeatUpWish(target_c=25.0), [(1, 20.0, 1), (2, 25.0, 3)], None),
        (
            HeatUpWish(target_c=31.0),
            [(1, 20.0, 1), (2, 25.0, 1), (3, 29.0, 3)],
            "target-over-limit",
        ),
        (HeatUpWish(target_c=29.0), [(1, 20.0, 1), (2, 25.0, 1), (3, 29.0, 3)], None),
        (
            HeatUpWish(target_c=29.0, step_k=3.0),
            [(1, 20.0, 1), (2, 23.0, 1), (3, 26.0, 1), (4, 29.0, 3)],
            None,
        ),
        (
            HeatUpWish(target_c=29.0, step_k=8.0),
            [(1, 20.0, 1), (2, 25.0, 1), (3, 29.0, 3)],
            "step-over-limit",
        ),
        (HeatUpWish(target_c=29.0, hold_days=7), [(1, 20.0, 1), (2, 25.0, 1), (3, 29.0, 7)], None),
        (
            HeatUpWish(target_c=29.0, hold_days=1),
            [(1, 20.0, 1), (2, 25.0, 1), (3, 29.0, 3)],
            "hold-under-practice",
        ),
    ],
)
def test_wishes_are_cut_by_the_limits(
    wish: HeatUpWish, expected: list[tuple[int, float, int]], code: str | None
) -> None:
    made = plan(a_job(floor(heat_up=wish)), [*released(), floor_at(20.0)], MORNING)
    assert shown(ramp(made)) == expected
    told = {"target-over-limit", "step-over-limit", "hold-under-practice"} & {*codes(made)}
    assert told == ({code} if code else set())


def test_a_wish_under_the_limit_is_named_as_what_limits() -> None:
    made = ramp(plan(a_job(floor(heat_up=HeatUpWish(target_c=25.0)))))
    assert (made.limit_c, made.limit_from.code) == (25.0, "limit-wish")


def test_wood_goes_up_2_k_a_day_to_27() -> None:
    wood = floor(covering=Covering(CoveringKind.WOOD))
    made = ramp(plan(a_job(wood), [*released(), floor_at(20.0)], MORNING))
    assert [to_c for _, to_c, _ in shown(made)] == [20.0, 22.0, 24.0, 26.0, 27.0]


def running(*entries: Entry) -> list[Entry]:
    return [*released(), floor_at(20.0), fact(Energized, MORNING), *entries]


def test_once_begun_it_keeps_its_days() -> None:
    later = READY + DAY * 3
    made = plan(a_job(), running(fact(HeatStep, MORNING + DAY, to_c=25.0)), later)
    assert state(made) is State.HEATING_UP
    assert ramp(made).steps[0] == RampStep(DAY_1, 20.0, 1)


@pytest.mark.parametrize(
    ("pause", "anew"), [(timedelta(hours=24), False), (timedelta(hours=25), True)]
)
def test_after_a_pause_of_over_a_day_it_starts_from_the_floors_own_temperature(
    pause: timedelta, *, anew: bool
) -> None:
    stepped = fact(HeatStep, MORNING + DAY, to_c=25.0)
    again = fact(Energized, stepped.at + pause)
    made = ramp(plan(a_job(), running(stepped, floor_at(21.0, again.at), again), again.at + HOUR))
    assert made.start_c == (21.0 if anew else 20.0)
    assert made.steps[0].on == (again.at.date() if anew else DAY_1)


def test_an_unmeasured_floor_after_a_pause_is_taken_as_cold() -> None:
    again = fact(Energized, MORNING + DAY * 4)
    made = ramp(plan(a_job(), running(again), MORNING + DAY * 4))
    assert (made.start_c, made.start_measured) == (17.0, False)


def at_top(day: float = 2.0, to_c: float = 29.0) -> HeatStep:
    return fact(HeatStep, MORNING + timedelta(days=day), to_c=to_c)


@pytest.mark.parametrize(
    ("entries", "days", "expected"),
    [
        ([], 30.0, State.HEATING_UP),
        ([at_top()], 4.9, State.HEATING_UP),
        ([at_top()], 5.0, State.IN_SERVICE),
        # 84 °F is 28.9 °C: the limit, rounded down.
        ([at_top(to_c=28.89)], 5.0, State.IN_SERVICE),
        ([at_top(to_c=28.3)], 30.0, State.HEATING_UP),
        ([at_top(), at_top(3.0)], 5.0, State.IN_SERVICE),
        # A lower set-point before the hold is over starts it anew.
        ([at_top(), at_top(3.0, 20.0)], 30.0, State.HEATING_UP),
        ([at_top(), at_top(3.0, 20.0), at_top(4.0)], 6.9, State.HEATING_UP),
        ([at_top(), at_top(3.0, 20.0), at_top(4.0)], 7.0, State.IN_SERVICE),
        # Everyday use does not undo it.
        ([at_top(), at_top(9.0, 22.0)], 30.0, State.IN_SERVICE),
        ([at_top(), fact(Energized, MORNING + DAY * 200)], 201.0, State.IN_SERVICE),
        # A pause does, while it holds.
        ([at_top(), fact(Energized, MORNING + DAY * 4)], 30.0, State.HEATING_UP),
        ([at_top(), fact(Energized, MORNING + DAY * 3)], 5.0, State.IN_SERVICE),
    ],
)
def test_it_is_in_service_once_the_log_says_that_the_last_hold_is_over(
    entries: list[Entry], days: float, expected: State
) -> None:
    made = plan(a_job(), running(*entries), MORNING + timedelta(days=days))
    assert state(made) is expected


def test_in_service_has_no_heat_up_ahead() -> None:
    made = plan(a_job(), running(at_top()), MORNING + DAY * 6)
    assert made.zones[0].heat_ups == ()
    assert made.visits == ()


def test_water_is_heated_by_its_stated_flow_temperatures() -> None:
    wet = floor(heating=WATER, heat_up=FLOW)
    made = plan(a_job(wet), released(), MORNING)
    up = ramp(made)
    assert (up.basis, up.limit_c) == ("flow", 35.0)
    # Under a finished floor the water rises by 5 °C a day at most.
    assert shown(up) == [(1, 25.0, 3), (4, 30.0, 1), (5, 35.0, 4), (9, 20.0, 1)]
    begun = [*released(), fact(Energized, MORNING), fact(HeatStep, MORNING + DAY * 3, to_c=35.0)]
    assert ramp(plan(a_job(wet), begun, MORNING + DAY * 4)).steps[0].on == DAY_1
    # Four days at the highest, one at the last.
    assert state(plan(a_job(wet), begun, MORNING + DAY * 7)) is State.HEATING_UP
    assert state(plan(a_job(wet), begun, MORNING + DAY * 8)) is State.IN_SERVICE


def test_no_flow_temperature_is_guessed() -> None:
    made = plan(
        a_job(floor(heating=WATER)), [*released(), fact(Energized, MORNING)], READY + DAY * 90
    )
    assert made.zones[0].heat_ups == ()
    assert "water-profile-wanted" in codes(made)
    assert state(made) is State.HEATING_UP


def screed(**more: object) -> Zone:
    bed = layer("sand-cement screed", START, "screed", thickness_m=0.05, heat_before_covering=True)
    return zone(bed, layer("thinset", None, "mortar"), layer("cement grout"), **more)


DAY_21 = datetime(2027, 3, 23, 7, tzinfo=UTC)


def test_a_bare_screed_is_heated_from_day_21_for_eleven_days_and_again_after_tiling() -> None:
    kept = fact(Kept, DAY_21, above_c=20.0, from_at=START, to_at=DAY_21 - HOUR * 4)
    made = plan(a_job(screed()), [kept, floor_at(18.0, DAY_21)], DAY_21)
    first, second = made.zones[0].heat_ups
    assert first.purpose == "bare screed"
    assert shown(first) == [
        (1, 18.0, 1),
        (2, 23.0, 1),
        (3, 25.0, 3),
        (6, 29.0, 4),
        (10, 24.0, 1),
        (11, 19.0, 1),
    ]
    # Day 21 ends Monday noon: the next morning.
    assert first.steps[0].on == date(2027, 3, 23)
    assert first.ends_on == date(2027, 4, 3)
    assert first.start_measured
    assert first.provisional
    tiling = made.zones[0].layers[1].start
    assert tiling is not None
    assert tiling.earliest.date() >= first.ends_on
    assert second.purpose == "first heat"
    assert second.steps[0].on > tiling.earliest.date() + timedelta(days=28)


def test_a_bare_screed_begun_keeps_its_days() -> None:
    on = fact(Energized, DAY_21 + DAY * 2 + HOUR)
    log = [floor_at(18.0, on.at - HOUR), on]
    made = plan(a_job(screed()), log, DAY_21 + DAY * 7).zones[0].heat_ups[0]
    assert made.steps[0].on == date(2027, 3, 25)
    assert not made.provisional
    unmeasured = plan(a_job(screed()), [on], DAY_21 + DAY * 7).zones[0].heat_ups[0]
    assert (unmeasured.start_c, unmeasured.start_measured) == (17.0, False)
    assert unmeasured.provisional


@pytest.mark.parametrize(
    ("more", "limit_c", "why"),
    [
        ({}, 29.0, "limit-room"),
        ({"room": Room.BATHROOM}, 29.0, "limit-bare-screed"),
        ({"heating": Heating(floor_limit_c=27.0)}, 27.0, "limit-heating"),
    ],
)
def test_a_bare_screed_goes_to_29_at_most(
    more: dict[str, object], limit_c: float, why: str
) -> None:
    made = plan(a_job(screed(**more))).zones[0].heat_ups[0]
    assert (made.limit_c, made.limit_from.code) == (limit_c, why)


def test_a_slower_step_is_granted_to_a_bare_screed_and_a_faster_is_not() -> None:
    slow = plan(a_job(screed(heat_up=HeatUpWish(step_k=2.0)))).zones[0].heat_ups[0]
    fast = plan(a_job(screed(heat_up=HeatUpWish(step_k=9.0)))).zones[0].heat_ups[0]
    assert slow.steps[1].to_c - slow.steps[0].to_c == pytest.approx(2.0)
    assert fast.steps[1].to_c - fast.steps[0].to_c == pytest.approx(5.0)


def test_a_bare_screed_unmeasured_is_taken_at_the_coldest_for_the_late_end() -> None:
    made = plan(a_job(screed(), climate=expected(20.0, coldest_c=15.0)))
    cover = made.zones[0].layers[0].milestones
    assert made.zones[0].heat_ups[0].start_c == 17.0
    assert all(plan_.window is not None for plan_ in cover.values())


def test_a_bare_screed_heated_by_water_follows_the_published_days() -> None:
    made = plan(a_job(screed(heating=WATER, heat_up=FLOW))).zones[0].heat_ups[0]
    assert (made.basis, made.limit_from.code) == ("flow", "limit-wish")
    assert shown(made) == [(1, 25.0, 3), (4, 35.0, 4)]
    low = HeatUpWish(flow=((22.0, 7),))
    cool = plan(a_job(screed(heating=WATER, heat_up=low))).zones[0].heat_ups[0]
    assert max(step.to_c for step in cool.steps) == 22.0


def test_a_bare_screed_heated_by_water_without_its_flow_has_no_date() -> None:
    made = plan(a_job(screed(heating=WATER)))
    assert made.zones[0].heat_ups == ()
    assert state(made) is State.NO_DATE


def test_a_heat_up_begins_on_a_working_day() -> None:
    # Day 21 is a Monday noon, Tuesday is off; the electrician comes on Wednesday.
    made = plan(
        a_job(screed()),
        day_off=lambda day: "holiday" if day == date(2027, 3, 23) else weekdays(day),
    )
    assert made.zones[0].heat_ups[0].steps[0].on == date(2027, 3, 24)


def test_no_working_day_no_heat_up() -> None:
    made = plan(a_job(screed()), day_off=lambda _: "closed")
    assert made.zones[0].heat_ups == ()
    finished = plan(a_job(), released(), MORNING, day_off=lambda _: "closed")
    assert finished.zones[0].energize.start_on is None
    assert finished.zones[0].heat_ups == ()
