"""Writing what `curecal note` was told: the whole job is read with it before it is there."""

from __future__ import annotations

import contextlib
from pathlib import Path
from typing import TYPE_CHECKING, NamedTuple

from curecal.errors import UsageError, ValueRefused

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Mapping, Sequence

    from curecal.book.connection.open_book import Book
    from curecal.cli.shared.job_source import Site
    from curecal.job_files import ReadJob
    from curecal.readings.series.decoded_channels import DecodedChannels
    from curecal.site_log_files.append import Appended, NewEntry
    from curecal.trade.findings import Finding


class EntryRefusedError(Exception):
    """The job with the new entry is not understood, so the entry is not written."""

    def __init__(self, findings: Sequence[Finding], names: Mapping[str, object]) -> None:
        self.findings = findings
        self.names = names
        super().__init__()


class Target(NamedTuple):
    """Where an entry goes: the job, its further logs, and the file that is written.

    The job is read before, with the entry, and after: `channels` are what loggers read in it.
    """

    job: Path
    logs: tuple[Path, ...]
    company: Path | None
    into: Path | None
    site: Site
    channels: DecodedChannels

    @property
    def file(self) -> Path:
        """The file that is written."""
        return self.job if self.into is None else self.into

    def read(self, instead: Path | None = None) -> ReadJob:
        """Return the job as the ordinary reader reads it, with a file in its file's place."""
        from curecal.cli.log.log import read_site

        file = self.file if instead is None else instead
        if self.into is None:
            return read_site(file, self.logs, self.company, self.channels)
        logs = [file if log == self.into else log for log in self.logs]
        return read_site(
            self.job,
            [log for log in logs if log != file or file.exists()],
            self.company,
            self.channels,
        )

    def last(self, read: ReadJob, count: int) -> list[str]:
        """Return the places of the last entries of the file that is written, in order."""
        raw, prefix = read.raw, ""
        if self.into is not None:
            index = self.logs.index(self.into)
            raw, prefix = read.raw["further_log"][index], f"further_log.{index}."
        rows = len(raw["log"])
        return [f"{prefix}log.{row}" for row in range(rows - count, rows)]


def write(
    target: Target,
    entries: Sequence[NewEntry],
    before: ReadJob,
    *,
    at_last: Callable[[], None],
) -> tuple[Appended, ...]:
    """Write entries, all or none; one that is not understood is refused with its findings.

    Args:
        target: Where they go.
        entries: The entries.
        before: The job as it was read without them.
        at_last: Called when nothing speaks against them; what it raises stops the writing.

    Returns:
        What was written.

    Raises:
        EntryRefusedError: The job with them is not understood.
        UsageError: A value that no file can hold.
    """
    from curecal.site_log_files.append import append_entries

    check = _checked(target, before, len(entries))

    def check_all(new: Path) -> None:
        check(new)
        at_last()

    try:
        made = append_entries(target.file, entries, check=check_all, create=target.into is not None)
    except ValueRefused as error:
        raise UsageError(error.code, **error.params) from None
    return made if target.site.book is None else _keep(target.site.book, target.site.job_id, made)


def _keep(book: Book, job_id: str, made: Sequence[Appended]) -> tuple[Appended, ...]:
    """Put entries that were written beside a job of the book into the book."""
    from dataclasses import replace
    from datetime import UTC, datetime

    from curecal.book.jobs.import_job import append_entries

    now = datetime.now(UTC)
    append_entries(book, job_id, [one.entry for one in made], source="note", now=now, clock=now)
    return tuple(replace(one, path=Path(job_id)) for one in made)


@contextlib.contextmanager
def _beside(job: Path, new: Path) -> Iterator[Path]:
    """Give the new file in the job's own folder, where the files are that the job names.

    Where the job is a link, the new file lies beside the file that the link leads to.
    """
    if not job.is_symlink():
        yield new
        return
    link = job.with_name(new.name)
    link.symlink_to(new)
    try:
        yield link
    finally:
        link.unlink()


def _checked(target: Target, before: ReadJob, count: int) -> Callable[[Path], None]:
    """Return what reads the whole job with new entries, before they are written."""
    from dataclasses import replace

    from curecal.job_files.entry_refusals import refusals
    from curecal.trade.findings import Severity

    def others(read: ReadJob, places: Sequence[str]) -> int:
        errors = [finding for finding in read.findings if finding.severity is Severity.ERROR]
        return len([finding for finding in errors if _place_of(finding, places) is None])

    def check(new: Path) -> None:
        with _beside(target.file, new) as there:
            read = target.read(instead=there)
        places = target.last(read, count)
        found = [*read.findings, *(told for place in places for told in refusals(read, place))]
        own = [(finding, place) for finding in found if (place := _place_of(finding, places))]
        failed = any(finding.severity is Severity.ERROR for finding, _ in own)
        if not failed and others(read, places) <= others(before, places):
            return
        if not failed:
            raise EntryRefusedError(read.findings, read.raw)
        # Of an entry that is not there yet, the place is the key.
        short = [replace(finding, path=finding.path[len(place) + 1 :]) for finding, place in own]
        raise EntryRefusedError(short, {})

    return check


def _place_of(finding: Finding, places: Sequence[str]) -> str | None:
    """Return which of some places a finding is about; None where it is about none."""
    return next(
        (
            place
            for place in places
            if finding.path == place or finding.path.startswith(f"{place}.")
        ),
        None,
    )
