"""The plan's transaction: what is wanted, what no longer holds, what is due, all or nothing.

Whoever stores a fact may call `replan` in the same transaction; the daemon calls it at each
midnight of a site, at each wanted instant, for each change it finds, and when the clock alone
changes what is to be told.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import UTC, date, datetime
from typing import TYPE_CHECKING, NamedTuple

from curecal.book.meta import keep_value
from curecal.book.outbox.digests import make_ready, want_again
from curecal.book.outbox.last_left import last_left_at
from curecal.book.outbox.outbox import fire
from curecal.book.outbox.outbox_rows import Wanted
from curecal.book.outbox.reminders import put_off, put_wanted, wanted_of, withdraw
from curecal.instants import local_day
from curecal.records import PlainView
from curecal.reminders.builders.reconcile import reconcile
from curecal.reminders.messages.digest import kept_line, released_together
from curecal.reminders.messages.invitations import invitation
from curecal.reminders.messages.kept_reminders import (
    NOTICES,
    due_of,
    heard_of,
    keep,
    meant_at,
    new_rows,
    proper_for,
    reminder_of,
)
from curecal.reminders.messages.notices import about, give_notice
from curecal.reminders.messages.render import digest_of, rendered
from curecal.reminders.messages.send_context import PlannedNow, SendContext, generation_of, is_held
from curecal.reminders.recipients import is_out_of_reach
from curecal.reminders.reminder_types import MessageKind, Reminder
from curecal.reminders.replanning.replan_notes import (
    Unless,
    basis_of,
    may_plan,
    next_change,
    replan_key,
)
from curecal.reminders.replanning.standing_messages import (
    reminders_of,
    settle_uncertain,
    standing_messages,
)

if TYPE_CHECKING:
    from sqlalchemy.engine import Connection


class Replanned(NamedTuple):
    """What replanning a job did, in counts."""

    fired: int = 0
    inserted: int = 0
    withdrawn: int = 0
    superseded: int = 0
    missed: int = 0


def replan(
    connection: Connection,
    context: SendContext,
    job_id: str,
    *,
    now: datetime,
    firing: bool = True,
    unless: Unless | None = None,
) -> Replanned | None:
    """Bring the book's reminders and messages of a job to its plan of now.

    Args:
        connection: the plan's transaction.
        context: the rules, and who mail is from.
        job_id: the job.
        now: the instant.
        firing: whether messages are made of what is due, and somebody hears of what failed; not
            for whoever only asks.
        unless: whether to leave it to whoever planned it meanwhile, or is at it.

    Returns:
        What was done; None where it was left to somebody else.

    Raises:
        LostClaim: a message left meanwhile: roll back and replan again.
    """
    if unless is not None and not may_plan(connection, context, job_id, unless, now=now):
        return None
    known = context.know(connection, job_id, held=unless is None)
    planned = context.plan(known, now)
    done = Replanned()
    # Their words may be old, and while the job is on hold they wait for nothing.
    want_again(connection, job_id)
    until = None
    # Kept for whoever asks how it stands: nobody has to read every job for that.
    unreached: list[str] = []
    if planned is not None:
        if firing:
            settle_uncertain(connection, context, planned, now)
        heard = heard_of(connection, job_id)
        wanted = reminders_of(planned, heard)
        done = _bring_up(connection, context, planned, wanted, now, firing=firing)
        unreached = [person.name for person in planned.people.values() if is_out_of_reach(person)]
        until_at = next_change(connection, context, known, planned, heard, wanted, now=now)
        until = until_at.isoformat()
    # What was published meanwhile counts as a change, and was made here.
    generation = generation_of(connection, job_id, held=False)
    note = {
        "generation": generation,
        "basis": basis_of(context),
        "since": now.isoformat(),
        "by": context.name,
        "until": until,
        "unreached": unreached,
        "trouble": known.trouble,
    }
    keep_value(connection, replan_key(job_id), note)
    return done


def _bring_up(
    connection: Connection,
    context: SendContext,
    planned: PlannedNow,
    wanted: Sequence[Reminder],
    now: datetime,
    *,
    firing: bool,
) -> Replanned:
    job_id = planned.plan.job.id
    want = {reminder.key: reminder for reminder in wanted}
    queued, superseded = standing_messages(connection, context, planned, want)
    kept = wanted_of(connection, job_id)
    missed = 0
    if firing:
        missed = _say_missed(connection, planned, kept, now)
        if missed:
            kept = wanted_of(connection, job_id)
        firing = not is_held(connection, job_id)
    # What is past its use is given up where somebody can be told of it.
    rows = {row.id: row for row in kept if row.kind not in NOTICES and not _is_over(row, now)}
    have = {number: reminder_of(row) for number, row in rows.items()}
    wanted_now = {reminder.key: reminder for reminder in wanted if reminder.key not in queued}
    plan = reconcile(have.values(), wanted_now.values())
    gone = {id(reminder) for reminder in plan.withdraw}
    withdrawn = withdraw(
        connection, [number for number, reminder in have.items() if id(reminder) in gone]
    )
    inserted = 0
    if plan.insert:
        inserted = put_wanted(connection, new_rows(connection, job_id, plan.insert, now=now))
    fired = 0
    if firing:
        # What was put or withdrawn stands in the book by now.
        kept = wanted_of(connection, job_id) if inserted or withdrawn else kept
        fired = _fire(connection, context, planned, wanted_now, kept, now)
    return Replanned(fired, inserted, withdrawn, superseded, missed)


def _is_over(row: Wanted, now: datetime) -> bool:
    return row.expires_at is not None and row.expires_at <= now


def _say_missed(
    connection: Connection, planned: PlannedNow, kept: Sequence[Wanted], now: datetime
) -> int:
    """Give up what is past its use, say so to somebody, and return how many it was."""
    over = [row for row in kept if row.kind not in NOTICES and _is_over(row, now)]
    for row in over:
        withdraw(connection, [row.id])
        give_notice(connection, planned, MessageKind.MISSED, about(row, row, planned), now=now)
    return len(over)


def _fire(
    connection: Connection,
    context: SendContext,
    planned: PlannedNow,
    want: dict[str, Reminder],
    kept: Sequence[Wanted],
    now: datetime,
) -> int:
    """Make messages of what is due, in the words of the plan of now."""
    # What was told since the round began is due at once, and not with the next.
    seen_at = planned.plan.as_of
    rows = sorted(kept, key=_order)
    due = [row for row in rows if row.fire_at <= seen_at]
    left_at = last_left_at(
        connection, (_reader(row) for row in due if not row.payload.get("alone"))
    )
    goes_at = {
        row.id: proper_for(row, planned, seen_at, left_on=_left_on(left_at, planned, row))
        for row in due
    }
    going = [row for row in rows if goes_at.get(row.id, _LAST) <= seen_at]
    keys = {row.id: reminder_of(row).key for row in rows}
    joint = released_together(want[keys[row.id]] for row in going if keys[row.id] in want)
    # Where a person's message leaves, all goes along that is wanted by now.
    leaving = {_reader(row) for row in going if _is_line(row) or keys[row.id] in joint}
    fired = 0
    lines: list[tuple[Wanted, PlainView]] = []
    waiting: list[tuple[Wanted, datetime, PlainView]] = []
    for row in rows:
        new = want.get(keys[row.id])
        goes_along = _is_line(row) and _reader(row) in leaving and due_of(row) <= seen_at
        if new is None and row.kind not in NOTICES:
            continue
        if not goes_along and goes_at.get(row.id, _LAST) > seen_at:
            if row.id in goes_at:
                until = goes_at[row.id]
                waiting.append((row, until, _kept_while_waiting(row, planned, until, now)))
            continue
        if new is not None and (not new.alone or new.key in joint):
            digest = digest_of(new, context, planned)
            line = kept_line(new, meant_at(row, planned), context, planned)
            lines.append((row, {**row.payload, "digest": digest, "line": line}))
            continue
        invited = invitation(connection, context, planned, new, now=now) if new else None
        message, digest = rendered(row, new, context, planned, now=now, invited=invited)
        keep(connection, row, digest=digest)
        fired += len(fire(connection, [message]))
    make_ready(connection, lines)
    put_off(connection, waiting)
    return fired + len(lines)


_LAST = datetime.max.replace(tzinfo=UTC)


def _is_line(row: Wanted) -> bool:
    return not row.payload.get("alone") and row.kind not in NOTICES


def _reader(row: Wanted) -> tuple[str, str]:
    return row.channel, row.recipient


def _order(row: Wanted) -> tuple[object, ...]:
    urgent = bool(row.payload.get("urgent"))
    return (not urgent, row.fire_at, row.kind != MessageKind.RELEASED, row.id)


def _left_on(
    left_at: Mapping[tuple[str, str], datetime], planned: PlannedNow, row: Wanted
) -> date | None:
    """Return the last day on which a message of several lines left to a reader."""
    at = None if row.payload.get("alone") else left_at.get(_reader(row))
    return None if at is None else local_day(at, planned.calendar.tz)


def _kept_while_waiting(
    row: Wanted, planned: PlannedNow, until: datetime, now: datetime
) -> PlainView:
    """Return what is kept of a reminder that waits; one that is not late by now is not then."""
    if (now - meant_at(row, planned)).total_seconds() <= planned.rules.late_s:
        return {**row.payload, "meant": until.isoformat()}
    return row.payload
