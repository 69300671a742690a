"""Days and wall times of a site, and what they mean where the clock skips or runs twice.

The zone is always handed in. Nothing here knows zone names or where their data lies.
"""

from __future__ import annotations

from datetime import UTC, date, datetime, time, timedelta, tzinfo
from enum import StrEnum
from functools import lru_cache
from typing import Literal

from curecal.errors import InstantRefused
from curecal.instants.elapsed import instant
from curecal.records import Record, record

_DAY = timedelta(days=1)
_TICK = timedelta(microseconds=1)
_MIDNIGHT = time()


class WallKind(StrEnum):
    """How often a clock on site shows a wall time: once, never, twice."""

    PLAIN = "plain"
    GAP = "gap"
    FOLD = "fold"


@record
class Resolved(Record):
    """A wall time in UTC.

    `plain`: the clock shows it once; both instants are equal. `gap`: the clock skips it; both
    are the first instant after the gap. `fold`: the clock shows it twice; both readings.
    """

    kind: WallKind
    first: datetime
    second: datetime


def resolve(local_naive: datetime, zone: tzinfo) -> Resolved:
    """Return the instant or instants at which a clock in a zone shows a wall time.

    Raises:
        InstantRefused: the wall time carries a zone, or UTC carries it out of the calendar.

    Validity:
        At most one change of the clock between the two readings, which holds for every zone in the
        tz database.
    """
    if local_naive.tzinfo is not None:
        raise InstantRefused("instant-not-local", text=local_naive.isoformat(sep=" "))
    try:
        before = local_naive.replace(tzinfo=zone, fold=0).astimezone(UTC)
        behind = local_naive.replace(tzinfo=zone, fold=1).astimezone(UTC)
        shown = _wall(before, zone)
    except OverflowError:
        text = local_naive.isoformat(sep=" ")
        raise InstantRefused("instant-out-of-range", text=text) from None
    if before == behind:
        return Resolved(WallKind.PLAIN, before, before)
    if shown == local_naive.replace(fold=0):
        return Resolved(WallKind.FOLD, before, behind)
    first = _end_of_gap(local_naive.replace(fold=0), zone, behind, before)
    return Resolved(WallKind.GAP, first, first)


def local_day(at: datetime, zone: tzinfo) -> date:
    """Return the day a calendar on site shows at an instant.

    Raises:
        InstantRefused: naive, or out of the calendar.
    """
    return _inside(instant(at), zone).date()


def start_of_day(day: date, zone: tzinfo) -> datetime:
    """Return the first instant from which the local day before never comes back.

    Midnight, or the end of the gap that swallows it. Where the clock shows midnight twice, the
    first, unless the day before returns between the two. A day the zone skipped starts where the
    next one does.

    Raises:
        InstantRefused: out of the calendar.
    """
    found = resolve(datetime.combine(day, _MIDNIGHT), zone)
    if found.kind is WallKind.FOLD and local_day(found.second - _TICK, zone) < day:
        return found.second
    return found.first


def end_of_day(day: date, zone: tzinfo) -> datetime:
    """Return 24:00 of a local day: the start of the next one.

    Raises:
        InstantRefused: out of the calendar, as the last day of 9999 is.
    """
    return start_of_day(_next(day), zone)


@lru_cache(maxsize=4096)
def local_at(
    day: date, wall: time, zone: tzinfo, *, fold: Literal["later", "earlier"] = "later"
) -> datetime:
    """Return the instant at which a clock on site shows a wall time of a day.

    The first after the gap where the clock skips the time; `fold` says which reading counts where
    it shows the time twice.

    Raises:
        InstantRefused: the wall time carries a zone, or out of the calendar.
    """
    found = resolve(datetime.combine(day, wall), zone)
    return found.second if fold == "later" else found.first


def morning_at_or_after(at: datetime, zone: tzinfo, wall: time) -> date:
    """Return the first local day whose wall time comes at an instant or after it.

    Never a day the zone skipped, nor one whose time falls into the next day.

    Raises:
        InstantRefused: naive, or out of the calendar.
    """
    day = local_day(at, zone)
    while True:
        morning = local_at(day, wall, zone)
        if morning >= at and local_day(morning, zone) == day:
            return day
        day = _next(day)


def _inside(at: datetime, zone: tzinfo) -> datetime:
    """Return the instant in the zone, refused where that leaves the calendar."""
    try:
        return at.astimezone(zone)
    except OverflowError:
        raise InstantRefused("instant-out-of-range", text=at.isoformat(sep=" ")) from None


def _next(day: date) -> date:
    """Return the day after, refused at the end of the calendar."""
    try:
        return day + _DAY
    except OverflowError:
        raise InstantRefused("instant-out-of-range", text=day.isoformat()) from None


def _wall(at: datetime, zone: tzinfo) -> datetime:
    """Return the time a clock in the zone shows, without its zone."""
    return at.astimezone(zone).replace(tzinfo=None, fold=0)


def _end_of_gap(wall: datetime, zone: tzinfo, low: datetime, high: datetime) -> datetime:
    """Return the first instant at which the clock shows a time after a wall time it skips.

    The two instants are the wall time under the offsets behind and before the gap, so the change
    lies between them and the clock runs forward there: halving finds it to the microsecond.
    """
    while high - low > _TICK:
        middle = low + (high - low) // 2
        if _wall(middle, zone) > wall:
            high = middle
        else:
            low = middle
    return high
