"""Dates and times read a second time, by other code than the program's."""

from __future__ import annotations

import datetime as dt
import re
import unicodedata
import zoneinfo
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Callable

    from read_by_hand import Read

_ISO = re.compile(
    r"(\d{4})-(\d\d?)-(\d\d?)(?:[Tt ](\d\d):(\d\d)(?::(\d\d)(?:\.(\d{1,6})\d*)?)?"
    r" ?([Zz]|[+-]\d\d:?\d\d)?)?"
)


def instant(
    zone: zoneinfo.ZoneInfo, *, midnight_is_a_day: bool = False
) -> Callable[[object], Read]:
    """Return a reader of instants; of a day alone its end, of an hour shown twice the later."""

    def read(value: object) -> Read:
        found = _typed(value) if isinstance(value, str) else value
        if not isinstance(found, dt.date):
            return None
        if isinstance(found, dt.datetime) and found.tzinfo is not None:
            return frozenset({found.astimezone(dt.UTC)})
        if not isinstance(found, dt.datetime) or (midnight_is_a_day and found.time() == dt.time()):
            # The end of a day: where that hour is shown twice or not at all, any reading of it.
            days = dt.date(found.year, found.month, found.day) + dt.timedelta(days=1)
            found = dt.datetime.combine(days, dt.time())
            late = {found.replace(tzinfo=zone, fold=fold).astimezone(dt.UTC) for fold in (0, 1)}
            return frozenset(late)
        late = max(found.replace(tzinfo=zone, fold=fold).astimezone(dt.UTC) for fold in (0, 1))
        if late.astimezone(zone).replace(tzinfo=None, fold=0) != found:
            return None
        return frozenset({late})

    return read


def _typed(text: str) -> dt.date | None:
    match = _ISO.fullmatch(unicodedata.normalize("NFKC", text.strip()))
    if match is None:
        return None
    try:
        day = dt.date(*(int(part) for part in match.groups()[:3]))
        if match[4] is None:
            return day
        wall = dt.time(int(match[4]), int(match[5]), int(match[6] or 0))
        wall = wall.replace(microsecond=int((match[7] or "0").ljust(6, "0")))
        return dt.datetime.combine(day, wall, _offset(match[8]))
    except ValueError:
        return None


def _offset(text: str | None) -> dt.tzinfo | None:
    if text is None:
        return None
    if text in "Zz":
        return dt.UTC
    hours, minutes = int(text[1:3]), int(text[-2:])
    sign = -1 if text[0] == "-" else 1
    return dt.timezone(sign * dt.timedelta(hours=hours, minutes=minutes))
