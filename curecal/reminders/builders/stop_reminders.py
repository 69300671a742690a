"""A stop: whom it concerns, and its end, told in words to whoever was told of it."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date, datetime

from curecal.planning.plan import HoldState, State, ZonePlan
from curecal.reminders.builders.reminder_context import Ask, ReminderContext
from curecal.reminders.reminder_types import (
    MAY,
    ORDER,
    STOPS,
    Heard,
    MessageKind,
    Occasion,
    Recipient,
    Reminder,
    Topic,
)
from curecal.trade.findings import FindingCode
from curecal.trade.hold_codes import HoldCode
from curecal.trade.job import Role
from curecal.trade.site_log import Connected, Energized, HeatStep, Resumed

_ENDS_A_STOP = frozenset({MessageKind.STOP_OVER, MessageKind.RELEASED})
_TELLS_DAY = {Role.OWNER: Topic.OWNER, Role.CREW_LEAD: Topic.CREW}


def topic_of(role: Role) -> Topic:
    """Return the name of the day that a role is told.

    Args:
        role: the role.

    Returns:
        The topic; empty for the electrician, who is told visits.
    """
    return _TELLS_DAY.get(role, Topic.NONE)


def day_of(ctx: ReminderContext, zone: ZonePlan, role: Role) -> date | None:
    """Return the day a role is told of a zone.

    Args:
        ctx: the plan.
        zone: the zone.
        role: the role.

    Returns:
        The owner's day at the late end, the crew's at the early one; after a release the first
        day for both; None without one.
    """
    return ctx.owner_day(zone) if role is Role.OWNER else ctx.crew_day(zone)


def stopped(ctx: ReminderContext, zone: ZonePlan) -> Ask:
    """Return what is said of a zone that is stopped, with why.

    Args:
        ctx: the plan.
        zone: the zone.

    Returns:
        What to say.
    """
    early = zone.why.code == FindingCode.EARLY_SWITCH_ON
    at = zone.why.params.get("on_at" if early else "stopped_at")
    params = ctx.zone_facts(zone) | {"why": zone.why}
    return Ask(
        kind=MessageKind.EARLY_SWITCH_ON if early else MessageKind.STOPPED,
        due_at=ctx.fact_at,
        zone_id=zone.zone.id,
        occasion=Occasion(at=at if isinstance(at, datetime) else None, detail=zone.why.code),
        params=params,
        topic=Topic.EVERYBODY,
    )


def concerns(ctx: ReminderContext, zone: ZonePlan, role: Role) -> bool:
    """Return whether a stop concerns a role: not an owner before anything is connected.

    Args:
        ctx: the plan.
        zone: the zone.
        role: the role.

    Returns:
        True for who must know.
    """
    if role is not Role.OWNER or zone.why.code == FindingCode.EARLY_SWITCH_ON:
        return True
    connected = any(
        hold.code is HoldCode.CONNECTION and hold.state is HoldState.MET for hold in zone.holds
    )
    return (
        connected
        or any(ctx.told.last(person.id, zone.zone.id, MAY) is not None for person in ctx.people)
        or any(
            isinstance(entry, (Connected, Energized, HeatStep))
            and entry.zone in {None, zone.zone.id}
            for entry in ctx.log
        )
    )


def standing_stop(ctx: ReminderContext, zone: ZonePlan, person: Recipient) -> Heard | None:
    """Return the stop a person still goes by: nothing since told them that it is over.

    Args:
        ctx: the plan.
        zone: the zone.
        person: the person.

    Returns:
        What they heard; None without one.
    """
    stop = ctx.told.last(person.id, zone.zone.id, STOPS)
    over = ctx.told.last(person.id, zone.zone.id, _ENDS_A_STOP)
    if stop is None or (over is not None and over.told_at >= stop.told_at):
        return None
    return stop


def stop_over(ctx: ReminderContext, zone: ZonePlan) -> Iterator[Reminder]:
    """Give the end of a stop, to each person who was told of it: why, and what holds now.

    Args:
        ctx: the plan.
        zone: the zone.

    Yields:
        Reminders.
    """
    for person in ctx.people:
        stop = standing_stop(ctx, zone, person)
        if stop is None:
            continue
        role = next((own for own in ORDER if own in person.roles), Role.CREW_LEAD)
        day_on = day_of(ctx, zone, role)
        found = _found(ctx, zone, stop.told_at)
        dated = day_on is not None and day_on > ctx.local_on
        yield from ctx.expand_to(
            Ask(
                kind=MessageKind.STOP_OVER,
                due_at=ctx.fact_at,
                zone_id=zone.zone.id,
                occasion=Occasion(at=stop.told_at),
                parts=_parts(zone, role, dated=dated),
                params=ctx.zone_facts(zone)
                | {
                    "stopped_at": stop.occasion.at or stop.told_at,
                    "found": found,
                    "day_on": day_on if dated else None,
                },
                topic=topic_of(role),
                day_on=day_on,
            ),
            person,
        )


def _parts(zone: ZonePlan, role: Role, *, dated: bool) -> tuple[str, ...]:
    """Return the texts of a stop's end, by what holds now."""
    if zone.is_released:
        # A short message stays true only by words of its own.
        return ("released" if zone.state is State.RELEASED else "on",)
    if role is Role.ELECTRICIAN:
        return "text", "electrician"
    return "text", "dated" if dated else "undated"


def _found(ctx: ReminderContext, zone: ZonePlan, since: datetime) -> str | None:
    """Return what was found by who lifted a stop, in their own words."""
    lifted = [
        entry.found
        for entry in ctx.log
        if isinstance(entry, Resumed)
        and entry.zone in {None, zone.zone.id}
        and entry.recorded >= since
    ]
    return lifted[-1].rstrip(" .") if lifted else None
