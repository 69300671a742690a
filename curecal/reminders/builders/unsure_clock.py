"""What is said by a clock that nobody confirmed: no permission and no number.

An owner is asked to read the thermostat instead, and a crew lead hears why.

Rule: R26.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import replace

from curecal.instants import local_day, start_of_day
from curecal.reminders.builders.reminder_context import Ask, ReminderContext
from curecal.reminders.reminder_types import BY_A_SURE_CLOCK, MessageKind, Occasion, Reminder
from curecal.trade.job import Role

_CLOCK = "clock"


def by_unsure_clock(ctx: ReminderContext, wanted: Sequence[Reminder]) -> Iterator[Reminder]:
    """Give what of a plan's reminders may be said by a clock that nobody confirmed.

    Args:
        ctx: the plan, its people and what they heard.
        wanted: what would be said by a clock that is right.

    Yields:
        The reminders.
    """
    kept_back = [reminder for reminder in wanted if _lets_heat(reminder)]
    yield from (reminder for reminder in wanted if not _lets_heat(reminder))
    yield from _unknown_numbers(ctx, kept_back)
    yield from ctx.expand(_asked_to_look(ctx, kept_back), Role.CREW_LEAD)


def _lets_heat(reminder: Reminder) -> bool:
    # A visit to switch the floor on, once it is released.
    return reminder.kind in BY_A_SURE_CLOCK or "energize" in reminder.parts


def _unknown_numbers(ctx: ReminderContext, kept_back: Iterable[Reminder]) -> Iterator[Reminder]:
    """Give, for each number, that nobody knows it: the number itself is not told by it."""
    for reminder in kept_back:
        if reminder.kind is not MessageKind.HEAT_DAY:
            continue
        detail = f"{reminder.occasion.detail} {_CLOCK}"
        occasion = replace(reminder.occasion, detail=detail)
        told = ctx.told.about(reminder.recipient, reminder.zone_id, reminder.kind, reminder.subject)
        if not any(heard.occasion == occasion for heard in told):
            parts = ("unknown", "unknown-clock", "call")
            yield replace(reminder, occasion=occasion, parts=parts)


def _asked_to_look(ctx: ReminderContext, kept_back: Iterable[Reminder]) -> Iterator[Ask]:
    """Ask for a look at the clock when something is kept back, each day again."""
    today_at = start_of_day(ctx.local_on, ctx.tz)
    due_at = {max(reminder.due_at, today_at) for reminder in kept_back}
    days = {local_day(at, ctx.tz): at for at in sorted(due_at, reverse=True)}
    contact = ctx.zone_facts(ctx.plan.zones[0])["contact"]
    for day, at in days.items():
        yield Ask(
            kind=MessageKind.CLOCK_UNSURE,
            due_at=at,
            occasion=Occasion(on=day),
            params={"job": ctx.plan.job.name, "contact": contact},
        )
