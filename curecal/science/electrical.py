"""Resistance, current, power and insulation of a heating cable or mat."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from curecal.science.validity import refuse, require

CONTINUOUS_LOAD_FACTOR = 1.25
CONTINUOUS_LOAD_FRACTION = 0.8

_EXTRA_LOW_VOLTAGE_V = 50.0
_LOW_VOLTAGE_V = 500.0
_HIGHEST_VOLTAGE_V = 1000.0
_LOWEST_VOLTAGE_V = 1.0
_HIGHEST_POWER_W = 100_000.0
_LOWEST_RESISTANCE_OHM = 0.01
_HIGHEST_RESISTANCE_OHM = 1e6


@dataclass(frozen=True, slots=True)
class InsulationMinimum:
    """What an insulation test of a circuit needs.

    Attributes:
        test_voltage_v: DC test voltage [V].
        minimum_ohm: Smallest insulation resistance that passes [Ω].
    """

    test_voltage_v: float
    minimum_ohm: float


def resistance_from_power(*, voltage_v: float, power_w: float) -> float:
    """Return the resistance of a heating cable from what its label says.

    Args:
        voltage_v: Rated voltage [V].
        power_w: Rated power at that voltage [W].

    Returns:
        Resistance [Ω].

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
    """Return the current a resistive load draws.

    Args:
        power_w: Power [W].
        voltage_v: Voltage [V].

    Returns:
        Current [A].

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
    """Return the factor on a cable's rated power when it is fed another voltage.

    Args:
        rated_v: Voltage on the label [V].
        supply_v: Voltage it is connected to [V].

    Returns:
        Power over rated power [1].

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
    """Return what a meter reads across cables joined in parallel.

    Args:
        resistances_ohm: Resistance of each [Ω].

    Returns:
        Joint resistance [Ω].

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


def continuous_load_ampacity(*, power_w: float, voltage_v: float, other_a: float = 0.0) -> float:
    """Return the smallest rating of conductor and breaker for heating that runs for hours.

    Args:
        power_w: Power of the heating [W].
        voltage_v: Voltage of the circuit [V].
        other_a: Current of what else the circuit feeds, such as a fan's motor [A].

    Returns:
        Rating needed, 125 % of the current [A].

    Raises:
        OutsideValidity: A value is outside the range below.

    Validity:
        0 to 100 kW; 1 to 1000 V; 0 to 1000 A of other load.

    Source:
        NEC 424.3(B) to the 2017 edition, as worked in a code newsletter; the number of the
        section from 2020 from memory.
    """
    require("other_a", other_a, low=0.0, high=1000.0)
    return CONTINUOUS_LOAD_FACTOR * (current(power_w=power_w, voltage_v=voltage_v) + other_a)


def continuous_load_fits(*, load_a: float, breaker_a: float) -> bool:
    """Return whether a continuous load is at most 80 % of a breaker's rating.

    Args:
        load_a: Continuous current [A].
        breaker_a: Rating of the breaker [A].

    Returns:
        True when it fits.

    Raises:
        OutsideValidity: A value is outside the range below.

    Validity:
        Load 0 to 1000 A; breaker 1 to 1000 A.

    Source:
        NEC 424.3(B) to the 2017 edition, the same rule from the breaker's side.
    """
    require("load_a", load_a, low=0.0, high=1000.0)
    require("breaker_a", breaker_a, low=1.0, high=1000.0)
    return load_a * CONTINUOUS_LOAD_FACTOR <= breaker_a


def insulation_minimum_iec_60364_6(circuit_voltage_v: float) -> InsulationMinimum:
    """Return the test voltage and the smallest insulation resistance for a circuit.

    Args:
        circuit_voltage_v: Nominal voltage of the circuit [V].

    Returns:
        DC test voltage [V] and smallest passing resistance [Ω].

    Raises:
        OutsideValidity: The voltage is outside the range below.

    Validity:
        1 to 1000 V. Up to 50 V as for safety or protective extra-low voltage.

    Source:
        IEC 60364-6, table of insulation resistance, as printed in a railway's technical rules.
    """
    require("circuit_voltage_v", circuit_voltage_v, low=_LOWEST_VOLTAGE_V, high=_HIGHEST_VOLTAGE_V)
    if circuit_voltage_v <= _EXTRA_LOW_VOLTAGE_V:
        return InsulationMinimum(test_voltage_v=250.0, minimum_ohm=0.5e6)
    if circuit_voltage_v <= _LOW_VOLTAGE_V:
        return InsulationMinimum(test_voltage_v=500.0, minimum_ohm=1e6)
    return InsulationMinimum(test_voltage_v=1000.0, minimum_ohm=1e6)


def resistance_deviation(*, measured_ohm: float, rated_ohm: float) -> float:
    """Return how far a measured resistance is from the rated one.

    Args:
        measured_ohm: What the meter reads [Ω].
        rated_ohm: What the label says [Ω].

    Returns:
        Deviation as a signed fraction of the rated resistance [1].

    Raises:
        OutsideValidity: A value is outside the range below.

    Validity:
        0.01 Ω to 1 MΩ; an open or shorted conductor is no deviation.

    Source:
        Definition.
    """
    rated_ohm = _resistance("rated_ohm", rated_ohm)
    return (_resistance("measured_ohm", measured_ohm) - rated_ohm) / rated_ohm


def resistance_within(
    *, measured_ohm: float, rated_ohm: float, below: float = 0.10, above: float = 0.10
) -> bool:
    """Return whether a measured resistance is inside its tolerance, ends included.

    Args:
        measured_ohm: What the meter reads [Ω].
        rated_ohm: What the label says [Ω].
        below: Fraction it may be low by [1].
        above: Fraction it may be high by [1].

    Returns:
        True when it is inside.

    Raises:
        OutsideValidity: A value is outside the range below.

    Validity:
        0.01 Ω to 1 MΩ; tolerances 0 to 0.5.

    Source:
        The label's tolerance; -10 to +10 % is common practice.
    """
    require("below", below, low=0.0, high=0.5)
    require("above", above, low=0.0, high=0.5)
    deviation = resistance_deviation(measured_ohm=measured_ohm, rated_ohm=rated_ohm)
    # 1e-9 lets 81 Ω pass as exactly 10 % under 90 Ω, which binary fractions miss by a hair.
    return -below - 1e-9 <= deviation <= above + 1e-9


def _resistance(quantity: str, value_ohm: float) -> float:
    return require(quantity, value_ohm, low=_LOWEST_RESISTANCE_OHM, high=_HIGHEST_RESISTANCE_OHM)
