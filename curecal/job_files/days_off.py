"""Days without work on site: weekends, days the job names, public holidays of a region."""

from __future__ import annotations

import functools
import importlib
from collections.abc import Callable
from datetime import date
from typing import TYPE_CHECKING

from curecal.errors import SourceError

if TYPE_CHECKING:
    from collections.abc import Mapping

    from curecal.trade.job import Job

WEEKEND = "weekend"
DAY_OFF = "day off"


def day_off_for(job: Job) -> Callable[[date], str | None]:
    """Return what says why a local day is off on a job; None for a working day.

    The holidays of the job's region are loaded only when the first weekday is asked about.
    """
    work = job.work
    named = frozenset(work.days_off)

    def day_off(day: date) -> str | None:
        if day.weekday() not in work.days:
            return WEEKEND
        if day in named:
            return DAY_OFF
        if work.holidays is None:
            return None
        return _holiday(work.holidays, day)

    return day_off


@functools.lru_cache(maxsize=4096)
def _holiday(region: str, day: date) -> str | None:
    return _region(region).get(day)


@functools.cache
def _region(region: str) -> Mapping[date, str]:
    # Costs 100 ms: loaded only when a working day is asked about.
    holidays = importlib.import_module("holidays")

    country, _, subdivision = region.partition("-")
    try:
        found: Mapping[date, str] = holidays.country_holidays(country, subdiv=subdivision or None)
    except (NotImplementedError, KeyError, AttributeError):
        raise SourceError("holidays-unknown", region=region) from None
    return found
