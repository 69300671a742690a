"""Where a job is read from: a job file, or the job book by the job's id."""

from __future__ import annotations

import contextlib
import os
from pathlib import Path
from typing import TYPE_CHECKING, NamedTuple

if TYPE_CHECKING:
    from collections.abc import Iterator
    from datetime import datetime

    import click
    from sqlalchemy import Connection

    from curecal.book.connection.open_book import Book
    from curecal.book.jobs.log_entries import StoredEntry

_MOST_NAMED = 5
_LOG_BESIDE = "log-of-the-command.toml"


class BookState(NamedTuple):
    """What of a book a plan stands on: a revision, and entries of the log known at its instant."""

    revision: int
    entry_count: int


class Site(NamedTuple):
    """A job as files: its own, those that belong to it, and the book it stands in, if it does.

    Of a job of the book also its revision, and the entries that the log had when it was laid out.
    """

    job: Path
    job_id: str = ""
    company: Path | None = None
    logs: tuple[Path, ...] = ()
    book: Book | None = None
    revision: int = 0
    entries: tuple[StoredEntry, ...] = ()

    @property
    def new_log(self) -> Path:
        """A log file of its own, for what a command adds."""
        return self.job.with_name(_LOG_BESIDE)

    def state_at(self, at: datetime) -> BookState | None:
        """Return what of the book the job stands on at an instant; None for a job file."""
        if self.book is None:
            return None
        from curecal.book.jobs.log_entries import count_known

        return BookState(self.revision, count_known(self.entries, at))


def job_or_only(_ctx: click.Context, _param: click.Parameter, named: Path | None) -> Path:
    """Return the job that was named, else job.toml, else the only job file of the folder.

    Raises:
        UsageError: None was named and there is none, or there are several.
    """
    if named is not None:
        return named
    from curecal.errors import UsageError

    usual = Path("job.toml")
    found = [usual] if usual.is_file() else sorted(Path().glob("*.toml"))
    jobs = [path for path in found if path == usual or _is_job_file(path)]
    if len(jobs) == 1:
        return jobs[0]
    raise UsageError("job-not-named", known=", ".join(str(path) for path in jobs[:_MOST_NAMED]))


def _is_job_file(path: Path) -> bool:
    """Return whether a file says that it is a job; one that cannot be read does not."""
    try:
        with path.open(encoding="utf-8") as lines:
            return any(line.strip() == "[job]" for line in lines)
    except (OSError, UnicodeDecodeError):
        return False


@contextlib.contextmanager
def site(job: Path, place: str | None = None) -> Iterator[Site]:
    """Give a job as files for as long as a command looks at it.

    What is there as a file is that file. Anything else is the id or the name of a job in the
    book, which is laid out in a folder for that time.

    Args:
        job: A path, or the id or the name of a job of the book.
        place: The book that was named, if one was.

    Yields:
        The files.

    Raises:
        BookError: there is a book and no such job in it, or it cannot be read.
        SourceError: there is no room to lay the files out (`laid-out-unwritable`).
    """
    if not _in_book(job, place):
        yield Site(job)
        return
    from curecal.book.connection.open_book import book_url, open_book
    from curecal.book.jobs.job_sources import laid_out
    from curecal.book.jobs.jobs import find_job_id, newest_revision, sources_of
    from curecal.book.jobs.log_entries import entries_of

    with open_book(book_url(place, os.environ), create=False) as book:
        with book.reading() as connection:
            job_id = find_job_id(connection, job.name)
            newest = newest_revision(connection, job_id)
            sources = sources_of(connection, job_id, newest)
            entries = entries_of(connection, job_id)
        with laid_out(sources, [entry.table for entry in entries]) as laid:
            yield Site(laid.job, job_id, laid.company, laid.logs, book, newest.number, entries)


def job_id_named(connection: Connection, named: str) -> str:
    """Return the id of the job of the book that a person named: its id, its name, or its job file.

    Args:
        connection: The transaction.
        named: What was typed; what is none of these is given back.

    Raises:
        SourceError: there is such a file, and it cannot be read.
    """
    from curecal.book.jobs.jobs import find_job_id
    from curecal.toml_files.toml_source import load

    path = Path(named)
    if path.suffix == ".toml" and _is_there(path):
        head = load(path).get("job")
        own = head.get("id") if isinstance(head, dict) else None
        named = own if isinstance(own, str) else named
    return find_job_id(connection, named)


def is_book_there(place: str | None) -> bool:
    """Return whether a book was named, or the user's own is there."""
    if place is not None or os.environ.get("CURECAL_BOOK"):
        return True
    from curecal.book.connection.open_book import book_url
    from curecal.errors import BookError

    try:
        url = book_url(None, os.environ)
    except BookError:
        # Nothing is named and there is no home: nowhere a book could be.
        return False
    return Path(str(url.database)).exists()


def _in_book(job: Path, place: str | None) -> bool:
    """Return whether a job is meant that stands in a book: never where there is such a file."""
    if job.name != str(job) or job.suffix == ".toml" or _is_there(job):
        return False
    return is_book_there(place)


def _is_there(job: Path) -> bool:
    try:
        return job.exists()
    except OSError:
        # Too long for the name of a file, or in a folder that nobody may look into.
        return False
