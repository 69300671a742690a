"""What an owner is told: one day, one number a morning, and never a "may" before the release.

Rule: R21.
"""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date, datetime, timedelta

from curecal.instants import end_of_day, local_day, start_of_day
from curecal.planning.plan import HeatUp, HeatUpPurpose, State, ZonePlan
from curecal.planning.zone.floor_known import is_floor_known
from curecal.reminders.builders.bare_heat_up import bare_heat_up, has_begun, shown_number
from curecal.reminders.builders.reminder_context import Ask, ReminderContext, begun_at
from curecal.reminders.builders.state_changes import last_day
from curecal.reminders.reminder_types import MessageKind, Occasion, Recipient, Topic
from curecal.reminders.timing.sending_hours import later, quiet_after
from curecal.trade.job import Role

_DAY = timedelta(days=1)
_CURING = frozenset({State.CURING, State.ON_HOLD, State.CLEAR, State.NO_DATE})
# Why a floor stays off, in words that hold: none of them makes anything but the release permit.
_REASONS = {State.ON_HOLD: "checks", State.CLEAR: "release", State.NO_DATE: "no-date"}


def for_owner(ctx: ReminderContext) -> Iterator[Ask]:
    """Give what an owner is told of each zone.

    Args:
        ctx: the plan.

    Yields:
        What to say.
    """
    for zone in ctx.plan.zones:
        if zone.state in _CURING:
            yield from _bare_screed(ctx, zone)
            yield from _still_curing(ctx, zone)
        if zone.state is not State.NO_DATE and not zone.is_released:
            yield from _evening_before(ctx, zone)
        if zone.state is State.HEATING_UP:
            yield from _heat_days(ctx, zone)
        yield from _in_service(ctx, zone)


def _bare_screed(ctx: ReminderContext, zone: ZonePlan) -> Iterator[Ask]:
    """The crew is about to heat the bare screed, or does: nobody else has a hand in it."""
    heat_up = bare_heat_up(ctx, zone)
    if heat_up is None:
        return
    first_on = heat_up.steps[0].on
    day_on, parts = _bare_words(ctx, zone)
    yield Ask(
        kind=MessageKind.STILL_CURING,
        due_at=ctx.day_at(first_on - _DAY, MessageKind.STILL_CURING),
        zone_id=zone.zone.id,
        subject=HeatUpPurpose.BARE_SCREED,
        occasion=Occasion(on=first_on),
        parts=parts,
        params=ctx.zone_facts(zone)
        | {"day_on": day_on, "bare_on": first_on, "bare_ends_on": heat_up.ends_on},
        topic=Topic.OWNER,
        day_on=day_on,
        until_at=ctx.day_at(heat_up.ends_on),
        sliding=True,
    )


def _bare_words(ctx: ReminderContext, zone: ZonePlan) -> tuple[date | None, tuple[str, ...]]:
    day_on = ctx.owner_day(zone)
    dated = ctx.is_ahead(day_on)
    return day_on, ("bare-dated" if dated else "bare-undated", "bare-care")


def _still_curing(ctx: ReminderContext, zone: ZonePlan) -> Iterator[Ask]:
    begun = begun_at(zone)
    if begun is None:
        return
    rule = ctx.rule(MessageKind.STILL_CURING)
    day_on = ctx.owner_day(zone)
    # After its day a floor that is not released has no day to tell.
    dated = ctx.is_ahead(day_on)
    parts = (
        "dated" if dated else "undated",
        _REASONS.get(zone.state, "hardening"),
        "by-owner" if zone.first_switched_on_by is Role.OWNER else "by-other",
        *(("moves",) if dated else ()),
    )
    heat_up = bare_heat_up(ctx, zone)
    bare: dict[str, object] = {}
    if heat_up and has_begun(ctx, zone, heat_up):
        _, parts = _bare_words(ctx, zone)
        bare = {"bare_on": heat_up.steps[0].on, "bare_ends_on": heat_up.ends_on}
    for person in ctx.people:
        if Role.OWNER not in person.roles:
            continue
        round_on = _with_other_zones(ctx, zone, person, rule.every)
        if heat_up and round_on == heat_up.steps[0].on - _DAY:
            # The day before it is heated bare has words of its own.
            continue
        if dated and day_on is not None and round_on >= day_on - _DAY:
            # The day before has words of its own.
            continue
        due_at = ctx.day_at(round_on, MessageKind.STILL_CURING)
        named_on = _named_day(ctx, zone, person)
        gone_by = not dated and named_on is not None and named_on < ctx.local_on
        yield Ask(
            kind=MessageKind.STILL_CURING,
            # A floor finished in the evening is spoken of the next morning, not before it is there.
            due_at=max(due_at, begun),
            zone_id=zone.zone.id,
            occasion=Occasion(on=round_on),
            parts=(parts[0], "gone-by", *parts[1:]) if gone_by else parts,
            params=ctx.zone_facts(zone)
            | {"day_on": day_on, "named_on": named_on, "why": zone.why}
            | bare,
            topic=Topic.OWNER,
            day_on=day_on,
            only=person.id,
        )


def _with_other_zones(ctx: ReminderContext, zone: ZonePlan, person: Recipient, every: int) -> date:
    """Return the day to say it again, the same for zones of one house whose days lie close."""
    own_on = date.max
    days = []
    for other in ctx.plan.zones:
        begun = begun_at(other)
        if begun is None or other.state not in _CURING:
            continue
        days.append(_said_again_on(ctx, other, person, begun, every))
        if other is zone:
            own_on = days[-1]
    near = own_on - (every // 2) * _DAY
    return min(day for day in days if day >= near)


def _said_again_on(
    ctx: ReminderContext, zone: ZonePlan, person: Recipient, begun: datetime, every: int
) -> date:
    """Return the day to say it again: so long after the last word of it, later half as often."""
    said = [heard for heard in ctx.told.of(person.id, zone.zone.id) if heard.topic == Topic.OWNER]
    if not said:
        return local_day(begun, ctx.tz)
    last_on = local_day(said[-1].told_at, ctx.tz)
    often = last_on - local_day(begun, ctx.tz) < 2 * every * _DAY
    again_on = last_on + (every if often else 2 * every) * _DAY
    named_on = _named_day(ctx, zone, person)
    # A day that was named and went by without a word reads as if it were allowed now.
    return again_on if named_on is None else min(again_on, named_on + _DAY)


def _named_day(ctx: ReminderContext, zone: ZonePlan, person: Recipient) -> date | None:
    """Return the day a person was told last, where it was ahead then."""
    said = [heard for heard in ctx.told.of(person.id, zone.zone.id) if heard.topic == Topic.OWNER]
    if not said or said[-1].day_on is None:
        return None
    day_on = said[-1].day_on
    return day_on if day_on >= local_day(said[-1].told_at, ctx.tz) else None


def _evening_before(ctx: ReminderContext, zone: ZonePlan) -> Iterator[Ask]:
    day_on = ctx.owner_day(zone)
    if day_on is None or zone.state is State.STOPPED or begun_at(zone) is None:
        return
    rule = ctx.rule(MessageKind.EVENING_BEFORE)
    for person in ctx.people:
        last = last_day(ctx, person, zone, Topic.OWNER)
        if Role.OWNER not in person.roles or last is None or last.day_on != day_on:
            # Nobody hears of a day "we named" that they were not told.
            continue
        yield Ask(
            kind=MessageKind.EVENING_BEFORE,
            due_at=ctx.day_at(day_on - rule.before * _DAY, MessageKind.EVENING_BEFORE),
            zone_id=zone.zone.id,
            occasion=Occasion(on=day_on),
            params=ctx.zone_facts(zone) | {"day_on": day_on},
            topic=Topic.OWNER,
            day_on=day_on,
            # It says "tomorrow".
            until_at=start_of_day(day_on, ctx.tz),
            only=person.id,
        )


def _heat_days(ctx: ReminderContext, zone: ZonePlan) -> Iterator[Ask]:
    """One number on the morning of each step, from when the log says that the floor is on.

    An owner who switches it on has it at its lowest number until then: a number for a floor that
    nobody knows to be on would be one to start from on any later day.
    """
    for heat_up in zone.heat_ups:
        if heat_up.purpose == HeatUpPurpose.BARE_SCREED or not heat_up.steps:
            continue
        for index in range(len(heat_up.steps)):
            yield _heat_day(ctx, zone, heat_up, index)


def _heat_day(ctx: ReminderContext, zone: ZonePlan, heat_up: HeatUp, index: int) -> Ask:
    step = heat_up.steps[index]
    last = index + 1 == len(heat_up.steps)
    params = ctx.zone_facts(zone) | {
        "heat_up": heat_up,
        "index": index,
        "day_on": step.on,
        "until_on": step.on + (max(1, step.hold_days) - 1) * _DAY,
        "ends_on": heat_up.ends_on,
        "limit_c": heat_up.limit_c,
        "step_k": heat_up.step_k,
    }
    parts = (
        "text" if step.hold_days > 1 else "text-day",
        *(() if index else ("first",)),
        *(("not-measured",) if not (index or heat_up.start_measured) else ()),
        *(("last",) if last else ()),
        "care",
        "call",
    )
    if index and not is_confirmed(ctx, zone, heat_up.steps[index - 1].on):
        parts = ("unknown", "unknown-why", "call")
    due_at = max(ctx.day_at(step.on, MessageKind.HEAT_DAY), zone.released_at or ctx.as_of)
    number = shown_number(heat_up, index)
    return Ask(
        kind=MessageKind.HEAT_DAY,
        due_at=due_at,
        zone_id=zone.zone.id,
        subject=f"{heat_up.purpose} {index + 1}",
        # A first day that slides, because nobody switched on, is told once; another number anew.
        occasion=Occasion(on=step.on if index else None, detail=number),
        # What nobody knows is no number: it goes out only while that is so.
        parts=parts,
        params=params,
        until_at=_evening_of(ctx, step.on, due_at),
    )


def is_confirmed(ctx: ReminderContext, zone: ZonePlan, step_on: date) -> bool:
    """Return whether the log shows where the floor is: a step, or its own temperature.

    Args:
        ctx: the plan and its log.
        zone: the zone.
        step_on: the day of the step.

    Returns:
        True with a step set on that day or later, or a floor reading of the last 24 h.
    """
    return is_floor_known(ctx.log, zone.zone.id, step_on, ctx.as_of, ctx.tz)


def _evening_of(ctx: ReminderContext, day: date, due_at: datetime) -> datetime:
    """Return until when a number for a day is worth saying: its evening, whenever that begins."""
    keeps_s = ctx.rule(MessageKind.HEAT_DAY).keeps_s
    evening_at = quiet_after(due_at, ctx.rules, ctx.tz)
    if evening_at is None and keeps_s is not None:
        evening_at = later(due_at, keeps_s)
    ends_at = max(end_of_day(day, ctx.tz), due_at)
    return ends_at if evening_at is None else min(evening_at, ends_at)


def _in_service(ctx: ReminderContext, zone: ZonePlan) -> Iterator[Ask]:
    """The careful days are over: planned while the floor heats up, said once it did."""
    told = [
        heard.told_at
        for person in ctx.people
        for heard in ctx.told.of(person.id, zone.zone.id)
        if heard.kind == MessageKind.HEAT_DAY
    ]
    if not told:
        return
    if zone.state is State.HEATING_UP:
        ends = [
            heat_up.ends_on
            for heat_up in zone.heat_ups
            if heat_up.purpose != HeatUpPurpose.BARE_SCREED
        ]
        ends_on = max(ends, default=None)
    elif zone.state is State.IN_SERVICE:
        ends_on = local_day(max(told), ctx.tz) + _DAY
    else:
        return
    if ends_on is None:
        return
    due_at = ctx.day_at(ends_on, MessageKind.IN_SERVICE)
    if zone.state is State.HEATING_UP and due_at <= ctx.as_of:
        # Its last hold is not over by the log: nobody says that it is.
        return
    yield Ask(
        kind=MessageKind.IN_SERVICE,
        due_at=due_at,
        zone_id=zone.zone.id,
        params=ctx.zone_facts(zone) | {"day_on": ends_on},
    )
