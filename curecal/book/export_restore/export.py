"""A job out of the book, as a folder: its files as people know them, and all else beside them.

`job.toml` with the whole log in it, readings and company lie there to be read and planned with; all
that a person could edit is named by its hash, so that it is not taken for what the book had.
`book.json` says everything, and gets its name last: a folder without it is not complete.
"""

from __future__ import annotations

import contextlib
import json
import os
import shutil
from collections.abc import Mapping, Sequence
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING

from sqlalchemy import select

from curecal.book.jobs.job_sources import Laid, Sources, lay_out_whole, sha256
from curecal.book.jobs.jobs import (
    JobRevision,
    content_of,
    newest_revision,
    revisions_of,
    series_of,
    sources_of,
)
from curecal.book.jobs.log_entries import StoredEntry, entries_of
from curecal.book.jobs.paths_inside import write_inside
from curecal.book.jobs.pictures import pictures_of
from curecal.book.jobs.written_papers import WrittenPaper, papers_of
from curecal.book.ledger.ledger import history_of
from curecal.book.schema.tables import job
from curecal.errors import BookError
from curecal.records import PlainTable, PlainView, Record, names_of, record

if TYPE_CHECKING:
    from sqlalchemy import Connection

    from curecal.book.connection.open_book import Book
    from curecal.calendars import Revision

SCHEMA = 1
MANIFEST = "book.json"
CONTENT = "content"
PICTURES = "pictures"
UNFINISHED = f"{MANIFEST}.unfinished"


@record
class Exported(Record):
    """An export: its folder, the files to plan with, and how much of the job is in it."""

    folder: Path
    laid: Laid
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
            (`book-folder-full`) or an export that was broken off (`book-export-unfinished`), or it
            cannot be written (`book-export-unwritable`).
    """
    with book.reading() as connection:
        newest = newest_revision(connection, job_id)
        document = _document(connection, job_id)
        sources = sources_of(connection, job_id, newest)
        contents = {name: content_of(connection, name) for name in document["content"]}
        entries = entries_of(connection, job_id)
    try:
        folder.mkdir(parents=True, exist_ok=True, mode=0o700)
        _refuse_full(folder)
        try:
            laid = _fill(folder, document, contents, (sources, entries))
        except BaseException:
            _empty(folder)
            raise
    except OSError as error:
        reason = error.strerror or type(error).__name__
        raise BookError("book-export-unwritable", path=str(folder), reason=reason) from None
    counts = (len(document["revisions"]), len(entries), len(document["published"]))
    return Exported(folder, laid, *counts)


def _refuse_full(folder: Path) -> None:
    there = {path.name for path in folder.iterdir()}
    if UNFINISHED in there:
        raise BookError("book-export-unfinished", path=str(folder))
    if there:
        raise BookError("book-folder-full", path=str(folder))


def _fill(
    folder: Path,
    document: PlainTable,
    contents: Mapping[str, bytes],
    job: tuple[Sources, Sequence[StoredEntry]],
) -> Laid:
    # Its name marks the folder until all is there: an export that is killed says so.
    manifest = write_inside(folder, UNFINISHED, b"")
    sources, entries = job
    laid = lay_out_whole(folder, sources, [entry.table for entry in entries])
    for name, number in document["pictures"].items():
        # In a folder of their own: no picture takes the place of the job file.
        write_inside(folder, f"{PICTURES}/{name}", contents[number])
    document["files"] = {
        path.relative_to(folder).as_posix(): sha256(path.read_bytes())
        for path in sorted(folder.rglob("*"))
        if path.is_file() and path != manifest
    }
    for name, data in contents.items():
        write_inside(folder, f"{CONTENT}/{name}", data)
    with manifest.open("wb") as file:
        file.write(written(document))
        file.flush()
        os.fsync(file.fileno())
    manifest.replace(folder / MANIFEST)
    return laid


def _empty(folder: Path) -> None:
    """Take away what was written of an export; the folder was empty before."""
    for path in folder.iterdir():
        if path.is_dir():
            shutil.rmtree(path, ignore_errors=True)
        else:
            with contextlib.suppress(OSError):
                path.unlink()


def written(document: PlainView) -> bytes:
    """Return a manifest's octets, with the digest of what it says.

    Args:
        document: What it says.

    Returns:
        The octets.
    """
    whole = {**document, "digest": digest(document)}
    return (json.dumps(whole, ensure_ascii=False, indent=1, allow_nan=False) + "\n").encode()


def digest(document: PlainView) -> str:
    """Return the digest of a manifest, its own left out.

    Args:
        document: What it says.

    Returns:
        A SHA-256 that rests on no order of keys.
    """
    said = {key: value for key, value in document.items() if key != "digest"}
    return sha256(json.dumps(said, sort_keys=True, allow_nan=False).encode())


def _document(connection: Connection, job_id: str) -> PlainTable:
    head = connection.execute(select(job).where(job.c.id == job_id)).mappings().one()
    revisions = revisions_of(connection, job_id)
    series, pictures = series_of(connection, job_id), pictures_of(connection, job_id)
    parts = ("job_sha256", "company_sha256", "materials_sha256")
    named = {getattr(revision, part) for revision in revisions for part in parts} - {None}
    history = history_of(connection, job_id)
    return {
        "schema": SCHEMA,
        "job": {key: head[key] for key in ("id", "name", "timezone", "generation")},
        "revisions": [_plain(revision, names_of(JobRevision)) for revision in revisions],
        "log": [_plain(entry, names_of(StoredEntry)) for entry in entries_of(connection, job_id)],
        "series": series,
        "pictures": pictures,
        "papers": [
            _plain(written, names_of(WrittenPaper)) for written in papers_of(connection, job_id)
        ],
        "first_sequence": history.first,
        "ledger_id": history.ledger_id,
        "published": [_published(revision) for revision in history.revisions.values()],
        "rests_on": [
            [entry_id, mark.digest, mark.kind, mark.at.isoformat()]
            for entry_id, mark in sorted(history.rests_on.items())
        ],
        "mailed": sorted(
            [mail.uid, mail.sequence, mail.recipient, mail.sender] for mail in history.mailed
        ),
        "content": sorted(named | {*series.values(), *pictures.values()}),
    }


def _plain(record: object, names: tuple[str, ...]) -> PlainTable:
    found = {name: getattr(record, name) for name in names}
    return {
        name: value.isoformat() if isinstance(value, datetime) else value
        for name, value in found.items()
    }


def _published(revision: Revision) -> PlainTable:
    return {
        "uid": revision.uid,
        "audience": revision.audience.value,
        "sequence": revision.sequence,
        "changed_at": revision.changed_at.isoformat(),
        "lines": list(revision.lines),
    }
