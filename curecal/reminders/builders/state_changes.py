"""What concerns everyone on a job: stopped, switched on early, released, taken back, moved.

"Moved" is said when the day a person was told no longer holds: some minutes after the last fact,
once a person and day; at once when the new day is near or the work stopped.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from datetime import date, datetime, timedelta

from curecal.calendars.events.appointments import must_move
from curecal.instants import end_of_day, local_day, start_of_day
from curecal.planning.plan import HeatUpPurpose, State, ZonePlan
from curecal.planning.zone.stable_day import worst_day
from curecal.reminders.builders.former_recipients import still_believing
from curecal.reminders.builders.reminder_context import Ask, ReminderContext, begun_at
from curecal.reminders.builders.stop_reminders import (
    concerns,
    day_of,
    standing_stop,
    stop_over,
    stopped,
    topic_of,
)
from curecal.reminders.reminder_types import (
    MAY,
    MAY_NOT,
    ORDER,
    Heard,
    MessageKind,
    Occasion,
    Recipient,
    Reminder,
    Topic,
)
from curecal.reminders.timing.sending_hours import is_quiet, later, next_evening, proper_at, wish_at
from curecal.trade.findings import Message
from curecal.trade.job import Role
from curecal.trade.site_log import VisitFor

_DAY, _NEAR = timedelta(days=1), timedelta(days=7)
_OVER = frozenset({State.HEATING_UP, State.IN_SERVICE})
MOVES = frozenset({MessageKind.MOVED, MessageKind.VISIT_MOVED})
"""Kinds that say that a day moved: of these a person hears one a day."""


def state_changes(ctx: ReminderContext) -> Iterator[Reminder]:
    """Give what everyone concerned is told.

    Args:
        ctx: the plan and its people.

    Yields:
        Reminders.
    """
    for zone in ctx.plan.zones:
        for role in ORDER:
            if zone.state is State.STOPPED and concerns(ctx, zone, role):
                yield from ctx.expand([stopped(ctx, zone)], role)
            if zone.is_released:
                yield from ctx.expand(_released(ctx, zone, role), role)
        if zone.state is State.STOPPED:
            yield from _to_former(ctx, zone)
        else:
            yield from stop_over(ctx, zone)
            if not zone.is_released:
                yield from _taken_back(ctx, zone)
    yield from _moved(ctx)


def _released(ctx: ReminderContext, zone: ZonePlan, role: Role) -> Iterator[Ask]:
    """The crew lead's word, with the first day: the only way an owner hears "may"."""
    at = zone.released_at
    if at is None or zone.state is not State.RELEASED:
        # Nobody is asked to switch on what is on.
        return
    by = zone.first_switched_on_by
    day_on = ctx.crew_day(zone)
    if day_on is None or day_on < ctx.local_on:
        # Its day went by before anybody was told: the plan's own moves on.
        day_on = zone.energize.start_on
    on_at = _first_hour(ctx, zone, day_on or ctx.local_on)
    if role is Role.ELECTRICIAN and by is not Role.ELECTRICIAN:
        return
    topic = topic_of(role)
    steps = any(
        heat_up.steps and heat_up.purpose != HeatUpPurpose.BARE_SCREED for heat_up in zone.heat_ups
    )
    parts: tuple[str, ...] = ("text", "by-owner") if by is Role.OWNER else ("ready",)
    if role is Role.ELECTRICIAN:
        # It is their visit, with its day: nothing else tells it.
        parts, topic = ("by-electrician", "off", "address"), Topic.ENERGIZE_VISIT
        day_on = local_day(on_at, ctx.tz)
    elif steps:
        parts = (*parts, "steps")
    yield Ask(
        kind=MessageKind.RELEASED,
        due_at=at,
        zone_id=zone.zone.id,
        occasion=Occasion(at=at),
        parts=parts,
        params=ctx.zone_facts(zone) | {"on_at": on_at, "address": ctx.plan.job.address},
        topic=topic,
        day_on=day_on,
    )


def _first_hour(ctx: ReminderContext, zone: ZonePlan, day_on: date) -> datetime:
    """Return when a released floor is switched on: at the hour agreed, else on its first day."""
    agreed = [
        appointment.start_at
        for appointment in ctx.plan.appointments
        if appointment.purpose is VisitFor.SWITCH_ON
        and appointment.is_for(zone.zone.id)
        and appointment.stands
        and not must_move(appointment)
        and appointment.end_at > ctx.as_of
        # Who was told of a stop that they need not come did not come.
        and (zone.went_on_at is None or appointment.start_at >= zone.went_on_at)
    ]
    return min(agreed, default=ctx.calendar.opens(day_on))


def _taken_back(ctx: ReminderContext, zone: ZonePlan) -> Iterator[Reminder]:
    """Give what undoes a "may": to each person who heard one, and to the others with them."""
    yield from _to_former(ctx, zone)
    heard = [_standing_may(ctx, zone, person) for person in ctx.people]
    last = [message for message in heard if message is not None]
    if not last:
        return
    newest = max(last, key=lambda message: message.told_at)
    for role in ORDER:
        # The day that is kept as told is the one that is read, each role's own.
        day_on = day_of(ctx, zone, role)
        # A day that has passed is no new one.
        part = "dated" if day_on is not None and day_on >= ctx.local_on else "undated"
        if role is Role.ELECTRICIAN:
            part = "apart"
        ask = Ask(
            kind=MessageKind.NO_LONGER,
            due_at=ctx.fact_at,
            zone_id=zone.zone.id,
            occasion=Occasion(at=newest.told_at),
            parts=("text", part),
            params=ctx.zone_facts(zone) | {"why": zone.why, "day_on": day_on},
            topic=topic_of(role),
            day_on=day_on,
        )
        yield from ctx.expand([ask], role)


def _to_former(ctx: ReminderContext, zone: ZonePlan) -> Iterator[Reminder]:
    """Give what undoes a "may" at an address of before: whoever reads there goes by it."""
    for person, may in still_believing(ctx, zone):
        if zone.state is State.STOPPED:
            yield from ctx.expand_to(stopped(ctx, zone), person)
            continue
        ask = Ask(
            kind=MessageKind.NO_LONGER,
            due_at=ctx.fact_at,
            zone_id=zone.zone.id,
            occasion=Occasion(at=may.told_at),
            params=ctx.zone_facts(zone) | {"why": zone.why},
        )
        yield from ctx.expand_to(ask, person)


def _standing_may(ctx: ReminderContext, zone: ZonePlan, person: Recipient) -> Heard | None:
    """Return the "may" a person still goes by: one that nothing after it took back."""
    may = ctx.told.last(person.id, zone.zone.id, MAY)
    back = ctx.told.last(person.id, zone.zone.id, MAY_NOT)
    if may is None or (back is not None and back.told_at >= may.told_at):
        return None
    return may


def _moved(ctx: ReminderContext) -> Iterator[Reminder]:
    """One message to a person for all zones whose day moved."""
    rule = ctx.rule(MessageKind.MOVED)
    for person in ctx.people:
        role = next((one_role for one_role in person.roles if one_role in rule.to), None)
        if role is None:
            continue
        moves = [move for zone in ctx.plan.zones if (move := _move(ctx, zone, role, person))]
        if moves:
            yield from ctx.expand([_joint(ctx, moves)], role)


def _move(ctx: ReminderContext, zone: ZonePlan, role: Role, person: Recipient) -> Ask | None:
    """Return what a person is told of one zone's day; None where the day they know holds."""
    # The release tells the day, and what takes it back: nothing else does.
    if zone.state is State.STOPPED or zone.state in _OVER or zone.is_released:
        return None
    last = last_day(ctx, person, zone, topic_of(role))
    day_on = day_of(ctx, zone, role)
    if last is None or last.day_on == day_on or standing_stop(ctx, zone, person):
        return None
    if any(_standing_may(ctx, zone, person) for person in ctx.people):
        # What takes a "may" back goes to everybody, and tells each their day.
        return None
    if day_on is not None and day_on < ctx.local_on:
        # It came and was not kept: no day to tell as new.
        return None
    worst_on = worst_day(zone, ctx.calendar)
    wider = worst_on is not None and day_on is not None and worst_on > day_on
    params = ctx.zone_facts(zone) | {
        "day_on": day_on,
        "before_on": last.day_on,
        "why": zone.why,
        "worst_on": worst_on if wider else None,
        "also": None,
    }
    ask = Ask(
        kind=MessageKind.MOVED,
        due_at=ctx.fact_at,
        zone_id=zone.zone.id,
        parts=_parts(role, day_on, before_on=last.day_on),
        params=params,
        topic=topic_of(role),
        day_on=day_on,
        only=person.id,
    )
    return moving(ctx, ask, last, said_on_day(ctx, person), waits=True)


def _joint(ctx: ReminderContext, moves: list[Ask]) -> Ask:
    """Return one message of all that may be said with the first of them, the nearest day first."""
    moves.sort(key=lambda move: (move.due_at, move.day_on or ctx.local_on, move.zone_id))
    first, *rest = moves
    said: Message | None = None
    also: list[tuple[str, date | None]] = []
    for move in reversed(rest):
        if move.due_at > max(first.due_at, ctx.as_of):
            continue
        # What was heard keeps these days by their zones.
        also.append((move.zone_id, move.day_on))
        zone, before_on = move.params["zone"], move.params["before_on"]
        if move.day_on is None:
            said = Message("also-no-day", {"zone": zone, "also": said})
        else:
            params = {"zone": zone, "day_on": move.day_on, "before_on": before_on, "also": said}
            said = Message("also-day", params)
    if said is None:
        return first
    occasion = replace(first.occasion, also=tuple(also))
    return replace(first, occasion=occasion, params={**first.params, "also": said})


def last_day(ctx: ReminderContext, person: Recipient, zone: ZonePlan, topic: Topic) -> Heard | None:
    """Return the last that told a person a zone's day: a stop tells that there is none.

    Args:
        ctx: the plan and what was heard.
        person: the person.
        zone: the zone.
        topic: which of the days.

    Returns:
        What was heard; None where no day was ever told.
    """
    own = ctx.told.day(person.id, zone.zone.id, topic)
    common = ctx.told.day(person.id, zone.zone.id, Topic.EVERYBODY)
    both = [message for message in (own, common) if message is not None]
    if own is None and (begun_at(zone) is None or common is None):
        return None
    return max(both, key=lambda message: message.told_at)


def said_on_day(ctx: ReminderContext, person: Recipient) -> Heard | None:
    """Return the last "moved" that a person heard, whatever the zone.

    Args:
        ctx: the plan and what was heard.
        person: the person.

    Returns:
        What was heard, or None.
    """
    told = [heard for heard in ctx.told.of(person.id) if heard.kind in MOVES]
    return told[-1] if told else None


def moving(
    ctx: ReminderContext, ask: Ask, last: Heard, said: Heard | None, *, waits: bool = False
) -> Ask:
    """Return a message about a day that moved, with its time.

    Args:
        ctx: the plan.
        ask: what is to be said.
        last: what told the day that no longer holds.
        said: the last "moved" the person heard.
        waits: whether a nearer day waits however near it is: nobody may act on it before the
            release, which tells its day itself.

    Returns:
        The same, some minutes after the last fact and not twice a day; one that comes nearer not
        so soon after the last; at once where the new day comes before tomorrow evening, where
        there is none, or where the person would act on the day told before they heard.
    """
    soon = next_evening(ctx.as_of, ctx.rules.soon, ctx.tz)
    nearer = last.day_on is not None and ask.day_on is not None and ask.day_on < last.day_on
    at_once = ask.day_on is None or ctx.day_at(ask.day_on) < soon
    due_at = ctx.fact_at
    alone = at_once
    if not at_once or (nearer and waits):
        alone = False
        due_at = ctx.settled_at()
        # Whoever heard a day today, in whatever message, hears of no other one today.
        told_at = max(last.told_at, said.told_at) if said else last.told_at
        due_at = max(due_at, end_of_day(local_day(told_at, ctx.tz), ctx.tz))
        if nearer:
            due_at = max(due_at, later(last.told_at, ctx.rules.sooner_s))
            if ask.day_on is not None and ask.kind == MessageKind.MOVED:
                # Until it is near it may come nearer still: told once.
                due_at = max(due_at, ctx.day_at(ask.day_on - _NEAR))
            due_at = _evening(ctx, due_at, ask.only)
        elif comes_first(ctx, last.day_on, due_at, ask.only):
            due_at, alone = ctx.fact_at, True
    return replace(
        ask, due_at=due_at, alone=alone, occasion=Occasion(on=ask.day_on, at=last.told_at)
    )


def _evening(ctx: ReminderContext, at: datetime, recipient: str) -> datetime:
    """Return the evening of the first day from an instant on which a person may hear of a day.

    It is not before today's: a morning's reading may undo what is nearer until then.
    """
    at = _proper(ctx, max(at, start_of_day(ctx.local_on, ctx.tz)), recipient)
    evening_at = wish_at(local_day(at, ctx.tz), ctx.rules.soon, ctx.tz)
    return at if is_quiet(evening_at, ctx.rules, ctx.tz) else max(at, evening_at)


def comes_first(
    ctx: ReminderContext, before_on: date | None, due_at: datetime, recipient: str
) -> bool:
    """Return whether the day somebody was told comes before they may hear that it moved.

    Args:
        ctx: the plan, its people and their days off.
        before_on: the day told.
        due_at: when they are to hear.
        recipient: who.

    Returns:
        True for a day that is not over and begins before that.
    """
    if before_on is None or before_on < ctx.local_on:
        return False
    return start_of_day(before_on, ctx.tz) < _proper(ctx, due_at, recipient)


def _proper(ctx: ReminderContext, at: datetime, recipient: str) -> datetime:
    """Return when a message may reach a person: not at night, nor on their days off."""
    return proper_at(at, ctx.roles_of(recipient), ctx.rules, ctx.calendar)


def _parts(role: Role, day_on: date | None, *, before_on: date | None) -> tuple[str, ...]:
    who = "owner" if role is Role.OWNER else "crew"
    if day_on is None:
        return (f"{who}-undated", "also", "why")
    if before_on is None:
        return (f"{who}-dated", "also", "why")
    return (f"{who}-{'later' if day_on > before_on else 'earlier'}", "also", "why")
