"""One cell of a row: a figure, nothing, or neither; units where they stand beside it."""

from __future__ import annotations

import re

from curecal.readings.table.export_types import NO_READING

# Every figure of digits, sign and point that `float` reads is one here too, so that a row says the
# same whether its chunk is read at once or row by row.
_NUMBER = r"(?:\d{1,30}(?:[.,]\d{0,30})?|[.,]\d{1,30})"
_MINUS = "\u2212\u2010\u2011\u2012\u2013\ufe63\uff0d"
_FIGURE = re.compile(
    rf"(?:(?P<figure>[+\-{_MINUS}]?{_NUMBER})|\((?P<below>{_NUMBER})\)|<\s?(?P<under>[-{_MINUS}]{_NUMBER})|"
    rf"(?P<after>{_NUMBER})[-{_MINUS}])"
    r"(?:\s?(?P<unit>[°º˚\ufffd]?\s?[CF]|%(?:\s?RH)?))?",
    re.ASCII | re.IGNORECASE,
)
_TO_PLAIN = str.maketrans(dict.fromkeys(_MINUS, "-") | {",": "."})
_NOTHING = frozenset(
    {
        "",
        "-",
        "--",
        "---",
        "----",
        "--.-",
        "---.-",
        "n/a",
        "n.a.",
        "na",
        "#n/a",
        "nan",
        "null",
        "none",
        "err",
        "error",
        "ol",
        "o.l",
        "o.l.",
        "open",
        "no reading",
        "unavailable",
        "unknown",
    }
)
# What loggers write instead of a reading; none of them is a temperature or a humidity of a room.
_SENTINELS = frozenset({-9999.0, -999.9, -999.0, -196.6, -127.0, 999.0, 999.9, 9999.0})
# A cell that is a figure but for the signs around it, or for a word that says minus.
_SIGNED = re.compile(rf"minus|[-{_MINUS}\u2014(<]\s?[.,]?\d|\d\s?[-{_MINUS}]\s*$", re.IGNORECASE)
_ALMOST = re.compile(r"\W*\d[\d.,\s]*\W*[CF]?\W*", re.IGNORECASE)

# Also what is typed for the sign, and what is left of it where the encoding was lost.
_SIGN = "[°º˚\ufffd?]"
# A sign of degrees says what the letter after it is; a letter alone says it only by itself.
_STRONG = re.compile(
    rf"{_SIGN}\s?(?P<sign>[CF])(?![A-Za-z])|(?<![A-Za-z])(?:deg(?:rees?)?\.?\s?(?P<deg>[CF])"
    r"(?![A-Za-z])|(?P<word>celsius|fahrenheit|centigrade)(?![a-z]))",
    re.IGNORECASE,
)
_WEAK = re.compile(
    r"[(\[]\s?(?P<in>[CF])\s?[)\]]|(?:^|[,_/]\s?|\s)(?P<end>[CF])$|^(?P<all>[CF])\b|"
    r"(?i:temp(?:erature)?|(?<![a-z])t)[\s_]?(?P<behind>(?i:[CF]))(?![A-Za-z\d])"
)
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
    match = _FIGURE.fullmatch(with_plain_degrees(text.strip()))
    if match is None:
        if text.strip().casefold() in _NOTHING:
            return NO_READING
        raise ValueError(text)
    own = (match["unit"] or "").strip("°º˚\ufffd ").upper()[:1]
    if own and unit and own != unit:
        raise ValueError(text)
    value = _value(match)
    return NO_READING if value in _SENTINELS else value


def _value(match: re.Match[str]) -> float:
    """Return the value of a figure: below zero in parentheses and with its minus behind, too.

    Less than a figure below zero counts as that figure: it is frost either way.
    """
    below = match["below"] or match["after"]
    if below:
        return -float(below.translate(_TO_PLAIN))
    return float((match["figure"] or match["under"]).translate(_TO_PLAIN))


def with_plain_degrees(text: str) -> str:
    """Return a text with the signs that are a degree and a letter at once as two."""
    return text.replace("\u2103", "°C").replace("\u2109", "°F")


def is_below_zero(text: str, *, alone: bool = True) -> bool:
    """Return whether a cell that is no figure may be one below zero.

    Args:
        text: The cell.
        alone: Whether nothing but signs may stand beside the figure; else words may.

    Returns:
        Whether it has a minus of any script, a parenthesis, or a sign of less, beside a digit.
    """
    if alone and _ALMOST.fullmatch(text) is None:
        return False
    return any(sign.isdigit() for sign in text) and _SIGNED.search(text) is not None


def is_figure(text: str) -> bool:
    """Return whether a cell is a figure."""
    return _FIGURE.fullmatch(with_plain_degrees(text)) is not None


def unit_beside(text: str) -> str:
    """Return the unit that stands in a cell with its figure: "C", "F", "%", or nothing."""
    match = _FIGURE.fullmatch(with_plain_degrees(text))
    return "" if match is None else (match["unit"] or "").strip("°º˚\ufffd ").upper()[:1]


def temperature_units(text: str) -> frozenset[str]:
    """Return the units of temperature that a text names; two of them name none."""
    text = with_plain_degrees(text)
    strong = {
        (match["sign"] or match["deg"] or match["word"])[0].upper()
        for match in _STRONG.finditer(text)
    }
    if strong:
        return frozenset(strong)
    return frozenset(
        (match["in"] or match["end"] or match["all"] or match["behind"]).upper()
        for match in _WEAK.finditer(text.strip())
    )


def unit_in_cell(text: str) -> str:
    """Return the unit that a cell consists of: "C", "F", "%", or nothing."""
    if HUMIDITY_UNIT.fullmatch(text):
        return "%"
    match = TEMPERATURE_UNIT.fullmatch(with_plain_degrees(text))
    return "" if match is None else (match["letter"] or match["deg"] or match["word"])[0].upper()
