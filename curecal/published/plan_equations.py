"""The equations and numbers a plan computes with, as a published check's inputs name them.

Only units are converted here; what is computed is in `curecal.science`, or is a number of the
shipped rules and classes.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise

import tomli

from curecal import units
from curecal.errors import SourceError
from curecal.material_classes.rules import load_rules
from curecal.records import Record, record
from curecal.science import cement, drying, electrical, humid_air, thermistor
from curecal.science.age import Accumulator
from curecal.science.history import Segment
from curecal.science.rate import CementRate, DryingRate
from curecal.shipped import shipped_text
from curecal.trade.data_sheets import FixedWait

_DAY_S = 86_400.0
_HOUR_S = 3_600.0
_ROOM_RH = 0.5
"""Any humidity will do where cement's clock is asked: it does not depend on it."""


@record
class _UncutCement(Record):
    """The law of cement as an integrable rate, not cut off at 1: printed ages are not."""

    breaks_c: tuple[float, ...] = (cement.REFERENCE_C,)
    breaks_rh: tuple[float, ...] = ()

    def at(self, *, temperature_c: float, humidity: float) -> float:
        del humidity  # the shape of a rate; the law does not depend on it
        return cement.rate_freiesleben_hansen_pedersen_1977(temperature_c)

    def bends(self, _segment: Segment, /) -> tuple[float, ...]:
        return ()


def cement_rate_ratio(temperature_c: float, rated_c: float) -> float:
    """Return the rate of hardening at one temperature over that at another [1]."""
    rate = cement.rate_freiesleben_hansen_pedersen_1977
    return rate(temperature_c) / rate(rated_c)


def cement_clock_rate(temperature_c: float, rated_c: float, minimum_c: float) -> float:
    """Return the share of an hour that counts on cement's clock [1]."""
    rate = CementRate(rated_c=rated_c, minimum_c=minimum_c)
    return rate.at(temperature_c=temperature_c, humidity=_ROOM_RH)


def age_by_lines(temperature_c: Sequence[float], time_h: Sequence[float]) -> float:
    """Return the age of readings joined by straight lines, relative to 20 °C [h]."""
    history = [
        Segment(
            start_s=early_h * _HOUR_S,
            end_s=late_h * _HOUR_S,
            start_c=early_c,
            end_c=late_c,
            start_rh=_ROOM_RH,
            end_rh=_ROOM_RH,
        )
        for (early_h, early_c), (late_h, late_c) in pairwise(
            zip(time_h, temperature_c, strict=True)
        )
    ]
    return Accumulator(history, _UncutCement()).age() / _HOUR_S


def vapor_pressure_deficit(temperature_c: float, humidity: float) -> float:
    """Return how far the vapor pressure of air is below saturation over water [Pa]."""
    return humid_air.vapor_pressure_deficit(temperature_c=temperature_c, humidity=humidity)


def drying_time(thickness_mm: float, rule: str) -> float:
    """Return the time a thickness dries by a rule as a data sheet words it [d]."""
    steps = [drying.DryingStep(part.to_m, part.s_per_m) for part in units.drying_rule(rule)]
    return drying.drying_time(thickness_mm / 1000.0, steps) / _DAY_S


def drying_clock_rate(
    temperature_c: float,
    humidity: float,
    rated_c: float,
    rated_humidity: float,
    minimum_c: float,
    limit_humidity: float,
) -> float:
    """Return the share of an hour that counts on a drying clock [1]."""
    rate = DryingRate(
        rated_c=rated_c, rated_rh=rated_humidity, minimum_c=minimum_c, limit_rh=limit_humidity
    )
    return rate.at(temperature_c=temperature_c, humidity=humidity)


def probe_depth_one_side(thickness_mm: float) -> float:
    """Return the least depth at which a moisture test counts [mm]."""
    return load_rules().moisture.depth_fraction * thickness_mm


def functional_heating_start(material: str) -> float:
    """Return the age at which a bare screed may first be heated to prove its function [d].

    Raises:
        SourceError: The shipped class has no such wait.
    """
    wait = load_rules().classes[material].bare_heat
    if wait is None or not isinstance(wait.amount, FixedWait):
        raise SourceError("published-data-damaged", what=material)
    return wait.amount.wait_s / _DAY_S


def functional_heating_end(material: str) -> float:
    """Return the age at which functional heating by the water profile ends [d]."""
    profile = load_rules().bare_screed
    return functional_heating_start(material) + profile.flow_count + profile.flow_most_count


def resistance_of_label(voltage_v: float, power_w: float) -> float:
    """Return the resistance of a cable from its label [Ω]."""
    return electrical.resistance_from_power(voltage_v=voltage_v, power_w=power_w)


def power_factor(rated_v: float, supply_v: float) -> float:
    """Return the factor on a cable's power when it is fed another voltage [1]."""
    return electrical.power_factor_on_another_voltage(rated_v=rated_v, supply_v=supply_v)


def continuous_load(power_w: float, voltage_v: float, other_a: float) -> float:
    """Return the rating that heating and another load on its circuit need [A]."""
    heating_a = electrical.current(power_w=power_w, voltage_v=voltage_v)
    return electrical.continuous_load_ampacity(heating_a + other_a)


def insulation_minimum_of_mains(circuit_v: float) -> float:
    """Return the smallest insulation resistance that passes on a mains circuit [MΩ]."""
    del circuit_v  # one number for every circuit up to 500 V
    return load_rules().electrical.earth_ohm / 1e6


def usual_thermistor() -> thermistor.SteinhartHart:
    """Return the coefficients of the usual floor sensor."""
    sensors = tomli.loads(shipped_text("thermistors.toml"))["thermistor"]
    return thermistor.SteinhartHart(*sensors["10 kΩ NTC"]["coefficients"])


def thermistor_temperature(resistance_ohm: float) -> float:
    """Return the temperature that a resistance of the usual floor sensor means [°C]."""
    return thermistor.temperature_steinhart_hart(resistance_ohm, usual_thermistor())
