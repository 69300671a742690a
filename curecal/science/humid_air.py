"""Water vapor in air: saturation, dew point, humidity ratio, vapor-pressure deficit, enthalpy.

Relative humidity is a fraction from 0 to 1 everywhere. Each function says whether it speaks of
saturation over water or over ice: at -5 °C the two are 5 % apart.
"""

from __future__ import annotations

import math

from curecal.science.validity import require

STANDARD_PRESSURE_PA = 101_325.0
TRIPLE_POINT_C = 0.01

_ZERO_CELSIUS_K = 273.15
_MOLAR_MASS_RATIO = 0.621945  # water over dry air, ASHRAE Fundamentals 2017 ch. 1 eq. 20


def saturation_pressure_over_ice(temperature_c: float) -> float:
    """Return the saturation pressure of water vapor over ice.

    Args:
        temperature_c: Temperature of the air [°C].

    Returns:
        Saturation pressure [Pa].

    Raises:
        OutsideValidity: The temperature is outside the range below.

    Validity:
        -100 to 0.01 °C.

    Source:
        Hyland, R. W. and Wexler, A. (1983), as in ASHRAE Handbook Fundamentals 2017, ch. 1,
        equation 5.
    """
    require("temperature_c", temperature_c, low=-100.0, high=TRIPLE_POINT_C)
    absolute_k = temperature_c + _ZERO_CELSIUS_K
    polynomial = 6.3925247 + absolute_k * (
        -9.677843e-3
        + absolute_k * (6.2215701e-7 + absolute_k * (2.0747825e-9 + absolute_k * -9.484024e-13))
    )
    return math.exp(-5.6745359e3 / absolute_k + polynomial + 4.1635019 * math.log(absolute_k))


def saturation_pressure_over_water(temperature_c: float) -> float:
    """Return the saturation pressure of water vapor over liquid water.

    Args:
        temperature_c: Temperature of the air [°C].

    Returns:
        Saturation pressure [Pa].

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


def saturation_pressure(temperature_c: float) -> float:
    """Return the saturation pressure over ice up to the triple point, over water above it.

    Args:
        temperature_c: Temperature of the air [°C].

    Returns:
        Saturation pressure [Pa].

    Raises:
        OutsideValidity: The temperature is outside the range below.

    Validity:
        -100 to 200 °C.

    Source:
        ASHRAE Handbook Fundamentals 2017, ch. 1, equations 5 and 6.
    """
    require("temperature_c", temperature_c, low=-100.0, high=200.0)
    if temperature_c <= TRIPLE_POINT_C:
        return saturation_pressure_over_ice(temperature_c)
    return saturation_pressure_over_water(temperature_c)


def saturation_pressure_iapws_if97(temperature_k: float) -> float:
    """Return the saturation pressure of water by the industrial formulation, as a cross-check.

    Args:
        temperature_k: Absolute temperature [K].

    Returns:
        Saturation pressure [Pa].

    Raises:
        OutsideValidity: The temperature is outside the range below.

    Validity:
        273.15 to 647.096 K.

    Source:
        IAPWS R7-97(2012), Industrial Formulation 1997, region 4, equation 30;
        coefficients from memory.
    """
    require("temperature_k", temperature_k, low=273.15, high=647.096)
    theta = temperature_k - 0.23855557567849 / (temperature_k - 0.65017534844798e3)
    a = theta * theta + 0.11670521452767e4 * theta - 0.72421316703206e6
    b = -0.17073846940092e2 * theta * theta + 0.12020824702470e5 * theta - 0.32325550322333e7
    c = 0.14915108613530e2 * theta * theta - 0.48232657361591e4 * theta + 0.40511340542057e6
    root = 2.0 * c / (-b + math.sqrt(b * b - 4.0 * a * c))
    return math.pow(root, 4.0) * 1e6


def vapor_pressure_deficit(*, temperature_c: float, humidity: float) -> float:
    """Return how far the vapor pressure of air is below saturation over water.

    Args:
        temperature_c: Temperature of the air [°C].
        humidity: Relative humidity, a fraction [1].

    Returns:
        Vapor-pressure deficit [Pa].

    Raises:
        OutsideValidity: A value is outside the range below.

    Validity:
        0 to 200 °C; humidity 0 to 1.

    Source:
        Definition, with saturation by ASHRAE Handbook Fundamentals 2017, ch. 1, equation 6.
    """
    require("humidity", humidity, low=0.0, high=1.0)
    return saturation_pressure_over_water(temperature_c) * (1.0 - humidity)


def humidity_ratio(
    *, temperature_c: float, humidity: float, pressure_pa: float = STANDARD_PRESSURE_PA
) -> float:
    """Return the mass of water vapor per mass of dry air.

    Args:
        temperature_c: Temperature of the air [°C].
        humidity: Relative humidity, a fraction [1].
        pressure_pa: Pressure of the air [Pa].

    Returns:
        Humidity ratio [kg/kg].

    Raises:
        OutsideValidity: A value is outside the range below, or the air would boil.

    Validity:
        -100 to 90 °C; humidity 0 to 1; 60 to 120 kPa and above the saturation pressure.

    Source:
        ASHRAE Handbook Fundamentals 2017, ch. 1, equations 12 and 20; numbers from memory.
    """
    require("temperature_c", temperature_c, low=-100.0, high=90.0)
    require("humidity", humidity, low=0.0, high=1.0)
    require("pressure_pa", pressure_pa, low=60_000.0, high=120_000.0)
    vapor_pa = humidity * saturation_pressure(temperature_c)
    require("vapor_pressure_pa", vapor_pa, low=0.0, high=0.9 * pressure_pa)
    return _MOLAR_MASS_RATIO * vapor_pa / (pressure_pa - vapor_pa)


def humidity_ratio_from_wet_bulb(
    *, dry_bulb_c: float, wet_bulb_c: float, pressure_pa: float = STANDARD_PRESSURE_PA
) -> float:
    """Return the humidity ratio that a pair of dry-bulb and wet-bulb readings means.

    Args:
        dry_bulb_c: Temperature of the air [°C].
        wet_bulb_c: Thermodynamic wet-bulb temperature [°C].
        pressure_pa: Pressure of the air [Pa].

    Returns:
        Humidity ratio [kg/kg].

    Raises:
        OutsideValidity: A value is outside the range below, the wet bulb is above the dry bulb,
            or so far below it that the air would hold less than no water.

    Validity:
        -100 to 90 °C; 60 to 120 kPa.

    Source:
        ASHRAE Handbook Fundamentals 2017, ch. 1, equations 33 (water) and 35 (ice);
        numbers from memory.
    """
    require("dry_bulb_c", dry_bulb_c, low=-100.0, high=90.0)
    require("wet_bulb_c", wet_bulb_c, low=-100.0, high=dry_bulb_c)
    saturated = humidity_ratio(temperature_c=wet_bulb_c, humidity=1.0, pressure_pa=pressure_pa)
    depression_k = dry_bulb_c - wet_bulb_c
    if wet_bulb_c >= 0.0:
        numerator = (2501.0 - 2.326 * wet_bulb_c) * saturated - 1.006 * depression_k
        denominator = 2501.0 + 1.86 * dry_bulb_c - 4.186 * wet_bulb_c
    else:
        numerator = (2830.0 - 0.24 * wet_bulb_c) * saturated - 1.006 * depression_k
        denominator = 2830.0 + 1.86 * dry_bulb_c - 2.1 * wet_bulb_c
    return require("humidity_ratio", numerator / denominator, low=0.0, high=10.0)


def humidity_from_humidity_ratio(
    *, temperature_c: float, ratio: float, pressure_pa: float = STANDARD_PRESSURE_PA
) -> float:
    """Return the relative humidity of air that holds this much water.

    Args:
        temperature_c: Temperature of the air [°C].
        ratio: Humidity ratio, mass of vapor per mass of dry air [kg/kg].
        pressure_pa: Pressure of the air [Pa].

    Returns:
        Relative humidity, a fraction [1].

    Raises:
        OutsideValidity: A value is outside the range below, or the air cannot hold that much.

    Validity:
        -100 to 90 °C; ratio 0 to 10; 60 to 120 kPa.

    Source:
        ASHRAE Handbook Fundamentals 2017, ch. 1, equations 12 and 20 inverted; numbers from memory.
    """
    require("temperature_c", temperature_c, low=-100.0, high=90.0)
    require("ratio", ratio, low=0.0, high=10.0)
    require("pressure_pa", pressure_pa, low=60_000.0, high=120_000.0)
    vapor_pa = pressure_pa * ratio / (_MOLAR_MASS_RATIO + ratio)
    return require("humidity", vapor_pa / saturation_pressure(temperature_c), low=0.0, high=1.0)


def dew_point(*, temperature_c: float, humidity: float) -> float:
    """Return the temperature at which this air would be saturated (frost point below 0 °C).

    The inverse of `saturation_pressure`, found by halving; the fits in print differ from it by
    hundredths of a kelvin.

    Args:
        temperature_c: Temperature of the air [°C].
        humidity: Relative humidity, a fraction [1].

    Returns:
        Dew point [°C].

    Raises:
        OutsideValidity: A value is outside the range below.

    Validity:
        -40 to 200 °C; humidity 0.01 to 1.

    Source:
        ASHRAE Handbook Fundamentals 2017, ch. 1, section on dew point: saturation inverted.
    """
    require("temperature_c", temperature_c, low=-40.0, high=200.0)
    require("humidity", humidity, low=0.01, high=1.0)
    wanted_pa = humidity * saturation_pressure(temperature_c)
    low_c, high_c = -100.0, temperature_c
    # 60 halvings of at most 300 K are finer than a double can tell apart.
    for _ in range(60):
        middle_c = (low_c + high_c) / 2.0
        if saturation_pressure(middle_c) < wanted_pa:
            low_c = middle_c
        else:
            high_c = middle_c
    return high_c


def enthalpy(*, temperature_c: float, ratio: float) -> float:
    """Return the enthalpy of moist air per mass of dry air.

    Args:
        temperature_c: Temperature of the air [°C].
        ratio: Humidity ratio, mass of vapor per mass of dry air [kg/kg].

    Returns:
        Specific enthalpy, zero for dry air at 0 °C [J/kg].

    Raises:
        OutsideValidity: A value is outside the range below.

    Validity:
        -100 to 200 °C; ratio 0 to 10.

    Source:
        ASHRAE Handbook Fundamentals 2017, ch. 1, equation 30; numbers from memory.
    """
    require("temperature_c", temperature_c, low=-100.0, high=200.0)
    require("ratio", ratio, low=0.0, high=10.0)
    return 1000.0 * (1.006 * temperature_c + ratio * (2501.0 + 1.86 * temperature_c))
