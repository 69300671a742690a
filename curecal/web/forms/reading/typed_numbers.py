"""Numbers as people type them on a telephone: with point or comma, with a unit or without.

The figure goes on to the one reader of quantities, in the form that it reads. What two people read
differently is asked about, and never chosen here.
"""

from __future__ import annotations

import re

from curecal.records import Record, record
from curecal.trade.job import Units
from curecal.web.forms.form_types import UnitOf

_LONGEST = 60
# A comparison, a figure, and what is left: its unit.
_TYPED = re.compile(
    r"(?P<more>(?:>=?|≥)?) ?(?P<figure>[-+]? ?\d(?:[\d.,' ]*\d)?) ?(?P<unit>[a-zA-Z°%Ωµ][^\d/]*)?",
    re.ASCII,
)
_DIGITS = re.compile(r"\d+", re.ASCII)
_THREE = re.compile(r"[1-9]\d{0,2}[.,]\d{3}", re.ASCII)
_GROUPED = re.compile(r"[1-9]\d{0,2}(?P<sign>[., '])\d{3}(?:(?P=sign)\d{3})*", re.ASCII)
_DECIMAL = re.compile(r"\d+[.,]\d+", re.ASCII)
_MIXED = re.compile(
    r"(?P<whole>[1-9]\d{0,2}(?:(?P<sign>[., '])\d{3})+)(?!(?P=sign))[.,](?P<part>\d+)",
    re.ASCII,
)
# What telephones write for a minus, an apostrophe, a blank and an ohm.
_LOOK_ALIKES = str.maketrans(
    {"\u2212": "-", "\u2013": "-", "\u2019": "'", "\u00a0": " ", "\u202f": " ", "\u2126": "Ω"}
)
_BLANKS = re.compile(" +")

# Nobody's room under a floor is outside: what is, was typed in the other unit.
_USUAL_C = (2.0, 45.0)
_UNITS = {
    UnitOf.HUMIDITY: "%",
    UnitOf.OHM: "Ω",
    UnitOf.KILOOHM: "kΩ",
    UnitOf.MEGAOHM: "MΩ",
    UnitOf.VOLT: "V",
    UnitOf.MILLIAMPERE: "mA",
    UnitOf.MILLISECOND: "ms",
    UnitOf.HOUR: "h",
    UnitOf.MOISTURE: "%",
}


@record
class TypedNumber(Record):
    """What a number was taken for: a text with its unit, or the readings between which to choose.

    `text` is empty where the readings are to be asked about.
    """

    text: str
    readings: tuple[str, ...] = ()


def unit_beside(unit: UnitOf, units: Units) -> str:
    """Return the unit that stands beside a field.

    Args:
        unit: What the number is of.
        units: The job's units.
    """
    if unit is UnitOf.TEMPERATURE:
        return "°F" if units is Units.IMPERIAL else "°C"
    if unit is UnitOf.LENGTH:
        return "in" if units is Units.IMPERIAL else "mm"
    return _UNITS[unit]


def typed_number(text: str, unit: UnitOf, units: Units, *, meant: str = "") -> TypedNumber:
    """Return a number as the reader of quantities takes it; a unit that was typed wins.

    Args:
        text: What was typed.
        unit: What the number is of.
        units: The job's units.
        meant: Which reading was chosen, where somebody was asked.

    Returns:
        The text with its unit; or the readings that it can have. What is no number at all stays as
        it was typed, and is refused by whoever reads it.
    """
    plain = _BLANKS.sub(" ", text.translate(_LOOK_ALIKES)).strip()[:_LONGEST]
    match = _TYPED.fullmatch(plain)
    if match is None:
        return TypedNumber(plain)
    typed_unit = (match["unit"] or "").strip()
    own = typed_unit or unit_beside(unit, units)
    readings = [
        f"{match['more']} {figure} {own}".strip() for figure in _figures_in(match["figure"])
    ]
    if not typed_unit and unit is UnitOf.TEMPERATURE and len(readings) == 1:
        readings = _in_either_unit(readings[0], own)
    if len(readings) > 1:
        return TypedNumber(meant) if meant in readings else TypedNumber("", tuple(readings))
    return TypedNumber(readings[0])


def _figures_in(typed: str) -> list[str]:
    """Return the plain figures that a typed one can mean: one, or two to choose between."""
    sign = "-" if typed.startswith("-") else ""
    figure = typed.lstrip("-+ ")
    if _DIGITS.fullmatch(figure):
        return [sign + figure]
    if _THREE.fullmatch(figure):
        whole, part = re.split("[.,]", figure)
        return [f"{sign}{whole}{part}", f"{sign}{whole}.{_short(part)}"]
    mixed = _MIXED.fullmatch(figure)
    if mixed is not None:
        whole = "".join(_DIGITS.findall(mixed["whole"]))
        return [f"{sign}{whole}.{_short(mixed['part'])}"]
    if _GROUPED.fullmatch(figure):
        return [sign + "".join(_DIGITS.findall(figure))]
    if _DECIMAL.fullmatch(figure):
        whole, part = re.split("[.,]", figure)
        return [f"{sign}{whole}.{_short(part)}"]
    return [typed]


def _short(part: str) -> str:
    """Return decimals that nobody takes for thousands: three of them lose a zero or gain one."""
    plain = part.rstrip("0") or "0"
    return f"{plain}0" if len(plain) == len("000") else plain


def _in_either_unit(text: str, unit: str) -> list[str]:
    """Return a temperature without a unit in the job's, and in the other where that is likelier."""
    figure = text.removesuffix(unit).strip()
    try:
        value = float(figure)
    except ValueError:
        return [text]
    fahrenheit_c = (value - 32.0) / 1.8
    own_c, other_c = (value, fahrenheit_c) if unit == "°C" else (fahrenheit_c, value)
    if _is_usual(own_c) or not _is_usual(other_c):
        return [text]
    other = "°F" if unit == "°C" else "°C"
    return [f"{figure} {other}", text]


def _is_usual(temperature_c: float) -> bool:
    least_c, most_c = _USUAL_C
    return least_c <= temperature_c <= most_c
