"""A floor sensor's resistance at a temperature, and the temperature its resistance means.

A formula with a single B value is about 1 K off at 0 °C for the usual 10 kΩ sensor; here stand
the Steinhart-Hart equation and a table.
"""

from __future__ import annotations

import math
from bisect import bisect_left
from dataclasses import dataclass
from itertools import pairwise

from curecal.science.validity import refuse, require

_ZERO_CELSIUS_K = 273.15
_LOWEST_C = -40.0
_HIGHEST_C = 125.0


@dataclass(frozen=True, slots=True)
class SteinhartHart:
    """Coefficients of the Steinhart-Hart equation, for resistance in ohm and kelvin.

    Attributes:
        a: Constant coefficient [1/K].
        b: Coefficient of the logarithm [1/K].
        c: Coefficient of the logarithm's cube [1/K].
    """

    a: float
    b: float
    c: float


NTC_10K = SteinhartHart(a=1.12924e-3, b=2.34108e-4, c=0.87755e-7)
"""The usual 10 kΩ floor sensor; coefficients printed in two instrument manuals."""

NTC_10K_TABLE = (
    (-20.0, 97_006.9),
    (-5.0, 42_316.7),
    (0.0, 32_650.9),
    (1.0, 31_030.8),
    (20.0, 12_490.0),
    (25.0, 10_000.0),
    (30.0, 8_057.0),
)
"""The same sensor's table: temperature [°C], resistance [Ω]; from the same two manuals."""


def temperature_steinhart_hart(
    resistance_ohm: float, coefficients: SteinhartHart = NTC_10K
) -> float:
    """Return the temperature a thermistor's resistance means.

    Args:
        resistance_ohm: Resistance [Ω].
        coefficients: The sensor's coefficients.

    Returns:
        Temperature [°C].

    Raises:
        OutsideValidity: The resistance, or the temperature it would mean, is outside the range.

    Validity:
        10 Ω to 10 MΩ; -40 to 125 °C.

    Source:
        Steinhart, J. S. and Hart, S. R. (1968), Calibration curves for thermistors, Deep-Sea
        Research 15. Coefficients as printed in two instrument manuals.
    """
    require("resistance_ohm", resistance_ohm, low=10.0, high=1e7)
    logarithm = math.log(resistance_ohm)
    inverse_per_k = (
        coefficients.a + coefficients.b * logarithm + coefficients.c * math.pow(logarithm, 3.0)
    )
    require("inverse_per_k", inverse_per_k, low=1e-3, high=1e-2)
    temperature_c = 1.0 / inverse_per_k - _ZERO_CELSIUS_K
    return require("temperature_c", temperature_c, low=_LOWEST_C, high=_HIGHEST_C)


def resistance_steinhart_hart(temperature_c: float, coefficients: SteinhartHart = NTC_10K) -> float:
    """Return the resistance to expect of a thermistor at a temperature.

    The cubic in the logarithm of the resistance has one real root, by Cardano's formula.

    Args:
        temperature_c: Temperature [°C].
        coefficients: The sensor's coefficients.

    Returns:
        Resistance [Ω].

    Raises:
        OutsideValidity: The temperature or a coefficient is outside the range below.

    Validity:
        -40 to 125 °C; coefficients b and c above zero.

    Source:
        Steinhart, J. S. and Hart, S. R. (1968), inverted.
    """
    require("temperature_c", temperature_c, low=_LOWEST_C, high=_HIGHEST_C)
    require("b", coefficients.b, low=1e-9, high=1.0)
    require("c", coefficients.c, low=1e-12, high=1.0)
    linear = coefficients.b / coefficients.c
    constant = (coefficients.a - 1.0 / (temperature_c + _ZERO_CELSIUS_K)) / coefficients.c
    root = math.sqrt(math.pow(constant / 2.0, 2.0) + math.pow(linear / 3.0, 3.0))
    return math.exp(math.cbrt(root - constant / 2.0) - math.cbrt(root + constant / 2.0))


def resistance_from_table(
    temperature_c: float, table: tuple[tuple[float, float], ...] = NTC_10K_TABLE
) -> float:
    """Return the resistance at a temperature from a sensor's table.

    Between two rows the logarithm of the resistance is linear in the inverse of the absolute
    temperature, as a thermistor's nearly is.

    Args:
        temperature_c: Temperature [°C].
        table: Rows of temperature [°C], rising, and resistance [Ω], falling.

    Returns:
        Resistance [Ω].

    Raises:
        OutsideValidity: The temperature is outside the table, or the table is not such a table.

    Validity:
        From the table's first row to its last.

    Source:
        Interpolation by the two-point B-value equation; the numbers are the table's.
    """
    _check_table(table)
    require("temperature_c", temperature_c, low=table[0][0], high=table[-1][0])
    index = max(1, bisect_left(table, temperature_c, key=lambda row: row[0]))
    (cold_c, cold_ohm), (warm_c, warm_ohm) = table[index - 1], table[index]
    part = _part(_inverse(temperature_c), _inverse(cold_c), _inverse(warm_c))
    return math.exp(math.log(cold_ohm) + part * (math.log(warm_ohm) - math.log(cold_ohm)))


def temperature_from_table(
    resistance_ohm: float, table: tuple[tuple[float, float], ...] = NTC_10K_TABLE
) -> float:
    """Return the temperature a resistance means by a sensor's table.

    Args:
        resistance_ohm: Resistance [Ω].
        table: Rows of temperature [°C], rising, and resistance [Ω], falling.

    Returns:
        Temperature [°C].

    Raises:
        OutsideValidity: The resistance is outside the table, or the table is not such a table.

    Validity:
        From the table's first row to its last.

    Source:
        Interpolation by the two-point B-value equation; the numbers are the table's.
    """
    _check_table(table)
    require("resistance_ohm", resistance_ohm, low=table[-1][1], high=table[0][1])
    index = max(1, bisect_left(table, -resistance_ohm, key=lambda row: -row[1]))
    (cold_c, cold_ohm), (warm_c, warm_ohm) = table[index - 1], table[index]
    part = _part(math.log(resistance_ohm), math.log(cold_ohm), math.log(warm_ohm))
    inverse_per_k = _inverse(cold_c) + part * (_inverse(warm_c) - _inverse(cold_c))
    return 1.0 / inverse_per_k - _ZERO_CELSIUS_K


def _inverse(temperature_c: float) -> float:
    return 1.0 / (temperature_c + _ZERO_CELSIUS_K)


def _part(value: float, start: float, end: float) -> float:
    return (value - start) / (end - start)


def _check_table(table: tuple[tuple[float, float], ...]) -> None:
    falls = all(one[0] < two[0] and one[1] > two[1] for one, two in pairwise(table))
    sane = all(row[0] > -_ZERO_CELSIUS_K and row[1] > 0.0 for row in table)
    if not len(table) > 1 or not falls or not sane:
        refuse("sensor-table-not-falling")
