"""Quantities are shown as people read them, and a limit is never shown looser than it is."""

from __future__ import annotations

import math

import pytest

from curecal import units
from curecal.errors import QuantityRefused
from curecal.units import ramp, show_ramp

SIXTY_ONE_F_C = (61 - 32) * 5 / 9


@pytest.mark.parametrize(
    ("temperature_c", "metric", "imperial"),
    [
        (29.0, "29 °C", "84.2 °F"),
        (34 * 5 / 9, "18.9 °C", "66 °F"),
        (-0.01, "0 °C", "32 °F"),
        (-20.0, "-20 °C", "-4 °F"),
        (100.0, "100 °C", "212 °F"),
    ],
)
def test_a_temperature_has_at_most_one_decimal(temperature_c, metric, imperial):
    assert units.show_temperature(temperature_c, "metric") == metric
    assert units.show_temperature(temperature_c, "imperial") == imperial


def test_both_units_stand_beside_each_other_with_whole_fahrenheit():
    assert units.show_temperature(29, "imperial", both=True) == "84 °F (29 °C)"
    assert units.show_temperature(29, "metric", both=True) == "29 °C (84 °F)"


@pytest.mark.parametrize(
    ("limit_c", "metric", "imperial"),
    [
        (29.0, "29 °C", "84 °F"),
        (27.0, "27 °C", "80 °F"),
        (SIXTY_ONE_F_C, "16 °C", "61 °F"),
        # A limit that sums and means have left a hair below the notch keeps its notch.
        (SIXTY_ONE_F_C - 1e-9, "16 °C", "61 °F"),
        (29.0 - 1e-9, "29 °C", "84 °F"),
        (28.9, "28.5 °C", "84 °F"),
        (-0.01, "-0.5 °C", "31 °F"),
    ],
)
def test_a_set_point_rounds_down_but_not_by_a_float_hair(limit_c, metric, imperial):
    assert units.show_set_point(limit_c, "metric") == metric
    assert units.show_set_point(limit_c, "imperial") == imperial
    assert units.show_set_point(limit_c, "metric", both=True) == f"{metric} ({imperial})"
    assert units.show_set_point(limit_c, "imperial", both=True) == f"{imperial} ({metric})"


def test_the_numeric_set_point_is_in_the_units_of_the_thermostat():
    assert units.set_point(29.0, "imperial") == 84.0
    assert units.set_point(29.4, "metric") == 29.0


def test_a_step_rounds_down():
    assert units.show_step(5.0, "metric") == "5 °C"
    assert units.show_step(5.0, "imperial") == "9 °F"
    assert units.show_step(2.8, "imperial") == "5 °F"
    assert units.show_step(2.79, "metric") == "2.7 °C"


@pytest.mark.parametrize(
    ("duration_s", "shown"),
    [
        (0, "0 min"),
        (1e-4, "0 min"),
        (1, "1 min"),
        (2700, "45 min"),
        (9000, "2 h 30 min"),
        (86_400, "24 h"),
        (172_799, "2 d"),
        (2_419_200, "28 d"),
        (2_419_200.0004, "28 d"),
        (2_419_201, "28.1 d"),
        (29.6 * 86_400, "29.6 d"),
    ],
)
def test_a_duration_rounds_up(duration_s, shown):
    assert units.show_duration(duration_s) == shown


@pytest.mark.parametrize(
    ("length_m", "metric", "imperial"),
    [
        (0.009525, "9.5 mm", "3/8 in"),
        (0.01, "10 mm", "0.394 in"),
        (0.0381, "38.1 mm", "1 1/2 in"),
        (0.3048, "304.8 mm", "12 in"),
        (1.5, "1.5 m", "59.06 in"),
        (0.0005, "0.5 mm", "0.0197 in"),
        (-0.009525, "-9.5 mm", "-3/8 in"),
        (0.0, "0 mm", "0 in"),
    ],
)
def test_a_length_is_shown_in_sixteenths_where_it_is_one(length_m, metric, imperial):
    assert units.show_length(length_m, "metric") == metric
    assert units.show_length(length_m, "imperial") == imperial


def test_an_area_is_shown_in_the_unit_of_the_job():
    assert units.show_area(5.01676416, "imperial") == "54 ft²"
    assert units.show_area(5.01676416, "metric") == "5 m²"
    assert units.show_area(0.05, "metric") == "0.05 m²"


def test_electrical_values_are_scaled():
    shown = [units.show_resistance(ohm) for ohm in (0, 0.5, 35.267, 999.96, 12_490, 2e7, 2e9)]
    assert shown == ["0 Ω", "0.5 Ω", "35.27 Ω", "1 kΩ", "12.49 kΩ", "20 MΩ", "2 GΩ"]
    assert units.show_voltage(240.0) == "240 V"
    assert units.show_voltage(123_456.0) == "123500 V"
    assert units.show_power(640.0) == "640 W"
    assert [units.show_current(amp) for amp in (0, 0.03, 53.75)] == ["0 A", "30 mA", "53.75 A"]


def test_a_percentage_has_at_most_one_decimal():
    assert units.show_percent(0.55) == "55 %"
    assert units.show_evaporation(1e-7, "metric") == "8.6 g/m² in 24 h"
    assert units.show_evaporation(1.6953040e-7, "imperial") == "3 lb/1000 ft² in 24 h"
    assert units.show_percent(0.005) == "0.5 %"


@pytest.mark.parametrize("value", [math.nan, math.inf, -math.inf, 1.7e308])
@pytest.mark.parametrize(
    "show",
    [
        lambda value: units.show_temperature(value, "imperial"),
        lambda value: units.set_point(value, "metric"),
        lambda value: units.show_set_point(value, "imperial"),
        lambda value: units.show_step(value, "metric"),
        units.show_duration,
        lambda value: units.show_length(value, "imperial"),
        lambda value: units.show_area(value, "metric"),
        units.show_percent,
        lambda value: units.show_evaporation(value, "metric"),
        units.show_resistance,
        units.show_voltage,
        units.show_power,
        units.show_current,
    ],
)
def test_what_is_no_number_is_not_shown(show, value):
    with pytest.raises(QuantityRefused) as refusal:
        show(value)
    assert refusal.value.code == "quantity-not-finite"


def test_a_negative_duration_is_not_shown():
    with pytest.raises(QuantityRefused) as refusal:
        units.show_duration(-60)
    assert refusal.value.code == "quantity-negative"


def test_a_ramp_is_as_gentle_shown_as_it_is() -> None:
    assert ramp([8.0, 10.8, 13.6], "metric", step_k=2.8) == (8.0, 10.5, 13.0)
    assert ramp([20.0, 25.0, 29.0], "imperial", step_k=5.0) == (68.0, 77.0, 84.0)
    assert ramp([29.0, 24.4, 19.4], "metric", step_k=4.6) == (29.0, 24.5, 20.0)
    assert show_ramp([20.0, 25.0], "metric", step_k=5.0) == ("20 °C", "25 °C")
    both = show_ramp([20.0, 25.5], "imperial", step_k=5.5, both=True)
    assert both == ("68 °F (20 °C)", "77 °F (25.5 °C)")


@pytest.mark.parametrize("step_k", [float("nan"), float("inf"), -1.0])
def test_a_ramp_wants_a_step(step_k: float) -> None:
    with pytest.raises(QuantityRefused):
        ramp([20.0], "metric", step_k=step_k)
