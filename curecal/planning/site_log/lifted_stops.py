"""Which entry lifts a stop: who may, by the stop's cause, and with a reading of that day."""

from __future__ import annotations

from datetime import tzinfo

from curecal.instants import local_day
from curecal.planning.site_log.authority import Evidence, gap, gap_message
from curecal.planning.site_log.log_at_instant import Facts
from curecal.trade.findings import Message
from curecal.trade.job import Zone
from curecal.trade.site_log import Cause, Entry, Resistance, Resumed


def lifted_by(facts: Facts, zone: Zone, tz: tzinfo, stop: Entry, cause: Cause) -> Resumed | None:
    """Return the first entry after a stop by somebody who may lift it; None while it stands.

    Rule: R22, R24c.

    Args:
        facts: the log as it stood.
        zone: the zone that is stopped.
        tz: the zone of the site's clocks.
        stop: the stop, or the early switch-on.
        cause: what it is a stop for.

    Returns:
        The entry.
    """
    later = [lift for lift in facts.of(Resumed, zone) if lift.at > stop.at]
    return next(
        (lift for lift in later if why_not_lifted(facts, zone, tz, stop, lift, cause) is None),
        None,
    )


def why_not_lifted(
    facts: Facts, zone: Zone, tz: tzinfo, stop: Entry, lift: Resumed, cause: Cause
) -> Message | None:
    """Return why an entry does not lift a stop of some cause; None where it does.

    Rule: R22, R24c.

    Args:
        facts: the log as it stood.
        zone: the zone that is stopped.
        tz: the zone of the site's clocks.
        stop: the stop, or the early switch-on.
        lift: the entry that is to lift it.
        cause: what it is a stop for.

    Returns:
        Whose word is wanting, or that nothing was read that day.
    """
    wanted = Evidence.RESUMED_ELECTRICAL if cause.is_electrical else Evidence.RESUMED
    lacking = gap(facts.people, lift, wanted)
    if lacking is not None:
        return gap_message(lacking, lift, wanted)
    if cause.is_electrical and not _is_read_that_day(facts, zone, tz, stop, lift):
        return Message("resumed-unread", {"resumed_at": lift.at, "by": lift.by or ""})
    return None


def _is_read_that_day(facts: Facts, zone: Zone, tz: tzinfo, stop: Entry, lift: Resumed) -> bool:
    """Return whether a cable was read on the day somebody lifted an electrical stop, and after it.

    A reading of before the stop knows nothing of what stopped the floor, and one of the sensor
    alone nothing of the cable.
    """
    day = local_day(lift.at, tz)
    tests = [test for test in facts.of(Resistance, zone) if facts.counts(test)]
    return any(
        test.at >= stop.at and local_day(test.at, tz) == day and _is_of_cable(test)
        for test in tests
    )


def _is_of_cable(test: Resistance) -> bool:
    """Return whether a test holds the conductor, and the conductor to earth."""
    to_earth = test.earth_open or test.to_earth_ohm is not None or test.insulation_ohm is not None
    return to_earth and test.conductor_ohm is not None
