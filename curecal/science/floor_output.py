"""What a heated floor gives to the room, and when a bare heated screed meets its first heat."""

from __future__ import annotations

import math
from enum import Enum

from curecal.science.validity import require

_SECONDS_PER_DAY = 86_400.0
_COEFFICIENT = 8.92
_EXPONENT = 1.1


class Binder(Enum):
    """What binds a screed."""

    CEMENT = "cement"
    CALCIUM_SULFATE = "calcium sulfate"


def floor_output_en_1264_2(excess_k: float) -> float:
    """Return the heat a floor gives when its surface is this much warmer than the room.

    Args:
        excess_k: Mean surface temperature minus room temperature [K].

    Returns:
        Heat flux from the floor [W/m²].

    Raises:
        OutsideValidity: The difference is outside the range below.

    Validity:
        0 to 20 K.

    Source:
        EN 1264-2 and ISO 11855-2, basic characteristic curve. From memory.
    """
    require("excess_k", excess_k, low=0.0, high=20.0)
    return _COEFFICIENT * math.pow(excess_k, _EXPONENT)


def surface_excess_en_1264_2(output_w_m2: float) -> float:
    """Return how much warmer than the room a floor's surface is when it gives this heat.

    Args:
        output_w_m2: Heat flux from the floor [W/m²].

    Returns:
        Mean surface temperature minus room temperature [K].

    Raises:
        OutsideValidity: The heat flux is outside the range below.

    Validity:
        0 to 240 W/m².

    Source:
        EN 1264-2 and ISO 11855-2, basic characteristic curve inverted. From memory.
    """
    require("output_w_m2", output_w_m2, low=0.0, high=240.0)
    return math.pow(output_w_m2 / _COEFFICIENT, 1.0 / _EXPONENT)


def functional_heating_start(binder: Binder) -> float:
    """Return the age at which a bare heated screed may first be heated, to prove its function.

    Never the wait of anything under a finished floor.

    Args:
        binder: What binds the screed.

    Returns:
        Age of the screed [s]: 21 days for cement, 7 for calcium sulfate.

    Raises:
        OutsideValidity: Never.

    Validity:
        A bare screed, before its covering, where its maker says nothing longer.

    Source:
        DIN EN 1264-4, as quoted in a heating-trade reference.
    """
    return (21.0 if binder is Binder.CEMENT else 7.0) * _SECONDS_PER_DAY


def functional_heating_end(binder: Binder) -> float:
    """Return the age at which functional heating by the water profile ends.

    Args:
        binder: What binds the screed.

    Returns:
        Age of the screed [s]: the start, 3 days at 25 °C flow, 4 days at the maximum.

    Raises:
        OutsideValidity: Never.

    Validity:
        Water-heated bare screed.

    Source:
        DIN EN 1264-4, as quoted in a heating-trade reference.
    """
    return functional_heating_start(binder) + (3.0 + 4.0) * _SECONDS_PER_DAY
