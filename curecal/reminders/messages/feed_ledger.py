"""What calendar feeds show, kept up to the jobs: feeds give out what the ledger has, as it stands.

A feed is asked for many times a day by programs, and asking must change nothing: so it is here that
the ledger follows a job, a few jobs a round.
"""

from __future__ import annotations

from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from typing import TYPE_CHECKING

from curecal.book.connection.db_errors import as_written
from curecal.book.links.person_links import jobs_with_feeds
from curecal.book.meta import hold_of
from curecal.errors import CurecalError
from curecal.reminders.messages.published_now import publish_now
from curecal.reminders.messages.send_context import SendContext, generation_of

if TYPE_CHECKING:
    from curecal.book.connection.open_book import Book

# What the clock alone moves is in the feeds by then; whoever reads them looks far less often.
_AGAIN_AFTER = timedelta(hours=1)
# A second of work: a STOP that comes meanwhile does not wait for the feeds of a whole office.
_A_ROUND = 20
_EARLIEST = datetime.min.replace(tzinfo=UTC)


class FeedLedger:
    """Publishes the jobs that have a feed: each when it changed, and once an hour."""

    def __init__(self, book: Book, context: SendContext, *, now: Callable[[], datetime]) -> None:
        self._book = book
        self._context = context
        self._now = now
        self._done: dict[str, tuple[int, datetime]] = {}

    def bring_up(self, stopping: Callable[[], bool] = lambda: False) -> dict[str, str]:
        """Publish the jobs whose feeds may show something else than their plans, some at a time.

        Args:
            stopping: Whether to take up nothing more.

        Returns:
            What went wrong, a code by job: its feed stays as it was.
        """
        troubles: dict[str, str] = {}
        now = self._now()
        with self._book.reading() as connection:
            # By a clock in doubt nothing is published, as nothing is sent.
            jobs = {} if hold_of(connection) else jobs_with_feeds(connection, now)
        waiting = [job_id for job_id, count in jobs.items() if self._is_due(job_id, count, now)]
        waiting.sort(key=lambda job_id: self._place(job_id, jobs[job_id]))
        for job_id in waiting[:_A_ROUND]:
            if stopping():
                break
            try:
                count = self._publish(job_id, now)
            except CurecalError as error:
                troubles[job_id], count = error.code, jobs[job_id]
            self._done[job_id] = (count, now)
        return troubles

    def _is_due(self, job_id: str, count: int, now: datetime) -> bool:
        known, at = self._done.get(job_id, (None, now))
        return known != count or not at <= now < at + _AGAIN_AFTER

    def _place(self, job_id: str, count: int) -> tuple[int, datetime]:
        """Return where a job stands in the line: changed ones, new ones, who waits longest.

        Of thousands an hour is over before each had its round: in any fixed order the first would
        come again and again, and the last never.
        """
        if job_id not in self._done:
            return 1, _EARLIEST
        known, at = self._done[job_id]
        return (0 if known != count else 2), at

    def _publish(self, job_id: str, now: datetime) -> int:
        """Publish a job, and return how often it had changed by then."""
        # Whatever somebody wrote into a row is a fault of this job alone.
        with as_written(job_id), self._book.writing() as connection:
            # Held: what came in meanwhile would be counted as shown, and be missed for an hour.
            known = self._context.know(connection, job_id, held=True)
            planned = self._context.plan(known, now)
            if planned is not None:
                publish_now(connection, self._context, planned, now=now)
            return generation_of(connection, job_id, held=False)
