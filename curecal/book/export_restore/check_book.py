"""Whether a book is whole: the database, its guards, its contents, and that every job is read."""

from __future__ import annotations

import functools
from collections.abc import Callable, Iterable, Iterator
from typing import TYPE_CHECKING, Any

from sqlalchemy import select
from sqlalchemy.exc import DBAPIError

from curecal.book.jobs.jobs import content_of, read_in, read_laid_out, revisions_of, sources_of
from curecal.book.ledger.ledger import revision_in
from curecal.book.schema.content_hashes import ENTRY, EVENT, PAPER, REVISION, is_as_written
from curecal.book.schema.tables import content, job, job_revision, log_entry, paper, published
from curecal.book.schema.triggers import faulty_guards
from curecal.errors import BookError, CurecalError, ErrorCode
from curecal.records import Record, record
from curecal.trade.findings import FindingCode, Message

if TYPE_CHECKING:
    from sqlalchemy import Connection, Select

    from curecal.book.connection.open_book import Book


@record
class Checked(Record):
    """What was looked at, and what is wrong."""

    job_count: int
    content_count: int
    faults: tuple[Message, ...]


def check_book(book: Book, progress: Callable[[int, int], None] | None = None) -> Checked:
    """Look through a whole book.

    Args:
        book: The book.
        progress: Told how many of how many contents and jobs have been looked at.

    Returns:
        How much was looked at, and every fault.

    Raises:
        BookError: the book cannot be read at all.
    """
    broken = _database(book)
    if any(fault.code == FindingCode.BOOK_FAULT_DATABASE for fault in broken):
        # What else such a database says of itself is worth nothing.
        return Checked(0, 0, broken)
    with book.reading() as connection:
        gone = faulty_guards(connection)
        faults = [*broken, *(Message("book-fault-guard", {"guard": name}) for name in gone)]
        names = list(
            connection.execute(select(content.c.sha256).order_by(content.c.sha256)).scalars()
        )
        jobs = list(connection.execute(select(job.c.id).order_by(job.c.id)).scalars())
        looks = [
            *(functools.partial(_content, connection, name) for name in names),
            *(functools.partial(_job, connection, str(job_id)) for job_id in jobs),
        ]
        for done, look in enumerate(looks, start=1):
            faults += look()
            if progress is not None:
                progress(done, len(looks))
    return Checked(len(jobs), len(names), tuple(faults))


def _database(book: Book) -> tuple[Message, ...]:
    """Return what the database finds in itself; a server keeps watch over its own files."""
    if not book.is_file:
        return ()
    try:
        with book.reading() as connection:
            return tuple(_said(connection))
    except BookError as error:
        if error.code != ErrorCode.BOOK_DAMAGED:
            raise
        return (Message(FindingCode.BOOK_FAULT_DATABASE, {"reason": error.params["reason"]}),)


def _said(connection: Connection) -> Iterator[Message]:
    for (said,) in connection.exec_driver_sql("PRAGMA integrity_check").all():
        if said != "ok":
            yield Message(FindingCode.BOOK_FAULT_DATABASE, {"reason": str(said)})
    for table, row, parent, _ in connection.exec_driver_sql("PRAGMA foreign_key_check").all():
        yield Message("book-fault-reference", {"table": table, "row": str(row), "parent": parent})


def _content(connection: Connection, name: str) -> Iterator[Message]:
    try:
        content_of(connection, name)
    except BookError:
        yield Message("book-fault-content", {"sha256": name})


def _looked(job_id: str, looking: Callable[[], Iterable[Message]]) -> list[Message]:
    """The faults of one part of a job; one that cannot even be looked at is a fault itself."""
    try:
        return list(looking())
    except DBAPIError:
        raise
    except Exception as error:  # noqa: BLE001 - whatever somebody wrote into it, the rest is looked at
        return [Message("book-fault-broken", {"job_id": job_id, "reason": type(error).__name__})]


def _job(connection: Connection, job_id: str) -> Iterator[Message]:
    """All that is wrong with a job."""
    parts = (_head, _revisions, _log, _papers, _published)
    for part in parts:
        yield from _looked(job_id, functools.partial(part, connection, job_id))


def _head(connection: Connection, job_id: str) -> Iterator[Message]:
    """Give what the job's own row says otherwise than its newest revision."""
    row = connection.execute(select(job).where(job.c.id == job_id)).mappings().one()
    for name in ("generation", "first_sequence"):
        if not isinstance(row[name], int) or row[name] < 0:
            yield Message("book-fault-head", {"job_id": job_id, "column": name})
    try:
        found = read_in(connection, job_id).job
    except (CurecalError, ValueError, TypeError):
        # Said of the revision.
        return
    if found is None or found.id != job_id:
        return
    for name, said in (("name", found.name), ("timezone", found.timezone)):
        if row[name] != said:
            yield Message("book-fault-head", {"job_id": job_id, "column": name})


def _revisions(connection: Connection, job_id: str) -> Iterator[Message]:
    """Revisions that are not understood: the newest with the whole log, those before without."""
    revisions = revisions_of(connection, job_id)
    if not revisions:
        yield Message("book-fault-no-revision", {"job_id": job_id})
    rows = select(job_revision).where(job_revision.c.job_id == job_id)
    for number in _changed(connection, rows.order_by(job_revision.c.number), REVISION):
        yield Message("book-fault-revision", {"job_id": job_id, "revision": number})
    for revision in revisions:
        params = {"job_id": job_id, "revision": str(revision.number)}
        try:
            if revision is revisions[-1]:
                read = read_in(connection, job_id)
            else:
                read = read_laid_out(sources_of(connection, job_id, revision), ())
        except (CurecalError, ValueError, TypeError):
            # Not ours any more: what we wrote is at least read.
            yield Message("book-fault-unread", params)
            continue
        if read.job is None:
            yield Message("book-fault-unread", params)
        elif read.job.id != job_id:
            yield Message("book-fault-other-job", {**params, "other": read.job.id})


def _log(connection: Connection, job_id: str) -> Iterator[Message]:
    """Entries that say something else than when they came in."""
    rows = select(log_entry).where(log_entry.c.job_id == job_id)
    for entry in _changed(connection, rows.order_by(log_entry.c.number), ENTRY):
        yield Message("book-fault-entry", {"job_id": job_id, "entry_id": entry})


def _papers(connection: Connection, job_id: str) -> Iterator[Message]:
    """Papers of which the book says something else than when they were written."""
    rows = select(paper).where(paper.c.job_id == job_id)
    for sha256 in _changed(connection, rows.order_by(paper.c.sha256), PAPER):
        yield Message("book-fault-paper", {"job_id": job_id, "sha256": sha256})


def _changed(connection: Connection, rows: Select[Any], names: tuple[str, ...]) -> Iterator[str]:
    """The identity of rows that say something else than their digest: their first own column."""
    for row in connection.execute(rows).mappings():
        if not is_as_written(row, names):
            yield str(row[names[1]])


def _published(connection: Connection, job_id: str) -> Iterator[Message]:
    """Events that say something else than when they went out, or than is kept beside them."""
    rows = select(published).where(published.c.job_id == job_id).order_by(published.c.uid)
    for row in connection.execute(rows).mappings():
        try:
            revision_in(row)
            is_whole = True
        except (AttributeError, TypeError, ValueError):
            is_whole = False
        if not is_whole or not is_as_written(row, EVENT):
            yield Message("book-fault-published", {"job_id": job_id, "uid": str(row["uid"])})
