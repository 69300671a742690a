"""A job file into the book, with its log, its readings, and what was published from it."""

from __future__ import annotations

import contextlib
import os
from collections.abc import Sequence
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING

from curecal.book.connection.open_book import book_url, open_book
from curecal.book.jobs.import_job import Added, add_ready
from curecal.book.jobs.job_sources import sha256
from curecal.book.jobs.jobs import namesakes_of
from curecal.book.jobs.validated_job import ready_job
from curecal.book.ledger.ledger import history_of, take_over
from curecal.delivery.ledger_file import LedgerFile
from curecal.errors import BookError, ErrorCode, UsageError
from curecal.overview.told_plan import told_plan

if TYPE_CHECKING:
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
        added = add_ready(book, ready, now=now, clock=now, told=lambda read: told_plan(read, now))
        if is_published:
            _hand_over(book, ledger, added.job_id)
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


def _hand_over(book: Book, ledger: LedgerFile, job_id: str) -> None:
    """Let the book keep the ledger from now on; the file beside the job file only says so."""

    def keep(published: History) -> None:
        with book.writing() as connection:
            if not history_of(connection, job_id).revisions:
                take_over(connection, job_id, published)

    # Somebody else may have put the same job into the book by now.
    with contextlib.suppress(UsageError):
        ledger.hand_over(job_id, keep)
