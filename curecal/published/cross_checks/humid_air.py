"""Water vapor in air beyond what drying needs: over ice, dew point, ratio, enthalpy, wet bulb.

Relative humidity is a fraction from 0 to 1. At -5 °C saturation over ice and over supercooled
water are 5 % apart.
"""

from __future__ import annotations

import math

from curecal.science.humid_air import saturation_pressure_over_water

STANDARD_PRESSURE_PA = 101_325.0
TRIPLE_POINT_C = 0.01

_ZERO_CELSIUS_K = 273.15
_MOLAR_MASS_RATIO = 0.621945  # water over dry air, ASHRAE Fundamentals 2017 ch. 1 eq. 20


def saturation_pressure_over_ice(temperature_c: float) -> float:
    """Return the saturation pressure of water vapor over ice [Pa].

    Source:
        Hyland, R. W. and Wexler, A. (1983), as in ASHRAE Handbook Fundamentals 2017, ch. 1,
        equation 5.
    """
    absolute_k = temperature_c + _ZERO_CELSIUS_K
    polynomial = 6.3925247 + absolute_k * (
        -9.677843e-3
        + absolute_k * (6.2215701e-7 + absolute_k * (2.0747825e-9 + absolute_k * -9.484024e-13))
    )
    return math.exp(-5.6745359e3 / absolute_k + polynomial + 4.1635019 * math.log(absolute_k))


def saturation_pressure(temperature_c: float) -> float:
    """Return the saturation pressure, over ice up to the triple point, over water above it [Pa].

    Source:
        ASHRAE Handbook Fundamentals 2017, ch. 1, equations 5 and 6.
    """
    if temperature_c <= TRIPLE_POINT_C:
        return saturation_pressure_over_ice(temperature_c)
    return saturation_pressure_over_water(temperature_c)


def saturation_pressure_iapws_if97(temperature_k: float) -> float:
    """Return the saturation pressure of water by the industrial formulation [MPa].

    Source:
        IAPWS R7-97(2012), Industrial Formulation 1997, region 4, equation 30;
        coefficients from memory.
    """
    theta = temperature_k - 0.23855557567849 / (temperature_k - 0.65017534844798e3)
    a = theta * theta + 0.11670521452767e4 * theta - 0.72421316703206e6
    b = -0.17073846940092e2 * theta * theta + 0.12020824702470e5 * theta - 0.32325550322333e7
    c = 0.14915108613530e2 * theta * theta - 0.48232657361591e4 * theta + 0.40511340542057e6
    root = 2.0 * c / (-b + math.sqrt(b * b - 4.0 * a * c))
    return math.pow(root, 4.0)


def humidity_ratio(
    temperature_c: float, humidity: float, pressure_pa: float = STANDARD_PRESSURE_PA
) -> float:
    """Return the mass of water vapor per mass of dry air [kg/kg].

    Source:
        ASHRAE Handbook Fundamentals 2017, ch. 1, equations 12 and 20; numbers from memory.
    """
    vapor_pa = humidity * saturation_pressure(temperature_c)
    return _MOLAR_MASS_RATIO * vapor_pa / (pressure_pa - vapor_pa)


def humidity_ratio_from_wet_bulb(
    dry_bulb_c: float, wet_bulb_c: float, pressure_pa: float = STANDARD_PRESSURE_PA
) -> float:
    """Return the humidity ratio that a pair of dry-bulb and wet-bulb readings means [kg/kg].

    Source:
        ASHRAE Handbook Fundamentals 2017, ch. 1, equations 33 (water) and 35 (ice);
        numbers from memory.
    """
    saturated = humidity_ratio(wet_bulb_c, 1.0, pressure_pa)
    depression_k = dry_bulb_c - wet_bulb_c
    if wet_bulb_c >= 0.0:
        numerator = (2501.0 - 2.326 * wet_bulb_c) * saturated - 1.006 * depression_k
        return numerator / (2501.0 + 1.86 * dry_bulb_c - 4.186 * wet_bulb_c)
    numerator = (2830.0 - 0.24 * wet_bulb_c) * saturated - 1.006 * depression_k
    return numerator / (2830.0 + 1.86 * dry_bulb_c - 2.1 * wet_bulb_c)


def humidity_from_wet_bulb(dry_bulb_c: float, wet_bulb_c: float, pressure_pa: float) -> float:
    """Return the relative humidity that a pair of readings means [%].

    Source:
        ASHRAE Handbook Fundamentals 2017, ch. 1, equations 12 and 20 inverted; numbers from memory.
    """
    ratio = humidity_ratio_from_wet_bulb(dry_bulb_c, wet_bulb_c, pressure_pa)
    vapor_pa = pressure_pa * ratio / (_MOLAR_MASS_RATIO + ratio)
    return 100.0 * vapor_pa / saturation_pressure(dry_bulb_c)


def dew_point(temperature_c: float, humidity: float) -> float:
    """Return the temperature at which air would be saturated, the frost point below 0 °C [°C].

    The inverse of `saturation_pressure`, found by halving; the fits in print differ from it by
    hundredths of a kelvin.

    Source:
        ASHRAE Handbook Fundamentals 2017, ch. 1, section on dew point: saturation inverted.
    """
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


def dew_point_from_wet_bulb(dry_bulb_c: float, wet_bulb_c: float, pressure_pa: float) -> float:
    """Return the dew point that a pair of dry-bulb and wet-bulb readings means [°C].

    Source:
        ASHRAE Handbook Fundamentals 2017, ch. 1.
    """
    percent = humidity_from_wet_bulb(dry_bulb_c, wet_bulb_c, pressure_pa)
    return dew_point(dry_bulb_c, percent / 100.0)


def enthalpy(temperature_c: float, ratio: float) -> float:
    """Return the enthalpy of moist air per mass of dry air, zero for dry air at 0 °C [kJ/kg].

    Args:
        temperature_c: Temperature of the air.
        ratio: Humidity ratio, mass of vapor per mass of dry air [kg/kg].

    Source:
        ASHRAE Handbook Fundamentals 2017, ch. 1, equation 30; numbers from memory.
    """
    return 1.006 * temperature_c + ratio * (2501.0 + 1.86 * temperature_c)


def enthalpy_from_wet_bulb(dry_bulb_c: float, wet_bulb_c: float, pressure_pa: float) -> float:
    """Return the enthalpy that a pair of dry-bulb and wet-bulb readings means [kJ/kg].

    Source:
        ASHRAE Handbook Fundamentals 2017, ch. 1.
    """
    ratio = humidity_ratio_from_wet_bulb(dry_bulb_c, wet_bulb_c, pressure_pa)
    return enthalpy(dry_bulb_c, ratio)
