"""What everybody is to be told: a pure function of the plan, the people and what they heard.

It looks at the instant of the plan only. What was told is not wanted again; what is past its use
is not wanted any more. Called again with the same arguments it gives the same reminders, and
called later the same again, as long as nothing new happened.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import replace
from datetime import datetime

from curecal.instants import end_of_day, local_day
from curecal.planning.plan import Plan
from curecal.planning.workdays import Calendar, DayOff
from curecal.reminders.hours import next_evening, proper_at
from curecal.reminders.model import Heard, Reminder, ReminderRules
from curecal.reminders.news import MOVES, news
from curecal.reminders.of_crew import for_crew
from curecal.reminders.of_owner import for_owner
from curecal.reminders.of_visits import for_electrician, of_no_electrician
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
    for reminder in (*news(scene), *of_no_electrician(scene)):
        found.setdefault(reminder.key, reminder)
    return tuple(sorted(_spaced(scene, found.values()), key=_order))


def _spaced(scene: Scene, found: Iterable[Reminder]) -> Iterator[Reminder]:
    """Give the reminders, what moved no more than once a person and day unless it is at hand."""
    last: dict[str, datetime] = {}
    soon = next_evening(scene.as_of, scene.rules.soon, scene.tz)
    for each in sorted(found, key=lambda one: (one.due_at, one.day_on or scene.local_on, one.key)):
        day_on = each.day_on
        if each.kind not in MOVES or day_on is None or scene.day_at(day_on) < soon:
            yield each
            continue
        due_at = each.due_at
        before = last.get(each.recipient)
        if before is not None:
            said_on = local_day(max(before, scene.as_of), scene.tz)
            due_at = max(due_at, end_of_day(said_on, scene.tz))
        due_at = proper_at(due_at, scene.roles_of(each.recipient), scene.rules, scene.calendar)
        last[each.recipient] = due_at
        yield replace(each, due_at=due_at)


def _order(each: Reminder) -> tuple[object, ...]:
    """What stops a floor comes first of what is due at one instant, then its release."""
    return (each.due_at, not each.urgent, each.kind != "released", each.key)
