"""How long a screed or slab dries, and how fast fresh concrete loses its bleed water."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from curecal.science.validity import refuse, require

_SECONDS_PER_DAY = 86_400.0
_SECONDS_PER_HOUR = 3_600.0
_KM_H_PER_M_S = 3.6
_DAY_PER_MM = _SECONDS_PER_DAY / 0.001
"""Drying at 1 mm a day, as seconds per meter of thickness."""

_FEW_TERMS = 60
"""Terms of the series: the last one is below 1e-16 for every Fourier number allowed."""


@dataclass(frozen=True, slots=True)
class DryingStep:
    """A part of the thickness, counted from the surface, and how long each meter of it takes.

    Attributes:
        to_m: Depth at which this part ends [m]; None for the last, which has no end.
        s_per_m: Drying time per thickness [s/m].
    """

    to_m: float | None
    s_per_m: float


CEMENT_BREAK_50_MM = (DryingStep(0.050, _DAY_PER_MM), DryingStep(None, 2.0 * _DAY_PER_MM))
CEMENT_BREAK_40_MM = (DryingStep(0.040, _DAY_PER_MM), DryingStep(None, 2.0 * _DAY_PER_MM))


def drying_time(thickness_m: float, steps: Sequence[DryingStep], *, factor: float = 1.0) -> float:
    """Return the time a thickness dries at the conditions its rule is rated for.

    Args:
        thickness_m: Thickness of the layer at its deepest point [m].
        steps: The rule, from the surface down: ends that rise, the last without one.
        factor: Factor on the whole time [1].

    Returns:
        Drying time [s].

    Raises:
        OutsideValidity: A value is outside the range below, or the steps are not such a rule.

    Validity:
        Thickness 0 to 0.3 m; factor 0.1 to 10.

    Source:
        The form common to the rules by thickness in BS 8203, BS 8204 and BS 5385-3.
    """
    require("thickness_m", thickness_m, low=0.0, high=0.3)
    require("factor", factor, low=0.1, high=10.0)
    if not steps or steps[-1].to_m is not None:
        refuse("drying-rule-without-end")
    total_s = 0.0
    from_m = 0.0
    for step in steps:
        to_m = thickness_m if step.to_m is None else step.to_m
        if step.to_m is not None and not step.to_m > from_m:
            refuse("drying-rule-not-in-order", to_m=step.to_m, from_m=from_m)
        require("s_per_m", step.s_per_m, low=0.0, high=100.0 * _DAY_PER_MM)
        total_s += max(0.0, min(thickness_m, to_m) - from_m) * step.s_per_m
        from_m = to_m
    return total_s * factor


def drying_time_cement_screed_bs_8203(thickness_m: float) -> float:
    """Return the drying time of a cement screed: a day per mm to 50 mm, two for each mm below.

    Args:
        thickness_m: Thickness of the screed [m].

    Returns:
        Drying time [s].

    Raises:
        OutsideValidity: The thickness is outside the range below.

    Validity:
        0 to 0.3 m; good drying conditions, 20 °C and 50 %.

    Source:
        BS 8203 and BS 8204, as quoted by a screed trade page.
    """
    return drying_time(thickness_m, CEMENT_BREAK_50_MM)


def drying_time_cement_screed_bs_5385_3(thickness_m: float) -> float:
    """Return the drying time of a cement screed: a day per mm to 40 mm, two for each mm below.

    The longer of the two published breaks.

    Args:
        thickness_m: Thickness of the screed [m].

    Returns:
        Drying time [s].

    Raises:
        OutsideValidity: The thickness is outside the range below.

    Validity:
        0 to 0.3 m; good drying conditions, 20 °C and 50 %.

    Source:
        BS 5385-3, as quoted by a screed trade page.
    """
    return drying_time(thickness_m, CEMENT_BREAK_40_MM)


def drying_time_calcium_sulfate_screed(thickness_m: float) -> float:
    """Return the drying time of a calcium-sulfate screed: 1 mm a day to 40 mm, then 0.5.

    Args:
        thickness_m: Thickness of the screed [m].

    Returns:
        Drying time [s].

    Raises:
        OutsideValidity: The thickness is outside the range below.

    Validity:
        0 to 0.3 m; good drying conditions, 20 °C and 65 %.

    Source:
        British code of practice wording, as quoted by a screed trade page.
    """
    return drying_time(thickness_m, CEMENT_BREAK_40_MM)


def drying_time_hedenblad_1997(
    *, base_s: float, thickness_factor: float, sides_factor: float
) -> float:
    """Return a slab's drying time as a tabulated base time with factors.

    Args:
        base_s: Time for the water-cement ratio and climate in hand [s].
        thickness_factor: Factor for the thickness [1].
        sides_factor: Factor for drying from one side only [1].

    Returns:
        Drying time [s].

    Raises:
        OutsideValidity: A value is outside the range below.

    Validity:
        Base 1 to 1000 days; factors 0.1 to 10. The factors must come from the tables.

    Source:
        Hedenblad, G. (1997), Drying of construction water in concrete, Swedish Council for
        Building Research T9. Title and factors
        from memory.
    """
    require("base_s", base_s, low=_SECONDS_PER_DAY, high=1000.0 * _SECONDS_PER_DAY)
    require("thickness_factor", thickness_factor, low=0.1, high=10.0)
    require("sides_factor", sides_factor, low=0.1, high=10.0)
    return base_s * thickness_factor * sides_factor


def evaporation_uno_1998(
    *, concrete_c: float, air_c: float, humidity: float, wind_m_s: float
) -> float:
    """Return the rate at which fresh concrete loses bleed water.

    Args:
        concrete_c: Temperature of the concrete's surface [°C].
        air_c: Temperature of the air [°C].
        humidity: Relative humidity of the air, a fraction [1].
        wind_m_s: Wind speed [m/s].

    Returns:
        Evaporation rate [kg/(m²·s)]; negative where the air would wet the surface.

    Raises:
        OutsideValidity: A value is outside the range below.

    Validity:
        Temperatures 0 to 50 °C; humidity 0 to 1; wind 0 to 20 m/s.

    Source:
        Uno, P. J. (1998), Plastic shrinkage cracking and evaporation formulas, ACI Materials
        Journal 95-M34, as printed in the CCAA hot-weather data sheet (2004).
    """
    require("concrete_c", concrete_c, low=0.0, high=50.0)
    require("air_c", air_c, low=0.0, high=50.0)
    require("humidity", humidity, low=0.0, high=1.0)
    require("wind_m_s", wind_m_s, low=0.0, high=20.0)
    pull = math.pow(concrete_c + 18.0, 2.5) - humidity * math.pow(air_c + 18.0, 2.5)
    return 5e-6 * pull * (wind_m_s * _KM_H_PER_M_S + 4.0) / _SECONDS_PER_HOUR


def remaining_fraction_plane_sheet(fourier_number: float) -> float:
    """Return the mean fraction of moisture left in a sheet that dries from both faces.

    For a sheet of thickness L drying from one face, the Fourier number is D·t/L²; from both
    faces, D·t/(L/2)². The diffusivity D is constant here, which that of a screed is not.

    Args:
        fourier_number: Dimensionless time [1].

    Returns:
        Mean remaining fraction of what must leave [1].

    Raises:
        OutsideValidity: The Fourier number is outside the range below.

    Validity:
        0.001 to 100.

    Source:
        Crank, J. (1975), The Mathematics of Diffusion, 2nd edition, equation 4.18; edition
        and number from memory.
    """
    require("fourier_number", fourier_number, low=0.001, high=100.0)
    total = 0.0
    for term in range(_FEW_TERMS):
        square = math.pow((2.0 * term + 1.0) * math.pi, 2.0)
        total += 8.0 / square * math.exp(-square * fourier_number / 4.0)
    return total


def probe_depth(*, thickness_m: float, drying_sides: int) -> float:
    """Return the depth at which a humidity probe sits for an in-situ test.

    Args:
        thickness_m: Thickness of the slab or screed [m].
        drying_sides: 1 when it dries upward only, 2 when it dries both ways.

    Returns:
        Depth of the probe below the surface [m].

    Raises:
        OutsideValidity: The thickness is outside the range below, or the sides are not 1 or 2.

    Validity:
        Thickness 0.01 to 1 m.

    Source:
        ASTM F2170, as quoted in trade print: 40 % of the thickness one-sided, 20 % two-sided.
    """
    require("thickness_m", thickness_m, low=0.01, high=1.0)
    if drying_sides not in {1, 2}:
        refuse("outside-validity", quantity="drying_sides", value=drying_sides, low=1, high=2)
    return thickness_m * (0.4 if drying_sides == 1 else 0.2)
