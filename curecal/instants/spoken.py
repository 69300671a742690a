"""Days and times as people say them: yesterday 17:00, this morning, Tue 9:00, Dec 3.

What is plain is read. What can be read two ways is refused with the readings that it has.
"""

from __future__ import annotations

import re
from datetime import date, datetime, time, timedelta
from enum import StrEnum

from curecal.errors import InstantRefused

Said = datetime | date


class Toward(StrEnum):
    """Which way from now what is typed has to lie: a fact is past, an appointment is ahead.

    `until` ends a stretch that is past: a part of a day then counts from where it begins, so that
    nobody is taken to have said more than they did.
    """

    PAST = "past"
    UNTIL = "until"
    AHEAD = "ahead"


_DAYS = {"yesterday": -1, "today": 0, "tomorrow": 1}
_NOON = time(12)
# When a part of the day begins and ends. Without an hour, what lies ahead begins with it, and what
# is past was over at its end: a finish "this morning" is credited from noon.
_PARTS = {
    "morning": (time(8), _NOON),
    "afternoon": (time(13), time(18)),
    "evening": (time(20), time(23, 59)),
}
_WEEKDAYS = ("monday", "tuesday", "wednesday", "thursday", "friday", "saturday", "sunday")
_MONTHS = (
    *("january", "february", "march", "april", "may", "june", "july", "august"),
    *("september", "october", "november", "december"),
)
_SHORTEST = 3
_MONTH = "(?:" + "|".join(name[:_SHORTEST] for name in _MONTHS) + ")[a-z]*"
_WEEK = timedelta(days=7)
# Half a year off, nobody knows which year is meant.
_NEAR = timedelta(days=150)
_HALF_DAY_H = 12
_TIME = (
    r"(?P<time>noon|(?P<hour>\d\d?)(?::(?P<minute>\d\d)(?: ?(?P<half>[ap]m))?"
    r"| ?(?P<half2>[ap]m))?)"
)
# Compiled on first use, which is that of a person's words: most files have none.
_FORM = (
    r"(?:on )?(?:(?:(?P<weekday>[a-z]+)\.?,? )?"
    rf"(?:(?P<month>{_MONTH})\.? (?P<day>\d\d?)"
    rf"|(?P<day2>\d\d?)\.? (?P<month2>{_MONTH})\.?)"
    r"|(?:(?P<lead>last|next) )?(?P<word>[a-z]+)\.?"
    r"(?: (?P<part>morning|afternoon|evening|night))?)"
    rf"(?:,?(?: at)? {_TIME})?"
)
# A lone figure is an hour to one reader and a day of the month to the next.
_BARE_TIME = rf"(?!\d+$)(?:at )?{_TIME}"
_SLASHED = rf"(?P<one>\d\d?)[/.](?P<two>\d\d?)(?:[/.](?P<year>\d{{4}})|\.)?(?:,? {_TIME})?"


def spoken(text: str, now: datetime, toward: Toward | None = None) -> Said | None:
    """Return the local day, or the local day and time, that a person's words mean.

    Args:
        text: "yesterday 17:00", "this morning", "tonight", "Tue 9:00", "Dec 3", "3 Dec 5 pm".
        now: The site's local time, without a zone.
        toward: Whether it has to lie in the past or ahead; None where both can be meant.

    Returns:
        A wall time, a date where no hour was said, or None for other words. A day without its
        year is the nearest one.

    Raises:
        InstantRefused: It can be read two ways, or is too unsafe to read one way
            (`instant-unclear`, with the readings).
    """
    plain = " ".join(text.casefold().split())
    if plain == "now":
        return now
    if slashed := re.fullmatch(_SLASHED, plain, re.ASCII):
        _refuse_slashed(text, slashed, now.date())
        return None
    if bare := re.fullmatch(_BARE_TIME, plain, re.ASCII):
        return _at(text, [now.date()], bare)
    match = re.fullmatch(_FORM, plain, re.ASCII)
    if match is None:
        return None
    if match["word"] is None:
        return _dated(text, match, now.date())
    return _named(text, match, now, toward)


def check_weekday(text: str, said: Said, named: str) -> Said:
    """Return a day or a time that is of the weekday named beside it.

    Raises:
        InstantRefused: It is of another: one of the two is a slip, and nobody here knows which.
    """
    weekday = _place_of(named.casefold().rstrip(".,"), _WEEKDAYS)
    if weekday is not None and weekday != said.weekday():
        raise _unclear(text, said, said + _to_weekday(said, weekday))
    return said


def _named(text: str, match: re.Match[str], now: datetime, toward: Toward | None) -> Said | None:
    """Return a day or a part of one: "tomorrow", "tonight", "yesterday evening", "Tue"."""
    lead, word, part = match["lead"], match["word"], match["part"]
    if word == "tonight" and part is None:
        word, part = "today", "evening"
    if word == "this" and part is not None:
        word = "today"
    if lead == "last" and word == "night":
        # Half of the people mean the evening, half the small hours.
        yesterday = now.date() - timedelta(days=1)
        raise _unclear(
            text, datetime.combine(yesterday, time(22)), datetime.combine(now.date(), time(2))
        )
    if lead is not None or word not in _DAYS:
        return _weekday_of(text, match, now, toward)
    day = now.date() + timedelta(days=_DAYS[word])
    if part == "night":
        part = "evening"
    if match["time"] is not None:
        return _at(text, [day], match, part)
    if part is None:
        return day
    begins, ends = (datetime.combine(day, wall) for wall in _PARTS[part])
    return begins if toward is not Toward.PAST or begins > now else min(ends, now)


def _weekday_of(
    text: str, match: re.Match[str], now: datetime, toward: Toward | None
) -> Said | None:
    """Return the day of a weekday: the last one for a fact, the next one for an appointment."""
    lead = match["lead"]
    number = _place_of(match["word"], _WEEKDAYS)
    if number is None or match["part"]:
        return None
    today = now.date()
    coming = today + timedelta(days=(number - today.weekday()) % 7)
    # Today's own weekday without more is today.
    before = coming if coming == today and lead is None else coming - _WEEK
    if lead == "last":
        days = [before, before - _WEEK]
    elif lead == "next":
        first = coming + _WEEK if coming == today else coming
        days = [first, first + _WEEK]
    elif toward is None:
        days = [before] if before == coming else [before, coming]
    else:
        days = [coming if toward is Toward.AHEAD else before]
    said = _at(text, days, match)
    if lead is None and before == coming and isinstance(said, datetime):
        # Of a time today that has passed, or is to come, the other week's can be meant.
        if toward in {Toward.PAST, Toward.UNTIL} and said > now:
            return said - _WEEK
        if toward is Toward.AHEAD and said < now:
            return said + _WEEK
    return said


def _dated(text: str, match: re.Match[str], today: date) -> Said | None:
    """Return a day of a month; without its year the nearest: "Dec 3", "Thu 3 Dec 14:30"."""
    named = match["weekday"]
    days = _days(match, today)
    if not days or (named is not None and _place_of(named, _WEEKDAYS) is None):
        return None
    if match["hour"] and not (match["minute"] or match["half2"]):
        # Behind a day and a month a lone figure may be an hour or a year.
        return None
    said = _at(text, days, match)
    return said if said is None or named is None else check_weekday(text, said, named)


def _days(match: re.Match[str], today: date) -> list[date]:
    """Return the day that a match names; of several years the two nearest, if none is near."""
    month = _place_of(match["month"] or match["month2"], _MONTHS)
    if month is None:
        return []
    number = int(match["day"] or match["day2"])
    years = (today.year - 1, today.year, today.year + 1)
    days = [day for year in years if (day := _day(year, month + 1, number)) is not None]
    days.sort(key=lambda day: abs(day - today))
    near = [day for day in days if abs(day - today) <= _NEAR]
    return near[:1] or sorted(days[:2])


def _to_weekday(day: date, weekday: int) -> timedelta:
    """Return how far the nearest day of a weekday is from a day."""
    ahead = (weekday - day.weekday()) % 7
    return timedelta(days=ahead if 2 * ahead <= _WEEK.days else ahead - _WEEK.days)


def _refuse_slashed(text: str, match: re.Match[str], today: date) -> None:
    """Refuse a day in figures: nobody can tell whether its month or its day stands first.

    Raises:
        InstantRefused: It can be a day in one way, or in two.
    """
    year = int(match["year"] or today.year)
    one, two = int(match["one"]), int(match["two"])
    readings = [_day(year, one, two), _day(year, two, one)]
    days = list(dict.fromkeys(day for day in readings if day is not None))
    if days:
        raise _unclear(text, *days)


def _at(text: str, days: list[date], match: re.Match[str], part: str | None = None) -> Said | None:
    """Return the only day and time that is meant; None where there is no such time.

    Raises:
        InstantRefused: There are several.
    """
    if match["time"] is None:
        readings: list[Said] = list(days)
    else:
        readings = [datetime.combine(day, wall) for day in days for wall in _walls(match)]
        if part == "evening":
            readings = _of_the_night(readings)
        if part == "morning":
            readings = [at for at in readings if isinstance(at, datetime) and at.time() <= _NOON]
        if part == "afternoon":
            readings = [at for at in readings if isinstance(at, datetime) and at.time() >= _NOON]
    if len(readings) > 1:
        raise _unclear(text, *readings[:2])
    return readings[0] if readings else None


def _of_the_night(readings: list[Said]) -> list[Said]:
    """Return the readings of a night: an hour before noon may be of the next day."""
    walls = [at for at in readings if isinstance(at, datetime)]
    late = [at for at in walls if at.time() >= _NOON]
    return [*late] if late else [*walls, *(at + timedelta(days=1) for at in walls)]


def _walls(match: re.Match[str]) -> list[time]:
    """Return the times of day that a time can mean; none where there is no such time."""
    if match["hour"] is None:
        return [_NOON]
    hour, half = int(match["hour"]), match["half"] or match["half2"]
    hours = [hour]
    if half is not None:
        if not 1 <= hour <= _HALF_DAY_H:
            return []
        # Twelve begins its half of the day: 12:30 am is 0:30, 12:30 pm is 12:30.
        hours = [hour % _HALF_DAY_H + (_HALF_DAY_H if half == "pm" else 0)]
    elif match["minute"] is None and 1 <= hour <= _HALF_DAY_H:
        # "At 5" is five in the morning for nobody, or for the night shift.
        hours = [hour % _HALF_DAY_H, hour % _HALF_DAY_H + _HALF_DAY_H]
    try:
        return [time(hour, int(match["minute"] or 0)) for hour in hours]
    except ValueError:
        return []


def _place_of(name: str, names: tuple[str, ...]) -> int | None:
    """Return which of some names is meant, by its first three letters at least."""
    found = [at for at, full in enumerate(names) if full.startswith(name)]
    return found[0] if len(name) >= _SHORTEST and found else None


def _day(year: int, month: int, day: int) -> date | None:
    try:
        return date(year, month, day)
    except ValueError:
        return None


def _unclear(text: str, first: Said, second: Said | None = None) -> InstantRefused:
    """Return the refusal of words, with what they can mean."""
    example = f"{first:%Y-%m-%d %H:%M}" if isinstance(first, datetime) else first.isoformat()
    return InstantRefused("instant-unclear", text=text, first=first, second=second, example=example)
