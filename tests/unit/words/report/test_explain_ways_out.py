"""A long wait names its reason and its way out; what was not there before is not said to be."""

from __future__ import annotations

import pytest
from planning_samples import RULES, START, job, layer, plan, sheet, zone

from curecal.planning.plan import Plan, Step
from curecal.trade.data_sheets import Milestone
from curecal.trade.job import UNNAMED_COVERING, Covering, CoveringKind, Layer
from curecal.words.layout import plain
from curecal.words.report.explain import explain
from curecal.words.sentences import words_for

PORCELAIN = Covering(CoveringKind.PORCELAIN)
LARGE = Covering(CoveringKind.PORCELAIN, (0.3, 0.6))


def text(made: Plan, name: str | None = None) -> str:
    words = words_for(made.job, RULES)
    return " ".join(" ".join(plain(explain(made, words=words, width=200, layer=name))).split())


def sealed(covering: Covering, *, laid: bool, over: tuple[Layer, ...] = ()) -> Plan:
    done = START if laid else None
    layers = (layer("uncoupling sheet", START), layer("thinset", done, "mortar"), *over)
    return plan(job(zone(*layers, covering=covering)))


@pytest.mark.parametrize(
    ("covering", "laid", "said"),
    [
        (
            LARGE,
            True,
            (
                "The mortar lies between the uncoupling sheet and dense tile, so it dries slowly."
                " Only the mortar maker's written wait for that (heat_sealed) shortens it. "
            ),
        ),
        (
            LARGE,
            False,
            (
                "Only the mortar maker's written wait for that (heat_sealed) shortens it; the"
                " mortar is not laid yet, so an unmodified or a rapid mortar would too. "
            ),
        ),
        (
            PORCELAIN,
            True,
            "Tile with an edge under 200 mm (8 in) does not count: enter its size. Only the",
        ),
        (
            UNNAMED_COVERING,
            True,
            "and dense tile (assumed, as the job names no covering), so it dries slowly.",
        ),
    ],
)
def test_sixty_days_say_why_and_what_shortens_them(
    covering: Covering, said: str, *, laid: bool
) -> None:
    explained = text(sealed(covering, laid=laid), "mortar")
    assert said in explained
    assert "Wait 60 days at 20 °C." in explained
    assert explained.index(said) < explained.index("Wait 60 days")


def test_between_two_membranes_no_tile_is_blamed() -> None:
    ceramic = Covering(CoveringKind.CERAMIC, (0.1, 0.1))
    above = (layer("membrane", None, "membrane"),)
    said = text(sealed(ceramic, laid=True, over=above), "mortar")
    shut_in = "The mortar lies between the uncoupling sheet and another impervious layer, so"
    assert f"{shut_in} it dries slowly. Only" in said


def test_a_mortar_with_a_wait_of_its_own_for_that_is_told_no_way_out() -> None:
    own = sheet("thinset", 30.0)
    quick = sheet("thinset", 30.0, heat_sealed=own.waits[Milestone.HEAT])
    made = plan(
        job(zone(layer("uncoupling sheet", START), layer(quick, START, "mortar"), covering=LARGE))
    )
    assert "heat_sealed" not in text(made, "mortar")


def bare() -> Plan:
    screed = layer(
        "sand-cement screed", START, "screed", thickness_m=0.05, heat_before_covering=True
    )
    return plan(job(zone(screed, layer("thinset", None, "mortar"))))


def test_a_bare_screed_was_not_there_before() -> None:
    said = text(bare(), "screed")
    assert "The screed is heated bare before it is covered." in said
    assert "there before" not in said
    assert "28 days after tiling" not in said


def steps_of(made: Plan, name: str) -> list[Step]:
    (found,) = [item for item in made.zones[0].layers if item.layer.name == name]
    return list(found.milestones[Milestone.HEAT].steps)


def test_each_step_carries_the_source_of_what_it_says() -> None:
    """That the longest of several waits counts is said with the source of that wait."""
    (longest,) = [
        step for step in steps_of(sealed(LARGE, laid=True), "mortar") if step.code == "longest"
    ]
    assert (longest.rule, longest.source) == ("R12", RULES.source("R12"))
    after = steps_of(bare(), "screed")[-1]
    assert (after.code, after.rule, after.source) == (
        "heat-after-cover",
        "R14",
        RULES.source("R14"),
    )


def test_a_source_is_given_once_for_a_layer() -> None:
    said = text(sealed(LARGE, laid=True), "mortar")
    assert said.count(RULES.source("R12").text) == 1
    assert said.count(RULES.source("R10").text) == 1


def test_a_coat_is_an_estimate_that_no_moisture_test_decides() -> None:
    made = plan(job(zone(layer("membrane", START), layer("thinset", None, "mortar"))))
    said = text(made, "membrane")
    assert "Estimate: it dries as fast as the air lets it. Look whether it is dry." in said
    assert "moisture test" not in said
    assert "Estimate; a moisture test decides." in text(bare(), "screed")
