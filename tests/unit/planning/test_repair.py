"""A repair: what makes a zone one, the reading after the last chisel, one answer everywhere."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta

import pytest
from planning_log import HOUR, a_job, codes, fact, floor, hold, measured, state
from planning_samples import DAY, RULES, START, layer, plan, reading, sheet, weekdays, zone
from told_days import assert_one_day, output

from curecal.planning.plan import HoldState, State
from curecal.planning.repair import first_switched_on_by, is_repair
from curecal.trade.job import Layer, Role, Zone
from curecal.trade.site_log import Energized, Entry, Release, Stage
from curecal.words.report.report import report
from curecal.words.sentences import words_for

OLD = layer("mortar bed", None, "old floor", existing=True)
SLAB = layer("concrete", None, "slab", existing=True)
SECOND = START + DAY * 17


def mended(name: str, done: datetime | None, what: str = "thinset", **more: object) -> Layer:
    return layer(sheet(what, 7.0), done, name, repair=True, **more)


def twice(second: datetime | None = SECOND) -> Zone:
    """One tile reset, and another one later."""
    joints = layer("cement grout", name="old joints", existing=True)
    return zone(
        OLD,
        joints,
        mended("first mortar", START),
        mended("first joint", START, "cement grout"),
        mended("second mortar", second),
        mended("second joint", second, "cement grout"),
    )


def read_after(log: list[Entry], made: Zone, as_of: datetime) -> HoldState:
    return hold(plan(a_job(made), log, as_of), "test-after-chiselling").state


def test_the_reading_is_wanted_after_the_last_chiselling() -> None:
    between = measured(START + DAY * 3, Stage.IN_SERVICE)
    after = measured(SECOND + HOUR, Stage.IN_SERVICE)
    assert read_after([between], twice(), SECOND + DAY * 9) is HoldState.UNMET
    assert read_after([between, after], twice(), SECOND + DAY * 9) is HoldState.MET
    assert read_after([between], twice(None), START + DAY * 9) is HoldState.UNMET
    # One chisel, one reading: the joint over the reset tile opens nothing again.
    joint = mended("joint", SECOND, "cement grout")
    one = zone(OLD, mended("mortar", START), joint)
    assert read_after([between], one, SECOND + DAY * 9) is HoldState.MET
    again = zone(*one.layers, mended("joint raked anew", SECOND + DAY * 9, "cement grout"))
    assert read_after([between], again, SECOND + DAY * 12) is HoldState.UNMET


def test_a_repair_released_without_the_second_reading_is_not_released() -> None:
    looks = [reading(START + DAY * n, 20.0) for n in range(27)]
    log = [*looks, measured(START + DAY * 3, Stage.IN_SERVICE)]
    release = fact(Release, SECOND + DAY * 8)
    assert state(plan(a_job(twice()), [*log, release], SECOND + DAY * 9)) is not State.RELEASED
    log.append(measured(SECOND + HOUR, Stage.IN_SERVICE))
    assert state(plan(a_job(twice()), [*log, release], SECOND + DAY * 9)) is State.RELEASED


def test_each_chiselling_wants_the_floor_off_for_a_day_before() -> None:
    on = fact(Energized, SECOND - HOUR * 3)
    found = plan(a_job(twice()), [on], SECOND + DAY).findings
    warm = [each.params["laid_at"] for each in found if each.code == "repaired-warm"]
    assert warm == [SECOND]
    assert "repaired-warm" not in codes(plan(a_job(twice()), [], SECOND + DAY))


@pytest.mark.parametrize(
    ("layers", "wanted"),
    [
        ((OLD, mended("mortar", START)), True),
        ((SLAB, layer("thinset", None, "old", existing=True), mended("mortar", START)), True),
        ((SLAB, layer("adhesive", None, "old", existing=True), mended("glue", START)), True),
        ((SLAB, layer("cement grout", None, "old", existing=True), mended("m", START)), True),
        ((OLD, mended("mortar", START), mended("joint", START, "cement grout")), True),
        # Nothing finished lies under it: a new floor, whatever it is called.
        ((mended("mortar", START),), False),
        ((SLAB, mended("mortar", START)), False),
        ((SLAB, mended("mortar", START), mended("joint", START, "cement grout")), False),
        ((mended("mortar", START), OLD), False),
        ((OLD, mended("mortar", START), layer("cement grout", START)), False),
        ((OLD,), False),
        ((), False),
    ],
)
def test_what_a_repair_is(layers: tuple[Layer, ...], *, wanted: bool) -> None:
    assert is_repair(layers) is wanted


def test_a_finished_part_beside_a_repair_is_not_under_it() -> None:
    north = layer("mortar bed", None, "old floor, north", existing=True, part="north")
    assert not is_repair((SLAB, north, mended("mortar", START, part="south")))
    assert is_repair((SLAB, north, mended("mortar", START, part="north")))


def test_a_repair_on_a_bare_slab_spares_no_hold_point() -> None:
    """`repair = true` on a slab is a new floor: its bed embeds the cable."""
    bare = zone(SLAB, mended("mortar", START), mended("joint", START + DAY, "cement grout"))
    log = [measured(START + HOUR, Stage.IN_SERVICE)]
    made = plan(a_job(bare), log, START + DAY * 20)
    waiting = {point.code for point in made.zones[0].holds if point.state is HoldState.UNMET}
    assert {
        "test-on-delivery",
        "test-after-laying",
        "test-after-embedding",
        "test-before-connection",
        "protection",
        "thermostat",
        "connection",
    } <= waiting
    assert "embedded-untested" in codes(made)
    assert {visit.kind for visit in made.visits} == {"test-and-connect", "energize"}
    embedded = measured(START + DAY * 2, Stage.EMBEDDED)
    made = plan(a_job(bare), [*log, embedded], START + DAY * 20)
    assert hold(made, "test-after-embedding").state is HoldState.MET


@pytest.mark.parametrize(
    ("layers", "by", "who"),
    [
        ((OLD, mended("mortar", START)), Role.ELECTRICIAN, Role.CREW_LEAD),
        ((SLAB, mended("mortar", START)), Role.ELECTRICIAN, Role.ELECTRICIAN),
        ((OLD, mended("mortar", START)), Role.OWNER, Role.OWNER),
        (floor().layers, Role.ELECTRICIAN, Role.ELECTRICIAN),
    ],
)
def test_who_switches_it_on(layers: tuple[Layer, ...], by: Role, who: Role) -> None:
    assert first_switched_on_by(zone(energized_by=by), layers) is who


# 4 December 2026 is a Friday: the clock ends on Friday the 11th at 15:00.
LAID = datetime(2026, 12, 4, 15, tzinfo=UTC)


@pytest.mark.parametrize(
    ("layers", "day", "who"),
    [
        ((mended("mortar", LAID),), date(2026, 12, 14), "electrician"),
        ((SLAB, mended("mortar", LAID)), date(2026, 12, 14), "electrician"),
        ((OLD, mended("mortar", LAID)), date(2026, 12, 12), "crew"),
    ],
)
@pytest.mark.parametrize("later", [timedelta(days=1), timedelta(days=6, hours=23), DAY * 20])
def test_plan_calendars_and_mail_tell_one_day(
    layers: tuple[Layer, ...], day: date, who: str, later: timedelta
) -> None:
    log: list[Entry] = [reading(LAID + DAY * n, 20.0) for n in range(9)]
    made = plan(a_job(zone(*layers)), log, LAID + later, weekdays)
    energize = made.zones[0].energize
    if later < DAY * 7:
        assert energize.start_on == day
    found = output(made, log, weekdays)
    assert_one_day(found)
    assert set().union(*found.first_days().values()) == {day}
    visits = {visit.kind for visit in made.visits}
    assert ("energize" in visits) is (who == "electrician")
    said = "\n".join(
        str(line)
        for line in report(made, (), words=words_for(made.job, RULES), width=100, full=True)
    )
    assert ("by the electrician" in said) is (who == "electrician")
