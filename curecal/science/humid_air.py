"""Water vapor in air over liquid water: its saturation, and how far the air is from it."""

from __future__ import annotations

import math

from curecal.science.validity import require

ZERO_CELSIUS_K = 273.15

# The constants of equation 6 by their names there.
C8, C9, C10 = -5.8002206e3, 1.3914993, -4.8640239e-2
C11, C12, C13 = 4.1764768e-5, -1.4452093e-8, 6.5459673


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
    absolute_k = temperature_c + ZERO_CELSIUS_K
    polynomial = C9 + absolute_k * (C10 + absolute_k * (C11 + absolute_k * C12))
    return math.exp(C8 / absolute_k + polynomial + C13 * math.log(absolute_k))


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
