"""What everybody is to be told: a pure function of the plan, the people and what they heard.

It looks at the instant of the plan only. What was told is not wanted again; what is past its use
is not wanted any more. Called again with the same arguments it gives the same reminders, and
called later the same again, as long as nothing new happened.
"""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date

from curecal.planning.plan import Plan
from curecal.planning.working_time.working_calendar import Calendar, DayOff
from curecal.reminders.builders.appointment_reminders import appointment_reminders
from curecal.reminders.builders.crew_reminders import for_crew
from curecal.reminders.builders.owner_reminders import for_owner
from curecal.reminders.builders.reminder_context import ReminderContext
from curecal.reminders.builders.state_changes import state_changes
from curecal.reminders.builders.unsure_clock import by_unsure_clock
from curecal.reminders.builders.visit_reminders import for_electrician, of_no_electrician
from curecal.reminders.reminder_types import Heard, MessageKind, Reminder, ReminderRules
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
    clock_is_sure: bool = True,
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
        clock_is_sure: whether anybody confirmed the clock that the plan's instant is read from.

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
    wanted = tuple(sorted(found.values(), key=_order))
    if clock_is_sure:
        return wanted
    return tuple(sorted(by_unsure_clock(ctx, wanted), key=_order))


def _order(reminder: Reminder) -> tuple[object, ...]:
    """Of what is due at one instant a stop comes first, then a release, then by its day."""
    return (
        reminder.due_at,
        not reminder.urgent,
        reminder.kind != MessageKind.RELEASED,
        reminder.day_on or date.max,
        reminder.key,
    )
