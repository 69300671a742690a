"""A message's states, which may follow which, and who may make the move. One table says it all.

A message goes due, leased, sending, sent. `sending` is stored before the first byte leaves: whoever
finds it later cannot know whether the message arrived, and calls it `uncertain`.
"""

from __future__ import annotations

from collections.abc import Mapping
from enum import StrEnum
from types import MappingProxyType

from curecal.errors import BookError, CurecalError


class State(StrEnum):
    """Where a message stands."""

    DUE = "due"
    LEASED = "leased"
    SENDING = "sending"
    SENT = "sent"
    BACKOFF = "backoff"
    HELD = "held"
    UNCERTAIN = "uncertain"
    SUPERSEDED = "superseded"
    EXPIRED = "expired"
    DEAD = "dead"


class Who(StrEnum):
    """Who moves a message.

    The claimer takes it, the sender holds its lease, the reaper looks after leases and limits
    that ran out, the planner knows newer facts, a person decides.
    """

    CLAIMER = "claimer"
    SENDER = "sender"
    REAPER = "reaper"
    PLANNER = "planner"
    PERSON = "person"


class LostClaim(BookError):  # noqa: N818 - the name says what happened, as in errors
    """A message is no longer where its holder left it: somebody else has it; stop, send nothing."""


_CLAIM = frozenset({Who.CLAIMER})
_SENDER = frozenset({Who.SENDER})
_REAPER = frozenset({Who.REAPER})
_PLANNER = frozenset({Who.PLANNER})
_PERSON = frozenset({Who.PERSON})

MOVES: Mapping[tuple[State, State], frozenset[Who]] = MappingProxyType(
    {
        (State.DUE, State.LEASED): _CLAIM,
        (State.DUE, State.HELD): _REAPER | _PERSON,
        (State.DUE, State.SUPERSEDED): _PLANNER,
        (State.DUE, State.EXPIRED): _REAPER,
        (State.LEASED, State.SENDING): _SENDER,
        # Given back unsent, or its holder never came to the wire.
        (State.LEASED, State.DUE): _SENDER | _REAPER,
        (State.LEASED, State.BACKOFF): _SENDER,
        (State.LEASED, State.HELD): _SENDER,
        (State.LEASED, State.SUPERSEDED): _PLANNER,
        (State.LEASED, State.EXPIRED): _SENDER,
        (State.LEASED, State.DEAD): _SENDER,
        (State.SENDING, State.SENT): _SENDER,
        # Only on a refusal that says nothing was taken.
        (State.SENDING, State.BACKOFF): _SENDER,
        (State.SENDING, State.DEAD): _SENDER,
        (State.SENDING, State.UNCERTAIN): _SENDER | _REAPER,
        (State.BACKOFF, State.LEASED): _CLAIM,
        (State.BACKOFF, State.DUE): _PERSON,
        (State.BACKOFF, State.HELD): _REAPER | _PERSON,
        (State.BACKOFF, State.SUPERSEDED): _PLANNER,
        (State.BACKOFF, State.EXPIRED): _REAPER,
        (State.HELD, State.DUE): _PERSON,
        (State.HELD, State.SUPERSEDED): _PLANNER,
        (State.HELD, State.EXPIRED): _REAPER,
        (State.HELD, State.DEAD): _PERSON,
        # Sent once more, the same bytes, where the channel's rule allows it.
        (State.UNCERTAIN, State.DUE): _PLANNER | _PERSON,
        (State.UNCERTAIN, State.DEAD): _PLANNER | _PERSON,
        (State.UNCERTAIN, State.SENT): _PERSON,
    }
)
"""From a state to the next, and who may do it. What is not here cannot happen."""

FINAL = frozenset(state for state in State if not any(before is state for before, _ in MOVES))
"""States that nothing follows."""

UNSENT = frozenset({State.DUE, State.LEASED, State.BACKOFF, State.HELD})
"""States of which it is certain that nothing has left."""

IN_LINE = frozenset({State.DUE, State.LEASED, State.SENDING, State.BACKOFF})
"""States in which a message holds those behind it, for the same recipient on the same channel."""


URGENT_ORDER = 0
"""The order key of what overtakes all else: a STOP, and what takes a permission back."""


def allowed(before: State, after: State, who: Who) -> bool:
    """Return whether somebody may move a message.

    Args:
        before: The state it is in.
        after: The state it is to be in.
        who: Who moves it.

    Returns:
        True for a move of the table.
    """
    return who in MOVES.get((before, after), frozenset())


def check(before: State, after: State, who: Who) -> None:
    """Refuse a move that the table has not.

    Args:
        before: The state it is in.
        after: The state it is to be in.
        who: Who moves it.

    Raises:
        CurecalError: `outbox-move`; our own fault.
    """
    if not allowed(before, after, who):
        raise CurecalError("outbox-move", before=before.value, after=after.value, who=who.value)


def mermaid() -> str:
    """Return the table as a Mermaid diagram.

    Returns:
        The diagram's text; each arrow carries who may go it.
    """
    lines = ["stateDiagram-v2", f"    [*] --> {State.DUE.value}: {Who.PLANNER.value}"]
    for (before, after), movers in MOVES.items():
        who = ", ".join(mover.value for mover in Who if mover in movers)
        lines.append(f"    {before.value} --> {after.value}: {who}")
    lines += [f"    {state.value} --> [*]" for state in State if state in FINAL]
    return "\n".join(lines) + "\n"
