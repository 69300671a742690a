"""The answers of a book's jobs: kept with what they rest on, and planned again when that moved."""

from __future__ import annotations

import functools
import hashlib
from collections.abc import Callable, Mapping, Sequence
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
from curecal.words.catalogue import DEFAULT_LANGUAGE, languages
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
Said = tuple[JobAnswer, tuple[DayEvent, ...]]


@record
class Answered(Record):
    """A job of the book with its answer; `is_kept` where nothing had to be planned for it."""

    job_id: str
    name: str
    timezone: str
    answer: JobAnswer
    days: tuple[DayEvent, ...]
    is_kept: bool


Memory = dict[tuple[str, str], tuple[str, datetime | None, Answered]]
"""By job and language: what an answer was made of, since when it holds, and the answer."""


def answers_of(
    book: Book,
    *,
    now: datetime,
    with_days: bool = False,
    keeping: bool = True,
    language: str = DEFAULT_LANGUAGE,
    progress: Progress | None = None,
    may_go_on: Callable[[], bool] = lambda: True,
    memory: Memory | None = None,
) -> tuple[Answered, ...]:
    """Return the answers of all jobs of a book, by id.

    An answer that rests on the same job, log, program and data, and whose time is not over, is
    the one that planning now would give, and is not planned again.

    Args:
        book: The book.
        now: The instant of the answers.
        with_days: Whether the days are wanted as well.
        keeping: Whether new answers are kept in the book; where it cannot be written, none is.
        language: The language of their words.
        progress: Told how many of how many have been planned.
        may_go_on: Asked before each job that has to be planned; the others are left out.
        memory: Answers decoded before, of the same book: those that still hold are not read again.

    Returns:
        The answers. A job that cannot be read says so in its own.
    """
    basis = basis_of_answers()
    memory = {} if memory is None else memory
    rows, found = _known(book, basis, now, memory, (language, with_days))
    missing = [row for row in rows if found[row.job_id] is None]
    made: list[KeptAnswer] = []
    for count, row in enumerate(missing, start=1):
        if not may_go_on():
            break
        answered, kept = _planned(book, row, basis, now, language)
        found[row.job_id] = answered
        made += [] if kept is None else [kept]
        if progress is not None:
            progress(count, len(missing))
        if keeping and len(made) >= _AT_ONCE:
            keeping = _keep(book, made)
            made = []
    if keeping and made:
        _keep(book, made)
    return tuple(answered for answered in found.values() if answered is not None)


def _known(
    book: Book, basis: str, now: datetime, memory: Memory, how: tuple[str, bool]
) -> tuple[Sequence[KeptAnswer], dict[str, Answered | None]]:
    """Return every job's row, and the answers that hold: from memory, else as the book has them."""
    language, with_days = how
    with book.reading() as connection:
        rows = kept_answers(connection, with_days=False, with_answers=False)
        found: dict[str, Answered | None] = {
            row.job_id: _remembered(memory, row, basis, now, language) for row in rows
        }
        unknown = [job_id for job_id, answered in found.items() if answered is None]
        full = kept_answers(connection, with_days=with_days, job_ids=unknown) if unknown else ()
    for row in full:
        answered = _as_kept(row, basis, now, with_days=with_days, language=language)
        found[row.job_id] = answered
        if answered is not None and with_days:
            memory[row.job_id, language] = row.made_of, row.since, answered
    by_id = {row.job_id: row for row in full}
    return [by_id.get(row.job_id, row) for row in rows], found


def _remembered(
    memory: Memory, row: KeptAnswer, basis: str, now: datetime, language: str
) -> Answered | None:
    """Return an answer that was decoded before, where the book still has that very one."""
    made_of, since, answered = memory.get((row.job_id, language), ("", None, None))
    if answered is None or (row.made_of, row.since, row.basis) != (made_of, since, basis):
        return None
    if not row.is_of_now or row.since is None or row.until is None:
        return None
    return answered if row.since <= now < row.until else None


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


def planned_answers(
    read: ReadJob, now: datetime, rules: Rules, spoken: Sequence[str]
) -> tuple[Mapping[str, Said], datetime]:
    """Return the answer of a job as it was read and its days, and until when both hold.

    Args:
        read: The job with its log.
        now: The instant of the answer.
        rules: The rules as data.
        spoken: The languages wanted.

    Returns:
        The answer with the days by language, and the first instant for which it has to be planned
        again.
    """
    job = read.job
    if job is None:
        return {language: (_not_understood(read, language), ()) for language in spoken}, now
    day_off = day_off_for(job)
    calendar = Calendar(job.work, job.tz, day_off)

    def said(plan: Plan) -> dict[str, Said]:
        found = {}
        for language in spoken:
            words = words_for(job, rules, language=language, as_of=plan.as_of)
            answer = job_answer(plan, read.findings, read.log, words=words, calendar=calendar)
            found[language] = answer, job_days(plan, words=words, calendar=calendar)
        return found

    kept = KeptAges()

    def plan_at(at: datetime) -> Plan:
        return make_plan(job, read.log, at, rules=rules, day_off=day_off, kept=kept)

    plan = plan_at(now)
    answers = said(plan)
    until = holds_until(
        plan,
        read.log,
        calendar=calendar,
        is_same_at=lambda at: said(plan_at(at)) == answers,
    )
    return answers, until


def planned_answer(
    read: ReadJob, now: datetime, rules: Rules, language: str = DEFAULT_LANGUAGE
) -> tuple[JobAnswer, tuple[DayEvent, ...], datetime]:
    """Return the answer of a job as it was read, its days, and until when both hold.

    Args:
        read: The job with its log.
        now: The instant of the answer.
        rules: The rules as data.
        language: The language of its words.

    Returns:
        The answer, the days, and the first instant for which it has to be planned again.
    """
    answers, until = planned_answers(read, now, rules, (language,))
    answer, days = answers[language]
    return answer, days, until


def _not_understood(read: ReadJob, language: str) -> JobAnswer:
    """Return the answer of a job with mistakes in it: the first of them is the reason."""
    words = plain_words(language)
    errors = [finding for finding in read.findings if finding.severity is Severity.ERROR]
    said = words.finding(errors[0])[0] if errors else ""
    return unread_answer(words.text("jobs.refused", {"count": len(errors)}), whole(said))


def _not_read(error: CurecalError, language: str) -> JobAnswer:
    words = plain_words(language)
    # What is wrong with a book is told in English alone, to whoever looks after it.
    is_told = language == DEFAULT_LANGUAGE
    why = words.error(error) if is_told else words.text("jobs.not-read-why")
    return unread_answer(words.text("jobs.not-read"), why)


def _planned(
    book: Book, row: KeptAnswer, basis: str, now: datetime, language: str
) -> tuple[Answered, KeptAnswer | None]:
    """Return a job's answer planned now, and what to keep of it; nothing of one not whole."""
    # Whoever asked in another language before will ask again.
    spoken = dict.fromkeys((language, *_spoken_in(row)))
    try:
        with book.reading() as connection:
            read = read_in(connection, row.job_id)
        answers, until = planned_answers(read, now, load_rules(), tuple(spoken))
    except CurecalError as error:
        answer = _not_read(error, language)
        return Answered(row.job_id, row.name, row.timezone, answer, (), is_kept=False), None
    kept = replace(
        row,
        basis=basis,
        since=now,
        until=until,
        answer={spoken_in: encode(said[0]) for spoken_in, said in answers.items()},
        days={spoken_in: encode(said[1]) for spoken_in, said in answers.items()},
    )
    answer, days = answers[language]
    return Answered(row.job_id, row.name, row.timezone, answer, days, is_kept=False), kept


def _spoken_in(row: KeptAnswer) -> list[str]:
    found = row.answer if isinstance(row.answer, dict) else {}
    return [language for language in languages() if language in found]


def _keep(book: Book, made: Sequence[KeptAnswer]) -> bool:
    """Keep answers, and return whether the book takes them: whoever may only look plans anew."""
    try:
        with book.writing() as connection:
            keep_answers(connection, made)
    except BookError:
        return False
    return True


def _as_kept(
    row: KeptAnswer, basis: str, now: datetime, *, with_days: bool, language: str
) -> Answered | None:
    """Return the kept answer of a job; None where it may no longer be the answer."""
    if row.since is None or row.until is None or row.basis != basis:
        return None
    if not row.is_of_now or not row.since <= now < row.until:
        return None
    if language not in _spoken_in(row):
        return None
    try:
        answer = decode(JobAnswer, row.answer[language], row.job_id)
        told = row.days[language] if with_days else ()
        days = tuple(decode(DayEvent, event, row.job_id) for event in told)
    except (SourceError, LookupError, TypeError):
        # Somebody wrote into it: it is only a copy, and is made anew.
        return None
    return Answered(row.job_id, row.name, row.timezone, answer, days, is_kept=True)
