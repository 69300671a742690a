"""The chain of work: gates, several pours, parts, what was done too early."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime, timedelta

import pytest
from planning_samples import (
    DAY,
    RULES,
    START,
    codes,
    earliest,
    expected,
    item,
    job,
    layer,
    looked,
    plan,
    sheet,
    wait,
    zone,
)

from curecal.instants import Window
from curecal.planning.plan import HoldState, Plan, State
from curecal.trade.data_sheets import Kind, Milestone
from curecal.trade.job import UNNAMED_COVERING, Covering, CoveringKind, Heating
from curecal.trade.site_log import Result

HOUR = timedelta(hours=1)


def test_each_pour_has_its_own_clock_and_the_first_may_govern() -> None:
    quick = sheet("rapid leveler", 3.0)
    made = plan(
        job(
            zone(
                layer("leveler", START, "first pour", thickness_m=0.008),
                layer(quick, START + DAY * 2, "second pour", thickness_m=0.005),
            )
        ),
        as_of=START + DAY * 4,
    )
    energize = made.zones[0].energize
    assert energize.window == Window(START + DAY * 28, START + DAY * 28)
    assert energize.governed_by is not None
    assert energize.governed_by.layer_name == "first pour"


def test_drying_thickness_adds_up_from_the_last_pour() -> None:
    screed = RULES.classes["calcium-sulfate screed"]
    made = plan(
        job(
            zone(
                layer(screed, START, "first", thickness_m=0.030),
                layer(screed, START + DAY, "second", thickness_m=0.020),
            ),
            climate=expected(20.0, humidity=0.65, dampest=0.65),
        )
    )
    # 50 mm: 40 d and 10 mm at half speed, 60 d, from the second pour.
    found = earliest(made, "second", Milestone.COVER)
    assert found is not None
    assert abs((found - (START + DAY * 61)).total_seconds()) <= 1
    assert made.zones[0].state is State.NO_DATE


def test_a_primer_between_two_pours_does_not_part_them() -> None:
    screed = RULES.classes["calcium-sulfate screed"]
    made = plan(
        job(
            zone(
                layer(screed, START, "first", thickness_m=0.030),
                layer("primer", START + DAY, "primer"),
                layer(screed, START + DAY * 2, "second", thickness_m=0.020),
                layer("leveler", None, "top", thickness_m=0.005),
            ),
            climate=expected(20.0, humidity=0.65, dampest=0.65),
        ),
        as_of=START + DAY * 3,
    )
    found = earliest(made, "second", Milestone.COVER)
    assert found is not None
    assert abs((found - (START + DAY * 62)).total_seconds()) <= 1


@pytest.mark.parametrize(
    ("kind", "size", "changes", "days"),
    [
        (CoveringKind.PORCELAIN, (0.3, 0.6), {}, 60.0),
        (CoveringKind.GLASS, (0.3, 0.6), {}, 60.0),
        (CoveringKind.PORCELAIN, None, {}, 60.0),
        (CoveringKind.PORCELAIN, (0.199, 0.6), {}, 14.0),
        (CoveringKind.PORCELAIN, (0.2, 0.2), {}, 60.0),
        (CoveringKind.STONE, (0.6, 0.6), {}, 60.0),
        (CoveringKind.STONE, (0.1, 0.6), {}, 14.0),
        (CoveringKind.CERAMIC, (0.3, 0.6), {}, 14.0),
        (CoveringKind.PORCELAIN, (0.3, 0.6), {"modified": False}, 14.0),
        (CoveringKind.PORCELAIN, (0.3, 0.6), {"rapid": True}, 14.0),
    ],
)
def test_mortar_shut_in_on_both_sides(
    kind: CoveringKind, size: tuple[float, float] | None, changes: dict[str, bool], days: float
) -> None:
    mortar = sheet("thinset", 14.0, **changes)
    made = plan(
        job(
            zone(
                layer("uncoupling sheet", START, "mat"),
                layer(mortar, START, "mortar"),
                covering=Covering(kind, size),
            )
        )
    )
    assert earliest(made, "mortar", Milestone.HEAT) == START + DAY * days
    grout_d = 3.0 if days == 60.0 else 2.0
    assert earliest(made, "mortar", Milestone.GROUT) == START + DAY * grout_d


@pytest.mark.parametrize("films", [("primer",), ("sealer",), ("primer", "primer", "sealer")])
def test_films_do_not_part_a_mortar_from_what_is_dense(films: tuple[str, ...]) -> None:
    coats = [layer(name, START, f"film {index}") for index, name in enumerate(films)]
    mat, mortar = layer("uncoupling sheet", START, "mat"), sheet("thinset", 14.0)
    dense = Covering(CoveringKind.PORCELAIN)
    made = plan(job(zone(mat, *coats, layer(mortar, START, "mortar"), covering=dense)))
    assert earliest(made, "mortar", Milestone.HEAT) == START + DAY * 60
    skin = layer("membrane", START, "skin")
    made = plan(job(zone(mat, layer(mortar, START, "mortar"), *coats, skin)))
    assert earliest(made, "mortar", Milestone.HEAT) == START + DAY * 60
    bare = plan(job(zone(*coats, layer(mortar, START, "mortar"), covering=dense)))
    assert earliest(bare, "mortar", Milestone.HEAT) == START + DAY * 14


def test_a_covering_nobody_named_counts_as_dense_and_of_unknown_size() -> None:
    mat, mortar = layer("uncoupling sheet", START, "mat"), sheet("thinset", 14.0)
    unnamed = zone(mat, layer(mortar, START, "mortar"), covering=UNNAMED_COVERING)
    assert earliest(plan(job(unnamed)), "mortar", Milestone.HEAT) == START + DAY * 60


def test_a_stated_sealed_value_replaces_the_long_wait() -> None:
    mortar = sheet("thinset", 14.0)
    mortar = sheet("thinset", 14.0, heat_sealed=wait(30.0, mortar))
    made = plan(
        job(
            zone(
                layer("membrane", START, "skin"),
                layer(mortar, START + DAY * 3, "mortar"),
                covering=Covering(CoveringKind.PORCELAIN, (0.3, 0.6)),
            )
        ),
        as_of=START + DAY * 4,
    )
    assert earliest(made, "mortar", Milestone.HEAT) == START + DAY * 33
    assert earliest(made, "mortar", Milestone.GROUT) == START + DAY * 5


def test_mortar_between_a_barrier_and_a_sheet_is_shut_in_too() -> None:
    made = plan(
        job(
            zone(
                layer("epoxy barrier", START - DAY * 2, "barrier"),
                layer(sheet("thinset", 14.0), START, "mortar"),
                layer("uncoupling sheet", START, "mat"),
                layer("rapid thinset", START + DAY, "tile mortar"),
            )
        )
    )
    assert earliest(made, "mortar", Milestone.HEAT) == START + DAY * 60


def test_the_heating_makers_wait_counts_from_its_layer() -> None:
    mortar, grout = sheet("thinset", 10.0), sheet("cement grout", 7.0)
    made = plan(
        job(
            zone(
                layer(mortar, START, "mortar"),
                layer(grout, START + DAY * 3, "grout"),
                heating=Heating(wait=wait(28.0, grout), wait_from="grout"),
            )
        ),
        as_of=START + DAY * 5,
    )
    energize = made.zones[0].energize
    assert energize.window == Window(START + DAY * 31, START + DAY * 31)
    assert energize.governed_by is not None
    assert energize.governed_by.rule == "R13"


def test_the_coverings_wait_counts_from_its_bed() -> None:
    mortar, grout = sheet("thinset", 10.0), sheet("cement grout", 7.0)
    made = plan(
        job(
            zone(
                layer(mortar, START, "mortar"),
                layer(grout, START + DAY * 3, "grout"),
                covering=Covering(wait=wait(40.0, mortar)),
            )
        ),
        as_of=START + DAY * 5,
    )
    assert made.zones[0].energize.window == Window(START + DAY * 40, START + DAY * 40)


def test_a_makers_wait_without_a_date_leaves_none() -> None:
    mortar = sheet("thinset", 10.0)
    made = plan(
        job(zone(layer(mortar, START, "mortar"), heating=Heating(wait=wait(4000.0, mortar))))
    )
    assert made.zones[0].energize.window is None
    assert made.zones[0].state is State.NO_DATE


def test_grouted_too_early_on_cement_is_a_warning_and_clocks_run_on() -> None:
    made = plan(
        job(zone(layer("thinset", START, "mortar"), layer("cement grout", START + DAY, "grout")))
    )
    assert "covered-early" in codes(made)
    assert earliest(made, "grout", Milestone.HEAT) == START + DAY * 29


def test_a_known_duration_tells_when_the_layer_above_began() -> None:
    grout = layer("cement grout", START + DAY * 2 + HOUR * 3, "grout", duration_s=4 * 3600.0)
    assert "covered-early" in codes(
        plan(job(zone(layer("thinset", START, "mortar"), grout)), as_of=START + DAY * 5)
    )


def drying(*log: object, as_of: datetime = START + DAY * 20) -> Plan:
    made = job(
        zone(
            layer("calcium-sulfate screed", START, "screed", thickness_m=0.050),
            layer(sheet("thinset", 10.0), START + DAY * 10, "mortar"),
        ),
        climate=expected(20.0, humidity=0.6, dampest=0.6),
    )
    return plan(made, log, as_of)  # type: ignore[arg-type]


def test_a_drying_base_covered_wet_is_a_hold_for_a_person() -> None:
    made = drying()
    hold = next(hold for hold in made.zones[0].holds if hold.code == "covered-wet")
    assert hold.state is HoldState.UNMET
    assert "covered-wet" in codes(made)
    for result, state in ((Result.SOUND, HoldState.MET), (Result.FAILED, HoldState.FAILED)):
        made = drying(looked(START + DAY * 12, result, "screed"))
        hold = next(hold for hold in made.zones[0].holds if hold.code == "covered-wet")
        assert hold.state is state


@pytest.mark.parametrize("films", [(), ("primer",), ("primer", "sealer")])
def test_a_film_between_does_not_hide_a_base_covered_wet(films: tuple[str, ...]) -> None:
    """Rule R15: a membrane shuts a wet leveler in, whatever coat lies between them."""
    coats = [layer(film, START + HOUR, f"coat {at}") for at, film in enumerate(films)]
    made = plan(
        job(
            zone(
                layer("leveler", START, "leveler", thickness_m=0.008),
                *coats,
                layer("membrane", START + HOUR * 8, "membrane"),
            )
        ),
        as_of=START + DAY * 3,
    )
    holds = [hold for hold in made.zones[0].holds if hold.code == "covered-wet"]
    assert [hold.layer_id for hold in holds] == ["leveler"]
    assert made.zones[0].energize.window is None


def test_covering_a_leveler_whose_sheet_is_missing_is_said() -> None:
    made = plan(
        job(
            zone(
                layer("leveler", START, "thick", thickness_m=0.05),
                layer("thinset", START + DAY, "mortar"),
            )
        ),
        as_of=START + DAY * 3,
    )
    assert "covered-without-date" in codes(made)


def test_a_primer_left_open_is_primed_again() -> None:
    made = plan(
        job(
            zone(
                layer("primer", START, "primer"),
                layer("leveler", START + DAY + HOUR, "leveler", thickness_m=0.005),
            )
        ),
        as_of=START + DAY * 4,
    )
    assert "open-too-long" in codes(made)
    planned = plan(
        job(
            zone(
                layer("primer", START, "primer"),
                layer("leveler", None, "leveler", thickness_m=0.005),
            )
        ),
        as_of=START + DAY * 2,
    )
    assert "open-too-long" in codes(planned)
    within = plan(
        job(
            zone(
                layer("primer", START, "primer"),
                layer("leveler", START + DAY, "leveler", thickness_m=0.005),
            )
        ),
        as_of=START + DAY * 4,
    )
    assert "open-too-long" not in codes(within)


def test_parts_are_built_up_each_on_its_own() -> None:
    grout = sheet("cement grout", 7.0)
    made = plan(
        job(
            zone(
                layer(sheet("thinset", 5.0), START, "mortar"),
                layer(grout, START + DAY * 2, "door", part="door side"),
                layer(grout, START + DAY * 4, "window", part="window side"),
                layer("sealer", None, "sealer"),
            )
        ),
        as_of=START + DAY * 4,
    )
    assert made.zones[0].energize.window is not None
    start = item(made, "sealer").start
    assert start is not None
    # The sealer covers both parts: it waits for the later one's three days.
    assert start.earliest >= START + DAY * 7


def test_a_part_sits_on_the_nearest_of_its_own_or_of_the_whole() -> None:
    made = plan(
        job(
            zone(
                layer("thinset", START, "mortar"),
                layer("leveler", START + DAY * 3, "ridge", part="left", thickness_m=0.005),
                layer("cement grout", START + DAY * 3, "right joint", part="right"),
                layer("membrane", START + DAY * 3, "left skin", part="left"),
            )
        ),
        as_of=START + DAY * 5,
    )
    (early,) = [finding for finding in made.findings if finding.code.startswith("covered")]
    assert (early.layer_id, early.params["under"]) == ("left-skin", "ridge")


def test_existing_layers_have_no_clock() -> None:
    made = plan(
        job(zone(layer("concrete", None, "slab", existing=True), layer("thinset", START, "mortar")))
    )
    assert item(made, "slab").milestones == {}
    assert made.zones[0].energize.window == Window(START + DAY * 28, START + DAY * 28)


def test_a_kind_without_numbers_asks_for_its_sheet() -> None:
    made = plan(job(zone(layer("resin grout", START, "grout"))))
    energize = made.zones[0].energize
    assert energize.window is None
    assert energize.blocked is not None
    assert energize.blocked.code == "needs-sheet"
    covered = plan(job(zone(layer("adhesive", START, "glue"), layer("thinset", None, "mortar"))))
    assert item(covered, "mortar").finish is None
    assert item(covered, "mortar").milestones[Milestone.HEAT].window is None


def test_a_floor_without_any_clock_has_nothing_to_wait_for() -> None:
    made = plan(job(zone(layer("concrete", None, "slab", existing=True))))
    assert made.zones[0].energize.blocked is not None
    assert made.zones[0].energize.blocked.code == "nothing-to-wait-for"


def test_done_after_the_instant_looked_from_is_not_known_yet() -> None:
    made = plan(job(zone(layer("thinset", START + DAY * 3, "mortar"))), as_of=START)
    assert item(made, "mortar").planned
    assert made.zones[0].state is State.PLANNED


def test_every_kind_has_a_class() -> None:
    assert {made.kind for made in RULES.classes.values()} == set(Kind)


@pytest.mark.parametrize("later", [Milestone.SEAL, Milestone.WET, Milestone.LOAD])
def test_a_sheets_own_later_wait_puts_the_heat_off(later: Milestone) -> None:
    short = sheet("cement grout", 1.0)
    own = replace(wait(5.0, short), source=short.source)
    long = replace(short, waits={**short.waits, later: own})
    made = plan(job(zone(layer(long, START, "grout"))))
    assert earliest(made, "grout", Milestone.HEAT) == START + DAY * 5
    # What only the class says of sealing, 72 h here, is no word of this sheet.
    made = plan(job(zone(layer(short, START, "grout"))))
    assert earliest(made, "grout", Milestone.HEAT) == START + DAY
