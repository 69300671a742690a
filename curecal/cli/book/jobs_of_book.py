"""The plans of all jobs of the book, for commands that look at every one of them."""

from __future__ import annotations

from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING

from curecal.cli.shared.common import PlannedJob, instant_asked

if TYPE_CHECKING:
    from collections.abc import Iterator

    from curecal.job_files import ReadJob


def planned_jobs(place: str | None, as_of: str | None) -> tuple[list[PlannedJob], list[str]]:
    """Return the plans of the book's jobs, and the ids of those that are not understood.

    Args:
        place: The book that was named, if one was.
        as_of: The instant to answer for, as typed; None for now.

    Returns:
        Plans by job id, and ids: one damaged job silences no other.

    Raises:
        BookError: there is no book, or it cannot be read.
    """
    found = dict(plan_one_by_one(place, as_of))
    unread = [job_id for job_id, made in found.items() if made is None]
    return [made for made in found.values() if made is not None], unread


def plan_one_by_one(
    place: str | None, as_of: str | None
) -> Iterator[tuple[str, PlannedJob | None]]:
    """Plan the book's jobs, each as it stands when it is asked for.

    Args:
        place: The book that was named, if one was.
        as_of: The instant to answer for, as typed; None for now.

    Yields:
        The job's id and its plan, None for a job that is not understood.

    Raises:
        BookError: there is no book, or it cannot be read.
    """
    from curecal.book.jobs.jobs import list_jobs, read_job_of_book
    from curecal.cli.book.book import book_named

    with book_named(place) as book:
        with book.reading() as connection:
            job_ids = [listed.job_id for listed in list_jobs(connection)]
        for job_id in job_ids:
            yield job_id, _planned(read_job_of_book(book, job_id), job_id, place, as_of)


def planned_again(made: PlannedJob, as_of: str | None) -> PlannedJob | None:
    """Plan a job of the book that was planned before, as it stands by now.

    Args:
        made: The plan before.
        as_of: As for `plan_one_by_one`.

    Returns:
        The plan; None for a job that is not understood any more.

    Raises:
        BookError: the book cannot be read.
    """
    return _planned(made.read_again(), made.job.id, made.place, as_of)


def _planned(read: ReadJob, job_id: str, place: str | None, as_of: str | None) -> PlannedJob | None:
    from datetime import UTC, datetime

    from curecal.instants import Toward
    from curecal.job_files import load_rules
    from curecal.job_files.days_off import day_off_for
    from curecal.planning.make_plan import make_plan
    from curecal.words.sentences import words_for

    if read.job is None:
        return None
    rules = load_rules()
    at = datetime.now(UTC) if as_of is None else instant_asked(as_of, read.job.tz, Toward.AHEAD)
    day_off = day_off_for(read.job)
    return PlannedJob(
        plan=make_plan(read.job, read.log, at, rules=rules, day_off=day_off),
        findings=read.findings,
        rules=rules,
        words=words_for(read.job, rules, as_of=at),
        job=read.job,
        log=read.log,
        day_off=day_off,
        names=read.raw,
        job_file=Path(job_id),
        read_again=partial(_read_again, job_id, place),
        in_book=True,
        place=place,
    )


def _read_again(job_id: str, place: str | None) -> ReadJob:
    from curecal.book.jobs.jobs import read_job_of_book
    from curecal.cli.book.book import book_named

    with book_named(place) as book:
        return read_job_of_book(book, job_id)
