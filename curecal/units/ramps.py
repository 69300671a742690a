"""The settings of a ramp: what a thermostat is set to day by day, gentle as shown too."""

from __future__ import annotations

import math
from collections.abc import Sequence

from curecal.errors import QuantityRefused
from curecal.units.display import DisplayUnits, set_point

# A step of 5 K is nine marks of 1 °F, though a float may say 8.999….
_HAIR = 1e-6
# Anything at all, but finite.
_LARGEST_STEP_K = 1000.0


def ramp(steps_c: Sequence[float], units: DisplayUnits, *, step_k: float) -> tuple[float, ...]:
    """Return the settings of a ramp [°F or °C], none further from the last than a step.

    None is over its limit. Rounding each setting alone could make a day's step larger than it is:
    10.8 and 13.6 °C would be set as 10.5 and 13.5. Upwards the later setting is lowered, downwards
    it is raised as far as its limit and the step before it allow.

    Args:
        steps_c: The limits, day by day.
        units: The thermostat's: whole degrees in °F, whole and half degrees in °C.
        step_k: The most a day may add or take away, at least one mark of the thermostat.

    Raises:
        QuantityRefused: not a finite number, or a step below zero.
    """
    if not 0.0 <= step_k <= _LARGEST_STEP_K:
        raise QuantityRefused("quantity-not-finite", text=repr(step_k), wanted="temperature-step")
    per_k, mark = (1.8, 1.0) if units == "imperial" else (1.0, 0.5)
    step = math.floor(step_k * per_k / mark + _HAIR) * mark
    settings: list[float] = []
    for limit_c in steps_c:
        setting = set_point(limit_c, units)
        if settings:
            before = settings[-1]
            setting = (
                min(setting, before + step) if setting > before else max(setting, before - step)
            )
        settings.append(setting)
    return tuple(settings)


def show_ramp(
    steps_c: Sequence[float], units: DisplayUnits, *, step_k: float, both: bool = False
) -> tuple[str, ...]:
    """Return the settings of a ramp as text: "78 °F", or with `both` "78 °F (25.5 °C)".

    Raises:
        QuantityRefused: not a finite number, or a step below zero.
    """
    imperial = [f"{at:.0f} °F" for at in ramp(steps_c, "imperial", step_k=step_k)]
    metric = [f"{at:g} °C" for at in ramp(steps_c, "metric", step_k=step_k)]
    first, other = (imperial, metric) if units == "imperial" else (metric, imperial)
    if not both:
        return tuple(first)
    return tuple(f"{own} ({theirs})" for own, theirs in zip(first, other, strict=True))
