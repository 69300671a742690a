"""The owner's calendar: one date, days in plain words, and no arithmetic.

Before release an owner reads "do not switch on" and from when the floor may be used. The days
of the heat-up and "you may switch on" exist only after release.

Rule: R21.
"""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date, time, timedelta

from curecal.calendars.event import Alarm, Audience, Days, Event, EventKey, Status, Timed
from curecal.calendars.event_context import DAY, EventContext, once
from curecal.calendars.events.appointments import appointment_events
from curecal.calendars.purpose import Purpose, PurposeKind
from curecal.calendars.stable_dates.event_hours import evening_before
from curecal.instants import add, local_at, local_day
from curecal.planning.plan import HeatUpPurpose, State, ZonePlan
from curecal.planning.zone.stable_day import is_ahead, owner_day
from curecal.planning.zone.usable import usable_on, uses_of
from curecal.trade.job import Role

# An owner is told at eight; the alarm rings just before, since none may ring after the start.
_MORNING, _ASK_S, _RINGS_BEFORE_S = time(8, 0), 1800.0, 900.0
# Long enough to be seen in a month view, short enough to be asked about again.
_WITHOUT_A_DATE = timedelta(days=14)
_WEEK_DAYS = 7
_BY = {Role.OWNER: "by-owner", Role.CREW_LEAD: "by-crew"}


def owner_events(ctx: EventContext) -> tuple[Event, ...]:
    """Return what an owner is told.

    Args:
        ctx: The plan and what it is shown with.

    Returns:
        The events, zone by zone.
    """
    zones = [event for zone in ctx.plan.zones for event in _zone(ctx, zone)]
    return (*zones, *appointment_events(ctx, Audience.OWNER))


def off_until(
    *, start_on: date, told_on: date | None, planned_on: date | None, today: date
) -> tuple[date, bool]:
    """Return the day that "do not switch on" ends before, and whether that is a date to tell.

    It never ends because time passes: where there is no date, or it has come without a release,
    the span goes on in whole weeks, so that it always reaches two weeks ahead, and at least to
    the plan's own date.

    Rule: R21.

    Args:
        start_on: The first day of the span.
        told_on: The day to tell the owner, where there is one ahead.
        planned_on: The plan's own date, which moves on with the days once it has come.
        today: The local day of the plan.

    Returns:
        The first day that no longer belongs to the span, later than `start_on`; and whether it
        is the owner's date.
    """
    if told_on is not None and told_on > start_on:
        return told_on, True
    end_on = start_on + _WITHOUT_A_DATE
    short_days = (max(today + _WITHOUT_A_DATE, planned_on or today) - end_on).days
    weeks = max(0, -(-short_days // _WEEK_DAYS))
    return end_on + timedelta(days=weeks * _WEEK_DAYS), False


def _zone(ctx: EventContext, zone: ZonePlan) -> Iterator[Event]:
    facts: dict[str, object] = {
        "zone": zone.zone.name,
        "who": ctx.words.person(zone.first_switched_on_by.value),
        **ctx.contact(),
    }
    if zone.is_released:
        yield from _released(ctx, zone, facts)
    else:
        yield _off(ctx, zone, facts)
        told_on = owner_day(zone, ctx.plan.as_of, ctx.calendar)
        if told_on is not None:
            yield _ask(ctx, zone, told_on, facts)
    for use in uses_of(zone):
        day_on = usable_on(ctx.plan, zone, use)
        if day_on is not None:
            key = _key(zone, Purpose(PurposeKind(use)))
            yield _day(ctx, key, f"owner-{use.value}", day_on, facts)


def _key(zone: ZonePlan, purpose: Purpose) -> EventKey:
    return EventKey(Audience.OWNER, zone.zone.id, "", purpose.text)


def _off(ctx: EventContext, zone: ZonePlan, facts: dict[str, object]) -> Event:
    """The span in which nobody switches the floor on."""
    start_on = ctx.zone_on(zone)
    day_on = owner_day(zone, ctx.plan.as_of, ctx.calendar)
    end_on, told = off_until(
        start_on=start_on,
        told_on=day_on if is_ahead(day_on, ctx.plan.as_of, ctx.calendar) else None,
        planned_on=zone.energize.owner_date,
        today=ctx.today(),
    )
    stopped = "stopped" if zone.state is State.STOPPED else "undated"
    # A stopped floor waits for a person; its layers may have hardened long ago.
    why = () if zone.state is State.STOPPED else ("why",)
    moves = ("moves",) if told else ()
    parts = ("dated" if told else stopped, *why, *moves, _who(zone), "contact")
    params = facts | {"owner_on": end_on}
    return Event(
        _key(zone, Purpose(PurposeKind.OFF)),
        ctx.say("owner-off.summary", params),
        ctx.text("owner-off", parts, params),
        Days(start_on, end_on),
        keeps_off=zone.zone.id,
    )


def _ask(ctx: EventContext, zone: ZonePlan, told_on: date, facts: dict[str, object]) -> Event:
    """The morning that the owner was told: silence on it would be read as leave.

    It stays there once it has come, and has an hour, so that its alarm rings on the day itself.
    """
    start_at = local_at(told_on, _MORNING, ctx.tz, fold="earlier")
    return Event(
        _key(zone, Purpose(PurposeKind.ASK)),
        ctx.say("owner-ask.summary", facts),
        ctx.text("owner-ask", ("text", "contact"), facts),
        Timed(start_at, add(start_at, _ASK_S)),
        alarms=(Alarm(add(start_at, -_RINGS_BEFORE_S), "that morning"),),
    )


def _ended(ctx: EventContext, zone: ZonePlan, facts: dict[str, object]) -> Event | None:
    """The same span as it was: up to the day of the release, and still saying what it was for.

    It is not called off: a cancelled "do not switch on" would be read before anything else.
    """
    start_on = ctx.zone_on(zone)
    if zone.released_at is None:
        return None
    ended_on = local_day(zone.released_at, ctx.tz)
    if ended_on <= start_on:
        return None
    params = facts | {"ended_on": ended_on}
    return Event(
        _key(zone, Purpose(PurposeKind.OFF)),
        ctx.say("owner-off.summary-ended", params),
        ctx.text("owner-off", ("ended", "contact"), params),
        Days(start_on, ended_on),
    )


def _who(zone: ZonePlan) -> str:
    return _BY.get(zone.first_switched_on_by, "by-other")


def _released(ctx: EventContext, zone: ZonePlan, facts: dict[str, object]) -> Iterator[Event]:
    """From when it may run, and the one number to set on each day of the heat-up."""
    # A bare screed is heated by the crew, before the release: no owner is told of it.
    ended = _ended(ctx, zone, facts)
    if ended is not None:
        yield ended
    heat_ups = [
        planned
        for planned in zone.heat_ups
        if planned.steps and planned.purpose != HeatUpPurpose.BARE_SCREED
    ]
    day_on = owner_day(zone, ctx.plan.as_of, ctx.calendar)
    if day_on is not None:
        steps = ("steps",) if heat_ups else ()
        key = _key(zone, Purpose(PurposeKind.MAY))
        yield _day(ctx, key, "owner-on", day_on, facts, extra=(*steps, _who(zone)))
    keys: list[EventKey] = []
    for heat_up in heat_ups:
        last = len(heat_up.steps)
        settings = ctx.words.settings(heat_up)
        for count, (step, setting) in enumerate(zip(heat_up.steps, settings, strict=True), start=1):
            days = Days(step.on, step.on + max(1, step.hold_days) * DAY)
            params = facts | {
                "setting": setting,
                "until_on": days.end_on - DAY,
                "ends_on": heat_up.ends_on,
                "limit_c": heat_up.limit_c,
                "step_k": heat_up.step_k,
            }
            end = ("afterwards",) if count == last else ()
            measured = ("not-measured",) if heat_up.provisional else ()
            yield Event(
                # The steps of one heat-up have no other identity than their order.
                once(keys, _key(zone, Purpose(PurposeKind.HEAT_UP, heat_up.purpose, count))),
                ctx.say("owner-heat-up.summary", params),
                ctx.text(
                    "owner-heat-up", ("text", *measured, *end, "care", "call", "contact"), params
                ),
                days,
                Status.TENTATIVE if heat_up.provisional else Status.CONFIRMED,
                alarms=(evening_before(step.on, ctx.tz),),
            )


def _day(
    ctx: EventContext,
    key: EventKey,
    group: str,
    day_on: date,
    facts: dict[str, object],
    *,
    extra: tuple[str, ...] = (),
) -> Event:
    """One day-long event of one day."""
    params = facts | {"day_on": day_on}
    return Event(
        key,
        ctx.say(f"{group}.summary", params),
        ctx.text(group, ("text", *extra, "contact"), params),
        Days(day_on, day_on + DAY),
        alarms=(evening_before(day_on, ctx.tz),),
    )
