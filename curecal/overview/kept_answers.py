"""The answers of a book's jobs: kept with what they rest on, and planned again when that moved."""

from __future__ import annotations

import functools
import hashlib
from collections.abc import Callable, Sequence
from dataclasses import replace
from datetime import datetime
from importlib.metadata import version
from typing import TYPE_CHECKING

from curecal.book.jobs.jobs import read_in
from curecal.book.jobs.kept_answers import KeptAnswer, keep_answers, kept_answers
from curecal.errors import BookError, CurecalError, SourceError
from curecal.job_files import load_rules
from curecal.job_files.days_off import day_off_for
from curecal.overview.job_answer import DayEvent, JobAnswer, job_answer, job_days, unread_answer
from curecal.overview.next_change import holds_until
from curecal.planning.make_plan import make_plan
from curecal.planning.working_time.working_calendar import Calendar
from curecal.records import Record, record
from curecal.science.age import KeptAges
from curecal.shipped import DATA
from curecal.trade.findings import Severity
from curecal.version import __version__
from curecal.words.json.record_json import decode, encode
from curecal.words.sentences import plain_words, whole, words_for

if TYPE_CHECKING:
    from curecal.book.connection.open_book import Book
    from curecal.job_files import ReadJob
    from curecal.planning.plan import Plan
    from curecal.trade.rules import Rules

# A writer waits for no more than a second or two, and a stopped run loses no more than these.
_AT_ONCE = 50
Progress = Callable[[int, int], None]


@record
class Answered(Record):
    """A job of the book with its answer; `is_kept` where nothing had to be planned for it."""

    job_id: str
    name: str
    timezone: str
    answer: JobAnswer
    days: tuple[DayEvent, ...]
    is_kept: bool


def answers_of(
    book: Book,
    *,
    now: datetime,
    with_days: bool = False,
    keeping: bool = True,
    progress: Progress | None = None,
) -> tuple[Answered, ...]:
    """Return the answers of all jobs of a book, by id.

    An answer that rests on the same job, log, program and data, and whose time is not over, is
    the one that planning now would give, and is not planned again.

    Args:
        book: The book.
        now: The instant of the answers.
        with_days: Whether the days are wanted as well.
        keeping: Whether new answers are kept in the book; where it cannot be written, none is.
        progress: Told how many of how many have been planned.

    Returns:
        The answers. A job that cannot be read says so in its own.
    """
    with book.reading() as connection:
        rows = kept_answers(connection, with_days=with_days)
    basis = basis_of_answers()
    found = {row.job_id: _as_kept(row, basis, now, with_days=with_days) for row in rows}
    missing = [row for row in rows if found[row.job_id] is None]
    made: list[KeptAnswer] = []
    for count, row in enumerate(missing, start=1):
        answered, kept = _planned(book, row, basis, now)
        found[row.job_id] = answered
        made += [] if kept is None else [kept]
        if progress is not None:
            progress(count, len(missing))
        if keeping and (len(made) >= _AT_ONCE or count == len(missing)):
            keeping = _keep(book, made)
            made = []
    return tuple(answered for answered in found.values() if answered is not None)


@functools.cache
def basis_of_answers() -> str:
    """Return what every answer rests on beside its job: program, rules, texts, zones, holidays."""
    digest = hashlib.sha256()
    # The code itself too: between two releases the version stays.
    files = (*DATA.rglob("*.toml"), *DATA.parent.rglob("*.py"))
    for path in sorted(files):
        digest.update(path.name.encode())
        digest.update(path.read_bytes())
    return "/".join([__version__, version("tzdata"), version("holidays"), digest.hexdigest()[:16]])


def planned_answer(
    read: ReadJob, now: datetime, rules: Rules
) -> tuple[JobAnswer, tuple[DayEvent, ...], datetime]:
    """Return the answer of a job as it was read, its days, and until when both hold.

    Args:
        read: The job with its log.
        now: The instant of the answer.
        rules: The rules as data.

    Returns:
        The answer, the days, and the first instant for which it has to be planned again.
    """
    job = read.job
    if job is None:
        return _not_understood(read), (), now
    day_off = day_off_for(job)
    calendar = Calendar(job.work, job.tz, day_off)

    def said(plan: Plan) -> tuple[JobAnswer, tuple[DayEvent, ...]]:
        words = words_for(job, rules, as_of=plan.as_of)
        answer = job_answer(plan, read.findings, read.log, words=words, calendar=calendar)
        return answer, job_days(plan, words=words, calendar=calendar)

    kept = KeptAges()

    def plan_at(at: datetime) -> Plan:
        return make_plan(job, read.log, at, rules=rules, day_off=day_off, kept=kept)

    plan = plan_at(now)
    answer, days = said(plan)
    until = holds_until(
        plan,
        read.log,
        calendar=calendar,
        is_same_at=lambda at: said(plan_at(at)) == (answer, days),
    )
    return answer, days, until


def _not_understood(read: ReadJob) -> JobAnswer:
    """Return the answer of a job with mistakes in it: the first of them is the reason."""
    words = plain_words()
    errors = [finding for finding in read.findings if finding.severity is Severity.ERROR]
    said = words.finding(errors[0])[0] if errors else ""
    return unread_answer(words.text("report.refused", {"count": len(errors)}), whole(said))


def _planned(
    book: Book, row: KeptAnswer, basis: str, now: datetime
) -> tuple[Answered, KeptAnswer | None]:
    """Return a job's answer planned now, and what to keep of it; nothing of one not whole."""
    try:
        with book.reading() as connection:
            read = read_in(connection, row.job_id)
        answer, days, until = planned_answer(read, now, load_rules())
    except CurecalError as error:
        words = plain_words()
        answer = unread_answer(words.text("jobs.not-read"), words.error(error))
        return Answered(row.job_id, row.name, row.timezone, answer, (), is_kept=False), None
    kept = replace(
        row, basis=basis, since=now, until=until, answer=encode(answer), days=encode(days)
    )
    return Answered(row.job_id, row.name, row.timezone, answer, days, is_kept=False), kept


def _keep(book: Book, made: Sequence[KeptAnswer]) -> bool:
    """Keep answers, and return whether the book takes them: whoever may only look plans anew."""
    try:
        with book.writing() as connection:
            keep_answers(connection, made)
    except BookError:
        return False
    return True


def _as_kept(row: KeptAnswer, basis: str, now: datetime, *, with_days: bool) -> Answered | None:
    """Return the kept answer of a job; None where it may no longer be the answer."""
    if row.since is None or row.until is None or row.basis != basis:
        return None
    if not row.is_of_now or not row.since <= now < row.until:
        return None
    try:
        answer = decode(JobAnswer, row.answer, row.job_id)
        days = tuple(
            decode(DayEvent, event, row.job_id) for event in (row.days if with_days else ())
        )
    except SourceError:
        # Somebody wrote into it: it is only a copy, and is made anew.
        return None
    return Answered(row.job_id, row.name, row.timezone, answer, days, is_kept=True)
