"""How long a thickness of screed or slab dries, by a rule in steps from the surface down."""

from __future__ import annotations

from collections.abc import Sequence

from curecal.records import Record, record
from curecal.science.validity import refuse, require

_LONGEST_S_PER_M = 100.0 * 86_400.0 / 0.001
"""A hundred days for each millimeter: no rule in print is near it, a slip in units is past it."""


@record
class DryingStep(Record):
    """A part of the thickness, counted from the surface, and how long each meter of it takes.

    Attributes:
        to_m: Depth at which this part ends [m]; None for the last, which has no end.
        s_per_m: Drying time per thickness [s/m].
    """

    to_m: float | None
    s_per_m: float


def drying_time(thickness_m: float, steps: Sequence[DryingStep]) -> float:
    """Return the time a thickness dries at the conditions its rule is rated for [s].

    Args:
        thickness_m: Thickness of the layer at its deepest point.
        steps: The rule, from the surface down: ends that rise, the last without one.

    Raises:
        OutsideValidity: A value is outside the range below, or the steps are not such a rule.

    Validity:
        Thickness 0 to 0.3 m.

    Source:
        The form common to the rules by thickness in BS 8203, BS 8204 and BS 5385-3.
    """
    require("thickness_m", thickness_m, low=0.0, high=0.3)
    if not steps or steps[-1].to_m is not None:
        refuse("drying-rule-without-end")
    total_s = 0.0
    from_m = 0.0
    for step in steps:
        to_m = thickness_m if step.to_m is None else step.to_m
        if step.to_m is not None and not step.to_m > from_m:
            refuse("drying-rule-not-in-order", to_m=step.to_m, from_m=from_m)
        require("s_per_m", step.s_per_m, low=0.0, high=_LONGEST_S_PER_M)
        total_s += max(0.0, min(thickness_m, to_m) - from_m) * step.s_per_m
        from_m = to_m
    return total_s
