"""One zone put together: the latest of all dates, the maker's waits, the room's order."""

from __future__ import annotations

import pytest
from planning_log import HOUR, READY, a_job, courses, evidence, floor, released
from planning_samples import DAY, START, expected, layer, plan, sheet, wait, weekdays, zone

from curecal.instants import Window
from curecal.planning.plan import State
from curecal.trade.data_sheets import Milestone
from curecal.trade.job import Covering, HeatedBy, Heating, Role
from curecal.trade.site_log import Energized

MORTAR = sheet("thinset")


def at(days: float) -> Window:
    end = START + DAY * int(days)
    return Window(end, end)


@pytest.mark.parametrize(
    ("since", "days", "layer_name"),
    [(None, 4 + 28, "grout"), ("leveler", 28, "leveler"), ("mortar", 2 + 28, "mortar")],
)
def test_the_heating_makers_wait_always_counts(
    since: str | None, days: int, layer_name: str
) -> None:
    heating = Heating(wait=wait(28.0, MORTAR), wait_from=since)
    energize = plan(a_job(floor(heating=heating)), as_of=START + DAY * 5).zones[0].energize
    assert energize.window == at(days)
    assert energize.governed_by is not None
    assert energize.governed_by.rule == "R13"
    assert energize.governed_by.layer_name == layer_name


def test_a_shorter_makers_wait_shortens_nothing() -> None:
    heating = Heating(wait=wait(1.0, MORTAR))
    energize = plan(a_job(floor(heating=heating)), as_of=START + DAY * 5).zones[0].energize
    assert energize.window == Window(READY, READY)


def test_the_covering_makers_wait_runs_from_its_bed() -> None:
    covering = Covering(wait=wait(10.0, MORTAR))
    energize = plan(a_job(floor(covering=covering)), as_of=START + DAY * 5).zones[0].energize
    assert energize.window == at(12)
    no_bed = zone(courses()[0], covering=covering)
    assert plan(a_job(no_bed)).zones[0].energize.window == at(10)


def test_a_makers_wait_without_an_end_has_no_date() -> None:
    sealer = zone(
        layer(sheet("leveler", 3.0, minimum_c=5.0), START, thickness_m=0.005),
        heating=Heating(wait=wait(28.0, MORTAR)),
    )
    made = plan(a_job(sealer, climate=expected(4.0)))
    assert made.zones[0].state is State.NO_DATE
    endless = floor(heating=Heating(wait=wait(3650.0, MORTAR)))
    beyond = plan(a_job(endless), as_of=START + DAY * 5).zones[0].energize
    assert beyond.window is None
    assert beyond.governed_by is not None
    assert beyond.governed_by.rule == "R13"
    assert beyond.blocked is not None
    old = zone(layer("concrete", None, existing=True), heating=Heating(wait=wait(28.0, MORTAR)))
    assert plan(a_job(old)).zones[0].energize.window is None


def test_the_day_to_switch_on_moves_on_until_it_is_switched_on_and_stays_then() -> None:
    waiting = plan(a_job(), evidence(), READY + DAY * 10 + HOUR)
    energize = waiting.zones[0].energize
    assert energize.start_on == (READY + DAY * 11).date()
    assert energize.owner_date == (READY + DAY * 11).date()
    done = plan(a_job(), released(), READY + DAY * 10)
    assert done.zones[0].energize.start_on == (READY + DAY * 10).date()
    on = READY + DAY * 2
    running = plan(a_job(), [*released(), Energized(id="on", at=on, recorded=on)], READY + DAY * 4)
    assert running.zones[0].energize.start_on == (READY + DAY).date()


@pytest.mark.parametrize(("by", "day"), [(Role.ELECTRICIAN, 8), (Role.OWNER, 6)])
def test_the_first_switch_on_wants_the_electricians_working_day(by: Role, day: int) -> None:
    # Clocks out on Friday 5 March at noon.
    two = zone(layer(sheet("leveler", 4.0), START, thickness_m=0.005), energized_by=by)
    made = plan(a_job(two), day_off=weekdays)
    start_on = made.zones[0].energize.start_on
    assert start_on is not None
    assert (start_on.month, start_on.day) == (3, day)


def test_a_repairs_restart_wants_no_working_day() -> None:
    two = zone(
        layer("mortar bed", None, existing=True),
        layer(sheet("thinset", 4.0), START, repair=True),
    )
    start_on = plan(a_job(two), day_off=weekdays).zones[0].energize.start_on
    assert start_on is not None
    assert start_on.day == 6


def test_no_promise_no_owners_day() -> None:
    energize = plan(a_job(climate=expected(20.0, coldest_c=5.0))).zones[0].energize
    assert energize.window is not None
    assert energize.window.latest is None
    assert energize.owner_date is None
    assert energize.start_on is not None
    assert energize.provisional


def test_a_measured_span_is_not_provisional() -> None:
    made = plan(a_job(), evidence(), READY)
    energize = made.zones[0].energize
    assert energize.measured_share == pytest.approx(1.0)
    assert not energize.provisional
    assert made.zones[0].heat_ups[0].provisional


def test_the_reason_names_layer_day_and_what_is_outstanding() -> None:
    why = plan(a_job(), as_of=READY + DAY).zones[0].why
    assert why.code == "why-on-hold"
    assert why.params["layer"] == "grout"
    assert why.params["hold"] == "test-on-delivery"
    clear = plan(a_job(), evidence(), READY).zones[0].why
    assert clear.code == "why-clear"
    assert clear.params["count"] == 0
    closed = plan(a_job(), evidence(), READY, day_off=lambda _: "closed").zones[0].why
    assert "start_on" not in closed.params


@pytest.mark.parametrize(
    ("climate", "at_least_c", "by"),
    [
        (expected(20.0, coldest_c=15.0), 15.0, "house system"),
        # Not colder than the layers bear, whatever was expected.
        (expected(20.0, coldest_c=5.0, heated_by=HeatedBy.TEMPORARY), 10.0, "temporary"),
    ],
)
def test_the_room_is_kept_warm_until_the_date(climate: object, at_least_c: float, by: str) -> None:
    made = plan(a_job(climate=climate), as_of=START + DAY * 5).zones[0]
    order = made.room_order
    assert order is not None
    assert made.energize.window is not None
    assert order.until == (made.energize.window.latest or made.energize.window.earliest)
    assert (order.at_least_c, order.heated_by) == (at_least_c, by)


def test_there_is_no_order_without_a_date_or_after_it() -> None:
    assert plan(a_job(climate=expected(9.0))).zones[0].room_order is None
    assert plan(a_job(), evidence(), READY).zones[0].room_order is None
    assert plan(a_job(), released(), READY + DAY).zones[0].room_order is None


def test_the_latest_of_all_layers_counts_whatever_their_order() -> None:
    slow = layer(sheet("leveler", 9.0), START, "leveler", thickness_m=0.005)
    quick = layer(sheet("thinset", 1.0), START + DAY * 2, "mortar")
    made = plan(a_job(floor(layers=(slow, quick))), as_of=START + DAY * 3)
    energize = made.zones[0].energize
    assert energize.window == at(9)
    assert energize.governed_by is not None
    assert energize.governed_by.layer_name == "leveler"


def test_one_layer_without_a_date_leaves_the_zone_without_one() -> None:
    unknown = layer(sheet("resin floor"), START + DAY * 5, "finish")
    made = plan(a_job(floor(layers=(*courses(), unknown))), as_of=START + DAY * 6).zones[0]
    assert made.energize.window is None
    assert made.energize.governed_by is not None
    assert made.energize.governed_by.layer_name == "finish"
    assert made.energize.blocked == made.layers[3].milestones[Milestone.HEAT].blocked
    assert made.state is State.NO_DATE


def test_a_zone_of_nothing_done_is_planned() -> None:
    made = plan(a_job(zone(layer(sheet("leveler", 3.0), None, thickness_m=0.005))))
    assert made.zones[0].state is State.PLANNED
    assert made.zones[0].why.code == "why-planned"
    assert made.zones[0].energize.provisional
