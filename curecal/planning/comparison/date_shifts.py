"""How a date shifted: each end on its own, also where there was no date or is none."""

from __future__ import annotations

from datetime import datetime

from curecal.planning.comparison.plan_snapshot import Ends, LayerSnapshot
from curecal.records import Record, record

LEAST_S = 60.0
"""Dates are shown to the minute; less is no shift."""


# Most important first: what the next trade waits for, then how the floor may be used.
_ORDER = ("start", "finish", "heat", "bare_heat", "cover", "grout", "seal", "wet", "load", "walk")


@record
class Shift(Record):
    """One date then and now; `what` is "energize", "start", "finish" or a milestone."""

    what: str
    before: Ends
    after: Ends

    @property
    def earliest_s(self) -> float | None:
        """Return how much later the early end is, negative for sooner [s]; None without both."""
        return seconds_between(self.before.earliest, self.after.earliest)

    @property
    def latest_s(self) -> float | None:
        """Return how much later the late end is, negative for sooner [s]; None without both."""
        return seconds_between(self.before.latest, self.after.latest)

    @property
    def is_nearer(self) -> bool:
        """Return whether an end came nearer, or there is a date or a promise that was not."""
        ends = (
            (self.before.earliest, self.after.earliest),
            (self.before.latest, self.after.latest),
        )
        return any(
            now is not None and (then is None or (then - now).total_seconds() >= LEAST_S)
            for then, now in ends
        )


def seconds_between(before: datetime | None, after: datetime | None) -> float | None:
    """Return how much later a date is than it was.

    Rule: R8.

    Args:
        before: the date then.
        after: the date now.

    Returns:
        Elapsed time, negative for sooner [s]; None where one of them is no date.
    """
    if before is None or after is None:
        return None
    return (after - before).total_seconds()


def shift(what: str, before: Ends, after: Ends) -> Shift | None:
    """Return how a date moved; None where it did not by as much as is shown.

    Rule: R8.

    Args:
        what: which date.
        before: its ends then.
        after: its ends now.

    Returns:
        The move, or None.
    """
    made = Shift(what, before, after)
    same = _same(before.earliest, after.earliest) and _same(before.latest, after.latest)
    return None if same else made


def layer_shifts(before: LayerSnapshot, after: LayerSnapshot) -> list[Shift]:
    """Return how a layer's dates moved, the most important first.

    Rule: R8.

    Args:
        before: the layer then.
        after: the layer now.

    Returns:
        The shifts of the dates that both have.
    """
    then, now = before.dates, after.dates
    shifts = [shift(name, then[name], now[name]) for name in _ORDER if name in then and name in now]
    return [moved for moved in shifts if moved is not None]


def _same(before: datetime | None, after: datetime | None) -> bool:
    if before is None or after is None:
        return before is after
    return abs((after - before).total_seconds()) < LEAST_S
