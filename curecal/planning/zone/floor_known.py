"""Whether the log shows how warm a floor in its heat-up is: without that nobody names a number."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date, datetime, timedelta, tzinfo

from curecal.instants import local_day
from curecal.trade.site_log import Energized, Entry, HeatStep, Place, Reading

_DAY = timedelta(days=1)


def is_floor_known(
    log: Iterable[Entry], zone_id: str, step_on: date, as_of: datetime, tz: tzinfo
) -> bool:
    """Return whether the log shows where a floor is: a step, or its own temperature.

    Rule: R21.

    Args:
        log: the site log.
        zone_id: the zone.
        step_on: the day of the step.
        as_of: the instant it is asked at.
        tz: the zone of the site's clocks.

    Returns:
        True with a step set on that day or later, or a floor reading of the last 24 h.
    """
    for entry in log:
        if entry.zone not in {None, zone_id}:
            continue
        if isinstance(entry, (HeatStep, Energized)) and local_day(entry.at, tz) >= step_on:
            return True
        read = isinstance(entry, Reading) and entry.place is Place.FLOOR
        if read and entry.at >= as_of - _DAY:
            return True
    return False
