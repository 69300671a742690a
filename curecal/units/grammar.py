"""How figures, units and ranges are written, and what is said of a text that is none.

Everything is computed in exact fractions and rounded to a float once, at the end. Digits are
ASCII; the decimal sign is a point, and a comma between digits is refused, because it means a
thousand to one reader and a decimal to the next. So is a point before three digits where it may
stand between thousands. A slash is a range to one reader and a fraction to the next: it is read
only where no sheet writes a range so, and asked about everywhere else.
"""

from __future__ import annotations

import math
import re
from collections.abc import Iterator
from fractions import Fraction
from functools import cache
from itertools import pairwise
from typing import Literal

from curecal.errors import QuantityRefused
from curecal.records import Record, record
from curecal.units.ambiguous import (
    THOUSANDS,
    is_fraction,
    slash_readings,
    thousands_in,
    thousands_readings,
)
from curecal.units.kinds import QuantityKind, Range, Unit, unit_named, unit_spelled, units_pattern

LONGEST_TEXT = 200
_SHOWN_TEXT = 60
# A float ends near 1e308; a figure with a longer exponent is refused before it is multiplied out.
_LONGEST_EXPONENT = 330

_VULGAR = {
    "½": "1/2", "⅓": "1/3", "⅔": "2/3", "¼": "1/4", "¾": "3/4", "⅕": "1/5", "⅖": "2/5",
    "⅗": "3/5", "⅘": "4/5", "⅙": "1/6", "⅚": "5/6", "⅛": "1/8", "⅜": "3/8", "⅝": "5/8",
    "⅞": "7/8",
}  # fmt: skip
# Look-alikes that keyboards and spreadsheets put in place of the sign that is meant.
_LOOK_ALIKES = str.maketrans(
    {
        "\u00ba": "°",  # the masculine ordinal
        "\u2126": "Ω",  # the ohm sign, a letter of its own in Unicode
        "\u212a": "K",  # the kelvin sign
        "\u2103": "°C",
        "\u2109": "°F",
        "\u2044": "/",  # the fraction slash
        "\u2215": "/",  # the division slash
        "\u2011": "-",  # the hyphen that does not break
        "\u00a0": " ",
        "\u2009": " ",
        "\u202f": " ",
        "\t": " ",
    }
)
_MINUS = "-\u2212\u2013"
# The hyphen stands first: between two characters it would mean all those from one to the next.
_SIGN = f"[{_MINUS}+]"
_VULGAR_SIGNS = "".join(_VULGAR)
_FIGURE = (
    rf"(?:\d+ \d+ ?/ ?\d+|\d+ ?/ ?\d+|\d+ ?[{_VULGAR_SIGNS}]|[{_VULGAR_SIGNS}]"
    r"|(?:\d+(?:\.\d+)?|\.\d+)(?:[eE][+-]?\d+)?)"
)
_BETWEEN = re.compile(" ?[-\u2013\u2014\u2212] ?| (?i:to) ", re.ASCII)
_PLUS_MINUS = re.compile(r" ?(?:±|\+ ?/ ?[-\u2212\u2013]|\+-) ?", re.ASCII)
# Most of what is written: one plain figure and one unit. The patterns of a dimension, with every
# spelling of its units, are built only for what is written otherwise.
_SIMPLE = re.compile(r"(\d{1,12}(?:\.\d{1,12})?) ?([A-Za-z°Ω%²]{1,12})", re.ASCII)
_COMMA = re.compile(r"\d ?,\d", re.ASCII)
_NOT_FINITE = re.compile(rf"(?:^|[^A-Za-z]){_SIGN}? ?(?i:nan|inf|infinity)(?![A-Za-z])", re.ASCII)
_AT_LEAST = re.compile(
    r"(?:≥|>=|(?i:at least|(?:a )?minimum(?: of)?|not less than|no less than)) ?"
    r"(?P<rest>.*[^ ])|(?P<before>.*[^ ]) (?i:minimum|or more)",
    re.ASCII,
)
_AT_MOST = re.compile(
    r"(?:≤|<=|(?i:at most|up to|(?:a )?maximum(?: of)?|not more than|no more than)) ?"
    r"(?P<rest>.*[^ ])|(?P<before>.*[^ ]) (?i:maximum|or less)",
    re.ASCII,
)


@record
class Amount(Record):
    """A figure with its unit, in the dimension's own unit.

    `value` counts from the scale's zero, `step` is the same figure as a difference; `unit` is
    that of the only part, with its spelling, and None where several parts were added up.
    """

    value: Fraction
    step: Fraction
    unit: Unit | None
    spelling: str = ""


def _amount_of(figure: Fraction, unit: Unit, spelling: str) -> Amount:
    """Return the amount of one figure with its unit."""
    return Amount((figure + unit.shift) * unit.factor, figure * unit.factor, unit, spelling)


@cache
def _compiled(pattern: str) -> re.Pattern[str]:
    """Return the pattern compiled on first use: reading one date must not pay for all of them."""
    return re.compile(pattern, re.ASCII)


def _part_pattern(dimension: str) -> re.Pattern[str]:
    """Return a signed figure with its unit, and what may stand before the next figure."""
    return _compiled(
        rf"(?P<figure>{_SIGN}? ?{_FIGURE}) ?(?P<unit>{units_pattern(dimension)})"
        rf"(?![A-Za-z°Ω%²])(?:$|(?: ?,)? ?(?:(?i:and) )?(?=[\d.{_VULGAR_SIGNS}]))"
    )


@record
class Written(Record):
    """A text in its plain form, with what its place wants: reads parts of it, and refuses."""

    text: str
    kind: QuantityKind

    def refused(self, code: str, **params: object) -> QuantityRefused:
        """Return the refusal, with the text cut to what fits into a sentence."""
        shown = self.text if len(self.text) <= _SHOWN_TEXT else self.text[:_SHOWN_TEXT] + "…"
        return QuantityRefused(
            code, text=shown, wanted=self.kind.key, example=self.kind.example, **params
        )

    def has_decimal_comma(self) -> bool:
        """Return whether a comma stands between digits, which no reader takes alike."""
        return _COMMA.search(self.text) is not None

    def unreadable(self) -> QuantityRefused:
        """Return the refusal of a text that fits no form, with the nearest reason there is."""
        if self.has_decimal_comma():
            return self._comma_question()
        if _NOT_FINITE.search(self.text):
            return self.refused("quantity-not-finite")
        bare = _compiled(
            rf"(?:[^A-Za-z]?[^A-Za-z]? ?|[A-Za-z ]+ )?{_SIGN}?{_FIGURE}"
            rf"(?: ?(?:[-\u2013\u2014\u2212/x\u00d7±]|\+/-|to) ?{_SIGN}?{_FIGURE})?"
            r" ?(?:°|(?i:deg|degrees?))?"
        )
        if bare.fullmatch(self.text):
            return self.refused("quantity-no-unit")
        first = _compiled(rf"{_FIGURE} ?(?P<unit>{units_pattern(None)})(?![A-Za-z])")
        part = first.search(self.text)
        got = unit_named(part["unit"]).dimension if part else self.kind.dimension
        if got != self.kind.dimension:
            return self.refused("quantity-dimension", got=got)
        return self.refused("quantity-unreadable")

    def number(self, figure: str, unit: Unit | None, spelling: str) -> Fraction | None:
        """Return the exact value of a signed figure, or None where the text is no figure.

        The unit decides what a slash or point can mean; None is no length, time or the like.

        Raises:
            QuantityRefused: a slash or a point that can be read in two ways, a fraction over
                zero, an improper one after a whole number, or an exponent no float holds.
        """
        if not _compiled(rf"{_SIGN}? ?{_FIGURE}").fullmatch(figure):
            return None
        body = figure.lstrip("+" + _MINUS).strip()
        sign = -1 if figure[0] in _MINUS else 1
        slash = "/" in body
        for vulgar, plain in _VULGAR.items():
            body = body.replace(vulgar, " " + plain)
        if "/" not in body:
            self._refuse_thousands(body, unit, spelling)
            return sign * self._decimal(body)
        whole, _, part = re.sub(" ?/ ?", "/", body).strip().rpartition(" ")
        above, below = (int(digits) for digits in part.split("/"))
        if below == 0 or (whole and above >= below):
            raise self.refused("quantity-unreadable")
        if slash and not is_fraction(whole, above, below, unit):
            spans = self.kind.spans
            readings = slash_readings(whole, above, below, spelling, spans=spans)
            if not readings:
                raise self.refused("quantity-unreadable")
            raise self.refused("quantity-slash", part=f"{figure} {spelling}", **readings)
        return sign * (int(whole or "0") + Fraction(above, below))

    def _refuse_thousands(self, figure: str, unit: Unit | None, spelling: str) -> None:
        """Refuse a point that may stand between thousands: "1.000 h", "1.500 W"."""
        match = thousands_in(figure, unit)
        if match is not None:
            raise self.refused("quantity-thousands", **thousands_readings(match, spelling))

    def _comma_question(self) -> QuantityRefused:
        """Return the refusal of a comma; if it may stand between thousands, with both readings."""
        unit = units_pattern(self.kind.dimension)
        pattern = rf"(?<![\d.,]){THOUSANDS} ?(?P<unit>{unit})(?![A-Za-z])"
        match = _compiled(pattern).search(self.text)
        if match is None:
            return self.refused("quantity-decimal-point")
        return self.refused("quantity-thousands", **thousands_readings(match, match["unit"]))

    def _decimal(self, body: str) -> Fraction:
        """Return a decimal figure, refused before a long exponent fills the memory."""
        exponent = body.lower().partition("e")[2]
        if exponent and abs(int(exponent)) > _LONGEST_EXPONENT:
            raise self.refused("quantity-not-finite")
        return Fraction(body)

    def amount(self, text: str, dimension: str | None = None) -> Amount | None:
        """Return the amount a part of the text states, or None where it states none.

        Several parts are added up where the kind allows it. Each unit must be a whole number of
        the next: feet go with inches, and "1'000 mm" is no foot and no millimeters.
        """
        simple = _SIMPLE.fullmatch(text)
        if simple is not None:
            unit = unit_spelled(simple[2], dimension or self.kind.dimension)
            if unit is not None:
                self._refuse_thousands(simple[1], unit, simple[2])
                return _amount_of(Fraction(simple[1]), unit, simple[2])
        parts = list(self._parts(text, dimension or self.kind.dimension))
        if not parts or parts[-1] is None:
            return None
        amounts = [part for part in parts if part is not None]
        if len(amounts) == 1:
            return amounts[0]
        factors = [part.unit.factor for part in amounts if part.unit is not None]
        whole = all(one > next_ and one % next_ == 0 for one, next_ in pairwise(factors))
        if not self.kind.compound or not whole:
            return None
        total = sum((part.step for part in amounts), Fraction(0))
        return Amount(total, total, None)

    def _parts(self, text: str, dimension: str) -> Iterator[Amount | None]:
        """Yield each figure with its unit in turn, then None where the text does not go on so."""
        pattern = _part_pattern(dimension)
        at = 0
        while at < len(text):
            part = pattern.match(text, at)
            unit = unit_named(part["unit"]) if part else None
            figure = self.number(part["figure"], unit, part["unit"]) if part else None
            if part is None or unit is None or figure is None:
                yield None
                return
            yield _amount_of(figure, unit, part["unit"])
            at = part.end()

    def plain(self) -> Amount:
        """Return the amount the whole text states.

        Raises:
            QuantityRefused: the text states none.
        """
        found = self.amount(self.text)
        if found is None:
            raise self.unreadable()
        return found

    def pair(self, separator: re.Pattern[str]) -> tuple[Amount, Amount] | None:
        """Return two amounts around a separator; a first without a unit has the second's."""
        for middle in separator.finditer(self.text):
            right = self.amount(self.text[middle.end() :])
            if right is None:
                continue
            left = self.in_unit_of(self.text[: middle.start()], right)
            if left is not None:
                return left, right
        return None

    def in_unit_of(self, text: str, other: Amount) -> Amount | None:
        """Return the amount a text states, in another's unit where the text has none of its own."""
        found = self.amount(text)
        if found is not None or other.unit is None:
            return found
        figure = self.number(text, other.unit, other.spelling)
        return None if figure is None else _amount_of(figure, other.unit, other.spelling)

    def span(self) -> tuple[Fraction, Fraction]:
        """Return both ends of "a to b", "a ± b" or "a", lower first.

        Raises:
            QuantityRefused: none of these, or the ends are written in the wrong order.
        """
        whole = self.amount(self.text)
        if whole is not None:
            return whole.value, whole.value
        middle = _PLUS_MINUS.search(self.text)
        if middle is not None:
            center = self.amount(self.text[: middle.start()])
            reach = center and self.in_unit_of(self.text[middle.end() :], center)
            if center is None or reach is None:
                raise self.unreadable()
            if reach.step < 0:
                raise self.refused("quantity-negative")
            return center.value - reach.step, center.value + reach.step
        ends = self.pair(_BETWEEN)
        if ends is None:
            raise self.unreadable()
        low, high = ends[0].value, ends[1].value
        if low > high:
            raise self.refused("quantity-range-reversed")
        return low, high

    def center(self) -> Amount | None:
        """Return the amount before "±", or None where the text has no such sign."""
        middle = _PLUS_MINUS.search(self.text)
        return None if middle is None else self.amount(self.text[: middle.start()])

    def bound(self) -> tuple[Literal["at least", "at most"], Amount] | None:
        """Return the bound the text states in words or signs, or None where it states none."""
        sides: tuple[tuple[Literal["at least", "at most"], re.Pattern[str]], ...] = (
            ("at least", _AT_LEAST),
            ("at most", _AT_MOST),
        )
        for side, pattern in sides:
            match = pattern.fullmatch(self.text)
            found = self.amount(match["rest"] or match["before"]) if match else None
            if found is not None:
                return side, found
        return None

    def not_negative(self, value: Fraction) -> Fraction:
        """Return the value itself; refused below zero."""
        if value < 0:
            raise self.refused("quantity-negative")
        return value

    def positive(self, value: Fraction) -> Fraction:
        """Return the value itself; refused at zero and below."""
        if self.not_negative(value) == 0:
            raise self.refused("quantity-zero")
        return value

    def rounded(self, value: Fraction) -> float:
        """Return the nearest float: the only rounding there is between a text and its number.

        Raises:
            QuantityRefused: no finite float is near it, or only zero is near what is not zero.
        """
        try:
            result = float(value)
        except OverflowError:
            raise self.refused("quantity-not-finite") from None
        if result == 0 and value != 0:
            raise self.refused("quantity-not-finite")
        return result

    def range(self, low: Fraction, high: Fraction) -> Range:
        """Return both ends rounded; rounding keeps their order."""
        return Range(low=self.rounded(low), high=self.rounded(high))


def written(value: object, kind: QuantityKind) -> Written:
    """Return a value from a file in the plain form the readers expect.

    Look-alike signs are replaced, and runs of blanks made one.

    Raises:
        QuantityRefused: no text, an empty one, or one longer than 200 characters.
    """
    if not isinstance(value, str):
        raise _not_text(value, kind)
    if len(value) > LONGEST_TEXT:
        raise Written(value, kind).refused("quantity-unreadable")
    # Only blanks are joined: a line break inside a quantity is not a blank and is not read.
    text = re.sub(" +", " ", value.translate(_LOOK_ALIKES)).strip(" ")
    if not text:
        raise Written(text, kind).refused("quantity-unreadable")
    return Written(text, kind)


def plain_figure(value: object, kind: QuantityKind) -> float:
    """Return the one figure with its unit that a value from a file states, zero or more.

    Raises:
        QuantityRefused: it states none, or a negative one.
    """
    read = written(value, kind)
    return read.rounded(read.not_negative(read.plain().value))


def _not_text(value: object, kind: QuantityKind) -> QuantityRefused:
    """Return the refusal of what is no text: a bare number lacks its unit."""
    if isinstance(value, float) and not math.isfinite(value):
        return Written(repr(value), kind).refused("quantity-not-finite")
    if isinstance(value, float):
        return Written(repr(value), kind).refused("quantity-no-unit")
    if isinstance(value, int) and not isinstance(value, bool):
        # A whole number may have more digits than Python agrees to print.
        shown = repr(value) if value.bit_length() < _SHOWN_TEXT else "…"
        return Written(shown, kind).refused("quantity-no-unit")
    return Written(type(value).__name__, kind).refused("quantity-unreadable")
