"""The visits of several jobs in one list: wished, booked, confirmed, and who is booked twice."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime

from curecal.instants import Window
from curecal.planning.plan import Appointment, Plan, Visit
from curecal.planning.site_log.authority import persons_named
from curecal.records import Record, record
from curecal.trade.findings import Message
from curecal.trade.names import comparable_email, comparable_name, comparable_phone

TO_BOOK = "to book"
"""How a visit stands that nobody has an appointment for."""


@record
class Clash(Record):
    """Another visit that the same person is to be at in the same hours."""

    job_id: str
    job: str
    start: datetime


@record(kw_only=True)
class VisitRow(Record):
    """One visit of one job. `kind` is what the plan asks for, or what the appointment is for.

    `earliest` and `latest` are the window wished for, `start` and `end` the appointment.
    """

    job_id: str
    job: str
    kind: str
    zones: tuple[str, ...]
    state: str
    earliest: datetime | None = None
    latest: datetime | None = None
    start: datetime | None = None
    end: datetime | None = None
    who: str | None = None
    misfit_facts: Message | None = None
    clashes: tuple[Clash, ...] = ()


@record
class _Booked(Record):
    """An appointment with the plan of its job."""

    plan: Plan
    appointment: Appointment


def visits_of_jobs(plans: Sequence[Plan]) -> tuple[VisitRow, ...]:
    """Return the visits that jobs still need and those that were agreed, the soonest first.

    Rule: R20.

    Args:
        plans: a plan a job.

    Returns:
        A row a visit; those without any date come last.
    """
    booked = [
        _Booked(plan, one)
        for plan in plans
        for one in plan.appointments
        if one.stands and one.end_at > plan.as_of
    ]
    rows = [row for plan in plans for row in _rows(plan, booked)]
    dated = [row for row in rows if row.start or row.earliest]
    undated = [row for row in rows if not (row.start or row.earliest)]
    dated.sort(key=lambda row: (row.start or row.earliest, row.job_id, row.kind))
    return (*dated, *undated)


def _rows(plan: Plan, booked: Sequence[_Booked]) -> list[VisitRow]:
    ahead = [one.appointment for one in booked if one.plan is plan]
    shown = {visit.appointment.id for visit in plan.visits if visit.appointment}
    rows = [_of_visit(plan, visit, ahead, booked) for visit in plan.visits]
    names = {zone.zone.id: zone.zone.name for zone in plan.zones}
    for one in ahead:
        if one.id not in shown:
            zones = tuple(name for zone_id, name in names.items() if one.is_for(zone_id))
            rows.append(_row(plan, one.purpose.value, zones, None, one, booked))
    return rows


def _of_visit(
    plan: Plan, visit: Visit, ahead: Sequence[Appointment], booked: Sequence[_Booked]
) -> VisitRow:
    zones = tuple(zone.zone.name for zone in plan.zones if zone.zone.id in visit.zone_ids)
    agreed = visit.appointment if visit.appointment in ahead else None
    return _row(plan, visit.kind, zones, visit.window, agreed, booked)


def _row(
    plan: Plan,
    kind: str,
    zones: tuple[str, ...],
    window: Window | None,
    agreed: Appointment | None,
    booked: Sequence[_Booked],
) -> VisitRow:
    own = None if agreed is None else _Booked(plan, agreed)
    return VisitRow(
        job_id=plan.job.id,
        job=plan.job.name,
        kind=kind,
        zones=zones,
        state=TO_BOOK if agreed is None else agreed.state.value,
        earliest=None if window is None else window.earliest,
        latest=None if window is None else window.latest,
        start=None if agreed is None else agreed.start_at,
        end=None if agreed is None else agreed.end_at,
        who=None if agreed is None else agreed.who,
        misfit_facts=None if agreed is None else agreed.misfit,
        clashes=() if own is None else tuple(_clashes(own, booked)),
    )


def _clashes(own: _Booked, booked: Sequence[_Booked]) -> list[Clash]:
    return [
        Clash(other.plan.job.id, other.plan.job.name, other.appointment.start_at)
        for other in booked
        if (other.plan is not own.plan or other.appointment.id != own.appointment.id)
        and own.appointment.overlaps(other.appointment)
        and _is_same_person(own, other)
    ]


def _is_same_person(one: _Booked, other: _Booked) -> bool:
    """Return whether two appointments are with one person: by address or phone, else by name."""
    mine, theirs = _reached(one), _reached(other)
    if mine and theirs and not mine.isdisjoint(theirs):
        return True
    names = [comparable_name(booked.appointment.who or "") for booked in (one, other)]
    return bool(names[0]) and names[0] == names[1]


def _reached(booked: _Booked) -> set[str]:
    """Return the addresses and numbers of whoever comes."""
    people = persons_named(booked.plan.job.people, booked.appointment.who)
    mails = {comparable_email(person.email) for person in people if person.email}
    phones = {comparable_phone(person.phone) for person in people if person.phone}
    return mails | phones
