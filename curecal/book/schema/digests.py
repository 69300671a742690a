"""Hashes over what was said, so that what somebody changed behind our back is found.

Revisions and log entries form a chain each: every one holds the hash of itself and of the one
before. A job holds the hash of both ends, of its readings and of what was published. Whoever knows
this can make them anew; a slip, a script or a repair by hand cannot.

How a hash is made never changes: books hold them.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Mapping, Sequence
from datetime import UTC, datetime
from typing import TYPE_CHECKING, Any

from sqlalchemy import select, update

from curecal.book.schema.tables import job, job_revision, log_entry, published, reading_series
from curecal.records import Record, record

if TYPE_CHECKING:
    from sqlalchemy import Connection, RowMapping, Table

ENTRY = ("entry_id", "kind", "at", "recorded", "body", "source")
REVISION = (
    "number",
    "recorded_at",
    "job_sha256",
    "company_sha256",
    "materials_sha256",
    "told",
)
EVENT = ("uid", "audience", "sequence", "changed_at", "cancelled", "lines", "suspect")


@record(kw_only=True)
class Sealed(Record):
    """What a job's own hash is made of: the ends of both chains, readings, published events."""

    job_id: str
    revision_end: str
    log_end: str
    series: Mapping[str, str]
    published: Mapping[str, str]

    @property
    def seal(self) -> str:
        """The hash; empty for a job that holds nothing yet."""
        held = (self.revision_end, self.log_end, dict(self.series), dict(self.published))
        return linked("", self.job_id, *held) if any(held) else ""


def linked(previous: str, *parts: object) -> str:
    """Return the hash of a row in its chain.

    Args:
        previous: The hash of the row before; empty for the first, and where there is no chain.
        parts: What the row says.

    Returns:
        A SHA-256 that rests on no order of keys, and on no way in which a database spells it.
    """
    said = json.dumps([previous, *parts], sort_keys=True, default=_spelled)
    return hashlib.sha256(said.encode()).hexdigest()


def chained(
    previous: str, rows: Sequence[Mapping[str, Any]], names: Sequence[str]
) -> tuple[str, ...]:
    """Return the hash of each of several rows that follow each other.

    Args:
        previous: The hash of the row before them.
        rows: The rows.
        names: What of a row is said.

    Returns:
        The hashes.
    """
    made = []
    for row in rows:
        previous = linked(previous, *(row[name] for name in names))
        made.append(previous)
    return tuple(made)


def end_of(connection: Connection, table: Table, job_id: str) -> str:
    """Return the hash of the last row of a chain. Nobody else adds one before the transaction ends.

    Args:
        connection: The transaction.
        table: Of revisions, or of log entries.
        job_id: The job.

    Returns:
        The hash; empty where there is no row.
    """
    # On a server: whoever else adds one waits here.
    connection.execute(select(job.c.id).where(job.c.id == job_id).with_for_update())
    return _end(connection, table, job_id)


def sealed_of(connection: Connection, job_id: str) -> Sealed:
    """Return what a job's own hash is made of.

    Args:
        connection: The transaction.
        job_id: The job.

    Returns:
        The parts.
    """
    series = select(reading_series.c.file, reading_series.c.sha256)
    events = select(published.c.uid, published.c.seal)
    return Sealed(
        job_id=job_id,
        revision_end=_end(connection, job_revision, job_id),
        log_end=_end(connection, log_entry, job_id),
        series=_pairs(connection, series.where(reading_series.c.job_id == job_id)),
        published=_pairs(connection, events.where(published.c.job_id == job_id)),
    )


def seal(connection: Connection, job_id: str) -> None:
    """Keep the hash of what a job holds now.

    Args:
        connection: The transaction that changed it.
        job_id: The job.
    """
    made = sealed_of(connection, job_id).seal
    connection.execute(update(job).where(job.c.id == job_id).values(seal=made))


def is_sealed(connection: Connection, job_id: str) -> bool:
    """Return whether what was published of a job is what this program last kept of it.

    Args:
        connection: The transaction.
        job_id: The job.

    Returns:
        Whether no event was changed, and none is gone or came in otherwise.
    """
    kept = connection.execute(select(job.c.seal).where(job.c.id == job_id)).scalar_one()
    rows = connection.execute(select(published).where(published.c.job_id == job_id)).mappings()
    return kept == sealed_of(connection, job_id).seal and all(is_event_sealed(row) for row in rows)


def is_event_sealed(row: RowMapping) -> bool:
    """Return whether a published event says what it said when it was kept.

    Args:
        row: The event's row.

    Returns:
        Whether its hash is that of what it says.
    """
    return bool(row["seal"] == linked("", *(row[name] for name in EVENT)))


def _pairs(connection: Connection, asked: Any) -> dict[str, str]:
    return {str(name): str(value) for name, value in connection.execute(asked)}


def _end(connection: Connection, table: Table, job_id: str) -> str:
    asked = select(table.c.chain).where(table.c.job_id == job_id)
    last = connection.execute(asked.order_by(table.c.number.desc()).limit(1)).scalar_one_or_none()
    return str(last or "")


def _spelled(value: object) -> str:
    if isinstance(value, datetime):
        # One that a database gives back without an offset is of UTC.
        at = value.replace(tzinfo=UTC) if value.tzinfo is None else value.astimezone(UTC)
        return at.isoformat()
    raise TypeError(type(value).__name__)
