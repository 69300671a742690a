"""Papers that were written from the book, known again by the hash of their bytes."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime
from typing import TYPE_CHECKING

from sqlalchemy import ColumnElement, func, or_, select
from sqlalchemy.dialects import postgresql, sqlite

from curecal.book.connection.db_errors import as_written
from curecal.book.schema.content_hashes import PAPER, is_as_written, row_digest
from curecal.book.schema.tables import job, job_revision, log_entry, paper
from curecal.errors import BookError
from curecal.records import Record, names_of, record

if TYPE_CHECKING:
    from sqlalchemy import Connection


@record(kw_only=True)
class WrittenPaper(Record):
    """A paper as it was written: what it is, and what it stood on.

    `record_sha256` is the hash of all that a commissioning record tells, empty for other papers.
    `entry_count` is how many entries of the log were known at `as_of`.
    """

    sha256: str
    kind: str
    language: str
    draft: bool
    recorded_at: datetime
    record_sha256: str
    revision: int
    entry_count: int
    as_of: datetime


@record(kw_only=True)
class FoundPaper(Record):
    """A paper of a job of the book, and how far the job has gone on since."""

    job_id: str
    job_name: str
    timezone: str
    paper: WrittenPaper
    newer_revision_count: int
    newer_entry_count: int

    @property
    def is_of_now(self) -> bool:
        """Return whether the job has neither a newer file nor a newer entry."""
        return not self.newer_revision_count and not self.newer_entry_count


def record_papers(connection: Connection, job_id: str, papers: Iterable[WrittenPaper]) -> None:
    """Keep papers of a job; one whose bytes are known already is not kept twice.

    Args:
        connection: The transaction.
        job_id: The job.
        papers: The papers.
    """
    asked = select(paper.c.sha256).where(paper.c.job_id == job_id)
    known = set(connection.execute(asked).scalars())
    insert = (sqlite if connection.dialect.name == "sqlite" else postgresql).insert
    for written in papers:
        if written.sha256 not in known:
            values = {name: getattr(written, name) for name in names_of(WrittenPaper)}
            values["job_id"] = job_id
            row = insert(paper).values(**values, digest=row_digest(values, PAPER))
            # On a server somebody else may keep the same at this moment.
            connection.execute(row.on_conflict_do_nothing())
            known.add(written.sha256)


def papers_of(connection: Connection, job_id: str) -> tuple[WrittenPaper, ...]:
    """Return the papers of a job.

    Args:
        connection: The transaction.
        job_id: The job.

    Returns:
        The papers, the first one first; none that says something else than was kept, which
        `book check` names.
    """
    found = _papers(connection, paper.c.job_id == job_id)
    return tuple(written for _, written, is_whole in found if is_whole)


def find_papers(connection: Connection, sha256: str, *, now: datetime) -> tuple[FoundPaper, ...]:
    """Return the papers of the book that have a hash.

    Args:
        connection: The transaction.
        sha256: The hash of a file, or the first digits of a record's own, as it is printed.
        now: Entries that are known by then are newer than those the paper stood on.

    Returns:
        The papers, the first one first: two jobs may have the same card, and records that tell the
        same may be of different bytes.

    Raises:
        BookError: one of them says something else than was kept (`book-row-damaged`).
    """
    named = or_(paper.c.sha256 == sha256, paper.c.record_sha256.startswith(sha256, autoescape=True))
    found = _papers(connection, named)
    for job_id, _, is_whole in found:
        if not is_whole:
            raise BookError("book-row-damaged", of=job_id, reason="paper")
    return tuple(_found(connection, job_id, written, now) for job_id, written, _ in found)


def _papers(
    connection: Connection, wanted: ColumnElement[bool]
) -> list[tuple[str, WrittenPaper, bool]]:
    """Return papers with their job, and whether each says what was kept of it."""
    rows = select(paper).where(wanted).order_by(paper.c.recorded_at, paper.c.sha256)
    with as_written("paper"):
        return [
            (
                str(row["job_id"]),
                WrittenPaper(**{name: row[name] for name in names_of(WrittenPaper)}),
                is_as_written(row, PAPER),
            )
            for row in connection.execute(rows).mappings()
        ]


def _found(connection: Connection, job_id: str, written: WrittenPaper, now: datetime) -> FoundPaper:
    head = connection.execute(select(job.c.name, job.c.timezone).where(job.c.id == job_id)).one()
    newer = select(func.count()).where(
        job_revision.c.job_id == job_id, job_revision.c.number > written.revision
    )
    until = max(now, written.as_of)
    known = select(func.count()).where(
        log_entry.c.job_id == job_id, log_entry.c.at <= until, log_entry.c.recorded <= until
    )
    return FoundPaper(
        job_id=job_id,
        job_name=head.name,
        timezone=head.timezone,
        paper=written,
        newer_revision_count=int(connection.execute(newer).scalar_one()),
        newer_entry_count=int(connection.execute(known).scalar_one()) - written.entry_count,
    )
