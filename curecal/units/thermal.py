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
    """The temperature a text states ("66 °F", "19 °C", "292 K").

    Args:
        text: A figure with °C, °F or K.

    Returns:
        The temperature [°C].

    Raises:
        QuantityRefused: no such text, or below absolute zero.

    Validity:
        From absolute zero up; whether a floor can have it is not judged here.
    """
    read = written(text, TEMPERATURE)
    return read.rounded(_possible(read, read.plain().value))


def temperature_range(text: object) -> Range:
    """The span of temperatures a text states ("21-24 °C", "70 °F ± 5", "70 °F").

    Args:
        text: One temperature, two with a dash or "to" between, or one with "±" and a step.

    Returns:
        Both ends [°C]; equal where one temperature is stated.

    Raises:
        QuantityRefused: no such text, ends in the wrong order, or below absolute zero.

    Validity:
        From absolute zero up.
    """
    read = written(text, TEMPERATURE_RANGE)
    low, high = read.span()
    return read.range(_possible(read, low), high)


def rated_temperature(text: object) -> float:
    """The temperature a sheet's times hold at ("70 °F", "21-24 °C", "70 °F ± 5").

    Args:
        text: As for `temperature_range`.

    Returns:
        The upper end of a range; of one with "±", which is how well a laboratory keeps to it,
        the temperature itself [°C].

    Raises:
        QuantityRefused: as `temperature_range`.

    Validity:
        From absolute zero up.
    """
    stated = temperature_range(text)
    read = written(text, TEMPERATURE_RANGE)
    center = read.center()
    return stated.high if center is None else read.rounded(center.value)


def temperature_step(text: object) -> float:
    """The difference of temperature a text states: 9 °F is a difference of 5 K.

    Args:
        text: A figure with °C, °F or K.

    Returns:
        The difference, zero or more [K].

    Raises:
        QuantityRefused: no such text, or a negative one.

    Validity:
        Any size a float holds.
    """
    read = written(text, TEMPERATURE_STEP)
    return read.rounded(read.not_negative(read.plain().step))


def temperature_rate(text: object) -> float:
    """The rise or fall in a day a text states ("5 °C/day", "18 °F per day", "1 °C/h").

    Args:
        text: A difference, then "/", "per", "a", "an", "each" or "every", then a unit of time.

    Returns:
        The difference in 24 hours, zero or more [K/d].

    Raises:
        QuantityRefused: no such text, or a negative one.

    Validity:
        Any size a float holds.
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
    """A difference over a unit of time, which may carry a count ("per 24 h")."""
    return re.compile(
        r"(?P<step>.*[^ ])(?: ?/ ?| (?i:per|an?|each|every) )"
        rf"(?:(?P<count>[\d.]+) ?)?(?P<time>{units_pattern('duration')})",
        re.ASCII,
    )


def _possible(read: Written, value: Fraction) -> Fraction:
    """The temperature itself; refused below absolute zero."""
    if value < _ABSOLUTE_ZERO_C:
        raise read.refused("quantity-below-absolute-zero")
    return value
