"""What every way to a person has in common: octets go out, and an answer says what became of them.

The answer that matters most is the one that is not known: a message that may have been taken is
`UNSURE`, and never called refused.
"""

from __future__ import annotations

from enum import StrEnum
from typing import Protocol

from curecal.records import Record, record

REASON_SHOWN = 160


class Outcome(StrEnum):
    """What became of a message.

    `TAKEN`: who carries it on said so. `LATER`: certainly not taken, and may be at another time.
    `NEVER`: certainly not taken, and trying again is of no use. `UNSURE`: nobody knows.
    """

    TAKEN = "taken"
    LATER = "later"
    NEVER = "never"
    UNSURE = "unsure"


@record
class Answer(Record):
    """An outcome with its reason, for people: it holds no secret.

    `is_down` says that the way itself does not work at present, for this message or any other:
    that is no reason to give one up.
    """

    outcome: Outcome
    reason: str = ""
    is_down: bool = False


class Wire(Protocol):
    """A way to a person. Each call sends one message to one address, once."""

    def send(self, address: str, data: bytes, *, deadline_s: float) -> Answer:
        """Send a message and say what became of it.

        Args:
            address: Where to.
            data: The message, as the channel wants it.
            deadline_s: How long it may take at most [s].

        Returns:
            The answer; nothing is raised for what a gateway does.
        """
        ...


class NoWire:
    """A way that nothing is set up for: kept for later, and said why."""

    def __init__(self, reason: str, outcome: Outcome = Outcome.LATER) -> None:
        self.answer = Answer(outcome, reason, is_down=outcome is Outcome.LATER)

    def send(self, address: str, data: bytes, *, deadline_s: float) -> Answer:
        """Send nothing.

        Args:
            address: Where to.
            data: The message.
            deadline_s: How long it may take at most [s].

        Returns:
            Why not.
        """
        del address, data, deadline_s
        return self.answer


def shown(reason: object) -> str:
    """Return what a gateway said in one short line.

    Args:
        reason: What it said.

    Returns:
        One line without control characters.
    """
    text = " ".join(str(reason).split())
    return "".join(sign for sign in text if sign.isprintable())[:REASON_SHOWN]
