"""The one door of planning: a job, its log and an instant in, a plan out."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime

from curecal.instants import instant
from curecal.planning.plan import Plan
from curecal.planning.site_log.authority import signature_findings
from curecal.planning.site_log.corrections import correction_findings
from curecal.planning.site_log.log_at_instant import facts_at, fold_done
from curecal.planning.working_time.working_calendar import Calendar, DayOff
from curecal.planning.zone.appointments import appointment_findings, merge_appointments
from curecal.planning.zone.visits import merge_visits
from curecal.planning.zone.zone_plan import PlannedZone, plan_zone
from curecal.planning.zone_context import PlanInput, make_zone_context
from curecal.science.age import KeptAges
from curecal.trade.findings import Finding, Severity
from curecal.trade.job import Expected, Job
from curecal.trade.rules import Rules
from curecal.trade.site_log import Entry

# What stops a floor is read first; within a severity findings keep the order of the stages.
_ORDER = (Severity.ERROR, Severity.STOP, Severity.WARNING, Severity.CAUTION)


def make_plan(
    job: Job,
    log: Iterable[Entry],
    as_of: datetime,
    *,
    rules: Rules,
    day_off: DayOff,
    kept: KeptAges | None = None,
) -> Plan:
    """Return the plan of a job as it stands at an instant.

    Pure: the same arguments give the same plan, on any machine, in any order of the log.

    Rule: R1 to R29.

    Args:
        job: the job, complete.
        log: the site log, in any order.
        as_of: the instant to plan from; later facts do not exist yet.
        day_off: why a local day is no working day, or None.
        kept: sums over long series from plans before; they save time and change no answer.
    """
    return plan_ahead(job, log, as_of, rules=rules, day_off=day_off, ahead=job.expected, kept=kept)


def plan_ahead(
    job: Job,
    log: Iterable[Entry],
    as_of: datetime,
    *,
    rules: Rules,
    day_off: DayOff,
    ahead: Expected,
    kept: KeptAges | None = None,
) -> Plan:
    """Return the plan of a job whose climate is another from now on.

    The past that nobody measured stays as the job expects it.

    Rule: R1 to R29.

    Args:
        job: the job, complete.
        log: the site log, in any order.
        as_of: the instant to plan from; later facts do not exist yet.
        day_off: why a local day is no working day, or None.
        ahead: the climate after `as_of`.
        kept: sums over long series from plans before.
    """
    entries = tuple(log)
    facts = facts_at(entries, instant(as_of), job.people)
    calendar = Calendar(job.work, job.tz, day_off)
    given = PlanInput(job, entries, rules, calendar, KeptAges() if kept is None else kept)
    job, findings = fold_done(job, facts)
    findings += correction_findings(facts.corrected)
    findings += signature_findings(facts.people, facts.entries)
    planned: list[PlannedZone] = []
    for zone in job.zones:
        ctx = make_zone_context(job, zone, facts, given, ahead=ahead)
        planned.append(plan_zone(ctx))
    appointments = merge_appointments([zone.appointments for zone in planned])
    findings += appointment_findings(job, facts, appointments)
    return Plan(
        job=job,
        as_of=facts.as_of,
        zones=tuple(zone.plan for zone in planned),
        visits=merge_visits([visit for zone in planned for visit in zone.visits], appointments),
        cautions=rules.cautions,
        findings=_ordered([*findings, *(found for zone in planned for found in zone.findings)]),
        appointments=appointments,
    )


def _ordered(findings: Iterable[Finding]) -> tuple[Finding, ...]:
    """Return findings by severity, the same one said once: two stages may find the same."""
    # Parameters may hold what has no hash, so no set.
    told: dict[tuple[str, str], list[Finding]] = {}
    once: list[Finding] = []
    for finding in findings:
        alike = told.setdefault((finding.code, finding.path), [])
        if finding not in alike:
            alike.append(finding)
            once.append(finding)
    return tuple(sorted(once, key=lambda finding: _ORDER.index(finding.severity)))
