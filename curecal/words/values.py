"""A parameter as its reader sees it: formatted by the ending of its name.

`_s` duration, `_c` temperature, `_k` difference, `_m` length, `_m2` area, `_fraction` and `_rh`
percent, `_kgm2s` evaporation, `_ohm`, `_v`, `_w`, `_a`, `_at` instant, `_on` day, `_ratio` four
significant digits, `_count` whole number. What people typed stands as they typed it, without
control characters.
"""

from __future__ import annotations

import functools
import re
import unicodedata
from collections.abc import Callable
from datetime import UTC, date, datetime, timedelta, tzinfo
from enum import Enum

from curecal.records import Record, record
from curecal.trade.job import Code, Units
from curecal.units import (
    show_area,
    show_current,
    show_duration,
    show_evaporation,
    show_length,
    show_percent,
    show_power,
    show_resistance,
    show_set_point,
    show_step,
    show_temperature,
    show_voltage,
)
from curecal.words.catalogue import Catalogue

FAMILIES = {Code.NEC: "north_american", Code.CEC: "north_american", Code.BS_7671: "british"}
NEUTRAL_FAMILY = "neutral"
# Within half a year a day and a month can mean only one year.
NEAR_DAYS = 180

# Limits and settings are rounded down, so that nobody is shown more than is allowed.
_SETTINGS = frozenset({"limit_c", "to_c", "target_c"})
# What has happened: shown as the log shows it, rounded down. All that lies ahead is rounded up, so
# that one instant is one minute wherever it is shown.
_HAPPENED = frozenset(
    f"{name}_at"
    for name in (
        "as_of",
        "cold",
        "connected",
        "corrected",
        "covered",
        "done",
        "earlier",
        "energized",
        "entry",
        "file",
        "finish",
        "first",
        "frozen",
        "heated",
        "jumped",
        "laid",
        "last",
        "later",
        "log",
        "happened",
        "marked",
        "next",
        "now",
        "on",
        "recorded",
        "released",
        "resumed",
        "seen",
        "set",
        "signed",
        "since",
        "sounded",
        "stopped",
        "tested",
        "thawed",
        "told",
        "under",
        "was",
    )
)
# A room as such is a zone's own name.
_SHARED_GROUPS = {"covering_kind": "kind", "room": "room_kind"}
_CAPITAL = re.compile(r"(?<=[a-z])(?=[A-Z])")
_MINUTE = timedelta(minutes=1)
_POINT = re.compile(r"(?<=\d)\.(?=\d)")
_ELECTRICAL = re.compile(r"\{word_([a-z]+)\}")
_LINE_ENDS = frozenset("\n\r\t\u2028\u2029")
# Signs that turn the reading direction could make a line say something else than it does.
_DIRECTIONS = frozenset(
    "\u061c\u200e\u200f\u202a\u202b\u202c\u202d\u202e\u2066\u2067\u2068\u2069\ufeff"
)


@record
class Reader(Record):
    """For whom a value is shown: units, zone of the site, electrical code.

    `tz` is None where no site is known: then an instant is shown in its own zone.
    `today` is the local day of a text that is read now: days within six months of it are shown
    without their year. A text that is kept, such as a calendar entry, has None and shows years.
    """

    units: Units = Units.METRIC
    tz: tzinfo | None = None
    code: Code = Code.OTHER
    today: date | None = None

    @property
    def site_tz(self) -> tzinfo:
        """The zone of the site; UTC where none is known."""
        return self.tz or UTC

    @property
    def family(self) -> str:
        """Whose electrical words are used."""
        return FAMILIES.get(self.code, NEUTRAL_FAMILY)


def clean(text: str) -> str:
    """Return a text in one line: no control or direction signs, line ends as spaces."""
    # What prints holds none of them: most texts are looked through only once.
    if text.isprintable():
        return text
    kept = (" " if sign in _LINE_ENDS else sign for sign in text)
    return "".join(
        sign
        for sign in kept
        if sign not in _DIRECTIONS and unicodedata.category(sign) not in {"Cc", "Cs"}
    )


def show(name: str, value: object, catalogue: Catalogue, reader: Reader) -> str:
    """Return a parameter's value as text."""
    match value:
        case None:
            text = catalogue.text("value.none").other
        case datetime():
            text = show_at(value, catalogue, reader, down=name in _HAPPENED)
        case date():
            text = show_day(value, catalogue, reader.today)
        case bool():
            text = catalogue.text(f"value.{'true' if value else 'false'}").other
        case int() | float():
            text = _number(name, float(value), catalogue, reader)
        case str() | Enum():
            text = _word(name, value, catalogue, reader)
        case tuple() | list():
            text = ", ".join(show(name, one, catalogue, reader) for one in value)
        case _:
            text = clean(str(value))
    return text


def show_day(day: date, catalogue: Catalogue, today: date | None = None) -> str:
    """Return a day: "Mon 4 Jan 2027", or "Mon 4 Jan" within six months of `today`."""
    weekday = catalogue.text(f"weekday.{day.isoweekday()}").other
    shown = f"{weekday} {short_day(day, catalogue)}"
    return shown if today is not None and not is_far(day, today) else f"{shown} {day.year}"


def is_far(day: date, today: date) -> bool:
    """Return whether a day needs its year beside it: it is over six months from `today`."""
    return abs((day - today).days) > NEAR_DAYS


def short_day(day: date, catalogue: Catalogue) -> str:
    """Return a day in its year: "4 Jan"."""
    form = catalogue.text("value.day-of-month").other
    month = catalogue.text(f"month.{day.month}").other
    return form.replace("{day}", str(day.day)).replace("{month}", month)


def show_at(at: datetime, catalogue: Catalogue, reader: Reader, *, down: bool = False) -> str:
    """Return an instant in the site's time: "Mon 4 Jan 2027, 15:10", up to the full minute."""
    whole = at.astimezone(UTC).replace(second=0, microsecond=0)
    if whole != at and not down:
        whole += _MINUTE
    local = whole.astimezone(reader.tz or at.tzinfo)
    return f"{show_day(local.date(), catalogue, reader.today)}, {local:%H:%M}"


def electrical(text: str, catalogue: Catalogue, reader: Reader) -> str:
    """Return one of our texts with the electrical words of the job's code: ground or earth."""

    def fill(match: re.Match[str]) -> str:
        return catalogue.text(f"electrical.{reader.family}.{match[1]}").other

    return _ELECTRICAL.sub(fill, text)


def _word(name: str, value: str | Enum, catalogue: Catalogue, reader: Reader) -> str:
    """Return a word of ours in the reader's language, or what a person typed."""
    text = str(value.value) if isinstance(value, Enum) else value
    own = (_group_of(type(value)),) if isinstance(value, Enum) else ()
    for group in (name, *own):
        key = f"name.{group}.{text}"
        if key in catalogue:
            return electrical(catalogue.text(key).other, catalogue, reader)
    return clean(text)


@functools.cache
def _group_of(choice: type[Enum]) -> str:
    """Return the group of names of a closed choice: `TripTest` has `trip_test`."""
    group = _CAPITAL.sub("_", choice.__name__).lower()
    return _SHARED_GROUPS.get(group, group)


def _number(name: str, value: float, catalogue: Catalogue, reader: Reader) -> str:
    ending = name.rpartition("_")[2]
    if name in _SETTINGS:
        shown = show_set_point(value, reader.units.value, both=True)
    elif ending == "s":
        shown = _duration(value, catalogue)
    elif ending == "kgm2s":
        shown = _evaporation(value, catalogue, reader)
    elif ending in _WITH_UNITS:
        shown = _WITH_UNITS[ending](value, reader)
    elif ending in _PLAIN:
        shown = _PLAIN[ending](value)
    else:
        shown = f"{value:.10g}"
    return with_decimal_sign(shown, catalogue)


def with_decimal_sign(shown: str, catalogue: Catalogue) -> str:
    """Return a number of ours with the decimal sign of the reader's language."""
    sign = catalogue.text("value.decimal-sign").other
    return shown if sign == "." else _POINT.sub(sign, shown)


def _duration(value_s: float, catalogue: Catalogue) -> str:
    shown = show_duration(value_s)
    if not shown.endswith(" d"):
        return shown
    number = shown.removesuffix(" d")
    return f"{number} {catalogue.text('value.days').form(float(number), catalogue.language)}"


def _evaporation(value_kgm2s: float, catalogue: Catalogue, reader: Reader) -> str:
    amount = show_evaporation(value_kgm2s, reader.units.value).removesuffix(" in 24 h")
    return f"{amount} {catalogue.text('value.in-a-day').other}"


_WITH_UNITS: dict[str, Callable[[float, Reader], str]] = {
    "c": lambda value, reader: show_temperature(value, reader.units.value),
    "k": lambda value, reader: show_step(value, reader.units.value),
    "m": lambda value, reader: show_length(value, reader.units.value),
    "m2": lambda value, reader: show_area(value, reader.units.value),
}
_PLAIN: dict[str, Callable[[float], str]] = {
    "fraction": show_percent,
    "rh": show_percent,
    "ohm": show_resistance,
    "v": show_voltage,
    "w": show_power,
    "a": show_current,
    "ratio": lambda value: f"{value:.4g}",
    "count": lambda value: f"{value:.0f}",
}
