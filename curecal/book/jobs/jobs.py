"""Jobs in the book: reading them again as a job file is read, their revisions, their contents."""

from __future__ import annotations

import contextlib
from collections.abc import Sequence
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING

from sqlalchemy import bindparam, func, insert, select, text, update

from curecal.book.connection.db_errors import as_written
from curecal.book.jobs.job_sources import (
    LOG_FILE,
    Sources,
    parse_sources,
    readings_laid_out,
    sha256,
)
from curecal.book.jobs.log_entries import StoredEntry, entries_of
from curecal.book.last_written import count_writing
from curecal.book.schema.content_hashes import REVISION, row_digest
from curecal.book.schema.tables import content, job, job_revision, log_entry, reading_series
from curecal.errors import BookError
from curecal.job_files import ReadJob
from curecal.job_files.job_reader import Clock, read_tables, shared_tables
from curecal.records import PlainView, Record, names_of, record
from curecal.toml_files.toml_source import load
from curecal.trade.names import comparable_name

if TYPE_CHECKING:
    from sqlalchemy import Connection

    from curecal.book.connection.open_book import Book

# Where another transaction keeps the same at this moment, a server says that it conflicts.
_PUT = text(
    "INSERT INTO content (sha256, data) SELECT CAST(:sha256 AS VARCHAR), :data "
    "WHERE NOT EXISTS (SELECT 1 FROM content WHERE sha256 = CAST(:sha256 AS VARCHAR)) "
    "ON CONFLICT (sha256) DO NOTHING"
)


@record(kw_only=True)
class Listed(Record):
    """A job of the book, as a list shows it. `hold` says why nothing is sent, or is empty."""

    job_id: str
    name: str
    timezone: str
    generation: int
    revision_count: int
    entry_count: int
    recorded_at: datetime
    hold: str


@record(kw_only=True)
class JobRevision(Record):
    """What a job's files were from an instant on, and the plan told then."""

    number: int
    recorded_at: datetime
    job_sha256: str
    company_sha256: str | None
    materials_sha256: str | None
    told: PlainView | None


# Built once: asked of each job in a round.
_NEWEST = (
    select(*(job_revision.c[name] for name in names_of(JobRevision)))
    .where(job_revision.c.job_id == bindparam("job_id"))
    .order_by(job_revision.c.number.desc())
    .limit(1)
)
_CONTENT = select(content.c.data).where(content.c.sha256 == bindparam("sha256"))
_SERIES = (
    select(reading_series.c.file, reading_series.c.sha256)
    .where(reading_series.c.job_id == bindparam("job_id"))
    .order_by(reading_series.c.file)
)


def read_job_of_book(
    book: Book,
    job_id: str,
    *,
    company: Path | None = None,
    extra_log: Sequence[Path] = (),
    clock: Clock | None = None,
) -> ReadJob:
    """Return what a job of the book says, with every problem in it, as a job file's reader does.

    Args:
        book: The book.
        job_id: The job.
        company: A company's file to read it with instead of its own.
        extra_log: Further files of log entries.
        clock: The instant "done in the future" is judged by; None judges nothing.

    Returns:
        The job, its log, and the findings.

    Raises:
        BookError: there is no such job (`book-job-unknown`).
        SourceError: a further file cannot be read.
    """
    with book.reading() as connection:
        sources = sources_of(connection, job_id, newest_revision(connection, job_id))
        entries = entries_of(connection, job_id)
    return read_laid_out(sources, entries, company=company, extra_log=extra_log, clock=clock)


def read_in(connection: Connection, job_id: str, *, number: int | None = None) -> ReadJob:
    """Return what a job says, within a transaction.

    Args:
        connection: The transaction.
        job_id: The job.
        number: One of its revisions; the newest where none is named.

    Returns:
        The job with the whole log.

    Raises:
        BookError: there is no such job, or no such revision (`book-job-unknown`).
    """
    if number is None:
        found = newest_revision(connection, job_id)
    else:
        revisions = {revision.number: revision for revision in revisions_of(connection, job_id)}
        if number not in revisions:
            raise BookError("book-job-unknown", job_id=job_id)
        found = revisions[number]
    return read_laid_out(sources_of(connection, job_id, found), entries_of(connection, job_id))


def list_jobs(connection: Connection) -> tuple[Listed, ...]:
    """Return the jobs of the book.

    Args:
        connection: The transaction.

    Returns:
        The jobs by id.
    """
    revisions = (
        select(func.count()).where(job_revision.c.job_id == job.c.id).scalar_subquery()
    ).label("revision_count")
    newest = (
        select(func.max(job_revision.c.recorded_at))
        .where(job_revision.c.job_id == job.c.id)
        .scalar_subquery()
    ).label("recorded_at")
    entries = (select(func.count()).where(log_entry.c.job_id == job.c.id).scalar_subquery()).label(
        "entry_count"
    )
    asked = select(
        job.c.id.label("job_id"),
        job.c.name,
        job.c.timezone,
        job.c.generation,
        job.c.hold,
        revisions,
        newest,
        entries,
    ).order_by(job.c.id)
    with as_written("job"):
        return tuple(Listed(**row) for row in connection.execute(asked).mappings())


def find_job_id(connection: Connection, named: str) -> str:
    """Return the id of the job that a person named, by its id or its name in any case.

    Args:
        connection: The transaction.
        named: The id or the name; what is neither is given back.

    Raises:
        BookError: several jobs have that name (`book-job-several`).
    """
    wanted = comparable_name(named)
    with as_written("job"):
        rows = connection.execute(select(job.c.id, job.c.name)).all()
    found = [row.id for row in rows if named == row.id] or [
        row.id for row in rows if wanted in {comparable_name(row.id), comparable_name(row.name)}
    ]
    if len(found) > 1:
        raise BookError("book-job-several", named=named, known=", ".join(sorted(found)))
    return str(found[0]) if found else named


def revisions_of(connection: Connection, job_id: str) -> tuple[JobRevision, ...]:
    """Return the revisions of a job.

    Args:
        connection: The transaction.
        job_id: The job.

    Returns:
        The revisions, the first one first; none for a job that is not there.
    """
    asked = select(*(job_revision.c[name] for name in names_of(JobRevision)))
    mine = asked.where(job_revision.c.job_id == job_id).order_by(job_revision.c.number)
    with as_written(job_id):
        return tuple(JobRevision(**row) for row in connection.execute(mine).mappings())


def insert_revision(connection: Connection, job_id: str, row: PlainView) -> None:
    """Append a revision to a job.

    Args:
        connection: The transaction.
        job_id: The job.
        row: The revision, as `JobRevision` names its parts.
    """
    values = {**row, "job_id": job_id}
    digest = row_digest(values, REVISION)
    connection.execute(insert(job_revision).values(**values, digest=digest))


def newest_revision(connection: Connection, job_id: str) -> JobRevision:
    """Return the newest revision of a job.

    Args:
        connection: The transaction.
        job_id: The job.

    Returns:
        The revision.

    Raises:
        BookError: there is no such job (`book-job-unknown`).
    """
    with as_written(job_id):
        found = connection.execute(_NEWEST, {"job_id": job_id}).mappings().one_or_none()
        if found is None:
            raise BookError("book-job-unknown", job_id=job_id)
        return JobRevision(**found)


def hold_job(connection: Connection, job_id: str) -> None:
    """Keep all others from changing a job until the end of the transaction.

    What is read after this is what is written upon: on a server whoever else changes the job waits
    here. A file has one writer anyway.

    Args:
        connection: The transaction.
        job_id: The job.
    """
    connection.execute(select(job.c.id).where(job.c.id == job_id).with_for_update())


def grow(connection: Connection, job_id: str) -> int:
    """Count a change of a job.

    Args:
        connection: The transaction that makes the change.
        job_id: The job.

    Returns:
        The generation from now on.

    Raises:
        BookError: there is no such job (`book-job-unknown`).
    """
    changed = connection.execute(
        update(job)
        .where(job.c.id == job_id)
        .values(generation=job.c.generation + 1)
        .returning(job.c.generation)
    ).scalar_one_or_none()
    if changed is None:
        raise BookError("book-job-unknown", job_id=job_id)
    count_writing(connection)
    return int(changed)


def put_content(connection: Connection, data: bytes) -> str:
    """Keep octets under their hash; those that are there are not kept twice.

    Args:
        connection: The transaction.
        data: The octets.

    Returns:
        The hash.
    """
    name = sha256(data)
    connection.execute(_PUT, {"sha256": name, "data": data})
    return name


def content_of(connection: Connection, name: str) -> bytes:
    """Return octets by their hash.

    Args:
        connection: The transaction.
        name: The hash.

    Returns:
        The octets.

    Raises:
        BookError: they are not those of the hash any more (`book-content-damaged`).
    """
    data = connection.execute(_CONTENT, {"sha256": name}).scalar_one_or_none()
    if not isinstance(data, bytes) or sha256(data) != name:
        raise BookError("book-content-damaged", sha256=name)
    return data


def series_of(connection: Connection, job_id: str) -> dict[str, str]:
    """Return the hashes of a job's readings.

    Args:
        connection: The transaction.
        job_id: The job.

    Returns:
        The hash by the name that the log has.
    """
    rows = connection.execute(_SERIES, {"job_id": job_id})
    return {row.file: row.sha256 for row in rows}


def sources_of(connection: Connection, job_id: str, revision: JobRevision) -> Sources:
    """Return the octets a job was read from at a revision, with all of its readings.

    Args:
        connection: The transaction.
        job_id: The job.
        revision: The revision.

    Returns:
        The octets.

    Raises:
        BookError: they are damaged (`book-content-damaged`).
    """
    company, materials = revision.company_sha256, revision.materials_sha256
    return Sources(
        job=content_of(connection, revision.job_sha256),
        company=None if company is None else content_of(connection, company),
        materials=None if materials is None else content_of(connection, materials),
        series={
            name: content_of(connection, sha256)
            for name, sha256 in series_of(connection, job_id).items()
        },
    )


def read_laid_out(
    sources: Sources,
    entries: Sequence[StoredEntry],
    *,
    company: Path | None = None,
    extra_log: Sequence[Path] = (),
    clock: Clock | None = None,
) -> ReadJob:
    """Read a job from octets; only loggers' readings are laid out, for as long as that takes.

    Args:
        sources: The octets.
        entries: The log that the book holds.
        company: A company's file to read it with instead of its own.
        extra_log: Further files of log entries.
        clock: The instant "done in the future" is judged by; None judges nothing.

    Returns:
        The job, its log, and the findings.

    Raises:
        SourceError: there is no room to lay them out (`laid-out-unwritable`).
    """
    tables = [entry.table for entry in entries]
    parsed = parse_sources(sources, tables, with_company=company is None)
    shared = parsed.shared if company is None else shared_tables(parsed.job, company, Path())
    logs = [(LOG_FILE, {"log": tables})] if tables else []
    logs += [(log.name, load(log)) for log in extra_log]
    with contextlib.ExitStack() as stack:
        folder = None
        if parsed.names_readings:
            # Also where none are there: in an empty folder those that are lost are missed.
            folder = stack.enter_context(readings_laid_out(sources.series))
        return read_tables(parsed.job, shared=shared, logs=logs, folder=folder, clock=clock)
