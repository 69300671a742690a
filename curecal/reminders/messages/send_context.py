"""What sending needs beside the book: rules, who mail is from, jobs read once a generation."""

from __future__ import annotations

import hashlib
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from datetime import datetime
from typing import TYPE_CHECKING, NamedTuple

import tomli
from sqlalchemy import bindparam, select

from curecal.book.jobs.jobs import newest_revision, read_laid_out, sources_of
from curecal.book.jobs.log_entries import entries_of
from curecal.book.ledger.ledger import history_of, put_history
from curecal.book.schema.tables import job as job_table
from curecal.book.schema.tables import job_revision, log_entry
from curecal.calendars import History
from curecal.delivery.channel_settings import NOBODY
from curecal.errors import SourceError
from curecal.job_files import load_rules
from curecal.job_files.days_off import day_off_for
from curecal.planning.make_plan import make_plan
from curecal.planning.plan import Plan
from curecal.planning.working_time.working_calendar import Calendar, DayOff
from curecal.records import Record, names_of
from curecal.reminders.recipients import recipients
from curecal.reminders.reminder_rules import company_rules, shipped_rules
from curecal.reminders.reminder_types import Recipient, ReminderRules
from curecal.science.age import KeptAges
from curecal.trade.job import Job, Role
from curecal.trade.rules import Rules
from curecal.trade.site_log import Entry, Log

if TYPE_CHECKING:
    from sqlalchemy.engine import Connection


# As many as one office has open, and not so many that a small machine runs out of memory.
_MOST_JOBS = 500
# More than planning a job asks for at once.
_MOST_PLANS = 20


_THIS = job_table.c.id == bindparam("job_id")
# Built once: asked of each job in a round.
_GENERATION = select(job_table.c.generation).where(_THIS)
_HOLD = select(job_table.c.hold).where(_THIS)
# What tells a job's facts from others: a book copied back counts its changes again.
_MADE_OF = select(
    job_table.c.generation,
    select(log_entry.c.digest)
    .where(log_entry.c.job_id == job_table.c.id)
    .order_by(log_entry.c.number.desc())
    .limit(1)
    .scalar_subquery(),
    select(job_revision.c.digest)
    .where(job_revision.c.job_id == job_table.c.id)
    .order_by(job_revision.c.number.desc())
    .limit(1)
    .scalar_subquery(),
).where(_THIS)
_MADE_OF_HELD = _MADE_OF.with_for_update(of=job_table)


class KnownJob(NamedTuple):
    """A job as the book has it: what a plan is made of. `job` is None for one not understood.

    `rules` are its own company's rules of reminders, or the office's; `trouble` says why its own
    do not hold.
    """

    made_of: tuple[object, ...]
    job: Job | None
    log: Log
    day_off: DayOff | None
    rules: ReminderRules
    trouble: str = ""


@dataclass(slots=True)
class SendContext:
    """Rules and sender, and the jobs as last read.

    `reminder_rules` hold for every job; with `by_company` for those whose own company's file says
    nothing of reminders. `clock_is_sure` says whether anybody confirmed the clock of the wall.
    `name` is the process's, the same in those that it begins.
    """

    rules: Rules = field(default_factory=load_rules)
    reminder_rules: ReminderRules = field(default_factory=shipped_rules)
    by_company: bool = True
    sender: str = NOBODY
    sender_name: str = ""
    clock_is_sure: bool = True
    name: str = ""
    _known: dict[str, KnownJob] = field(default_factory=dict)
    # A round follows the other: of a job's long series only what is new is integrated.
    _kept: KeptAges = field(default_factory=KeptAges)
    # Plans of the job that was asked for last: planning it asks for the same ones again.
    _planned_of: KnownJob | None = None
    _planned: dict[tuple[datetime, bool], PlannedNow] = field(default_factory=dict)
    _digest: tuple[ReminderRules, str] | None = None

    def bare(self) -> SendContext:
        """Return the same for another process: without the jobs that were read."""
        return SendContext(
            self.rules,
            self.reminder_rules,
            self.by_company,
            self.sender,
            self.sender_name,
            self.clock_is_sure,
            self.name,
        )

    def know(self, connection: Connection, job_id: str, *, held: bool = False) -> KnownJob:
        """Return a job, read again only when it changed.

        Args:
            connection: the transaction.
            job_id: the job.
            held: whether nobody else may change the job before the transaction's end.

        Returns:
            The job with its log.
        """
        asked = _MADE_OF_HELD if held else _MADE_OF
        made_of = tuple(connection.execute(asked, {"job_id": job_id}).one())
        found = self._known.get(job_id)
        if found is None or found.made_of != made_of:
            sources = sources_of(connection, job_id, newest_revision(connection, job_id))
            read = read_laid_out(sources, entries_of(connection, job_id))
            day_off = day_off_for(read.job) if read.job else None
            rules, trouble = self._rules(sources.company)
            found = KnownJob(made_of, read.job, read.log, day_off, rules, trouble)
            if len(self._known) >= _MOST_JOBS:
                self._known.clear()
            self._known[job_id] = found
        return found

    def _rules(self, company: bytes | None) -> tuple[ReminderRules, str]:
        if company is None or not self.by_company:
            return self.reminder_rules, ""
        # It was read as a company's file when the job came into the book.
        changes = tomli.loads(company.decode("utf-8-sig")).get("reminders")
        if not isinstance(changes, dict):
            return self.reminder_rules, ""
        try:
            return company_rules(changes), ""
        except SourceError as error:
            # A slip in it must not keep a stop from anybody.
            return self.reminder_rules, error.code

    def rules_digest(self) -> str:
        """Return a text that is another one where the reminders' rules are, or who confirmed it.

        Returns:
            Some hexadecimal signs; the same in every process.
        """
        if self._digest is None or self._digest[0] is not self.reminder_rules:
            self._digest = (self.reminder_rules, repr(_plain(self.reminder_rules)))
        text = repr((self.by_company, self.clock_is_sure, self._digest[1]))
        return hashlib.sha256(text.encode()).hexdigest()[:16]

    def plan(self, known: KnownJob, now: datetime) -> PlannedNow | None:
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
        if self._planned_of is not known or len(self._planned) >= _MOST_PLANS:
            self._planned_of, self._planned = known, {}
        asked = (now, self.clock_is_sure)
        if asked not in self._planned:
            self._planned[asked] = self._plan(known, job, day_off, now)
        return self._planned[asked]

    def _plan(self, known: KnownJob, job: Job, day_off: DayOff, now: datetime) -> PlannedNow:
        log = recorded_by(known.log, now)
        plan = make_plan(job, log, now, rules=self.rules, day_off=day_off, kept=self._kept)
        calendar = Calendar(job.work, job.tz, day_off)
        people = {person.id: person for person in recipients(job.people, now)}
        own = "" if self.sender == NOBODY else self.sender
        sure = self.clock_is_sure
        return PlannedNow(plan, log, calendar, people, known.rules, own, sure, known.log)


def _plain(value: object) -> object:
    """Return rules as plain values in one order, whatever the order of their sets."""
    match value:
        case Record():
            return [(name, _plain(getattr(value, name))) for name in names_of(type(value))]
        case Mapping():
            return sorted((str(key), _plain(item)) for key, item in value.items())
        case frozenset():
            return sorted(str(item) for item in value)
    return str(value)


class PlannedNow(NamedTuple):
    """A plan of now, its log, the working days of its site, its people by id, its rules.

    `own` is the office's own address, empty where it has none; `clock_is_sure` says whether anybody
    confirmed the clock that "now" was read from. `written` is the log as the book has it, whatever
    the clock says.
    """

    plan: Plan
    log: Log
    calendar: Calendar
    people: dict[str, Recipient]
    rules: ReminderRules
    own: str = ""
    clock_is_sure: bool = True
    written: Log = ()

    def leads(self) -> list[Recipient]:
        """Return who is told when somebody was not reached."""
        return [person for person in self.people.values() if Role.CREW_LEAD in person.roles]


def recorded_by(log: Log, now: datetime) -> Log:
    """Return a log as it is known now: what stands in the book has been recorded.

    Of an entry that was recorded later than now, the clock was ahead when it was written: it would
    else be forgotten, a STOP too, until that instant comes. It counts from the entry before it: an
    instant that stays the same, and before whatever is written later by a clock that is right.

    Args:
        log: the log as the book has it, in the order of writing.
        now: the instant.

    Returns:
        The log, no entry of it recorded later than now.
    """
    if all(entry.recorded <= now for entry in log):
        return log
    known: list[Entry] = []
    before = now.replace(hour=0, minute=0, second=0, microsecond=0)
    for entry in log:
        if entry.recorded > now:
            known.append(replace(entry, at=min(entry.at, before), recorded=before))
            continue
        known.append(entry)
        if entry.at <= now:
            before = entry.at
    return tuple(known)


def generation_of(connection: Connection, job_id: str, *, held: bool) -> int:
    """Return how often a job changed.

    Args:
        connection: the transaction.
        job_id: the job.
        held: whether nobody else may change the job before the transaction's end.

    Returns:
        The generation.
    """
    asked = _GENERATION.with_for_update() if held else _GENERATION
    return int(connection.execute(asked, {"job_id": job_id}).scalar_one())


def is_held(connection: Connection, job_id: str) -> bool:
    """Return whether a person let nothing go out of a job.

    Args:
        connection: the transaction.
        job_id: the job.

    Returns:
        True where it has a hold of its own.
    """
    return bool(connection.execute(_HOLD, {"job_id": job_id}).scalar())


class InTransaction:
    """The book's ledger within the plan's own transaction."""

    def __init__(self, connection: Connection) -> None:
        self.connection = connection

    def history(self, job_id: str) -> History:
        """Return all that was published of a job."""
        return history_of(self.connection, job_id)

    def put(self, job_id: str, made: History, *, expected: str) -> History:
        """Keep what was published of a job, with all else the transaction keeps."""
        return put_history(self.connection, job_id, made, expected=expected)
