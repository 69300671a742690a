"""A job out of the book, as a folder: its files as people know them, and all else beside them.

`job.toml`, the log as `job-book.toml`, readings and company lie there to be read and planned with.
`book.json` says everything, and is written last: a folder without it is not complete.
"""

from __future__ import annotations

import json
import os
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any

from sqlalchemy import select

from curecal.book.entries import StoredEntry, entries_of
from curecal.book.jobs import (
    JobRevision,
    content_of,
    newest_revision,
    revisions_of,
    series_of,
    sources_of,
)
from curecal.book.published import history_of
from curecal.book.schema import job
from curecal.book.sources import lay_out, sha256
from curecal.errors import BookError
from curecal.records import Record

if TYPE_CHECKING:
    from sqlalchemy import Connection

    from curecal.book.opening import Book
    from curecal.calendars import Revision

SCHEMA = 1
MANIFEST = "book.json"
CONTENT = "content"


@dataclass(frozen=True, slots=True, eq=False, repr=False)
class Exported(Record):
    """An export: its folder, and how much of the job is in it."""

    folder: Path
    revision_count: int
    entry_count: int
    published_count: int


def export_job(book: Book, job_id: str, folder: Path) -> Exported:
    """Write a job into a folder, so that it can be read, planned with, and restored.

    Args:
        book: The book.
        job_id: The job.
        folder: A folder that is not there, or empty.

    Returns:
        What was written.

    Raises:
        BookError: there is no such job (`book-job-unknown`), the folder holds something
            (`book-folder-full`), or it cannot be written (`book-export-unwritable`).
    """
    with book.reading() as connection:
        newest = newest_revision(connection, job_id)
        document = _document(connection, job_id)
        sources = sources_of(connection, job_id, newest)
        contents = {name: content_of(connection, name) for name in document["content"]}
        entries = entries_of(connection, job_id)
    try:
        folder.mkdir(parents=True, exist_ok=True)
        if any(folder.iterdir()):
            raise BookError("book-folder-full", path=str(folder))
        lay_out(folder, sources, [each.table for each in entries])
        (folder / CONTENT).mkdir()
        for name, data in contents.items():
            (folder / CONTENT / name).write_bytes(data)
        with (folder / MANIFEST).open("xb") as file:
            file.write(written(document))
            file.flush()
            os.fsync(file.fileno())
    except OSError as error:
        reason = error.strerror or type(error).__name__
        raise BookError("book-export-unwritable", path=str(folder), reason=reason) from None
    return Exported(folder, len(document["revisions"]), len(entries), len(document["published"]))


def written(document: Mapping[str, Any]) -> bytes:
    """Return a manifest's octets, with the digest of what it says.

    Args:
        document: What it says.

    Returns:
        The octets.
    """
    whole = {**document, "digest": digest(document)}
    return (json.dumps(whole, ensure_ascii=False, indent=1, allow_nan=False) + "\n").encode()


def digest(document: Mapping[str, Any]) -> str:
    """Return the digest of a manifest, its own left out.

    Args:
        document: What it says.

    Returns:
        A SHA-256 that rests on no order of keys.
    """
    said = {key: value for key, value in document.items() if key != "digest"}
    return sha256(json.dumps(said, sort_keys=True, allow_nan=False).encode())


def _document(connection: Connection, job_id: str) -> dict[str, Any]:
    head = connection.execute(select(job).where(job.c.id == job_id)).mappings().one()
    revisions = revisions_of(connection, job_id)
    series = series_of(connection, job_id)
    parts = ("job_sha256", "company_sha256", "materials_sha256")
    named = {getattr(each, part) for each in revisions for part in parts} - {None}
    history = history_of(connection, job_id)
    return {
        "schema": SCHEMA,
        "job": {key: head[key] for key in ("id", "name", "timezone", "generation")},
        "revisions": [_plain(each, JobRevision.__slots__) for each in revisions],
        "log": [_plain(each, StoredEntry.__slots__) for each in entries_of(connection, job_id)],
        "series": series,
        "first_sequence": history.first,
        "published": [_published(each) for each in history.revisions.values()],
        "content": sorted(named | set(series.values())),
    }


def _plain(record: object, names: tuple[str, ...]) -> dict[str, Any]:
    found = {name: getattr(record, name) for name in names}
    return {
        name: value.isoformat() if isinstance(value, datetime) else value
        for name, value in found.items()
    }


def _published(each: Revision) -> dict[str, Any]:
    return {
        "uid": each.uid,
        "audience": each.audience.value,
        "sequence": each.sequence,
        "changed_at": each.changed_at.isoformat(),
        "lines": list(each.lines),
    }
