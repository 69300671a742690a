"""The rounds of a process that serves pages and sends no reminders: it keeps the feeds."""

from __future__ import annotations

import contextlib
import threading
from collections.abc import Callable
from datetime import datetime
from typing import TYPE_CHECKING

from curecal.book.connection.book_file import file_of
from curecal.errors import CurecalError
from curecal.reminders.messages.feed_ledger import FeedLedger
from curecal.reminders.messages.send_context import SendContext
from curecal.reminders.sending.daemon import EVERY_S, REPLACED_EXIT

if TYPE_CHECKING:
    from curecal.book.connection.open_book import Book


class FeedRounds:
    """Keeps the feeds of a process that sends nothing, until it is told to stop."""

    def __init__(
        self, book: Book, *, now: Callable[[], datetime], every_s: float = EVERY_S
    ) -> None:
        self._book = book
        self._file = file_of(book)
        self._ledger = FeedLedger(book, SendContext(), now=now)
        self._every_s = every_s
        self._stop = threading.Event()
        self._wanted = threading.Event()

    def look_now(self) -> None:
        """Begin a round at once: something was written."""
        self._wanted.set()

    def stop(self) -> None:
        """End after the job that is being published."""
        self._stop.set()
        self._wanted.set()

    def run(self) -> int:
        """Do rounds until stopped.

        Returns:
            The exit code: 0 after a clean stop, another where another book stands in the place of
            the open one.
        """
        while True:
            self._wanted.clear()
            if self._stop.is_set():
                return 0
            if self._is_replaced():
                return REPLACED_EXIT
            # Where the book is away the pages say so, and the next round tries again.
            with contextlib.suppress(CurecalError):
                self._ledger.bring_up(self._stop.is_set)
            self._wanted.wait(self._every_s)

    def _is_replaced(self) -> bool:
        """Return whether another book is there; for a moment there may be none."""
        found = file_of(self._book)
        return found is not None and found != self._file
