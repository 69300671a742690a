"""A job file into the book, with its log, its readings, and what was published from it."""

from __future__ import annotations

import os
from collections.abc import Callable, Sequence
from datetime import datetime
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING

from curecal.book.connection.open_book import book_url, open_book
from curecal.book.jobs.book_overview import namesakes_of
from curecal.book.jobs.import_job import Added, add_ready
from curecal.book.jobs.job_sources import sha256
from curecal.book.jobs.validated_job import Ready, ready_job
from curecal.book.ledger.ledger import history_of, take_over
from curecal.delivery.ledger_file import LedgerFile
from curecal.errors import BookError, ErrorCode, UsageError
from curecal.overview.told_plan import told_plan

if TYPE_CHECKING:
    from sqlalchemy import Connection

    from curecal.book.connection.open_book import Book
    from curecal.calendars import History


def added_from_file(
    job: Path,
    *,
    now: datetime,
    logs: Sequence[Path] = (),
    company: Path | None = None,
    place: str | None = None,
    files: dict[str, tuple[Path, str]] | None = None,
) -> tuple[Added, Sequence[str]]:
    """Put a job file into the book; return what that changed, and other jobs of the same name.

    Args:
        job: The file.
        now: The instant, by the real clock.
        logs: Further logs of the job.
        company: The company's file; else that of the environment.
        place: The book that was named, if one was.
        files: The files that were added with it and the hash of each, by their job's id; this one
            is put there.

    Raises:
        JobRefused: the job is not understood.
        BookError: another file of those is of the same job (`book-job-twice`).
        CurecalError: a file cannot be read, or the book cannot be written.
    """
    named = os.environ.get("CURECAL_COMPANY")
    company = company or (Path(named) if named else None)
    # Read before there is a book: a mistake in a file makes none.
    ready = ready_job(job, now=now, company=company, extra_log=logs, clock=now)
    content = sha256(ready.sources.job)
    other, same = (files or {}).get(ready.job_id, (job, content))
    if content != same:
        # A copy that kept its id would take the place of the job it was copied from.
        raise BookError(
            ErrorCode.BOOK_JOB_TWICE, job_id=ready.job_id, path=str(job), other=str(other)
        )
    ledger = LedgerFile(job)
    is_published = _is_published(ledger, ready.job_id)
    with open_book(book_url(place, os.environ)) as book:
        added = _taken_over(book, ready, ledger, now=now) if is_published else None
        added = added or _added(book, ready, now=now)
        if not is_published and _is_published(ledger, ready.job_id):
            # For the first time, and just now: the book goes on from there as well.
            _taken_over(book, ready, ledger, now=now)
        with book.reading() as connection:
            namesakes = namesakes_of(connection, added.job_id)
    if files is not None:
        files[added.job_id] = job, content
    return added, namesakes


def _is_published(ledger: LedgerFile, job_id: str) -> bool:
    """Return whether anything was published from a job file, and not by a book."""
    try:
        return bool(ledger.history(job_id).ledger_id)
    except UsageError:
        return False


def _added(
    book: Book, ready: Ready, *, now: datetime, also: Callable[[Connection], None] = lambda _: None
) -> Added:
    told = partial(told_plan, now=now)
    return add_ready(book, ready, now=now, clock=now, told=told, also=also)


def _taken_over(book: Book, ready: Ready, ledger: LedgerFile, *, now: datetime) -> Added | None:
    """Put a job into the book with its ledger, which the file beside it only names from now on.

    Args:
        book: The book.
        ready: The job.
        ledger: What was published from its file.
        now: The instant.

    Returns:
        What that changed; None where somebody else let a book keep the ledger by now.
    """
    added: list[Added] = []

    def keep(published: History) -> None:
        def take(connection: Connection) -> None:
            if not history_of(connection, ready.job_id).revisions:
                take_over(connection, ready.job_id, published)

        # Whoever publishes the job next goes on from there: it never stands in the book without.
        added.append(_added(book, ready, now=now, also=take))

    try:
        ledger.hand_over(ready.job_id, keep)
    except UsageError:
        return None
    return added[0]
