"""What was published of a job, in the book: the calendars' port `Published`."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime
from typing import TYPE_CHECKING

from sqlalchemy import insert, select, update

from curecal.book.connection.db_errors import as_written
from curecal.book.jobs.jobs import grow
from curecal.book.schema.digests import EVENT, is_sealed, linked
from curecal.book.schema.tables import job, published
from curecal.calendars import Audience, History, Revision
from curecal.calendars.revision import GREATEST_SEQUENCE
from curecal.errors import BookError, StoreMoved

if TYPE_CHECKING:
    from sqlalchemy import Connection, RowMapping

    from curecal.book.connection.open_book import Book

AFTER_LOSS = 100
"""How far SEQUENCE jumps where people may hold newer revisions than the book."""
UNKNOWN_FIRST = 1000
"""Where SEQUENCE starts when nothing is known of what people hold."""


class BookPublished:
    """The store of published revisions in a book. Its generation is the job's."""

    def __init__(self, book: Book) -> None:
        self.book = book

    def history(self, job_id: str) -> History:
        """All of a job.

        Args:
            job_id: The job's id.

        Returns:
            Its revisions by UID; an empty history for a job never published.

        Raises:
            BookError: there is no such job (`book-job-unknown`), or the book cannot be read.
        """
        with self.book.reading() as connection:
            return history_of(connection, job_id)

    def put(self, job_id: str, revisions: Iterable[Revision], *, expected: str) -> None:
        """Keep the revisions of a job, all of them or none.

        Args:
            job_id: The job's id.
            revisions: All of the job, those unchanged as well.
            expected: The generation of the history they were made from.

        Raises:
            StoreMoved: the job changed since (`book-moved`); nothing was kept.
            BookError: a revision would count backwards (`book-sequence-back`), there is no such
                job, or the book cannot be written.
        """
        with self.book.writing() as connection:
            put_revisions(connection, job_id, revisions, expected=expected)


def history_of(connection: Connection, job_id: str) -> History:
    """Return all that was published of a job.

    Args:
        connection: The transaction.
        job_id: The job.

    Returns:
        The history.

    Raises:
        BookError: there is no such job (`book-job-unknown`).
    """
    head = connection.execute(
        select(job.c.generation, job.c.first_sequence).where(job.c.id == job_id)
    ).one_or_none()
    if head is None:
        raise BookError("book-job-unknown", job_id=job_id)
    revisions: dict[str, Revision] = {}
    suspect = set()
    asked = select(published).where(published.c.job_id == job_id).order_by(published.c.uid)
    with as_written(job_id):
        for row in connection.execute(asked).mappings():
            revisions[row["uid"]] = revision_in(row)
            if row["suspect"]:
                suspect.add(row["uid"])
        first = int(head.first_sequence)
    stamps = [each.changed_at for each in revisions.values()]
    return History(
        str(head.generation),
        revisions,
        first,
        max(stamps, default=None) if first else None,
        frozenset(suspect),
    )


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


def put_revisions(
    connection: Connection, job_id: str, revisions: Iterable[Revision], *, expected: str
) -> None:
    """Keep the revisions of a job, within a transaction: the plan's own, that tells of them.

    Args:
        connection: The transaction.
        job_id: The job's id.
        revisions: All of the job, those unchanged as well.
        expected: The generation of the history they were made from.

    Raises:
        StoreMoved: the job changed since (`book-moved`).
        BookError: a revision would count backwards (`book-sequence-back`), what the book holds was
            changed past this program (`book-published-changed`), or there is no such job.
    """
    # On a server: nobody changes the job between this look and the end.
    connection.execute(select(job.c.id).where(job.c.id == job_id).with_for_update())
    history = history_of(connection, job_id)
    if history.generation != expected:
        raise StoreMoved("book-moved", job_id=job_id)
    if not is_sealed(connection, job_id):
        # What people hold is not known then, and what is kept now would seem to be it.
        raise BookError("book-published-changed", job_id=job_id)
    changed = [
        each
        for each in revisions
        if history.revisions.get(each.uid) != each or each.uid in history.suspect
    ]
    for each in changed:
        before = history.revisions.get(each.uid)
        if before is not None and before.sequence > each.sequence:
            raise BookError("book-sequence-back", uid=each.uid)
        # One that was not counted on past the loss is no surer than before.
        suspect = each.uid in history.suspect and each.sequence < history.first
        _keep(connection, job_id, each, suspect=suspect)
    if changed:
        grow(connection, job_id)


def met(kept: History, shown: History) -> History:
    """Return what a book and a place that shows its calendars know together.

    The place may be ahead: the book came back from a copy, or the job was published past it. What
    people hold is then not known, and all of it is suspect.

    Args:
        kept: What the book knows.
        shown: What the place shows.

    Returns:
        The book's history itself where the place shows nothing newer or else. Otherwise the later
        revision of each entry, all to be published anew from past the highest number of both.
    """
    ahead = [each for each in shown.revisions.values() if _is_ahead(each, kept, shown)]
    if not ahead:
        return kept
    revisions = dict(kept.revisions)
    for each in ahead:
        before = revisions.get(each.uid)
        if before is None or _order(each) >= _order(before):
            revisions[each.uid] = each
    known = (*kept.revisions.values(), *shown.revisions.values())
    # A number that nothing counts up to was typed by somebody, and leaves no room above it.
    plausible = [at for each in known if (at := each.sequence) <= GREATEST_SEQUENCE // 2]
    stamps = (*(each.changed_at for each in known), kept.newest_at, shown.newest_at)
    return History(
        kept.generation,
        revisions,
        max(kept.first, shown.first, first_after(plausible)),
        max(at for at in stamps if at is not None),
        frozenset(revisions),
    )


def _order(each: Revision) -> tuple[int, datetime]:
    return each.sequence, each.changed_at


def _is_ahead(each: Revision, kept: History, shown: History) -> bool:
    """Whether an entry that is shown is none that the book has, or had before its newest one."""
    last = kept.revisions.get(each.uid)
    if last is None or _order(each) > _order(last):
        return True
    # What a damaged file lost says nothing of what the book knows.
    same = each.uid in shown.suspect or each.content == last.content
    return each.sequence == last.sequence and not same


def take_over(connection: Connection, job_id: str, history: History) -> None:
    """Take over what was published before the job came into the book; from now on it counts here.

    Args:
        connection: The transaction.
        job_id: The job.
        history: What an older store knows.

    Raises:
        BookError: something was published from the book already (`book-published-there`).
    """
    if history_of(connection, job_id).revisions:
        raise BookError("book-published-there", job_id=job_id)
    for each in history.revisions.values():
        _keep(connection, job_id, each, suspect=each.uid in history.suspect)
    count_from(connection, job_id, history.first)
    grow(connection, job_id)


def count_from(connection: Connection, job_id: str, first: int) -> None:
    """Say where SEQUENCE starts for events of a job that the book does not know.

    Args:
        connection: The transaction.
        job_id: The job.
        first: The SEQUENCE.
    """
    connection.execute(update(job).where(job.c.id == job_id).values(first_sequence=first))


def first_after(sequences: Iterable[int]) -> int:
    """Return where SEQUENCE goes on after a loss.

    Args:
        sequences: All that are known.

    Returns:
        A hundred past the highest; a thousand where none is known.
    """
    highest = max(sequences, default=None)
    return UNKNOWN_FIRST if highest is None else highest + AFTER_LOSS


def _keep(connection: Connection, job_id: str, each: Revision, *, suspect: bool) -> None:
    if any("\n" in line or "\r" in line for line in each.lines):
        raise BookError("book-text-unusable", text=each.uid)
    values = {
        "audience": each.audience.value,
        "sequence": each.sequence,
        "changed_at": each.changed_at,
        "cancelled": each.cancelled,
        "lines": "\n".join(each.lines),
        "suspect": suspect,
    }
    values["seal"] = linked("", each.uid, *(values[name] for name in EVENT[1:]))
    mine = (published.c.job_id == job_id, published.c.uid == each.uid)
    if not connection.execute(update(published).where(*mine).values(values)).rowcount:
        connection.execute(insert(published).values(job_id=job_id, uid=each.uid, **values))
