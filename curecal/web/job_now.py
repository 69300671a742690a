"""A job of the book as it stands this minute, read and planned once for all who look at it.

What was written since is seen at once, since what a reading rests on is asked each time; the clock
alone moves a plan from one minute to the next.
"""

from __future__ import annotations

import threading
from collections import OrderedDict
from collections.abc import Callable
from datetime import datetime, timedelta
from typing import TYPE_CHECKING, TypeVar

from curecal.book.jobs.jobs import read_in
from curecal.book.jobs.kept_answers import job_stamp
from curecal.job_files import ReadJob, load_rules
from curecal.job_files.days_off import day_off_for
from curecal.planning.make_plan import make_plan
from curecal.planning.plan import Plan
from curecal.planning.site_log.log_at_instant import Facts, facts_at
from curecal.planning.working_time.working_calendar import Calendar
from curecal.records import Record, record
from curecal.science.age import KeptAges
from curecal.trade.job import Job
from curecal.trade.site_log import Entry, Reading, Series

if TYPE_CHECKING:
    from curecal.book.connection.open_book import Book

# A job with a year of readings takes some megabytes; a small machine has room for so many.
_KEPT = 64
# Readings come from other machines, whose clocks are a little off.
_CLOCKS_DIFFER = timedelta(minutes=2)
_Kept = TypeVar("_Kept")


@record(kw_only=True)
class JobNow(Record):
    """A job, its log and its plan. `stamp` says what they were made of."""

    job: Job
    read: ReadJob
    plan: Plan
    facts: Facts
    calendar: Calendar
    stamp: str

    @property
    def as_of(self) -> datetime:
        """The instant of the plan."""
        return self.plan.as_of

    @property
    def is_clock_behind(self) -> bool:
        """Whether the log holds what this machine's clock has not reached: part of it is unseen."""
        return any(entry.recorded - self.as_of > _may_differ(entry) for entry in self.read.log)


def _may_differ(entry: Entry) -> timedelta:
    """Return how far a clock may be off for an entry to be missed: of a stop not for a second."""
    return _CLOCKS_DIFFER if isinstance(entry, Reading | Series) else timedelta()


class JobsNow:
    """Jobs of a book, each read when it changed, and planned anew each minute."""

    def __init__(self, book: Book, now: Callable[[], datetime]) -> None:
        self._book = book
        self._now = now
        self._lock = threading.Lock()
        self._planning = threading.Lock()
        self._ages = KeptAges()
        self._read: OrderedDict[str, tuple[str, ReadJob]] = OrderedDict()
        self._planned: OrderedDict[str, JobNow] = OrderedDict()

    def job(self, job_id: str) -> JobNow | None:
        """Return a job as it stands now; None for one that is not understood.

        Args:
            job_id: The job.

        Raises:
            BookError: there is no such job (`book-job-unknown`), or it is damaged.
        """
        now = self._now()
        with self._book.reading() as connection:
            stamp = job_stamp(connection, job_id)
            known = self._known(self._planned, job_id)
            if known is not None and known.stamp == stamp and _same_minute(known.as_of, now):
                return known
            kept = self._known(self._read, job_id)
            read = kept[1] if kept and kept[0] == stamp else read_in(connection, job_id)
        self._keep(self._read, job_id, (stamp, read))
        if read.job is None:
            return None
        with self._planning:
            # Sums over readings go on from one plan to the next, for one thread at a time.
            made = plan_now(read.job, read, now, stamp, kept=self._ages)
        self._keep(self._planned, job_id, made)
        return made

    def read(self, job_id: str) -> ReadJob:
        """Return a job as the book has it, with what is wrong with it.

        Args:
            job_id: The job.

        Raises:
            BookError: as of `job`.
        """
        with self._book.reading() as connection:
            return read_in(connection, job_id)

    def _known(self, kept: OrderedDict[str, _Kept], job_id: str) -> _Kept | None:
        with self._lock:
            return kept.get(job_id)

    def _keep(self, kept: OrderedDict[str, _Kept], job_id: str, made: _Kept) -> None:
        with self._lock:
            kept[job_id] = made
            kept.move_to_end(job_id)
            while len(kept) > _KEPT:
                kept.popitem(last=False)


def plan_now(
    job: Job, read: ReadJob, now: datetime, stamp: str = "", *, kept: KeptAges | None = None
) -> JobNow:
    """Return a job that was read, planned at an instant.

    Args:
        job: The job.
        read: What was read, with its log.
        now: The instant.
        stamp: What it was made of.
        kept: Sums over long series, of plans before.
    """
    day_off = day_off_for(job)
    plan = make_plan(job, read.log, now, rules=load_rules(), day_off=day_off, kept=kept)
    return JobNow(
        job=job,
        read=read,
        plan=plan,
        facts=facts_at(read.log, now, job.people),
        calendar=Calendar(job.work, job.tz, day_off),
        stamp=stamp,
    )


def _same_minute(made_at: datetime, now: datetime) -> bool:
    """Return whether a plan is of this very minute: a clock put back makes it anew as well."""
    return made_at <= now and made_at.replace(second=0, microsecond=0) == now.replace(
        second=0, microsecond=0
    )
