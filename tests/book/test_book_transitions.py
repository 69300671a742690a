"""The table of a message's states: complete, without a way around, and drawn as it is."""

from __future__ import annotations

from itertools import product
from pathlib import Path

import pytest

from curecal.book.message_states import (
    FINAL,
    IN_LINE,
    MOVES,
    UNSENT,
    MessageState,
    Who,
    allowed,
    check,
    mermaid,
)
from curecal.errors import CurecalError

EVERY = list(product(MessageState, MessageState, Who))


@pytest.mark.parametrize(("before", "after", "who"), EVERY, ids=str)
def test_a_move_is_the_tables_or_refused(
    before: MessageState, after: MessageState, who: Who
) -> None:
    may = (before, after) in MOVES and who in MOVES[before, after]
    assert allowed(before, after, who) is may
    if may:
        check(before, after, who)
        return
    with pytest.raises(CurecalError) as refused:
        check(before, after, who)
    assert refused.value.code == "outbox-move"


def test_every_state_is_reached_and_nothing_stays_where_it_is() -> None:
    reached = {MessageState.DUE}
    while more := {after for before, after in MOVES if before in reached} - reached:
        reached |= more
    assert reached == set(MessageState)
    assert all(before is not after for before, after in MOVES)
    assert all(MOVES.values())


def test_what_ends_ends() -> None:
    assert {
        MessageState.SENT,
        MessageState.SUPERSEDED,
        MessageState.EXPIRED,
        MessageState.DEAD,
    } == FINAL


def test_only_sending_knows_that_something_left() -> None:
    sent_by = {before for before, after in MOVES if after is MessageState.SENT}
    assert sent_by == {MessageState.SENDING, MessageState.UNCERTAIN}
    assert {after for before, after in MOVES if before is MessageState.LEASED} >= {
        MessageState.SENDING
    }
    assert {before for before, after in MOVES if after is MessageState.SENDING} == {
        MessageState.LEASED
    }


def test_what_may_have_left_never_goes_back_by_itself() -> None:
    for state in (MessageState.SENDING, MessageState.SENT, MessageState.UNCERTAIN):
        assert state not in UNSENT
        assert not allowed(state, MessageState.SUPERSEDED, Who.PLANNER)
        assert not allowed(state, MessageState.DUE, Who.REAPER)
        assert not allowed(state, MessageState.DUE, Who.SENDER)


def test_only_the_claimer_leases_and_it_does_nothing_else() -> None:
    for (_, after), movers in MOVES.items():
        assert (Who.CLAIMER in movers) is (after is MessageState.LEASED)


def test_what_ends_holds_nobody() -> None:
    assert not IN_LINE & FINAL


def test_the_diagram_has_every_move_once() -> None:
    lines = mermaid().splitlines()
    assert lines[0] == "stateDiagram-v2"
    arrows = [line.strip().partition(":")[0] for line in lines if "-->" in line]
    moves = {f"{before.value} --> {after.value}" for before, after in MOVES}
    assert set(arrows) == moves | {"[*] --> due"} | {f"{state.value} --> [*]" for state in FINAL}
    assert len(arrows) == len(set(arrows))
    assert "    leased --> sending: sender" in lines


def test_the_diagram_for_developers_is_the_table() -> None:
    text = (Path(__file__).parents[2] / "DEVELOPERS.md").read_text(encoding="utf-8")
    assert f"```mermaid\n{mermaid().rstrip()}\n```" in text
