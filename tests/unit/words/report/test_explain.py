"""The explanation: every step with its rule's title and source."""

from __future__ import annotations

from dataclasses import replace

import pytest
from plan_samples import RULES, plan, ramp, zone

from curecal.errors import UsageError
from curecal.planning.comparison.what_if import Gain
from curecal.planning.plan import State
from curecal.trade.data_sheets import Milestone
from curecal.words.layout import columns, plain
from curecal.words.report.explain import explain
from curecal.words.sentences import words_for


def text(made: object, width: int = 80, **more: object) -> str:
    words = words_for(made.job, RULES)  # type: ignore[attr-defined]
    return "\n".join(plain(explain(made, words=words, width=width, **more)))  # type: ignore[arg-type]


def test_a_milestone_shows_its_steps_with_rule_and_source() -> None:
    said = text(plan())
    for line in (
        "No: not before Tue 5 Jan 2027 (owner: Mon 11 Jan 2027). The thinset is still to",
        "  leveler over cable: finished Mon 30 Nov 2026, 14:30",
        "    walking on it: Mon 30 Nov 2026, 20:30",
        '      2. Wait 28 days at 68 °F, written "28 d".',
        "         The longer end of a range counts (data sheet: rev. 2026-02, p. 2)",
        "    heat: Mon 4 Jan 2027, 15:10, at the coldest Fri 8 Jan 2027, 15:10",
        "    sealing: Wed 9 Dec 2026, 22:30; no latest date we can promise",
        "    heat: no date",
        "      Estimate; a moisture test decides.",
        "  old slab: existing",
    ):
        assert line in said.splitlines()
    assert "! The data sheet of the thinset is missing" in said
    assert "R10" not in said


def test_the_formula_behind_a_rate_stands_once() -> None:
    said = text(plan())
    assert said.count("How an hour counts") == 1
    assert "- Cement: an hour counts K(T)/K(Tr), at most 1, and 0 below" in said
    assert "Resin" not in said
    assert "How an hour counts" not in text(plan(), layer="old slab")


def test_the_date_is_the_latest_of_all_layers() -> None:
    said = text(plan())
    assert "The whole floor waits for the thinset (heat). First day to switch on:" in said
    assert "Starts from 59 °F, not measured yet. 3 steps, never above 84 °F (29 °C)" in said
    measured = text(plan(zone(heat_ups=(ramp(measured=True),))))
    assert "Starts from 59 °F, as measured. 3 steps" in measured


def test_a_zone_without_a_date_says_why() -> None:
    assert "Enter the waiting times from its data sheet" in text(plan(zone(State.NO_DATE)))


def test_no_source_no_line() -> None:
    made = zone()
    made = replace(made, energize=replace(made.energize, source=None), heat_ups=())
    assert "The whole floor waits for the" in text(plan(made))


@pytest.mark.parametrize("name", ["thinset", " THINSET ", "leveler-over-cable"])
def test_one_layer_alone(name: str) -> None:
    said = text(plan(), layer=name)
    assert said.startswith("hall bath\n")
    assert "The date is the latest" not in said
    assert ("thinset" in said.lower()) == (name != "leveler-over-cable")


def test_a_layer_in_one_of_two_zones() -> None:
    other = zone(name="kitchen")
    other = replace(other, layers=other.layers[:2])
    said = text(plan(zone(), other), layer="thinset")
    assert "kitchen" not in said


def test_a_layer_there_is_not() -> None:
    with pytest.raises(UsageError) as caught:
        text(plan(), layer="parquet")
    assert caught.value.params["known"] == [
        "old slab",
        "leveler over cable",
        "thinset",
        "grout, shower side",
    ]


@pytest.mark.parametrize("width", [40, 80, 120])
def test_every_line_fits(width: int) -> None:
    assert all(columns(line) <= width for line in text(plan(), width).splitlines())


def test_layers_without_clocks_and_milestones_without_steps() -> None:
    made = zone()
    slab, leveler, thinset, _ = made.layers
    cover = replace(leveler.milestones[Milestone.COVER], steps=(), informative=True)
    made = replace(
        made,
        layers=(
            slab,
            replace(leveler, milestones={Milestone.COVER: cover}),
            replace(thinset, milestones={}),
            replace(thinset, finish=None, milestones={}),
            replace(thinset, finish=leveler.finish, milestones={}),
        ),
    )
    said = text(plan(made))
    assert "Was there before the work began: no waiting time." in said
    assert "Has no waiting time." in said
    assert "thinset: no date" in said
    assert "thinset: planned to be finished Mon 30 Nov 2026, 14:30\n" in said
    assert "For information only: nothing waits for it." in said
    assert "         The longest wait counts; without a sheet, 28 days (no data" in said


def test_what_would_bring_it_forward_and_that_nothing_else_does() -> None:
    gains = (
        Gain("hall-bath", "warm-room", 1, {"air_c": 20.0}),
        Gain("hall-bath", "rapid-products", 12),
        Gain("kitchen", "rapid-products", 30),
    )
    said = text(plan(), gains=gains)
    assert "What would bring the date forward" in said
    assert "- The room kept at 68 °F, not with this floor: 1 day sooner." in said
    assert "12 days sooner" in said.replace("\n    ", " ")
    assert "30 days" not in said
    assert "Only time." in text(plan(), gains=())
    assert "Only time." not in text(plan(zone(State.RELEASED)), gains=())
    assert "bring the date forward" not in text(plan())
