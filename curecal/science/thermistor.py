"""The temperature a floor sensor's resistance means, by Steinhart-Hart or by its own table.

A formula with a single B value is about 1 K off at 0 °C for the usual 10 kΩ sensor.
"""

from __future__ import annotations

import math
from bisect import bisect_left
from itertools import pairwise

from curecal.records import Record, record
from curecal.science.validity import refuse, require

_ZERO_CELSIUS_K = 273.15
# The span thermistors for floors and rooms are made for.
_LOWEST_C = -40.0
_HIGHEST_C = 125.0


@record
class SteinhartHart(Record):
    """Coefficients of the Steinhart-Hart equation, for resistance in ohm and kelvin.

    Attributes:
        a: Constant coefficient [1/K].
        b: Coefficient of the logarithm [1/K].
        c: Coefficient of the logarithm's cube [1/K].
    """

    a: float
    b: float
    c: float


def temperature_steinhart_hart(resistance_ohm: float, coefficients: SteinhartHart) -> float:
    """Return the temperature a thermistor's resistance means [°C].

    Raises:
        OutsideValidity: The resistance, or the temperature it would mean, is outside the range.

    Validity:
        10 Ω to 10 MΩ; -40 to 125 °C.

    Source:
        Steinhart, J. S. and Hart, S. R. (1968), Calibration curves for thermistors, Deep-Sea
        Research 15.
    """
    require("resistance_ohm", resistance_ohm, low=10.0, high=1e7)
    logarithm = math.log(resistance_ohm)
    inverse_per_k = (
        coefficients.a + coefficients.b * logarithm + coefficients.c * math.pow(logarithm, 3.0)
    )
    # 100 to 1000 K: nonsense coefficients are stopped before the division.
    require("inverse_per_k", inverse_per_k, low=1e-3, high=1e-2)
    temperature_c = 1.0 / inverse_per_k - _ZERO_CELSIUS_K
    return require("temperature_c", temperature_c, low=_LOWEST_C, high=_HIGHEST_C)


def temperature_from_table(resistance_ohm: float, table: tuple[tuple[float, float], ...]) -> float:
    """Return the temperature a resistance means by a sensor's table [°C].

    Between two rows the logarithm of the resistance is linear in the inverse of the absolute
    temperature, as a thermistor's nearly is.

    Args:
        resistance_ohm: The reading.
        table: Rows of temperature [°C], rising, and resistance [Ω], falling.

    Raises:
        OutsideValidity: The resistance is outside the table, or the table is not such a table.

    Validity:
        From the table's first row to its last.

    Source:
        Interpolation by the two-point B-value equation; the numbers are the table's.
    """
    _require_table(table)
    require("resistance_ohm", resistance_ohm, low=table[-1][1], high=table[0][1])
    index = max(1, bisect_left(table, -resistance_ohm, key=lambda row: -row[1]))
    (cold_c, cold_ohm), (warm_c, warm_ohm) = table[index - 1], table[index]
    part = (math.log(resistance_ohm) - math.log(cold_ohm)) / (
        math.log(warm_ohm) - math.log(cold_ohm)
    )
    cold_per_k, warm_per_k = 1.0 / (cold_c + _ZERO_CELSIUS_K), 1.0 / (warm_c + _ZERO_CELSIUS_K)
    return 1.0 / (cold_per_k + part * (warm_per_k - cold_per_k)) - _ZERO_CELSIUS_K


def _require_table(table: tuple[tuple[float, float], ...]) -> None:
    falls = all(one[0] < two[0] and one[1] > two[1] for one, two in pairwise(table))
    sane = all(row[0] > -_ZERO_CELSIUS_K and row[1] > 0.0 for row in table)
    if not len(table) > 1 or not falls or not sane:
        refuse("sensor-table-not-falling")
