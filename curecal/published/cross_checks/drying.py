"""Drying of concrete by other methods than a rule by thickness."""

from __future__ import annotations

import math

_FEW_TERMS = 60
"""Terms of the series: the last is below 1e-16 for every Fourier number from 0.001."""


def drying_time_hedenblad_1997(
    base_d: float, thickness_factor: float, sides_factor: float
) -> float:
    """Return a slab's drying time as a tabulated base time with tabulated factors [d].

    Args:
        base_d: Time for the water-cement ratio and climate in hand.
        thickness_factor: Factor for the thickness [1].
        sides_factor: Factor for drying from one side only [1].

    Source:
        Hedenblad, G. (1997), Drying of construction water in concrete, Swedish Council for
        Building Research T9. Title and factors from memory.
    """
    return base_d * thickness_factor * sides_factor


def evaporation_uno_1998(
    concrete_c: float, air_c: float, humidity: float, wind_km_h: float
) -> float:
    """Return the rate at which fresh concrete loses bleed water [kg/(m²·h)].

    Negative where the air would wet the surface.

    Source:
        Uno, P. J. (1998), Plastic shrinkage cracking and evaporation formulas, ACI Materials
        Journal 95-M34, as printed in the CCAA hot-weather data sheet (2004).
    """
    pull = math.pow(concrete_c + 18.0, 2.5) - humidity * math.pow(air_c + 18.0, 2.5)
    return 5e-6 * pull * (wind_km_h + 4.0)


def remaining_fraction_plane_sheet(fourier: float) -> float:
    """Return the mean fraction of moisture left in a sheet that dries from both faces [1].

    For a sheet of thickness L drying from one face, the Fourier number is D·t/L²; from both
    faces, D·t/(L/2)². The diffusivity D is constant here, which that of a screed is not.

    Source:
        Crank, J. (1975), The Mathematics of Diffusion, 2nd edition, equation 4.18; edition
        and number from memory.
    """
    total = 0.0
    for term in range(_FEW_TERMS):
        square = math.pow((2.0 * term + 1.0) * math.pi, 2.0)
        total += 8.0 / square * math.exp(-square * fourier / 4.0)
    return total


def probe_depth_both_sides(thickness_mm: float) -> float:
    """Return the depth of a humidity probe in a slab that dries from both sides [mm].

    Source:
        ASTM F2170, as quoted in trade print: 20 % of the thickness.
    """
    return 0.2 * thickness_mm
