"""Aware instants in UTC, windows, and the days and wall times of a site.

Elapsed time is added in UTC. Wall times are resolved in the zone the caller hands in. The
calendar runs from year 1 to 9999; what leaves it is refused.
"""

from __future__ import annotations

from curecal.instants.elapsed import Window, add, after, ceil_second, instant
from curecal.instants.local import (
    Resolved,
    WallKind,
    end_of_day,
    local_at,
    local_day,
    morning_at_or_after,
    resolve,
    start_of_day,
)
from curecal.instants.parse import instant_of, parse_instant
from curecal.instants.spoken import Toward, check_weekday, spoken

__all__ = [
    "Resolved",
    "Toward",
    "WallKind",
    "Window",
    "add",
    "after",
    "ceil_second",
    "check_weekday",
    "end_of_day",
    "instant",
    "instant_of",
    "local_at",
    "local_day",
    "morning_at_or_after",
    "parse_instant",
    "resolve",
    "spoken",
    "start_of_day",
]
