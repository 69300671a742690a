"""Aware instants in UTC, elapsed time added to them, and windows between two of them."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

from curecal.errors import InstantRefused
from curecal.records import Record, record

# Farther than any calendar reaches, and well inside what a float counts to the microsecond.
_FARTHEST_S = 3.2e11
_SECOND = timedelta(seconds=1)


def instant(value: datetime) -> datetime:
    """Return the same instant in UTC.

    Raises:
        InstantRefused: it is naive, or UTC carries it out of the calendar.
    """
    if value.tzinfo is UTC:
        return value
    if value.utcoffset() is None:
        raise InstantRefused("instant-naive", text=value.isoformat(sep=" "))
    try:
        return value.astimezone(UTC)
    except OverflowError:
        raise InstantRefused("instant-out-of-range", text=value.isoformat(sep=" ")) from None


def add(at: datetime, elapsed_s: float) -> datetime:
    """Return the instant so many real seconds later, whatever clocks on the wall did meanwhile.

    A negative time goes back.

    Raises:
        InstantRefused: naive, no finite time, or the sum leaves the calendar.
    """
    start = instant(at)
    if not -_FARTHEST_S <= elapsed_s <= _FARTHEST_S:
        raise InstantRefused("instant-out-of-range", text=repr(elapsed_s))
    try:
        return start + timedelta(seconds=elapsed_s)
    except OverflowError:
        raise InstantRefused("instant-out-of-range", text=repr(elapsed_s)) from None


def ceil_second(at: datetime, *, slack_s: float = 0.001) -> datetime:
    """Return the instant rounded up to the whole second: a wait is never shown too short.

    Args:
        at: An aware instant.
        slack_s: What counts as a float's error and is dropped, so that an exact 28 d stays
            exact; 0 to under 1.

    Raises:
        InstantRefused: naive, a slack out of range, or the last second of the calendar.
    """
    start = instant(at)
    if not 0 <= slack_s < 1:
        raise InstantRefused("instant-out-of-range", text=repr(slack_s))
    if not start.microsecond:
        return start
    whole = start.replace(microsecond=0)
    if start.microsecond <= round(slack_s * 1e6):
        return whole
    try:
        return whole + _SECOND
    except OverflowError:
        raise InstantRefused("instant-out-of-range", text=start.isoformat(sep=" ")) from None


def after(start: datetime, elapsed_s: float) -> datetime:
    """Return the instant at which a wait has run out, rounded up to the second.

    Raises:
        InstantRefused: as `add` and `ceil_second`.
    """
    return ceil_second(add(start, elapsed_s))


@record
class Window(Record):
    """A date ahead: not before `earliest`, and at `latest` if the worst expected happens.

    `latest` is None where no date can be promised. Both are kept in UTC.

    Raises:
        InstantRefused: an end is naive, or `latest` comes before `earliest`.
    """

    earliest: datetime
    latest: datetime | None

    def __post_init__(self) -> None:
        """Bring both ends to UTC and refuse a window that ends before it begins."""
        # Nearly every end comes from a window or a clock, and is in UTC already.
        if self.earliest.tzinfo is not UTC:
            object.__setattr__(self, "earliest", instant(self.earliest))
        if self.latest is None:
            return
        if self.latest.tzinfo is not UTC:
            object.__setattr__(self, "latest", instant(self.latest))
        if self.latest < self.earliest:
            raise InstantRefused("window-reversed", earliest=self.earliest, latest=self.latest)

    def later(self, other: Window) -> Window:
        """Return the window in which both dates are reached: the later of both ends.

        Without a latest date where either has none.
        """
        earliest = max(self.earliest, other.earliest)
        if self.latest is None or other.latest is None:
            return Window(earliest, None)
        return Window(earliest, max(self.latest, other.latest))
