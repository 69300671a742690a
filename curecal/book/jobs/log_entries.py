"""Log entries as the book holds them: a table of TOML as JSON and back, none the poorer."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from datetime import date, datetime, time
from typing import TYPE_CHECKING, Any

from sqlalchemy import bindparam, insert, select

from curecal.book.connection.db_errors import as_written
from curecal.book.schema.content_hashes import ENTRY, row_digest
from curecal.book.schema.tables import log_entry
from curecal.errors import ValueRefused
from curecal.instants import instant_of
from curecal.records import PlainTable, PlainView, Record, names_of, record
from curecal.site_log_files.log_reader import identity_of

if TYPE_CHECKING:
    from sqlalchemy import Connection

    from curecal.job_files import ReadJob

# A table of one key that no job file can hold says what a text of JSON stands for.
_READERS = {
    "$instant": datetime.fromisoformat,
    "$day": date.fromisoformat,
    "$time": time.fromisoformat,
}


@record(kw_only=True)
class StoredEntry(Record):
    """A log entry in the book: what stands in a file, and who or what brought it."""

    entry_id: str
    kind: str
    at: datetime
    recorded: datetime
    body: PlainView
    source: str

    @property
    def table(self) -> PlainTable:
        """The entry as a table of a log file, with its identity."""
        with as_written(self.entry_id):
            return {"id": self.entry_id, **table_of(self.body)}


# Built once: asked of each job in a round.
_OF_JOB = (
    select(*(log_entry.c[name] for name in names_of(StoredEntry)))
    .where(log_entry.c.job_id == bindparam("job_id"))
    .order_by(log_entry.c.number)
)


def body_of(table: PlainView) -> PlainTable:
    """Return a table of TOML as JSON takes it.

    Args:
        table: The table.

    Returns:
        The same with instants, days and times spelled out.
    """
    return {key: _spelled(value) for key, value in table.items()}


def table_of(body: PlainView) -> PlainTable:
    """Return what `body_of` was made of.

    Args:
        body: The JSON.

    Returns:
        The table.
    """
    return {key: _read(value) for key, value in body.items()}


def entries_in(read: ReadJob, *, source: str, now: datetime) -> tuple[StoredEntry, ...]:
    """Return every entry that was read for a job, as the book is to hold it.

    Args:
        read: The job as read.
        source: What to call the place of those that stand in the job file.
        now: The instant for an entry that is withdrawn and has none that can be read.

    Returns:
        The entries in order, each identity once.
    """
    made: dict[str, StoredEntry] = {}
    dates = {entry.id: (entry.at, entry.recorded) for entry in read.log}
    for where, table in _tables(read, source):
        number = identity_of(dict(table))
        at, recorded = dates.get(number) or (_at(table, read) or now,) * 2
        body = body_of({key: value for key, value in table.items() if key != "id"})
        made.setdefault(
            number,
            StoredEntry(
                entry_id=number,
                kind=str(table.get("kind")),
                at=at,
                recorded=recorded,
                body=body,
                source=where,
            ),
        )
    return tuple(made.values())


def tables_in(read: ReadJob) -> tuple[PlainView, ...]:
    """Return every entry that was read for a job as it stands in its file.

    Args:
        read: The job as read.

    Returns:
        The tables in order.
    """
    return tuple(table for _, table in _tables(read, ""))


def entries_of(connection: Connection, job_id: str) -> tuple[StoredEntry, ...]:
    """Return the log of a job.

    Args:
        connection: The transaction.
        job_id: The job.

    Returns:
        The entries, as they came in.

    Raises:
        BookError: somebody wrote into a row what is no entry (`book-row-damaged`).
    """
    with as_written(job_id):
        rows = connection.execute(_OF_JOB, {"job_id": job_id}).mappings()
        return tuple(StoredEntry(**row) for row in rows)


def count_known(entries: Iterable[StoredEntry], at: datetime) -> int:
    """Return how many entries of a log were known at an instant: they had happened and were told.

    Args:
        entries: The log.
        at: The instant.
    """
    return sum(max(entry.at, entry.recorded) <= at for entry in entries)


def insert_entries(connection: Connection, job_id: str, entries: tuple[StoredEntry, ...]) -> None:
    """Append entries to the log of a job.

    Args:
        connection: The transaction.
        job_id: The job.
        entries: The entries; none that is there already.
    """
    if not entries:
        return
    rows = [
        {"job_id": job_id, **{name: getattr(entry, name) for name in names_of(StoredEntry)}}
        for entry in entries
    ]
    connection.execute(
        insert(log_entry), [{**row, "digest": row_digest(row, ENTRY)} for row in rows]
    )


def _tables(read: ReadJob, source: str) -> Iterator[tuple[str, PlainView]]:
    for table in read.raw.get("log", ()):
        yield source, table
    for further in read.raw.get("further_log", ()):
        for table in further.get("log", ()):
            yield str(further.get("name", "")), table


def _at(table: PlainView, read: ReadJob) -> datetime | None:
    value = table.get("at")
    try:
        if isinstance(value, date) and read.job is not None:
            return instant_of(value, read.job.tz)
    except ValueRefused:
        pass
    return None


def _spelled(value: object) -> Any:
    if isinstance(value, datetime):
        return {"$instant": value.isoformat()}
    if isinstance(value, date):
        return {"$day": value.isoformat()}
    if isinstance(value, time):
        return {"$time": value.isoformat()}
    if isinstance(value, list | tuple):
        return [_spelled(item) for item in value]
    return value


def _read(value: Any) -> Any:
    if isinstance(value, Mapping) and len(value) == 1:
        ((name, text),) = value.items()
        if name in _READERS:
            return _READERS[name](text)
    return [_read(item) for item in value] if isinstance(value, list) else value
