"""The frozen facts of one zone that every stage of its planning reads."""

from __future__ import annotations

from curecal.instants import add
from curecal.planning.climate.zone_climate import make_climate
from curecal.planning.curing.build_up import BuildUp
from curecal.planning.curing.clocks import Clocks
from curecal.planning.curing.waits import Waits
from curecal.planning.site_log.log_at_instant import Facts, facts_at, fold_done
from curecal.planning.working_time.working_calendar import Calendar
from curecal.records import Record, record
from curecal.science.age import KeptAges
from curecal.trade.findings import Finding, Params, Severity
from curecal.trade.job import Expected, Job, Zone
from curecal.trade.rules import Rules
from curecal.trade.site_log import Entry


@record
class PlanInput(Record):
    """What all zones of a plan share: the job as read, the whole log, rules and calendar.

    `kept` holds sums over long series: what is asked of one zone or instant is asked of others.
    """

    job: Job
    log: tuple[Entry, ...]
    rules: Rules
    calendar: Calendar
    kept: KeptAges


@record
class ZoneContext(Record):
    """One zone: the job, the log as it stood, the rules, its climate's clocks, the calendar.

    No stage writes on it: what a stage finds, it returns. `given` is what a context of an earlier
    instant is made of: the job before the log is folded in, and the whole log.
    """

    job: Job
    zone: Zone
    facts: Facts
    rules: Rules
    calendar: Calendar
    clocks: Clocks
    build_up: BuildUp
    waits: Waits
    given: PlanInput

    def finding(
        self, severity: Severity, code: str, path: str, params: Params, layer_id: str | None = None
    ) -> Finding:
        """Return a finding about this zone."""
        return Finding(severity, code, path, params, self.zone.id, layer_id)

    def as_known(self, entry: Entry) -> ZoneContext:
        """Return the zone as it was known when an entry was written, at the instant it tells of.

        What was recorded later, or happened later, is not in it.

        Rule: R27.

        Args:
            entry: an entry of the log.
        """
        written = facts_at(self.given.log, entry.recorded, self.given.job.people)
        happened = tuple(told for told in written.entries if told.at <= entry.at)
        facts = Facts(entry.at, happened, people=written.people)
        job, _ = fold_done(self.given.job, facts)
        zone = next(zone for zone in job.zones if zone.id == self.zone.id)
        return make_zone_context(job, zone, facts, self.given)


def make_zone_context(
    job: Job, zone: Zone, facts: Facts, given: PlanInput, *, ahead: Expected | None = None
) -> ZoneContext:
    """Return a zone's context at an instant.

    Rule: R4 to R7.

    Args:
        job: the job with the log folded in.
        given: what it is made of.
        ahead: the climate after `facts.as_of`, where it is to be another than expected.
    """
    # The climate begins with the first application; of a floor not begun, now.
    begun = [
        add(layer.done_at, -(layer.duration_s or 0.0))
        for layer in zone.layers
        if layer.done_at is not None
    ]
    origin = min([facts.as_of, *begun])
    rules = given.rules
    climate = make_climate(zone, job.expected, facts, origin, rules, ahead=ahead, site=job.tz)
    build_up = BuildUp(zone)
    return ZoneContext(
        job=job,
        zone=zone,
        facts=facts,
        rules=rules,
        calendar=given.calendar,
        clocks=Clocks(climate, rules, given.kept),
        build_up=build_up,
        waits=Waits(build_up, rules),
        given=given,
    )
