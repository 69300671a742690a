"""How fast cement hardens at a temperature."""

from __future__ import annotations

import math

from curecal.science.validity import require

REFERENCE_C = 20.0
"""The temperature the rate is relative to; below it the activation energy rises."""

ENERGY_J_PER_MOL = 33_500.0
"""The activation energy from there on [J/mol]."""

ENERGY_J_PER_MOL_K = 1470.0
"""How much more for each kelvin below it [J/(mol K)]."""

_ZERO_CELSIUS_K = 273.15
_REFERENCE_PER_K = 1.0 / (REFERENCE_C + _ZERO_CELSIUS_K)
GAS_CONSTANT_J_PER_MOL_K = 8.314
"""Three decimals on purpose: the law's constants were fitted with this value."""

# Where the law was measured; frozen or steamed cement hardens by other laws.
_LOWEST_C = -20.0
_HIGHEST_C = 80.0


def rate_freiesleben_hansen_pedersen_1977(temperature_c: float) -> float:
    """Return the rate of hardening relative to the rate at 20 °C [1].

    The slowest of the published laws in the cold, which is why waits follow it.

    Raises:
        OutsideValidity: The temperature is outside the range below.

    Validity:
        -20 to 80 °C.

    Source:
        Freiesleben Hansen, P. and Pedersen, E. J. (1977), Maturity computer for controlled
        curing and hardening of concrete, Nordisk Betong 1. Constants from memory.
    """
    require("temperature_c", temperature_c, low=_LOWEST_C, high=_HIGHEST_C)
    return rate_inside(temperature_c)


def rate_inside(temperature_c: float) -> float:
    """Return the same rate for who has made sure of the range [1].

    Validity:
        -20 to 80 °C, not looked at.

    Source:
        As `rate_freiesleben_hansen_pedersen_1977`.
    """
    below_k = REFERENCE_C - temperature_c
    energy_j_mol = ENERGY_J_PER_MOL + ENERGY_J_PER_MOL_K * max(0.0, below_k)
    inverse_per_k = _REFERENCE_PER_K - 1.0 / (temperature_c + _ZERO_CELSIUS_K)
    return math.exp(energy_j_mol / GAS_CONSTANT_J_PER_MOL_K * inverse_per_k)
