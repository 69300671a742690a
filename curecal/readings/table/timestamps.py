"""Dates and times of a logger's rows: recognized once by their form, then read by look-up.

A row's wall time is kept as one number: the place of its date among the dates met so far, times
`RADIX`, plus the seconds of its day and one day more, so that an offset cannot make it negative.
What day a date is, is decided when all of them are known.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from dataclasses import replace
from datetime import UTC, date, datetime, time
from enum import StrEnum

from curecal.readings.table.export_types import Order
from curecal.records import Record, record

# The least power of two with room for three days, so that it can be split by shifts.
RADIX = 1 << 18
DAY_S = 86_400
_FIRST_YEAR, _LAST_YEAR = 2000, 2100
_CENTURY = 2000
_FULL_YEAR, _SHORT = 4, 2
_PAIR = 2
# No date and time in one cell are shorter.
_SHORTEST = 9
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
    r"(?:\s?(?P<half>[ap])\.?m\.?)?(?:\s?(?P<off>z|[+-]\d\d(?::?\d\d)?))?"
    r"(?:\s(?P<name>(?-i:[A-Z]{3,5})))?\s*",
    re.ASCII | re.IGNORECASE,
)
_JOINERS = ("T", ",", " ")
SPELLED = re.compile(
    rf"(?<!\d)(?:{_DAY_FIRST})(?!\d)|(?<!\d)(?P<iso>\d{{4}}-\d\d-\d\d)(?!\d)",
    re.ASCII | re.IGNORECASE,
)

Triple = tuple[str, str, str]
Stamp = tuple[int, ...]


class Style(StrEnum):
    """How an instant is laid out, where it is not a date with its time behind it."""

    PLAIN = ""
    TURNED = "turned"
    PACKED = "packed"
    SECONDS = "seconds"
    MILLISECONDS = "milliseconds"
    PARTS = "parts"


_STYLES = {
    Style.TURNED: re.compile(
        r"(?P<time>\d{1,2}:\d\d(?::\d\d(?:[.,]\d{1,9})?)?(?:\s?[ap]\.?m\.?)?),?\s+(?P<day>\S.*)",
        re.ASCII | re.IGNORECASE,
    ),
    Style.PACKED: re.compile(r"(\d{4})(\d\d)(\d\d)[_T -](\d\d)(\d\d)(\d\d)?", re.ASCII),
    # Ten digits of seconds that begin with 1 are of 2001 to 2033.
    Style.SECONDS: re.compile(r"1\d{9}(?:\.\d{1,9})?", re.ASCII),
    Style.MILLISECONDS: re.compile(r"1\d{12}", re.ASCII),
}
COUNTED = frozenset({Style.SECONDS, Style.MILLISECONDS})
PARTS = ("year", "month", "day", "hour", "minute", "second")
"""Names of columns that an instant is parted into; the last two need not be there."""
LEAST_PARTS = 4


@record
class Form(Record):
    """How a file writes its instants.

    `kind` says what the date is made of (figures, a month's name after or before the day);
    `joiner` stands between date and time, empty where they have a column each; `half` says
    whether AM or PM is written; `offset` whether every row has its own; `named` whether the
    letters of a time zone stand behind the time.
    """

    kind: int
    separator: str
    year_first: bool
    joiner: str
    half: bool
    offset: bool
    named: bool = False
    style: Style = Style.PLAIN


def form_of(fields: Sequence[str]) -> tuple[Stamp, Form] | None:
    """Return in which columns of a row its instant stands, and its form; None without one."""
    return next(forms_of(fields), None)


def forms_of(fields: Sequence[str]) -> Iterator[tuple[Stamp, Form]]:
    """Return every place of a row in which an instant may stand, the surest first."""
    stamps: list[Stamp] = [
        (index,) for index, field in enumerate(fields) if len(field) >= _SHORTEST
    ]
    clocks = [index for index, field in enumerate(fields) if ":" in field]
    stamps += [(clock + step, clock) for step in (-1, 1) for clock in clocks if clock + step >= 0]
    counted: list[tuple[Stamp, Form]] = []
    for stamp in stamps:
        form = form_at(fields, stamp)
        if form is not None and form.style in COUNTED:
            counted.append((stamp, form))
        elif form is not None:
            yield stamp, form
    # Many a figure has ten digits: it is an instant where nothing else is one.
    yield from counted


def form_at(fields: Sequence[str], stamp: Stamp) -> Form | None:
    """Return the form of the instant in certain columns of a row; None where there is none."""
    if max(stamp) >= len(fields):
        return None
    if len(stamp) > 1:
        day, hour = split_stamp(fields, stamp, Style.PARTS if len(stamp) > _PAIR else Style.PLAIN)
        form = _form(day, hour, "")
        return form if form is None or len(stamp) == _PAIR else replace(form, style=Style.PARTS)
    text = fields[stamp[0]]
    for joiner in _JOINERS if ":" in text else ():
        day, hour = split_timestamp(text, joiner)
        form = _form(day, hour, joiner) if hour else None
        if form is not None:
            return form
    for style, pattern in _STYLES.items():
        if pattern.fullmatch(text):
            form = _form(*_styled(text, style), " ")
            return None if form is None else replace(form, style=style)
    return None


def split_stamp(
    cells: Sequence[str], stamp: Stamp, style: Style, joiner: str = ""
) -> tuple[str, str]:
    """Return the date and the time of a row, each as text in a usual way of writing.

    Raises:
        ValueError: It is not laid out so.
        IndexError: The row is shorter.
    """
    if style is Style.PARTS:
        figures = [cells[index].strip() for index in stamp]
        hour, *rest = figures[3:]
        return "-".join(figures[:3]), ":".join([hour, *(part.zfill(2) for part in rest or ["0"])])
    if style is not Style.PLAIN:
        return _styled(cells[stamp[0]], style)
    if joiner:
        return split_timestamp(cells[stamp[0]], joiner)
    day, hour = (cells[index] for index in stamp)
    return day.strip(), hour


def _styled(text: str, style: Style) -> tuple[str, str]:
    match = _STYLES[style].fullmatch(text.strip())
    if match is None:
        raise ValueError(text)
    if style is Style.TURNED:
        return match["day"], match["time"]
    if style is Style.PACKED:
        year, month, day, hour, minute, second = match.groups("00")
        return f"{year}-{month}-{day}", f"{hour}:{minute}:{second}"
    since_s = float(text) / (1000 if style is Style.MILLISECONDS else 1)
    at = datetime.fromtimestamp(int(since_s), UTC)
    return f"{at:%Y-%m-%d}", f"{at:%H:%M:%S}Z"


def is_time(text: str) -> bool:
    """Return whether a text is a time of day and nothing else."""
    return _TIME.fullmatch(text) is not None


def is_of_instant(text: str) -> bool:
    """Return whether a text is a date, a time of day, or both."""
    dated = any(pattern.fullmatch(text) for pattern in _DATES)
    return dated or is_time(text) or form_at((text,), (0,)) is not None


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
            named = clock["name"] is not None
            if named and offset:
                return None
            return Form(kind, match["s"], year_first, joiner, half, offset, named)
    return None


def with_zone_name(day: str, hour: str) -> str:
    """Return a date with the letters of a time zone that stand behind its time."""
    return f"{day} {hour.rpartition(' ')[2]}"


class Dates(dict[str, int]):
    """Texts of dates to their place among the dates met, times `RADIX`, plus a day.

    Where the letters of a time zone stand behind the times, they stand behind the texts of the
    dates here, and `names` has them by place: a day of two of them has two places.
    """

    def __init__(self, form: Form) -> None:
        super().__init__()
        self.form = form
        self.triples: list[Triple] = []
        self.names: list[str] = []
        self._places: dict[tuple[Triple, str], int] = {}

    def __missing__(self, text: str) -> int:
        """Read a date met for the first time; raises `ValueError` where it has another form."""
        day, _, name = text.rpartition(" ") if self.form.named else (text, "", "")
        match = _DATES[self.form.kind].fullmatch(day.strip())
        if match is None or match["s"] != self.form.separator:
            raise ValueError(text)
        if self.form.kind == 0:
            if (len(match["a"]) == _FULL_YEAR) is not self.form.year_first:
                raise ValueError(text)
            triple = (match["a"], match["b"], match["c"])
        else:
            # A month's name settles the order, so the figures are kept in one.
            triple = (match["y"], str(_month(match["m"])), match["d"])
        place = self._places.setdefault((triple, name), len(self.triples))
        if place == len(self.triples):
            self.triples.append(triple)
            self.names.append(name)
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
        if (match["name"] is not None) is not self.form.named:
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
