"""What the book holds of a file that the file has no longer: it still counts until taken back."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from datetime import datetime, tzinfo

from curecal.book.jobs.log_entries import StoredEntry
from curecal.records import Record, record
from curecal.site_log_files.corrections import is_withdrawn


@record(kw_only=True)
class Left(Record):
    """An entry of the book that once came out of a file which has it no longer: it still counts.

    `like` are later entries of the same kind, instant and zone: the one that took its place, if
    somebody mended it in the file.
    """

    entry_id: str
    kind: str
    at: datetime
    like: tuple[str, ...] = ()


def left_in(
    log: Sequence[StoredEntry],
    here: Sequence[StoredEntry],
    *,
    named: Collection[str],
    tz: tzinfo,
) -> tuple[Left, ...]:
    """Return those entries of files that were added which none of them has any more.

    Args:
        log: All that the book holds, as it came in.
        here: What the files have.
        named: The files, by the names that the book gives where an entry came from.
        tz: The zone of the site.

    Returns:
        The entries, those left out that were withdrawn.
    """
    there = {entry.entry_id for entry in here}
    tables = {entry.entry_id: entry.table for entry in log}
    return tuple(
        Left(
            entry_id=entry.entry_id,
            kind=entry.kind,
            at=entry.at,
            like=tuple(
                other.entry_id
                for other in log[at + 1 :]
                if other.entry_id in there and _about(other) == _about(entry)
            ),
        )
        for at, entry in enumerate(log)
        if entry.source in named
        and entry.entry_id not in there
        and not is_withdrawn(entry.entry_id, tables, tz)
    )


def _about(entry: StoredEntry) -> tuple[object, ...]:
    return entry.kind, entry.at, entry.body.get("zone")
