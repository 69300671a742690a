"""Readings that were added beside a job of the book, as it was laid out, put into the book."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Collection, Iterable

    from curecal.cli.readings.add_readings import TargetJob
    from curecal.cli.shared.job_source import Site
    from curecal.job_files import ReadJob
    from curecal.trade.site_log import Series


class _KnownByNowError(Exception):
    """Somebody else has put the readings of these entries into the book."""

    def __init__(self, entry_ids: Collection[str]) -> None:
        super().__init__()
        self.entry_ids = entry_ids


def keep_in_book(found: Site, job: TargetJob) -> None:
    """Put the readings that were added beside a job into the book it stands in, if it is in one.

    Args:
        found: The job as it was laid out.
        job: The job that readings were added to.

    Raises:
        BookError: the book cannot be written.
    """
    from datetime import UTC, datetime

    from curecal.book.jobs.import_job import append_entries
    from curecal.book.jobs.job_sources import readings_beside
    from curecal.site_log_files.log_reader import identity_of
    from curecal.toml_files.toml_source import load

    if found.book is None:
        return
    now = datetime.now(UTC)
    # The entries alone: the job's file may be a newer one by now than the one laid out here.
    known = {entry.entry_id for entry in found.entries}
    rows = {identity_of(row): row for row in load(job.path).get("log", [])}
    fresh = {name: row for name, row in rows.items() if name not in known}
    while fresh:
        own = fresh
        try:
            append_entries(
                found.book,
                found.job_id,
                own.values(),
                source="readings",
                now=now,
                clock=now,
                check=lambda read, own=own: _refuse_known(read, own),  # type: ignore[misc]
                series=readings_beside(job.path, own.values()),
            )
        except _KnownByNowError as by_now:
            _say_known(found.job_id, by_now.entry_ids)
            fresh = {name: row for name, row in own.items() if name not in by_now.entry_ids}
        else:
            return


def _say_known(job_id: str, own: Iterable[str]) -> None:
    """Say that entries which were told as added are not in the book: another one holds the same."""
    from curecal.cli.shared.common import print_lines, width_of
    from curecal.words.layout import paragraph
    from curecal.words.sentences import plain_words

    params = {"path": job_id, "entries": ", ".join(own)}
    said = plain_words().text("readings.known-by-now", params)
    print_lines(paragraph(said, width_of(None)), err=True)


def _refuse_known(read: ReadJob, own: Collection[str]) -> None:
    """Refuse readings that are in the book by now: of two entries one would be left."""
    from datetime import UTC, datetime

    from curecal.planning.site_log.log_at_instant import facts_at
    from curecal.trade.site_log import Series

    people = () if read.job is None else read.job.people
    ever = datetime.max.replace(tzinfo=UTC)
    told = [one for one in facts_at(read.log, ever, people).entries if isinstance(one, Series)]
    others = [one for one in told if one.id not in own]
    mine = [one for one in told if one.id in own]
    if known := [one.id for one in mine if any(_says_all(other, one) for other in others)]:
        raise _KnownByNowError(known)


def _says_all(other: Series, one: Series) -> bool:
    """Return whether an entry has every reading of another one, of the same device and place."""
    from curecal.trade.logged_points import LoggedPoints

    about = (one.device, one.place, one.zone)
    if (other.device, other.place, other.zone) != about:
        return False
    there = set(LoggedPoints.of(other.points).rows())
    return there.issuperset(LoggedPoints.of(one.points).rows())
