"""A job as its files have it, read and understood before any book is touched."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import datetime
from pathlib import Path, PurePath

from curecal.book.jobs.job_sources import Sources, gather, readings_beside
from curecal.book.jobs.log_entries import StoredEntry, entries_in, tables_in
from curecal.errors import BookError, ErrorCode, JobRefused
from curecal.job_files import ReadJob, read_job
from curecal.job_files.job_reader import Clock
from curecal.records import Record, record
from curecal.trade.job import Job

_JOB_FILE = "job file"


@record
class Ready(Record):
    """A job as its files have it, read and understood, before any book is touched.

    `named` are the places that its entries came from, by the names that the book gives them.
    """

    job_id: str
    sources: Sources
    entries: tuple[StoredEntry, ...]
    named: frozenset[str]


def ready_job(
    path: Path,
    *,
    now: datetime,
    company: Path | None = None,
    extra_log: Sequence[Path] = (),
    clock: Clock | None = None,
) -> Ready:
    """Return a job as its files have it, ready to be put into a book.

    Args:
        path: The job file.
        now: When it comes in.
        company: The company's file; else the one the job names.
        extra_log: Further files of log entries.
        clock: The instant "done in the future" is judged by; None judges nothing.

    Returns:
        The job.

    Raises:
        JobRefused: the files are not understood (`job-refused`, with the findings).
        SourceError: a file cannot be read.
        BookError: the job has no identity of its own (`book-job-without-id`) or one that no command
            can name (`book-job-id`), or readings are not those of the log.
    """
    # Read twice: here a mistake is said by the names people know, below it is what is kept.
    read = read_job(path, company=company, extra_log=extra_log, clock=clock)
    found = understood(read)
    if "id" not in read.raw["job"]:
        raise BookError(ErrorCode.BOOK_JOB_WITHOUT_ID, path=str(path))
    if PurePath(found.id).suffix == ".toml":
        # A command that takes a file or a job would look for a file of that name.
        raise BookError(ErrorCode.BOOK_JOB_ID, job_id=found.id)
    entries = entries_in(read, source=_JOB_FILE, now=now)
    series = readings_beside(path, tables_in(read))
    further = {str(table.get("name", "")) for table in read.raw.get("further_log", ())}
    sources = replace(gather(path, company=company), series=series)
    return Ready(found.id, sources, entries, frozenset({_JOB_FILE, *further}))


def understood(read: ReadJob) -> Job:
    """Return the job that was read.

    Args:
        read: What was read.

    Returns:
        The job.

    Raises:
        JobRefused: it was not understood (`job-refused`, with the findings).
    """
    if read.job is None:
        raise JobRefused("job-refused", findings=read.findings, names=read.raw)
    return read.job
