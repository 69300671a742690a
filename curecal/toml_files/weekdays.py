"""Weekdays as people write them: spans, lists, and how they shorten the names."""

from __future__ import annotations

import re
from collections.abc import Sequence

from curecal.errors import ValueRefused
from curecal.toml_files.shown import shorten

_WEEKDAYS = ("monday", "tuesday", "wednesday", "thursday", "friday", "saturday", "sunday")
# How people shorten a weekday; anything else is no weekday, so that no word is half read.
_SHORT_DAYS = {"tues": 1, "wednes": 2, "thur": 3, "thurs": 3}
_LISTED = re.compile(r",|&|\band\b", re.IGNORECASE)
_SPAN_OF_DAYS = re.compile(r"[-\u2010-\u2015]|\b(?:to|through|thru|till|until)\b", re.IGNORECASE)


def weekdays_of(texts: Sequence[str], example: str) -> frozenset[int]:
    """Return the weekdays that texts name, Monday being 0.

    Raises:
        ValueRefused: Some of it is no weekday, or there is none.
    """
    days: set[int] = set()
    for part in [piece for text in texts for piece in _LISTED.split(text)]:
        ends = [_weekday(end, part, example) for end in _SPAN_OF_DAYS.split(part)]
        # From Monday to Monday may be one day or all seven.
        if len(ends) > len(("from", "to")) or (len(ends) > 1 and ends[0] == ends[1]):
            raise ValueRefused("weekdays-unreadable", text=shorten(part), example=example)
        span = (ends[-1] - ends[0]) % 7
        days |= {(ends[0] + step) % 7 for step in range(span + 1)}
    if not days:
        raise ValueRefused("weekdays-unreadable", text="", example=example)
    return frozenset(days)


def _weekday(text: str, part: str, example: str) -> int:
    """Return a weekday by its English name, or by its first two or three letters."""
    short = text.strip().casefold().removesuffix(".")
    for number, name in enumerate(_WEEKDAYS):
        if short in {name, f"{name}s", name[:3], name[:2]}:
            return number
    if short in _SHORT_DAYS:
        return _SHORT_DAYS[short]
    raise ValueRefused("weekdays-unreadable", text=shorten(part.strip()), example=example)
