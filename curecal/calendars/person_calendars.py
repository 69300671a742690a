"""One calendar a person over several jobs: the entries of the jobs' own calendars, together."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from curecal.calendars.event import Audience
from curecal.calendars.ical.ical_writer import document, person_head
from curecal.calendars.ical.mail_message import file_stem
from curecal.calendars.ical.round_trip_check import refuse_faults
from curecal.calendars.revision import Revision
from curecal.planning.plan import Plan
from curecal.trade.job import Person, Role
from curecal.trade.names import comparable_email, comparable_name

READERS: Mapping[Audience, frozenset[Role]] = {
    Audience.CREW: frozenset({Role.CREW_LEAD, Role.CREW}),
    Audience.ELECTRICIAN: frozenset({Role.ELECTRICIAN}),
    Audience.OWNER: frozenset({Role.OWNER}),
}
"""Who reads which calendar."""


@dataclass(frozen=True, slots=True)
class PersonCalendar:
    """A person's calendar as a file."""

    file_name: str
    name: str
    data: bytes


def person_calendars(
    jobs: Iterable[tuple[Plan, Iterable[Revision]]],
) -> tuple[PersonCalendar, ...]:
    """Return a calendar for each person of some jobs, known by mail address, else by name.

    Args:
        jobs: Each job's plan, and the revisions published of it.

    Returns:
        Calendars by file name; the same person in two roles or two jobs has one.
    """
    names: dict[str, str] = {}
    entries: dict[str, dict[str, Revision]] = {}
    for plan, revisions in jobs:
        published = tuple(revisions)
        for person in plan.job.people:
            mine = {one.uid: one for one in published if _reads(person, one)}
            if mine and person.is_on_the_job(plan.as_of):
                key = comparable_email(person.email or "") or comparable_name(person.name)
                names.setdefault(key, person.name)
                entries.setdefault(key, {}).update(mine)
    made = []
    taken: set[str] = set()
    for key in sorted(entries):
        stem = file_stem(names[key]) or "calendar"
        count = next(n for n in range(1, len(entries) + 1) if _numbered(stem, n) not in taken)
        file_name = _numbered(stem, count)
        taken.add(file_name)
        data = document(person_head(names[key]), entries[key].values())
        refuse_faults(data)
        made.append(PersonCalendar(file_name, names[key], data))
    return tuple(made)


def _numbered(stem: str, count: int) -> str:
    return f"{stem}-{count}.ics" if count > 1 else f"{stem}.ics"


def _reads(person: Person, revision: Revision) -> bool:
    return not READERS[revision.audience].isdisjoint(person.every_role)
