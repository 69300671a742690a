"""Messages that are not where they should be: of which jobs, and how many."""

from __future__ import annotations

from datetime import datetime, timedelta
from typing import TYPE_CHECKING

from sqlalchemy import and_, func, or_, select

from curecal.book.message_states import MessageState
from curecal.book.schema.tables import outbox

if TYPE_CHECKING:
    from sqlalchemy.engine import Connection

# A sender looks every few seconds: what waits so much longer does not leave by itself.
_LATE_AFTER = timedelta(minutes=15)
# Whoever was not reached has been called by then.
_LOST_SHOWN_FOR = timedelta(days=7)


def unsent_by_job(connection: Connection, *, now: datetime) -> dict[str, int]:
    """Return how many messages of each job are not out although they should be, or may be lost.

    Args:
        connection: The transaction.
        now: The instant to look from.

    Returns:
        Counts by job id; a job whose messages all went as they should is left out.
    """
    in_trouble = (MessageState.BACKOFF, MessageState.HELD, MessageState.UNCERTAIN)
    given_up = (MessageState.DEAD, MessageState.EXPIRED)
    late = and_(outbox.c.state == MessageState.DUE.value, outbox.c.next_try_at <= now - _LATE_AFTER)
    lost = and_(outbox.c.state.in_(given_up), outbox.c.created_at > now - _LOST_SHOWN_FOR)
    asked = (
        select(outbox.c.job_id, func.count().label("count"))
        .where(or_(outbox.c.state.in_(in_trouble), late, lost))
        .group_by(outbox.c.job_id)
    )
    return {row[0]: int(row[1]) for row in connection.execute(asked)}
