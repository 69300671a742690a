"""What cannot be read without guessing is refused, with the reason and the form wanted."""

from __future__ import annotations

import math

import pytest

from curecal import units
from curecal.errors import QuantityRefused

REFUSED = {
    "quantity-no-unit": {
        units.temperature: ["66", "66°", "66 deg", 66, 66.5, 10**9000],
        units.temperature_range: ["21 to 24", "70 ± 5"],
        units.duration: ["3", "2 1/2"],
        units.duration_range: ["24-48", "at least 7", "\u2264 3"],
        units.tile_size: ["12 x 24"],
        units.humidity: ["55", "0.55"],
        units.tolerance: ["± 10", "-5/+10"],
        units.resistance_reading: ["88", "> 88"],
    },
    "quantity-dimension": {
        units.temperature: ["5 m"],
        units.temperature_rate: ["5 m/day"],
        units.duration: ["90 m", "66 °F"],
        units.area: ["54 ft"],
        units.resistance: ["5 V", "10 K"],
        units.insulation: ["500 V", "x at 500 V"],
    },
    "quantity-not-finite": {
        units.temperature: ["nan °C", "inf K", "1e400 °C", "1e999999999 °C", math.nan, math.inf],
        units.duration: ["1e308 weeks", "1e-330 s", "1e-999999999 s"],
        units.resistance_reading: ["inf Ω"],
    },
    "quantity-decimal-point": {
        units.temperature: ["19,5 °C"],
        units.length: ["1,2 m", "1,2000 mm", "1,200,000 mm"],
        units.drying_rule: ["1,5 mm/day"],
    },
    "quantity-thousands": {
        units.duration: ["1.000 h", "1.500 min", "1,000 h", "1.125 h", "1 d 1.440 min"],
        units.duration_range: ["1.000 to 2.000 h", "at least 1.000 h", "24 to 1.000 h"],
        units.length: ["1.200 mm", "1,200 mm"],
        units.tile_size: ["1.200 x 600 mm", "600 x 1.200 mm"],
        units.area: ["1.054 ft²"],
        units.power: ["1.440 W", "1.444 W", "1,440 W"],
        units.voltage: ["1.000 V"],
        units.resistance: ["1.000 Ω"],
        units.resistance_reading: ["> 1.000 MΩ"],
        units.insulation: ["20 MΩ at 1.000 V", "1.000 MΩ at 500 V"],
        units.moisture: ["1.500 CM-%"],
        units.drying_rule: ["1.000 mm/day", "1 mm/1.000 h"],
    },
    "quantity-slash": {
        units.temperature: ["20/22 °C", "1/2 °C", "68/72 °F", "1 1/3 °C"],
        units.temperature_range: ["20/22 °C", "20/22 to 24 °C", "20 °C ± 1/2"],
        units.temperature_step: ["5/10 K"],
        units.temperature_rate: ["5/10 K/day", "1/2 K every hour"],
        units.duration: ["24/48 h", "21/28 d", "1/2 h", "2 1/3 h", "2 24/48 h", "1 d 12/24 h"],
        units.duration_range: ["7 / 14 d", "24\u204448 h", "48/24 h", "7/7 d", "up to 24/48 h"],
        units.length: [
            "8/16 mm",
            "6/10 in",
            "16/8 in",
            "1 2/3 in",
            "24/48 in",
            "1/2 m",
            "1/128 in",
        ],
        units.length_range: ["3/6 mm", "1/4 to 6/10 in"],
        units.tile_size: ["12/24 x 24 in", "30/60 x 60 cm"],
        units.area: ["5/10 m²", "1/2 ft²", "3/8 in²"],
        units.fraction: ["50/60 %"],
        units.humidity: ["50/65 %", "50/65 % RH"],
        units.tolerance: ["±5/10 %", "+/-5/10 %"],
        units.moisture: ["1/2 CM-%", "75/80 % RH", "2/3 %"],
        units.resistance: ["90/100 Ω"],
        units.voltage: ["208/240 V"],
        units.power: ["640/700 W"],
        units.current: ["15/20 A"],
        units.insulation: ["20/50 MΩ at 500 V", "20 MΩ at 250/500 V"],
        units.resistance_reading: ["88/90 Ω", "> 1/2 GΩ"],
        units.drying_rule: ["1/2 mm/day", "24/48 h/cm", "1 mm/day to 3/4 m"],
    },
    "quantity-negative": {
        units.temperature_step: ["-5 K"],
        units.temperature_rate: ["-5 K/day"],
        units.temperature_range: ["70 °F ± -5"],
        units.duration: ["-3 h"],
        units.duration_range: ["-1 to 2 h", "1 d ± 2 d", "at least -3 h"],
        units.length: ["-3 mm", "\u22123 mm"],
        units.length_range: ["-1 to 2 mm", "up to -3 mm"],
        units.tile_size: ["-3 x 4 in"],
        units.area: ["-1 m²"],
        units.fraction: ["-5 %"],
        units.humidity: ["-5 %"],
        units.moisture: ["-1 CM-%"],
        units.resistance: ["-5 Ω"],
        units.resistance_reading: ["-1 Ω", "> -1 Ω"],
        units.insulation: ["-20 MΩ at 500 V"],
        units.drying_rule: ["-1 mm/day"],
    },
    "quantity-zero": {
        units.temperature_rate: ["5 K/0 d"],
        units.tile_size: ["0 x 4 in"],
        units.insulation: ["0 Ω at 500 V", "20 MΩ at 0 V"],
        units.drying_rule: ["0 mm/day", "1 mm/0 d", "1 mm/day to 0 mm"],
    },
    "quantity-below-absolute-zero": {
        units.temperature: ["-274 °C", "-460 °F", "-1 K"],
        units.temperature_range: ["-272 °C ± 5"],
    },
    "quantity-range-reversed": {
        units.temperature_range: ["24-21 °C"],
        units.duration_range: ["48-24 h", "3 d to 24 h"],
        # Written for one and a half, but it may as well be "1 to 1/2".
        units.length_range: ["1-1/2 in"],
    },
    "quantity-no-upper-end": {units.length_range: ["at least 6 mm", "\u2265 6 mm"]},
    "quantity-out-of-range": {
        units.humidity: ["120 %"],
        units.moisture: ["120 % RH", "200 CM-%"],
        units.tolerance: ["±100 %", "-100/+10 %"],
    },
    "quantity-unreadable": {
        units.temperature: [
            *("", "   ", "warm", "° C", "66 k", "1/0 °C", "1 3/2 °C", "1. °C", "66 °F 5"),
            *("5 °C/day", "66 °F 6 °C", "1.2.3 °C", "6\u0666 °F", "66\n°F", "x" * 300),
            *(True, None, [66], {"a": 1}),
        ],
        units.temperature_range: ["70 ± 5 °F", "70 °F ± warm", "\u2264 30 °C", "cold to warm"],
        units.temperature_rate: ["5 °C", "5/day", "5 K/1.2.3 h", "fast/day"],
        units.duration: ["3 months", "12 h 1 d", "1 d -12 h", "1 d 12", "1 h 1 h", "1 h 1/0 min"],
        units.duration_range: ["soon", "1 to 2 h 30 min", "x to 3 h", "at least soon"],
        # Thousands written with a mark or a blank are no feet and no fraction.
        units.length: ["1'000 mm", "1 000 mm", "3 mm 2 cm", "1-1/2 in"],
        units.tile_size: ["12 in", "300 x 600 x 10 mm", "wide x 4 in"],
        units.area: ["5 m² 3 ft²"],
        # Ω and MΩ stand a million apart: a prefix in the wrong case is not guessed at.
        units.resistance: ["20 MOHM", "10k", "20 gohm"],
        units.voltage: ["5 mv"],
        units.current: ["30 ma"],
        units.insulation: ["20 MΩ", "20 MΩ at 500", "20 MΩ at 500 V AC"],
        units.resistance_reading: ["< 1 Ω", "> x", "closed"],
        units.tolerance: ["10 %", "-5/-10 %", "+5/+10 %", "±x", "-x/+10 %", "-5/+x", "wide"],
        units.moisture: ["CM-%", "dry", "x % RH"],
        units.drying_rule: [
            *("1 mm", "slowly", "1 mm/day, then 2 mm/day", "1 mm/day to 40, then 2 mm/day"),
            *("1 mm/day to 40 mm, then 1 mm/day to 30 mm", "1 mm/1.1.1 day", "1..1 mm/day"),
        ],
    },
}


@pytest.mark.parametrize(
    ("code", "read", "value"),
    [
        (code, read, value)
        for code, readers in REFUSED.items()
        for read, values in readers.items()
        for value in values
    ],
    ids=lambda part: part if isinstance(part, str) else getattr(part, "__name__", "value"),
)
def test_a_refusal_says_why_and_shows_the_form_wanted(code, read, value):
    with pytest.raises(QuantityRefused) as refusal:
        read(value)
    assert refusal.value.code == code
    assert set(refusal.value.params) >= {"text", "wanted", "example"}
    # The example of each refusal is itself understood by the same reader.
    read(refusal.value.params["example"])


def test_another_dimension_is_named():
    with pytest.raises(QuantityRefused) as refusal:
        units.duration("66 °F")
    assert refusal.value.params["got"] == "temperature"
    assert refusal.value.params["wanted"] == "duration"


def test_a_long_text_is_cut_in_the_refusal():
    with pytest.raises(QuantityRefused) as refusal:
        units.duration("h" * 100)
    assert refusal.value.params["text"] == "h" * 60 + "…"


@pytest.mark.parametrize(
    ("read", "text", "readings"),
    [
        (units.duration_range, "24/48 h", {"span": "24 to 48 h", "fraction": "0.5 h"}),
        (units.duration_range, "28/21 d", {"span": "21 to 28 d", "fraction": "1.3330 d"}),
        (units.duration_range, "7/7 d", {"fraction": "1 d"}),
        (units.duration, "24/48 h", {"low": "24 h", "high": "48 h", "fraction": "0.5 h"}),
        (units.duration, "2 1/3 d", {"fraction": "2.3330 d"}),
        (units.voltage, "208/240 V", {"low": "208 V", "high": "240 V", "fraction": "0.867 V"}),
        (units.length_range, "8/16 mm", {"span": "8 to 16 mm", "fraction": "0.5 mm"}),
        (units.duration, "1.000 h", {"thousand": "1000 h", "decimal": "1 h"}),
        (units.duration, "1,125 h", {"thousand": "1125 h", "decimal": "1.1250 h"}),
        (units.power, "1.440 W", {"thousand": "1440 W", "decimal": "1.44 W"}),
    ],
)
def test_a_question_shows_each_reading_as_it_can_be_typed(read, text, readings):
    with pytest.raises(QuantityRefused) as refusal:
        read(text)
    params = refusal.value.params
    shown = {name: params[name] for name in params if name not in {"text", "wanted", "example"}}
    assert shown.pop("part") == text
    assert shown == readings
    for typed in readings.values():
        read(typed)


@pytest.mark.parametrize("text", ["1/1234567890 h", "1234567890 1/3 h"])
def test_a_slash_between_endless_figures_is_no_question(text):
    with pytest.raises(QuantityRefused, match="quantity-unreadable"):
        units.duration(text)
