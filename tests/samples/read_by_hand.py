"""Quantities and instants read a second time, by other code than the program's.

What a person reads in a value, as an exact fraction in SI: a figure (whole, decimal, a fraction,
one with a whole number before it), a unit, two ends. `None` where a person would ask. Nothing here
imports the package.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Callable
from fractions import Fraction

Read = frozenset[object] | None
"""What may be understood of a value; `None` where nothing may."""

_IN, _LB = Fraction(254, 10_000), Fraction(45_359_237, 10**8)
_FT2 = (12 * _IN) ** 2
DIRECTIONS = frozenset(
    "\u2028\u2029\u200e\u200f\u061c\u202a\u202b\u202c\u202d\u202e\u2066\u2067\u2068\u2069"
)
_DASH = "[-–—−]"
# By dimension, spellings in lower case; the signs whose case counts stand in `_CASED`.
_UNITS: dict[str, dict[str, Fraction]] = {
    "duration": {
        **dict.fromkeys(("s", "sec", "second", "seconds"), Fraction(1)),
        **dict.fromkeys(("min", "minute", "minutes"), Fraction(60)),
        **dict.fromkeys(("h", "hr", "hour", "hours"), Fraction(3600)),
        **dict.fromkeys(("d", "day", "days"), Fraction(86_400)),
        **dict.fromkeys(("wk", "week", "weeks"), Fraction(604_800)),
    },
    "length": {
        "mm": Fraction(1, 1000),
        "cm": Fraction(1, 100),
        "in": _IN,
        '"': _IN,
        "ft": 12 * _IN,
        "'": 12 * _IN,
    },
    "area": {
        **dict.fromkeys(("m²", "m2"), Fraction(1)),
        **dict.fromkeys(("cm²", "cm2"), Fraction(1, 10_000)),
        **dict.fromkeys(("in²", "in2"), _IN**2),
        **dict.fromkeys(("ft²", "ft2", "sq ft"), _FT2),
    },
    "share": {"%": Fraction(1, 100)},
    "resistance": {"ohm": Fraction(1)},
    "voltage": {"v": Fraction(1), "kv": Fraction(1000)},
    "power": {"w": Fraction(1), "kw": Fraction(1000)},
    "current": {},
}
_CASED: dict[str, dict[str, Fraction]] = {
    "duration": {"ms": Fraction(1, 1000)},
    "length": {"m": Fraction(1)},
    "resistance": {
        "mΩ": Fraction(1, 1000),
        "Ω": Fraction(1),
        "kΩ": Fraction(10**3),
        "KΩ": Fraction(10**3),
        "MΩ": Fraction(10**6),
        "GΩ": Fraction(10**9),
        "kohm": Fraction(10**3),
        "Mohm": Fraction(10**6),
    },
    "voltage": {"mV": Fraction(1, 1000), "MV": Fraction(10**6)},
    "power": {"mW": Fraction(1, 1000), "MW": Fraction(10**6)},
    "current": {"A": Fraction(1), "mA": Fraction(1, 1000), "kA": Fraction(1000)},
}
_ANY_CASE_ONLY = {"ms", "mv", "mw", "ma", "m"}
_CELSIUS = re.compile(r"(?:° ?|deg(?:rees?)? ?)?c(?:elsius)?", re.IGNORECASE)
_FAHRENHEIT = re.compile(r"(?:° ?|deg(?:rees?)? ?)?f(?:ahrenheit)?", re.IGNORECASE)
# A vulgar fraction, an ordinal for a degree sign and the like are what they look like.
LOOKS = str.maketrans(
    {
        "º": "°",
        "\u2126": "Ω",
        "\u212a": "K",
        "℃": "°C",
        "℉": "°F",
        "⁄": "/",
        "∕": "/",
        "\u2011": "-",
        "\u00a0": " ",
        "\u2009": " ",
        "\u202f": " ",
        "\t": " ",
    }
)


def _plain(text: object) -> str | None:
    """Return a text with its blanks joined; none where it hides a sign or is no text."""
    if not isinstance(text, str):
        return None
    looked = text.translate(LOOKS)
    if any(unicodedata.category(sign)[0] == "C" or sign in "\u2028\u2029" for sign in looked):
        return None
    return re.sub(" +", " ", looked).strip()


def figure(text: str) -> Fraction | None:
    """Return what a figure says: "12", "1.5", "1,5", "3/8", "1 1/2", "½", "1½", with its sign."""
    plain = text.strip()
    sign = 1
    if plain[:1] in {"-", "−", "–"}:
        sign, plain = -1, plain[1:].strip()
    elif plain[:1] == "+":
        plain = plain[1:].strip()
    digits = ""
    for place in plain:
        value = unicodedata.decimal(place, None)
        if value is None and unicodedata.category(place) == "No":
            part = unicodedata.numeric(place, -1)
            whole = Fraction(part).limit_denominator(100)
            if not 0 < part < 1:
                return None
            digits += f" {whole.numerator}/{whole.denominator}"
        else:
            digits += place if value is None else str(value)
    digits = digits.strip()
    if match := re.fullmatch(r"(?:(\d+) )?(\d+) ?/ ?(\d+)", digits, re.ASCII):
        whole, above, below = int(match[1] or 0), int(match[2]), int(match[3])
        return None if below == 0 else sign * (whole + Fraction(above, below))
    if re.fullmatch(r"\d*[.,]?\d+(?:[eE][+-]?\d{1,3})?", digits, re.ASCII):
        return sign * Fraction(digits.replace(",", "."))
    return None


def _unit(spelling: str, dimension: str) -> Fraction | None:
    cased = _CASED.get(dimension, {})
    if spelling in cased:
        return cased[spelling]
    plain = spelling.lower().rstrip(".")
    if plain in _ANY_CASE_ONLY and plain not in _UNITS[dimension]:
        return None
    return _UNITS[dimension].get(plain)


_AMOUNT = re.compile(r"(?P<figure>[^A-Za-zΩ°%'\"]*[^A-Za-zΩ°%'\" ]) ?(?P<unit>[A-Za-zΩ°%'\"].*)")


def amount(text: str, dimension: str) -> Fraction | None:
    """Return a figure with its unit in the dimension's own unit; of temperatures °C."""
    plain = re.sub(r"(?<=\d)e(?=[+-]?\d)", "E", text.strip())
    match = re.fullmatch(r"(?P<figure>.*\dE[+-]?\d+) ?(?P<unit>\D.*)", plain)
    match = match or _AMOUNT.fullmatch(plain)
    found = None if match is None else figure(match["figure"])
    if match is None or found is None:
        return None
    unit = match["unit"].strip()
    if dimension in {"temperature", "difference"}:
        shift = 32 if dimension == "temperature" else 0
        if _CELSIUS.fullmatch(unit):
            return found
        if _FAHRENHEIT.fullmatch(unit):
            return (found - shift) * Fraction(5, 9)
        if unit == "K":
            return found - (Fraction(27_315, 100) if dimension == "temperature" else 0)
        return None
    factor = _unit(unit, dimension)
    return None if factor is None else found * factor


def ends(text: str, dimension: str) -> tuple[Fraction, Fraction] | None:
    """Return both ends of "a to b", "a-b", "up to b", "a ± b", or the one figure twice."""
    one = amount(text, dimension)
    if one is not None:
        return one, one
    if match := re.fullmatch(r"(?i:up to|at most|max(?:imum)?\.?(?: of)?|≤|<=) ?(.+)", text):
        top = amount(match[1], dimension)
        return None if top is None else (Fraction(0), top)
    if match := re.fullmatch(r"(?i:at least|min(?:imum)?\.?(?: of)?|≥|>=) ?(.+)", text):
        low = amount(match[1], dimension)
        return None if low is None else (low, low)
    for middle in re.finditer(f" ?{_DASH} ?| (?i:to) ", text):
        left, right = text[: middle.start()], text[middle.end() :]
        high = amount(right, dimension)
        low = amount(left, dimension)
        if high is not None and low is None and figure(left) is not None:
            shared = _AMOUNT.fullmatch(right)
            low = shared and amount(f"{left.strip()} {shared['unit']}", dimension)
        if low is not None and high is not None and low <= high:
            return low, high
    return None


def quantity(dimension: str, which: str = "one") -> Callable[[object], Read]:
    """Return a reader of one figure with its unit; of two ends the `low` or `high` one."""

    def read(value: object) -> Read:
        text = _plain(value)
        if text is None:
            return None
        if which == "one":
            found = amount(text, dimension)
            return None if found is None else frozenset({float(found)})
        both = ends(text, dimension)
        if both is None:
            return None
        low, high = both
        if which == "low":
            return frozenset({float(low if low > 0 else high)})
        return frozenset({float(high)})

    return read


def rated(value: object) -> Read:
    """Return the upper end of a range of temperatures, or what stands before a "±"."""
    text = _plain(value)
    if text is None:
        return None
    if match := re.fullmatch(r"(.+?) ?(?:±|\+/-) ?(.+)", text):
        found = amount(match[1], "temperature")
        reach = amount(match[2], "difference") if found is not None else None
        reach = figure(match[2]) if reach is None else reach
        return None if found is None or reach is None else frozenset({float(found)})
    return quantity("temperature", "high")(value)


def humidity(value: object) -> Read:
    """Return a share of "55 %", "55 % RH"."""
    text = _plain(value)
    return None if text is None else quantity("share")(re.sub(" ?(?i:rh)$", "", text))


def heat_step(value: object) -> Read:
    """Return kelvins in a day of "5 °C/day" or "5 °C"."""
    text = _plain(value)
    match = None if text is None else re.fullmatch(r"(.+?)(?: ?/ ?| per )(.+)", text)
    if text is None or match is None:
        return None if text is None else quantity("difference")(text)
    rise = amount(match[1], "difference")
    period = amount(match[2], "duration")
    period = _unit(match[2].strip(), "duration") if period is None else period
    return None if rise is None or not period else frozenset({float(rise * 86_400 / period)})


def resistance_reading(value: object) -> Read:
    """Return (Ω or None for an open line, whether it is more than the figure)."""
    text = _plain(value)
    if text is None:
        return None
    if text.lower() in {"open", "open line", "ol", "o.l", "o.l.", "infinite", "∞", "open circuit"}:
        return frozenset({(None, False)})
    beyond = re.match(r"(?:>=?|≥|(?i:over|above|more than|at least)) ?", text)
    found = amount(text[beyond.end() :] if beyond else text, "resistance")
    return None if found is None else frozenset({(float(found), beyond is not None)})


def insulation(value: object) -> Read:
    """Return (Ω, V) of "20 MΩ at 500 V"."""
    text = _plain(value)
    match = None if text is None else re.fullmatch(r"(?:≥|>=)? ?(.+?)(?: ?@ ?| (?i:at) )(.+)", text)
    ohm = amount(match[1], "resistance") if match else None
    volt = amount(re.sub(r" ?(?i:dc)$", "", match[2]), "voltage") if match else None
    return None if ohm is None or volt is None else frozenset({(float(ohm), float(volt))})


def tolerance(value: object) -> Read:
    """Return the shares (below, above) of "±10 %" or "-5/+10 %"."""
    text = _plain(value)
    if text is None:
        return None
    if match := re.fullmatch(r"(?:±|\+ ?/ ?[-−–]|\+-) ?(.+)", text):
        found = amount(match[1], "share")
        return None if found is None else frozenset({(float(found), float(found))})
    match = re.fullmatch(
        rf"({_DASH}|\+) ?([^/%+]+?) ?%? ?(?:/|,| to |) ?({_DASH}|\+) ?(.+ ?%)", text
    )
    if match is None or (match[1] == "+") == (match[3] == "+"):
        return None
    one, two = amount(f"{match[2]} %", "share"), amount(match[4], "share")
    if one is None or two is None:
        return None
    below, above = (two, one) if match[1] == "+" else (one, two)
    return frozenset({(float(below), float(above))})


def size(value: object) -> Read:
    """Return the two edges [m] of "12 x 24 in"."""
    text = _plain(value)
    match = None if text is None else re.fullmatch(r"(.+?)(?: ?[x×X] ?| by )(.+)", text)
    second = amount(match[2], "length") if match else None
    if match is None or second is None:
        return None
    unit = _AMOUNT.fullmatch(match[2])
    first = amount(match[1], "length")
    if first is None and unit is not None:
        first = amount(f"{match[1]} {unit['unit']}", "length")
    return None if first is None else frozenset({(float(first), float(second))})


def working_time(day_s: float, days_a_week: int) -> Callable[[object], Read]:
    """Return a reader of working time: of days and weeks the hours that are worked."""

    def read(value: object) -> Read:
        text = _plain(value)
        match = _AMOUNT.fullmatch(text or "")
        found = figure(match["figure"]) if match else None
        unit = _unit(match["unit"], "duration") if match else None
        if found is None or unit is None:
            return None
        seconds = {86_400: day_s, 604_800: day_s * days_a_week}.get(int(unit), float(unit))
        return frozenset({float(found) * seconds})

    return read


def drying(value: object) -> Read:
    """Return ((to [m] or None, s per m), …) of "1 mm/day to 40 mm, then 0.5 mm/day"."""
    text = _plain(value)
    if text is None:
        return None
    rows = []
    for part in re.split(r" ?[,;] ?(?:and )?(?:then )?| then ", text.lower()):
        match = re.fullmatch(r"(.+?)(?: ?/ ?| per )(\S+)(?: (?:up )?to (.+))?", part)
        if match is None:
            return None
        end = None if match[3] is None else amount(match[3], "length")
        long, time = amount(match[1], "length"), _unit(match[2], "duration")
        span, deep = amount(match[1], "duration"), _unit(match[2], "length")
        if (match[3] is not None and end is None) or None in (long or span, time or deep):
            return None
        pace = time / long if long and time else span / deep if span and deep else None
        if pace is None:
            return None
        rows.append((None if end is None else float(end), float(pace)))
    return frozenset({tuple(rows)})


def moisture(value: object) -> Read:
    """Return the share or what evaporates [kg/(m²·s)] of a moisture reading."""
    text = _plain(value)
    if text is None:
        return None
    if match := re.fullmatch(r"(.+?) ?(?i:cm ?-? ?%|% ?-? ?cm)", text):
        found = figure(match[1])
        return None if found is None else frozenset({float(found / 100)})
    if match := re.fullmatch(
        r"(.+?) ?lbs? ?/ ?1000 ?(?:ft²|sq ft)(?: ?(?:/|per|in) ?24 ?h)?", text
    ):
        found = figure(match[1])
        per = _LB / (1000 * _FT2) / 86_400
        return None if found is None else frozenset({float(found * per)})
    if match := re.fullmatch(r"(.+?) ?g ?/ ?m²(?: ?(?:/|per|in) ?24 ?h)?", text):
        found = figure(match[1])
        return None if found is None else frozenset({float(found / 1000 / 86_400)})
    return humidity(text)


def word(value: object) -> Read:
    """Return a text without the blanks around it."""
    return frozenset({value.strip()}) if isinstance(value, str) and value.strip() else None


def choice(value: object) -> Read:
    """Return a word of a list, whatever its case."""
    return frozenset({value.strip().casefold()}) if isinstance(value, str) else None


def flag(value: object) -> Read:
    """Return true or false."""
    return frozenset({value}) if isinstance(value, bool) else None


def whole(value: object) -> Read:
    """Return a whole number."""
    return frozenset({value}) if type(value) is int else None
