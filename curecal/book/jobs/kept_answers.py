"""What planning made of each job last, with what that rests on; a copy that may go at any time."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime
from typing import TYPE_CHECKING, Any

from sqlalchemy import and_, func, null, select
from sqlalchemy.dialects import postgresql, sqlite

from curecal.book.connection.db_errors import as_written
from curecal.book.schema.tables import answer, job, job_revision, log_entry
from curecal.errors import BookError
from curecal.records import Record, record

if TYPE_CHECKING:
    from sqlalchemy import Connection, RowMapping


# Beyond it the whole table is read: no database takes any number of parameters.
_MOST_NAMED = 500


@record(kw_only=True)
class KeptAnswer(Record):
    """A job of the book and the answer kept of it, all of it None where none is.

    `made_of` says what the job's files and log are now, `kept_of` what they were when the answer
    was made. It holds from `since` on, and no longer at `until`. `basis` is all else it rests on.
    """

    job_id: str
    name: str
    timezone: str
    made_of: str
    kept_of: str | None = None
    basis: str | None = None
    since: datetime | None = None
    until: datetime | None = None
    answer: Any = None
    days: Any = None

    @property
    def is_of_now(self) -> bool:
        """Return whether the answer was made of the job's files and log as they are now."""
        return self.kept_of == self.made_of


def kept_answers(
    connection: Connection,
    *,
    with_days: bool,
    with_answers: bool = True,
    job_ids: Sequence[str] | None = None,
) -> tuple[KeptAnswer, ...]:
    """Return every job of the book with the answer kept of it.

    Args:
        connection: The transaction.
        with_days: Whether the days are wanted as well.
        with_answers: Whether the answers are wanted, or only what they rest on.
        job_ids: The jobs; all of them where None, or where they are many.

    Returns:
        The jobs by id.
    """
    newest = (
        select(job_revision.c.job_id, func.max(job_revision.c.number).label("number"))
        .group_by(job_revision.c.job_id)
        .subquery()
    )
    logged = (
        select(
            log_entry.c.job_id,
            func.count().label("count"),
            func.max(log_entry.c.number).label("last"),
        )
        .group_by(log_entry.c.job_id)
        .subquery()
    )
    revision_of_job = and_(
        job_revision.c.job_id == newest.c.job_id, job_revision.c.number == newest.c.number
    )
    asked = (
        select(
            job.c.id.label("job_id"),
            job.c.name,
            job.c.timezone,
            job.c.generation,
            job_revision.c.digest,
            logged.c.count,
            logged.c.last,
            answer.c.made_of.label("kept_of"),
            answer.c.basis,
            answer.c.since,
            answer.c.until,
            answer.c.answer if with_answers else null().label("answer"),
            answer.c.days if with_days else null().label("days"),
        )
        .select_from(
            job.outerjoin(newest, newest.c.job_id == job.c.id)
            .outerjoin(job_revision, revision_of_job)
            .outerjoin(logged, logged.c.job_id == job.c.id)
            .outerjoin(answer, answer.c.job_id == job.c.id)
        )
        .order_by(job.c.id)
    )
    if job_ids is not None and len(job_ids) <= _MOST_NAMED:
        asked = asked.where(job.c.id.in_(list(job_ids)))
    with as_written("answer"):
        rows = connection.execute(asked).mappings().all()
    same = ("job_id", "name", "timezone", "kept_of", "basis", "since", "until", "answer", "days")
    return tuple(
        KeptAnswer(
            made_of=_stamp_in(row),
            **{name: row[name] for name in same},
        )
        for row in rows
    )


def keep_answers(connection: Connection, made: Sequence[KeptAnswer]) -> None:
    """Keep answers of jobs in place of those that were there.

    Args:
        connection: The transaction.
        made: The answers, each complete.
    """
    if not made:
        return
    insert = (sqlite if connection.dialect.name == "sqlite" else postgresql).insert
    names = ("made_of", "basis", "since", "until", "answer", "days")
    rows = [
        {"job_id": kept.job_id, **{name: getattr(kept, name) for name in names}} for kept in made
    ]
    put = insert(answer)
    connection.execute(
        put.on_conflict_do_update(
            index_elements=["job_id"], set_={name: put.excluded[name] for name in names}
        ),
        rows,
    )


def job_stamp(connection: Connection, job_id: str) -> str:
    """Return what one job's files and log are now, as `KeptAnswer.made_of` says it.

    Args:
        connection: The transaction.
        job_id: The job.

    Raises:
        BookError: there is no such job (`book-job-unknown`).
    """
    newest = (
        select(job_revision.c.digest)
        .where(job_revision.c.job_id == job_id)
        .order_by(job_revision.c.number.desc())
        .limit(1)
        .scalar_subquery()
    )
    # An empty log has no count where jobs are asked for together.
    count = (
        select(func.nullif(func.count(), 0)).where(log_entry.c.job_id == job_id).scalar_subquery()
    )
    last = select(func.max(log_entry.c.number)).where(log_entry.c.job_id == job_id)
    asked = select(
        job.c.generation,
        newest.label("digest"),
        count.label("count"),
        last.scalar_subquery().label("last"),
    )
    row = connection.execute(asked.where(job.c.id == job_id)).mappings().one_or_none()
    if row is None:
        raise BookError("book-job-unknown", job_id=job_id)
    return _stamp_in(row)


def _stamp_in(row: RowMapping) -> str:
    # Each stored change is counted; a row mended by hand shows in the rest.
    return "/".join(str(row[part]) for part in ("generation", "digest", "count", "last"))
