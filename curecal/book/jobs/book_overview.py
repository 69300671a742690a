"""What is asked of all jobs of a book at once: their names, their clocks, their company's files."""

from __future__ import annotations

from typing import TYPE_CHECKING

from sqlalchemy import func, select

from curecal.book.connection.db_errors import as_written
from curecal.book.jobs.jobs import content_of
from curecal.book.schema.tables import job, job_revision
from curecal.errors import BookError
from curecal.trade.names import comparable_name

if TYPE_CHECKING:
    from sqlalchemy import Connection


def names_by_id(connection: Connection, job_id: str | None = None) -> dict[str, str]:
    """Return what the jobs of the book are called, by id.

    Args:
        connection: The transaction.
        job_id: One job; all of them where none is named.

    Raises:
        BookError: there is no such job (`book-job-unknown`).
    """
    asked = select(job.c.id, job.c.name).order_by(job.c.id)
    if job_id is not None:
        asked = asked.where(job.c.id == job_id)
    found = {row.id: row.name for row in connection.execute(asked)}
    if job_id is not None and not found:
        raise BookError("book-job-unknown", job_id=job_id)
    return found


def namesakes_of(connection: Connection, job_id: str) -> tuple[str, ...]:
    """Return the ids of other jobs that have the name of a job, in any case.

    Args:
        connection: The transaction.
        job_id: The job.

    Returns:
        The ids in order.
    """
    with as_written("job"):
        rows = connection.execute(select(job.c.id, job.c.name)).all()
    names = {row.id: comparable_name(row.name) for row in rows}
    return tuple(
        sorted(other for other in names if other != job_id and names[other] == names[job_id])
    )


def usual_timezone(connection: Connection) -> str | None:
    """Return the time zone that most jobs of the book keep; None where there is no job.

    Args:
        connection: The transaction.
    """
    many = func.count().desc()
    asked = select(job.c.timezone).group_by(job.c.timezone).order_by(many, job.c.timezone)
    return connection.execute(asked.limit(1)).scalar_one_or_none()


def company_files(connection: Connection) -> tuple[bytes, ...]:
    """Return the files that companies describe their products in, of the jobs as they are now.

    Args:
        connection: The transaction.

    Returns:
        Each file once.
    """
    newest = (
        select(job_revision.c.job_id, func.max(job_revision.c.number).label("number"))
        .group_by(job_revision.c.job_id)
        .subquery()
    )
    own = (job_revision.c.job_id == newest.c.job_id) & (job_revision.c.number == newest.c.number)
    names: set[str] = set()
    for column in (job_revision.c.company_sha256, job_revision.c.materials_sha256):
        asked = select(column).join(newest, own).where(column.is_not(None)).distinct()
        names |= set(connection.execute(asked).scalars())
    return tuple(content_of(connection, name) for name in sorted(names))
