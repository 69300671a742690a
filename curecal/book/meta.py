"""Holds, heartbeats, and single values that the book keeps by name."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime
from typing import TYPE_CHECKING

from sqlalchemy import bindparam, delete, insert, select, text, update

from curecal.book.schema.tables import heartbeat, job, meta
from curecal.errors import BookError
from curecal.machine import LeaseNow
from curecal.records import PlainView, Record, record

if TYPE_CHECKING:
    from sqlalchemy.engine import Connection

_HOLD = "hold"
# Built once: asked of each job in a round. What another transaction keeps at this moment is waited
# for, and then written over.
_VALUE = select(meta.c.value).where(meta.c.key == bindparam("key"))
_VALUE_HELD = _VALUE.with_for_update()
_KEEP = text(
    "INSERT INTO meta (key, value) VALUES (:key, :value)"
    " ON CONFLICT (key) DO UPDATE SET value = excluded.value"
).bindparams(bindparam("value", type_=meta.c.value.type))
DAMAGED = "damaged"
"""Why a job is on hold that cannot be read: of it only goes what is urgent and written."""
STALE_S = 240.0
"""A process without a heartbeat for so long is no longer running: it ends itself, and people who
ask are told so [s]."""


@record
class Beat(Record):
    """The last sign of life of a process: by the wall, and on the clock of leases."""

    name: str
    at: datetime
    clock: LeaseNow
    note: PlainView


def value_of(connection: Connection, key: str, *, held: bool = False) -> PlainView | None:
    """Return what is kept under a name.

    Args:
        connection: The transaction.
        key: The name.
        held: Whether nobody else may change it before the transaction's end.

    Returns:
        The value; None where there is none.
    """
    asked = _VALUE_HELD if held else _VALUE
    found: PlainView | None = connection.execute(asked, {"key": key}).scalar_one_or_none()
    return found


def keep_value(connection: Connection, key: str, value: PlainView | None) -> None:
    """Keep a value under a name.

    Args:
        connection: The transaction.
        key: The name.
        value: The value, as JSON takes it; None forgets it.
    """
    if value is None:
        connection.execute(delete(meta).where(meta.c.key == key))
        return
    connection.execute(_KEEP, {"key": key, "value": dict(value)})


def hold_of(connection: Connection) -> PlainView | None:
    """Return why nothing goes out of the whole book.

    Args:
        connection: The transaction.

    Returns:
        `{"reason": …, "since": …}`; None while messages go out.
    """
    return value_of(connection, _HOLD)


def hold(
    connection: Connection,
    reason: str,
    *,
    now: datetime,
    job_id: str | None = None,
    believed: datetime | None = None,
) -> None:
    """Let nothing go out, of one job or of all. A hold that is there keeps its reason.

    Args:
        connection: The transaction.
        reason: Why, a code.
        now: Since when.
        job_id: The job; all of them where none is named.
        believed: The last instant before a clock was in doubt, where that is the reason.

    Raises:
        BookError: there is no such job (`book-job-unknown`).
    """
    if job_id is None:
        if hold_of(connection) is None:
            found = {"reason": reason, "since": now.isoformat()}
            more = {} if believed is None else {"believed": believed.isoformat()}
            keep_value(connection, _HOLD, found | more)
        return
    _set_job_hold(connection, job_id, reason)


def release_hold(connection: Connection, *, job_id: str | None = None) -> None:
    """Let messages go out again, of one job or of the book.

    Args:
        connection: The transaction.
        job_id: The job; the book's own hold where none is named.

    Raises:
        BookError: there is no such job (`book-job-unknown`).
    """
    if job_id is None:
        keep_value(connection, _HOLD, None)
        return
    _set_job_hold(connection, job_id, "")


def held_jobs(connection: Connection) -> Mapping[str, str]:
    """Return the jobs on hold, with the reason.

    Args:
        connection: The transaction.

    Returns:
        The reason by job id.
    """
    asked = select(job.c.id, job.c.hold).where(job.c.hold != "").order_by(job.c.id)
    return {row.id: row.hold for row in connection.execute(asked)}


def _set_job_hold(connection: Connection, job_id: str, reason: str) -> None:
    changed = connection.execute(update(job).where(job.c.id == job_id).values(hold=reason))
    if not changed.rowcount:
        raise BookError("book-job-unknown", job_id=job_id)


def beat(
    connection: Connection,
    name: str,
    *,
    at: datetime,
    clock: LeaseNow,
    note: PlainView,
) -> None:
    """Leave a sign of life.

    Args:
        connection: The transaction.
        name: Whose.
        at: The wall's time.
        clock: The same instant on the clock of leases.
        note: What else to say, as JSON takes it.
    """
    values = {
        "at": at,
        "boot_id": clock.boot_id,
        "since_boot_s": clock.now_s,
        "note": dict(note),
    }
    known = update(heartbeat).where(heartbeat.c.name == name).values(values)
    if not connection.execute(known).rowcount:
        connection.execute(insert(heartbeat).values(name=name, **values))


def beats(connection: Connection) -> tuple[Beat, ...]:
    """Return the last signs of life, by name.

    Args:
        connection: The transaction.

    Returns:
        One of each process that left any.
    """
    rows = connection.execute(select(heartbeat).order_by(heartbeat.c.name))
    return tuple(
        Beat(row.name, row.at, LeaseNow(row.boot_id, row.since_boot_s), row.note) for row in rows
    )
