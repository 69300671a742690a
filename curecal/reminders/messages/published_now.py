"""What is published of a job, brought to its plan of now within the plan's own transaction."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime
from typing import TYPE_CHECKING

from curecal.calendars import Feed, feeds, goes, issue
from curecal.reminders.messages.send_context import InTransaction, PlannedNow, SendContext

if TYPE_CHECKING:
    from sqlalchemy.engine import Connection


def publish_now(
    connection: Connection, context: SendContext, planned: PlannedNow, *, now: datetime
) -> Sequence[Feed]:
    """Bring what is published of a job to its plan, and return the calendars it was made from.

    Args:
        connection: the plan's transaction.
        context: the rules.
        planned: the plan of now.
        now: the instant.

    Raises:
        SourceError: what was published rested on entries that the book has not got.
        CurecalError: as of the ledger and of `issue`.
    """
    plan = planned.plan
    found = feeds(plan, rules=context.rules, day_off=planned.calendar.day_off, log=planned.log)
    how_gone = goes(plan, rules=context.rules)
    # The plan may have put an entry of a clock that was ahead to another instant: it is the same.
    issue(found, InTransaction(connection), now=now, goes=how_gone, log=planned.written)
    return found
