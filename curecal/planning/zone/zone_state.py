"""The states of a zone: one table says what each needs, one which may follow which.

Code, diagram and tests read both.
"""

from __future__ import annotations

from curecal.planning.plan import State
from curecal.records import Record, record


@record
class StateFacts(Record):
    """The facts that decide a state, each a plain yes or no.

    `stopped`: a fault, an early switch-on, a floor set over its limit, or a person's stop stands
    unresolved. `dated`: every clock has an earliest date. `begun`: a layer is done.
    `clocks_out`: every layer is done and its latest date is past. `held`: a hold point other
    than the release is outstanding.
    `released`: the crew lead released it after all of that. `energized`: switched on since.
    `warmed`: the heat-up's last hold is over, by the log.
    """

    stopped: bool
    dated: bool
    begun: bool
    clocks_out: bool
    held: bool
    released: bool
    energized: bool
    warmed: bool


@record
class Row(Record):
    """A state, and the facts that must stand so; facts not named may be either."""

    state: State
    needs: tuple[tuple[str, bool], ...]


DECISIONS: tuple[Row, ...] = (
    Row(State.STOPPED, (("stopped", True),)),
    Row(State.NO_DATE, (("dated", False),)),
    Row(State.PLANNED, (("begun", False),)),
    Row(State.CURING, (("clocks_out", False),)),
    Row(State.ON_HOLD, (("held", True),)),
    Row(State.CLEAR, (("released", False),)),
    Row(State.RELEASED, (("energized", False),)),
    Row(State.HEATING_UP, (("warmed", False),)),
    Row(State.IN_SERVICE, ()),
)
"""The first row whose facts all stand decides."""

FOLLOWS: dict[State, tuple[State, ...]] = {
    State.PLANNED: (
        State.CURING,
        State.STOPPED,
        State.NO_DATE,
    ),
    State.CURING: (
        State.ON_HOLD,
        State.PLANNED,
        State.CLEAR,
        State.STOPPED,
        State.NO_DATE,
    ),
    State.ON_HOLD: (
        State.CLEAR,
        State.PLANNED,
        State.CURING,
        State.STOPPED,
        State.NO_DATE,
    ),
    State.CLEAR: (
        State.RELEASED,
        State.PLANNED,
        State.CURING,
        State.ON_HOLD,
        State.STOPPED,
        State.NO_DATE,
    ),
    State.RELEASED: (
        State.HEATING_UP,
        State.PLANNED,
        State.CURING,
        State.ON_HOLD,
        State.CLEAR,
        State.STOPPED,
        State.NO_DATE,
    ),
    State.HEATING_UP: (
        State.IN_SERVICE,
        State.PLANNED,
        State.CURING,
        State.ON_HOLD,
        State.CLEAR,
        State.RELEASED,
        State.STOPPED,
        State.NO_DATE,
    ),
    State.IN_SERVICE: (
        State.PLANNED,
        State.CURING,
        State.ON_HOLD,
        State.CLEAR,
        State.RELEASED,
        State.HEATING_UP,
        State.STOPPED,
        State.NO_DATE,
    ),
    State.STOPPED: (
        State.PLANNED,
        State.CURING,
        State.ON_HOLD,
        State.CLEAR,
        State.RELEASED,
        State.HEATING_UP,
        State.IN_SERVICE,
        State.NO_DATE,
    ),
    State.NO_DATE: (
        State.PLANNED,
        State.CURING,
        State.STOPPED,
    ),
}
"""Which state may follow which as facts come in or are corrected; the first is the usual way."""


def decide_state(facts: StateFacts) -> State:
    """Return a zone's state.

    Rule: R22.

    Args:
        facts: what decides it.

    Returns:
        The state of the first row of `DECISIONS` whose facts all stand.
    """
    return next(
        row.state
        for row in DECISIONS
        if all(getattr(facts, name) is wanted for name, wanted in row.needs)
    )


def diagram() -> str:
    """Return the table of states as a Mermaid diagram.

    Rule: R22.
    """
    lines = ["stateDiagram-v2"]
    for state, following in FOLLOWS.items():
        here = state.value.replace(" ", "_")
        lines.extend(f"    {here} --> {after.value.replace(' ', '_')}" for after in following)
    return "\n".join(lines) + "\n"
