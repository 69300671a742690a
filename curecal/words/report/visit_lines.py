"""Visits in the terminal report: the appointment, or the window; and the hour of switching on."""

from __future__ import annotations

from datetime import date, datetime

from curecal.instants import local_at
from curecal.planning.plan import Appointment, Plan, Visit, VisitKind, ZonePlan
from curecal.words.layout import Line, bullet
from curecal.words.sentences import Words
from curecal.words.values import clean


def visit_lines(plan: Plan, words: Words, width: int, *, every: bool = True) -> list[Line]:
    """Return a line a visit: those that only an appointment knows of first, then the plan's.

    Args:
        plan: the plan.
        words: language and units.
        width: columns to write in.
        every: all of them; else what is agreed, and the next visit that nobody has booked.
    """
    shown = {visit.appointment.id for visit in plan.visits if visit.appointment}
    # One zone is the whole job: it is named above.
    several = len(plan.zones) > 1
    names = {zone.zone.id: clean(zone.zone.name) for zone in plan.zones if several}
    lines: list[Line] = []
    for appointment in plan.appointments:
        if not appointment.stands or appointment.id in shown:
            continue
        params = {
            "purpose": appointment.purpose,
            "zones": names.get(appointment.zone_id or ""),
            "when": _hours(appointment, words),
        }
        lines += bullet(words.text("report.visit", params), width)
    unbooked = [visit for visit in plan.visits if visit.appointment is None]
    for visit in plan.visits:
        if not every and visit in unbooked[1:]:
            continue
        params = {
            "purpose": words.name("visit", visit.kind),
            "zones": ", ".join(names[zone_id] for zone_id in visit.zone_ids if several),
            "when": _when(visit, plan, words),
        }
        lines += bullet(words.text("report.visit", params), width)
    return lines


def switch_on_at(zone: ZonePlan, plan: Plan, start_on: date) -> datetime:
    """Return when a zone is switched on: one visit for several zones waits for the last of them.

    Args:
        zone: the zone.
        plan: the plan.
        start_on: the first day that the zone itself allows.

    Returns:
        The appointment, if there is one that can be kept; else the visit's first hour.
    """
    own = local_at(start_on, plan.job.work.start, plan.job.tz)
    for visit in plan.visits:
        if visit.kind != VisitKind.ENERGIZE or zone.zone.id not in visit.zone_ids:
            continue
        agreed = visit.appointment
        if agreed is not None and agreed.misfit is None:
            return max(own, agreed.start_at)
        if visit.window is not None and len(visit.zone_ids) > 1:
            return max(own, visit.window.earliest)
    return own


def _hours(appointment: Appointment, words: Words) -> str:
    """Return when somebody comes, who, how firm it is, and that a finding tells more."""
    params = {
        "hours": words.hours(appointment.start_at, appointment.end_at),
        "who": appointment.who,
        "state": appointment.state,
    }
    return words.text(f"report.visit-{'marked' if appointment.misfit else 'agreed'}", params)


def _when(visit: Visit, plan: Plan, words: Words) -> str:
    if visit.appointment is not None:
        return _hours(visit.appointment, words)
    if visit.window is None:
        return words.text("report.visit-undated")
    # What may be done at once begins now, at no minute that anybody chose.
    may_begin = None if visit.window.earliest <= plan.as_of else visit.window.earliest
    params = {"earliest_at": may_begin, "latest_at": visit.window.latest}
    if visit.window.latest is None:
        return words.text(f"report.visit-{'from' if may_begin else 'open'}", params)
    if visit.window.latest == visit.window.earliest:
        return words.at(visit.window.earliest)
    if may_begin is None:
        return words.text("report.visit-until", params)
    return words.hours(may_begin, visit.window.latest)
