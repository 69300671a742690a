"""Shares of a whole: percentages, humidity, tolerances and moisture readings."""

from __future__ import annotations

import re
from fractions import Fraction
from typing import Literal

from curecal.records import Record, record
from curecal.units.grammar import Written, plain_figure, written
from curecal.units.kinds import FRACTION, HUMIDITY, MOISTURE, TOLERANCE

MoistureKind = Literal["carbide", "humidity", "calcium chloride", "plain"]

_RELATIVE = r"(?i:rh|r\.h\.|rel\.? humidity|relative humidity)"
_HUMIDITY_AFTER = re.compile(rf"(?P<share>.*[^ ]) ?{_RELATIVE}", re.ASCII)
_HUMIDITY_BEFORE = re.compile(rf"{_RELATIVE} (?P<share>.*)", re.ASCII)
# A share of the mass, not of the air: without its "CM" nothing says which it is.
_CARBIDE = re.compile(r"(?P<figure>.*[^ ]) ?(?i:cm ?-? ?%|% ?-? ?cm)", re.ASCII)
# What evaporates in a day from under a dish of calcium chloride.
_EVAPORATED = re.compile(
    r"(?P<figure>.*[^ ]) ?(?:(?P<pounds>(?i:lbs?) ?/ ?1000 ?(?i:ft²|ft2|ft\^2|sq\.? ?ft))"
    r"|(?i:g) ?/ ?(?i:m²|m2|m\^2))(?: ?(?:/|per|in) ?24 ?h)?",
    re.ASCII,
)
_DAY_S = 86_400
_POUND_KG, _SQUARE_FOOT_M2 = Fraction(45_359_237, 10**8), Fraction(9_290_304, 10**8)
_SYMMETRIC = re.compile(r"(?:±|\+ ?/ ?[-\u2212\u2013]|\+-) ?(?P<share>.*)", re.ASCII)
_TWO_SIDED = re.compile(
    r"(?P<first>[-\u2212\u2013+]) ?(?P<one>[^-\u2212\u2013+/]*?[^-\u2212\u2013+/ ])"
    r"(?: ?/ ?|,? (?:(?i:to) )?)(?P<second>[-\u2212\u2013+]) ?(?P<two>[^-\u2212\u2013+/]+)",
    re.ASCII,
)


@record(kw_only=True)
class Tolerance(Record):
    """How far a value may lie below and above the stated one, as fractions of it."""

    below: float
    above: float


@record
class Moisture(Record):
    """A moisture reading or limit: by the carbide method, as air humidity, or a plain share.

    By calcium chloride it is what evaporates [kg/(m²·s)], and no share.
    """

    kind: MoistureKind
    fraction: float | None
    evaporated_kgm2s: float | None = None


def fraction(text: object) -> float:
    """Return the share a percentage states, zero or more: "55 %" is 0.55 [1].

    Raises:
        QuantityRefused: no such text, or a negative one.
    """
    return plain_figure(text, FRACTION)


def humidity(text: object) -> float:
    """Return the relative humidity a text states ("55 %", "55 % RH"), 0 to 1 [1].

    Raises:
        QuantityRefused: no such text, negative or above 100 %.
    """
    read = written(text, HUMIDITY)
    found = _relative(read)
    return _share(read, read.plain().value if found is None else found)


def tolerance(text: object) -> Tolerance:
    """Return the fractions a text allows below and above ("±10 %", "-5/+10 %") [1].

    A percentage without a sign does not say on which side and is refused.

    Raises:
        QuantityRefused: no such text, two like signs, or 100 % and more below: a resistance of
            zero is a short circuit.
    """
    read = written(text, TOLERANCE)
    symmetric = _SYMMETRIC.fullmatch(read.text)
    if symmetric is not None:
        both = read.amount(symmetric["share"])
        if both is None:
            raise read.unreadable()
        below = above = read.not_negative(both.value)
    else:
        below, above = _two_sided(read)
    if below >= 1:
        raise read.refused("quantity-out-of-range", least="0 %", most="100 %")
    return Tolerance(below=read.rounded(below), above=read.rounded(above))


def moisture(text: object) -> Moisture:
    """Return the moisture reading or limit a text states ("0.5 CM-%", "75 % RH"), 0 to 1 [1].

    "3 lb/1000 ft² in 24 h" and "15 g/m² in 24 h" are what evaporates [kg/(m²·s)]. A percentage
    alone is `plain`: its method stands elsewhere.

    Raises:
        QuantityRefused: no such text, negative or above 100 %.
    """
    read = written(text, MOISTURE)
    carbide = _CARBIDE.fullmatch(read.text)
    figure = read.number(carbide["figure"], None, "CM-%") if carbide else None
    if figure is not None:
        return Moisture("carbide", _share(read, figure / 100))
    evaporated = _EVAPORATED.fullmatch(read.text)
    figure = read.number(evaporated["figure"], None, "g/m²") if evaporated else None
    if evaporated is not None and figure is not None:
        per_day = (
            _POUND_KG / (1000 * _SQUARE_FOOT_M2) if evaporated["pounds"] else Fraction(1, 1000)
        )
        rate = read.not_negative(figure) * per_day / _DAY_S
        return Moisture("calcium chloride", None, read.rounded(rate))
    relative = _relative(read)
    if relative is not None:
        return Moisture("humidity", _share(read, relative))
    return Moisture("plain", _share(read, read.plain().value))


def _relative(read: Written) -> Fraction | None:
    """Return the share beside a word for relative humidity, or None without one."""
    match = _HUMIDITY_AFTER.fullmatch(read.text) or _HUMIDITY_BEFORE.fullmatch(read.text)
    found = read.amount(match["share"]) if match else None
    return None if found is None else found.value


def _share(read: Written, value: Fraction) -> float:
    """Return the share rounded; refused outside 0 to 100 %."""
    if read.not_negative(value) > 1:
        raise read.refused("quantity-out-of-range", least="0 %", most="100 %")
    return read.rounded(value)


def _two_sided(read: Written) -> tuple[Fraction, Fraction]:
    """Return the shares below and above, from a figure with a minus and one with a plus."""
    match = _TWO_SIDED.fullmatch(read.text)
    second = read.amount(match["two"]) if match else None
    first = read.in_unit_of(match["one"], second) if match and second else None
    if match is None or second is None or first is None:
        raise read.unreadable()
    if (match["first"] == "+") == (match["second"] == "+"):
        raise read.refused("quantity-unreadable")
    shares = first.value, second.value
    return shares if match["second"] == "+" else shares[::-1]
