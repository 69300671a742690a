"""The owner's calendar: one date, days in plain words, and no arithmetic.

Before release an owner reads "do not switch on" and from when the floor may be used. The days
of the heat-up and "you may switch on" exist only after release.

Rule: R21.
"""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date, datetime, timedelta

from curecal.calendars.event import OFF_PURPOSE, Audience, Days, Event, EventKey, Status
from curecal.calendars.event_context import DAY, Board, once
from curecal.calendars.stable_dates.event_hours import evening_before
from curecal.calendars.stable_dates.stable_dates import early_day, late_day
from curecal.instants import local_day, morning_at_or_after
from curecal.planning.plan import LayerPlan, State, ZonePlan
from curecal.trade.data_sheets import Milestone
from curecal.trade.job import Role, Room

_WITHOUT_A_DATE = timedelta(days=14)
_WEEK_DAYS = 7
_BY = {Role.OWNER: "by-owner", Role.CREW_LEAD: "by-crew"}
# What each use of the floor asks of a layer, and what counts for a layer whose sheet is silent
# on it: these can only make the day later.
_USES = {
    "walk": ((Milestone.WALK,), (Milestone.GROUT, Milestone.COVER, Milestone.SEAL)),
    "shower": ((Milestone.WET, Milestone.SEAL), (Milestone.GROUT, Milestone.COVER)),
    "furniture": (
        (Milestone.LOAD,),
        (Milestone.WALK, Milestone.GROUT, Milestone.COVER, Milestone.SEAL),
    ),
}


def owner_events(board: Board) -> tuple[Event, ...]:
    """What an owner is told.

    Args:
        board: The plan and what it is shown with.

    Returns:
        The events, zone by zone.
    """
    return tuple(event for zone in board.plan.zones for event in _zone(board, zone))


def off_until(
    *, start_on: date, owner_date: date | None, today: date, promised: bool
) -> tuple[date, bool]:
    """The day that "do not switch on" ends before, and whether that is a date to tell.

    It never ends because time passes: where there is no date, or it has come without a release,
    the span goes on in whole weeks, so that it always reaches two weeks ahead, and at least to
    the plan's own date.

    Rule: R21.

    Args:
        start_on: The first day of the span.
        owner_date: The date the plan tells the owner.
        today: The local day of the plan.
        promised: Whether the state of the zone lets a date be told.

    Returns:
        The first day that no longer belongs to the span, later than `start_on`; and whether it
        is the owner's date.
    """
    if promised and owner_date is not None and owner_date > max(today, start_on):
        return owner_date, True
    end_on = start_on + _WITHOUT_A_DATE
    short_days = (max(today + _WITHOUT_A_DATE, owner_date or today) - end_on).days
    weeks = max(0, -(-short_days // _WEEK_DAYS))
    return end_on + timedelta(days=weeks * _WEEK_DAYS), False


def _zone(board: Board, zone: ZonePlan) -> Iterator[Event]:
    facts: dict[str, object] = {
        "zone": zone.zone.name,
        "who": board.words.person(zone.first_switched_on_by.value),
        **board.contact(),
    }
    if zone.is_released:
        yield from _released(board, zone, facts)
    else:
        yield _off(board, zone, facts)
    for use in _USES:
        if use == "shower" and zone.zone.room is not Room.BATHROOM:
            continue
        day_on = _usable_on(board, zone, use)
        if day_on is not None:
            yield _day(board, _key(zone, use), f"owner-{use}", day_on, facts)


def _key(zone: ZonePlan, purpose: str) -> EventKey:
    return EventKey(Audience.OWNER, zone.zone.id, "", purpose)


def _off(board: Board, zone: ZonePlan, facts: dict[str, object]) -> Event:
    """The span in which nobody switches the floor on."""
    start_on = board.zone_on(zone)
    end_on, told = off_until(
        start_on=start_on,
        owner_date=zone.energize.owner_date,
        today=board.today(),
        promised=zone.state not in {State.STOPPED, State.NO_DATE} and not _slid(board, zone),
    )
    stopped = "stopped" if zone.state is State.STOPPED else "undated"
    # A stopped floor waits for a person; its layers may have hardened long ago.
    why = () if zone.state is State.STOPPED else ("why",)
    moves = ("moves",) if told else ()
    parts = ("dated" if told else stopped, *why, *moves, _who(zone), "contact")
    params = facts | {"owner_on": end_on}
    return Event(
        _key(zone, OFF_PURPOSE),
        board.say("owner-off.summary", params),
        board.text("owner-off", parts, params),
        Days(start_on, end_on),
        keeps_off=zone.zone.id,
    )


def _ended(board: Board, zone: ZonePlan, facts: dict[str, object]) -> Event | None:
    """The same span as it was: up to the day of the release, and still saying what it was for.

    It is not called off: a cancelled "do not switch on" would be read before anything else.
    """
    start_on = board.zone_on(zone)
    if zone.released_at is None:
        return None
    ended_on = local_day(zone.released_at, board.tz)
    if ended_on <= start_on:
        return None
    params = facts | {"ended_on": ended_on}
    return Event(
        _key(zone, OFF_PURPOSE),
        board.say("owner-off.summary-ended", params),
        board.text("owner-off", ("ended", "contact"), params),
        Days(start_on, ended_on),
    )


def _slid(board: Board, zone: ZonePlan) -> bool:
    """Whether the date has come and was not kept: it then only moves on with the days.

    Such a date is told to nobody. It would be another one each day.
    """
    told_on = zone.energize.owner_date
    return told_on is not None and told_on != late_day(board, zone)


def _who(zone: ZonePlan) -> str:
    return _BY.get(zone.first_switched_on_by, "by-other")


def _usable_on(board: Board, zone: ZonePlan, use: str) -> date | None:
    """The first morning the whole zone may be used so; None while any layer is unknown."""
    wanted, instead = _USES[use]
    ends: list[datetime] = []
    asked = False
    for layer in zone.layers:
        if layer.layer.existing:
            continue
        if layer.finish is None or layer.finish.latest is None:
            return None
        ends.append(layer.finish.latest)
        own = [milestone for milestone in wanted if milestone in layer.milestones]
        asked = asked or bool(own)
        reached = _reached(layer, own or instead)
        if reached is None:
            return None
        ends += reached
    if not asked:
        return None
    return morning_at_or_after(max(ends), board.tz, board.calendar.work.start)


def _reached(
    layer: LayerPlan, milestones: list[Milestone] | tuple[Milestone, ...]
) -> list[datetime] | None:
    """The late ends of a layer's milestones; None where one of them has none."""
    ends: list[datetime] = []
    for milestone in milestones:
        plan = layer.milestones.get(milestone)
        # What only informs the planner (walking gates no layer) still binds whoever walks.
        if plan is None:
            continue
        if plan.window is None or plan.window.latest is None:
            return None
        ends.append(plan.window.latest)
    return ends


def _released(board: Board, zone: ZonePlan, facts: dict[str, object]) -> Iterator[Event]:
    """From when it may run, and the one number to set on each day of the heat-up."""
    # A bare screed is heated by the crew, before the release: no owner is told of it.
    ended = _ended(board, zone, facts)
    if ended is not None:
        yield ended
    heat_ups = [each for each in zone.heat_ups if each.steps and each.purpose != "bare screed"]
    day_on = early_day(board, zone) or zone.energize.owner_date
    if day_on is not None:
        steps = ("steps",) if heat_ups else ()
        key = _key(zone, "may switch on")
        yield _day(board, key, "owner-on", day_on, facts, extra=(*steps, _who(zone)))
    keys: list[EventKey] = []
    for heat_up in heat_ups:
        last = len(heat_up.steps)
        settings = board.words.settings(heat_up)
        for count, (step, setting) in enumerate(zip(heat_up.steps, settings, strict=True), start=1):
            days = Days(step.on, step.on + max(1, step.hold_days) * DAY)
            params = facts | {
                "setting": setting,
                "until_on": days.end_on - DAY,
                "ends_on": heat_up.ends_on,
                "limit_c": heat_up.limit_c,
            }
            end = ("afterwards",) if count == last else ()
            measured = ("not-measured",) if heat_up.provisional else ()
            yield Event(
                # The steps of one heat-up have no other identity than their order.
                once(keys, _key(zone, f"heat-up {heat_up.purpose} step {count}")),
                board.say("owner-heat-up.summary", params),
                board.text(
                    "owner-heat-up", ("text", *measured, *end, "care", "call", "contact"), params
                ),
                days,
                Status.TENTATIVE if heat_up.provisional else Status.CONFIRMED,
                alarms=(evening_before(step.on, board.tz),),
            )


def _day(
    board: Board,
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
        board.say(f"{group}.summary", params),
        board.text(group, ("text", *extra, "contact"), params),
        Days(day_on, day_on + DAY),
        alarms=(evening_before(day_on, board.tz),),
    )
