"""The rate of a wait's clock: by the law of cement, of resins, of drying, or a sheet's table."""

from __future__ import annotations

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
    law: Rate
    # A class rated below its own minimum would never be reached at its rating.
    rated_c = max(wait.rated_c, sheet.minimum_c)
    if isinstance(wait.amount, TableWait):
        rated_c = wait.amount.points[-1][0]
    match wait.law:
        case Hardening.CEMENT:
            law = CementRate(
                rated_c=rated_c, minimum_c=sheet.minimum_c, doubling_k=sheet.doubling_k
            )
        case Hardening.REACTION:
            law = ReactionRate(rated_c=rated_c, minimum_c=sheet.minimum_c)
        case Hardening.DRYING:
            law = DryingRate(
                rated_c=rated_c,
                rated_rh=wait.rated_rh,
                minimum_c=sheet.minimum_c,
                limit_rh=sheet.drying_limit_rh,
            )
        case _:
            law = UnhinderedRate()
    if not sheet.minimum_c > FREEZING_C and not isinstance(law, UnhinderedRate):
        law = UnfrozenRate(law)
    if isinstance(wait.amount, TableWait):
        table = TableRate(points=wait.amount.points, law=law)
        return table, table.rated_wait_s
    return law, amount_s
