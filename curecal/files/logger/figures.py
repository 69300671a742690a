"""One cell of a row: a figure, nothing, or neither; units where they stand beside it."""

from __future__ import annotations

import re

from curecal.files.logger.shape import NO_READING

_FIGURE = re.compile(
    r"(?P<figure>[+-]?\d{1,6}(?:[.,]\d{1,9})?)(?:\s?(?P<unit>[°º˚\ufffd]?\s?[CF]|%(?:\s?RH)?))?",
    re.ASCII | re.IGNORECASE,
)
_NOTHING = frozenset(
    {"", "-", "--", "---", "----", "n/a", "na", "nan", "null", "none", "err", "error", "no reading"}
)
# What loggers write instead of a reading; none of them is a temperature or a humidity of a room.
_SENTINELS = frozenset({-9999.0, -999.9, -999.0, 999.0, 999.9, 9999.0})

_SIGN = "[°º˚\ufffd?]"
# A sign of degrees says what the letter after it is; a letter alone says it only by itself.
_STRONG = re.compile(
    rf"{_SIGN}\s?(?P<sign>[CF])(?![A-Za-z])|(?<![A-Za-z])(?:deg(?:rees?)?\.?\s?(?P<deg>[CF])"
    r"(?![A-Za-z])|(?P<word>celsius|fahrenheit|centigrade)(?![a-z]))",
    re.IGNORECASE,
)
_WEAK = re.compile(r"[(\[]\s?(?P<in>[CF])\s?[)\]]|(?:^|[,_/]\s?|\s)(?P<end>[CF])$|^(?P<all>[CF])\b")
HUMIDITY_UNIT = re.compile(r"%\s?(?:RH|r\.?\s?H\.?)?|RH\s?%?", re.IGNORECASE)
TEMPERATURE_UNIT = re.compile(
    rf"{_SIGN}?\s?(?P<letter>[CF])|deg\.?\s?(?P<deg>[CF])|(?P<word>celsius|fahrenheit)",
    re.IGNORECASE,
)


def figure(text: str, unit: str = "") -> float:
    """Return the figure of a cell; NaN where the cell says that there was no reading.

    Args:
        text: The cell, with a decimal point or comma, perhaps with its unit.
        unit: The unit it may have: "C", "F" or "%"; nothing where any will do.

    Returns:
        The figure, in the unit of the column.

    Raises:
        ValueError: It is neither, or has another unit than its column.
    """
    match = _FIGURE.fullmatch(text.strip())
    if match is None:
        if text.strip().casefold() in _NOTHING:
            return NO_READING
        raise ValueError(text)
    own = (match["unit"] or "").strip("°º˚\ufffd ").upper()[:1]
    if own and unit and own != unit:
        raise ValueError(text)
    value = float(match["figure"].replace(",", "."))
    return NO_READING if value in _SENTINELS else value


def is_figure(text: str) -> bool:
    """Return whether a cell is a figure."""
    return _FIGURE.fullmatch(text) is not None


def unit_beside(text: str) -> str:
    """Return the unit that stands in a cell with its figure: "C", "F", "%", or nothing."""
    match = _FIGURE.fullmatch(text)
    return "" if match is None else (match["unit"] or "").strip("°º˚\ufffd ").upper()[:1]


def temperature_units(text: str) -> frozenset[str]:
    """Return the units of temperature that a text names; two of them name none."""
    strong = {
        (match["sign"] or match["deg"] or match["word"])[0].upper()
        for match in _STRONG.finditer(text)
    }
    if strong:
        return frozenset(strong)
    return frozenset(
        (match["in"] or match["end"] or match["all"]).upper()
        for match in _WEAK.finditer(text.strip())
    )


def unit_in_cell(text: str) -> str:
    """Return the unit that a cell consists of: "C", "F", "%", or nothing."""
    if HUMIDITY_UNIT.fullmatch(text):
        return "%"
    match = TEMPERATURE_UNIT.fullmatch(text)
    return "" if match is None else (match["letter"] or match["deg"] or match["word"])[0].upper()
