"""The one door: from a job, its log and an instant to its plan."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime

from curecal.instants import instant
from curecal.planning.hold_points.circuit_checks import electrical_checks
from curecal.planning.plan import Plan, Visit, ZonePlan
from curecal.planning.site_log.authority import signature_findings
from curecal.planning.site_log.corrections import correction_findings
from curecal.planning.site_log.log_at_instant import facts_at, fold_done
from curecal.planning.working_time.working_calendar import Calendar, DayOff
from curecal.planning.zone.advisories import climate_checks, layer_checks
from curecal.planning.zone.reading_checks import reading_checks
from curecal.planning.zone.visits import merged_visits, zone_visits
from curecal.planning.zone.zone_plan import plan_zone
from curecal.planning.zone_context import make_zone_context
from curecal.trade.findings import Finding, Severity
from curecal.trade.job import Expected, Job
from curecal.trade.rules import Rules
from curecal.trade.site_log import Entry

_ORDER = (Severity.ERROR, Severity.STOP, Severity.WARNING, Severity.CAUTION)


def make_plan(
    job: Job, log: Iterable[Entry], as_of: datetime, *, rules: Rules, day_off: DayOff
) -> Plan:
    """Return the plan of a job as it stands at an instant.

    Pure: the same arguments give the same plan, on any machine, in any order of the log.

    Rule: R1 to R29.

    Args:
        job: the job, complete.
        log: the site log, in any order.
        as_of: the instant to plan from; later facts do not exist yet.
        rules: the rules as data.
        day_off: why a local day is no working day, or None.

    Returns:
        The plan, with findings ordered by severity.
    """
    return plan_ahead(job, log, as_of, rules=rules, day_off=day_off, ahead=job.expected)


def plan_ahead(
    job: Job,
    log: Iterable[Entry],
    as_of: datetime,
    *,
    rules: Rules,
    day_off: DayOff,
    ahead: Expected,
) -> Plan:
    """Return the plan of a job whose climate is another from now on.

    The past that nobody measured stays as the job expects it.

    Rule: R1 to R29.

    Args:
        job: the job, complete.
        log: the site log, in any order.
        as_of: the instant to plan from; later facts do not exist yet.
        rules: the rules as data.
        day_off: why a local day is no working day, or None.
        ahead: the climate after `as_of`.

    Returns:
        The plan, with findings ordered by severity.
    """
    entries = tuple(log)
    facts = facts_at(entries, instant(as_of), job.people)
    as_read = job
    job, findings = fold_done(job, facts)
    findings += correction_findings(facts.corrected)
    findings += signature_findings(facts.people, facts.entries)
    calendar = Calendar(job.work, job.tz, day_off)
    zones: list[ZonePlan] = []
    visits: list[Visit] = []
    for zone in job.zones:
        ctx = make_zone_context(job, zone, facts, calendar, as_read, entries, rules, ahead=ahead)
        plan, _ = plan_zone(ctx)
        ctx.findings.extend(electrical_checks(ctx))
        climate_checks(ctx, plan)
        reading_checks(ctx)
        layer_checks(ctx, plan)
        visits.extend(zone_visits(ctx, plan))
        findings.extend(ctx.findings)
        zones.append(plan)
    return Plan(
        job=job,
        as_of=facts.as_of,
        zones=tuple(zones),
        visits=merged_visits(visits),
        cautions=rules.cautions,
        findings=tuple(_ordered(findings)),
    )


def _ordered(findings: Iterable[Finding]) -> list[Finding]:
    """Return findings by severity, the same one said once."""
    seen: list[Finding] = []
    for finding in findings:
        if finding not in seen:
            seen.append(finding)
    return sorted(seen, key=lambda finding: _ORDER.index(finding.severity))
