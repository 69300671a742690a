"""The rate of a wait's clock: by the law of cement, of resins, of drying, or a sheet's table."""

from __future__ import annotations

from functools import lru_cache

from curecal.science.rate import (
    FREEZING_C,
    CementRate,
    DryingRate,
    Rate,
    ReactionRate,
    TableRate,
    UnfrozenRate,
    UnhinderedRate,
)
from curecal.trade.data_sheets import DataSheet, Hardening, TableWait, Wait

LAW_RULES = {
    Hardening.CEMENT: "R1",
    Hardening.REACTION: "R2",
    Hardening.DRYING: "R3",
    Hardening.AT_ONCE: "R8",
}

_UNHINDERED = UnhinderedRate()


def choose_rate(wait: Wait, sheet: DataSheet, amount_s: float) -> tuple[Rate, float]:
    """Return the rate a wait's clock runs at, and the age it has to reach.

    Rule: R1 to R3, R9.

    Args:
        wait: the wait with its law and rated conditions.
        sheet: the layer's sheet: minimum, doubling step, drying limit.
        amount_s: the wait at its rated conditions [s].

    Returns:
        The rate, and the age to reach [s].
    """
    # A class rated below its own minimum would never be reached at its rating.
    rated_c = max(wait.rated_c, sheet.minimum_c)
    if isinstance(wait.amount, TableWait):
        rated_c = wait.amount.points[-1][0]
    match wait.law:
        case Hardening.CEMENT:
            law = _cement(rated_c, sheet.minimum_c, sheet.doubling_k)
        case Hardening.REACTION:
            law = _reaction(rated_c, sheet.minimum_c)
        case Hardening.DRYING:
            law = _drying(rated_c, wait.rated_rh, sheet.minimum_c, sheet.drying_limit_rh)
        case _:
            law = _UNHINDERED
    if isinstance(wait.amount, TableWait):
        table = _table(wait.amount.points, law)
        return table, table.rated_wait_s
    return law, amount_s


# The waits of a floor run on a handful of laws, and each takes as long to make as a wait to end.
@lru_cache(maxsize=256)
def _cement(rated_c: float, minimum_c: float, doubling_k: float | None) -> Rate:
    law = CementRate(rated_c=rated_c, minimum_c=minimum_c, doubling_k=doubling_k)
    return _unfrozen(law, minimum_c)


@lru_cache(maxsize=256)
def _reaction(rated_c: float, minimum_c: float) -> Rate:
    return _unfrozen(ReactionRate(rated_c=rated_c, minimum_c=minimum_c), minimum_c)


@lru_cache(maxsize=256)
def _drying(rated_c: float, rated_rh: float, minimum_c: float, limit_rh: float) -> Rate:
    law = DryingRate(rated_c=rated_c, rated_rh=rated_rh, minimum_c=minimum_c, limit_rh=limit_rh)
    return _unfrozen(law, minimum_c)


@lru_cache(maxsize=256)
def _table(points: tuple[tuple[float, float], ...], law: Rate) -> TableRate:
    return TableRate(points=points, law=law)


def _unfrozen(law: Rate, minimum_c: float) -> Rate:
    """Return a law with nothing counted in frost, where its sheet allows to lay as cold as that."""
    return law if minimum_c > FREEZING_C else UnfrozenRate(law)
