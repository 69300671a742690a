"""Calendars of a plan into a folder, for every command that writes them."""

from __future__ import annotations

import contextlib
from datetime import timedelta
from typing import TYPE_CHECKING, NamedTuple

from curecal.errors import UsageError

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Mapping, Sequence
    from datetime import datetime
    from pathlib import Path

    from curecal.calendars import Feed, Goes, Party, Published, Revised
    from curecal.cli.shared.common import Planned
    from curecal.delivery.ics_folder import CalendarFolder
    from curecal.words.report.published_calendars import Entry, Issued


# More revisions than that do not come of one instant.
_SLACK = timedelta(minutes=1)


class Written(NamedTuple):
    """What became of the calendars in a folder: the feeds, and their revisions.

    `changed` are the files that were written; `kept` the earlier ones that were put aside, by the
    name that they had.
    """

    directory: Path
    changed: Sequence[Path]
    kept: Mapping[str, Path]
    feeds: Sequence[Feed]
    revised: Revised
    is_book_behind: bool = False
    also_in_book: str | None = None

    def told(self) -> Issued:
        """Return the same for `words` to say."""
        from curecal.words.report.published_calendars import Calendar, Issued

        return Issued(
            tuple(
                Calendar(
                    str(self.directory / feed.file_name),
                    entries_of(self.revised, feed),
                    self.directory / feed.file_name in self.changed,
                    str(found) if (found := self.kept.get(feed.file_name)) else None,
                )
                for feed in self.feeds
            ),
            self.revised.left_standing,
            self.revised.lost_standing,
            self.revised.unmarked,
            is_book_behind=self.is_book_behind,
            also_in_book=self.also_in_book,
        )


def entries_of(revised: Revised, feed: Feed) -> tuple[Entry, ...]:
    """Return the entries of one reader's calendar, with what became of each.

    Args:
        revised: The revisions of the job.
        feed: Whose calendar.

    Returns:
        Cancelled ones included.
    """
    from curecal.words.report.published_calendars import Entry

    return tuple(
        Entry(each.uid, each.sequence, each.summary, revised.changes[each.uid].value)
        for each in revised.revisions
        if each.audience is feed.audience
    )


def write_directory(
    made: Planned,
    directory: Path,
    *,
    as_asked: bool,
    withdrawn: Iterable[str] = (),
    sender: Party | None = None,
) -> Written:
    """Bring the calendars in a folder to what a plan says.

    Args:
        made: The plan with what it came from.
        directory: The folder; it is made where it is missing.
        as_asked: Whether the plan's instant was asked for, and is not the clock's.
        withdrawn: Zones, no longer in the job, that a person says may leave the calendars.
        sender: Who publishes; without one the files name nobody.

    Returns:
        What was written.

    Raises:
        UsageError: the instant asked for is before the last publishing (`calendar-as-of-behind`),
            a withdrawn zone is still in the job (`withdraw-in-job`) or in no calendar
            (`withdraw-unknown`), or the book publishes this job, and this is its file
            (`calendar-of-book`).
        SourceError: the folder cannot be read or written. Nothing is changed then, but for a disk
            that fails between two renames; or the book has published and the folder does not show
            it yet (`calendar-not-shown`).
    """
    from curecal.calendars import Method, Sending
    from curecal.delivery.ics_folder import CalendarFolder

    found = feeds_of(made)
    sending = Sending(Method.PUBLISH, sender) if sender else None
    folder = CalendarFolder(directory, found, sending)
    also_in_book = None if made.in_book else _refuse_published(made)
    with store_of(made, folder) as store:
        written = _write(made, folder, store, found, as_asked=as_asked, withdrawn=withdrawn)
        is_book_behind = getattr(store, "is_behind", False)
    return written._replace(is_book_behind=is_book_behind, also_in_book=also_in_book)


def _refuse_published(made: Planned) -> str | None:
    """Refuse a job file whose calendars the book publishes; return its id if the book has it.

    Two stores of one job would count against each other, and say two things of one day.
    """
    from curecal.cli.shared.job_source import is_book_there

    if not is_book_there(made.place):
        return None
    from curecal.book.ledger.ledger import history_of
    from curecal.cli.book.book import book_named
    from curecal.errors import BookError

    job_id = made.job.id
    try:
        with book_named(made.place) as book, book.reading() as connection:
            published = history_of(connection, job_id).revisions
    except BookError:
        # It has no such job; or nobody can look, and the folder's own history still counts on.
        return None
    if published:
        raise UsageError("calendar-of-book", job_id=job_id)
    return job_id


def _write(
    made: Planned,
    folder: CalendarFolder,
    store: Published,
    found: Sequence[Feed],
    *,
    as_asked: bool,
    withdrawn: Iterable[str],
) -> Written:
    """Publish the feeds by a store, and say what became of the folder."""
    from curecal.calendars import goes, issue

    refuse_withdrawn(made, store, withdrawn)
    if as_asked:
        refuse_behind(made.plan.as_of, store, made.job.id, made)
    how: Goes = goes(made.plan, rules=made.rules, withdrawn=withdrawn)
    revised = issue(found, store, now=made.plan.as_of, goes=how)
    return Written(folder.directory, folder.written, folder.kept, found, revised)


@contextlib.contextmanager
def store_of(made: Planned, folder: CalendarFolder) -> Iterator[Published]:
    """Give where the published revisions of a job are kept.

    Args:
        made: The plan.
        folder: The folder that is written.

    Yields:
        The folder itself; of a job of the book the book, which fills the folder.
    """
    if not made.in_book:
        yield folder
        return
    from curecal.cli.book.book import book_named
    from curecal.cli.book.book_calendars import BookedFolder

    with book_named(made.place) as book:
        yield BookedFolder(book, folder)


def feeds_of(made: Planned) -> Sequence[Feed]:
    """Return the calendars of a plan as values.

    Args:
        made: The plan with what it came from.

    Returns:
        One for each reader.
    """
    from curecal.calendars import feeds

    return feeds(made.plan, rules=made.rules, day_off=made.day_off, log=made.log)


def refuse_behind(as_of: datetime, store: Published, job_id: str, made: Planned) -> None:
    """Refuse to publish what was known before the last publishing.

    Args:
        as_of: The instant asked for.
        store: The store.
        job_id: The job.
        made: The plan, for the site's time.

    Raises:
        UsageError: `calendar-as-of-behind`.
    """
    known = store.history(job_id).revisions.values()
    last = max((each.changed_at for each in known), default=None)
    # Two revisions of one instant stand a second apart; that is not the past.
    if last is not None and as_of < last - _SLACK:
        raise UsageError("calendar-as-of-behind", last=made.words.at(last))


def refuse_withdrawn(made: Planned, store: Published, withdrawn: Iterable[str]) -> None:
    """Refuse to withdraw a zone that is still heated, or that no calendar speaks of.

    Args:
        made: The plan.
        store: The store.
        withdrawn: The zones' ids.

    Raises:
        UsageError: `withdraw-in-job`, `withdraw-unknown`.
    """
    from curecal.calendars import STANDS_PROPERTY
    from curecal.calendars.content_lines import unescape

    wanted = set(withdrawn)
    if not wanted:
        return
    here = {zone.id for zone in made.job.zones}
    known = store.history(made.job.id).revisions.values()
    stands = {unescape(found) for each in known if (found := each.value(STANDS_PROPERTY))}
    for zone in sorted(wanted):
        if zone in here:
            raise UsageError("withdraw-in-job", zone=zone)
        if zone not in stands:
            raise UsageError("withdraw-unknown", zone=zone)
