"""What holds for every text and every number."""

from __future__ import annotations

import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from curecal import units
from curecal.errors import QuantityRefused

READERS = [
    units.temperature,
    units.temperature_range,
    units.temperature_step,
    units.temperature_rate,
    units.duration,
    units.duration_range,
    units.length,
    units.length_range,
    units.tile_size,
    units.area,
    units.fraction,
    units.humidity,
    units.tolerance,
    units.moisture,
    units.resistance,
    units.voltage,
    units.power,
    units.current,
    units.insulation,
    units.resistance_reading,
    units.drying_rule,
]
# Pieces of real notation, so that nearly readable texts are drawn too.
PIECES = st.lists(
    st.sampled_from(
        [
            *"0123456789.,-+/%°'\" \u2013\u2212±½Ω@<>eE",
            *(" to ", " x ", " at ", "mm", "in", "ft", "h", "d", "min", "°F", "K", "MΩ", "V"),
            *("RH", "CM-%", "per ", "/day", ", then ", "at least ", "≤ ", "1e9", "inf", "nan"),
        ]
    ),
    max_size=14,
).map("".join)
UNITS = st.sampled_from(["metric", "imperial"])


@pytest.mark.parametrize("read", READERS)
@given(text=st.text(max_size=40) | PIECES)
@example(text="1" * 201)
@example(text="1/" * 90)
@example(text="1 " * 90)
def test_any_text_is_read_or_refused_with_a_code(read, text):
    try:
        read(text)
    except QuantityRefused as refused:
        assert refused.code.startswith("quantity-")  # noqa: PT017


@given(
    low=st.integers(0, 500),
    high=st.integers(0, 500),
    unit=st.sampled_from(["h", "d", "min"]),
    dash=st.sampled_from(["-", " - ", "\u2013", " to "]),
)
def test_a_range_is_in_order_or_refused(low, high, unit, dash):
    text = f"{low}{dash}{high} {unit}"
    if low > high:
        with pytest.raises(QuantityRefused):
            units.duration_range(text)
        return
    found = units.duration_range(text)
    assert found.low == units.duration(f"{low} {unit}")
    assert found.high == units.duration(f"{high} {unit}")
    assert found.low <= found.high


@given(temperature_c=st.floats(-90, 150), shown_in=UNITS, both=st.booleans())
def test_a_shown_temperature_reads_back_within_its_rounding(temperature_c, shown_in, both):
    shown = units.show_temperature(temperature_c, shown_in, both=both).partition(" (")[0]
    # Half of the last digit shown, and a float's error: half a whole °F where both are shown.
    assert units.temperature(shown) == pytest.approx(temperature_c, abs=0.278 if both else 0.0501)


@given(limit_c=st.floats(-90, 150), shown_in=UNITS)
@example(limit_c=(61 - 32) * 5 / 9, shown_in="imperial")
def test_a_shown_set_point_never_exceeds_its_limit(limit_c, shown_in):
    back_c = units.temperature(units.show_set_point(limit_c, shown_in))
    assert back_c <= limit_c + 1e-6
    # Nor is more given away than one notch: a whole °F, or half a °C.
    assert back_c > limit_c - (5 / 9 if shown_in == "imperial" else 0.5) - 1e-6


@given(fahrenheit=st.integers(-100, 250))
def test_a_whole_fahrenheit_limit_is_its_own_set_point(fahrenheit):
    text = f"{fahrenheit} °F"
    assert units.show_set_point(units.temperature(text), "imperial") == text


@given(step_k=st.floats(0, 60), shown_in=UNITS)
def test_a_shown_step_is_never_larger(step_k, shown_in):
    assert units.temperature_step(units.show_step(step_k, shown_in)) <= step_k + 1e-6


@given(duration_s=st.floats(0, 1e9))
def test_a_shown_duration_is_never_shorter(duration_s):
    back_s = units.duration(units.show_duration(duration_s))
    assert back_s >= duration_s - 0.001001
    assert back_s <= duration_s + 8640.01


@given(
    above=st.integers(0, 400) | st.integers(0, 10**12),
    below=st.integers(0, 400) | st.sampled_from([2, 4, 8, 16, 32, 64]) | st.integers(0, 10**12),
    written=st.sampled_from(
        [
            *((units.duration, unit) for unit in ("s", "min", "h", "d", "weeks")),
            *((units.length, unit) for unit in ("mm", "cm", "m", "in", "ft", '"', "'")),
            *((units.area, unit) for unit in ("m²", "ft²", "sq in")),
            *((units.temperature, unit) for unit in ("°C", "°F", "K")),
            *((units.temperature_step, "K"), (units.temperature_rate, "K/day")),
            *((units.voltage, "V"), (units.power, "kW"), (units.current, "mA")),
            *((units.resistance, unit) for unit in ("Ω", "kΩ", "MΩ")),
            *((units.fraction, "%"), (units.humidity, "% RH"), (units.moisture, "CM-%")),
            *((units.drying_rule, "mm/day"), (units.drying_rule, "h/cm")),
            *((units.duration_range, "h"), (units.length_range, "mm")),
            (units.temperature_range, "°C"),
        ]
    ),
    slash=st.sampled_from(["/", " / ", "\u2044", "\u2215"]),
)
@example(above=21, below=28, written=(units.duration_range, "d"), slash="/")
@example(above=1, below=2, written=(units.duration, "h"), slash="/")
@example(above=8, below=16, written=(units.length, "mm"), slash="/")
@example(above=3, below=8, written=(units.length, "in"), slash="/")
@example(above=0, below=4, written=(units.length, "in"), slash="/")
@example(above=1, below=300, written=(units.moisture, "CM-%"), slash="/")
def test_a_slash_is_a_part_of_an_inch_or_a_foot_or_refused(above, below, written, slash):
    read, unit = written
    ruler_m = {"in": 0.0254, '"': 0.0254, "ft": 0.3048, "'": 0.3048}.get(unit)
    text = f"{above}{slash}{below} {unit}"
    if ruler_m is not None and 0 < above < below and below in {2, 4, 8, 16, 32, 64}:
        assert read(text) == pytest.approx(above / below * ruler_m, rel=1e-12)
        return
    with pytest.raises(QuantityRefused) as refused:
        read(text)
    for name in ("span", "low", "high"):
        # A rate has its range in no form: its parts are shown alone.
        if name in refused.value.params and unit not in {"K/day", "% RH", "mm/day", "h/cm"}:
            try:
                read(refused.value.params[name])
            except QuantityRefused as again:
                # A share above 100 % is understood, and none there is.
                assert again.code == "quantity-out-of-range"  # noqa: PT017


@given(sixteenths=st.integers(1, 2000))
def test_sixteenths_of_an_inch_round_trip(sixteenths):
    whole, part = divmod(sixteenths, 16)
    text = " ".join([*([str(whole)] if whole else []), *([f"{part}/16"] if part else [])])
    length_m = units.length(f"{text} in")
    assert units.length(units.show_length(length_m, "imperial")) == length_m


@given(length_m=st.floats(1e-5, 30), shown_in=UNITS)
def test_a_shown_length_reads_back_within_its_rounding(length_m, shown_in):
    back_m = units.length(units.show_length(length_m, shown_in))
    # Half of the last digit shown: 0.005 in, 0.05 mm, 0.5 mm from a meter up; 0.5 % below 1 mm.
    assert back_m == pytest.approx(length_m, rel=0.005, abs=0.00013)


@given(resistance_ohm=st.floats(0.01, 1e12))
def test_a_shown_resistance_reads_back_to_four_figures(resistance_ohm):
    back_ohm = units.resistance(units.show_resistance(resistance_ohm))
    assert back_ohm == pytest.approx(resistance_ohm, rel=0.000501)


@given(share=st.floats(0, 1))
def test_a_shown_share_reads_back_within_its_rounding(share):
    assert units.humidity(units.show_percent(share)) == pytest.approx(share, abs=0.000501)
