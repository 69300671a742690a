"""Resistance, current and power of a heating cable or mat."""

from __future__ import annotations

from collections.abc import Sequence

from curecal.science.validity import refuse, require

# 125 % of a load that runs for hours; its source stands at the function.
_CONTINUOUS_LOAD_FACTOR = 1.25

# Floor heating lies far inside these; beyond them a reading is in another unit.
_LOWEST_VOLTAGE_V = 1.0
_HIGHEST_VOLTAGE_V = 1000.0
_HIGHEST_POWER_W = 100_000.0
_LOWEST_RESISTANCE_OHM = 0.01
_HIGHEST_RESISTANCE_OHM = 1e6


def resistance_from_power(*, voltage_v: float, power_w: float) -> float:
    """Return the resistance of a heating cable from its rated voltage and power [Ω].

    Raises:
        OutsideValidity: A value is outside the range below.

    Validity:
        1 to 1000 V; 1 W to 100 kW; a purely resistive load.

    Source:
        Ohm's law and Joule's law.
    """
    require("voltage_v", voltage_v, low=_LOWEST_VOLTAGE_V, high=_HIGHEST_VOLTAGE_V)
    require("power_w", power_w, low=1.0, high=_HIGHEST_POWER_W)
    return voltage_v * voltage_v / power_w


def current(*, power_w: float, voltage_v: float) -> float:
    """Return the current a resistive load draws [A].

    Raises:
        OutsideValidity: A value is outside the range below.

    Validity:
        0 to 100 kW; 1 to 1000 V; a purely resistive single-phase load.

    Source:
        Joule's law.
    """
    require("power_w", power_w, low=0.0, high=_HIGHEST_POWER_W)
    require("voltage_v", voltage_v, low=_LOWEST_VOLTAGE_V, high=_HIGHEST_VOLTAGE_V)
    return power_w / voltage_v


def power_factor_on_another_voltage(*, rated_v: float, supply_v: float) -> float:
    """Return the factor on a cable's rated power when it is fed another voltage [1].

    Raises:
        OutsideValidity: A value is outside the range below.

    Validity:
        1 to 1000 V; constant resistance.

    Source:
        Ohm's law and Joule's law.
    """
    require("rated_v", rated_v, low=_LOWEST_VOLTAGE_V, high=_HIGHEST_VOLTAGE_V)
    require("supply_v", supply_v, low=_LOWEST_VOLTAGE_V, high=_HIGHEST_VOLTAGE_V)
    ratio = supply_v / rated_v
    return ratio * ratio


def parallel_resistance(resistances_ohm: Sequence[float]) -> float:
    """Return the reading of a meter across cables joined in parallel [Ω].

    Args:
        resistances_ohm: One for each cable [Ω].

    Raises:
        OutsideValidity: There is none, or a resistance is outside the range below.

    Validity:
        0.01 Ω to 1 MΩ each.

    Source:
        Kirchhoff's current law.
    """
    if not resistances_ohm:
        refuse("no-resistance")
    conductance_s = 0.0
    for resistance_ohm in resistances_ohm:
        conductance_s += 1.0 / _resistance("resistance_ohm", resistance_ohm)
    return 1.0 / conductance_s


def continuous_load_ampacity(load_a: float) -> float:
    """Return the smallest rating of conductor and breaker for a load that runs for hours [A].

    125 % of the load: the load is at most 80 % of the rating.

    Raises:
        OutsideValidity: The load is outside the range below.

    Validity:
        0 to 1000 A.

    Source:
        NEC 424.3(B) to the 2017 edition, as worked in a code newsletter; the number of the
        section from 2020 from memory.
    """
    return _CONTINUOUS_LOAD_FACTOR * require("load_a", load_a, low=0.0, high=1000.0)


def resistance_deviation(*, measured_ohm: float, rated_ohm: float) -> float:
    """Return how far a measured resistance is from the rated one, a signed fraction of it [1].

    Raises:
        OutsideValidity: A value is outside the range below.

    Validity:
        0.01 Ω to 1 MΩ; an open or shorted conductor is no deviation.

    Source:
        Definition.
    """
    rated_ohm = _resistance("rated_ohm", rated_ohm)
    return (_resistance("measured_ohm", measured_ohm) - rated_ohm) / rated_ohm


def _resistance(quantity: str, value_ohm: float) -> float:
    return require(quantity, value_ohm, low=_LOWEST_RESISTANCE_OHM, high=_HIGHEST_RESISTANCE_OHM)
