"""How fast reaction resins (epoxy grout, epoxy adhesive) cure at a temperature."""

from __future__ import annotations

from curecal.science.cement import rate_doubling

DOUBLING_K = 10.0


def rate_reaction_resin(*, temperature_c: float, rated_c: float) -> float:
    """Return the rate of cure as a ratio to that at a data sheet's temperature.

    Args:
        temperature_c: Temperature of the resin [°C].
        rated_c: Temperature the data sheet's times hold at [°C].

    Returns:
        Rate, doubling per 10 K [1].

    Raises:
        OutsideValidity: A temperature is outside the range below.

    Validity:
        -20 to 80 °C.

    Source:
        Our own rule after the common rule of thumb that a reaction's rate doubles per 10 K
        (van 't Hoff).
    """
    return rate_doubling(temperature_c=temperature_c, rated_c=rated_c, doubling_k=DOUBLING_K)
