"""Temperatures, differences of temperature, and differences in a day, as people write them."""

from __future__ import annotations

import re
from fractions import Fraction
from functools import cache

from curecal.units.grammar import Written, written
from curecal.units.kinds import (
    DAY,
    TEMPERATURE,
    TEMPERATURE_RANGE,
    TEMPERATURE_RATE,
    TEMPERATURE_STEP,
    Range,
    unit_named,
    units_pattern,
)

_ABSOLUTE_ZERO_C = Fraction(-27_315, 100)


def temperature(text: object) -> float:
    """Return the temperature a text states ("66 °F", "19 °C", "292 K") [°C].

    Raises:
        QuantityRefused: no such text, or below absolute zero.
    """
    read = written(text, TEMPERATURE)
    return read.rounded(_possible(read, read.plain().value))


def temperature_range(text: object) -> Range:
    """Return both ends of the temperatures a text states ("21-24 °C", "70 °F ± 5") [°C].

    Both are equal where one temperature is stated.

    Raises:
        QuantityRefused: no such text, ends in the wrong order, or below absolute zero.
    """
    read = written(text, TEMPERATURE_RANGE)
    low, high = read.span()
    return read.range(_possible(read, low), high)


def rated_temperature(text: object) -> float:
    """Return the temperature a sheet's times hold at ("70 °F", "21-24 °C", "70 °F ± 5") [°C].

    The upper end of a range; of one with "±", which is how well a laboratory keeps to it, the
    temperature itself.

    Raises:
        QuantityRefused: as `temperature_range`.
    """
    stated = temperature_range(text)
    read = written(text, TEMPERATURE_RANGE)
    center = read.center()
    return stated.high if center is None else read.rounded(center.value)


def temperature_step(text: object) -> float:
    """Return the difference of temperature a text states, zero or more: 9 °F is 5 K [K].

    Raises:
        QuantityRefused: no such text, or a negative one.
    """
    read = written(text, TEMPERATURE_STEP)
    return read.rounded(read.not_negative(read.plain().step))


def temperature_rate(text: object) -> float:
    """Return the rise or fall in 24 hours a text states ("5 °C/day", "1 °C/h") [K/d].

    Raises:
        QuantityRefused: no such text, or a negative one.
    """
    read = written(text, TEMPERATURE_RATE)
    match = _rate_pattern().fullmatch(read.text)
    step = read.amount(match["step"]) if match else None
    time = unit_named(match["time"]) if match else None
    count = read.number(match["count"] or "1", time, match["time"]) if match else None
    if step is None or time is None or count is None:
        raise read.unreadable()
    time_s = read.positive(count) * time.factor
    return read.rounded(read.not_negative(step.step) * DAY / time_s)


@cache
def _rate_pattern() -> re.Pattern[str]:
    """Return a difference over a unit of time, which may carry a count ("per 24 h")."""
    return re.compile(
        r"(?P<step>.*[^ ])(?: ?/ ?| (?i:per|an?|each|every) )"
        rf"(?:(?P<count>[\d.]+) ?)?(?P<time>{units_pattern('duration')})",
        re.ASCII,
    )


def _possible(read: Written, value: Fraction) -> Fraction:
    """Return the temperature itself; refused below absolute zero."""
    if value < _ABSOLUTE_ZERO_C:
        raise read.refused("quantity-below-absolute-zero")
    return value
