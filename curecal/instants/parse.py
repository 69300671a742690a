"""Dates and times as they stand in a job file or on a command line."""

from __future__ import annotations

import re
from datetime import date, datetime, tzinfo

from curecal.errors import InstantRefused
from curecal.instants.elapsed import instant
from curecal.instants.local import WallKind, end_of_day, resolve, start_of_day

_EXAMPLE = "2026-12-02 20:00"
_LONGEST_SHOWN = 60
# Python 3.14 reads 24:00 as the beginning of the next day, Python 3.13 refuses it: so do we.
_FORM = re.compile(
    r"(?P<day>\d{4}-\d\d-\d\d)"
    r"(?:[Tt ](?P<time>(?!24)\d\d:\d\d(?::\d\d(?:\.\d{1,6})?)?)"
    r" ?(?P<offset>[Zz]|[+-]\d\d:?\d\d)?)?",
    re.ASCII,
)


def parse_instant(text: object, zone: tzinfo) -> datetime:
    """Return the instant a text states, in UTC.

    Args:
        text: "2026-12-02T20:00:00Z", the same with an offset, a local "2026-12-02 20:00", or a
            date alone, which counts from the end of that local day.
        zone: The zone of the site, for what carries no offset.

    Raises:
        InstantRefused: no such text; a local time or day the clock skips (`instant-gap`, with
            the first instant after it); one it shows twice (`instant-fold`, with both).
    """
    if not isinstance(text, str):
        raise _unreadable(type(text).__name__)
    match = _FORM.fullmatch(text.strip())
    if match is None:
        raise _unreadable(text)
    try:
        if match["time"] is None:
            return instant_of(date.fromisoformat(match["day"]), zone)
        stamp = f"{match['day']}T{match['time']}{(match['offset'] or '').upper()}"
        return instant_of(datetime.fromisoformat(stamp), zone)
    except ValueError:
        # The form is right and the figures are not: a thirteenth month, a 25th hour.
        raise _unreadable(text) from None


def instant_of(value: datetime | date, zone: tzinfo) -> datetime:
    """Return the instant a date, a local time or an aware time states, as TOML hands them over.

    A date counts from the end of that local day.

    Raises:
        InstantRefused: a local time or day the clock skips, or a time it shows twice.
    """
    if not isinstance(value, datetime):
        end = end_of_day(value, zone)
        if start_of_day(value, zone) == end:
            raise InstantRefused("instant-gap", text=value.isoformat(), first=end)
        return end
    if value.tzinfo is not None:
        return instant(value)
    found = resolve(value, zone)
    text = value.isoformat(sep=" ")
    if found.kind is WallKind.GAP:
        raise InstantRefused("instant-gap", text=text, first=found.first)
    if found.kind is WallKind.FOLD:
        raise InstantRefused("instant-fold", text=text, first=found.first, second=found.second)
    return found.first


def _unreadable(text: str) -> InstantRefused:
    """Return the refusal of a text in no form that is understood."""
    shown = text if len(text) <= _LONGEST_SHOWN else text[:_LONGEST_SHOWN] + "…"
    return InstantRefused("instant-unreadable", text=shown, example=_EXAMPLE)
