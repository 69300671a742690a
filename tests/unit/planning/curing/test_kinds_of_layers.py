"""What each kind of layer does to those beside it.

Impervious R12; sulfate R15; frost R16; laid into fresh mortar R15 and R26; beside the floor R29.
"""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

import pytest
from planning_samples import (
    DAY,
    START,
    codes,
    earliest,
    item,
    job,
    layer,
    plan,
    reading,
    sheet,
    wait,
    zone,
)

from curecal.instants import Window
from curecal.planning.curing.build_up import BuildUp
from curecal.planning.plan import HoldState, Plan, State
from curecal.trade.data_sheets import Milestone
from curecal.trade.hold_codes import HoldCode
from curecal.trade.job import Covering, CoveringKind, Layer

HOUR = timedelta(hours=1)
PORCELAIN = Covering(CoveringKind.PORCELAIN, (0.6, 0.6))


def _over(base: str, *between: str) -> Plan:
    mortar = layer("thinset", START, "mortar")
    films = [layer(name, START, name) for name in between]
    return plan(job(zone(layer(base, START, "base"), *films, mortar, covering=PORCELAIN)))


@pytest.mark.parametrize(
    "base",
    [
        *("uncoupling sheet", "membrane", "epoxy barrier", "foam-core board"),
        *("bonded waterproofing sheet", "poured asphalt", "cement slurry waterproofing"),
        *("reaction waterproofing", "insulation board", "backer board"),
    ],
)
@pytest.mark.parametrize("between", [(), ("primer",)])
def test_mortar_on_what_is_impervious_under_dense_tile_takes_60_days(
    base: str, between: tuple[str, ...]
) -> None:
    # 14 to over 60 days: trade print quoting the North American handbook; 60 days our own choice.
    made = _over(base, *between)
    assert earliest(made, "mortar", Milestone.HEAT) == START + DAY * 60
    assert "sealed-both-sides" in codes(made)


@pytest.mark.parametrize(
    "base",
    ["cement board", "gypsum-fiber board", "dry gypsum-fiber screed", "plywood", "concrete"],
)
def test_mortar_on_what_takes_its_water_keeps_its_28_days(base: str) -> None:
    assert earliest(_over(base), "mortar", Milestone.HEAT) == START + DAY * 28


def test_a_board_nobody_named_is_asked_for_and_a_named_one_is_not() -> None:
    found = [one for one in _over("backer board", "primer").findings if one.code.startswith("boa")]
    assert [(one.code, one.params["under"]) for one in found] == [("board-not-named", "base")]
    assert "board-not-named" not in codes(_over("foam-core board"))
    assert "board-not-named" not in codes(_over("membrane", "primer"))
    ceramic = Covering(CoveringKind.CERAMIC)
    plain = zone(layer("backer board", START), layer("thinset", START), covering=ceramic)
    assert "board-not-named" not in codes(plan(job(plain)))


def test_what_may_let_water_through_keeps_no_pours_apart() -> None:
    # R24b: one below only where nothing impervious parts it from the pour that closes it.
    def closed(board: str) -> bool:
        floor = zone(layer("sand-cement screed"), layer(board), layer("leveler"))
        return BuildUp(floor).is_closed_by_pour(floor.layers[0])

    assert closed("insulation board")
    assert closed("backer board")
    assert not closed("foam-core board")
    assert not closed("poured asphalt")


_LAID_WET = [
    *("uncoupling sheet", "bonded waterproofing sheet", "backer board", "cement board"),
    *("gypsum-fiber board", "foam-core board", "insulation board"),
]


@pytest.mark.parametrize("bed", ["thinset", "adhesive"])
@pytest.mark.parametrize("name", _LAID_WET)
def test_sheets_and_boards_go_into_fresh_mortar(bed: str, name: str) -> None:
    made = plan(job(zone(layer(bed, START, "bed"), layer(name, START + HOUR, "sheet"))))
    assert not {"covered-early", "covered-without-date"} & set(codes(made))
    assert earliest(made, "sheet", Milestone.HEAT) == START + HOUR
    ahead = plan(job(zone(layer(bed, None, "bed"), layer(name, None, "sheet"))))
    assert item(ahead, "sheet").start == item(ahead, "bed").finish


def test_a_board_with_a_planned_hour_keeps_it() -> None:
    wished = START + DAY * 2
    board = layer("cement board", None, "board", planned_start_at=wished, duration_s=7200.0)
    made = plan(job(zone(layer("thinset", START, "bed"), board)))
    assert item(made, "board").start == Window(wished, wished)
    assert item(made, "board").finish == Window(wished + HOUR * 2, wished + HOUR * 2)


def test_a_board_on_a_leveler_waits_for_it() -> None:
    made = plan(
        job(zone(layer("leveler", START, "leveler", thickness_m=0.003), layer("cement board")))
    )
    start = item(made, "cement board").start
    # 24 h, our own choice for a cement leveler to 3 mm.
    assert start is not None
    assert start.earliest == START + DAY


@pytest.mark.parametrize("name", ["gypsum-fiber board", "dry gypsum-fiber screed"])
@pytest.mark.parametrize("coat", ["thinset", "cement slurry waterproofing", "microcement"])
def test_cement_straight_on_gypsum_is_held_and_a_primer_parts_them(name: str, coat: str) -> None:
    base = layer(name, None, "base", existing=True)
    made = plan(job(zone(base, layer(coat, START, "coat"))))
    assert "cement-on-sulfate" in codes(made)
    primed = zone(base, layer("calcium-sulfate primer", START - DAY), layer(coat, START, "coat"))
    assert "cement-on-sulfate" not in codes(plan(job(primed)))


@pytest.mark.parametrize("name", ["reaction waterproofing", "adhesive", "resin floor", "membrane"])
def test_what_holds_no_cement_may_lie_on_gypsum(name: str) -> None:
    base = layer("gypsum-fiber board", None, "base", existing=True)
    assert "cement-on-sulfate" not in codes(plan(job(zone(base, layer(name, START)))))


@pytest.mark.parametrize(
    ("name", "stops"),
    [
        *((name, True) for name in ("cement slurry waterproofing", "rapid grout", "microcement")),
        *((name, True) for name in ("semi-rapid grout", "terrazzo", "rapid-drying screed")),
        ("calcium-sulfate primer", True),
        ("dispersion adhesive", True),
        *((name, False) for name in ("reaction waterproofing", "adhesive", "resin floor")),
        *((name, False) for name in ("resin grout", "poured asphalt", "silicone")),
        *((name, False) for name in ("cement board", "foam-core board", "insulation board")),
        *((name, False) for name in ("bonded waterproofing sheet", "dry gypsum-fiber screed")),
        ("perimeter strip", False),
    ],
)
def test_what_frost_harms(name: str, stops: bool) -> None:  # noqa: FBT001 - parameters of a table
    """R16: cement until 72 h of age; what dries until its last time, if that is known."""
    log = [reading(START, 10.0), reading(START + HOUR * 10, -3.0), reading(START + DAY, 10.0)]
    made = plan(job(zone(layer(name, START, "it", thickness_m=0.02))), log, START + DAY * 2)
    assert ("frost" in codes(made)) is stops


def _floor(*more: Layer) -> tuple[Layer, ...]:
    return (layer("thinset", START, "mortar"), layer("epoxy grout", START + DAY, "grout"), *more)


@pytest.mark.parametrize("name", ["silicone", "perimeter strip"])
@pytest.mark.parametrize("done_at", [None, START + DAY * 3])
def test_what_lies_beside_the_floor_has_no_clock_before_heat(name: str, done_at: object) -> None:
    bare = plan(job(zone(*_floor()))).zones[0]
    beside = plan(job(zone(*_floor(layer(name, done_at, "joint"))))).zones[0]  # type: ignore[arg-type]
    assert bare.energize.window == beside.energize.window
    assert Milestone.HEAT not in beside.layers[2].milestones


def test_silicone_bears_nothing_and_covers_nothing() -> None:
    """The sealer on it waits for the grout under it: 72 h, common practice."""
    grout = layer("cement grout", START, "grout")
    silicone = layer("silicone", None, "joint")
    sealer = layer("sealer", duration_s=3600.0)
    made = plan(job(zone(layer("thinset", START - DAY * 3), grout, silicone, sealer)))
    start = item(made, "sealer").start
    assert start is not None
    assert start.earliest == START + DAY * 3
    before = plan(job(zone(grout, silicone, layer("sealer", START + DAY * 4, "sealer"))))
    assert not {"below-not-done", "laid-before"} & set(codes(before))
    after = layer("silicone", START + DAY * 5, "joint")
    late = zone(grout, after, layer("sealer", START + DAY * 4, "sealer"))
    assert not {"below-not-done", "laid-before"} & set(codes(plan(job(late), (), START + DAY * 6)))


def test_a_joint_has_no_latest_start_that_would_keep_the_date() -> None:
    ahead = plan(job(zone(layer("thinset"), layer("cement grout"), layer("silicone"))))
    assert item(ahead, "cement grout").latest_start_at is not None
    assert item(ahead, "silicone").latest_start_at is None


def test_silicone_is_dry_for_water_after_48_hours() -> None:
    made = plan(job(zone(*_floor(layer("silicone", START + DAY * 2, "joint")))))
    assert earliest(made, "joint", Milestone.WET) == START + DAY * 4


def test_a_joint_laid_in_the_cold_holds_no_floor() -> None:
    log = [reading(START + DAY * 2, 4.0), reading(START + DAY * 2 + HOUR, 4.0)]
    floor = _floor(layer("silicone", START + DAY * 2, "joint"))
    made = plan(job(zone(*floor)), log, START + DAY * 4)
    asked = [hold for hold in made.zones[0].holds if hold.code is HoldCode.ASK_THE_MAKER]
    assert "joint" not in {hold.layer_id for hold in asked}


def test_a_joint_whose_own_sheet_names_a_wait_before_heat_puts_it_off() -> None:
    made = sheet("silicone", heat_d=90.0)
    planned = plan(job(zone(*_floor(layer(made, START, "joint"))))).zones[0]
    assert planned.energize.window == Window(START + DAY * 90, START + DAY * 90)
    # Where that layer itself has no date, the floor has none either.
    doubtful = replace(layer(made, START.replace(hour=2), "joint"), sure=False)
    unsure = plan(job(zone(*_floor(doubtful)))).zones[0]
    assert unsure.energize.window is None


def test_a_doubtful_finish_of_a_joint_leaves_the_date() -> None:
    doubtful = layer("silicone", START.replace(hour=2), "joint")
    made = plan(job(zone(*_floor(doubtful))))
    assert "finish-by-night" in codes(made)
    assert made.zones[0].energize.window is not None
    assert item(made, "joint").milestones[Milestone.WET].window is None


def test_a_class_without_a_time_for_what_follows_leaves_the_date_open() -> None:
    asking = zone(layer("reaction waterproofing", START, "coat"), layer("thinset", None, "mortar"))
    made = plan(job(asking)).zones[0]
    assert made.state is State.NO_DATE
    assert made.energize.blocked is not None
    assert made.energize.blocked.code == "needs-sheet"
    own = replace(sheet("reaction waterproofing"), covers={"any": wait(1.0, sheet("thinset"))})
    told = zone(layer(own, START, "coat"), layer("thinset", None, "mortar"))
    start = item(plan(job(told)), "mortar").start
    assert start is not None
    assert start.earliest == START + DAY


@pytest.mark.parametrize("name", ["dispersion adhesive", "resin grout"])
def test_what_gives_no_wait_before_heat_leaves_the_date_open(name: str) -> None:
    silent = layer(replace(sheet(name), waits={}), START, "it")
    made = plan(job(zone(silent))).zones[0]
    assert made.energize.window is None
    assert made.energize.blocked is not None
    assert made.energize.blocked.code == "needs-sheet"


def test_a_classes_water_wait_is_no_word_against_a_makers_heat() -> None:
    made = plan(job(zone(layer(sheet("rapid thinset", heat_d=1.0), START, "mortar"))))
    assert earliest(made, "mortar", Milestone.HEAT) == START + DAY
    assert earliest(made, "mortar", Milestone.WET) == START + DAY * 7


def test_drying_goes_through_what_lets_water_through() -> None:
    """Two pours under vinyl dry as one thickness, whatever thin course lies between."""

    def dry(between: str) -> object:
        lower = layer("sand-cement screed", START, "lower", thickness_m=0.03)
        upper = layer("sand-cement screed", START + DAY, "upper", thickness_m=0.03)
        floor = zone(
            lower, layer(between, START + HOUR), upper, covering=Covering(CoveringKind.VINYL)
        )
        return earliest(plan(job(floor)), "upper", Milestone.COVER)

    # 60 mm: 40 d to 40 mm, 40 d beyond, after 7 d under cover (BS 5385-3, as quoted).
    assert dry("cement board") == START + DAY * (1 + 7 + 80)
    assert dry("foam-core board") == START + DAY * (1 + 7 + 30)


def test_a_covering_by_others_ends_at_the_bare_heat_up() -> None:
    screed = layer(
        "sand-cement screed", START, "screed", thickness_m=0.06, heat_before_covering=True
    )
    made = plan(job(zone(screed, covering=Covering(CoveringKind.BY_OTHERS)))).zones[0]
    assert made.energize.window is None
    assert made.energize.blocked is not None
    assert made.energize.blocked.code == "covering-by-others"
    assert made.state is State.NO_DATE
    assert [heat_up.purpose for heat_up in made.heat_ups] == ["bare screed"]
    # EN 1264-4: from 21 days on.
    assert made.heat_ups[0].steps[0].on >= (START + DAY * 21).date()
    # 27 °C, wood and resilient: nobody here knows what comes on it.
    assert made.heat_ups[0].limit_c == 27.0
    assert made.heat_ups[0].limit_from.code == "limit-covering-by-others"
    listed = [hold for hold in made.holds if hold.code is HoldCode.COMPLETE_LIST]
    assert listed == []
    moisture = [hold for hold in made.holds if hold.code is HoldCode.MOISTURE_TEST]
    assert [hold.state for hold in moisture] == [HoldState.UNMET]


@pytest.mark.parametrize(
    ("kind", "limit_c", "step_k"),
    [
        # EN 1264-2: 29 °C where people stay, 27 °C wood and resilient; steps by R19.
        (CoveringKind.MICROCEMENT, 29.0, 5.0),
        (CoveringKind.TERRAZZO, 29.0, 5.0),
        (CoveringKind.RESIN, 27.0, 2.8),
        (CoveringKind.ENGINEERED_WOOD, 27.0, 2.0),
    ],
)
def test_how_warm_a_covering_may_be_made(kind: CoveringKind, limit_c: float, step_k: float) -> None:
    floor = zone(layer("terrazzo", START), covering=Covering(kind))
    heat_up = plan(job(floor)).zones[0].heat_ups[-1]
    assert (heat_up.limit_c, heat_up.step_k) == (limit_c, step_k)


def test_a_poured_finish_embeds_the_cable_and_hot_asphalt_only_where_somebody_says_so() -> None:
    def embedding(*layers: Layer) -> str | None:
        found = BuildUp(zone(*layers)).embedding
        return None if found is None else found.name

    assert embedding(layer("concrete", existing=True), layer("terrazzo")) == "terrazzo"
    assert embedding(layer("concrete", existing=True), layer("poured asphalt")) is None
    assert embedding(layer("poured asphalt", over_cable=True)) == "poured asphalt"


@pytest.mark.parametrize(
    "top", ["bonded waterproofing sheet", "resin floor", "membrane", "microcement"]
)
def test_what_shuts_a_wet_base_in_is_held_for_a_person(top: str) -> None:
    base = layer("sand-cement screed", START, "base", thickness_m=0.05)
    made = plan(job(zone(base, layer(top, START + DAY, "top"))))
    assert "covered-wet" in codes(made)


def test_a_resin_grout_takes_no_sealer() -> None:
    """Its missing time before a sealer is no sheet to look for: the sealer is too much."""
    courses = (layer("thinset", START, "mortar"), layer("epoxy grout", START + DAY * 3, "grout"))
    with_sealer = zone(*courses, layer("sealer", None, "sealer"))
    cover = item(plan(job(with_sealer)), "grout").milestones[Milestone.COVER]
    assert cover.window is None
    assert cover.blocked is not None
    assert cover.blocked.code == "grout-not-sealed"
    # By a sheet that has a time before a sealer it may be sealed.
    timed = replace(
        sheet("epoxy grout", 7.0), waits={Milestone.SEAL: wait(7.0, sheet("epoxy grout"))}
    )
    sealed = zone(
        courses[0], layer(timed, START + DAY * 3, "grout"), layer("sealer", None, "sealer")
    )
    assert item(plan(job(sealed)), "grout").milestones[Milestone.SEAL].window is not None
