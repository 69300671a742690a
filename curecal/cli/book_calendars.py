"""Calendars of a job of the book in a folder: the book keeps the history, the folder shows it."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from curecal.book.published import BookPublished

if TYPE_CHECKING:
    from collections.abc import Iterable

    from curecal.book.opening import Book
    from curecal.calendars import History, Revision
    from curecal.delivery.directory import CalendarFolder


class BookedFolder:
    """The store of published revisions of a job of the book that is shown in a folder.

    A job that was published from its file before it came into the book brings the folder's
    history with it, once.
    """

    def __init__(self, book: Book, folder: CalendarFolder) -> None:
        self.kept = BookPublished(book)
        self.folder = folder

    def history(self, job_id: str) -> History:
        """All of a job, as the book has it; as the folder has it where the book has nothing.

        Args:
            job_id: The job's id.

        Returns:
            The history; its generation is the book's.

        Raises:
            BookError: the book cannot be read.
            SourceError: the folder's files are not this job's.
        """
        found = self.kept.history(job_id)
        shown = self.folder.history(job_id)
        if found.revisions:
            return found
        return replace(shown, generation=found.generation, first=max(found.first, shown.first))

    def put(self, job_id: str, revisions: Iterable[Revision], *, expected: str) -> None:
        """Keep the revisions in the book, then show them in the folder.

        Args:
            job_id: The job's id.
            revisions: All of the job.
            expected: The generation of the book that they were made from.

        Raises:
            StoreMoved: the job changed in the book since.
            BookError: the book cannot be written.
            SourceError: the folder cannot be written; the next run shows them there.
        """
        kept = tuple(revisions)
        self.kept.put(job_id, kept, expected=expected)
        generation = self.folder.history(job_id).generation
        self.folder.put(job_id, kept, expected=generation)
