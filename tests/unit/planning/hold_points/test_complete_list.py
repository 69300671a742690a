"""A list of layers that is no whole floor keeps it off, and moves no date (R24a)."""

from __future__ import annotations

from dataclasses import replace

import pytest
from planning_log import HOUR, READY, a_job, codes, courses, evidence, floor, released, state
from planning_samples import DAY, START, job, layer, plan, sheet, zone

from curecal.planning.plan import Hold, State
from curecal.trade.data_sheets import Kind
from curecal.trade.findings import Message
from curecal.trade.hold_codes import Gate, HoldCode
from curecal.trade.job import Covering, CoveringKind, Heating, HeatingKind, Layer
from curecal.words.sentences import plain_words

_GLUE = layer(replace(sheet("thinset"), kind=Kind.ADHESIVE), name="glue")


def _hold(*layers: Layer, **more: object) -> Hold | None:
    found = [
        hold
        for hold in plan(job(zone(*layers, **more))).zones[0].holds
        if hold.code is HoldCode.COMPLETE_LIST
    ]
    assert len(found) <= 1
    return found[0] if found else None


def _lacking(*layers: Layer, **more: object) -> object:
    hold = _hold(*layers, **more)
    if hold is None:
        return ()
    assert hold.reason is not None
    return hold.reason.params["lacking"]


def test_a_tile_floor_of_mortar_and_grout_is_whole() -> None:
    assert _hold(layer("leveler"), layer("thinset"), layer("cement grout")) is None


def test_what_is_missing_is_named_and_keeps_the_floor_off() -> None:
    hold = _hold(layer("leveler"), layer("thinset"))
    assert hold is not None
    assert hold.gates is Gate.ENERGIZE
    assert hold.is_outstanding
    assert _lacking(layer("leveler"), layer("thinset")) == ("grout",)
    assert _lacking(layer("leveler")) == ("mortar", "grout")


def test_a_slab_and_grout_alone_neither_embed_the_cable_nor_hold_the_tile() -> None:
    slab = layer("concrete", existing=True)
    assert _lacking(slab, layer("cement grout")) == ("embedding", "mortar")


def test_the_mortar_under_the_sheet_holds_no_tile() -> None:
    under = layer("thinset", name="under the sheet")
    pour = layer("leveler", over_cable=True)
    assert _lacking(under, layer("uncoupling sheet"), pour, layer("grout")) == ("mortar",)


@pytest.mark.parametrize("kind", [CoveringKind.WOOD, CoveringKind.LAMINATE, CoveringKind.CARPET])
def test_a_glued_covering_needs_its_adhesive_and_a_floating_one_nothing(kind: CoveringKind) -> None:
    assert _lacking(layer("leveler"), covering=Covering(kind)) == ("adhesive",)
    assert _lacking(layer("leveler"), _GLUE, covering=Covering(kind)) == ()
    assert _lacking(layer("leveler"), covering=Covering(kind, is_floating=True)) == ()


def test_a_repair_of_a_whole_floor_covers_no_cable_anew() -> None:
    old = layer("mortar bed", existing=True)
    reset = layer("thinset", START, repair=True)
    assert _lacking(old, reset) == ("grout",)
    assert _lacking(old, reset, layer("cement grout", repair=True)) == ()


def test_a_cable_that_lies_in_an_old_pour_or_pipes_in_it_are_embedded() -> None:
    old = layer("leveler", existing=True)
    glued = (layer("thinset", name="old bed", existing=True), layer("cement grout"))
    pipes = Heating(HeatingKind.WATER)
    assert _lacking(old, *glued) == ("embedding",)
    assert _lacking(old, *glued, heating=pipes) == ()
    assert _lacking(replace(old, over_cable=True), *glued) == ()


_LEFT, _RIGHT = {"part": "left"}, {"part": "right"}


def _reason(*layers: Layer, **more: object) -> object:
    hold = _hold(*layers, **more)
    return None if hold is None else hold.reason


def test_what_the_next_part_has_does_not_finish_this_one() -> None:
    """R24a: each part by itself; the slab under both belongs to both."""
    leveler = layer("leveler")
    left = (layer("thinset", name="left bed", **_LEFT), layer("grout", name="left joint", **_LEFT))
    bed = layer("thinset", name="right bed", **_RIGHT)
    assert _reason(leveler, *left, bed) == Message(
        "list-incomplete-part", {"part": "right", "lacking": ("grout",), "also": ""}
    )
    joint = layer("grout", name="right joint", **_RIGHT)
    assert _reason(leveler, *left, bed, joint) is None
    assert _reason(leveler, *left, bed, layer("grout", name="all joints")) is None


def test_each_part_says_what_it_lacks_itself_and_both_alike_are_said_once() -> None:
    leveler = layer("leveler")
    bed = layer("thinset", name="left bed", **_LEFT)
    joint = layer("grout", name="right joint", **_RIGHT)
    right = Message("list-incomplete-part", {"part": "right", "lacking": ("mortar",), "also": ""})
    assert _reason(leveler, bed, joint) == Message(
        "list-incomplete-part", {"part": "left", "lacking": ("grout",), "also": right}
    )
    other = layer("thinset", name="right bed", **_RIGHT)
    assert _reason(leveler, bed, other) == Message(
        "list-incomplete", {"lacking": ("grout",), "count": 1}
    )


def test_a_part_alone_leaves_the_rest_of_the_floor_to_be_listed() -> None:
    leveler, joints = layer("leveler"), layer("grout")
    bay = layer("thinset", name="bay bed", part="bay")
    assert _reason(leveler, bay, joints) == Message(
        "list-incomplete-rest", {"part": "", "lacking": ("mortar",), "also": ""}
    )
    assert _reason(leveler, bay, layer("thinset", name="bed"), joints) is None


def test_a_part_that_embeds_no_cable_is_found() -> None:
    slab = layer("concrete", existing=True)
    left = (layer("leveler", **_LEFT), layer("thinset", name="left bed", **_LEFT))
    grout = layer("grout")
    boards = layer("cement board", **_RIGHT)
    assert _reason(slab, *left, boards, grout) == Message(
        "list-incomplete-part", {"part": "right", "lacking": ("embedding", "mortar"), "also": ""}
    )


def test_what_a_part_lacks_is_said_in_words() -> None:
    right = Message("list-incomplete-part", {"part": "right", "lacking": ("mortar",), "also": ""})
    both = {"part": "left", "lacking": ("embedding", "grout"), "also": right}
    words = plain_words()
    assert words.message(Message("list-incomplete-part", both)) == (
        "the left lacks: what embeds the cable, the grout; "
        "the right lacks: the mortar or adhesive under the tile"
    )


@pytest.mark.parametrize(
    ("kind", "finish"),
    [
        (CoveringKind.MICROCEMENT, "microcement"),
        (CoveringKind.TERRAZZO, "terrazzo"),
        (CoveringKind.RESIN, "resin floor"),
    ],
)
def test_a_poured_finish_needs_nothing_between_and_is_a_layer(
    kind: CoveringKind, finish: str
) -> None:
    poured = Covering(kind)
    assert _lacking(layer("leveler"), layer(finish), covering=poured) == ()
    assert _lacking(layer("leveler"), covering=poured) == ("finish",)


def test_engineered_wood_needs_its_adhesive_and_what_others_lay_nothing() -> None:
    assert _lacking(layer("leveler"), covering=Covering(CoveringKind.ENGINEERED_WOOD)) == (
        "adhesive",
    )
    others = Covering(CoveringKind.BY_OTHERS)
    assert _lacking(layer("leveler"), covering=others) == ()
    assert _lacking(layer("plywood"), covering=others) == ("embedding",)


def test_what_is_missing_moves_no_date() -> None:
    bare = layer("leveler", START, thickness_m=0.005)
    glued = plan(job(zone(bare, covering=Covering(CoveringKind.VINYL))))
    floating = plan(job(zone(bare, covering=Covering(CoveringKind.VINYL, is_floating=True))))
    assert glued.zones[0].energize.window is not None
    assert glued.zones[0].energize.window == floating.zones[0].energize.window


def test_a_floor_whose_list_lacks_a_layer_is_neither_clear_nor_released() -> None:
    at = READY + HOUR
    assert state(plan(a_job(floor()), evidence(), at)) is State.CLEAR
    short = floor(layers=courses()[:-1])
    assert courses()[-1].sheet.kind is Kind.GROUT
    assert state(plan(a_job(short), evidence(), at)) is State.ON_HOLD
    made = plan(a_job(short), released(), READY + DAY)
    assert state(made) is State.ON_HOLD
    assert "release-early" in codes(made)


def test_who_resets_a_tile_closes_its_joint_again() -> None:
    """The old floor's own grout does not stand in for the new joint, whose clock would be lost."""
    old = (
        layer("mortar bed", name="old bed", existing=True),
        layer("cement grout", name="old joints", existing=True),
    )
    mortar = layer("thinset", START, "new mortar", repair=True)
    joint = layer("cement grout", START + DAY, "new joint", repair=True)
    sealer = layer("sealer", START + DAY, "sealer", repair=True)
    whole = (*old, layer("thinset", name="old mortar", existing=True))
    assert _lacking(*whole, mortar) == ("grout",)
    assert _lacking(*whole, mortar, joint) == ()
    # Raking out a joint opens no mortar, and a new coat of sealer opens nothing.
    assert _lacking(*whole, joint) == ()
    assert _lacking(*whole, sealer) == ()
    # What nobody listed at all is missing once.
    assert _lacking(old[0], mortar) == ("grout",)


def test_of_several_repairs_each_is_closed() -> None:
    """The joint of the first lies under the mortar of the second, and closes no other tile."""
    old = (
        layer("thinset", name="old mortar", existing=True),
        layer("cement grout", name="old joints", existing=True),
    )
    first = layer("thinset", START, "first mortar", repair=True)
    second = layer("thinset", START + DAY * 9, "second mortar", repair=True)
    joint = layer("cement grout", START + DAY, "joint", repair=True)
    assert _lacking(*old, first, joint, second) == ("grout",)
    again = layer("cement grout", START + DAY * 10, "second joint", repair=True)
    assert _lacking(*old, first, joint, second, again) == ()
    # Two tiles reset in one go share their joint.
    assert _lacking(*old, first, second, again) == ()


@pytest.mark.parametrize("kind", [CoveringKind.VINYL, CoveringKind.WOOD])
def test_a_repair_of_a_soft_floor_wants_its_adhesive_back(kind: CoveringKind) -> None:
    glue = layer("adhesive", name="old glue", existing=True)
    patch = layer("leveler", START, "patch", thickness_m=0.006, repair=True)
    covering = Covering(kind)
    renewed = layer("adhesive", START + DAY * 3, "new glue", repair=True)
    assert _lacking(glue, renewed, covering=covering) == ()
    assert _lacking(glue, patch, renewed, covering=covering) == ()
    # Who pours a patch took up what lay on it.
    assert _lacking(glue, patch, covering=covering) == ("adhesive",)
    assert _lacking(glue, patch, covering=replace(covering, is_floating=True)) == ()
