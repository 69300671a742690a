"""A job back into a book, from the folder that an export wrote.

People may hold newer calendars than the export knows: SEQUENCE goes on well past it, and nothing
is sent of the job until a person has seen what would be.
"""

from __future__ import annotations

import json
from collections.abc import Mapping
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING

from sqlalchemy import insert, select
from sqlalchemy.exc import CompileError

from curecal.book.export_restore.export import CONTENT, MANIFEST, SCHEMA, digest
from curecal.book.jobs.job_sources import Sources, refuse_outside, sha256
from curecal.book.jobs.jobs import insert_revision, put_content, read_in
from curecal.book.jobs.log_entries import StoredEntry, insert_entries
from curecal.book.jobs.paths_inside import is_inside, read_inside
from curecal.book.jobs.pictures import keep_picture
from curecal.book.jobs.written_papers import WrittenPaper, record_papers
from curecal.book.ledger.ledger import take_over
from curecal.book.schema.tables import job, reading_series
from curecal.calendars import Audience, History, LogMark, Mailed, Revision
from curecal.calendars.revisions.lost_ledger import after_loss
from curecal.errors import BookError, InstantRefused, JobRefused
from curecal.job_files import ReadJob
from curecal.records import PlainTable, PlainView, Record, record

if TYPE_CHECKING:
    from sqlalchemy import Connection

    from curecal.book.connection.open_book import Book

RESTORED = "restored"
"""Why a restored job is on hold."""
# Far above a job with years of readings: what is larger was made to fill the memory.
_LARGEST_BYTES = 1 << 28


@record
class Restored(Record):
    """A restored job, and the SEQUENCE that its calendars go on with."""

    job_id: str
    read: ReadJob
    first_sequence: int


@record
class JobExport(Record):
    """An export as it was read and found whole."""

    folder: Path
    document: PlainView
    contents: Mapping[str, bytes]


def read_export(place: Path) -> JobExport:
    """Return what a folder holds of a job, before any book is touched.

    Args:
        place: The export's folder, or the manifest in it.

    Returns:
        The export.

    Raises:
        BookError: the folder is no export (`book-export-missing`), a damaged one
            (`book-export-damaged`), one of its files was edited since (`book-export-edited`), or
            it names a file outside, or holds a link (`book-path-outside`).
    """
    folder = place.parent if place.name == MANIFEST else place
    document = _manifest(folder)
    contents = {name: _content(folder, str(name)) for name in document["content"]}
    _refuse_edited(folder, document)
    return JobExport(folder, document, contents)


def restore_job(book: Book, place: Path | JobExport) -> Restored:
    """Put a job back into a book that does not have it, on hold.

    Args:
        book: The book.
        place: The export, its folder, or the manifest in it.

    Returns:
        What was restored.

    Raises:
        BookError: as of `read_export`, or the job is in the book (`book-job-there`).
        JobRefused: this program does not understand the job any more.
    """
    export = place if isinstance(place, JobExport) else read_export(place)
    folder = export.folder
    try:
        with book.writing() as connection:
            return _restore(connection, export.document, export.contents)
    except (KeyError, TypeError, ValueError, AttributeError, CompileError, InstantRefused) as error:
        reason = type(error).__name__
        raise BookError("book-export-damaged", path=str(folder), reason=reason) from None


def _manifest(folder: Path) -> PlainTable:
    path = folder / MANIFEST
    try:
        data = read_inside(folder, MANIFEST, limit=_LARGEST_BYTES + 1)
    except OSError as error:
        reason = error.strerror or type(error).__name__
        raise BookError("book-export-missing", path=str(path), reason=reason) from None
    damaged = BookError("book-export-damaged", path=str(path), reason="digest")
    if len(data) > _LARGEST_BYTES:
        raise damaged
    try:
        document = json.loads(data)
        whole = isinstance(document, dict) and document["digest"] == digest(document)
    except (ValueError, KeyError, RecursionError):
        raise damaged from None
    if not whole or not isinstance(document.get("content"), list):
        raise damaged
    if document.get("schema") != SCHEMA:
        raise BookError("book-export-newer", path=str(path))
    found: PlainTable = document
    return found


def _refuse_edited(folder: Path, document: PlainView) -> None:
    """Refuse files that say something else than what would be restored.

    Those that people read and edit are not what a job is restored from. One that is gone says
    nothing else: without it the job is still whole.
    """
    files = document.get("files", {})
    if not isinstance(files, dict):
        raise BookError("book-export-damaged", path=str(folder), reason="files")
    for name, known in files.items():
        path = folder / name
        try:
            data = read_inside(folder, name, limit=_LARGEST_BYTES)
        except FileNotFoundError:
            continue
        except OSError as error:
            reason = error.strerror or type(error).__name__
            raise BookError("book-export-damaged", path=str(path), reason=reason) from None
        if sha256(data) != known:
            raise BookError("book-export-edited", path=str(path))


def _content(folder: Path, name: str) -> bytes:
    path = folder / CONTENT / name
    try:
        # A name is a hash: what looks like a path would have no file of that content.
        whole = f"{CONTENT}/{name}"
        data = read_inside(folder, whole, limit=_LARGEST_BYTES) if name.isalnum() else b""
    except OSError as error:
        reason = error.strerror or type(error).__name__
        raise BookError("book-export-damaged", path=str(path), reason=reason) from None
    if sha256(data) != name:
        raise BookError("book-export-damaged", path=str(path), reason="digest")
    return data


def _restore(
    connection: Connection, document: PlainView, contents: Mapping[str, bytes]
) -> Restored:
    head = document["job"]
    job_id = str(head["id"])
    if connection.execute(select(job.c.id).where(job.c.id == job_id)).first():
        raise BookError("book-job-there", job_id=job_id)
    _refuse_outside(document, contents)
    connection.execute(
        insert(job).values(
            id=job_id,
            name=head["name"],
            timezone=head["timezone"],
            generation=int(head["generation"]),
            hold=RESTORED,
        )
    )
    for data in contents.values():
        put_content(connection, data)
    for row in document["revisions"]:
        at = datetime.fromisoformat(row["recorded_at"])
        insert_revision(connection, job_id, {**row, "recorded_at": at})
    for name, number in document["series"].items():
        row = {"job_id": job_id, "file": name, "sha256": number}
        connection.execute(insert(reading_series).values(row))
    for name, number in document.get("pictures", {}).items():
        keep_picture(connection, job_id, name, contents[number])
    insert_entries(connection, job_id, tuple(_entry(row) for row in document["log"]))
    record_papers(connection, job_id, _papers(document))
    # Whatever was published may have been published again since: all of it is said anew.
    history = after_loss(_history(document), ())
    take_over(connection, job_id, history)
    read = read_in(connection, job_id)
    if read.job is None:
        raise JobRefused("job-refused", findings=read.findings, names=read.raw)
    if read.job.id != job_id:
        raise BookError("book-export-damaged", path=job_id, reason="job.id")
    return Restored(job_id, read, history.first)


def _refuse_outside(document: PlainView, contents: Mapping[str, bytes]) -> None:
    """Look at every path of every revision, before anything is kept or laid out."""
    series = {name: contents[number] for name, number in document["series"].items()}
    tables = [_entry(row).table for row in document["log"]]
    for name in document.get("pictures", {}):
        if not is_inside(name):
            raise BookError("book-path-outside", file=name)
    for row in document["revisions"]:
        company = row["company_sha256"]
        shared = None if company is None else contents[company]
        refuse_outside(
            Sources(job=contents[row["job_sha256"]], company=shared, series=series), tables
        )


def _entry(row: PlainView) -> StoredEntry:
    dates = {name: datetime.fromisoformat(row[name]) for name in ("at", "recorded")}
    return StoredEntry(**{**row, **dates})


def _papers(document: PlainView) -> list[WrittenPaper]:
    """Return the papers of an export; one stands on a revision that the export has."""
    revisions = {int(row["number"]) for row in document["revisions"]}
    papers = [_paper(row) for row in document.get("papers", ())]
    if not revisions.issuperset(paper.revision for paper in papers):
        raise ValueError("revision")
    return papers


def _paper(row: PlainView) -> WrittenPaper:
    return WrittenPaper(
        sha256=str(row["sha256"]),
        kind=str(row["kind"]),
        language=str(row["language"]),
        draft=bool(row["draft"]),
        recorded_at=datetime.fromisoformat(row["recorded_at"]),
        record_sha256=str(row["record_sha256"]),
        revision=int(row["revision"]),
        entry_count=int(row["entry_count"]),
        as_of=datetime.fromisoformat(row["as_of"]),
    )


def _history(document: PlainView) -> History:
    return History(
        "",
        {row["uid"]: _revision(row) for row in document["published"]},
        int(document["first_sequence"]),
        ledger_id=str(document.get("ledger_id", "")),
        rests_on={
            entry_id: LogMark(digest, kind, datetime.fromisoformat(at))
            for entry_id, digest, kind, at in document.get("rests_on", ())
        },
        mailed=frozenset(Mailed(*mail) for mail in document.get("mailed", ())),
    )


def _revision(row: PlainView) -> Revision:
    return Revision(
        row["uid"],
        Audience(row["audience"]),
        int(row["sequence"]),
        datetime.fromisoformat(row["changed_at"]),
        tuple(row["lines"]),
    )
