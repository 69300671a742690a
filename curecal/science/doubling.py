"""Rates that double with each step of warmth: a data sheet's own step, and reaction resins."""

from __future__ import annotations

import math

from curecal.science.validity import require

RESIN_DOUBLING_K = 10.0
"""The common rule of thumb that a reaction's rate doubles per 10 K (van 't Hoff)."""

# No data sheet rates a product for use outside these.
_LOWEST_C = -20.0
_HIGHEST_C = 80.0


def rate_doubling(*, temperature_c: float, rated_c: float, doubling_k: float) -> float:
    """Return the rate relative to that at `rated_c`, doubling with each `doubling_k` [1].

    Raises:
        OutsideValidity: A value is outside the range below.

    Validity:
        -20 to 80 °C; steps from 1 to 100 K.

    Source:
        Common practice of data sheets: "time doubles for each 10 °C (18 °F) colder".
    """
    require("temperature_c", temperature_c, low=_LOWEST_C, high=_HIGHEST_C)
    require("rated_c", rated_c, low=_LOWEST_C, high=_HIGHEST_C)
    require("doubling_k", doubling_k, low=1.0, high=100.0)
    return math.pow(2.0, (temperature_c - rated_c) / doubling_k)
