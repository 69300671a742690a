"""Moisture tests: what needs one, what counts as one, and what it decides."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta
from typing import Any

import pytest
from moisture_samples import GLUE, WOOD, cover, probe, screed, seen
from planning_log import a_job, codes, fact, hold
from planning_samples import (
    DAY,
    RULES,
    START,
    expected,
    layer,
    plan,
    reading,
    sheet,
    zone,
)

from curecal.instants import Window
from curecal.planning.curing.build_up import BuildUp
from curecal.planning.curing.moisture_tests import needs_test
from curecal.planning.plan import Hold, HoldState, Plan
from curecal.trade.data_sheets import Hardening
from curecal.trade.job import Covering, CoveringKind
from curecal.trade.site_log import Energized, Entry, HeatStep, Method, MoistureTest, Place

HOT = reading(START + timedelta(days=60), 25.0, Place.FLOOR, heating_off=False, heating_on=True)


@pytest.mark.parametrize(
    ("material", "covering", "changes", "needed"),
    [
        ("sand-cement screed", CoveringKind.WOOD, {}, True),
        ("sand-cement screed", CoveringKind.VINYL, {}, True),
        ("sand-cement screed", CoveringKind.CERAMIC, {}, False),
        ("sand-cement screed", CoveringKind.CERAMIC, {"heat_before_covering": True}, True),
        ("sand-cement screed", CoveringKind.WOOD, {"existing": True}, True),
        ("sand-cement screed", CoveringKind.CERAMIC, {"existing": True}, False),
        ("calcium-sulfate screed", CoveringKind.CERAMIC, {"existing": True}, True),
        ("concrete", CoveringKind.WOOD, {}, True),
        ("concrete", CoveringKind.CERAMIC, {}, False),
        ("calcium-sulfate screed", CoveringKind.CERAMIC, {}, True),
        ("gypsum leveler", CoveringKind.CERAMIC, {}, True),
        ("leveler", CoveringKind.WOOD, {}, True),
        ("leveler", CoveringKind.LAMINATE, {}, True),
        ("leveler", CoveringKind.CORK, {}, True),
        ("leveler", CoveringKind.LINOLEUM, {}, True),
        ("leveler", CoveringKind.CARPET, {}, True),
        ("leveler", CoveringKind.PORCELAIN, {}, False),
        ("plywood", CoveringKind.WOOD, {"existing": True}, False),
        ("thinset", CoveringKind.WOOD, {}, False),
    ],
)
def test_which_layers_need_a_moisture_test(
    material: str, covering: CoveringKind, changes: dict[str, Any], *, needed: bool
) -> None:
    made = layer(material, START, thickness_m=0.05, **changes)
    floor = zone(made, layer("adhesive", None), covering=Covering(covering))
    assert needs_test(BuildUp(floor), made) is needed


@pytest.mark.parametrize(
    ("covering", "courses", "tested"),
    [
        # A pour closes the slab in; something impervious parts them.
        ("vinyl", ["slab", "leveler", "adhesive"], ["slab", "leveler"]),
        ("vinyl", ["slab", "primer", "leveler", "adhesive"], ["slab", "leveler"]),
        ("vinyl", ["slab", "epoxy barrier", "leveler", "adhesive"], ["leveler"]),
        ("vinyl", ["slab", "membrane", "leveler", "adhesive"], ["leveler"]),
        ("vinyl", ["concrete", "epoxy barrier", "leveler", "adhesive"], ["leveler"]),
        ("vinyl", ["slab", "epoxy barrier", "adhesive"], ["slab"]),
        ("carpet", ["plywood", "leveler", "adhesive"], ["leveler"]),
        ("ceramic tile", ["slab", "leveler", "thinset"], []),
        # Every base of calcium sulfate or gypsum, whatever lies over it.
        ("ceramic tile", ["calcium-sulfate screed", "epoxy barrier", "leveler", "thinset"],
         ["calcium-sulfate screed"]),
        ("ceramic tile", ["concrete", "gypsum leveler", "primer", "thinset"], ["gypsum leveler"]),
        # What was covered before this job is not opened, and a repair opens nothing.
        ("vinyl", ["slab", "old thinset", "old grout", "adhesive"], []),
        ("vinyl", ["slab", "old thinset", "old grout", "repair"], []),
    ],
)  # fmt: skip
def test_which_of_several_pours_are_tested(
    covering: str, courses: list[str], tested: list[str]
) -> None:
    old = {"slab": "concrete", "old thinset": "thinset", "old grout": "cement grout"}
    layers = [
        layer("thinset", None, name, repair=True)
        if name == "repair"
        else layer(
            old.get(name, name), None, name, existing=name in {*old, "plywood"}, thickness_m=0.01
        )
        for name in courses
    ]
    floor = zone(*layers, covering=Covering(CoveringKind(covering)))
    assert [made.name for made in layers if needs_test(BuildUp(floor), made)] == tested


def test_a_base_with_a_leveler_on_a_part_of_it_is_tested_beside_that() -> None:
    slab = layer("concrete", None, "slab", existing=True)
    part = layer("leveler", None, "leveler", part="left", thickness_m=0.01)
    barrier = layer("epoxy barrier", None, "barrier", part="left")
    floor = zone(slab, barrier, part, layer("adhesive", None), covering=WOOD)
    assert [made.name for made in floor.layers if needs_test(BuildUp(floor), made)] == [
        "slab",
        "leveler",
    ]


def test_a_gypsum_base_is_tested_however_its_sheet_says_it_hardens() -> None:
    odd = replace(sheet("gypsum leveler"), hardens_by=Hardening.CEMENT, covers={})
    made = layer(odd, START, thickness_m=0.01)
    floor = zone(made, layer("thinset", None), covering=Covering(CoveringKind.CERAMIC))
    assert needs_test(BuildUp(floor), made)


def test_a_leveler_under_vinyl_is_dry_and_hard_before_it_is_covered() -> None:
    base = layer("leveler", START, "screed", thickness_m=0.01)
    floor = zone(base, layer(GLUE, None, "glue"), covering=Covering(CoveringKind.VINYL))
    # 10 mm at 8 h a millimeter; a test before that opens nothing earlier.
    for day, opens in ((2.0, timedelta(hours=80)), (9.0, timedelta(days=9))):
        made = seen(probe(day, 0.7, method=Method.HUMIDITY, depth_m=0.008), day=10.0, floor=floor)
        assert hold(made, "moisture-test").state is HoldState.MET
        window = cover(made)
        assert window is not None
        assert abs(window.earliest - (START + opens)) <= timedelta(seconds=1)
    assert hold(seen(day=10.0, floor=floor), "moisture-test").state is HoldState.UNMET


def test_a_base_without_a_cover_time_is_held_for_its_test() -> None:
    bare_sheet = replace(sheet("leveler", 3.0), covers={})
    floor = zone(layer(bare_sheet, START, "screed", thickness_m=0.01), covering=WOOD)
    made = seen(probe(9.0, 0.03), day=10.0, floor=floor)
    assert hold(made, "moisture-test").state is HoldState.FAILED
    assert made.zones[0].energize.window is None
    assert hold(seen(day=10.0, floor=floor), "moisture-test").state is HoldState.UNMET


def test_a_leveler_whose_sheet_gives_no_cover_time_needs_none() -> None:
    made = layer(RULES.classes["mortar bed"], START)
    bare = replace(made, sheet=replace(made.sheet, covers={}))
    assert not needs_test(BuildUp(zone(bare)), bare)


def test_a_passed_test_opens_cover_at_its_instant() -> None:
    # The rule alone gives day 97: 7 d under cover, 40 + 25 / 0.5 = 90 d.
    made = seen(probe(63.0), day=64.0)
    at = START + DAY * 63
    assert cover(made) == Window(at, at)
    assert hold(made, "moisture-test").state is HoldState.MET
    untested = seen(day=64.0)
    assert hold(untested, "moisture-test").state is HoldState.UNMET
    window = cover(untested)
    assert window is not None
    assert abs(window.earliest - (START + DAY * 97)) <= timedelta(seconds=1)


def test_a_failed_test_leaves_no_cover_date_until_the_next() -> None:
    made = seen(probe(63.0, 0.019))
    assert cover(made) is None
    assert hold(made, "moisture-test").state is HoldState.FAILED
    assert made.zones[0].energize.window is None
    again = seen(probe(63.0, 0.019), probe(80.0))
    assert cover(again) == Window(START + DAY * 80, START + DAY * 80)


def test_the_last_test_decides_also_against_an_earlier_pass() -> None:
    assert cover(seen(probe(63.0), probe(80.0, 0.03))) is None


@pytest.mark.parametrize(
    ("method", "value", "state"),
    [
        (Method.CARBIDE, 0.018, "met"),
        (Method.CARBIDE, 0.0181, "failed"),
        (Method.HUMIDITY, 0.75, "met"),
        (Method.HUMIDITY, 0.76, "failed"),
        (Method.CARBIDE, float("nan"), "failed"),
        (Method.CARBIDE, -0.01, "failed"),
    ],
)
def test_the_limit_is_its_methods_own(method: Method, value: float, state: str) -> None:
    made = seen(probe(63.0, value, method=method))
    assert hold(made, "moisture-test").state == state


@pytest.mark.parametrize(
    ("lacks", "code"),
    [
        ({"method": Method.HUMIDITY}, "without-limit"),
        ({"method": Method.CALCIUM_CHLORIDE}, "without-limit"),
        ({"points": None}, "incomplete"),
        ({"points": 0}, "incomplete"),
        ({"points": -1}, "incomplete"),
        ({"air_c": None}, "incomplete"),
        ({"humidity": None}, "incomplete"),
        ({"depth_m": None}, "without-depth"),
    ],
)
def test_a_test_without_limit_points_depth_or_conditions_proves_no_dryness(
    lacks: dict[str, Any], code: str
) -> None:
    of_class = RULES.classes["sand-cement screed"]
    carbide = tuple(limit for limit in of_class.moisture_limits if limit.method == "carbide")
    floor = screed(sheet=replace(of_class, moisture_limits=carbide))
    made = seen(probe(63.0, **lacks), floor=floor)
    assert hold(made, "moisture-test").state is HoldState.UNMET
    assert f"moisture-{code}" in codes(made)


@pytest.mark.parametrize(
    ("told", "off_s", "met"),
    [
        ([], None, True),
        ([fact(Energized, START + timedelta(days=60))], None, False),
        ([fact(HeatStep, START + timedelta(days=60), to_c=22.0)], 86399.0, False),
        ([fact(HeatStep, START + timedelta(days=60), to_c=22.0)], 86400.0, True),
        ([HOT], None, False),
        ([replace(HOT, zone="another")], None, True),
        ([fact(Energized, START + timedelta(days=70))], None, True),
    ],
)
def test_once_it_was_on_the_heating_is_off_for_a_day_before_a_test(
    told: list[Entry], off_s: float | None, *, met: bool
) -> None:
    log = [*told, probe(63.0, heating_off_s=off_s)]
    made = plan(a_job(screed()), log, START + timedelta(days=69))
    assert (hold(made, "moisture-test").state is HoldState.MET) is met
    assert ("moisture-heating-on" in codes(made)) is not met
    # A wet one counts however warm it was.
    wet = [*told, probe(63.0, 0.03)]
    assert hold(plan(a_job(screed()), wet, START + timedelta(days=69)), "moisture-test").state is (
        HoldState.FAILED
    )


def test_a_dry_value_counts_only_from_who_may_give_it_and_a_wet_one_from_anybody() -> None:
    made = seen(probe(63.0, by=None))
    point = hold(made, "moisture-test")
    assert point.state is HoldState.UNMET
    assert point.reason is not None
    assert point.reason.code == "signature-unsigned"
    assert cover(made) == cover(seen())
    assert codes(made).count("signature-unsigned") == 1
    assert hold(seen(probe(63.0), probe(64.0, 0.03, by=None)), "moisture-test").state is (
        HoldState.FAILED
    )
    assert hold(seen(probe(63.0), probe(64.0, 0.01, by=None)), "moisture-test").state is (
        HoldState.MET
    )


def test_a_value_over_its_limit_counts_however_it_was_taken() -> None:
    made = seen(probe(63.0), probe(70.0, 0.04, points=None))
    assert hold(made, "moisture-test").state is HoldState.FAILED
    assert cover(made) is None


def test_a_test_of_another_layer_or_of_the_pour_before_says_nothing() -> None:
    made = seen(probe(63.0, layer="slab"), probe(-2.0))
    assert hold(made, "moisture-test").state is HoldState.UNMET


def test_what_is_not_laid_yet_cannot_have_been_tested() -> None:
    planned = zone(
        layer("sand-cement screed", None, "screed", thickness_m=0.065),
        layer("adhesive", None, "glue"),
        covering=WOOD,
    )
    made = seen(probe(1.0), day=2.0, floor=planned)
    assert hold(made, "moisture-test").state is HoldState.UNMET
    window = cover(made)
    assert window is not None
    assert window.earliest > START + DAY * 90


def test_damp_air_dries_nothing_but_a_passed_test_opens_all_the_same() -> None:
    damp = a_job(screed(), climate=expected(20.0, humidity=0.8, dampest=0.8))
    now = START + DAY * 64
    assert cover(plan(damp, [], now)) is None
    passed = plan(damp, [probe(63.0)], now)
    assert cover(passed) == Window(START + DAY * 63, START + DAY * 63)


# 65 mm of screed: 40 % of it is 26 mm, our reading of a published rule from memory.
@pytest.mark.parametrize(
    ("depth_m", "counts"),
    [(0.026, True), (0.065, True), (0.0259, False), (0.01, False), (0.066, False)],
)
def test_a_test_at_the_wrong_depth_opens_nothing_until_a_deeper_one(
    depth_m: float, *, counts: bool
) -> None:
    made = seen(probe(60, depth_m=depth_m))
    assert (hold(made, "moisture-test").state is HoldState.MET) is counts
    assert ("moisture-depth" in codes(made)) is not counts
    again = seen(probe(60, depth_m=depth_m), probe(61, depth_m=0.05))
    assert hold(again, "moisture-test").state is HoldState.MET


def test_a_value_too_wet_counts_at_any_depth() -> None:
    made = seen(probe(60, 0.03, depth_m=0.005))
    assert hold(made, "moisture-test").state is HoldState.FAILED
    assert "moisture-depth" not in codes(made)


def test_a_depth_in_a_layer_of_unknown_thickness_is_not_judged() -> None:
    base = layer("calcium-sulfate screed", START, "screed")
    floor = zone(base, layer("adhesive", None, "glue"), covering=WOOD)
    made = seen(probe(60, 0.003, depth_m=0.005), floor=floor)
    assert "moisture-depth" not in codes(made)


# 75 % RH is the British acceptance limit for resilient flooring (BS 8203, from memory).
@pytest.mark.parametrize("material", ["leveler", "rapid leveler", "mortar bed", "concrete"])
@pytest.mark.parametrize("existing", [False, True])
@pytest.mark.parametrize("covering", [CoveringKind.VINYL, CoveringKind.WOOD, CoveringKind.CERAMIC])
def test_a_failed_test_blocks_whoever_asked_for_it(
    material: str, covering: CoveringKind, *, existing: bool
) -> None:
    done_at = None if existing else START
    base = layer(material, done_at, "screed", thickness_m=0.01, existing=existing)
    floor = zone(base, layer(GLUE, None, "glue"), covering=Covering(covering))
    wet = probe(30.0, 0.95, method=Method.HUMIDITY, by=None, depth_m=0.008)
    made = seen(wet, day=31.0, floor=floor)
    assert hold(made, "moisture-test").state is HoldState.FAILED
    assert made.zones[0].energize.window is None
    blocked = made.zones[0].energize.blocked
    assert blocked is not None
    assert blocked.code == "moisture-failed"
    # The last complete one decides.
    dry = probe(40.0, 0.7, method=Method.HUMIDITY, depth_m=0.008)
    again = seen(wet, dry, day=41.0, floor=floor)
    assert [point.state for point in moisture_holds(again)] in ([], [HoldState.MET])
    assert again.zones[0].energize.window is not None
    assert hold(seen(dry, wet_again(), day=51.0, floor=floor), "moisture-test").state is (
        HoldState.FAILED
    )


def wet_again() -> MoistureTest:
    return probe(50.0, 0.95, method=Method.HUMIDITY)


def moisture_holds(made: Plan) -> list[Hold]:
    return [point for point in made.zones[0].holds if point.code == "moisture-test"]


def test_a_passed_test_opens_nothing_that_waits_for_none() -> None:
    base = layer("leveler", START, "screed", thickness_m=0.01)
    floor = zone(base, layer("thinset", None), covering=Covering(CoveringKind.CERAMIC))
    made = seen(probe(1.5), day=1.6, floor=floor)
    assert not moisture_holds(made)
    # 10 mm at 8 h a millimeter.
    window = cover(made)
    assert window is not None
    assert window.earliest >= START + timedelta(hours=80)


def test_a_test_by_a_method_without_a_limit_is_told_where_nobody_asked_for_it() -> None:
    unlimited = replace(RULES.classes["leveler"], moisture_limits=())
    base = layer(unlimited, START, "screed", thickness_m=0.01)
    floor = zone(base, layer("thinset", None), covering=Covering(CoveringKind.CERAMIC))
    made = seen(probe(30.0, depth_m=0.008), day=31.0, floor=floor)
    assert not moisture_holds(made)
    assert "moisture-without-limit" in codes(made)
