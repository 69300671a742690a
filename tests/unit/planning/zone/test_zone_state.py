"""The table of states: every combination of facts, every change of one fact."""

from __future__ import annotations

from dataclasses import fields, replace
from itertools import product

import pytest

from curecal.planning.plan import RELEASED_STATES, State
from curecal.planning.zone.zone_state import (
    DECISIONS,
    StateFacts,
    decide_state,
)

NAMES = [field.name for field in fields(StateFacts)]
ALL = [
    StateFacts(**dict(zip(NAMES, values, strict=True)))
    for values in product([False, True], repeat=len(NAMES))
]


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


@pytest.mark.parametrize(
    ("fact", "before", "after"),
    [
        ("released", State.CLEAR, State.RELEASED),
        ("energized", State.RELEASED, State.HEATING_UP),
        ("warmed", State.HEATING_UP, State.IN_SERVICE),
    ],
)
def test_each_step_of_the_way_comes_from_the_one_before(
    fact: str, before: State, after: State
) -> None:
    ways = set()
    for facts in ALL:
        if not consistent(facts) or getattr(facts, fact):
            continue
        there = decide_state(settled(replace(facts, **{fact: True})))
        if there is after and decide_state(facts) is not after:
            ways.add(decide_state(facts))
    assert ways == {before}
