"""Messages that have not left, or may have: which of them still say what is so.

What certainly has not left and no longer holds is taken back; what may have arrived is sent once
more with the same octets, or given up and somebody told to ask.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import datetime, timedelta
from typing import TYPE_CHECKING

from curecal.book.message_states import UNSENT, URGENT_ORDER, MessageState, Who
from curecal.book.outbox.digests import (
    NOT_READ,
    digests_with,
    dissolve,
    dissolve_unread,
    lines_of,
    want_again,
)
from curecal.book.outbox.outbox import job_messages, message_of, move
from curecal.book.outbox.outbox_rows import DIGEST, OutboxRow, Wanted
from curecal.reminders.builders.build_reminders import build_reminders
from curecal.reminders.messages.kept_reminders import (
    HEARD,
    NOTICES,
    heard_of,
    keep,
    reminder_of,
    reminder_row,
)
from curecal.reminders.messages.notices import about, about_lines, give_notice, pass_on
from curecal.reminders.messages.render import digest_of
from curecal.reminders.messages.send_context import PlannedNow, SendContext
from curecal.reminders.reminder_types import Channel, Heard, MessageKind, Reminder

if TYPE_CHECKING:
    from sqlalchemy.engine import Connection


# A server that broke off is often back by then.
_AGAIN_S = 30.0
# A mail that came twice is a nuisance, one that did not come is a loss: once more, and no oftener.
_MAIL_TRIES = 2
# A STOP may come five times rather than not at all.
_URGENT_TRIES = 5
_SURE = tuple(state for state in HEARD if state is not MessageState.UNCERTAIN)
# Of these the number in the text counts, not only the day.
_BY_WORDS = frozenset({MessageKind.HEAT_DAY, MessageKind.BARE_HEAT_DAY})


def reminders_of(planned: PlannedNow, heard: Sequence[Heard]) -> tuple[Reminder, ...]:
    """Return what a plan wants said to people who heard something before.

    Args:
        planned: the plan.
        heard: what they heard.

    Returns:
        The reminders.
    """
    return build_reminders(
        planned.plan,
        planned.plan.job.people,
        planned.rules,
        heard,
        log=planned.log,
        day_off=planned.calendar.day_off,
        clock_is_sure=planned.clock_is_sure,
    )


def want_of(
    connection: Connection, planned: PlannedNow, states: Iterable[MessageState] = HEARD
) -> dict[str, Reminder]:
    """Return what is wanted of a job now.

    Args:
        connection: the transaction.
        planned: the plan of now.
        states: the states of messages that count as heard.

    Returns:
        The reminders by their key.
    """
    heard = heard_of(connection, planned.plan.job.id, states)
    return {reminder.key: reminder for reminder in reminders_of(planned, heard)}


def standing_messages(
    connection: Connection, context: SendContext, planned: PlannedNow, want: dict[str, Reminder]
) -> tuple[set[str], int]:
    """Take back what has certainly not left and no longer holds.

    Args:
        connection: the plan's transaction.
        context: the rules.
        planned: the plan of now.
        want: what is wanted now, by key.

    Returns:
        The keys of what still stands, and how many messages were taken back.
    """
    standing: set[str] = set()
    superseded = 0
    job_id = planned.plan.job.id
    for row in job_messages(connection, job_id, UNSENT, digests=False):
        if row.kind in NOTICES:
            continue
        kept = reminder_row(connection, row)
        if kept is not None and holds(kept, want, context, planned):
            standing.add(reminder_of(kept).key)
            continue
        move(connection, row, MessageState.SUPERSEDED, who=Who.PLANNER, reason="newer facts")
        superseded += 1
    lines, dissolved = _standing_lines(connection, context, planned, want)
    return standing | lines, superseded + dissolved


def _standing_lines(
    connection: Connection, context: SendContext, planned: PlannedNow, want: dict[str, Reminder]
) -> tuple[set[str], int]:
    """Take messages of several lines back of which one no longer holds; return what stands."""
    job_id = planned.plan.job.id
    standing: set[str] = set()
    dissolved = 0
    for number in digests_with(connection, job_id):
        try:
            row = message_of(connection, number)
        except NOT_READ:
            # What it says is whole: it is made a message anew.
            dissolve_unread(connection, number)
            want_again(connection, job_id)
            continue
        mine = [line for line in lines_of(connection, number) if line.job_id == job_id]
        if row is None or all(holds(line, want, context, planned) for line in mine):
            standing |= {reminder_of(line).key for line in mine}
            continue
        dissolve(connection, row, again=job_id, reason="newer facts")
        dissolved += 1
    return standing, dissolved


def holds(
    kept: Wanted, want: dict[str, Reminder], context: SendContext, planned: PlannedNow
) -> bool:
    """Return whether what a message says is still what its plan wants said.

    Args:
        kept: the reminder the message was made of.
        want: what is wanted now.
        context: the rules.
        planned: the plan of now.

    Returns:
        False where the day or the number it tells is another, or it is not wanted at all.
    """
    old = reminder_of(kept)
    new = want.get(old.key)
    if new is None or (new.topic, new.day_on) != (old.topic, old.day_on):
        return False
    if old.kind not in _BY_WORDS:
        return True
    return bool(kept.payload.get("digest") == digest_of(new, context, planned))


def settle_uncertain(
    connection: Connection, context: SendContext, planned: PlannedNow, now: datetime
) -> None:
    """Decide about messages that may have arrived: once more, the same octets, or never.

    Mail once more, then it is given up. A text or a push is not sent twice; but what stops a floor
    is, always. What no longer holds is not sent again: its correction is on its way.

    Args:
        connection: the plan's transaction.
        context: the rules.
        planned: the plan of now.
        now: the instant.
    """
    job_id = planned.plan.job.id
    rows = job_messages(connection, job_id, [MessageState.UNCERTAIN])
    if not rows:
        return
    sure = want_of(connection, planned, _SURE)
    for row in rows:
        if row.kind == DIGEST:
            _uncertain_lines(connection, context, row, now)
            continue
        kept = reminder_row(connection, row)
        urgent = row.order_key == URGENT_ORDER
        most = _URGENT_TRIES if urgent else _MAIL_TRIES if row.channel == Channel.EMAIL else 1
        times = row.tries if kept is None else int(kept.payload.get("unsure", 0)) + 1
        fits = row.kind in NOTICES or (kept is not None and holds(kept, sure, context, planned))
        in_time = row.not_after is None or row.not_after > now
        if fits and in_time and times < most:
            again_at = now + timedelta(seconds=_AGAIN_S)
            if kept is not None:
                keep(connection, kept, unsure=times)
            move(connection, row, MessageState.DUE, who=Who.PLANNER, next_try_at=again_at)
            continue
        move(connection, row, MessageState.DEAD, who=Who.PLANNER, reason=row.reason or "no answer")
        if fits and row.kind in NOTICES:
            pass_on(connection, planned, kept, now=now)
        elif fits:
            give_notice(connection, planned, MessageKind.UNSURE, about(row, kept, planned), now=now)


def _uncertain_lines(
    connection: Connection, context: SendContext, row: OutboxRow, now: datetime
) -> None:
    """Send a mail of several lines once more while all of them hold; else give it up."""
    lines = lines_of(connection, row.id)
    plans = {
        job_id: context.plan(context.know(connection, job_id), now)
        for job_id in {line.job_id for line in lines}
    }
    wants = {
        job_id: want_of(connection, planned, _SURE)
        for job_id, planned in plans.items()
        if planned is not None
    }

    def fits(line: Wanted) -> bool:
        planned = plans[line.job_id]
        return planned is not None and holds(line, wants[line.job_id], context, planned)

    standing = [line for line in lines if fits(line)]
    in_time = row.not_after is None or row.not_after > now
    times = int(lines[0].payload.get("unsure", 0)) + 1 if lines else 1
    if (
        row.channel == Channel.EMAIL
        and times < _MAIL_TRIES
        and in_time
        and len(standing) == len(lines)
    ):
        keep(connection, lines[0], unsure=times)
        again_at = now + timedelta(seconds=_AGAIN_S)
        move(connection, row, MessageState.DUE, who=Who.PLANNER, next_try_at=again_at)
        return
    move(connection, row, MessageState.DEAD, who=Who.PLANNER, reason=row.reason or "no answer")
    for job_id, planned in plans.items():
        named = [line for line in standing if line.job_id == job_id]
        if planned is not None and named:
            said = about_lines(row, named, planned)
            give_notice(connection, planned, MessageKind.UNSURE, said, now=now)
