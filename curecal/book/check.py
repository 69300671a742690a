"""Whether a book is whole: the database, its guards, its contents, and that every job is read."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import TYPE_CHECKING

from sqlalchemy import select

from curecal.book.guards import trigger_names
from curecal.book.jobs import (
    content_of,
    list_jobs,
    read_in,
    read_laid_out,
    revisions_of,
    sources_of,
)
from curecal.book.published import history_of
from curecal.book.schema import content
from curecal.errors import BookError, CurecalError
from curecal.records import Record
from curecal.trade.findings import Message

if TYPE_CHECKING:
    from sqlalchemy import Connection

    from curecal.book.opening import Book

_BROKEN = "book-fault-database"


@dataclass(frozen=True, slots=True, eq=False, repr=False)
class Checked(Record):
    """What was looked at, and what is wrong."""

    job_count: int
    content_count: int
    faults: tuple[Message, ...]


def check_book(book: Book) -> Checked:
    """Look through a whole book.

    Args:
        book: The book.

    Returns:
        How much was looked at, and every fault.

    Raises:
        BookError: the book cannot be read at all.
    """
    broken = _database(book)
    if any(fault.code == _BROKEN for fault in broken):
        # What else such a database says of itself is worth nothing.
        return Checked(0, 0, broken)
    with book.reading() as connection:
        faults = [*broken, *_guards(connection, book)]
        names = list(
            connection.execute(select(content.c.sha256).order_by(content.c.sha256)).scalars()
        )
        faults += [fault for name in names for fault in _content(connection, name)]
        jobs = list_jobs(connection)
        faults += [fault for each in jobs for fault in _job(connection, each.job_id)]
        faults += [fault for each in jobs for fault in _published(connection, each.job_id)]
    return Checked(len(jobs), len(names), tuple(faults))


def _database(book: Book) -> tuple[Message, ...]:
    """What the database finds in itself; a server keeps watch over its own files."""
    if not book.is_file:
        return ()
    try:
        with book.reading() as connection:
            return tuple(_said(connection))
    except BookError as error:
        if error.code != "book-damaged":
            raise
        return (Message(_BROKEN, {"reason": error.params["reason"]}),)


def _said(connection: Connection) -> Iterator[Message]:
    for (said,) in connection.exec_driver_sql("PRAGMA integrity_check").all():
        if said != "ok":
            yield Message(_BROKEN, {"reason": str(said)})
    for table, row, parent, _ in connection.exec_driver_sql("PRAGMA foreign_key_check").all():
        yield Message("book-fault-reference", {"table": table, "row": str(row), "parent": parent})


def _guards(connection: Connection, book: Book) -> Iterator[Message]:
    """Triggers that are gone, or switched off: from then on the book can be changed unseen."""
    if book.is_file:
        asked = "SELECT name FROM sqlite_master WHERE type = 'trigger'"
    else:
        asked = "SELECT tgname FROM pg_trigger WHERE NOT tgisinternal AND tgenabled <> 'D'"
    there = set(connection.exec_driver_sql(asked).scalars())
    for name in trigger_names("sqlite" if book.is_file else "postgresql"):
        if name not in there:
            yield Message("book-fault-guard", {"guard": name})


def _content(connection: Connection, name: str) -> Iterator[Message]:
    try:
        content_of(connection, name)
    except BookError:
        yield Message("book-fault-content", {"sha256": name})


def _job(connection: Connection, job_id: str) -> Iterator[Message]:
    """Revisions that are not understood: the newest with the whole log, those before without."""
    revisions = revisions_of(connection, job_id)
    if not revisions:
        yield Message("book-fault-no-revision", {"job_id": job_id})
    for each in revisions:
        params = {"job_id": job_id, "revision": str(each.number)}
        try:
            if each is revisions[-1]:
                read = read_in(connection, job_id)
            else:
                read = read_laid_out(sources_of(connection, job_id, each), ())
        except (CurecalError, ValueError, TypeError):
            # Not ours any more: what we wrote is at least read.
            yield Message("book-fault-unread", params)
            continue
        if read.job is None:
            yield Message("book-fault-unread", params)
        elif read.job.id != job_id:
            yield Message("book-fault-other-job", {**params, "other": read.job.id})


def _published(connection: Connection, job_id: str) -> Iterator[Message]:
    """Events whose lines say something else than what is kept beside them."""
    for each in history_of(connection, job_id).revisions.values():
        said = (each.value("UID"), each.value("SEQUENCE"))
        if said != (each.uid, str(each.sequence)):
            yield Message("book-fault-published", {"job_id": job_id, "uid": each.uid})
