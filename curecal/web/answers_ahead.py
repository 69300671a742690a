"""Answers of all jobs for a page: those that are kept, and the others as far as a page can wait.

What is left is planned behind it, so that the next look has it.
"""

from __future__ import annotations

import logging
import threading
import time
from collections.abc import Callable
from datetime import datetime
from typing import TYPE_CHECKING

from curecal.book.jobs.book_overview import names_by_id
from curecal.errors import CurecalError
from curecal.overview.kept_answers import Answered, Memory, answers_of
from curecal.records import Record, record

if TYPE_CHECKING:
    from curecal.book.connection.open_book import Book

# Our own choice: longer than that nobody waits for a list.
_PATIENCE_S = 3.0
_log = logging.getLogger(__name__)


@record
class BookAnswers(Record):
    """The answers that are known, and of how many jobs there is none yet."""

    jobs: tuple[Answered, ...]
    left_count: int


class AnswersAhead:
    """The answers of a book's jobs, for pages in several languages."""

    def __init__(self, book: Book, now: Callable[[], datetime]) -> None:
        self.patience_s = _PATIENCE_S
        """How long a page waits for answers that have to be planned first [s]."""
        self._book = book
        self._now = now
        self._lock = threading.Lock()
        self._running: set[str] = set()
        self._memory: Memory = {}

    def answers(self, language: str, *, patience_s: float | None = None) -> BookAnswers:
        """Return the answers of all jobs with their days, as far as they are known in good time.

        Args:
            language: The language of their words.
            patience_s: How long to plan [s]; as long as every page where None.
        """
        ends_at = time.monotonic() + (self.patience_s if patience_s is None else patience_s)
        found = answers_of(
            self._book,
            now=self._now(),
            with_days=True,
            language=language,
            may_go_on=lambda: time.monotonic() < ends_at,
            memory=self._memory,
        )
        with self._book.reading() as connection:
            left_count = len(names_by_id(connection)) - len(found)
        if left_count > 0:
            self._plan_behind(language)
        return BookAnswers(found, max(0, left_count))

    def _plan_behind(self, language: str) -> None:
        with self._lock:
            if language in self._running:
                return
            self._running.add(language)
        threading.Thread(target=self._plan, args=(language,), daemon=True).start()

    def _plan(self, language: str) -> None:
        try:
            answers_of(self._book, now=self._now(), language=language)
        except CurecalError as error:
            # The next look says it to a person.
            _log.error("answers could not be planned: %s", error.code)
        finally:
            with self._lock:
                self._running.discard(language)
