"""What everybody is to be told: a pure function of the plan, the people and what they heard.

It looks at the instant of the plan only. What was told is not wanted again; what is past its use
is not wanted any more. Called again with the same arguments it gives the same reminders, and
called later the same again, as long as nothing new happened.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import replace
from datetime import date, datetime

from curecal.instants import end_of_day, local_day
from curecal.planning.plan import Plan, VisitKind
from curecal.planning.working_time.working_calendar import Calendar, DayOff
from curecal.reminders.builders.appointment_reminders import appointment_reminders
from curecal.reminders.builders.crew_reminders import for_crew
from curecal.reminders.builders.owner_reminders import for_owner
from curecal.reminders.builders.reminder_context import ReminderContext
from curecal.reminders.builders.state_changes import MOVES, comes_first, state_changes
from curecal.reminders.builders.visit_reminders import for_electrician, of_no_electrician
from curecal.reminders.reminder_types import Heard, MessageKind, Reminder, ReminderRules
from curecal.reminders.timing.sending_hours import next_evening, proper_at
from curecal.trade.job import Person, Role
from curecal.trade.site_log import Entry


def build_reminders(
    plan: Plan,
    people: Iterable[Person],
    rules: ReminderRules,
    told: Iterable[Heard],
    *,
    log: Iterable[Entry] = (),
    day_off: DayOff,
) -> tuple[Reminder, ...]:
    """Return what is to be told from the plan's instant on.

    Rule: R20 to R23, R26.

    Args:
        plan: the plan as of now.
        people: who is told.
        rules: the reminders' rules.
        told: everything they heard of this job, or may have.
        log: the log the plan was made from: when the last fact came, and loggers in use.
        day_off: knows weekends and holidays.

    Returns:
        The reminders in the order of their time; what is due already stands first.
    """
    job = plan.job
    ctx = ReminderContext(
        plan, people, rules, told, tuple(log), Calendar(job.work, job.tz, day_off)
    )
    found: dict[str, Reminder] = {}
    for role, asks in (
        (Role.CREW_LEAD, for_crew(ctx)),
        (Role.ELECTRICIAN, for_electrician(ctx)),
        (Role.OWNER, for_owner(ctx)),
    ):
        for reminder in ctx.expand(asks, role):
            found.setdefault(reminder.key, reminder)
    for reminder in (
        *state_changes(ctx),
        *of_no_electrician(ctx),
        *appointment_reminders(ctx),
    ):
        found.setdefault(reminder.key, reminder)
    return tuple(sorted(_spaced(ctx, found.values()), key=_order))


def _spaced(ctx: ReminderContext, found: Iterable[Reminder]) -> Iterator[Reminder]:
    """Give the reminders, what moved no more than once a person and day unless it is at hand."""
    last: dict[str, datetime] = {}
    together: dict[str, datetime] = {}
    soon = next_evening(ctx.as_of, ctx.rules.soon, ctx.tz)
    joined = tuple(_joined(found))
    for reminder in sorted(
        joined, key=lambda one: (one.due_at, one.day_on or ctx.local_on, one.key)
    ):
        day_on = reminder.day_on
        if reminder.kind not in MOVES or day_on is None or ctx.day_at(day_on) < soon:
            yield reminder
            continue
        due_at = together.get(reminder.recipient) if _goes_along(reminder) else None
        if due_at is not None:
            yield replace(reminder, due_at=due_at)
            continue
        due_at = reminder.due_at
        before = last.get(reminder.recipient)
        if before is not None:
            said_on = local_day(max(before, ctx.as_of), ctx.tz)
            due_at = max(due_at, end_of_day(said_on, ctx.tz))
        if comes_first(ctx, _before_on(reminder), due_at, reminder.recipient):
            due_at = reminder.due_at
        due_at = proper_at(due_at, ctx.roles_of(reminder.recipient), ctx.rules, ctx.calendar)
        last[reminder.recipient] = due_at
        if reminder.kind == _VISIT:
            together[reminder.recipient] = due_at
        yield replace(reminder, due_at=due_at)


def _joined(found: Iterable[Reminder]) -> Iterator[Reminder]:
    """Give the reminders, a visit that moved told with the first of its reader that did.

    Each has its own message, as each has its own place in a calendar; but a test by Friday and
    the switching on of that Friday never stand beside each other.
    """
    moves = tuple(found)
    first: dict[str, datetime] = {}
    for move in moves:
        if move.kind == _VISIT:
            first[move.recipient] = min(move.due_at, first.get(move.recipient, move.due_at))
    for move in moves:
        yield replace(move, due_at=first[move.recipient]) if _goes_along(move) else move


def _goes_along(reminder: Reminder) -> bool:
    """Return whether it is a visit that moved: but to switch on sooner waits its own time."""
    before_on = _before_on(reminder)
    nearer = before_on is not None and reminder.day_on is not None and reminder.day_on < before_on
    return reminder.kind == _VISIT and not (nearer and reminder.subject == VisitKind.ENERGIZE)


def _before_on(reminder: Reminder) -> date | None:
    """Return the day that no longer holds."""
    before_on = reminder.params.get("before_on")
    return before_on if isinstance(before_on, date) else None


_VISIT = MessageKind.VISIT_MOVED


def _order(reminder: Reminder) -> tuple[object, ...]:
    """What stops a floor comes first of what is due at one instant, then its release."""
    return (
        reminder.due_at,
        not reminder.urgent,
        reminder.kind != MessageKind.RELEASED,
        reminder.key,
    )
