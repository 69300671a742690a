"""Quantities in words, read into SI floats and shown again.

Every reader takes what stands in a file and returns a float in the dimension's SI unit (°C for
temperatures, days for rates), or raises `QuantityRefused` with the code of the reason, the text,
the kind that was wanted and an example of it.
"""

from __future__ import annotations

from curecal.units.display import (
    DisplayUnits,
    set_point,
    show_area,
    show_current,
    show_duration,
    show_evaporation,
    show_length,
    show_percent,
    show_power,
    show_resistance,
    show_set_point,
    show_step,
    show_temperature,
    show_voltage,
)
from curecal.units.drying import DryingSegment, drying_rule
from curecal.units.electrical import (
    Insulation,
    ResistanceReading,
    current,
    insulation,
    power,
    resistance,
    resistance_reading,
    voltage,
)
from curecal.units.extent import area, duration, duration_range, length, length_range, tile_size
from curecal.units.kinds import Range
from curecal.units.ramps import ramp, show_ramp
from curecal.units.shares import (
    Moisture,
    MoistureKind,
    Tolerance,
    fraction,
    humidity,
    moisture,
    tolerance,
)
from curecal.units.thermal import (
    rated_temperature,
    temperature,
    temperature_range,
    temperature_rate,
    temperature_step,
)

__all__ = [
    "DisplayUnits",
    "DryingSegment",
    "Insulation",
    "Moisture",
    "MoistureKind",
    "Range",
    "ResistanceReading",
    "Tolerance",
    "area",
    "current",
    "drying_rule",
    "duration",
    "duration_range",
    "fraction",
    "humidity",
    "insulation",
    "length",
    "length_range",
    "moisture",
    "power",
    "ramp",
    "rated_temperature",
    "resistance",
    "resistance_reading",
    "set_point",
    "show_area",
    "show_current",
    "show_duration",
    "show_evaporation",
    "show_length",
    "show_percent",
    "show_power",
    "show_ramp",
    "show_resistance",
    "show_set_point",
    "show_step",
    "show_temperature",
    "show_voltage",
    "temperature",
    "temperature_range",
    "temperature_rate",
    "temperature_step",
    "tile_size",
    "tolerance",
    "voltage",
]
