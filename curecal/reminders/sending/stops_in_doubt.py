"""STOPs while the clock holds all else: what takes a permission back never waits for a clock.

They are planned as of the last instant that was believed, and of what was recorded since. Nothing
else of the book is planned, taken back or given up.
"""

from __future__ import annotations

from datetime import datetime
from typing import TYPE_CHECKING

from curecal.book.message_states import UNSENT
from curecal.book.outbox.outbox import fire, job_messages
from curecal.book.outbox.reminders import put_one, wanted_of
from curecal.records import PlainView
from curecal.reminders.messages.kept_reminders import keep, new_rows, reminder_of, reminder_row
from curecal.reminders.messages.render import rendered
from curecal.reminders.messages.send_context import SendContext, is_held
from curecal.reminders.reminder_types import MAY_NOT
from curecal.reminders.replanning.standing_messages import want_of
from curecal.reminders.timing.clock_jump import DOUBTS

if TYPE_CHECKING:
    from sqlalchemy.engine import Connection


def stops_at(held: PlainView | None, now: datetime) -> datetime | None:
    """Return an instant that has come for certain, where a clock in doubt holds all but STOPs.

    Args:
        held: what the book keeps of its hold.
        now: the wall's time, for a hold that names no other.

    Returns:
        The last instant that a clock was believed; None where nothing is on hold, or a person holds
        it, who meant STOPs as well.
    """
    if held is None or held["reason"] not in DOUBTS:
        return None
    return datetime.fromisoformat(held.get("believed") or now.isoformat())


def say_stops(connection: Connection, context: SendContext, job_id: str, *, at: datetime) -> int:
    """Make messages of what stops a floor of a job.

    Args:
        connection: the transaction.
        context: the rules, and who mail is from.
        job_id: the job.
        at: an instant that has come for certain.

    Returns:
        How many were made.
    """
    if is_held(connection, job_id):
        return 0
    known = context.know(connection, job_id)
    recorded = [max(entry.at, entry.recorded) for entry in known.log]
    planned = context.plan(known, max([at, *recorded]))
    if planned is None:
        return 0
    want = want_of(connection, planned)
    waiting = job_messages(connection, job_id, UNSENT, digests=False)
    kept = [row for message in waiting if (row := reminder_row(connection, message)) is not None]
    written = {reminder_of(row).key for row in kept}
    rows = {reminder_of(row).key: row for row in wanted_of(connection, job_id)}
    made = 0
    for key, new in want.items():
        if new.kind not in MAY_NOT or key in written:
            continue
        row = rows.get(key)
        if row is None:
            [added] = new_rows(connection, job_id, [new], now=at)
            number = put_one(connection, added)
            row = next(row for row in wanted_of(connection, job_id) if row.id == number)
        message, digest = rendered(row, new, context, planned, now=at)
        keep(connection, row, digest=digest)
        made += len(fire(connection, [message]))
    return made
