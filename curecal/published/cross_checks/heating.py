"""What a heated floor gives to the room, insulation limits, and a thermistor's resistance."""

from __future__ import annotations

import math

from curecal.published.plan_equations import usual_thermistor

# EN 1264-2: q = 8.92 (floor - room)^1.1 [W/m²].
_COEFFICIENT = 8.92
_EXPONENT = 1.1
_ZERO_CELSIUS_K = 273.15

# The steps of the standard's table: extra-low voltage, mains, above mains.
_EXTRA_LOW_VOLTAGE_V = 50.0
_LOW_VOLTAGE_V = 500.0


def floor_output_en_1264_2(floor_c: float, room_c: float) -> float:
    """Return the heat a floor gives when its surface is this much warmer than the room [W/m²].

    Source:
        EN 1264-2 and ISO 11855-2, basic characteristic curve. From memory.
    """
    return _COEFFICIENT * math.pow(floor_c - room_c, _EXPONENT)


def surface_excess_en_1264_2(output_w_m2: float) -> float:
    """Return how much warmer than the room a floor's surface is when it gives this heat [K].

    Source:
        EN 1264-2 and ISO 11855-2, basic characteristic curve inverted. From memory.
    """
    return math.pow(output_w_m2 / _COEFFICIENT, 1.0 / _EXPONENT)


def insulation_minimum_iec_60364_6(circuit_v: float) -> float:
    """Return the smallest insulation resistance that passes where mains is not the circuit [MΩ].

    Up to 50 V as for safety or protective extra-low voltage. From 50 to 500 V the rule on
    electrical readings has the number.

    Source:
        IEC 60364-6, table of insulation resistance, as printed in a railway's technical rules.
    """
    return 0.5 if circuit_v <= _EXTRA_LOW_VOLTAGE_V else 1.0


def insulation_test_voltage_iec_60364_6(circuit_v: float) -> float:
    """Return the DC voltage an insulation test of a circuit is made at [V].

    Source:
        IEC 60364-6, table of insulation resistance, as printed in a railway's technical rules.
    """
    if circuit_v <= _EXTRA_LOW_VOLTAGE_V:
        return 250.0
    return 500.0 if circuit_v <= _LOW_VOLTAGE_V else 1000.0


def resistance_steinhart_hart(temperature_c: float) -> float:
    """Return the resistance to expect of the usual floor sensor at a temperature [Ω].

    The cubic in the logarithm of the resistance has one real root, by Cardano's formula.

    Source:
        Steinhart, J. S. and Hart, S. R. (1968), Calibration curves for thermistors, Deep-Sea
        Research 15, inverted.
    """
    coefficients = usual_thermistor()
    linear = coefficients.b / coefficients.c
    constant = (coefficients.a - 1.0 / (temperature_c + _ZERO_CELSIUS_K)) / coefficients.c
    root = math.sqrt(math.pow(constant / 2.0, 2.0) + math.pow(linear / 3.0, 3.0))
    return math.exp(math.cbrt(root - constant / 2.0) - math.cbrt(root + constant / 2.0))
