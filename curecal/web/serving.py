"""What the pages stand on: the book, the clock, how they are reached, and plans of this minute."""

from __future__ import annotations

from collections.abc import Callable
from datetime import UTC, datetime
from typing import TYPE_CHECKING

from curecal.records import Record, record
from curecal.web.job_now import JobsNow
from curecal.web.uploads import Uploads

if TYPE_CHECKING:
    from curecal.book.connection.open_book import Book


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
        self.uploads = Uploads()
