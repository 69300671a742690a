"""Pictures that came with log entries: octets by the name that the log has."""

from __future__ import annotations

from typing import TYPE_CHECKING

from sqlalchemy import insert, select

from curecal.book.jobs.jobs import content_of, put_content
from curecal.book.schema.tables import picture

if TYPE_CHECKING:
    from sqlalchemy import Connection


def keep_picture(connection: Connection, job_id: str, file: str, data: bytes) -> None:
    """Keep a picture under the name that a log entry has.

    Args:
        connection: The transaction.
        job_id: The job.
        file: The name. One that is there already keeps its octets.
        data: The octets.
    """
    mine = select(picture.c.sha256).where(picture.c.job_id == job_id, picture.c.file == file)
    if connection.execute(mine).scalar_one_or_none() is None:
        row = {"job_id": job_id, "file": file, "sha256": put_content(connection, data)}
        connection.execute(insert(picture).values(row))


def picture_of(connection: Connection, job_id: str, file: str) -> bytes | None:
    """Return a picture by its name; None where the book has none.

    Args:
        connection: The transaction.
        job_id: The job.
        file: The name that the log has.

    Returns:
        The octets.

    Raises:
        BookError: they are damaged (`book-content-damaged`).
    """
    mine = select(picture.c.sha256).where(picture.c.job_id == job_id, picture.c.file == file)
    found = connection.execute(mine).scalar_one_or_none()
    return None if found is None else content_of(connection, found)


def pictures_of(connection: Connection, job_id: str) -> dict[str, str]:
    """Return the hashes of a job's pictures by name.

    Args:
        connection: The transaction.
        job_id: The job.
    """
    asked = select(picture.c.file, picture.c.sha256).where(picture.c.job_id == job_id)
    return {row.file: row.sha256 for row in connection.execute(asked.order_by(picture.c.file))}
