"""How fast cement hardens at a temperature, by rival published laws, and what it gains by an age.

Every law gives a rate relative to 20 °C; `rate_relative_to_20_c` is the front door to all of
them. The clocks use Freiesleben Hansen & Pedersen 1977, the slowest of them in the cold.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from enum import Enum
from itertools import pairwise

from curecal.science.validity import refuse, require

REFERENCE_C = 20.0
ZERO_CELSIUS_K = 273.15
GAS_CONSTANT_J_PER_MOL_K = 8.314
"""Three decimals on purpose: the law's constants were fitted with this value."""

_SECONDS_PER_DAY = 86_400.0
_LOWEST_C = -20.0
_HIGHEST_C = 80.0


class CementLaw(Enum):
    """The published laws for the rate of hardening, by author and year."""

    FREIESLEBEN_HANSEN_PEDERSEN_1977 = "Freiesleben Hansen & Pedersen 1977"
    EN_1992_1_1_2004 = "EN 1992-1-1:2004"
    FIB_MODEL_CODE_2010 = "fib Model Code 2010"


def activation_energy_freiesleben_hansen_pedersen_1977(temperature_c: float) -> float:
    """Return the apparent activation energy of cement hydration.

    Args:
        temperature_c: Temperature of the cement paste [°C].

    Returns:
        Activation energy [J/mol]: 33 500, and 1470 more for each kelvin below 20 °C.

    Raises:
        OutsideValidity: The temperature is outside the range below.

    Validity:
        -20 to 80 °C.

    Source:
        Freiesleben Hansen, P. and Pedersen, E. J. (1977), Maturity computer for controlled
        curing and hardening of concrete, Nordisk Betong 1. Constants from memory.
    """
    require("temperature_c", temperature_c, low=_LOWEST_C, high=_HIGHEST_C)
    if temperature_c >= REFERENCE_C:
        return 33_500.0
    return 33_500.0 + 1470.0 * (REFERENCE_C - temperature_c)


def rate_freiesleben_hansen_pedersen_1977(temperature_c: float) -> float:
    """Return the rate of hardening relative to the rate at 20 °C.

    Args:
        temperature_c: Temperature of the cement paste [°C].

    Returns:
        Rate as a ratio, 1 at 20 °C, above 1 when warmer [1].

    Raises:
        OutsideValidity: The temperature is outside the range below.

    Validity:
        -20 to 80 °C.

    Source:
        Freiesleben Hansen, P. and Pedersen, E. J. (1977), Maturity computer for controlled
        curing and hardening of concrete, Nordisk Betong 1. Constants from memory.
    """
    energy_j_mol = activation_energy_freiesleben_hansen_pedersen_1977(temperature_c)
    inverse_per_k = 1.0 / (REFERENCE_C + ZERO_CELSIUS_K) - 1.0 / (temperature_c + ZERO_CELSIUS_K)
    return math.exp(energy_j_mol / GAS_CONSTANT_J_PER_MOL_K * inverse_per_k)


def rate_en_1992_1_1_2004(temperature_c: float) -> float:
    """Return the factor on time for a temperature-adjusted concrete age.

    It is *not* normalised: at 20 °C it is 0.99812, as the standard prints it.

    Args:
        temperature_c: Temperature of the concrete [°C].

    Returns:
        Adjusted time per elapsed time [1].

    Raises:
        OutsideValidity: The temperature is outside the range below.

    Validity:
        0 to 80 °C, the range the standard states.

    Source:
        EN 1992-1-1:2004, annex B, equation B.10.
    """
    require("temperature_c", temperature_c, low=0.0, high=_HIGHEST_C)
    return math.exp(13.65 - 4000.0 / (273.0 + temperature_c))


def rate_fib_model_code_2010(temperature_c: float) -> float:
    """Return the factor on time for a temperature-adjusted concrete age.

    Args:
        temperature_c: Temperature of the concrete [°C].

    Returns:
        Adjusted time per elapsed time [1].

    Raises:
        OutsideValidity: The temperature is outside the range below.

    Validity:
        0 to 80 °C.

    Source:
        fib Model Code for Concrete Structures 2010 (2013), equation 5.1-85.
    """
    require("temperature_c", temperature_c, low=0.0, high=_HIGHEST_C)
    return math.exp(13.65 - 4000.0 / (273.0 + temperature_c))


_LAWS = {
    CementLaw.FREIESLEBEN_HANSEN_PEDERSEN_1977: rate_freiesleben_hansen_pedersen_1977,
    CementLaw.EN_1992_1_1_2004: rate_en_1992_1_1_2004,
    CementLaw.FIB_MODEL_CODE_2010: rate_fib_model_code_2010,
}


def rate_relative_to_20_c(
    temperature_c: float, law: CementLaw = CementLaw.FREIESLEBEN_HANSEN_PEDERSEN_1977
) -> float:
    """Return the rate of hardening by the law chosen.

    Args:
        temperature_c: Temperature of the cement paste [°C].
        law: Whose law.

    Returns:
        Rate as a ratio to that at 20 °C [1].

    Raises:
        OutsideValidity: The temperature is outside that law's range.

    Validity:
        That of the law chosen.

    Source:
        As the law chosen.
    """
    return _LAWS[law](temperature_c)


def rate_ratio(
    *,
    temperature_c: float,
    rated_c: float,
    law: CementLaw = CementLaw.FREIESLEBEN_HANSEN_PEDERSEN_1977,
) -> float:
    """Return the rate at one temperature as a ratio to the rate at another.

    A ratio of two rates, each with its own activation energy; not the activation energy of the
    one referred to the other. At 10 °C against a sheet rated at 23 °C: 0.43271.

    Args:
        temperature_c: Temperature of the cement paste [°C].
        rated_c: Temperature a data sheet's times hold at [°C].
        law: Whose law.

    Returns:
        Rate at `temperature_c` over rate at `rated_c` [1].

    Raises:
        OutsideValidity: Either temperature is outside that law's range.

    Validity:
        That of the law chosen.

    Source:
        As the law chosen.
    """
    return rate_relative_to_20_c(temperature_c, law) / rate_relative_to_20_c(rated_c, law)


def rate_doubling(*, temperature_c: float, rated_c: float, doubling_k: float) -> float:
    """Return the rate where a data sheet says that time doubles per step of cold.

    Args:
        temperature_c: Temperature of the material [°C].
        rated_c: Temperature the data sheet's times hold at [°C].
        doubling_k: Temperature step that doubles or halves the time [K].

    Returns:
        Rate as a ratio to that at `rated_c` [1].

    Raises:
        OutsideValidity: A value is outside the range below.

    Validity:
        -20 to 80 °C; steps from 1 to 100 K.

    Source:
        Common practice of data sheets: "time doubles for each 10 °C (18 °F) colder".
    """
    require("temperature_c", temperature_c, low=_LOWEST_C, high=_HIGHEST_C)
    require("rated_c", rated_c, low=_LOWEST_C, high=_HIGHEST_C)
    require("doubling_k", doubling_k, low=1.0, high=100.0)
    return math.pow(2.0, (temperature_c - rated_c) / doubling_k)


def maturity_nurse_saul(steps: Sequence[tuple[float, float]], *, datum_c: float) -> float:
    """Return the maturity as the sum of temperature above a datum times duration.

    A step colder than the datum adds nothing; it takes nothing away either.

    Args:
        steps: Temperature [°C] and duration [s] of each step.
        datum_c: Temperature below which nothing hardens [°C].

    Returns:
        Maturity [K·s].

    Raises:
        OutsideValidity: A temperature, the datum or a duration is outside the range below.

    Validity:
        -20 to 80 °C; datum -20 to 10 °C; durations not negative, at most 1000 days.

    Source:
        Saul, A. G. A. (1951), Principles underlying the steam curing of concrete at atmospheric
        pressure, Magazine of Concrete Research 2(6), after Nurse (1949).
    """
    require("datum_c", datum_c, low=_LOWEST_C, high=10.0)
    total_k_s = 0.0
    for temperature_c, duration_s in steps:
        require("temperature_c", temperature_c, low=_LOWEST_C, high=_HIGHEST_C)
        require("duration_s", duration_s, low=0.0, high=1000.0 * _SECONDS_PER_DAY)
        total_k_s += max(0.0, temperature_c - datum_c) * duration_s
    return total_k_s


def interval_means(
    times_s: Sequence[float], temperatures_c: Sequence[float]
) -> tuple[tuple[float, float], ...]:
    """Return each interval between readings as one step at the mean of its end readings.

    The way a maturity is worked by hand. The clocks do not use it: they take the temperature as
    linear between the readings and the rate per instant.

    Args:
        times_s: Instants of the readings, rising [s].
        temperatures_c: The readings [°C].

    Returns:
        Mean temperature [°C] and duration [s] of each interval.

    Raises:
        OutsideValidity: Fewer than two readings, unequal counts, or instants that do not rise.

    Validity:
        Two readings or more.

    Source:
        Carino, N. J., The maturity method, in Handbook on Nondestructive Testing of Concrete
        (from memory): the temperature-time factor by interval means.
    """
    if not len(times_s) == len(temperatures_c) > 1:
        refuse("readings-do-not-pair", times=len(times_s), values=len(temperatures_c))
    if not all(early < late for early, late in pairwise(times_s)):
        refuse("readings-not-in-order")
    means = ((one + two) / 2.0 for one, two in pairwise(temperatures_c))
    spans = (late - early for early, late in pairwise(times_s))
    return tuple(zip(means, spans, strict=True))


def strength_gain_en_1992_1_1_2004(*, age_s: float, cement_coefficient: float) -> float:
    """Return concrete's compressive strength at an age as a fraction of that at 28 days.

    Args:
        age_s: Age at 20 °C [s].
        cement_coefficient: Coefficient s: 0.20 class R, 0.25 class N, 0.38 class S [1].

    Returns:
        Strength over strength at 28 days [1].

    Raises:
        OutsideValidity: A value is outside the range below.

    Validity:
        Ages from 1 day to 100 years; coefficients 0.20 to 0.38.

    Source:
        EN 1992-1-1:2004, 3.1.2, equations 3.1 and 3.2.
    """
    require("age_s", age_s, low=_SECONDS_PER_DAY, high=36_525.0 * _SECONDS_PER_DAY)
    require("cement_coefficient", cement_coefficient, low=0.20, high=0.38)
    age_days = age_s / _SECONDS_PER_DAY
    return math.exp(cement_coefficient * (1.0 - math.sqrt(28.0 / age_days)))
