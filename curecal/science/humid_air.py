"""Water vapor in air over liquid water: its saturation, and how far the air is from it."""

from __future__ import annotations

import math

from curecal.science.validity import require

_ZERO_CELSIUS_K = 273.15


def saturation_pressure_over_water(temperature_c: float) -> float:
    """Return the saturation pressure of water vapor over liquid water [Pa].

    Raises:
        OutsideValidity: The temperature is outside the range below.

    Validity:
        0 to 200 °C; supercooled water is refused.

    Source:
        Hyland, R. W. and Wexler, A. (1983), as in ASHRAE Handbook Fundamentals 2017, ch. 1,
        equation 6.
    """
    require("temperature_c", temperature_c, low=0.0, high=200.0)
    absolute_k = temperature_c + _ZERO_CELSIUS_K
    polynomial = 1.3914993 + absolute_k * (
        -4.8640239e-2 + absolute_k * (4.1764768e-5 + absolute_k * -1.4452093e-8)
    )
    return math.exp(-5.8002206e3 / absolute_k + polynomial + 6.5459673 * math.log(absolute_k))


def vapor_pressure_deficit(*, temperature_c: float, humidity: float) -> float:
    """Return how far the vapor pressure of air is below saturation over water [Pa].

    Args:
        temperature_c: Temperature of the air.
        humidity: Relative humidity, a fraction [1].

    Raises:
        OutsideValidity: A value is outside the range below.

    Validity:
        0 to 200 °C; humidity 0 to 1.

    Source:
        Definition, with saturation by ASHRAE Handbook Fundamentals 2017, ch. 1, equation 6.
    """
    require("humidity", humidity, low=0.0, high=1.0)
    return saturation_pressure_over_water(temperature_c) * (1.0 - humidity)
