"""Quantities as people read them, in metric or imperial units.

A limit is never shown looser than it is: set points and steps round down, waits round up. The
slack that keeps a float's last digit from costing a whole unit is stated beside each.
"""

from __future__ import annotations

import math
from decimal import Decimal
from typing import Literal

from curecal.errors import QuantityRefused

DisplayUnits = Literal["metric", "imperial"]

# A set point of 61 °F is 16.111… °C as a float, and may come back as 60.99999999 °F.
_DEGREE_SLACK = 1e-6
# The same slack as in every result: an exact 28 d stays 28 d.
_TIME_SLACK_S = 1e-3
_MINUTE_S, _HOUR_S, _DAY_S = 60, 3600, 86_400
# "36 h" is read at a glance, "53 h" is not: from two days on days are named.
_IN_HOURS_BELOW_MIN = 48 * 60
# Leaves room for the conversions below: °F, sixteenths and tenths stay finite too.
_LARGEST = 1e300
_INCH_M = 0.0254
_SQUARE_FOOT_M2 = 0.09290304
_SIXTEENTHS = 16
# A length within a hundredth of a sixteenth (0.016 mm) was a sixteenth when it was typed.
_SIXTEENTH_SLACK = 0.01


def show_temperature(temperature_c: float, units: DisplayUnits, *, both: bool = False) -> str:
    """Return a temperature with at most one decimal ("66 °F", "18.9 °C").

    With `both` the other unit stands in brackets, and °F are whole ("84 °F (29 °C)"). A limit is
    shown by `show_set_point`, which never rounds up.

    Raises:
        QuantityRefused: not a finite number.
    """
    _finite(temperature_c, "temperature")
    metric = f"{_decimals(temperature_c, 1)} °C"
    imperial = f"{_decimals(_fahrenheit(temperature_c), 0 if both else 1)} °F"
    return _in_units(metric, imperial, units, both=both)


def set_point(limit_c: float, units: DisplayUnits) -> float:
    """Return the highest setting of a thermostat that does not exceed a limit [°F or °C].

    Whole degrees [°F] in imperial units, whole or half degrees [°C] in metric ones.

    Raises:
        QuantityRefused: not a finite number.
    """
    _finite(limit_c, "temperature")
    if units == "imperial":
        return float(math.floor(_fahrenheit(limit_c) + _DEGREE_SLACK))
    return math.floor(2 * limit_c + _DEGREE_SLACK) / 2


def show_set_point(limit_c: float, units: DisplayUnits, *, both: bool = False) -> str:
    """Return the highest setting that does not exceed a limit: "84 °F" or "29 °C".

    With `both` the other unit's own setting stands in brackets; neither exceeds the limit.

    Raises:
        QuantityRefused: not a finite number.
    """
    imperial = f"{_decimals(set_point(limit_c, 'imperial'), 0)} °F"
    metric = f"{_decimals(set_point(limit_c, 'metric'), 1)} °C"
    return _in_units(metric, imperial, units, both=both)


def show_step(step_k: float, units: DisplayUnits) -> str:
    """Return a difference of temperature, rounded down to one decimal ("5 °C", "9 °F").

    Raises:
        QuantityRefused: not a finite number.
    """
    _finite(step_k, "temperature-step")
    degrees = step_k * 9 / 5 if units == "imperial" else step_k
    shown = math.floor(10 * (degrees + _DEGREE_SLACK)) / 10
    return f"{_decimals(shown, 1)} {'°F' if units == 'imperial' else '°C'}"


def show_duration(duration_s: float) -> str:
    """Return a duration, never shorter than it is: "2 h 30 min" under 48 h, else "29.6 d".

    Raises:
        QuantityRefused: not a finite number, or negative.
    """
    _finite(duration_s, "duration")
    if duration_s < 0:
        raise QuantityRefused("quantity-negative", text=repr(duration_s), wanted="duration")
    minutes = math.ceil((duration_s - _TIME_SLACK_S) / _MINUTE_S)
    if minutes >= _IN_HOURS_BELOW_MIN:
        tenths = math.ceil((duration_s - _TIME_SLACK_S) * 10 / _DAY_S)
        return f"{_text(Decimal(tenths) / 10)} d"
    hours, rest = divmod(max(minutes, 0), 60)
    if not hours:
        return f"{rest} min"
    return f"{hours} h {rest} min" if rest else f"{hours} h"


def show_length(length_m: float, units: DisplayUnits) -> str:
    """Return a length: in sixteenths of an inch where it is one ("3/8 in"), else decimals.

    To three figures below a millimeter or an inch, else to one or two decimals.

    Raises:
        QuantityRefused: not a finite number.
    """
    _finite(length_m, "length")
    if units == "imperial":
        return f"{_inches(length_m / _INCH_M)} in"
    if abs(length_m) >= 1:
        return f"{_decimals(length_m, 3)} m"
    millimeters = length_m * 1000
    shown = _decimals(millimeters, 1) if abs(millimeters) >= 1 else _figures(millimeters, 3)
    return f"{shown} mm"


def show_area(area_m2: float, units: DisplayUnits) -> str:
    """Return an area with at most one decimal, or three figures below one unit ("54 ft²").

    Raises:
        QuantityRefused: not a finite number.
    """
    _finite(area_m2, "area")
    figure = area_m2 / _SQUARE_FOOT_M2 if units == "imperial" else area_m2
    shown = _decimals(figure, 1) if abs(figure) >= 1 else _figures(figure, 3)
    return f"{shown} {'ft²' if units == 'imperial' else 'm²'}"


def show_evaporation(rate_kgm2s: float, units: DisplayUnits) -> str:
    """Return what evaporates in a day ("15 g/m² in 24 h", "3 lb/1000 ft² in 24 h").

    Raises:
        QuantityRefused: not a finite number.
    """
    _finite(rate_kgm2s, "evaporation")
    per_day_kg = rate_kgm2s * 86_400.0
    if units == "imperial":
        pounds = per_day_kg * 1000.0 * _SQUARE_FOOT_M2 / 0.45359237
        return f"{_decimals(pounds, 1)} lb/1000 ft² in 24 h"
    return f"{_decimals(per_day_kg * 1000.0, 1)} g/m² in 24 h"


def show_percent(fraction: float) -> str:
    """Return a fraction as a percentage with at most one decimal ("55 %", "0.5 %").

    Raises:
        QuantityRefused: not a finite number.
    """
    _finite(fraction, "fraction")
    return f"{_decimals(fraction * 100, 1)} %"


def show_resistance(resistance_ohm: float) -> str:
    """Return a resistance to four figures, in Ω, kΩ, MΩ or GΩ.

    Raises:
        QuantityRefused: not a finite number.
    """
    _finite(resistance_ohm, "resistance")
    # Rounded before the prefix is chosen, so that 999.96 Ω is 1 kΩ and not 1000 Ω.
    figure = Decimal(_figures(resistance_ohm, 4))
    for exponent, prefix in ((9, "G"), (6, "M"), (3, "k")):
        if abs(figure) >= 10**exponent:
            return f"{_text(figure.scaleb(-exponent))} {prefix}Ω"
    return f"{_text(figure)} Ω"


def show_voltage(voltage_v: float) -> str:
    """Return a voltage to four figures ("240 V").

    Raises:
        QuantityRefused: not a finite number.
    """
    _finite(voltage_v, "voltage")
    return f"{_figures(voltage_v, 4)} V"


def show_power(power_w: float) -> str:
    """Return a power to four figures ("640 W").

    Raises:
        QuantityRefused: not a finite number.
    """
    _finite(power_w, "power")
    return f"{_figures(power_w, 4)} W"


def show_current(current_a: float) -> str:
    """Return a current to four figures, in mA below one ampere ("30 mA", "53.75 A").

    Raises:
        QuantityRefused: not a finite number.
    """
    _finite(current_a, "current")
    figure = Decimal(_figures(current_a, 4))
    if 0 < abs(figure) < 1:
        return f"{_text(figure.scaleb(3))} mA"
    return f"{_text(figure)} A"


def _in_units(metric: str, imperial: str, units: DisplayUnits, *, both: bool) -> str:
    """Return the text in the reader's units, with the other in brackets where both are wanted."""
    own, other = (imperial, metric) if units == "imperial" else (metric, imperial)
    return f"{own} ({other})" if both else own


def _finite(value: float, wanted: str) -> None:
    """Refuse what is not a number, so that no text says "nan °C"."""
    if not -_LARGEST <= value <= _LARGEST:
        raise QuantityRefused("quantity-not-finite", text=repr(value), wanted=wanted)


def _fahrenheit(temperature_c: float) -> float:
    """Return the same temperature in °F."""
    return temperature_c * 9 / 5 + 32


def _inches(inches: float) -> str:
    """Return inches as a mixed fraction where they are sixteenths, else as a decimal figure."""
    sixteenths = round(inches * _SIXTEENTHS)
    if abs(inches * _SIXTEENTHS - sixteenths) > _SIXTEENTH_SLACK or sixteenths == 0:
        return _decimals(inches, 2) if abs(inches) >= 1 else _figures(inches, 3)
    sign = "-" if sixteenths < 0 else ""
    whole, part = divmod(abs(sixteenths), _SIXTEENTHS)
    if not part:
        return f"{sign}{whole}"
    common = math.gcd(part, _SIXTEENTHS)
    fraction = f"{part // common}/{_SIXTEENTHS // common}"
    return f"{sign}{whole} {fraction}" if whole else f"{sign}{fraction}"


def _decimals(value: float, places: int) -> str:
    """Return the value to so many decimals, without trailing zeros."""
    return _text(Decimal(f"{value:.{places}f}"))


def _figures(value: float, figures: int) -> str:
    """Return the value to so many significant figures, without exponent or trailing zeros."""
    return _text(Decimal(f"{value:.{figures}g}"))


def _text(value: Decimal) -> str:
    """Return the digits of a decimal number: no exponent, trailing zeros, or minus before zero."""
    if value == 0:
        return "0"
    digits = f"{value:f}"
    return digits.rstrip("0").rstrip(".") if "." in digits else digits
