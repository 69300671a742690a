"""What was agreed of visits, held against a zone's days: which appointment cannot be kept, and why.

An appointment moves no date, and no date moves an appointment: a person does.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace
from datetime import datetime

from curecal.instants import local_day
from curecal.planning.plan import Appointment, State, Visit, VisitKind, ZonePlan
from curecal.planning.site_log.appointments import list_appointments
from curecal.planning.site_log.log_at_instant import Facts
from curecal.planning.zone_context import ZoneContext
from curecal.records import Record, record
from curecal.trade.findings import Finding, FindingCode, Message, Severity
from curecal.trade.hold_codes import HoldCode
from curecal.trade.job import Job
from curecal.trade.site_log import VisitFor

KINDS = {
    VisitFor.ROUGH_IN: VisitKind.ROUGH_IN,
    VisitFor.TEST_AND_CONNECT: VisitKind.CONNECTION,
    VisitFor.SWITCH_ON: VisitKind.ENERGIZE,
}
"""The electrician's visit that an appointment is for."""
# These cost nobody a wrong trip: a day that passed, a later day than the floor needs.
_MILD = frozenset(
    {FindingCode.VISIT_PASSED, FindingCode.VISIT_AFTER_WINDOW, FindingCode.VISIT_NOT_NEEDED}
)


@record
class Watched(Record):
    """A zone's visits with their appointments, and its appointments as they fit."""

    visits: tuple[Visit, ...]
    appointments: tuple[Appointment, ...]


def watch_appointments(ctx: ZoneContext, plan: ZonePlan, visits: Sequence[Visit]) -> Watched:
    """Return the appointments of a zone, each with why it cannot be kept as it is.

    Rule: R20, R21, R26.

    Args:
        ctx: the zone.
        plan: its plan.
        visits: the visits it still needs.
    """
    told, _ = list_appointments(ctx.job, ctx.facts)
    own = tuple(
        replace(one, misfit=_misfit(ctx, plan, visits, one) if one.stands else None)
        for one in told
        if one.is_for(ctx.zone.id)
    )
    # Of two for the same purpose the later one counts: the earlier was not closed.
    standing = {KINDS.get(one.purpose): one for one in own if one.stands}
    agreed = tuple(replace(visit, appointment=standing.get(visit.kind)) for visit in visits)
    return Watched(agreed, own)


def appointment_findings(
    job: Job, facts: Facts, appointments: Sequence[Appointment]
) -> list[Finding]:
    """Return what there is to say of a job's appointments: which side must move, and what lacks.

    Rule: R20, R21, R26.

    Args:
        job: the job.
        facts: the log as it stood.
        appointments: the appointments, as all zones leave them.
    """
    _, lacking = list_appointments(job, facts)
    findings = [
        Finding(Severity.WARNING, "visit-incomplete", entry.path, {"id": entry.visit}, entry.zone)
        for entry in lacking
    ]
    for one in appointments:
        if one.misfit is not None:
            severity = Severity.CAUTION if one.misfit.code in _MILD else Severity.WARNING
            code, params = one.misfit.code, one.misfit.params
            findings.append(Finding(severity, code, one.path, params, one.zone_id))
    return findings


def merge_appointments(zones: Iterable[Sequence[Appointment]]) -> tuple[Appointment, ...]:
    """Return the appointments of a job, each once: one that a single zone cannot keep is marked.

    A zone that has no need of an appointment of the whole job does not mark it while another has.

    Rule: R20.

    Args:
        zones: the appointments of each zone.

    Returns:
        Appointments by their start.
    """
    found: dict[str, list[Appointment]] = {}
    for own in zones:
        for appointment in own:
            found.setdefault(appointment.id, []).append(appointment)
    merged = [min(same, key=_gravity) for same in found.values()]
    return tuple(sorted(merged, key=lambda one: (one.start_at, one.id)))


def _gravity(appointment: Appointment) -> int:
    """Return the order in which zones decide about an appointment of all of them."""
    if appointment.misfit is None:
        return 1
    if appointment.misfit.code == FindingCode.VISIT_NOT_NEEDED:
        return 2
    return 1 if appointment.misfit.code in _MILD else 0


def _misfit(
    ctx: ZoneContext, plan: ZonePlan, visits: Sequence[Visit], appointment: Appointment
) -> Message | None:
    """Return why an appointment that stands cannot be kept; None where it can."""
    params: dict[str, object] = {"visit": appointment.purpose, "start_at": appointment.start_at}
    visit = next((one for one in visits if one.kind is KINDS.get(appointment.purpose)), None)
    needed = visit is not None or _wanted_otherwise(plan, appointment)
    if not needed:
        over = appointment.end_at <= ctx.facts.as_of
        return None if over else Message(FindingCode.VISIT_NOT_NEEDED, params)
    if appointment.end_at <= ctx.facts.as_of:
        return Message(FindingCode.VISIT_PASSED, params)
    if appointment.start_at <= ctx.facts.as_of:
        # They are there: what is ready and what is not, they see themselves.
        return None
    if appointment.purpose in {VisitFor.ROUGH_IN, VisitFor.INSPECTION}:
        return _after_the_pour(ctx, plan, appointment, params)
    return None if visit is None else _outside(ctx, plan, visit, appointment, params)


def _wanted_otherwise(plan: ZonePlan, appointment: Appointment) -> bool:
    """Return whether an appointment is wanted that no visit of an electrician is for."""
    if appointment.purpose is VisitFor.OTHER:
        return True
    code = HoldCode.INSPECTION_BEFORE_CONCEALMENT
    return appointment.purpose is VisitFor.INSPECTION and any(
        hold.code is code and hold.is_outstanding for hold in plan.holds
    )


def _after_the_pour(
    ctx: ZoneContext, plan: ZonePlan, appointment: Appointment, params: dict[str, object]
) -> Message | None:
    """Return that the cable is to be covered before somebody has seen it."""
    embedding = ctx.build_up.embedding
    layers = [item for item in plan.layers if embedding and item.layer.id == embedding.id]
    bed = next((item for item in layers if item.planned and item.start is not None), None)
    # A pour that nobody set a time for starts when it may, and waits for the visit by its hold.
    if bed is None or bed.start is None:
        return None
    if bed.layer.planned_start_at is None and bed.layer.planned_finish_at is None:
        return None
    if appointment.end_at <= bed.start.earliest:
        return None
    told = {**params, "layer": bed.layer.name, "work_at": bed.start.earliest}
    return Message(FindingCode.VISIT_AFTER_WORK, told)


def _outside(
    ctx: ZoneContext,
    plan: ZonePlan,
    visit: Visit,
    appointment: Appointment,
    params: dict[str, object],
) -> Message | None:
    """Return that an appointment lies before its visit makes sense, or later than needed."""
    if visit.window is None or plan.state is State.STOPPED:
        return Message(FindingCode.VISIT_WITHOUT_DATE, params)
    first_at = visit.window.earliest
    latest_at = visit.window.latest
    if visit.kind is VisitKind.ENERGIZE:
        waits = plan.energize.window or visit.window
        first_at = _may_switch_on(ctx, plan, waits.earliest) or first_at
    if appointment.start_at < first_at:
        waits_for = _last_work(plan) if visit.kind is VisitKind.CONNECTION else None
        return Message(
            FindingCode.VISIT_TOO_EARLY, {**params, "earliest_at": first_at, "layer": waits_for}
        )
    if latest_at is not None and appointment.start_at > max(latest_at, _day_closes(ctx, latest_at)):
        return Message(FindingCode.VISIT_AFTER_WINDOW, {**params, "latest_at": latest_at})
    return None


def _may_switch_on(ctx: ZoneContext, plan: ZonePlan, ready_at: datetime) -> datetime | None:
    """Return the first hour of the first day that the waits and a release allow.

    The plan's own day goes on with each day without a release, and an appointment does not.
    """
    released_at = plan.released_at if plan.is_released else None
    counted = ready_at if released_at is None else max(ready_at, released_at)
    day = ctx.calendar.start_on(counted, working_day=False)
    return None if day is None else ctx.calendar.opens(day)


def _day_closes(ctx: ZoneContext, at: datetime) -> datetime:
    return ctx.calendar.closes(local_day(at, ctx.calendar.tz))


def _last_work(plan: ZonePlan) -> str | None:
    """Return the planned layer that is down last."""
    finishes = [
        (item.finish.earliest, item.layer.name)
        for item in plan.layers
        if item.planned and item.finish is not None
    ]
    return max(finishes)[1] if finishes else None
