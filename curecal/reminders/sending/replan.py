"""The plan's transaction: what is wanted, what no longer holds, what is due, all or nothing.

Whoever stores a fact may call `replan` in the same transaction; the daemon calls it at each
midnight of a site, at each wanted instant, and for each change it finds.
"""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime, timedelta
from typing import TYPE_CHECKING, NamedTuple

from sqlalchemy import update

from curecal.book.message_states import UNSENT, URGENT_ORDER, MessageState, Who
from curecal.book.meta import keep_value, value_of
from curecal.book.outbox.outbox import fire, messages_of, move
from curecal.book.outbox.reminders import put_wanted, wanted_of, withdraw
from curecal.book.outbox.rows import Wanted
from curecal.book.schema.tables import reminder as reminder_table
from curecal.instants import end_of_day, local_day
from curecal.reminders.builders.build_reminders import build_reminders
from curecal.reminders.builders.reconcile import reconcile
from curecal.reminders.messages.invitations import invitation
from curecal.reminders.messages.kept_reminders import (
    HEARD,
    NOTICES,
    heard_of,
    keep,
    new_row,
    proper_for,
    reminder_of,
    reminder_row,
)
from curecal.reminders.messages.notices import about, give_notice, pass_on
from curecal.reminders.messages.render import digest_of, rendered
from curecal.reminders.messages.send_context import PlannedNow, SendContext, generation_of, is_held
from curecal.reminders.recipients import is_out_of_reach
from curecal.reminders.reminder_types import Heard, MessageKind, Reminder

if TYPE_CHECKING:
    from sqlalchemy.engine import Connection


_ROUNDS = 4
_AGAIN_S = 30.0
_MAIL_TRIES = 2
_URGENT_TRIES = 5
# Of these the number in the text counts, not only the day.
_BY_WORDS = frozenset({MessageKind.HEAT_DAY, MessageKind.BARE_HEAT_DAY})


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
        firing: whether messages are made of what is due; not while all is on hold.

    Returns:
        What was done.

    Raises:
        LostClaim: a message left meanwhile: roll back and replan again.
    """
    generation_of(connection, job_id, held=True)
    known = context.know(connection, job_id)
    planned = context.plan(known, now)
    firing = firing and not is_held(connection, job_id)
    done = Replanned()
    if planned is not None:
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
        tz = planned.calendar.tz
        until = end_of_day(local_day(now, tz), tz).isoformat()
    # What was published meanwhile counts as a change, and was made here.
    generation = generation_of(connection, job_id, held=False)
    note = {
        "generation": generation,
        "since": now.isoformat(),
        "until": until,
        "unreached": unreached,
        "trouble": known.trouble,
    }
    keep_value(connection, replan_key(job_id), note)
    return done


def replan_key(job_id: str) -> str:
    """Return the name under which the book keeps how a job was last replanned.

    Args:
        job_id: the job.

    Returns:
        The name.
    """
    return f"replanned:{job_id}"


def needs_replan(connection: Connection, job_id: str, *, now: datetime) -> bool:
    """Return whether a job changed, or its site has another day, since it was replanned.

    Args:
        connection: the transaction.
        job_id: the job.
        now: the instant.

    Returns:
        True where its reminders may no longer be those of its plan.
    """
    if not is_up_to_date(connection, job_id):
        return True
    note = value_of(connection, replan_key(job_id)) or {}
    since, until = (
        note[name] and datetime.fromisoformat(note[name]) for name in ("since", "until")
    )
    return bool(until) and not since <= now < until


def is_up_to_date(connection: Connection, job_id: str) -> bool:
    """Return whether no fact has come in since a job was replanned.

    Args:
        connection: the transaction.
        job_id: the job.

    Returns:
        False where a message might tell what no longer holds.
    """
    try:
        note = value_of(connection, replan_key(job_id))
    except ValueError:
        # What is no note any more is written anew.
        return False
    return note is not None and note.get("generation") == generation_of(
        connection, job_id, held=False
    )


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
    queued, superseded = _queued(connection, context, planned, want)
    _uncertain(connection, context, planned, now)
    rows = {row.id: row for row in wanted_of(connection, job.id) if row.kind not in NOTICES}
    have = {number: reminder_of(row) for number, row in rows.items()}
    missing = _missed(connection, planned, rows.values(), now)
    wanted_now = [reminder for reminder in want.values() if reminder.key not in queued]
    plan = reconcile(
        (reminder for number, reminder in have.items() if number not in missing), wanted_now
    )
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
    return Replanned(fired, inserted, withdrawn, superseded, len(missing))


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
    heard: list[Heard] = heard_of(connection, planned.plan.job.id, states)
    found = build_reminders(
        planned.plan,
        planned.plan.job.people,
        planned.rules,
        heard,
        log=planned.log,
        day_off=planned.calendar.day_off,
    )
    return {reminder.key: reminder for reminder in found}


def _queued(
    connection: Connection, context: SendContext, planned: PlannedNow, want: dict[str, Reminder]
) -> tuple[set[str], int]:
    """Take back what has certainly not left and no longer holds; return what still stands."""
    standing: set[str] = set()
    superseded = 0
    for row in messages_of(connection, job_id=planned.plan.job.id, states=sorted(UNSENT)):
        if row.kind in NOTICES:
            continue
        kept = reminder_row(connection, row)
        if kept is not None and holds(kept, want, context, planned):
            standing.add(reminder_of(kept).key)
            continue
        move(connection, row, MessageState.SUPERSEDED, who=Who.PLANNER, reason="newer facts")
        superseded += 1
    return standing, superseded


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


def _uncertain(
    connection: Connection, context: SendContext, planned: PlannedNow, now: datetime
) -> None:
    """Decide about messages that may have arrived: once more, the same octets, or never.

    Mail once more, then it is given up. A text or a push is not sent twice; but what stops a floor
    is, always. What no longer holds is not sent again: its correction is on its way.
    """
    job_id = planned.plan.job.id
    rows = messages_of(connection, job_id=job_id, states=[MessageState.UNCERTAIN])
    if not rows:
        return
    sure = want_of(
        connection, planned, [state for state in HEARD if state is not MessageState.UNCERTAIN]
    )
    for row in rows:
        kept = reminder_row(connection, row)
        urgent = row.order_key == URGENT_ORDER
        most = _URGENT_TRIES if urgent else _MAIL_TRIES if row.channel == "email" else 1
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


def _missed(
    connection: Connection, planned: PlannedNow, rows: Iterable[Wanted], now: datetime
) -> set[int]:
    """Give up what is past its use, and say so to somebody."""
    found: set[int] = set()
    for row in rows:
        if row.expires_at is None or row.expires_at > now:
            continue
        withdraw(connection, [row.id])
        give_notice(connection, planned, MessageKind.MISSED, about(row, row, planned), now=now)
        found.add(row.id)
    return found


def _fire(
    connection: Connection,
    context: SendContext,
    planned: PlannedNow,
    want: dict[str, Reminder],
    now: datetime,
) -> int:
    """Make messages of what is due, in the words of the plan of now."""
    job = planned.plan.job
    due = [row for row in wanted_of(connection, job.id) if row.fire_at <= now]
    fired = 0
    for row in sorted(due, key=_order):
        new = want.get(reminder_of(row).key)
        if new is None and row.kind not in NOTICES:
            continue
        later_at = proper_for(row, planned, now)
        if later_at > now:
            _put_off(connection, row, later_at)
            continue
        invited = invitation(connection, context, planned, new, now=now) if new else None
        message, digest = rendered(row, new, context, planned, now=now, invited=invited)
        keep(connection, row, digest=digest)
        fired += len(fire(connection, [message]))
    return fired


def _order(row: Wanted) -> tuple[object, ...]:
    urgent = bool(row.payload.get("urgent"))
    return (not urgent, row.fire_at, row.kind != MessageKind.RELEASED, row.id)


def _put_off(connection: Connection, row: Wanted, until: datetime) -> None:
    connection.execute(
        update(reminder_table)
        .where(reminder_table.c.id == row.id, reminder_table.c.state == "wanted")
        .values(fire_at=until)
    )
