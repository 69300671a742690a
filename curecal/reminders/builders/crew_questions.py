"""What a crew lead is asked about work of which nothing is on record: is it done, on, set?

Rule: R21, R26.
"""

from __future__ import annotations

from collections.abc import Iterator
from datetime import datetime, timedelta

from curecal.instants import Window, local_day
from curecal.planning.plan import HeatUpPurpose, LayerPlan, State, ZonePlan
from curecal.reminders.builders.owner_reminders import is_confirmed
from curecal.reminders.builders.reminder_context import Ask, ReminderContext
from curecal.reminders.reminder_types import MessageKind, Occasion
from curecal.reminders.timing.sending_hours import rounds
from curecal.trade.data_sheets import SPLIT_OVER_A_NIGHT

_DAY = timedelta(days=1)


def questions(ctx: ReminderContext, zone: ZonePlan) -> Iterator[Ask]:
    """Give what a crew lead is asked of a zone.

    Args:
        ctx: the plan and its log.
        zone: the zone.

    Yields:
        What to ask.
    """
    yield from _is_it_done(ctx, zone)
    yield from _is_it_on(ctx, zone)
    yield from _was_it_set(ctx, zone)


def work_to_come(zone: ZonePlan) -> list[tuple[LayerPlan, Window]]:
    """Return the layers to come with their starts, in order of work.

    Args:
        zone: the zone.

    Returns:
        Each layer that is not done, with its window.
    """
    coming = [(item, item.start) for item in zone.layers if item.planned and item.start]
    return sorted(coming, key=lambda pair: pair[1].earliest)


def _is_it_done(ctx: ReminderContext, zone: ZonePlan) -> Iterator[Ask]:
    """A layer whose time has passed unrecorded: planned by the job, or told as the next step."""
    rule = ctx.rule(MessageKind.IS_IT_DONE)
    for item, _ in work_to_come(zone):
        layer = item.layer
        passed = layer.planned_finish_at or _told_finish(ctx, zone, item)
        if passed is None or passed > ctx.as_of:
            continue
        first_on = local_day(passed, ctx.tz) + _DAY
        for round_on in rounds(first_on, ctx.local_on, rule.every):
            yield Ask(
                kind=MessageKind.IS_IT_DONE,
                due_at=ctx.day_at(round_on, MessageKind.IS_IT_DONE),
                zone_id=zone.zone.id,
                subject=layer.id,
                occasion=Occasion(on=round_on),
                params=ctx.zone_facts(zone)
                | {"layer": layer.name, "part": layer.part, "planned_at": passed},
            )


def _told_finish(ctx: ReminderContext, zone: ZonePlan, item: LayerPlan) -> datetime | None:
    """Return when a layer would be finished had it begun at the hour it was told as next."""
    # Who hears of it during the day begins no earlier than that.
    told = [
        max(heard.occasion.at, heard.told_at)
        for person in ctx.people
        for heard in ctx.told.about(person.id, zone.zone.id, MessageKind.NEXT_STEP, item.layer.id)
        if heard.occasion.at is not None
    ]
    if not told:
        return None
    split = item.layer.sheet.kind in SPLIT_OVER_A_NIGHT
    done = ctx.calendar.run(max(told), item.layer.duration_s, split=split)
    return done[1] if done else None


def _is_it_on(ctx: ReminderContext, zone: ZonePlan) -> Iterator[Ask]:
    """A released floor of which nobody wrote that it is on: no number goes to the owner."""
    at, day_on = zone.released_at, ctx.crew_day(zone)
    if zone.state is not State.RELEASED or at is None or day_on is None:
        return
    first_on = max(local_day(at, ctx.tz), day_on) + _DAY
    for round_on in rounds(first_on, ctx.local_on, ctx.rule(MessageKind.IS_IT_DONE).every):
        yield Ask(
            kind=MessageKind.IS_IT_DONE,
            due_at=ctx.day_at(round_on, MessageKind.IS_IT_DONE),
            zone_id=zone.zone.id,
            subject="energized",
            occasion=Occasion(on=round_on),
            parts=("switched-on",),
            params=ctx.zone_facts(zone) | {"released_at": at, "day_on": day_on},
        )


def _was_it_set(ctx: ReminderContext, zone: ZonePlan) -> Iterator[Ask]:
    """A step of the ramp that nobody logged, asked on its evening: the next number waits for it."""
    if zone.state is not State.HEATING_UP:
        return
    for heat_up in zone.heat_ups:
        begun = [index for index, step in enumerate(heat_up.steps) if step.on <= ctx.local_on]
        unknown = [index for index in begun if not is_confirmed(ctx, zone, heat_up.steps[index].on)]
        if not unknown or heat_up.purpose == HeatUpPurpose.BARE_SCREED:
            continue
        # No number went out after it: only this one may have been set.
        step = heat_up.steps[unknown[0]]
        week = ctx.rule(MessageKind.IS_IT_DONE).every
        every = 1 if ctx.local_on < step.on + week * _DAY else week
        for round_on in rounds(step.on, ctx.local_on, every):
            yield Ask(
                kind=MessageKind.IS_IT_DONE,
                due_at=ctx.day_at(round_on, MessageKind.IS_IT_DONE),
                zone_id=zone.zone.id,
                subject=f"step {step.on.isoformat()}",
                occasion=Occasion(on=round_on),
                parts=("step",),
                params=ctx.zone_facts(zone)
                | {"heat_up": heat_up, "index": unknown[0], "day_on": step.on},
            )
