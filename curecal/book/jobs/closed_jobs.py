"""Jobs that the office has closed: they stand in no list, and everything else of them goes on."""

from __future__ import annotations

from datetime import datetime
from typing import TYPE_CHECKING

from sqlalchemy import select

from curecal.book.jobs.jobs import newest_revision
from curecal.book.meta import keep_value
from curecal.book.schema.tables import meta

if TYPE_CHECKING:
    from sqlalchemy import Connection

_PREFIX = "closed:"


def close_job(connection: Connection, job_id: str, *, by: str, now: datetime) -> None:
    """Close a job. What still stops its floor is told as before.

    Args:
        connection: The transaction.
        job_id: The job.
        by: Who closes it.
        now: When.

    Raises:
        BookError: there is no such job (`book-job-unknown`).
    """
    newest_revision(connection, job_id)
    keep_value(connection, _PREFIX + job_id, {"by": by, "at": now.isoformat()})


def open_job_again(connection: Connection, job_id: str) -> None:
    """Put a closed job back into the lists.

    Args:
        connection: The transaction.
        job_id: The job.
    """
    keep_value(connection, _PREFIX + job_id, None)


def closed_jobs(connection: Connection) -> frozenset[str]:
    """Return the ids of the jobs that are closed.

    Args:
        connection: The transaction.
    """
    asked = select(meta.c.key).where(meta.c.key.startswith(_PREFIX, autoescape=True))
    return frozenset(key.removeprefix(_PREFIX) for key in connection.execute(asked).scalars())
