"""The table of states: every combination of facts, every change of one fact."""

from __future__ import annotations

from dataclasses import fields, replace
from itertools import product
from pathlib import Path

import pytest

from curecal.planning.plan import RELEASED_STATES, State
from curecal.planning.zone.zone_state import (
    DECISIONS,
    FOLLOWS,
    StateFacts,
    decide_state,
    diagram,
)

NAMES = [field.name for field in fields(StateFacts)]
ALL = [
    StateFacts(**dict(zip(NAMES, values, strict=True)))
    for values in product([False, True], repeat=len(NAMES))
]
ROOT = Path(__file__).resolve().parents[4]


def consistent(facts: StateFacts) -> bool:
    """Facts that can stand together: each later one only after those it rests on."""
    if facts.clocks_out and not (facts.dated and facts.begun):
        return False
    if facts.released and (not facts.clocks_out or facts.held):
        return False
    if facts.energized and not facts.released:
        return False
    return facts.energized or not facts.warmed


def test_every_combination_has_a_state() -> None:
    assert {decide_state(facts) for facts in ALL} == set(State)


@pytest.mark.parametrize("facts", ALL)
def test_it_may_be_switched_on_only_when_nothing_stands_against_it(facts: StateFacts) -> None:
    if decide_state(facts) in RELEASED_STATES:
        assert facts.released
        assert facts.clocks_out
        assert facts.dated
        assert facts.begun
        assert not facts.held
        assert not facts.stopped


def test_a_stop_overrides_everything() -> None:
    assert {decide_state(facts) for facts in ALL if facts.stopped} == {State.STOPPED}


def test_every_row_names_facts_that_exist() -> None:
    assert {name for row in DECISIONS for name, _ in row.needs} == set(NAMES)


def one_change() -> set[tuple[State, State]]:
    """Every move from one state to another by a change of what is known.

    Facts that rest on a changed one fall with it: a corrected date takes the release along.
    """
    moves = set()
    for facts in ALL:
        if not consistent(facts):
            continue
        for name in NAMES:
            changed = settled(replace(facts, **{name: not getattr(facts, name)}))
            if decide_state(changed) is not decide_state(facts):
                moves.add((decide_state(facts), decide_state(changed)))
    return moves


def settled(facts: StateFacts) -> StateFacts:
    clocks_out = facts.clocks_out and facts.dated and facts.begun
    released = facts.released and clocks_out and not facts.held
    energized = facts.energized and released
    return replace(
        facts,
        clocks_out=clocks_out,
        released=released,
        energized=energized,
        warmed=facts.warmed and energized,
    )


def test_the_table_of_moves_is_exactly_what_one_fact_can_do() -> None:
    assert {(here, after) for here, ends in FOLLOWS.items() for after in ends} == one_change()


def test_the_diagram_in_the_developers_notes_is_the_table() -> None:
    assert diagram() in (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
