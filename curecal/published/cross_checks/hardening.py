"""Hardening of cement by other laws and methods than the one waits follow."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from itertools import pairwise

from curecal.science.cement import rate_freiesleben_hansen_pedersen_1977


def rate_en_1992_1_1_2004(temperature_c: float) -> float:
    """Return the factor on time for a temperature-adjusted age [1].

    It is *not* normalised: at 20 °C it is 0.99812, as the standard prints it.

    Source:
        EN 1992-1-1:2004, annex B, equation B.10; the same law in the fib Model Code for Concrete
        Structures 2010 (2013), equation 5.1-85.
    """
    return math.exp(13.65 - 4000.0 / (273.0 + temperature_c))


def adjusted_age_en_1992_1_1_2004(temperature_c: Sequence[float], time_d: Sequence[float]) -> float:
    """Return the temperature-adjusted age of concrete after steps of steady temperature [d].

    Source:
        EN 1992-1-1:2004, annex B, equation B.10.
    """
    steps = zip(temperature_c, time_d, strict=True)
    return sum(rate_en_1992_1_1_2004(step_c) * step_d for step_c, step_d in steps)


def maturity_nurse_saul(
    temperature_c: Sequence[float], time_h: Sequence[float], datum_c: float
) -> float:
    """Return temperature above a datum times duration, summed over steps [K·h].

    A step colder than the datum adds nothing; it takes nothing away either.

    Source:
        Saul, A. G. A. (1951), Principles underlying the steam curing of concrete at atmospheric
        pressure, Magazine of Concrete Research 2(6), after Nurse (1949).
    """
    steps = zip(temperature_c, time_h, strict=True)
    return sum(max(0.0, step_c - datum_c) * step_h for step_c, step_h in steps)


def maturity_nurse_saul_in_days(
    temperature_c: Sequence[float], time_d: Sequence[float], datum_c: float
) -> float:
    """Return the same maturity of steps in days [K·d].

    Source:
        Saul, A. G. A. (1951), as above.
    """
    return maturity_nurse_saul(temperature_c, time_d, datum_c)


def maturity_by_means(
    temperature_c: Sequence[float], time_h: Sequence[float], datum_c: float
) -> float:
    """Return the maturity of readings, each interval at the mean of its ends [K·h].

    Source:
        Carino, N. J., The maturity method, in Handbook on Nondestructive Testing of Concrete
        (from memory): the temperature-time factor by interval means.
    """
    return maturity_nurse_saul(*_interval_means(temperature_c, time_h), datum_c)


def age_by_means_freiesleben_hansen_pedersen_1977(
    temperature_c: Sequence[float], time_h: Sequence[float]
) -> float:
    """Return the age of readings relative to 20 °C, each interval at the mean of its ends [h].

    Source:
        As worked by hand, with the law of Freiesleben Hansen & Pedersen 1977.
    """
    return _age_by_means(temperature_c, time_h, rate_freiesleben_hansen_pedersen_1977)


def age_by_means_en_1992_1_1_2004(temperature_c: Sequence[float], time_h: Sequence[float]) -> float:
    """Return the adjusted age of readings, each interval at the mean of its ends [h].

    Source:
        As worked by hand, with EN 1992-1-1:2004, equation B.10.
    """
    return _age_by_means(temperature_c, time_h, rate_en_1992_1_1_2004)


def strength_gain_en_1992_1_1_2004(age_d: float, s: float) -> float:
    """Return concrete's compressive strength at an age over that at 28 days [1].

    Args:
        age_d: Age at 20 °C.
        s: Coefficient of the cement: 0.20 class R, 0.25 class N, 0.38 class S [1].

    Source:
        EN 1992-1-1:2004, 3.1.2, equations 3.1 and 3.2.
    """
    return math.exp(s * (1.0 - math.sqrt(28.0 / age_d)))


def _age_by_means(
    temperature_c: Sequence[float], time_h: Sequence[float], rate: Callable[[float], float]
) -> float:
    means_c, spans_h = _interval_means(temperature_c, time_h)
    return sum(rate(mean_c) * span_h for mean_c, span_h in zip(means_c, spans_h, strict=True))


def _interval_means(
    temperature_c: Sequence[float], time_h: Sequence[float]
) -> tuple[list[float], list[float]]:
    """Return the mean temperature [°C] and the length [h] of each interval between readings."""
    readings = pairwise(zip(time_h, temperature_c, strict=True))
    steps = [((one_c + two_c) / 2.0, late - early) for (early, one_c), (late, two_c) in readings]
    return [mean_c for mean_c, _ in steps], [span_h for _, span_h in steps]
