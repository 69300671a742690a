"""The ledger of a job of the book: what was published of it, and what that rested on."""

from __future__ import annotations

import uuid
from collections.abc import Collection, Iterable, Mapping
from dataclasses import replace
from typing import TYPE_CHECKING, Any

from sqlalchemy import delete, insert, select, update

from curecal.book.connection.db_errors import as_written
from curecal.book.jobs.jobs import grow, hold_job
from curecal.book.schema.content_hashes import EVENT, is_as_written, row_digest
from curecal.book.schema.tables import job, mailed, published, rested_on
from curecal.calendars import Audience, History, LogMark, Mailed, Revision
from curecal.calendars.revision import GREATEST_SEQUENCE
from curecal.errors import BookError, StoreMoved

if TYPE_CHECKING:
    from sqlalchemy import Connection, RowMapping

    from curecal.book.connection.open_book import Book

_MAILED = ("uid", "sequence", "recipient", "sender")


class BookLedger:
    """The ledger of the jobs of a book. Its generation is the job's."""

    def __init__(self, book: Book) -> None:
        self.book = book

    def history(self, job_id: str) -> History:
        """All that was published of a job.

        Args:
            job_id: The job's id.

        Returns:
            What is known; an empty history for a job never published.

        Raises:
            BookError: there is no such job (`book-job-unknown`), or the book cannot be read.
        """
        with self.book.reading() as connection:
            return history_of(connection, job_id)

    def put(self, job_id: str, made: History, *, expected: str) -> History:
        """Keep what was published of a job, all of it or nothing.

        Args:
            job_id: The job's id.
            made: All of the job, unchanged revisions as well.
            expected: The generation of the history it was made from.

        Returns:
            The same as the book keeps it now.

        Raises:
            StoreMoved: the job changed since (`book-moved`); nothing was kept.
            BookError: a revision would count backwards (`book-sequence-back`), there is no such
                job, or the book cannot be written.
        """
        with self.book.writing() as connection:
            return put_history(connection, job_id, made, expected=expected)

    def add_mailed(self, job_id: str, mails: Iterable[Mailed]) -> None:
        """Keep which mails were written.

        Args:
            job_id: The job's id.
            mails: The mails.

        Raises:
            BookError: the book cannot be written.
        """
        with self.book.writing() as connection:
            hold_job(connection, job_id)
            known = history_of(connection, job_id).mailed
            _insert_mailed(connection, job_id, frozenset(mails) - known)


def history_of(connection: Connection, job_id: str) -> History:
    """Return all that was published of a job.

    Args:
        connection: The transaction.
        job_id: The job.

    Returns:
        The history.

    Raises:
        BookError: there is no such job (`book-job-unknown`), or somebody wrote into a row what no
            program of ours does (`book-row-damaged`).
    """
    asked = select(job.c.generation, job.c.first_sequence, job.c.ledger_id)
    head = connection.execute(asked.where(job.c.id == job_id)).one_or_none()
    if head is None:
        raise BookError("book-job-unknown", job_id=job_id)
    with as_written(job_id):
        rows = _rows(connection, published, job_id)
        revisions = {row["uid"]: revision_in(row) for row in rows}
        first = int(head.first_sequence)
        stamps = [one.changed_at for one in revisions.values()]
        return History(
            str(head.generation),
            dict(sorted(revisions.items())),
            first,
            max(stamps, default=None) if first else None,
            frozenset(row["uid"] for row in rows if row["suspect"]),
            str(head.ledger_id),
            {
                row["entry_id"]: LogMark(row["digest"], row["kind"], row["at"])
                for row in _rows(connection, rested_on, job_id)
            },
            frozenset(
                Mailed(*(row[name] for name in _MAILED))
                for row in _rows(connection, mailed, job_id)
            ),
        )


def published_for(
    connection: Connection, job_id: str, audiences: Collection[Audience]
) -> tuple[Revision, ...]:
    """Return what is published of a job for some of its readers, as it went out.

    Args:
        connection: The transaction.
        job_id: The job.
        audiences: Whose calendars.

    Raises:
        BookError: somebody wrote into a row what no program of ours does (`book-row-damaged`).
    """
    wanted = sorted(audience.value for audience in audiences)
    mine = (published.c.job_id == job_id, published.c.audience.in_(wanted))
    rows = connection.execute(select(published).where(*mine).order_by(published.c.uid)).mappings()
    with as_written(job_id):
        return tuple(revision_in(row) for row in rows)


def revision_in(row: RowMapping) -> Revision:
    """Return what a row says of a published event.

    Args:
        row: The row.

    Returns:
        The revision.

    Raises:
        ValueError: no program of ours wrote that, `TypeError` and `AttributeError` likewise.
    """
    sequence, lines = row["sequence"], tuple(row["lines"].split("\n"))
    made = Revision(row["uid"], Audience(row["audience"]), sequence, row["changed_at"], lines)
    said = (lines[0], lines[-1], made.value("UID"), made.value("SEQUENCE"))
    is_whole = said == ("BEGIN:VEVENT", "END:VEVENT", made.uid, str(sequence))
    if not is_whole or not 0 <= sequence <= GREATEST_SEQUENCE:
        raise ValueError(sequence)
    return made


def put_history(connection: Connection, job_id: str, made: History, *, expected: str) -> History:
    """Keep what was published of a job, within a transaction: the plan's own, that tells of it.

    Args:
        connection: The transaction.
        job_id: The job's id.
        made: All of the job, unchanged revisions as well.
        expected: The generation of the history it was made from.

    Returns:
        The same as the book keeps it now.

    Raises:
        StoreMoved: the job changed since (`book-moved`).
        BookError: a revision would count backwards (`book-sequence-back`), an event was changed
            past this program (`book-published-changed`), or there is no such job.
    """
    hold_job(connection, job_id)
    history = history_of(connection, job_id)
    if history.generation != expected:
        raise StoreMoved("book-moved", job_id=job_id)
    if not all(is_as_written(row, EVENT) for row in _rows(connection, published, job_id)):
        # What people hold is not known then, and what is kept now would seem to be it.
        raise BookError("book-published-changed", job_id=job_id)
    kept = replace(made, ledger_id=made.ledger_id or history.ledger_id or uuid.uuid4().hex[:16])
    before = {uid: (one, uid in history.suspect) for uid, one in history.revisions.items()}
    after = {uid: (one, uid in made.suspect) for uid, one in made.revisions.items()}
    changed = {uid: how for uid, how in after.items() if before.get(uid) != how}
    for uid, (revision, is_suspect) in changed.items():
        if uid in before and before[uid][0].sequence > revision.sequence:
            raise BookError("book-sequence-back", uid=uid)
        _keep(connection, job_id, revision, suspect=is_suspect)
    _keep_rested_on(connection, job_id, history.rests_on, made.rests_on)
    if not changed and (kept.first, kept.ledger_id) == (history.first, history.ledger_id):
        return kept
    head = {"first_sequence": kept.first, "ledger_id": kept.ledger_id}
    connection.execute(update(job).where(job.c.id == job_id).values(head))
    return replace(kept, generation=str(grow(connection, job_id)))


def take_over(connection: Connection, job_id: str, history: History) -> None:
    """Take over what was published before the job came into the book; from now on it counts here.

    Args:
        connection: The transaction.
        job_id: The job.
        history: What an older ledger knows.

    Raises:
        BookError: something was published from the book already (`book-published-there`).
    """
    known = history_of(connection, job_id)
    if known.revisions:
        raise BookError("book-published-there", job_id=job_id)
    put_history(connection, job_id, history, expected=known.generation)
    _insert_mailed(connection, job_id, history.mailed)


def _rows(connection: Connection, table: Any, job_id: str) -> list[RowMapping]:
    return list(connection.execute(select(table).where(table.c.job_id == job_id)).mappings())


def _keep(connection: Connection, job_id: str, revision: Revision, *, suspect: bool) -> None:
    if any("\n" in line or "\r" in line for line in revision.lines):
        raise BookError("book-text-unusable", text=revision.uid)
    row = {
        "job_id": job_id,
        "uid": revision.uid,
        "audience": revision.audience.value,
        "sequence": revision.sequence,
        "changed_at": revision.changed_at,
        "cancelled": revision.cancelled,
        "lines": "\n".join(revision.lines),
        "suspect": suspect,
    }
    row["digest"] = row_digest(row, EVENT)
    mine = (published.c.job_id == job_id, published.c.uid == revision.uid)
    if not connection.execute(update(published).where(*mine).values(row)).rowcount:
        connection.execute(insert(published).values(row))


def _keep_rested_on(
    connection: Connection,
    job_id: str,
    before: Mapping[str, LogMark],
    after: Mapping[str, LogMark],
) -> None:
    """Keep the log entries that the newest plan rested on; what a person let go is let go."""
    gone = [name for name, mark in before.items() if after.get(name) != mark]
    new = [name for name, mark in after.items() if before.get(name) != mark]
    if gone:
        mine = (rested_on.c.job_id == job_id, rested_on.c.entry_id.in_(gone))
        connection.execute(delete(rested_on).where(*mine))
    if new:
        rows = [
            {
                "job_id": job_id,
                "entry_id": name,
                "digest": after[name].digest,
                "kind": after[name].kind,
                "at": after[name].at,
            }
            for name in new
        ]
        connection.execute(insert(rested_on), rows)


def _insert_mailed(connection: Connection, job_id: str, mails: Iterable[Mailed]) -> None:
    rows = [{"job_id": job_id, **{name: getattr(mail, name) for name in _MAILED}} for mail in mails]
    if rows:
        connection.execute(insert(mailed), rows)
