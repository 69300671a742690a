"""What every part of one zone's planning looks at."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import datetime

from curecal.instants import add
from curecal.planning.climate.zone_climate import make_climate
from curecal.planning.curing.build_up import Stack
from curecal.planning.curing.clocks import Clocks
from curecal.planning.curing.waits import Waits
from curecal.planning.plan import Hold
from curecal.planning.site_log.log_at_instant import Facts, facts_at, fold_done
from curecal.planning.working_time.working_calendar import Calendar
from curecal.trade.findings import Finding, Params, Severity
from curecal.trade.job import Expected, Job, Zone
from curecal.trade.rules import Rules
from curecal.trade.site_log import Entry


@dataclass(slots=True)
class ZoneContext:
    """One zone in hand: its facts, clocks and calendar, and what has been found so far.

    `as_read` and `log` are the job before the log is folded in, and the whole log: what an
    earlier look is made of.
    """

    job: Job
    zone: Zone
    facts: Facts
    rules: Rules
    calendar: Calendar
    clocks: Clocks
    stack: Stack
    waits: Waits
    as_read: Job
    log: tuple[Entry, ...]
    findings: list[Finding] = field(default_factory=list)
    holds: list[Hold] = field(default_factory=list)

    def find(
        self, severity: Severity, code: str, path: str, params: Params, layer_id: str | None = None
    ) -> None:
        """Note a finding about this zone."""
        self.findings.append(Finding(severity, code, path, params, self.zone.id, layer_id))

    def as_known(self, entry: Entry) -> ZoneContext:
        """Return the zone as it was known when an entry was written, at the instant it tells of.

        What was recorded later, or happened later, is not on this context; nothing found is.

        Rule: R27.

        Args:
            entry: an entry of the log.

        Returns:
            A context of its own.
        """
        written = facts_at(self.log, entry.recorded, self.as_read.people)
        happened = tuple(told for told in written.entries if told.at <= entry.at)
        facts = Facts(entry.at, happened, people=written.people)
        job, _ = fold_done(self.as_read, facts)
        zone = next(zone for zone in job.zones if zone.id == self.zone.id)
        return make_zone_context(
            job, zone, facts, self.calendar, self.as_read, self.log, self.rules
        )


def make_zone_context(
    job: Job,
    zone: Zone,
    facts: Facts,
    calendar: Calendar,
    as_read: Job,
    log: tuple[Entry, ...],
    rules: Rules,
    *,
    ahead: Expected | None = None,
) -> ZoneContext:
    """Return a zone's ctx, with nothing found yet.

    Rule: R4 to R7.

    Args:
        job: the job with the log folded in.
        zone: its zone.
        facts: the log as it stood.
        calendar: the site's calendar.
        as_read: the job as read.
        log: the whole log.
        rules: the rules as data.
        ahead: the climate after `facts.as_of`, where it is to be another than expected.

    Returns:
        The ctx.
    """
    origin = _origin(zone, facts)
    climate = make_climate(zone, job.expected, facts, origin, rules, ahead=ahead, site=job.tz)
    stack = Stack(zone)
    return ZoneContext(
        job=job,
        zone=zone,
        facts=facts,
        rules=rules,
        calendar=calendar,
        clocks=Clocks(climate, rules),
        stack=stack,
        waits=Waits(stack, rules),
        as_read=as_read,
        log=log,
    )


def _origin(zone: Zone, facts: Facts) -> datetime:
    """Return where the climate begins: the first application, or now."""
    begun = [
        add(layer.done_at, -(layer.duration_s or 0.0))
        for layer in zone.layers
        if layer.done_at is not None
    ]
    return min([facts.as_of, *begun])
