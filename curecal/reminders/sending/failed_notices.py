"""What a crew lead hears of a message that failed, of one with several lines for each job."""

from __future__ import annotations

from datetime import datetime
from typing import TYPE_CHECKING

from curecal.book.outbox.digests import lines_of
from curecal.book.outbox.outbox_rows import DIGEST, OutboxRow
from curecal.errors import BookError
from curecal.reminders.messages.kept_reminders import NOTICES, reminder_row
from curecal.reminders.messages.notices import about, about_lines, give_notice, pass_on
from curecal.reminders.messages.send_context import SendContext
from curecal.reminders.reminder_types import MessageKind
from curecal.reminders.replanning.damage import is_damage

if TYPE_CHECKING:
    from sqlalchemy.engine import Connection


def notice(
    connection: Connection,
    context: SendContext,
    row: OutboxRow,
    kind: MessageKind,
    *,
    now: datetime,
) -> None:
    """Tell the crew lead of a message that failed; a notice that did not arrive goes the next way.

    Args:
        connection: the transaction in which it failed.
        context: the rules.
        row: the message.
        kind: which notice.
        now: the instant.
    """
    if row.kind == DIGEST:
        _notice_of_lines(connection, context, row, kind, now)
        return
    planned = context.plan(context.know(connection, row.job_id), now)
    if planned is None:
        return
    kept = reminder_row(connection, row)
    if row.kind in NOTICES:
        pass_on(connection, planned, kept, now=now)
        return
    give_notice(connection, planned, kind, about(row, kept, planned), now=now)


def _notice_of_lines(
    connection: Connection, context: SendContext, row: OutboxRow, kind: MessageKind, now: datetime
) -> None:
    """Tell the crew lead of each job what of it did not reach somebody."""
    lines = lines_of(connection, row.id)
    for job_id in dict.fromkeys(line.job_id for line in lines):
        try:
            known = context.know(connection, job_id)
        except BookError as error:
            if not is_damage(error):
                raise
            # The office hears of it where the job is set aside; the others' lines are named.
            continue
        planned = context.plan(known, now)
        if planned is not None:
            said = about_lines(row, [line for line in lines if line.job_id == job_id], planned)
            give_notice(connection, planned, kind, said, now=now)
