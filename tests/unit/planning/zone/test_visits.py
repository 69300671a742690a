"""The electrician's visits: what each is for, between which instants, shared by zones."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta

from planning_log import HOUR, READY, a_job, evidence, fact, floor, measured, released
from planning_samples import DAY, START, expected, layer, plan, sheet, weekdays, zone

from curecal.instants import Window
from curecal.planning.plan import Plan, Visit, VisitKind
from curecal.planning.zone.visits import merge_visits
from curecal.trade.job import Heating, HeatingKind, Role, Zone
from curecal.trade.site_log import Cause, Energized, HeatStep, Stage, Stopped

ROUGH_IN, CONNECT, ENERGIZE = VisitKind


def visit(made: Plan, kind: str) -> Visit | None:
    return next((found for found in made.visits if found.kind == kind), None)


def planned(**more: object) -> Zone:
    return zone(
        layer(sheet("leveler", 3.0), None, "leveler", thickness_m=0.005),
        layer(sheet("thinset", 3.0), None, "mortar"),
        **more,
    )


def test_the_first_visit_comes_before_the_cable_is_embedded() -> None:
    later = (START + DAY * 3).replace(hour=8)
    pour = layer(sheet("leveler", 3.0), None, thickness_m=0.005, planned_start_at=later)
    made = plan(a_job(zone(pour)), as_of=START)
    found = visit(made, ROUGH_IN)
    assert found is not None
    assert found.window == Window(START, later)
    assert found.gates == ("test-after-laying", "test-on-delivery")


def test_the_first_visit_is_over_with_its_tests_or_with_the_pour() -> None:
    tests = [measured(START, Stage.DELIVERY), measured(START, Stage.LAID)]
    assert visit(plan(a_job(planned()), tests), ROUGH_IN) is None
    assert visit(plan(a_job(planned()), tests[:1]), ROUGH_IN) is not None
    # Too late for it once the cable is in the pour.
    assert visit(plan(a_job()), ROUGH_IN) is None
    grouted = zone(layer("cement grout", None))
    assert visit(plan(a_job(grouted)), ROUGH_IN) is None


def test_a_first_visit_without_a_date_for_the_pour_has_none_either() -> None:
    bed = layer("mortar bed", START, "bed")
    pour = layer("leveler", None, thickness_m=0.005, over_cable=True)
    made = plan(a_job(zone(bed, pour), climate=expected(9.0)))
    found = visit(made, ROUGH_IN)
    assert found is not None
    assert found.window is None


def test_the_second_visit_lies_between_the_last_layer_and_the_date() -> None:
    made = plan(a_job(), as_of=START + DAY * 4)
    found = visit(made, CONNECT)
    assert found is not None
    assert found.window == Window(START + DAY * 4, READY)
    assert "connection" in found.gates
    late = visit(plan(a_job(), as_of=READY + DAY), CONNECT)
    assert late is not None
    assert late.window == Window(READY + DAY, READY + DAY)
    assert visit(plan(a_job(), evidence(), READY), CONNECT) is None


def test_the_second_visit_has_no_date_where_the_floor_has_none() -> None:
    for made in (
        plan(a_job(climate=expected(9.0))),
        plan(a_job(planned(), climate=expected(9.0))),
        plan(a_job(), as_of=READY, day_off=lambda _: "closed"),
    ):
        found = visit(made, CONNECT)
        assert found is not None
        assert found.window is None


def test_the_third_visit_is_on_the_date_and_never_before() -> None:
    made = plan(
        a_job(floor(), climate=expected(20.0, coldest_c=13.0)), evidence()[7:], START + DAY * 5
    )
    energize = made.zones[0].energize
    found = visit(made, ENERGIZE)
    assert found is not None
    assert found.window is not None
    assert energize.window is not None
    assert energize.owner_date is not None
    assert found.window.earliest >= energize.window.earliest
    assert found.window.latest == datetime(
        energize.owner_date.year, energize.owner_date.month, energize.owner_date.day, 8, tzinfo=UTC
    )
    assert found.gates == ("cure", "release")


def test_the_third_visit_comes_on_the_electricians_working_day() -> None:
    # The clocks run out on Monday 8 March at noon; Tuesday is off.
    made = plan(
        a_job(),
        as_of=START + DAY * 5,
        day_off=lambda day: "holiday" if day == date(2027, 3, 9) else weekdays(day),
    )
    found = visit(made, ENERGIZE)
    assert found is not None
    assert found.window is not None
    assert found.window.earliest == datetime(2027, 3, 10, 8, tzinfo=UTC)


def test_no_promise_no_late_end_of_the_third_visit() -> None:
    made = plan(a_job(climate=expected(20.0, coldest_c=5.0)), as_of=START + DAY * 5)
    found = visit(made, ENERGIZE)
    assert found is not None
    assert found.window is not None
    assert found.window.latest is None


def test_a_released_floor_is_switched_on_that_morning_by_the_electrician() -> None:
    made = plan(a_job(), released(), READY + HOUR)
    found = visit(made, ENERGIZE)
    assert found is not None
    at = (READY + DAY).replace(hour=8)
    assert found.window == Window(at, at)
    begun = [*released(), fact(Energized, at), fact(HeatStep, at + DAY, to_c=25.0)]
    assert visit(plan(a_job(), begun, at + DAY * 2), ENERGIZE) is None


def test_a_stopped_floor_waits_for_a_person_not_for_a_day() -> None:
    made = plan(
        a_job(), [*released(), fact(Stopped, READY + HOUR * 2, cause=Cause.OTHER)], READY + DAY
    )
    found = visit(made, ENERGIZE)
    assert found is not None
    assert found.window is None


def test_the_owner_may_switch_on_where_the_job_says_so() -> None:
    made = plan(a_job(floor(energized_by=Role.OWNER)), evidence(), READY)
    assert made.visits == ()


def test_a_floor_heated_by_water_has_no_electrical_visit() -> None:
    assert plan(a_job(floor(heating=Heating(HeatingKind.WATER)))).visits == ()


def two(first: datetime, second: datetime) -> Plan:
    def poured(at: datetime, **more: object) -> Zone:
        return zone(
            layer(sheet("leveler", 3.0), None, thickness_m=0.005, planned_start_at=at), **more
        )

    other = poured(second, id="bath", name="bath", path="zone.1")
    return plan(a_job(poured(first), other), as_of=START)


def test_one_visit_serves_zones_whose_windows_overlap_and_ends_with_the_first_pour() -> None:
    morning = START.replace(hour=8)
    made = two(morning + DAY * 4, morning + DAY * 2)
    firsts = [found for found in made.visits if found.kind == ROUGH_IN]
    assert [found.window for found in firsts] == [Window(START, morning + DAY * 2)]
    assert sorted(firsts[0].zone_ids) == ["bath", "hall"]


def visits_of(*windows: Window | None, kind: str = CONNECT) -> tuple[Visit, ...]:
    given = [
        Visit(kind, (f"zone {index}",), window, (f"gate {index}",))
        for index, window in enumerate(windows)
    ]
    return merge_visits(given)


def test_a_joint_visit_comes_when_the_last_of_its_zones_is_ready() -> None:
    early, late = Window(START, START + DAY * 3), Window(START + DAY * 2, START + DAY * 5)
    (found,) = visits_of(late, early)
    # Connected before the first zone's date, so that none waits for the other's electrician.
    assert found.window == Window(START + DAY * 2, START + DAY * 3)
    assert found.zone_ids == ("zone 1", "zone 0")
    assert found.gates == ("gate 0", "gate 1")


def test_a_joint_switching_on_waits_for_the_last_zone() -> None:
    early, late = Window(START, START + DAY * 3), Window(START + DAY * 2, START + DAY * 5)
    (found,) = visits_of(late, early, kind="energize")
    assert found.window == Window(START + DAY * 2, START + DAY * 5)


def test_windows_that_do_not_meet_are_two_visits() -> None:
    early, late = Window(START, START + DAY), Window(START + DAY * 2, START + DAY * 5)
    assert [found.window for found in visits_of(late, early)] == [early, late]


def test_an_open_end_meets_whatever_follows() -> None:
    (found,) = visits_of(Window(START, None), Window(START + DAY, START + DAY * 2))
    assert found.window == Window(START + DAY, None)


def test_visits_without_a_date_stay_apart_and_come_last() -> None:
    dated = Window(START, START + DAY)
    assert [found.window for found in visits_of(None, dated, None)] == [dated, None, None]


def test_visits_of_different_kinds_are_never_one() -> None:
    window = Window(START, START + timedelta(days=9))
    given = [Visit(kind, ("hall",), window) for kind in reversed(VisitKind)]
    assert [found.kind for found in merge_visits(given)] == list(VisitKind)
