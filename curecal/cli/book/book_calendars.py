"""Calendars of a job of the book in a folder: the book keeps the history, the folder shows it."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from curecal.book.ledger.ledger import count_from, history_of, met, put_revisions
from curecal.errors import SourceError, StoreMoved

if TYPE_CHECKING:
    from collections.abc import Iterable

    from curecal.book.connection.open_book import Book
    from curecal.calendars import History, Revision
    from curecal.delivery.ics_folder import CalendarFolder


class BookedFolder:
    """The store of published revisions of a job of the book that is shown in a folder.

    A job that was published from its file before it came into the book brings the folder's
    history with it. A folder that shows what the book does not know, because the book came back
    from a copy or the job was published from its file since, is ahead of it: then everything is
    published anew, past all that either of them knows. `is_behind` tells that this was so.
    """

    def __init__(self, book: Book, folder: CalendarFolder) -> None:
        self.book = book
        self.folder = folder
        self.is_behind = False
        self._seen = ""
        self._first = 0

    def history(self, job_id: str) -> History:
        """All of a job, as the book and the folder together know it.

        Args:
            job_id: The job's id.

        Returns:
            The history; its generation is the book's.

        Raises:
            BookError: the book cannot be read.
            SourceError: the folder's files are not this job's.
        """
        with self.book.reading() as connection:
            kept = history_of(connection, job_id)
        shown = self.folder.history(job_id)
        self._seen = shown.generation
        found = kept
        if kept.revisions:
            found = met(kept, shown)
            self.is_behind |= found is not kept
        elif shown.revisions or shown.first > kept.first:
            found = replace(shown, generation=kept.generation, first=max(kept.first, shown.first))
        self._first = found.first if found.first > kept.first else 0
        return found

    def put(self, job_id: str, revisions: Iterable[Revision], *, expected: str) -> None:
        """Keep the revisions in the book, then show them in the folder.

        Args:
            job_id: The job's id.
            revisions: All of the job.
            expected: The generation of the book that they were made from.

        Raises:
            StoreMoved: the job changed in the book since, or somebody else wrote into the folder.
            BookError: the book cannot be written.
            SourceError: the folder cannot be read; nothing is changed then. Or it cannot be
                written (`calendar-not-shown`): the book has them, the next run shows them there.
        """
        kept = tuple(revisions)
        if self.folder.history(job_id).generation != self._seen:
            raise StoreMoved("calendar-moved", path=str(self.folder.directory))
        with self.book.writing() as connection:
            put_revisions(connection, job_id, kept, expected=expected)
            if self._first:
                # What neither of them knows may be known to people: it starts past all else too.
                count_from(connection, job_id, self._first)
        try:
            self.folder.put(job_id, kept, expected=self._seen)
        except StoreMoved:
            raise
        except SourceError as error:
            if error.code != "calendar-unwritable":
                raise
            raise SourceError("calendar-not-shown", **error.params) from None
