"""How long somebody works at a layer, as a file says it: days are working days."""

from __future__ import annotations

import re

from curecal import units
from curecal.errors import QuantityRefused
from curecal.toml_files.shown import shorten
from curecal.toml_files.values import LONGEST_WAIT_S, inside

_DAY_S = 86_400.0
# Nobody lays a course in less: hours were written as minutes, or a decimal point slipped.
_LEAST_S = 15 * 60.0
_IN_DAYS = re.compile(r"(?P<days>.*\d[^a-z]*(?:d|days?))(?:[ ,]+(?P<rest>\d.*))?", re.IGNORECASE)


def working_time(value: object, day_s: float, days_a_week: int) -> float:
    """Return working time [s]: of days and weeks, only their working hours count.

    Args:
        value: What the file says.
        day_s: Hours of a working day [s].
        days_a_week: Working days in a week.

    Returns:
        The time somebody works at it [s].

    Raises:
        QuantityRefused: It is no duration, or none above zero.
    """
    total_s = units.duration(value)
    text = str(value).strip()
    match = _IN_DAYS.fullmatch(text)
    if match is not None:
        rest_s = units.duration(match["rest"]) if match["rest"] else 0.0
        total_s = units.duration(match["days"]) / _DAY_S * day_s + rest_s
    elif re.search(r"\d[^a-z]*w", text, re.IGNORECASE):
        total_s = total_s / (7 * _DAY_S) * days_a_week * day_s
    if not total_s > 0:
        raise QuantityRefused("quantity-zero", text=shorten(value), example="3 h")
    return inside(total_s, value, least=_LEAST_S, most=LONGEST_WAIT_S, shown=("15 min", "3650 d"))
