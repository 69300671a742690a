"""What the pages stand on: the book, the clock, how they are reached, and plans of this minute."""

from __future__ import annotations

from collections.abc import Callable
from datetime import UTC, datetime
from typing import TYPE_CHECKING

from curecal.book.connection.book_file import file_of
from curecal.records import Record, record
from curecal.web.answers_ahead import AnswersAhead
from curecal.web.job_now import JobsNow
from curecal.web.uploads import Uploads

if TYPE_CHECKING:
    from curecal.book.connection.open_book import Book

LARGEST_BODY_BYTES = 12 << 20
"""A photo as a telephone takes it, with room to spare, or a year of a logger's readings."""


@record(kw_only=True)
class PageAddress(Record):
    """How the pages are reached.

    `origin` is what stands before every address ("https://pages.example"), empty where it is read
    off each request. `is_secure` where browsers come over https: only then cookies are kept to it.
    """

    origin: str = ""
    is_secure: bool = False


def now_utc() -> datetime:
    """Return the instant by this machine's clock."""
    return datetime.now(UTC)


class Serving:
    """The book with everything that the pages keep of it while the process runs."""

    def __init__(
        self,
        book: Book,
        address: PageAddress | None = None,
        *,
        now: Callable[[], datetime] = now_utc,
        written: Callable[[], None] = lambda: None,
    ) -> None:
        self.book = book
        self.address = address or PageAddress()
        self.now = now
        self.written = written
        """Called after an entry was written, so that what must leave at once does."""
        self.jobs = JobsNow(book, now)
        self.answers = AnswersAhead(book, now)
        self.uploads = Uploads()
        self._file = file_of(book)

    def is_same_book(self) -> bool:
        """Return whether the open book is still the one that stands in its place.

        What is written into a file that was replaced or taken away is seen by nobody.
        """
        return self._file is None or file_of(self.book) == self._file
