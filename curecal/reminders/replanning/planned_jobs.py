"""Jobs planned one after the other, each in a transaction of its own, and what became of each."""

from __future__ import annotations

import contextlib
import importlib
from collections.abc import Generator, Iterable, Sequence
from datetime import datetime
from typing import TYPE_CHECKING, NamedTuple

from curecal.book.connection.db_errors import as_written
from curecal.book.message_states import LostClaim
from curecal.errors import BookError, CurecalError, ErrorCode, StoreMoved
from curecal.reminders.messages.send_context import SendContext
from curecal.reminders.replanning.damage import is_damage
from curecal.reminders.replanning.replan import Replanned, replan
from curecal.reminders.replanning.replan_notes import Unless, look_ahead

if TYPE_CHECKING:
    from curecal.book.connection.open_book import Book

AT_ONCE = 25
"""So many jobs are planned before anybody looks up: a fraction of a second of work."""
# Below that other processes would take longer to start than to plan.
_MANY_JOBS = 400
# Another process that writes the same job is through long before.
_TRIES = 5


class PlanningResult(NamedTuple):
    """What became of a job: how many messages were made of it, and what went wrong.

    `is_planned` is False where another process did it. `damage` says what of it the
    book does not have whole.
    """

    job_id: str
    fired: int = 0
    is_planned: bool = True
    trouble: str = ""
    damage: BookError | None = None


def planned_some_at_a_time(
    book: Book, context: SendContext, job_ids: Sequence[str], *, now: datetime, processes: int
) -> Generator[list[PlanningResult], None, None]:
    """Plan jobs anew, here, or where they are many in several processes.

    Args:
        book: the book.
        context: the rules.
        job_ids: the jobs.
        now: the instant.
        processes: how many processes plan, at most.

    Yields:
        What became of some jobs, in the order they are done.

    Raises:
        BookError: the book as a whole cannot be used at present.
    """
    if processes > 1 and len(job_ids) >= _MANY_JOBS:
        # It takes long to load, and only a round of many jobs needs it.
        shared = importlib.import_module("curecal.reminders.replanning.planning_processes")
        # No room for them, or somebody ended one: what they left is planned here.
        # Some systems have no semaphores that processes share.
        none_such = (OSError, ImportError, NotImplementedError)
        with contextlib.suppress(*none_such, shared.BrokenProcessPool):
            with shared.PlanningProcesses(book, context, processes) as others:
                yield from others.plan(job_ids, now=now)
            return
    for at in range(0, len(job_ids), AT_ONCE):
        yield plan_jobs(book, context, job_ids[at : at + AT_ONCE], now=now)


def plan_jobs(
    book: Book, context: SendContext, job_ids: Iterable[str], *, now: datetime
) -> list[PlanningResult]:
    """Plan jobs anew, those of them that nobody planned meanwhile.

    One that cannot be planned keeps none of the others back.

    Args:
        book: the book.
        context: the rules.
        job_ids: the jobs.
        now: the instant.

    Returns:
        What became of each.

    Raises:
        BookError: the book as a whole cannot be used at present.
    """
    found = {job_id: _plan_one(book, context, job_id, now, Unless.TAKEN) for job_id in job_ids}
    for job_id, result in found.items():
        if not (result.is_planned or result.trouble):
            # What a reader is told of it goes with the rest: nobody is done before it is planned.
            found[job_id] = _plan_one(book, context, job_id, now, Unless.PLANNED)
    return list(found.values())


def _plan_one(
    book: Book, context: SendContext, job_id: str, now: datetime, unless: Unless
) -> PlanningResult:
    try:
        with as_written(job_id):
            done = replan_job(book, context, job_id, now=now, unless=unless)
    except BookError as error:
        if is_damage(error):
            return PlanningResult(job_id, is_planned=False, trouble=error.code, damage=error)
        # On a server only this job is kept by somebody, who may be frozen; a file is kept whole.
        if book.is_file or error.code != ErrorCode.BOOK_BUSY:
            raise
        return PlanningResult(job_id, is_planned=False, trouble=error.code)
    except CurecalError as error:
        return PlanningResult(job_id, is_planned=False, trouble=error.code)
    if done is None:
        return PlanningResult(job_id, is_planned=False)
    return PlanningResult(job_id, fired=done.fired)


def replan_job(
    book: Book,
    context: SendContext,
    job_id: str,
    *,
    now: datetime,
    unless: Unless | None = None,
) -> Replanned | None:
    """Plan a job in a transaction of its own; again, where somebody was quicker.

    Args:
        book: the book.
        context: the rules.
        job_id: the job.
        now: the instant.
        unless: whether to leave it to whoever planned it meanwhile, or is at it.

    Returns:
        What was done; None where it was left to somebody else.

    Raises:
        CurecalError: the job cannot be planned.
    """
    for left in reversed(range(_TRIES)):
        try:
            if book.is_file:
                # A file has one writer at a time: what can be done before is not done as it.
                with book.reading() as connection:
                    look_ahead(connection, context, job_id, now=now)
            with book.writing() as connection:
                return replan(connection, context, job_id, now=now, unless=unless)
        except (LostClaim, StoreMoved):
            if not left:
                raise
    raise AssertionError
