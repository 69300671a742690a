"""Publishing the calendars of a plan, for every command that does: its ledger, and a folder."""

from __future__ import annotations

import contextlib
from datetime import timedelta
from typing import TYPE_CHECKING, NamedTuple

from curecal.errors import SourceError, UsageError

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Mapping, Sequence
    from datetime import datetime
    from pathlib import Path

    from curecal.book.ledger.ledger import BookLedger
    from curecal.calendars import Feed, History, Ledger, Party, Revised
    from curecal.calendars.revisions.outputs import MissingEntriesError, Output
    from curecal.cli.shared.common import PlannedJob
    from curecal.delivery.ledger_file import LedgerFile
    from curecal.words.report.published_calendars import EntryOutcome, Issued


# More revisions than that do not come of one instant.
_SLACK = timedelta(minutes=1)
# So many missing log entries are named; a person looks the others up in the log.
_NAMED = 5


class Asked(NamedTuple):
    """How a person wants calendars published.

    `as_asked` says that the plan's instant was asked for, and is not the clock's. `withdrawn` are
    zones, no longer in the job, that may leave the calendars. `anyway` publishes although the
    ledger is not the one that the outputs were written from, or the log lacks entries.
    """

    as_asked: bool
    withdrawn: Sequence[str] = ()
    anyway: bool = False


class WrittenCalendars(NamedTuple):
    """What became of the calendars in a folder: the feeds, and their revisions.

    `changed` are the files that were written; `kept` the earlier ones that were put aside, by the
    name that they had.
    """

    directory: Path
    changed: Sequence[Path]
    kept: Mapping[str, Path]
    feeds: Sequence[Feed]
    revised: Revised

    def told(self) -> Issued:
        """Return the same for `words` to say."""
        from curecal.words.report.published_calendars import CalendarOutcome, Issued

        return Issued(
            tuple(
                CalendarOutcome(
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
        )


def entries_of(revised: Revised, feed: Feed) -> tuple[EntryOutcome, ...]:
    """Return the entries of one reader's calendar, with what became of each.

    Args:
        revised: The revisions of the job.
        feed: Whose calendar.

    Returns:
        Cancelled ones included.
    """
    from curecal.words.report.published_calendars import EntryOutcome

    return tuple(
        EntryOutcome(one.uid, one.sequence, one.summary, revised.changes[one.uid].value)
        for one in revised.revisions
        if one.audience is feed.audience
    )


def write_directory(
    made: PlannedJob, directory: Path, *, asked: Asked, sender: Party | None = None
) -> WrittenCalendars:
    """Publish the calendars of a plan, and show them in a folder.

    Args:
        made: The plan with what it came from.
        directory: The folder; it is made where it is missing.
        asked: How a person wants it.
        sender: Who publishes; without one the files name nobody.

    Returns:
        What was written.

    Raises:
        UsageError: as of `publish`.
        SourceError: as of `publish`; or the ledger has it and the folder does not show it yet
            (`calendar-not-shown`).
    """
    from curecal.calendars import CalendarMethod, Sending
    from curecal.delivery.ics_folder import CalendarFolder

    found = feeds_of(made)
    folder = CalendarFolder(
        directory, found, Sending(CalendarMethod.PUBLISH, sender) if sender else None
    )
    with ledger_of(made, anyway=asked.anyway) as ledger:
        revised = publish(made, ledger, folder, asked=asked)
    return WrittenCalendars(directory, folder.written, folder.kept, found, revised)


def publish(made: PlannedJob, ledger: Ledger, output: Output | None, *, asked: Asked) -> Revised:
    """Publish all calendars of a plan into its ledger, then show them in an output.

    Args:
        made: The plan with what it came from.
        ledger: The job's ledger.
        output: Where people see it; None where the ledger alone is brought up to date.
        asked: How a person wants it.

    Returns:
        What was published.

    Raises:
        UsageError: the instant asked for is before the last publishing (`calendar-as-of-behind`),
            or a withdrawn zone is still in the job (`withdraw-in-job`) or in no calendar
            (`withdraw-unknown`).
        SourceError: the ledger or the log is not the right one, or the job is another one by now
            than was planned (`calendar-job-changed`). Nothing is changed then.
    """
    from curecal.calendars import goes, issue
    from curecal.calendars.revisions.outputs import MissingEntriesError

    history = ledger.history(made.job.id)
    refuse_withdrawn(made, history, asked.withdrawn)
    if asked.as_asked:
        _refuse_behind(made.plan.as_of, history, made)
    try:
        return issue(
            feeds_of(made),
            ledger,
            now=made.plan.as_of,
            goes=goes(made.plan, rules=made.rules, withdrawn=asked.withdrawn),
            log=made.log,
            outputs=[] if output is None else [output],
            anyway=asked.anyway,
            still_holds=lambda: _is_as_planned(made),
        )
    except MissingEntriesError as error:
        raise _named(error, made) from None


def _is_as_planned(made: PlannedJob) -> bool:
    """Return whether a job is still the one that was planned: somebody may have changed it since.

    What they published of it would be overwritten by what is older.
    """
    read = made.read_again()
    return (read.job, tuple(read.log)) == (made.job, tuple(made.log))


@contextlib.contextmanager
def ledger_of(made: PlannedJob, *, anyway: bool = False) -> Iterator[LedgerFile | BookLedger]:
    """Give the ledger of a job: the book's, or a file beside the job file.

    Args:
        made: The plan.
        anyway: Whether a person goes on although the file is damaged, or was handed to a book.

    Yields:
        The ledger.

    Raises:
        UsageError: the job stands in the book, and this is a file of it (`calendar-of-book`).
    """
    if not made.in_book:
        from curecal.delivery.ledger_file import LedgerFile

        _refuse_file_of_book(made)
        yield LedgerFile(made.job_file, anyway=anyway)
        return
    from curecal.book.ledger.ledger import BookLedger
    from curecal.cli.book.book import book_named

    with book_named(made.place) as book:
        yield BookLedger(book)


def _refuse_file_of_book(made: PlannedJob) -> None:
    """Refuse a file of a job that stands in the book: two ledgers would say two things."""
    from curecal.cli.shared.job_source import is_book_there

    if not is_book_there(made.place):
        return
    from curecal.book.ledger.ledger import history_of
    from curecal.cli.book.book import book_named
    from curecal.errors import BookError

    job_id = made.job.id
    # It has no such job; or nobody can look, and the file's own ledger says whether it counts.
    with (
        contextlib.suppress(BookError),
        book_named(made.place) as book,
        book.reading() as connection,
    ):
        history_of(connection, job_id)
        raise UsageError("calendar-of-book", job_id=job_id)


def feeds_of(made: PlannedJob) -> Sequence[Feed]:
    """Return the calendars of a plan as values.

    Args:
        made: The plan with what it came from.

    Returns:
        One for each reader.
    """
    from curecal.calendars import feeds

    return feeds(made.plan, rules=made.rules, day_off=made.day_off, log=made.log)


def _named(error: MissingEntriesError, made: PlannedJob) -> SourceError:
    """A refusal for missing log entries with their names, in the site's time."""
    named = [
        made.words.text(
            "ledger.entry", {"id": name, "kind": mark.kind, "at": made.words.at(mark.at)}
        )
        for name, mark in sorted(error.missing.items(), key=lambda item: item[1].at)
    ]
    more = ["…"] if len(named) > _NAMED else []
    return SourceError(error.code, count=len(named), entries="; ".join([*named[:_NAMED], *more]))


def _refuse_behind(as_of: datetime, history: History, made: PlannedJob) -> None:
    """Refuse to publish what was known before the last publishing."""
    last = max((one.changed_at for one in history.revisions.values()), default=None)
    # Two revisions of one instant stand a second apart; that is not the past.
    if last is not None and as_of < last - _SLACK:
        raise UsageError("calendar-as-of-behind", last=made.words.at(last))


def refuse_withdrawn(made: PlannedJob, history: History, withdrawn: Iterable[str]) -> None:
    """Refuse to withdraw a zone that is still heated, or that no calendar speaks of.

    Args:
        made: The plan.
        history: What was published.
        withdrawn: The zones' ids.

    Raises:
        UsageError: `withdraw-in-job`, `withdraw-unknown`.
    """
    from curecal.calendars import STANDS_PROPERTY
    from curecal.calendars.content_lines import unescape

    here = {zone.id for zone in made.job.zones}
    known = history.revisions.values()
    stands = {unescape(found) for one in known if (found := one.value(STANDS_PROPERTY))}
    for zone in sorted(set(withdrawn)):
        if zone in here:
            raise UsageError("withdraw-in-job", zone=zone)
        if zone not in stands:
            raise UsageError("withdraw-unknown", zone=zone)
