"""Appointments: what the log says was agreed of each visit, and who comes."""

from __future__ import annotations

from dataclasses import replace

from curecal.instants import add
from curecal.planning.plan import Appointment
from curecal.planning.site_log.authority import persons_named
from curecal.planning.site_log.log_at_instant import Facts
from curecal.trade.job import Job, Person, Role
from curecal.trade.names import comparable_name
from curecal.trade.site_log import VisitFor, VisitNote

# An end that nobody named: calendars show an hour, and one person cannot be in two places in it.
UNNAMED_LENGTH_S = 3600.0
_TRADE = {VisitFor.INSPECTION: Role.INSPECTOR}


def list_appointments(job: Job, facts: Facts) -> tuple[tuple[Appointment, ...], list[VisitNote]]:
    """Return the appointments of a job, and the entries that lack a purpose or a start.

    The last entry of an id that counts holds; what it leaves out stays as it was.

    Rule: R24c.

    Args:
        job: the job, for who comes where nobody is named.
        facts: the log as it stood.

    Returns:
        Appointments by their start; also those that are off or done.
    """
    held: dict[str, VisitNote] = {}
    for entry in facts.of(VisitNote):
        if not facts.counts(entry):
            continue
        key = comparable_name(entry.visit)
        held[key] = _amended(held[key], entry) if key in held else entry
    made = [_appointment(job, entry) for entry in held.values()]
    found = tuple(appointment for appointment in made if appointment is not None)
    lacking = [entry for entry, one in zip(held.values(), made, strict=True) if one is None]
    return tuple(sorted(found, key=lambda one: (one.start_at, one.id))), lacking


def _amended(old: VisitNote, new: VisitNote) -> VisitNote:
    """Return an entry with what it leaves out as an earlier one of its id had it."""
    # A new start without an end keeps the length of the visit.
    end_at = new.end_at
    if end_at is None and new.start_at is not None and old.start_at and old.end_at:
        end_at = add(new.start_at, (old.end_at - old.start_at).total_seconds())
    return replace(
        new,
        visit=old.visit,
        purpose=new.purpose or old.purpose,
        start_at=new.start_at or old.start_at,
        end_at=end_at or old.end_at,
        who=new.who or old.who,
        zone=new.zone or old.zone,
    )


def _appointment(job: Job, entry: VisitNote) -> Appointment | None:
    if entry.purpose is None or entry.start_at is None:
        return None
    # As the job spells it, so that every output names one person alike.
    named = persons_named(job.people, entry.who)
    who = named[0] if named else None if entry.who else person_for(job, entry.purpose)
    end_at = entry.end_at
    if end_at is None or end_at <= entry.start_at:
        end_at = add(entry.start_at, UNNAMED_LENGTH_S)
    return Appointment(
        entry.visit,
        entry.purpose,
        entry.state,
        entry.start_at,
        end_at,
        entry.who if who is None else who.name,
        entry.zone,
        entry.id,
        entry.path,
    )


def person_for(job: Job, purpose: VisitFor) -> Person | None:
    """Return who comes for a purpose where nobody is named: the first of that trade.

    Rule: R24c.
    """
    role = _TRADE.get(purpose, Role.ELECTRICIAN)
    if purpose is VisitFor.OTHER:
        return None
    return next((person for person in job.people if role in person.every_role), None)
