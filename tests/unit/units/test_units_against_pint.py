"""Conversions agree with a general-purpose units library."""

from __future__ import annotations

import pytest

from curecal import units

# Source: pint's default registry (exact definitions of the inch, the foot and the degree
# Fahrenheit). Tolerance 1e-12 relative: pint converts in floats, a few roundings of 1e-16 each.
CASES = [
    (units.length, "3/8 in", 0.375, "inch", "meter"),
    (units.length, "7 ft", 7, "foot", "meter"),
    (units.area, "54 ft²", 54, "foot**2", "meter**2"),
    (units.area, "54 sq in", 54, "inch**2", "meter**2"),
    (units.duration, "4 weeks", 4, "week", "second"),
    (units.duration, "7 d", 7, "day", "second"),
    (units.temperature, "66 °F", 66, "degF", "degC"),
    (units.temperature, "-40 °F", -40, "degF", "degC"),
    (units.temperature, "292 K", 292, "kelvin", "degC"),
    (units.temperature_step, "9 °F", 9, "delta_degF", "kelvin"),
    (units.resistance, "20 MΩ", 20, "megaohm", "ohm"),
    (units.resistance, "20 mΩ", 20, "milliohm", "ohm"),
    (units.voltage, "1.5 kV", 1.5, "kilovolt", "volt"),
    (units.current, "30 mA", 30, "milliampere", "ampere"),
    (units.power, "1.44 kW", 1.44, "kilowatt", "watt"),
]


@pytest.mark.parametrize(("read", "text", "figure", "unit", "wanted"), CASES)
def test_a_conversion_agrees(needs, read, text, figure, unit, wanted):
    needs("peers")
    import pint  # noqa: PLC0415

    registry = pint.UnitRegistry()
    peer = registry.Quantity(figure, unit).to(wanted).magnitude
    assert read(text) == pytest.approx(peer, rel=1e-12, abs=1e-12)
