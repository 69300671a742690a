"""What everybody is to be told: a pure function of the plan, the people and what they heard.

It looks at the instant of the plan only. What was told is not wanted again; what is past its use
is not wanted any more. Called again with the same arguments it gives the same reminders, and
called later the same again, as long as nothing new happened.
"""

from __future__ import annotations

from collections.abc import Iterable

from curecal.planning.plan import Plan
from curecal.planning.workdays import Calendar, DayOff
from curecal.reminders.model import Heard, Reminder, ReminderRules
from curecal.reminders.news import news
from curecal.reminders.of_crew import for_crew
from curecal.reminders.of_owner import for_owner
from curecal.reminders.of_visits import for_electrician
from curecal.reminders.scene import Scene
from curecal.trade.buildup import Person, Role
from curecal.trade.log import Entry


def wanted(
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
    scene = Scene(plan, people, rules, told, tuple(log), Calendar(job.work, job.tz, day_off))
    found: dict[str, Reminder] = {}
    for role, asks in (
        (Role.CREW_LEAD, for_crew(scene)),
        (Role.ELECTRICIAN, for_electrician(scene)),
        (Role.OWNER, for_owner(scene)),
    ):
        for reminder in scene.expand(asks, role):
            found.setdefault(reminder.key, reminder)
    for reminder in news(scene):
        found.setdefault(reminder.key, reminder)
    return tuple(sorted(found.values(), key=_order))


def _order(each: Reminder) -> tuple[object, ...]:
    """What stops a floor comes first of what is due at one instant, then its release."""
    return (each.due_at, not each.urgent, each.kind != "released", each.key)
