"""The plan's transaction: what is wanted, what no longer holds, what is due, all or nothing.

Whoever stores a fact may call `replan` in the same transaction; the daemon calls it at each
midnight of a site, at each wanted instant, for each change it finds, and when the clock alone
changes what is to be told.
"""

from __future__ import annotations

from datetime import UTC, date, datetime
from typing import TYPE_CHECKING, NamedTuple

from sqlalchemy import update

from curecal.book.message_states import ReminderState
from curecal.book.meta import keep_value
from curecal.book.outbox.digests import (
    last_left_at,
    make_ready,
    want_again,
)
from curecal.book.outbox.outbox import fire
from curecal.book.outbox.outbox_rows import Wanted
from curecal.book.outbox.reminders import put_wanted, wanted_of, withdraw
from curecal.book.schema.tables import reminder as reminder_table
from curecal.instants import local_day
from curecal.reminders.builders.reconcile import reconcile
from curecal.reminders.messages.digest import kept_line, released_together
from curecal.reminders.messages.invitations import invitation
from curecal.reminders.messages.kept_reminders import (
    NOTICES,
    due_of,
    keep,
    meant_at,
    new_row,
    proper_for,
    reminder_of,
)
from curecal.reminders.messages.notices import about, give_notice
from curecal.reminders.messages.render import digest_of, rendered
from curecal.reminders.messages.send_context import PlannedNow, SendContext, generation_of, is_held
from curecal.reminders.recipients import is_out_of_reach
from curecal.reminders.reminder_types import MessageKind, Reminder
from curecal.reminders.sending.replan_notes import basis_of, next_change, replan_key
from curecal.reminders.sending.standing_messages import (
    settle_uncertain,
    standing_messages,
    want_of,
)

if TYPE_CHECKING:
    from sqlalchemy.engine import Connection


# What is told wakes at most a second message, and that one none; the rest waits for the cycle.
_ROUNDS = 4


class Replanned(NamedTuple):
    """What replanning a job did, in counts."""

    fired: int = 0
    inserted: int = 0
    withdrawn: int = 0
    superseded: int = 0
    missed: int = 0

    def plus(self, step: Replanned) -> Replanned:
        """Return what both did together."""
        return Replanned(
            self.fired + step.fired,
            self.inserted + step.inserted,
            self.withdrawn + step.withdrawn,
            self.superseded + step.superseded,
            self.missed + step.missed,
        )


def replan(
    connection: Connection, context: SendContext, job_id: str, *, now: datetime, firing: bool = True
) -> Replanned:
    """Bring the book's reminders and messages of a job to its plan of now.

    Args:
        connection: the plan's transaction.
        context: the rules, and who mail is from.
        job_id: the job.
        now: the instant.
        firing: whether messages are made of what is due, and somebody hears of what failed; not
            for whoever only asks.

    Returns:
        What was done.

    Raises:
        LostClaim: a message left meanwhile: roll back and replan again.
    """
    generation_of(connection, job_id, held=True)
    known = context.know(connection, job_id)
    planned = context.plan(known, now)
    done = Replanned()
    # Their words may be old, and while the job is on hold they wait for nothing.
    want_again(connection, job_id)
    if planned is not None:
        if firing:
            settle_uncertain(connection, context, planned, now)
            done = Replanned(missed=_say_missed(connection, planned, now))
            firing = not is_held(connection, job_id)
        for _ in range(_ROUNDS):
            step = _round(connection, context, planned, now, firing=firing)
            done = done.plus(step)
            # What went out tells a day: more may be wanted, or less.
            if not step.fired:
                break
    until = None
    # Kept for whoever asks how it stands: nobody has to read every job for that.
    unreached: list[str] = []
    if planned is not None:
        unreached = [person.name for person in planned.people.values() if is_out_of_reach(person)]
        until = next_change(connection, context, known, planned, now=now).isoformat()
    # What was published meanwhile counts as a change, and was made here.
    generation = generation_of(connection, job_id, held=False)
    note = {
        "generation": generation,
        "basis": basis_of(context),
        "since": now.isoformat(),
        "until": until,
        "unreached": unreached,
        "trouble": known.trouble,
    }
    keep_value(connection, replan_key(job_id), note)
    return done


def _round(
    connection: Connection,
    context: SendContext,
    planned: PlannedNow,
    now: datetime,
    *,
    firing: bool,
) -> Replanned:
    job = planned.plan.job
    want = want_of(connection, planned)
    queued, superseded = standing_messages(connection, context, planned, want)
    wanted = wanted_of(connection, job.id)
    # What is past its use is given up where somebody can be told of it.
    rows = {row.id: row for row in wanted if row.kind not in NOTICES and not _is_over(row, now)}
    have = {number: reminder_of(row) for number, row in rows.items()}
    wanted_now = [reminder for reminder in want.values() if reminder.key not in queued]
    plan = reconcile(have.values(), wanted_now)
    gone = {id(reminder) for reminder in plan.withdraw}
    withdrawn = withdraw(
        connection, [number for number, reminder in have.items() if id(reminder) in gone]
    )
    inserted = 0
    for reminder in plan.insert:
        inserted += len(put_wanted(connection, [new_row(connection, job.id, reminder, now=now)]))
    fired = 0
    if firing:
        fired = _fire(
            connection, context, planned, {reminder.key: reminder for reminder in wanted_now}, now
        )
    return Replanned(fired, inserted, withdrawn, superseded)


def _is_over(row: Wanted, now: datetime) -> bool:
    return row.expires_at is not None and row.expires_at <= now


def _say_missed(connection: Connection, planned: PlannedNow, now: datetime) -> int:
    """Give up what is past its use, say so to somebody, and return how many it was."""
    wanted = wanted_of(connection, planned.plan.job.id)
    over = [row for row in wanted if row.kind not in NOTICES and _is_over(row, now)]
    for row in over:
        withdraw(connection, [row.id])
        give_notice(connection, planned, MessageKind.MISSED, about(row, row, planned), now=now)
    return len(over)


def _fire(
    connection: Connection,
    context: SendContext,
    planned: PlannedNow,
    want: dict[str, Reminder],
    now: datetime,
) -> int:
    """Make messages of what is due, in the words of the plan of now."""
    job = planned.plan.job
    rows = sorted(wanted_of(connection, job.id), key=_order)
    goes_at = {
        row.id: proper_for(row, planned, now, left_on=_left_on(connection, planned, row))
        for row in rows
        if row.fire_at <= now
    }
    going = [row for row in rows if goes_at.get(row.id, _LAST) <= now]
    keys = {row.id: reminder_of(row).key for row in rows}
    joint = released_together(want[keys[row.id]] for row in going if keys[row.id] in want)
    # Where a person's message leaves, all goes along that is wanted by now.
    leaving = {_reader(row) for row in going if _is_line(row) or keys[row.id] in joint}
    fired = 0
    for row in rows:
        new = want.get(keys[row.id])
        goes_along = _is_line(row) and _reader(row) in leaving and due_of(row) <= now
        if new is None and row.kind not in NOTICES:
            continue
        if not goes_along and goes_at.get(row.id, _LAST) > now:
            if row.id in goes_at:
                _put_off(connection, row, planned, goes_at[row.id], now)
            continue
        if new is not None and (not new.alone or new.key in joint):
            digest = digest_of(new, context, planned)
            line = kept_line(new, meant_at(row, planned), context, planned)
            make_ready(connection, row, {**row.payload, "digest": digest, "line": line})
            fired += 1
            continue
        invited = invitation(connection, context, planned, new, now=now) if new else None
        message, digest = rendered(row, new, context, planned, now=now, invited=invited)
        keep(connection, row, digest=digest)
        fired += len(fire(connection, [message]))
    return fired


_LAST = datetime.max.replace(tzinfo=UTC)


def _is_line(row: Wanted) -> bool:
    return not row.payload.get("alone") and row.kind not in NOTICES


def _reader(row: Wanted) -> tuple[str, str]:
    return row.channel, row.recipient


def _order(row: Wanted) -> tuple[object, ...]:
    urgent = bool(row.payload.get("urgent"))
    return (not urgent, row.fire_at, row.kind != MessageKind.RELEASED, row.id)


def _left_on(connection: Connection, planned: PlannedNow, row: Wanted) -> date | None:
    """Return the last day on which a message of several lines left to a reader."""
    if row.payload.get("alone"):
        return None
    left_at = last_left_at(connection, row.channel, row.recipient)
    return None if left_at is None else local_day(left_at, planned.calendar.tz)


def _put_off(
    connection: Connection, row: Wanted, planned: PlannedNow, until: datetime, now: datetime
) -> None:
    """Let a reminder wait; one that is not late by now is not late then."""
    if (now - meant_at(row, planned)).total_seconds() <= planned.rules.late_s:
        keep(connection, row, meant=until.isoformat())
    connection.execute(
        update(reminder_table)
        .where(reminder_table.c.id == row.id, reminder_table.c.state == ReminderState.WANTED)
        .values(fire_at=until)
    )
