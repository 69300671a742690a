"""Which of several entries about one thing has the last word."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TypeVar

from curecal.trade.site_log import Entry, Inspection, Result

E = TypeVar("E", bound=Entry)


def newest(entries: Sequence[E]) -> list[E]:
    """Return the last entry, with all of the same instant: the worst of them decides.

    Rule: R24.

    Args:
        entries: entries of one kind in order of time.

    Returns:
        The last one, or several in their order; none of none.
    """
    return [entry for entry in entries if entry.at == entries[-1].at]


def lifts(look: Inspection, found: Inspection) -> bool:
    """Return whether an inspection that counts takes back what an earlier one found.

    Rule: R24c.

    Args:
        look: the later inspection; one that counts.
        found: the one that failed something, or gave it up.

    Returns:
        True for a good word, later.
    """
    return look.at > found.at and look.result in {Result.SOUND, Result.PASSED}
