"""The states of a zone: one table says what each needs."""

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
class StateRow(Record):
    """A state, and the facts that must stand so; facts not named may be either."""

    state: State
    needs: tuple[tuple[str, bool], ...]


DECISIONS: tuple[StateRow, ...] = (
    StateRow(State.STOPPED, (("stopped", True),)),
    StateRow(State.NO_DATE, (("dated", False),)),
    StateRow(State.PLANNED, (("begun", False),)),
    StateRow(State.CURING, (("clocks_out", False),)),
    StateRow(State.ON_HOLD, (("held", True),)),
    StateRow(State.CLEAR, (("released", False),)),
    StateRow(State.RELEASED, (("energized", False),)),
    StateRow(State.HEATING_UP, (("warmed", False),)),
    StateRow(State.IN_SERVICE, ()),
)
"""The first row whose facts all stand decides."""


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
