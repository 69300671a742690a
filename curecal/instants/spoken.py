"""Days and times as people say them: yesterday 17:00, tomorrow, tonight, Dec 3."""

from __future__ import annotations

import re
from datetime import date, datetime, time, timedelta

_DAYS = {"yesterday": -1, "today": 0, "tonight": 0, "tomorrow": 1}
# Tonight without an hour is the evening, when somebody comes home and asks.
_EVENING, _NOON = time(20), time(12)
_MONTHS = (
    *("january", "february", "march", "april", "may", "june", "july", "august"),
    *("september", "october", "november", "december"),
)
# Half a year off, nobody knows which year is meant.
_NEAR = timedelta(days=150)
_FORM = re.compile(
    r"(?:(?P<word>[a-z]+)|(?P<month>[a-z]+)\.? (?P<day>\d\d?)"
    r"|(?P<day2>\d\d?)\.? (?P<month2>[a-z]+))"
    r"(?:,?(?: at)? (?P<time>noon|(?P<hour>\d\d?)"
    r"(?::(?P<minute>\d\d)(?: ?(?P<half>[ap]m))?| ?(?P<half2>[ap]m))))?",
    re.ASCII,
)
_HALF_DAY_H = 12


def spoken(text: str, now: datetime) -> datetime | date | None:
    """Return the local day, or the local day and time, that a person's words mean.

    Args:
        text: "yesterday 17:00", "tomorrow", "tonight", "Dec 3", "3 Dec 5 pm".
        now: The site's local time, without a zone.

    Returns:
        A wall time, a date where no hour was said, or None for what is not plain. A day without
        its year is the nearest one.
    """
    match = _FORM.fullmatch(" ".join(text.casefold().split()))
    if match is None:
        return None
    if match["word"] == "now" and match["time"] is None:
        return now
    day = _day(match, now.date())
    if day is None:
        return None
    is_night = match["word"] == "tonight"
    if match["time"] is None:
        return datetime.combine(day, _EVENING) if is_night else day
    wall = _wall(match)
    # Two o'clock tonight is tomorrow's for some, and none at all for others.
    if wall is None or (is_night and wall < _NOON):
        return None
    return datetime.combine(day, wall)


def _day(match: re.Match[str], today: date) -> date | None:
    if match["word"] is not None:
        steps = _DAYS.get(match["word"])
        return None if steps is None else today + timedelta(days=steps)
    name, number = match["month"] or match["month2"], int(match["day"] or match["day2"])
    month = next((i for i, full in enumerate(_MONTHS, 1) if name in {full, full[:3]}), None)
    if month is None:
        return None
    for year in (today.year - 1, today.year, today.year + 1):
        try:
            found = date(year, month, number)
        except ValueError:
            continue
        if abs(found - today) <= _NEAR:
            return found
    return None


def _wall(match: re.Match[str]) -> time | None:
    if match["hour"] is None:
        return _NOON
    hour, half = int(match["hour"]), match["half"] or match["half2"]
    if half is not None:
        if not 1 <= hour <= _HALF_DAY_H:
            return None
        # Twelve begins its half of the day: 12:30 am is 0:30, 12:30 pm is 12:30.
        hour = hour % _HALF_DAY_H + (_HALF_DAY_H if half == "pm" else 0)
    try:
        return time(hour, int(match["minute"] or 0))
    except ValueError:
        return None
