"""A list of layers that is no whole floor keeps it off, and moves no date (R24a)."""

from __future__ import annotations

from dataclasses import replace

import pytest
from planning_log import HOUR, READY, a_job, codes, courses, evidence, floor, released, state
from planning_samples import DAY, START, job, layer, plan, sheet, zone

from curecal.planning.plan import Hold, State
from curecal.trade.data_sheets import Kind
from curecal.trade.hold_codes import Gate, HoldCode
from curecal.trade.job import Covering, CoveringKind, Heating, HeatingKind, Layer

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
