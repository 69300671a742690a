"""What sending needs beside the book: rules, who mail is from, jobs read once a generation."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field
from datetime import datetime
from typing import TYPE_CHECKING, NamedTuple

from sqlalchemy import select

from curecal.book.jobs import read_in
from curecal.book.published import history_of, put_revisions
from curecal.book.schema import job as job_table
from curecal.calendars import History, Revision
from curecal.files import load_rules
from curecal.files.days_off import day_off_for
from curecal.planning.make import make_plan
from curecal.planning.plan import Plan
from curecal.planning.workdays import Calendar, DayOff
from curecal.reminders.model import Recipient, ReminderRules
from curecal.reminders.people import recipients
from curecal.reminders.rules import shipped_rules
from curecal.trade.buildup import Job, Role
from curecal.trade.log import Log
from curecal.trade.rules import Rules

if TYPE_CHECKING:
    from sqlalchemy.engine import Connection


_MOST_JOBS = 500


class Known(NamedTuple):
    """A job as the book has it: what a plan is made of. `job` is None for one not understood."""

    generation: int
    job: Job | None
    log: Log
    day_off: DayOff | None


@dataclass(slots=True)
class Office:
    """Rules and sender, and the jobs as last read."""

    rules: Rules = field(default_factory=load_rules)
    reminder_rules: ReminderRules = field(default_factory=shipped_rules)
    sender: str = "curecal@localhost.invalid"
    sender_name: str = ""
    _known: dict[str, Known] = field(default_factory=dict)

    def know(self, connection: Connection, job_id: str) -> Known:
        """Return a job, read again only when it changed.

        Args:
            connection: the transaction.
            job_id: the job.

        Returns:
            The job with its log.
        """
        generation = generation_of(connection, job_id, held=False)
        found = self._known.get(job_id)
        if found is None or found.generation != generation:
            read = read_in(connection, job_id)
            day_off = day_off_for(read.job) if read.job else None
            found = Known(generation, read.job, read.log, day_off)
            if len(self._known) >= _MOST_JOBS:
                self._known.clear()
            self._known[job_id] = found
        return found

    def plan(self, known: Known, now: datetime) -> Planned | None:
        """Return the plan of a job as of now.

        Args:
            known: the job.
            now: the instant.

        Returns:
            The plan with its people and days; None for a job that is not understood.
        """
        job, day_off = known.job, known.day_off
        if job is None or day_off is None:
            return None
        plan = make_plan(job, known.log, now, rules=self.rules, day_off=day_off)
        calendar = Calendar(job.work, job.tz, day_off)
        return Planned(
            plan, known.log, calendar, {each.id: each for each in recipients(job.people)}
        )


class Planned(NamedTuple):
    """A plan of now, its log, the working days of its site, and its people by id."""

    plan: Plan
    log: Log
    calendar: Calendar
    people: dict[str, Recipient]

    def leads(self) -> list[Recipient]:
        """Return who is told when somebody was not reached."""
        return [each for each in self.people.values() if Role.CREW_LEAD in each.roles]


def generation_of(connection: Connection, job_id: str, *, held: bool) -> int:
    """Return how often a job changed.

    Args:
        connection: the transaction.
        job_id: the job.
        held: whether nobody else may change the job before the transaction's end.

    Returns:
        The generation.
    """
    asked = select(job_table.c.generation).where(job_table.c.id == job_id)
    return int(connection.execute(asked.with_for_update() if held else asked).scalar_one())


def is_held(connection: Connection, job_id: str) -> bool:
    """Return whether a person let nothing go out of a job.

    Args:
        connection: the transaction.
        job_id: the job.

    Returns:
        True where it has a hold of its own.
    """
    return bool(
        connection.execute(select(job_table.c.hold).where(job_table.c.id == job_id)).scalar()
    )


class InTransaction:
    """The calendars' port within the plan's own transaction."""

    def __init__(self, connection: Connection) -> None:
        self.connection = connection

    def history(self, job_id: str) -> History:
        """Return all that was published of a job."""
        return history_of(self.connection, job_id)

    def put(self, job_id: str, revisions: Iterable[Revision], *, expected: str) -> None:
        """Keep the revisions of a job, with all else the transaction keeps."""
        put_revisions(self.connection, job_id, revisions, expected=expected)
