"""Putting jobs and facts into the book: all of it together is understood, or none of it goes in."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import replace
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING

from sqlalchemy import insert, text, update

from curecal.book.jobs.job_sources import Sources, sha256
from curecal.book.jobs.jobs import (
    grow,
    hold_job,
    insert_revision,
    newest_revision,
    put_content,
    read_laid_out,
    revisions_of,
    series_of,
    sources_of,
)
from curecal.book.jobs.log_entries import (
    StoredEntry,
    body_of,
    entries_of,
    insert_entries,
    tables_in,
)
from curecal.book.jobs.orphaned_entries import Left, left_in
from curecal.book.jobs.validated_job import Ready, ready_job, understood
from curecal.book.schema.tables import job, reading_series
from curecal.errors import BookError, ErrorCode
from curecal.job_files import ReadJob
from curecal.job_files.job_reader import Clock
from curecal.records import PlainView, Record, record
from curecal.site_log_files.log_reader import identity_of

if TYPE_CHECKING:
    from sqlalchemy import Connection

    from curecal.book.connection.open_book import Book

# The empty name and zone are those of a moment: what was read comes in the same transaction.
_MAKE = text(
    "INSERT INTO job (id, name, timezone) VALUES (:id, '', '') ON CONFLICT (id) DO NOTHING"
)

Told = Callable[[ReadJob], PlainView]
Check = Callable[[ReadJob], None]


@record(kw_only=True)
class Added(Record):
    """What adding changed, and the job as the book has it now.

    `before` is the job as it was, where something changed; `same_as` is the earlier revision whose
    very files came back; `left` is what still counts although the file has it no longer.
    """

    read: ReadJob
    job_id: str
    is_new_job: bool
    is_new_revision: bool
    revision: int
    new_entry_count: int
    new_series_count: int
    before: ReadJob | None = None
    same_as: int | None = None
    left: tuple[Left, ...] = ()

    @property
    def is_changed(self) -> bool:
        """Return whether the book holds anything that it did not hold before."""
        return self.is_new_revision or bool(self.new_entry_count or self.new_series_count)


@record
class _How(Record):
    now: datetime
    clock: Clock | None
    told: Told | None = None
    named: frozenset[str] = frozenset()
    check: Check | None = None


def add_ready(
    book: Book,
    ready: Ready,
    *,
    now: datetime,
    clock: Clock | None = None,
    told: Told | None = None,
    also: Callable[[Connection], None] = lambda _: None,
) -> Added:
    """Put a job that was made ready into the book, as `add_job` does.

    Args:
        book: The book.
        ready: The job.
        now: When it comes in.
        clock: The instant "done in the future" is judged by; None judges nothing.
        told: What makes the plan that is told with a new revision.
        also: Keeps what belongs to the job as well, before anybody else has it.

    Returns:
        What changed, and the job as it is read from the book.

    Raises:
        JobRefused: what the book holds with it is not understood.
        BookError: as of `add_job`.
    """
    with book.writing() as connection:
        how = _How(now, clock, told, ready.named)
        added = _add(connection, ready.job_id, ready.sources, ready.entries, how)
        also(connection)
        return added


def add_job(
    book: Book,
    path: Path,
    *,
    now: datetime,
    company: Path | None = None,
    extra_log: Sequence[Path] = (),
    clock: Clock | None = None,
    told: Told | None = None,
) -> Added:
    """Put a job into the book: its file, its company's, its log and its readings.

    What is there already changes nothing. An entry that is no longer in the file stays in the
    book's log: only a correction takes it back.

    Args:
        book: The book.
        path: The job file.
        now: When it comes in.
        company: The company's file; else the one the job names.
        extra_log: Further files of log entries.
        clock: The instant "done in the future" is judged by; None judges nothing.
        told: What makes the plan that is told with a new revision.

    Returns:
        What changed, and the job as it is read from the book.

    Raises:
        JobRefused: the files, or what the book holds with them, are not understood
            (`job-refused`, with the findings).
        SourceError: a file cannot be read.
        BookError: the job has no identity of its own (`book-job-without-id`) or one that no command
            can name (`book-job-id`), an entry says something else than the book has
            (`book-entry-contradicts`), or readings are missing or not those of the log.
    """
    ready = ready_job(path, now=now, company=company, extra_log=extra_log, clock=clock)
    return add_ready(book, ready, now=now, clock=clock, told=told)


def append_entries(
    book: Book,
    job_id: str,
    tables: Iterable[PlainView],
    *,
    source: str,
    now: datetime,
    clock: Clock | None = None,
    check: Check | None = None,
    series: Mapping[str, bytes] | None = None,
) -> Added:
    """Append facts to the log of a job.

    Args:
        book: The book.
        job_id: The job.
        tables: The entries, as tables of a log file.
        source: What brought them: a command, a page.
        now: When they come in.
        clock: The instant "done in the future" is judged by; None judges nothing.
        check: Looks at the job with them, before they are there: what it raises stops the writing.
        series: Readings that the entries name, by that name.

    Returns:
        What changed, and the job with them.

    Raises:
        JobRefused: an entry is not understood.
        BookError: there is no such job (`book-job-unknown`), or an entry says something else than
            the book has (`book-entry-contradicts`).
    """
    entries = _as_stored(tables, source=source, now=now)
    with book.writing() as connection:
        sources = _held_sources(connection, job_id)
        sources = replace(sources, series={**sources.series, **(series or {})})
        return _add(connection, job_id, sources, entries, _How(now, clock, check=check))


def read_with_entries(
    connection: Connection, job_id: str, tables: Iterable[PlainView], *, now: datetime
) -> ReadJob:
    """Return a job as it would read with some more entries; nothing is written.

    Args:
        connection: The transaction.
        job_id: The job.
        tables: The entries, as tables of a log file.
        now: When they would come in; "done in the future" is judged by it.

    Returns:
        The job with them.

    Raises:
        BookError: as of `append_entries`.
    """
    entries = _as_stored(tables, source="", now=now)
    sources = sources_of(connection, job_id, newest_revision(connection, job_id))
    known = entries_of(connection, job_id)
    return read_laid_out(sources, [*known, *_fresh(known, entries)], clock=now)


def _as_stored(
    tables: Iterable[PlainView], *, source: str, now: datetime
) -> tuple[StoredEntry, ...]:
    return tuple(
        StoredEntry(
            entry_id=identity_of(dict(table)),
            kind=str(table.get("kind")),
            at=now,
            recorded=now,
            body=body_of({key: value for key, value in table.items() if key != "id"}),
            source=source,
        )
        for table in tables
    )


def revise_files(
    book: Book,
    job_id: str,
    edit: Callable[[Sources], Sources],
    *,
    now: datetime,
    told: Told | None = None,
    check: Check | None = None,
) -> Added:
    """Keep a job's files, edited, as its next revision; its log and its readings stay.

    Args:
        book: The book.
        job_id: The job.
        edit: Returns the files as they are to be, of those that nobody else changes meanwhile.
        now: When.
        told: What makes the plan that is told with the revision.
        check: Looks at the job with them: what it or `edit` raises stops the writing.

    Returns:
        What changed, and the job with it.

    Raises:
        JobRefused: the edited files are not understood.
        BookError: there is no such job (`book-job-unknown`).
    """
    with book.writing() as connection:
        sources = _held_sources(connection, job_id)
        return _add(connection, job_id, edit(sources), (), _How(now, now, told, check=check))


def _held_sources(connection: Connection, job_id: str) -> Sources:
    """Return a job's files, which nobody else changes before the transaction's end.

    Looked at before it is held, a revision that comes in meanwhile would be followed by the one
    before it.
    """
    hold_job(connection, job_id)
    return sources_of(connection, job_id, newest_revision(connection, job_id))


def _add(
    connection: Connection,
    job_id: str,
    sources: Sources,
    entries: Sequence[StoredEntry],
    how: _How,
) -> Added:
    is_new_job = bool(connection.execute(_MAKE, {"id": job_id}).rowcount)
    hold_job(connection, job_id)
    known = entries_of(connection, job_id)
    fresh = _fresh(known, entries)
    has = series_of(connection, job_id)
    new_series = _new_series(has, sources.series)
    kept = None
    if not is_new_job:
        kept = sources_of(connection, job_id, newest_revision(connection, job_id))
        sources = replace(sources, series={**kept.series, **new_series})
    read = read_laid_out(sources, [*known, *fresh], clock=how.clock)
    if how.check is not None:
        how.check(read)
    found = understood(read)
    _refuse_missing(read, sources)
    named = {"name": found.name, "timezone": found.timezone}
    connection.execute(update(job).where(job.c.id == job_id).values(named))
    number, is_new_revision, same_as = _revise(connection, job_id, sources, read, how)
    dated = _dated(fresh, read)
    insert_entries(connection, job_id, dated)
    for name, data in new_series.items():
        row = {"job_id": job_id, "file": name, "sha256": put_content(connection, data)}
        connection.execute(insert(reading_series).values(row))
    added = Added(
        read=read,
        job_id=job_id,
        is_new_job=is_new_job,
        is_new_revision=is_new_revision,
        revision=number,
        new_entry_count=len(fresh),
        new_series_count=len(new_series),
        same_as=same_as,
        left=left_in((*known, *dated), entries, named=how.named, tz=found.tz),
    )
    if not added.is_changed:
        return added
    grow(connection, job_id)
    if kept is None or how.told is None:
        return added
    return replace(added, before=read_laid_out(kept, known, clock=how.clock))


def _fresh(known: Sequence[StoredEntry], entries: Sequence[StoredEntry]) -> tuple[StoredEntry, ...]:
    """Those entries that the book has not; one that it has otherwise is refused."""
    bodies = {entry.entry_id: entry.body for entry in known}
    fresh = []
    for entry in entries:
        if entry.entry_id not in bodies:
            bodies[entry.entry_id] = entry.body
            fresh.append(entry)
        elif bodies[entry.entry_id] != entry.body:
            raise BookError(ErrorCode.BOOK_ENTRY_CONTRADICTS, entry_id=entry.entry_id)
    return tuple(fresh)


def _dated(entries: Sequence[StoredEntry], read: ReadJob) -> tuple[StoredEntry, ...]:
    """The entries with the instants that reading them gave."""
    found = {entry.id: entry for entry in read.log}
    return tuple(
        replace(entry, at=found[entry.entry_id].at, recorded=found[entry.entry_id].recorded)
        if entry.entry_id in found
        else entry
        for entry in entries
    )


def _new_series(has: Mapping[str, str], series: Mapping[str, bytes]) -> dict[str, bytes]:
    for name, data in series.items():
        if has.get(name, sha256(data)) != sha256(data):
            raise BookError(ErrorCode.BOOK_READINGS_CHANGED, file=name)
    return {name: data for name, data in series.items() if name not in has}


def _refuse_missing(read: ReadJob, sources: Sources) -> None:
    for table in tables_in(read):
        name = table.get("file")
        if table.get("kind") == "readings" and name not in sources.series:
            raise BookError(ErrorCode.BOOK_READINGS_MISSING, file=str(name))


def _revise(
    connection: Connection, job_id: str, sources: Sources, read: ReadJob, how: _How
) -> tuple[int, bool, int | None]:
    """Keep the job's files as its next revision, unless they are those of the newest one.

    The third is the latest earlier revision of the very same files.
    """
    before = revisions_of(connection, job_id)
    parts = {
        "job_sha256": sources.job,
        "company_sha256": sources.company,
        "materials_sha256": sources.materials,
    }
    hashes = {name: None if data is None else sha256(data) for name, data in parts.items()}
    same = [
        stored.number
        for stored in before
        if all(getattr(stored, name) == found for name, found in hashes.items())
    ]
    if before and same[-1:] == [before[-1].number]:
        return before[-1].number, False, None
    for data in parts.values():
        if data is not None:
            put_content(connection, data)
    number = before[-1].number + 1 if before else 1
    told = None if how.told is None else dict(how.told(read))
    row = {"number": number, "recorded_at": how.now, "told": told, **hashes}
    insert_revision(connection, job_id, row)
    return number, True, same[-1] if same else None
