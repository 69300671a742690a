"""What the equations refuse, and what their values must obey beyond the published checks."""

from __future__ import annotations

import math
from collections.abc import Callable

import pytest
from thermistor_samples import NTC_10K, NTC_10K_TABLE

from curecal.errors import OutsideValidity
from curecal.science import cement, doubling, drying, electrical, humid_air, thermistor
from curecal.science.drying import DryingStep
from curecal.science.thermistor import SteinhartHart

DAY_S = 86_400.0
NAN = math.nan
BREAK_40_MM = (DryingStep(0.040, DAY_S / 0.001), DryingStep(None, 2.0 * DAY_S / 0.001))

REFUSED: dict[str, Callable[[], object]] = {
    "rate, too cold": lambda: cement.rate_freiesleben_hansen_pedersen_1977(-20.1),
    "rate, NaN": lambda: cement.rate_freiesleben_hansen_pedersen_1977(NAN),
    "doubling step of nothing": lambda: doubling.rate_doubling(
        temperature_c=10.0, rated_c=20.0, doubling_k=0.0
    ),
    "doubling, too hot": lambda: doubling.rate_doubling(
        temperature_c=81.0, rated_c=20.0, doubling_k=10.0
    ),
    "doubling, rating NaN": lambda: doubling.rate_doubling(
        temperature_c=10.0, rated_c=NAN, doubling_k=10.0
    ),
    "supercooled water": lambda: humid_air.saturation_pressure_over_water(-0.1),
    "deficit, percent for a fraction": lambda: humid_air.vapor_pressure_deficit(
        temperature_c=20.0, humidity=50.0
    ),
    "drying, millimeters for meters": lambda: drying.drying_time(55.0, BREAK_40_MM),
    "drying, NaN": lambda: drying.drying_time(NAN, BREAK_40_MM),
    "drying, no rule": lambda: drying.drying_time(0.05, ()),
    "drying, a rule with an end": lambda: drying.drying_time(0.05, (DryingStep(0.04, 1e8),)),
    "drying, a rule out of order": lambda: drying.drying_time(
        0.05, (DryingStep(0.04, 1e8), DryingStep(0.03, 1e8), DryingStep(None, 2e8))
    ),
    "drying, a rule of NaN": lambda: drying.drying_time(0.05, (DryingStep(None, NAN),)),
    "resistance of no power": lambda: electrical.resistance_from_power(
        voltage_v=240.0, power_w=0.0
    ),
    "resistance, voltage": lambda: electrical.resistance_from_power(voltage_v=NAN, power_w=100.0),
    "current on no voltage": lambda: electrical.current(power_w=100.0, voltage_v=0.0),
    "current, power": lambda: electrical.current(power_w=NAN, voltage_v=240.0),
    "power factor, rating": lambda: electrical.power_factor_on_another_voltage(
        rated_v=0.0, supply_v=240.0
    ),
    "power factor, supply": lambda: electrical.power_factor_on_another_voltage(
        rated_v=240.0, supply_v=NAN
    ),
    "parallel, none": lambda: electrical.parallel_resistance([]),
    "parallel, shorted": lambda: electrical.parallel_resistance([80.0, 0.0]),
    "load, negative": lambda: electrical.continuous_load_ampacity(-1.0),
    "load, NaN": lambda: electrical.continuous_load_ampacity(NAN),
    "deviation of an open conductor": lambda: electrical.resistance_deviation(
        measured_ohm=math.inf, rated_ohm=80.0
    ),
    "deviation, NaN rating": lambda: electrical.resistance_deviation(
        measured_ohm=80.0, rated_ohm=NAN
    ),
    "sensor, shorted": lambda: thermistor.temperature_steinhart_hart(0.0, NTC_10K),
    "sensor, open": lambda: thermistor.temperature_steinhart_hart(1e6, NTC_10K),
    "sensor, nonsense coefficients": lambda: thermistor.temperature_steinhart_hart(
        10_000.0, SteinhartHart(a=1.0, b=1.0, c=1.0)
    ),
    "table, too cold": lambda: thermistor.temperature_from_table(97_007.0, NTC_10K_TABLE),
    "table, NaN": lambda: thermistor.temperature_from_table(NAN, NTC_10K_TABLE),
    "table of one row": lambda: thermistor.temperature_from_table(10_000.0, ((25.0, 10_000.0),)),
    "table that rises": lambda: thermistor.temperature_from_table(
        10_000.0, ((20.0, 9000.0), (25.0, 10_000.0))
    ),
    "table below absolute zero": lambda: thermistor.temperature_from_table(
        2000.0, ((-300.0, 9000.0), (25.0, 1000.0))
    ),
}


@pytest.mark.parametrize("name", REFUSED)
def test_outside_its_range_an_equation_refuses(name: str) -> None:
    with pytest.raises(OutsideValidity) as refusal:
        REFUSED[name]()
    assert refusal.value.code


def test_a_refusal_says_what_was_asked_and_what_holds() -> None:
    with pytest.raises(OutsideValidity) as refusal:
        humid_air.vapor_pressure_deficit(temperature_c=20.0, humidity=50.0)
    assert refusal.value.code == "outside-validity"
    assert refusal.value.params == {"quantity": "humidity", "value": 50.0, "low": 0.0, "high": 1.0}


def test_activation_energy_rises_below_20() -> None:
    """33 500 J/mol, and 1470 more for each kelvin below 20 °C (from memory), told by the rate."""

    def energy_j_mol(temperature_c: float) -> float:
        inverse_per_k = 1.0 / 293.15 - 1.0 / (temperature_c + 273.15)
        rate = cement.rate_freiesleben_hansen_pedersen_1977(temperature_c)
        return math.log(rate) * 8.314 / inverse_per_k

    assert energy_j_mol(30.0) == pytest.approx(33_500.0)
    assert energy_j_mol(10.0) == pytest.approx(48_200.0)


def test_a_thin_layer_dries_by_the_first_step_only() -> None:
    assert drying.drying_time(0.030, BREAK_40_MM) == pytest.approx(30.0 * DAY_S)


def test_mats_in_parallel_read_less_than_the_least() -> None:
    assert electrical.parallel_resistance([80.0, 80.0, 40.0]) == pytest.approx(20.0)


def test_a_continuous_load_fits_up_to_four_fifths() -> None:
    # NEC 424.3(B): 125 % of the load, so 12 A on a breaker of 15 A and no more.
    assert electrical.continuous_load_ampacity(12.0) == 15.0
    assert electrical.continuous_load_ampacity(12.01) > 15.0


def test_a_deviation_is_signed() -> None:
    assert electrical.resistance_deviation(measured_ohm=72.0, rated_ohm=80.0) == pytest.approx(-0.1)


def test_the_table_gives_its_own_rows() -> None:
    for temperature_c, resistance_ohm in NTC_10K_TABLE:
        read_c = thermistor.temperature_from_table(resistance_ohm, NTC_10K_TABLE)
        assert read_c == pytest.approx(temperature_c, abs=1e-9)


def test_between_rows_the_table_stays_near_the_equation() -> None:
    for resistance_ohm in (60_000.0, 36_000.0, 20_000.0, 11_500.0, 9_000.0):
        # 0.1 K: a B value over a span of 20 K drifts by about that, and by no more.
        read_c = thermistor.temperature_from_table(resistance_ohm, NTC_10K_TABLE)
        assert read_c == pytest.approx(
            thermistor.temperature_steinhart_hart(resistance_ohm, NTC_10K), abs=0.1
        )
