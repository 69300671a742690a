"""A message's states, which may follow which, and who may make the move. One table says it all.

A message goes due, leased, sending, sent. `sending` is stored before the first byte leaves: whoever
finds it later cannot know whether the message arrived, and calls it `uncertain`.
"""

from __future__ import annotations

from collections.abc import Mapping
from enum import StrEnum
from types import MappingProxyType

from curecal.errors import BookError, CurecalError


class MessageState(StrEnum):
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


class ReminderState(StrEnum):
    """Where a reminder stands: one line of a message, or a message of its own."""

    WANTED = "wanted"
    READY = "ready"
    FIRED = "fired"
    WITHDRAWN = "withdrawn"


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

MOVES: Mapping[tuple[MessageState, MessageState], frozenset[Who]] = MappingProxyType(
    {
        (MessageState.DUE, MessageState.LEASED): _CLAIM,
        (MessageState.DUE, MessageState.HELD): _REAPER | _PERSON,
        (MessageState.DUE, MessageState.SUPERSEDED): _PLANNER,
        (MessageState.DUE, MessageState.EXPIRED): _REAPER,
        (MessageState.LEASED, MessageState.SENDING): _SENDER,
        # Given back unsent, or its holder never came to the wire.
        (MessageState.LEASED, MessageState.DUE): _SENDER | _REAPER,
        (MessageState.LEASED, MessageState.BACKOFF): _SENDER,
        (MessageState.LEASED, MessageState.HELD): _SENDER,
        (MessageState.LEASED, MessageState.SUPERSEDED): _PLANNER,
        (MessageState.LEASED, MessageState.EXPIRED): _SENDER,
        (MessageState.LEASED, MessageState.DEAD): _SENDER,
        (MessageState.SENDING, MessageState.SENT): _SENDER,
        # Only on a refusal that says nothing was taken.
        (MessageState.SENDING, MessageState.BACKOFF): _SENDER,
        (MessageState.SENDING, MessageState.DEAD): _SENDER,
        (MessageState.SENDING, MessageState.UNCERTAIN): _SENDER | _REAPER,
        (MessageState.BACKOFF, MessageState.LEASED): _CLAIM,
        (MessageState.BACKOFF, MessageState.DUE): _PERSON,
        (MessageState.BACKOFF, MessageState.HELD): _REAPER | _PERSON,
        (MessageState.BACKOFF, MessageState.SUPERSEDED): _PLANNER,
        (MessageState.BACKOFF, MessageState.EXPIRED): _REAPER,
        (MessageState.HELD, MessageState.DUE): _PERSON,
        (MessageState.HELD, MessageState.SUPERSEDED): _PLANNER,
        (MessageState.HELD, MessageState.EXPIRED): _REAPER,
        (MessageState.HELD, MessageState.DEAD): _PERSON,
        # Sent once more, the same bytes, where the channel's rule allows it.
        (MessageState.UNCERTAIN, MessageState.DUE): _PLANNER | _PERSON,
        (MessageState.UNCERTAIN, MessageState.DEAD): _PLANNER | _PERSON,
        (MessageState.UNCERTAIN, MessageState.SENT): _PERSON,
    }
)
"""From a state to the next, and who may do it. What is not here cannot happen."""

FINAL = frozenset(
    state for state in MessageState if not any(before is state for before, _ in MOVES)
)
"""States that nothing follows."""

UNSENT = frozenset({MessageState.DUE, MessageState.LEASED, MessageState.BACKOFF, MessageState.HELD})
"""States of which it is certain that nothing has left."""

IN_LINE = frozenset(
    {MessageState.DUE, MessageState.LEASED, MessageState.SENDING, MessageState.BACKOFF}
)
"""States in which a message holds those behind it, for the same recipient on the same channel."""


URGENT_ORDER = 0
"""The order key of what overtakes all else: a STOP, and what takes a permission back."""

USUAL_ORDER = 10
"""The order key of all else; there is room between the two."""


def allowed(before: MessageState, after: MessageState, who: Who) -> bool:
    """Return whether somebody may move a message.

    Args:
        before: The state it is in.
        after: The state it is to be in.
        who: Who moves it.

    Returns:
        True for a move of the table.
    """
    return who in MOVES.get((before, after), frozenset())


def check(before: MessageState, after: MessageState, who: Who) -> None:
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
    lines = ["stateDiagram-v2", f"    [*] --> {MessageState.DUE.value}: {Who.PLANNER.value}"]
    for (before, after), movers in MOVES.items():
        who = ", ".join(mover.value for mover in Who if mover in movers)
        lines.append(f"    {before.value} --> {after.value}: {who}")
    lines += [f"    {state.value} --> [*]" for state in MessageState if state in FINAL]
    return "\n".join(lines) + "\n"
