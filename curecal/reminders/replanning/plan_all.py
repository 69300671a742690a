"""Planning what is to be told without sending anything: for whoever asks before it leaves."""

from __future__ import annotations

from datetime import datetime
from typing import TYPE_CHECKING

from curecal.book.meta import hold_of
from curecal.errors import CurecalError
from curecal.reminders.messages.send_context import SendContext
from curecal.reminders.replanning.replan import replan
from curecal.reminders.replanning.replan_notes import moved_jobs

if TYPE_CHECKING:
    from curecal.book.connection.open_book import Book


def plan_all(book: Book, context: SendContext, *, now: datetime) -> None:
    """Bring the reminders of all jobs to their plans of now; no message is made of them.

    Args:
        book: the book.
        context: the rules.
        now: the instant.
    """
    with book.reading() as connection:
        if hold_of(connection) is not None:
            # By a clock in doubt nothing is planned.
            return
        moved = moved_jobs(connection, context, now=now)
    for job_id in (*moved.by_fact, *moved.by_time):
        try:
            with book.writing() as connection:
                replan(connection, context, job_id, now=now, firing=False)
        except CurecalError:
            # The next cycle says what is wrong with it; the others are shown.
            continue
