"""Readings that were added beside a job of the book, as it was laid out, put into the book."""

from __future__ import annotations

from collections import defaultdict
from functools import partial
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Collection, Iterable

    from curecal.cli.readings.add_readings import TargetJob
    from curecal.cli.shared.job_source import Site
    from curecal.job_files import ReadJob
    from curecal.trade.site_log import Place


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
        try:
            append_entries(
                found.book,
                found.job_id,
                fresh.values(),
                source="readings",
                now=now,
                clock=now,
                check=partial(_refuse_known, own=fresh),
                series=readings_beside(job.path, fresh.values()),
            )
        except _KnownByNowError as by_now:
            _say_known(found.job_id, by_now.entry_ids)
            fresh = {name: row for name, row in fresh.items() if name not in by_now.entry_ids}
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
    from curecal.readings.series.add_to_job import count_not_in
    from curecal.trade.logged_points import LoggedPoints
    from curecal.trade.site_log import Series

    people = () if read.job is None else read.job.people
    ever = datetime.max.replace(tzinfo=UTC)
    told = [one for one in facts_at(read.log, ever, people).entries if isinstance(one, Series)]
    others: dict[tuple[str, Place, str | None], list[Series]] = defaultdict(list)
    for one in told:
        if one.id not in own:
            others[one.device, one.place, one.zone].append(one)
    known = [
        one.id
        for one in told
        if one.id in own
        and not count_not_in(others[one.device, one.place, one.zone], LoggedPoints.of(one.points))
    ]
    if known:
        raise _KnownByNowError(known)
