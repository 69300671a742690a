"""What the equations refuse, and what their values must obey beyond the published checks."""

from __future__ import annotations

import math
from collections.abc import Callable

import pytest

from curecal.errors import OutsideValidity
from curecal.science import (
    cement,
    drying,
    electrical,
    floor_output,
    humid_air,
    reaction,
    thermistor,
)
from curecal.science.cement import CementLaw
from curecal.science.drying import DryingStep
from curecal.science.floor_output import Binder
from curecal.science.thermistor import SteinhartHart

DAY_S = 86_400.0
NAN = math.nan

REFUSED: dict[str, Callable[[], object]] = {
    "activation energy, too cold": lambda: (
        cement.activation_energy_freiesleben_hansen_pedersen_1977(-20.1)
    ),
    "rate, NaN": lambda: cement.rate_freiesleben_hansen_pedersen_1977(NAN),
    "EN 1992 below 0 °C": lambda: cement.rate_en_1992_1_1_2004(-0.1),
    "Model Code above 80 °C": lambda: cement.rate_fib_model_code_2010(80.1),
    "front function keeps its law's range": lambda: cement.rate_relative_to_20_c(
        -5.0, CementLaw.EN_1992_1_1_2004
    ),
    "ratio, NaN rating": lambda: cement.rate_ratio(temperature_c=10.0, rated_c=NAN),
    "doubling step of nothing": lambda: cement.rate_doubling(
        temperature_c=10.0, rated_c=20.0, doubling_k=0.0
    ),
    "doubling, too hot": lambda: cement.rate_doubling(
        temperature_c=81.0, rated_c=20.0, doubling_k=10.0
    ),
    "doubling, rating NaN": lambda: cement.rate_doubling(
        temperature_c=10.0, rated_c=NAN, doubling_k=10.0
    ),
    "maturity, negative duration": lambda: cement.maturity_nurse_saul(
        [(10.0, -1.0)], datum_c=-10.0
    ),
    "maturity, NaN": lambda: cement.maturity_nurse_saul([(NAN, 1.0)], datum_c=-10.0),
    "maturity, datum": lambda: cement.maturity_nurse_saul([(10.0, 1.0)], datum_c=11.0),
    "means of one reading": lambda: cement.interval_means([0.0], [1.0]),
    "means of unequal counts": lambda: cement.interval_means([0.0, 1.0], [1.0]),
    "means out of order": lambda: cement.interval_means([1.0, 0.0], [1.0, 2.0]),
    "strength before a day": lambda: cement.strength_gain_en_1992_1_1_2004(
        age_s=DAY_S - 1.0, cement_coefficient=0.25
    ),
    "strength, coefficient": lambda: cement.strength_gain_en_1992_1_1_2004(
        age_s=DAY_S, cement_coefficient=0.5
    ),
    "reaction, NaN": lambda: reaction.rate_reaction_resin(temperature_c=NAN, rated_c=20.0),
    "ice above the triple point": lambda: humid_air.saturation_pressure_over_ice(0.02),
    "supercooled water": lambda: humid_air.saturation_pressure_over_water(-0.1),
    "saturation, NaN": lambda: humid_air.saturation_pressure(NAN),
    "IF97 above the critical point": lambda: humid_air.saturation_pressure_iapws_if97(648.0),
    "deficit, percent for a fraction": lambda: humid_air.vapor_pressure_deficit(
        temperature_c=20.0, humidity=50.0
    ),
    "ratio, too hot": lambda: humid_air.humidity_ratio(temperature_c=91.0, humidity=0.5),
    "ratio, humidity": lambda: humid_air.humidity_ratio(temperature_c=20.0, humidity=1.1),
    "ratio, kilopascals for pascals": lambda: humid_air.humidity_ratio(
        temperature_c=20.0, humidity=0.5, pressure_pa=101.325
    ),
    "ratio, boiling": lambda: humid_air.humidity_ratio(
        temperature_c=89.0, humidity=1.0, pressure_pa=60_000.0
    ),
    "wet bulb above dry bulb": lambda: humid_air.humidity_ratio_from_wet_bulb(
        dry_bulb_c=20.0, wet_bulb_c=20.1
    ),
    "wet bulb, air drier than dry": lambda: humid_air.humidity_ratio_from_wet_bulb(
        dry_bulb_c=40.0, wet_bulb_c=5.0
    ),
    "wet bulb, NaN": lambda: humid_air.humidity_ratio_from_wet_bulb(dry_bulb_c=NAN, wet_bulb_c=5.0),
    "more water than air holds": lambda: humid_air.humidity_from_humidity_ratio(
        temperature_c=20.0, ratio=0.02
    ),
    "humidity, negative ratio": lambda: humid_air.humidity_from_humidity_ratio(
        temperature_c=20.0, ratio=-0.01
    ),
    "humidity, NaN": lambda: humid_air.humidity_from_humidity_ratio(temperature_c=NAN, ratio=0.0),
    "humidity, pressure": lambda: humid_air.humidity_from_humidity_ratio(
        temperature_c=20.0, ratio=0.01, pressure_pa=NAN
    ),
    "dew point of dry air": lambda: humid_air.dew_point(temperature_c=20.0, humidity=0.0),
    "dew point, NaN": lambda: humid_air.dew_point(temperature_c=NAN, humidity=0.5),
    "enthalpy, NaN": lambda: humid_air.enthalpy(temperature_c=NAN, ratio=0.01),
    "enthalpy, ratio": lambda: humid_air.enthalpy(temperature_c=20.0, ratio=-0.01),
    "drying, millimeters for meters": lambda: drying.drying_time_calcium_sulfate_screed(55.0),
    "drying, NaN": lambda: drying.drying_time(NAN, drying.CEMENT_BREAK_40_MM),
    "drying, factor": lambda: drying.drying_time(0.05, drying.CEMENT_BREAK_40_MM, factor=0.0),
    "drying, no rule": lambda: drying.drying_time(0.05, ()),
    "drying, a rule with an end": lambda: drying.drying_time(0.05, (DryingStep(0.04, 1e8),)),
    "drying, a rule out of order": lambda: drying.drying_time(
        0.05, (DryingStep(0.04, 1e8), DryingStep(0.03, 1e8), DryingStep(None, 2e8))
    ),
    "drying, a rule of NaN": lambda: drying.drying_time(0.05, (DryingStep(None, NAN),)),
    "Hedenblad, base in days": lambda: drying.drying_time_hedenblad_1997(
        base_s=135.0, thickness_factor=0.4, sides_factor=2.6
    ),
    "Hedenblad, thickness": lambda: drying.drying_time_hedenblad_1997(
        base_s=DAY_S, thickness_factor=NAN, sides_factor=2.6
    ),
    "Hedenblad, sides": lambda: drying.drying_time_hedenblad_1997(
        base_s=DAY_S, thickness_factor=0.4, sides_factor=11.0
    ),
    "evaporation, concrete": lambda: drying.evaporation_uno_1998(
        concrete_c=51.0, air_c=20.0, humidity=0.5, wind_m_s=1.0
    ),
    "evaporation, air": lambda: drying.evaporation_uno_1998(
        concrete_c=20.0, air_c=-1.0, humidity=0.5, wind_m_s=1.0
    ),
    "evaporation, humidity": lambda: drying.evaporation_uno_1998(
        concrete_c=20.0, air_c=20.0, humidity=50.0, wind_m_s=1.0
    ),
    "evaporation, wind": lambda: drying.evaporation_uno_1998(
        concrete_c=20.0, air_c=20.0, humidity=0.5, wind_m_s=NAN
    ),
    "plane sheet before it starts": lambda: drying.remaining_fraction_plane_sheet(0.0),
    "probe, three sides": lambda: drying.probe_depth(thickness_m=0.1, drying_sides=3),
    "probe, thickness": lambda: drying.probe_depth(thickness_m=NAN, drying_sides=1),
    "output of a cold floor": lambda: floor_output.floor_output_en_1264_2(-0.1),
    "excess of too much output": lambda: floor_output.surface_excess_en_1264_2(241.0),
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
    "load, negative": lambda: electrical.continuous_load_ampacity(
        power_w=100.0, voltage_v=240.0, other_a=-1.0
    ),
    "breaker of nothing": lambda: electrical.continuous_load_fits(load_a=1.0, breaker_a=0.0),
    "breaker, load NaN": lambda: electrical.continuous_load_fits(load_a=NAN, breaker_a=15.0),
    "insulation above 1000 V": lambda: electrical.insulation_minimum_iec_60364_6(1001.0),
    "deviation of an open conductor": lambda: electrical.resistance_deviation(
        measured_ohm=math.inf, rated_ohm=80.0
    ),
    "deviation, NaN rating": lambda: electrical.resistance_deviation(
        measured_ohm=80.0, rated_ohm=NAN
    ),
    "tolerance in percent": lambda: electrical.resistance_within(
        measured_ohm=80.0, rated_ohm=80.0, below=10.0
    ),
    "tolerance, NaN": lambda: electrical.resistance_within(
        measured_ohm=80.0, rated_ohm=80.0, above=NAN
    ),
    "sensor, shorted": lambda: thermistor.temperature_steinhart_hart(0.0),
    "sensor, open": lambda: thermistor.temperature_steinhart_hart(1e6),
    "sensor, nonsense coefficients": lambda: thermistor.temperature_steinhart_hart(
        10_000.0, SteinhartHart(a=1.0, b=1.0, c=1.0)
    ),
    "sensor, too hot": lambda: thermistor.resistance_steinhart_hart(126.0),
    "sensor, b": lambda: thermistor.resistance_steinhart_hart(
        20.0, SteinhartHart(a=1e-3, b=0.0, c=1e-7)
    ),
    "sensor, c": lambda: thermistor.resistance_steinhart_hart(
        20.0, SteinhartHart(a=1e-3, b=2e-4, c=0.0)
    ),
    "table, too cold": lambda: thermistor.resistance_from_table(-20.1),
    "table, NaN": lambda: thermistor.temperature_from_table(NAN),
    "table of one row": lambda: thermistor.resistance_from_table(25.0, ((25.0, 10_000.0),)),
    "table that rises": lambda: thermistor.temperature_from_table(
        10_000.0, ((20.0, 9000.0), (25.0, 10_000.0))
    ),
    "table below absolute zero": lambda: thermistor.resistance_from_table(
        20.0, ((-300.0, 9000.0), (25.0, 1000.0))
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
    energy = cement.activation_energy_freiesleben_hansen_pedersen_1977
    assert (energy(30.0), energy(20.0), energy(10.0)) == (33_500.0, 33_500.0, 48_200.0)


def test_colder_than_the_datum_takes_no_maturity_away() -> None:
    assert cement.maturity_nurse_saul([(-15.0, 100.0), (0.0, 10.0)], datum_c=-10.0) == 100.0


def test_the_reaction_rate_halves_ten_kelvin_below_its_rating() -> None:
    assert reaction.rate_reaction_resin(temperature_c=14.0, rated_c=24.0) == 0.5


def test_the_slowest_law_in_the_cold_is_the_one_the_clocks_use() -> None:
    rates = {law: cement.rate_relative_to_20_c(5.0, law) for law in CementLaw}
    assert min(rates, key=rates.__getitem__) is CementLaw.FREIESLEBEN_HANSEN_PEDERSEN_1977


def test_ice_and_supercooled_water_meet_at_the_triple_point() -> None:
    ice = humid_air.saturation_pressure_over_ice(humid_air.TRIPLE_POINT_C)
    water = humid_air.saturation_pressure_over_water(humid_air.TRIPLE_POINT_C)
    assert ice == pytest.approx(water, rel=1e-4)  # two fits, made apart, agree to 100 ppm


def test_a_frozen_wet_bulb_is_read_over_ice() -> None:
    ratio = humid_air.humidity_ratio_from_wet_bulb(dry_bulb_c=-1.0, wet_bulb_c=-5.0)
    # By hand: ((2830 + 0.24*5)*0.0024860 - 1.006*4)/(2830 - 1.86 + 10.5) = 0.0010621
    assert ratio == pytest.approx(0.00106, abs=1e-5)
    assert 0.0 < ratio < humid_air.humidity_ratio(temperature_c=-5.0, humidity=1.0)


def test_saturated_air_is_at_its_dew_point() -> None:
    for temperature_c in (-10.0, 0.0, 20.0):
        dew_c = humid_air.dew_point(temperature_c=temperature_c, humidity=1.0)
        assert dew_c == pytest.approx(temperature_c, abs=1e-9)


def test_humidity_and_ratio_are_inverse() -> None:
    ratio = humid_air.humidity_ratio(temperature_c=22.0, humidity=0.43)
    humidity = humid_air.humidity_from_humidity_ratio(temperature_c=22.0, ratio=ratio)
    assert humidity == pytest.approx(0.43, rel=1e-12)


def test_a_thin_layer_dries_by_the_first_step_only() -> None:
    assert drying.drying_time_calcium_sulfate_screed(0.030) == pytest.approx(30.0 * DAY_S)


def test_a_factor_scales_the_whole_drying_time() -> None:
    once = drying.drying_time(0.055, drying.CEMENT_BREAK_40_MM)
    assert once == pytest.approx(70.0 * DAY_S)
    assert drying.drying_time(0.055, drying.CEMENT_BREAK_40_MM, factor=1.5) == once * 1.5


def test_air_warmer_and_damp_wets_fresh_concrete() -> None:
    rate = drying.evaporation_uno_1998(concrete_c=10.0, air_c=30.0, humidity=0.9, wind_m_s=0.0)
    assert rate < 0.0


def test_output_and_excess_are_inverse() -> None:
    excess_k = floor_output.surface_excess_en_1264_2(floor_output.floor_output_en_1264_2(7.3))
    assert excess_k == pytest.approx(7.3, rel=1e-12)


def test_functional_heating_waits_longer_for_cement() -> None:
    waits = {binder: floor_output.functional_heating_start(binder) for binder in Binder}
    assert waits == {Binder.CEMENT: 21.0 * DAY_S, Binder.CALCIUM_SULFATE: 7.0 * DAY_S}


def test_mats_in_parallel_read_less_than_the_least() -> None:
    assert electrical.parallel_resistance([80.0, 80.0, 40.0]) == pytest.approx(20.0)


def test_a_continuous_load_fits_up_to_four_fifths() -> None:
    assert electrical.continuous_load_fits(load_a=12.0, breaker_a=15.0)
    assert not electrical.continuous_load_fits(load_a=12.01, breaker_a=15.0)


@pytest.mark.parametrize(
    ("voltage_v", "test_v", "minimum_ohm"),
    [(50.0, 250.0, 0.5e6), (50.1, 500.0, 1e6), (500.0, 500.0, 1e6), (500.1, 1000.0, 1e6)],
)
def test_insulation_limits_change_at_50_and_500_volt(
    voltage_v: float, test_v: float, minimum_ohm: float
) -> None:
    minimum = electrical.insulation_minimum_iec_60364_6(voltage_v)
    assert (minimum.test_voltage_v, minimum.minimum_ohm) == (test_v, minimum_ohm)


@pytest.mark.parametrize(
    ("measured_ohm", "inside"), [(81.0, True), (99.0, True), (80.9, False), (99.1, False)]
)
def test_a_resistance_on_the_edge_of_its_tolerance_is_inside(
    measured_ohm: float, *, inside: bool
) -> None:
    assert electrical.resistance_within(measured_ohm=measured_ohm, rated_ohm=90.0) is inside


def test_a_lopsided_tolerance_is_kept_lopsided() -> None:
    def within(measured_ohm: float) -> bool:
        return electrical.resistance_within(
            measured_ohm=measured_ohm, rated_ohm=100.0, below=0.05, above=0.10
        )

    assert [within(ohm) for ohm in (94.0, 95.0, 110.0, 111.0)] == [False, True, True, False]


def test_a_deviation_is_signed() -> None:
    assert electrical.resistance_deviation(measured_ohm=72.0, rated_ohm=80.0) == pytest.approx(-0.1)


def test_both_ways_of_steinhart_hart_agree() -> None:
    for temperature_c in (-39.0, -5.0, 0.0, 20.0, 60.0, 124.0):
        back_c = thermistor.temperature_steinhart_hart(
            thermistor.resistance_steinhart_hart(temperature_c)
        )
        assert back_c == pytest.approx(temperature_c, abs=1e-8)


def test_the_table_gives_its_own_rows_and_both_ways_agree() -> None:
    for temperature_c, resistance_ohm in thermistor.NTC_10K_TABLE:
        assert thermistor.resistance_from_table(temperature_c) == pytest.approx(resistance_ohm)
        assert thermistor.temperature_from_table(resistance_ohm) == pytest.approx(
            temperature_c, abs=1e-9
        )
    middle_ohm = thermistor.resistance_from_table(10.0)
    assert thermistor.temperature_from_table(middle_ohm) == pytest.approx(10.0, abs=1e-9)


def test_between_rows_the_table_stays_near_the_equation() -> None:
    for temperature_c in (-12.0, -2.0, 10.0, 22.0, 27.0):
        ohm = thermistor.resistance_steinhart_hart(temperature_c)
        # 0.1 K: a B value over a span of 20 K drifts by about that, and by no more.
        assert thermistor.temperature_from_table(ohm) == pytest.approx(temperature_c, abs=0.1)
