"""Entries that come from a page: signed by the link's person, judged, and written, each once.

The page makes the entry's id before it is sent. The same id again is the same entry: it is not
judged anew, and whoever sends it twice is told what became of it the first time.
"""

from __future__ import annotations

import hashlib
import re
from collections.abc import Callable, Mapping, Sequence
from dataclasses import field, replace
from datetime import datetime
from typing import TYPE_CHECKING, TypeVar, cast

from curecal.book.jobs.import_job import append_entries, read_with_entries
from curecal.book.jobs.log_entries import entries_of, tables_in
from curecal.book.jobs.pictures import keep_picture
from curecal.errors import BookError, ErrorCode, JobRefused
from curecal.job_files.entry_refusals import refusals
from curecal.records import PlainTable, Record, record
from curecal.trade.findings import Finding, Severity
from curecal.trade.names import comparable_name

if TYPE_CHECKING:
    from curecal.job_files import ReadJob
    from curecal.web.page_request import PageRequest

ENTRY_ID = re.compile(r"[a-z]-[0-9a-f]{32}", re.ASCII)
"""An id as a page makes it: random enough that no two telephones make the same."""
# Somebody writes a few entries a minute: more lost looks are no accident.
_LOOKS = 5

Written = TypeVar("Written")


class PageEntryRefusedError(Exception):
    """The entry is not understood or cannot be: nothing was written."""

    def __init__(self, findings: Sequence[Finding], names: Mapping[str, object]) -> None:
        self.findings = tuple(findings)
        """Errors; the path of each is the key of the entry, or empty."""
        self.names = names
        super().__init__()


class LogMovedError(Exception):
    """Something came into the log since the page looked at it: nothing was written."""


def looked_again(page: PageRequest, write: Callable[[PageRequest], Written]) -> Written:
    """Write what rests on what the page shows; what somebody else wrote meanwhile is read first.

    Args:
        page: The request.
        write: Writes, and raises `LogMovedError` where that looked at what no longer holds.

    Returns:
        What `write` returns.

    Raises:
        BookError: somebody else wrote between every two looks (`book-busy`).
    """
    for _ in range(_LOOKS):
        try:
            return write(page)
        except LogMovedError:
            page = replace(page, job_now=page.serving.jobs.job(page.job.id))
    raise BookError(ErrorCode.BOOK_BUSY, place=page.serving.book.place)


@record(kw_only=True)
class PageEntry(Record):
    """An entry as a page makes it; `values` are its own keys in the types of a log file.

    `at` is when it happened; None stands for the instant it is written. `by` is who did it.
    """

    entry_id: str
    kind: str
    by: str
    values: Mapping[str, object] = field(default_factory=dict)
    at: datetime | None = None
    pictures: Mapping[str, bytes] = field(default_factory=dict)


@record
class NotedEntry(Record):
    """An entry that is in the log: its id, and whether it had been there before this request."""

    entry_id: str
    was_there: bool


def write_entries(
    page: PageRequest, entries: Sequence[PageEntry], *, as_seen: bool = False
) -> tuple[NotedEntry, ...]:
    """Write entries into the log of the page's job: all of them, or none.

    Args:
        page: The request, whose link's person signs.
        entries: The entries, in the order in which they happened.
        as_seen: Whether only into the log that the page looked at.

    Returns:
        What became of each.

    Raises:
        LogMovedError: the log is another one than the page looked at, and was to be that one.
        PageEntryRefusedError: one of them is not understood or cannot be, by all that is on record.
        BookError: the book cannot be written.
    """
    there = _there(page, [entry.entry_id for entry in entries])
    fresh = [entry for entry in entries if entry.entry_id not in there]
    if fresh:
        tables = [_table(page, entry) for entry in fresh]
        book, job_id = page.serving.book, page.job.id
        seen_count = len(tables_in(page.here.read)) if as_seen else None
        pictures = {name: data for entry in fresh for name, data in entry.pictures.items()}
        if pictures:
            # What is refused leaves no picture behind.
            try_entries(page, fresh)
            with book.writing() as connection:
                for name, data in pictures.items():
                    keep_picture(connection, job_id, name, data)
        try:
            append_entries(
                book,
                job_id,
                tables,
                source=f"page:{page.link.id}",
                now=page.now,
                clock=page.now,
                check=_checked([entry.entry_id for entry in fresh], seen_count),
            )
        except JobRefused as error:
            findings = cast("tuple[Finding, ...]", error.params["findings"])
            names = cast("Mapping[str, object]", error.params["names"])
            raise PageEntryRefusedError(findings, names) from None
        page.serving.written()
    return tuple(NotedEntry(entry.entry_id, entry.entry_id in there) for entry in entries)


def try_entries(page: PageRequest, entries: Sequence[PageEntry]) -> ReadJob:
    """Return the job as it would read with entries, judged as when they are written.

    Args:
        page: The request, whose link's person signs.
        entries: The entries, none of which is there.

    Returns:
        The job with them; nothing is written.

    Raises:
        PageEntryRefusedError: one of them is not understood or cannot be.
    """
    tables = [_table(page, entry) for entry in entries]
    with page.serving.book.reading() as connection:
        read = read_with_entries(connection, page.job.id, tables, now=page.now)
    _checked([entry.entry_id for entry in entries])(read)
    if read.job is None:
        raise PageEntryRefusedError(read.findings, read.raw)
    return read


def are_there(page: PageRequest, entry_ids: Sequence[str]) -> bool:
    """Return whether entries are in the log already: sent twice, they are not judged anew.

    Args:
        page: The request.
        entry_ids: The ids.
    """
    return _there(page, entry_ids) == frozenset(entry_ids)


def with_own_id(page: PageRequest, entry: PageEntry) -> PageEntry:
    """Return a stop with an id that no other entry has: a page gone back to has one that is used.

    The same stop sent twice keeps its id, or gets the same new one: it is written once.

    Args:
        page: The request.
        entry: The stop.
    """
    wanted = _told(_table(page, entry))
    with page.serving.book.reading() as connection:
        known = {one.entry_id: one.table for one in entries_of(connection, page.job.id)}
    there = known.get(entry.entry_id)
    if there is None or _told(there) == wanted:
        return entry
    digest = hashlib.sha256(f"{entry.entry_id} {sorted(wanted.items())}".encode()).hexdigest()
    return replace(entry, entry_id=f"{entry.entry_id[:1]}-{digest[:32]}")


def _told(table: PlainTable) -> dict[str, str]:
    """Return what an entry says, without when and under which id."""
    return {key: str(table[key]) for key in table if key not in {"id", "at", "recorded"}}


def _there(page: PageRequest, wanted: Sequence[str]) -> frozenset[str]:
    with page.serving.book.reading() as connection:
        known = {entry.entry_id for entry in entries_of(connection, page.job.id)}
    return frozenset(known.intersection(wanted))


def _table(page: PageRequest, entry: PageEntry) -> PlainTable:
    """Return an entry as a log file has it, in the site's time."""
    zone = page.job.tz
    recorded = page.now.replace(microsecond=0)
    at = recorded if entry.at is None else entry.at
    base = {"id": entry.entry_id, "at": at.astimezone(zone), "kind": entry.kind}
    signed: PlainTable = {"by": entry.by}
    if comparable_name(entry.by) != comparable_name(page.link.person):
        # Who did it and who typed it are kept apart.
        signed["entered_by"] = page.link.person
    return {**base, **entry.values, **signed, "recorded": recorded.astimezone(zone)}


def _checked(entry_ids: Sequence[str], seen_count: int | None = None) -> Callable[[ReadJob], None]:
    """Return what looks at the job with new entries, before they are there.

    Where `seen_count` entries were looked at before, there may be no others.
    """

    def check(read: ReadJob) -> None:
        if seen_count is not None and len(tables_in(read)) != seen_count + len(entry_ids):
            raise LogMovedError
        found: list[Finding] = []
        for entry_id in entry_ids:
            place = place_of_entry(read, entry_id)
            own = [one for one in read.findings if _is_at(one, place)]
            errors = [one for one in (*own, *refusals(read, place)) if _is_error(one)]
            # Of an entry that is not there yet, the place is the key.
            found += [replace(one, path=one.path[len(place) + 1 :]) for one in errors]
        if found:
            raise PageEntryRefusedError(found, read.raw)

    return check


def place_of_entry(read: ReadJob, entry_id: str) -> str:
    """Return where an entry stands in a job that was read; an empty text where it does not.

    Args:
        read: The job.
        entry_id: The entry.
    """
    files = [("", read.raw), *_further(read)]
    for prefix, table in files:
        for index, row in enumerate(table.get("log", ())):
            if isinstance(row, Mapping) and row.get("id") == entry_id:
                return f"{prefix}log.{index}"
    return ""


def _further(read: ReadJob) -> list[tuple[str, Mapping[str, Sequence[object]]]]:
    further = read.raw.get("further_log", ())
    return [(f"further_log.{index}.", table) for index, table in enumerate(further)]


def _is_at(finding: Finding, place: str) -> bool:
    return bool(place) and (finding.path == place or finding.path.startswith(f"{place}."))


def _is_error(finding: Finding) -> bool:
    return finding.severity is Severity.ERROR
