"""Other laws and methods: what their values must obey beyond the published checks."""

from __future__ import annotations

import pytest
from thermistor_samples import NTC_10K

from curecal.published.cross_checks import drying, hardening, heating, humid_air
from curecal.science.cement import rate_freiesleben_hansen_pedersen_1977
from curecal.science.humid_air import saturation_pressure_over_water
from curecal.science.thermistor import temperature_steinhart_hart


def test_colder_than_the_datum_takes_no_maturity_away() -> None:
    assert hardening.maturity_nurse_saul([-15.0, 0.0], [100.0, 10.0], datum_c=-10.0) == 100.0


def test_in_the_cold_waits_follow_the_slowest_law() -> None:
    for temperature_c in (0.0, 5.0, 10.0, 15.0):
        ours = rate_freiesleben_hansen_pedersen_1977(temperature_c)
        assert ours < hardening.rate_en_1992_1_1_2004(temperature_c)


def test_ice_and_supercooled_water_meet_at_the_triple_point() -> None:
    ice = humid_air.saturation_pressure_over_ice(humid_air.TRIPLE_POINT_C)
    water = saturation_pressure_over_water(humid_air.TRIPLE_POINT_C)
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


def test_air_warmer_and_damp_wets_fresh_concrete() -> None:
    rate = drying.evaporation_uno_1998(concrete_c=10.0, air_c=30.0, humidity=0.9, wind_km_h=0.0)
    assert rate < 0.0


def test_output_and_excess_are_inverse() -> None:
    output_w_m2 = heating.floor_output_en_1264_2(floor_c=27.3, room_c=20.0)
    assert heating.surface_excess_en_1264_2(output_w_m2) == pytest.approx(7.3, rel=1e-12)


def test_both_ways_of_steinhart_hart_agree() -> None:
    for temperature_c in (-39.0, -5.0, 0.0, 20.0, 60.0, 124.0):
        resistance_ohm = heating.resistance_steinhart_hart(temperature_c)
        back_c = temperature_steinhart_hart(resistance_ohm, NTC_10K)
        assert back_c == pytest.approx(temperature_c, abs=1e-8)
