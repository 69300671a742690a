"""What a quantity can be a quantity of, and every spelling of a unit that is understood.

A factor is an exact fraction, so that a conversion is rounded once, when it becomes a float.
Case matters where it changes the meaning (mΩ and MΩ, mA and MA): those spellings stand in
`_EXACT`. Words and symbols that mean one thing in any case stand in `_ANY_CASE`.
"""

from __future__ import annotations

import re
from fractions import Fraction
from functools import cache

from curecal.records import Record, record


@record
class Unit(Record):
    """A unit: its dimension, and what turns a figure in it into the dimension's own unit.

    The own unit is °C, s, m, m², a plain fraction, Ω, V, W or A. A figure x means
    (x + shift) * factor of it; a difference means x * factor.
    """

    dimension: str
    factor: Fraction
    shift: Fraction = Fraction(0)


@record
class QuantityKind(Record):
    """The kind of quantity a place wants: its key, the dimension of its units, and an example.

    Compound kinds may be written in descending units ("1 d 12 h", "5 ft 3 in"); one that spans
    may have two ends ("24 to 48 h").
    """

    key: str
    dimension: str
    example: str
    compound: bool = False
    spans: bool = False


@record(kw_only=True)
class Range(Record):
    """Two ends in one SI unit, the lower first; a plain value has both ends equal."""

    low: float
    high: float


TEMPERATURE = QuantityKind("temperature", "temperature", "66 °F")
TEMPERATURE_RANGE = QuantityKind("temperature", "temperature", "70 °F ± 5 °F", spans=True)
TEMPERATURE_STEP = QuantityKind("temperature-step", "temperature", "5 °C")
TEMPERATURE_RATE = QuantityKind("temperature-rate", "temperature", "5 °C/day")
DURATION = QuantityKind("duration", "duration", "24 h", compound=True)
DURATION_RANGE = QuantityKind("duration", "duration", "24 to 48 h", compound=True, spans=True)
LENGTH = QuantityKind("length", "length", "3/8 in", compound=True)
LENGTH_RANGE = QuantityKind("length", "length", "1/4 to 3/8 in", compound=True, spans=True)
TILE_SIZE = QuantityKind("tile-size", "length", "12 x 24 in")
AREA = QuantityKind("area", "area", "54 ft²")
FRACTION = QuantityKind("fraction", "fraction", "55 %")
HUMIDITY = QuantityKind("humidity", "fraction", "55 %")
TOLERANCE = QuantityKind("tolerance", "fraction", "±10 %")
MOISTURE = QuantityKind("moisture", "fraction", "75 % RH")
RESISTANCE = QuantityKind("resistance", "resistance", "90 Ω")
VOLTAGE = QuantityKind("voltage", "voltage", "240 V")
POWER = QuantityKind("power", "power", "640 W")
CURRENT = QuantityKind("current", "current", "15 A")
INSULATION = QuantityKind("insulation", "resistance", "20 MΩ at 500 V")
DRYING_RULE = QuantityKind("drying-rule", "length", "1 mm/day to 40 mm, then 0.5 mm/day")

MINUTE = Fraction(60)
HOUR = 60 * MINUTE
DAY = 24 * HOUR
INCH = Fraction(254, 10_000)
FOOT = 12 * INCH

_CELSIUS = Unit("temperature", Fraction(1))
_FAHRENHEIT = Unit("temperature", Fraction(5, 9), Fraction(-32))
_KELVIN = Unit("temperature", Fraction(1), Fraction(-27_315, 100))
_MILLI, _KILO, _MEGA, _GIGA = Fraction(1, 1000), Fraction(10**3), Fraction(10**6), Fraction(10**9)


def _spell(dimension: str, spellings: dict[str, Fraction]) -> dict[str, Unit]:
    """Return one unit for each spelling; spellings of one factor stand apart by `|`."""
    return {
        spelling: Unit(dimension, factor)
        for alike, factor in spellings.items()
        for spelling in alike.split("|")
    }


# Spellings whose case carries meaning, or that are signs. "F" and "C" have no other sense here
# in lower case, so they stand below; a lower-case "k" alone is a prefix and never a kelvin.
_EXACT: dict[str, Unit] = {
    "K": _KELVIN,
    **_spell("duration", {"s": Fraction(1), "ms": _MILLI}),
    **_spell("length", {"m": Fraction(1), "\"|''|\u2033|\u201d": INCH, "'|\u2032|\u2019": FOOT}),
    **_spell("area", {"m²|m2|m^2": Fraction(1)}),
    **_spell("fraction", {"%": Fraction(1, 100)}),
    **_spell(
        "resistance",
        {
            "mΩ|mohm|mOhm|mohms|mOhms": _MILLI,
            "kΩ|KΩ|kohm|kOhm|Kohm|KOhm|kohms|kOhms|Kohms|KOhms": _KILO,
            "MΩ|Mohm|MOhm|Mohms|MOhms": _MEGA,
            "GΩ|Gohm|GOhm|Gohms|GOhms": _GIGA,
        },
    ),
    "Ω": Unit("resistance", Fraction(1)),
    **_spell("voltage", {"mV": _MILLI, "MV": _MEGA}),
    **_spell("power", {"mW": _MILLI, "MW": _MEGA}),
    **_spell("current", {"mA": _MILLI, "A": Fraction(1), "kA": _KILO}),
}

_ANY_CASE: dict[str, Unit] = {
    **dict.fromkeys(("°c", "° c", "c", "deg c", "degc", "degrees c", "degree c"), _CELSIUS),
    **dict.fromkeys(("celsius", "deg celsius", "degrees celsius", "degree celsius"), _CELSIUS),
    **dict.fromkeys(("°f", "° f", "f", "deg f", "degf", "degrees f", "degree f"), _FAHRENHEIT),
    **dict.fromkeys(("fahrenheit", "deg fahrenheit", "degrees fahrenheit"), _FAHRENHEIT),
    **dict.fromkeys(("degree fahrenheit",), _FAHRENHEIT),
    **dict.fromkeys(("kelvin", "kelvins"), _KELVIN),
    **_spell(
        "duration",
        {
            "sec|sec.|secs|second|seconds": Fraction(1),
            "min|min.|mins|minute|minutes": MINUTE,
            "h|hr|hr.|hrs|hrs.|hour|hours": HOUR,
            "d|day|days": DAY,
            "wk|wk.|wks|wks.|week|weeks": 7 * DAY,
        },
    ),
    **_spell(
        "length",
        {
            "mm|millimeter|millimeters|millimetre|millimetres": _MILLI,
            "cm|centimeter|centimeters|centimetre|centimetres": Fraction(1, 100),
            "meter|meters|metre|metres": Fraction(1),
            "in|in.|inch|inches": INCH,
            "ft|ft.|foot|feet": FOOT,
        },
    ),
    **_spell(
        "area",
        {
            "sq m|sq. m|sqm|square meter|square meters|square metre|square metres": Fraction(1),
            "cm²|cm2|sq cm": Fraction(1, 10_000),
            "ft²|ft2|ft^2|sq ft|sq. ft|sq. ft.|sqft|sq feet|square foot|square feet": FOOT * FOOT,
            "in²|in2|sq in|sq. in|sq. in.|square inch|square inches": INCH * INCH,
        },
    ),
    **_spell("fraction", {"percent|per cent": Fraction(1, 100)}),
    **_spell(
        "resistance",
        {
            "milliohm|milliohms": _MILLI,
            "ohm|ohms": Fraction(1),
            "kilohm|kilohms|kiloohm|kiloohms": _KILO,
            "megohm|megohms|megaohm|megaohms": _MEGA,
            "gigohm|gigohms|gigaohm|gigaohms": _GIGA,
        },
    ),
    **_spell(
        "voltage",
        {
            "v|volt|volts|vdc|v dc|volts dc|vac|v ac|volts ac": Fraction(1),
            "kv|kilovolt|kilovolts|kvdc|kv dc|kvac|kv ac": _KILO,
        },
    ),
    **_spell("power", {"w|watt|watts": Fraction(1), "kw|kilowatt|kilowatts": _KILO}),
    **_spell("current", {"amp|amps|ampere|amperes": Fraction(1), "milliamp|milliamps": _MILLI}),
}


def unit_named(spelling: str) -> Unit:
    """Return the unit of a spelling that `units_pattern` has matched."""
    exact = _EXACT.get(spelling)
    return exact if exact is not None else _ANY_CASE[spelling.lower()]


def unit_spelled(spelling: str, dimension: str) -> Unit | None:
    """Return the unit of a dimension that is spelled so, or None where it has none."""
    unit = _EXACT.get(spelling) or _ANY_CASE.get(spelling.lower())
    return unit if unit is not None and unit.dimension == dimension else None


@cache
def units_pattern(dimension: str | None) -> str:
    """Return a pattern that matches every spelling of a dimension's units, or of all of them."""
    alternatives = [
        (spelling, re.escape(spelling))
        for spelling, unit in _EXACT.items()
        if dimension in {None, unit.dimension}
    ]
    alternatives += [
        (spelling, f"(?i:{re.escape(spelling)})")
        for spelling, unit in _ANY_CASE.items()
        if dimension in {None, unit.dimension}
    ]
    # The longest first, so that "min" is never read as "m" with a rest.
    alternatives.sort(key=lambda pair: -len(pair[0]))
    return "(?:" + "|".join(pattern for _, pattern in alternatives) + ")"
