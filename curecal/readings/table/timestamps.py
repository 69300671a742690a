"""Dates and times of a logger's rows: recognized once by their form, then read by look-up.

A row's wall time is kept as one number: the place of its date among the dates met so far, times
`RADIX`, plus the seconds of its day and one day more, so that an offset cannot make it negative.
What day a date is, is decided when all of them are known.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from datetime import date, time

from curecal.readings.table.export_types import Order
from curecal.records import Record, record

RADIX = 1 << 18
DAY_S = 86_400
_FIRST_YEAR, _LAST_YEAR = 2000, 2100
_CENTURY = 2000
_FULL_YEAR, _SHORT = 4, 2
_NOON = 12

_MONTHS = ("jan", "feb", "mar", "apr", "may", "jun", "jul", "aug", "sep", "oct", "nov", "dec")
_NAMES = "|".join(_MONTHS)
_MONTH = rf"(?:{_NAMES})[a-z]{{0,6}}\.?"
_FIGURES = r"(?P<a>\d{1,4})(?P<s>[-/.])(?P<b>\d{1,2})(?P=s)(?P<c>\d{2,4})"
_DAY_FIRST = rf"(?P<d>\d{{1,2}})(?P<s>[-/. ])(?P<m>{_MONTH})(?P=s)(?P<y>\d{{2}}|\d{{4}})"
_MONTH_FIRST = rf"(?P<m>{_MONTH}) (?P<d>\d{{1,2}})(?P<s>,? )(?P<y>\d{{4}})"
_DATES = tuple(
    re.compile(form, re.ASCII | re.IGNORECASE) for form in (_FIGURES, _DAY_FIRST, _MONTH_FIRST)
)
_TIME = re.compile(
    r"\s*(?P<h>\d{1,2}):(?P<min>\d\d)(?::(?P<s>\d\d)(?:[.,]\d{1,9})?)?"
    r"(?:\s?(?P<half>[ap])\.?m\.?)?(?:\s?(?P<off>z|[+-]\d\d:?\d\d))?\s*",
    re.ASCII | re.IGNORECASE,
)
_JOINERS = ("T", ",", " ")
SPELLED = re.compile(
    rf"(?<!\d)(?:{_DAY_FIRST})(?!\d)|(?<!\d)(?P<iso>\d{{4}}-\d\d-\d\d)(?!\d)",
    re.ASCII | re.IGNORECASE,
)

Triple = tuple[str, str, str]


@record
class Form(Record):
    """How a file writes its instants.

    `kind` says what the date is made of (figures, a month's name after or before the day);
    `joiner` stands between date and time, empty where they have a column each; `half` says
    whether AM or PM is written; `offset` whether every row has its own.
    """

    kind: int
    separator: str
    year_first: bool
    joiner: str
    half: bool
    offset: bool


def form_of(fields: Sequence[str]) -> tuple[tuple[int, ...], Form] | None:
    """Return in which columns of a row its instant stands, and its form; None without one."""
    for index, field in enumerate(fields):
        if ":" not in field:
            continue
        for joiner in _JOINERS:
            day, hour = split_timestamp(field, joiner)
            form = _form(day, hour, joiner) if hour else None
            if form is not None:
                return (index,), form
    for index, field in enumerate(fields):
        for other in (index + 1, index - 1):
            if 0 <= other < len(fields):
                form = _form(field, fields[other], "")
                if form is not None:
                    return (index, other), form
    return None


def is_time(text: str) -> bool:
    """Return whether a text is a time of day and nothing else."""
    return _TIME.fullmatch(text) is not None


def split_timestamp(text: str, joiner: str) -> tuple[str, str]:
    """Return the date and the time of a text; the last joiner before the first colon parts them."""
    before, colon, after = text.partition(":")
    day, _, hour = before.rstrip().rpartition(joiner)
    return day.strip(), f"{hour}{colon}{after}"


def _form(day: str, hour: str, joiner: str) -> Form | None:
    clock = _TIME.fullmatch(hour)
    if clock is None:
        return None
    for kind, pattern in enumerate(_DATES):
        match = pattern.fullmatch(day)
        if match is not None:
            year_first = kind == 0 and len(match["a"]) == _FULL_YEAR
            half, offset = clock["half"] is not None, clock["off"] is not None
            return Form(kind, match["s"], year_first, joiner, half, offset)
    return None


class Dates(dict[str, int]):
    """Texts of dates to their place among the dates met, times `RADIX`, plus a day."""

    def __init__(self, form: Form) -> None:
        super().__init__()
        self.form = form
        self.triples: list[Triple] = []
        self._places: dict[Triple, int] = {}

    def __missing__(self, text: str) -> int:
        """Read a date met for the first time; raises `ValueError` where it has another form."""
        match = _DATES[self.form.kind].fullmatch(text.strip())
        if match is None or match["s"] != self.form.separator:
            raise ValueError(text)
        if self.form.kind == 0:
            if (len(match["a"]) == _FULL_YEAR) is not self.form.year_first:
                raise ValueError(text)
            triple = (match["a"], match["b"], match["c"])
        else:
            # A month's name settles the order, so the figures are kept in one.
            triple = (match["y"], str(_month(match["m"])), match["d"])
        place = self._places.setdefault(triple, len(self.triples))
        if place == len(self.triples):
            self.triples.append(triple)
        self[text] = value = place * RADIX + DAY_S
        return value

    def orders(self) -> tuple[Order, ...]:
        """Return the orders that the form leaves open."""
        if self.form.kind or self.form.year_first:
            return (Order.YMD,)
        if any(len(triple[2]) == _FULL_YEAR for triple in self.triples):
            return (Order.DMY, Order.MDY)
        return tuple(Order)


class Times(dict[str, int]):
    """Texts of times to seconds since midnight; with an offset of their own, since UTC's."""

    def __init__(self, form: Form) -> None:
        super().__init__()
        self.form = form

    def __missing__(self, text: str) -> int:
        """Read a time met for the first time; raises `ValueError` where it has another form."""
        match = _TIME.fullmatch(text)
        if match is None or (match["half"] is not None) is not self.form.half:
            raise ValueError(text)
        if (match["off"] is not None) is not self.form.offset:
            raise ValueError(text)
        hour, minute, second = int(match["h"]), int(match["min"]), int(match["s"] or 0)
        if match["half"]:
            if not 1 <= hour <= _NOON:
                raise ValueError(text)
            hour = hour % _NOON + (_NOON if match["half"] in "pP" else 0)
        # A clock's face, and nothing beside it: this refuses 24:00 and a leap second.
        wall = time(hour, minute, second)
        since_s = wall.hour * 3600 + wall.minute * 60 + wall.second
        self[text] = value = since_s - offset_s(match["off"])
        return value


def offset_s(text: str | None) -> int:
    """Return an offset from UTC [s] of "-05:00", "+0130", "Z" or nothing."""
    if text is None or text in "zZ":
        return 0
    figures = text[1:].replace(":", "")
    found = int(figures[:2]) * 3600 + int(figures[2:] or 0) * 60
    return -found if text[0] == "-" else found


def day_of(triple: Triple, order: Order) -> date | None:
    """Return the day that three figures are in an order; None where they are none."""
    if order is Order.YMD:
        year, month, day = triple
    elif order is Order.DMY:
        day, month, year = triple
    else:
        month, day, year = triple
    if len(year) not in {_SHORT, _FULL_YEAR} or max(len(day), len(month)) > _SHORT:
        return None
    whole = int(year) if len(year) == _FULL_YEAR else _CENTURY + int(year)
    if not _FIRST_YEAR <= whole <= _LAST_YEAR:
        return None
    try:
        return date(whole, int(month), int(day))
    except ValueError:
        return None


def spelled_days(text: str) -> list[date]:
    """Return the days in a text whose month is spelled out, or that stand in ISO form."""
    found = []
    for match in SPELLED.finditer(text):
        if match["iso"]:
            triple: Triple = (match["iso"][:4], match["iso"][5:7], match["iso"][8:])
        else:
            triple = (match["y"], str(_month(match["m"])), match["d"])
        day = day_of(triple, Order.YMD)
        if day is not None:
            found.append(day)
    return found


def _month(name: str) -> int:
    return _MONTHS.index(name[:3].lower()) + 1
