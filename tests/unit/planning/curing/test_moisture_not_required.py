"""The crew lead's word that an old base needs no moisture test: where it counts, where not."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

import pytest
from planning_log import a_job, codes, fact, hold
from planning_samples import ADA, DAY, START, expected, layer, plan, zone

from curecal.planning.plan import HoldState, Plan
from curecal.trade.job import Below, Covering, CoveringKind, Expected, Layer, Person, Role
from curecal.trade.site_log import Entry, Inspection, Method, MoistureTest, Result

OLD = START - timedelta(days=366)
SLAB = layer("concrete", None, "slab", existing=True, since_at=OLD)
WHY = "heated for ten winters"
OTHERS = (Person(Role.OWNER, "Kim Owner"), Person(Role.TESTER, "Tess Tester"))
TEST = "moisture-test"


def word(**more: object) -> Inspection:
    made = {"layer": "slab", "result": Result.NOT_REQUIRED, "note": WHY, **more}
    return fact(Inspection, START, **made)


def wet(days: float) -> MoistureTest:
    return fact(
        MoistureTest,
        START + timedelta(days=days),
        layer="slab",
        method=Method.HUMIDITY,
        value_fraction=0.95,
    )


def floor(
    *log: Entry,
    slab: Layer = SLAB,
    covering: CoveringKind = CoveringKind.VINYL,
    climate: Expected | None = None,
    over: tuple[Layer, ...] = (),
) -> Plan:
    made = zone(slab, *over, layer("adhesive", None, "glue"), covering=Covering(covering))
    return plan(
        a_job(made, climate=climate or expected(), people=(ADA, *OTHERS)), log, START + DAY * 2
    )


def test_an_old_base_over_a_heated_room_goes_without_by_the_crew_lead_s_word() -> None:
    assert hold(floor(), TEST).state is HoldState.UNMET
    made = floor(word())
    found = hold(made, TEST)
    assert found.state is HoldState.NOT_NEEDED
    assert found.reason is not None
    assert found.reason.params["why"] == WHY
    assert not [code for code in codes(made) if code.startswith("waiver")]


@pytest.mark.parametrize(
    ("said", "changes", "code"),
    [
        ({"note": None}, {}, "waiver-without-why"),
        ({}, {"slab": replace(SLAB, since_at=None)}, "waiver-age-unknown"),
        ({}, {"slab": replace(SLAB, since_at=OLD + timedelta(seconds=1))}, "waiver-too-young"),
        ({}, {"covering": CoveringKind.WOOD}, "waiver-under-wood"),
        ({}, {"covering": CoveringKind.LAMINATE}, "waiver-under-wood"),
        ({}, {"climate": expected(below=Below.GROUND)}, "waiver-on-ground"),
        ({}, {"climate": expected(below=None)}, "waiver-below-unknown"),
        (
            {},
            {"over": (layer("leveler", None, thickness_m=0.005),)},
            "waiver-fresh-pour",
        ),
    ],
)
def test_everything_else_is_refused_with_the_reason(
    said: dict[str, object], changes: dict[str, object], code: str
) -> None:
    made = floor(word(**said), **changes)  # type: ignore[arg-type]
    states = {found.state for found in made.zones[0].holds if found.code == TEST}
    assert states == {HoldState.UNMET}
    assert code in codes(made)


def test_a_base_laid_in_this_job_is_tested() -> None:
    made = floor(word(), slab=layer("concrete", START - DAY * 40, "slab"))
    assert hold(made, TEST).state is HoldState.UNMET
    assert "waiver-of-fresh" in codes(made)


@pytest.mark.parametrize("days", [-3.0, 1.0])
def test_a_test_that_was_too_wet_blocks_whatever_is_said(days: float) -> None:
    made = floor(word(), wet(days))
    assert hold(made, TEST).state is HoldState.FAILED
    assert "waiver-wet" in codes(made)


@pytest.mark.parametrize("by", [None, "Kim Owner", "Tess Tester", "Nobody We Know"])
def test_only_the_crew_lead_may_say_so(by: str | None) -> None:
    assert hold(floor(word(by=by)), TEST).state is HoldState.UNMET


def test_it_opens_nothing_else() -> None:
    # Only one layer is meant, and what was tested stays tested.
    other = replace(SLAB, id="other", name="other", part="left")
    made = floor(word(layer="other"), over=(other,))
    states = {found.layer_id: found.state for found in made.zones[0].holds if found.code == TEST}
    assert states == {"slab": HoldState.UNMET, "other": HoldState.NOT_NEEDED}


def test_a_word_before_the_base_was_a_year_old_does_not_grow_good() -> None:
    young = replace(SLAB, since_at=OLD + DAY)
    made = floor(replace(word(), at=START, recorded=START), slab=young)
    assert "waiver-too-young" in codes(made)
    later = replace(word(), at=START + DAY, recorded=START + DAY)
    assert hold(floor(later, slab=young), TEST).state is HoldState.NOT_NEEDED
