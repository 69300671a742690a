"""Which temperatures a place on a site can have: beyond them figure or unit is wrong.

One pair of spans for job file, log entries and loggers: 51 °F read as 51 °C would count a cold
floor as cured. The figures are our own choice.
"""

from __future__ import annotations

from collections.abc import Sequence

from curecal.errors import SourceError

UNHEATED_C = (-40.0, 45.0)
"""Room air, and every surface and floor with its heating off [°C]."""
HEATED_C = (-40.0, 60.0)
"""A floor whose heating may be on [°C]."""
# A million readings say no more of a room's usual warmth than ten thousand.
_JUDGED = 10_000


def median_c(readings_c: Sequence[float]) -> float | None:
    """Return the median of many readings [°C], the upper one of two; None without a reading."""
    values = sorted(readings_c[:: len(readings_c) // _JUDGED + 1])
    return values[len(values) // 2] if values else None


def is_unheated(temperature_c: float) -> bool:
    """Return whether a place that nothing heats can have a temperature [°C]."""
    least_c, most_c = UNHEATED_C
    return least_c <= temperature_c <= most_c


def wrong_median_c(readings_c: Sequence[float]) -> float | None:
    """Return the median [°C] of readings that no unheated place has, else None.

    Single rows out of a hot van are left to the rule for sudden changes.
    """
    usual_c = median_c(readings_c)
    return None if usual_c is None or is_unheated(usual_c) else usual_c


def refuse_hot(device: str, readings_c: Sequence[float]) -> None:
    """Refuse a logger's readings that are no unheated place's.

    Args:
        device: The logger, as people know it.
        readings_c: Its readings [°C].

    Raises:
        SourceError: Their median is outside of what such a place can have.
    """
    wrong_c = wrong_median_c(readings_c)
    if wrong_c is not None:
        raise SourceError("readings-no-room", device=device, usual_c=wrong_c, most_c=UNHEATED_C[1])
