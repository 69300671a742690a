"""What an electrician is told: visits booked, tomorrow, moved, off.

A visit is known by its kind and its zones, so that it stays the same while other zones join it or
leave it. The day told stands while the visit's window holds it, and while it is merely not kept.

Rule: R8, R20, R21.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from datetime import date, timedelta

from curecal.calendars.stable_dates.stable_dates import visit_day, visit_window, zones_of
from curecal.instants import Window, end_of_day, local_day
from curecal.planning.plan import HoldState, State, Visit, VisitKind, ZonePlan
from curecal.planning.zone.appointments import KINDS
from curecal.reminders.builders.former_recipients import still_booked
from curecal.reminders.builders.reminder_context import Ask, ReminderContext, begun_at
from curecal.reminders.builders.state_changes import moving, said_on_day
from curecal.reminders.reminder_types import (
    NO_VISIT,
    STOPS,
    Heard,
    MessageKind,
    Occasion,
    Recipient,
    Reminder,
    Topic,
)
from curecal.reminders.timing.sending_hours import working_day_before
from curecal.trade.hold_codes import HoldCode
from curecal.trade.job import Role

# So many days ahead nobody sets out yet: a first day that slides is told when it is near.
_SOON = timedelta(days=3)
_HOLDS = {
    VisitKind.ROUGH_IN: {HoldCode.TEST_ON_DELIVERY, HoldCode.TEST_AFTER_LAYING},
    VisitKind.CONNECTION: {
        HoldCode.TEST_BEFORE_CONNECTION,
        HoldCode.CONNECTION,
        HoldCode.PROTECTION,
        HoldCode.THERMOSTAT,
    },
}


def for_electrician(ctx: ReminderContext) -> Iterator[Ask]:
    """Give what an electrician is told of the visits.

    Args:
        ctx: the plan.

    Yields:
        What to say.
    """
    electricians = [person for person in ctx.people if Role.ELECTRICIAN in person.roles]
    for visit in ctx.plan.visits:
        zones = zones_of(ctx.plan, visit)
        if not zones or visit.appointment is not None:
            # One that was agreed is told by its hour.
            continue
        day_on = visit_day(ctx.plan, visit, ctx.calendar)
        for person in electricians:
            if visit.kind == VisitKind.ENERGIZE and _release_calls(ctx, zones, person):
                continue
            yield from _about(ctx, visit, zones, day_on, person)
            if day_on is not None:
                yield from _tomorrow(ctx, visit, zones, day_on, person)
    for person in electricians:
        for told in _booked(ctx, person):
            yield from _vanished(ctx, told, person)


def of_no_electrician(ctx: ReminderContext) -> Iterator[Reminder]:
    """Give what calls visits off that stand in the calendar of who is not to come any more.

    Args:
        ctx: the plan.

    Yields:
        Reminders to people who are no electrician of the job, and to addresses of before.
    """
    others = [person for person in ctx.people if Role.ELECTRICIAN not in person.roles]
    booked = [(person, told) for person in others for told in _booked(ctx, person)]
    for person, told in [*booked, *still_booked(ctx)]:
        if told.day_on is not None and told.day_on >= ctx.local_on:
            yield from ctx.expand_to(_off(ctx, told), person)


def _booked(ctx: ReminderContext, person: Recipient) -> list[Heard]:
    """Return the visits a person was told and that were not called off, by what told them last."""
    last: dict[tuple[str, str], Heard] = {}
    for heard in ctx.told.of(person.id):
        if heard.topic.visit is not None:
            last[heard.zone_id, heard.topic] = heard
    return [heard for heard in last.values() if heard.kind not in NO_VISIT]


def _vanished(ctx: ReminderContext, told: Heard, person: Recipient) -> Iterator[Ask]:
    """A visit that was told and is no visit of the plan: done, or off."""
    kind = told.topic.visit
    if any(told.zone_id in visit.zone_ids for visit in ctx.plan.visits if visit.kind == kind):
        return
    if any(
        appointment.stands
        and KINDS.get(appointment.purpose) == kind
        and appointment.is_for(told.zone_id)
        for appointment in ctx.plan.appointments
    ):
        # It stands until somebody calls it off, and says that it is not needed.
        return
    if told.day_on is not None and told.day_on >= ctx.local_on and not _is_done(ctx, told):
        yield replace(_off(ctx, told), only=person.id)


def _is_done(ctx: ReminderContext, told: Heard) -> bool:
    """Return whether what a visit was for is on record."""
    zone = next((other for other in ctx.plan.zones if other.zone.id == told.zone_id), None)
    if zone is None:
        return False
    kind = told.topic.visit
    if kind is None:
        return False
    if kind == VisitKind.ENERGIZE:
        return zone.state in {State.HEATING_UP, State.IN_SERVICE}
    states = {hold.state for hold in zone.holds if hold.code in _HOLDS[kind]}
    return HoldState.MET in states and not states & {HoldState.UNMET, HoldState.FAILED}


def _off(ctx: ReminderContext, told: Heard) -> Ask:
    """Return that nobody is to come, for a visit that is no visit of the plan any more."""
    zone = next((other for other in ctx.plan.zones if other.zone.id == told.zone_id), None)
    facts = ctx.zone_facts(zone or ctx.plan.zones[0])
    kind = told.topic.visit or ""
    return Ask(
        kind=MessageKind.VISIT_OFF,
        due_at=ctx.fact_at,
        zone_id=told.zone_id,
        subject=kind,
        occasion=Occasion(at=told.told_at),
        parts=("gone",),
        params=facts
        | {
            "zone": zone.zone.name if zone else told.zone_id,
            "visit": kind,
            "day_on": None,
            "before_on": told.day_on,
        },
        topic=told.topic,
    )


def _about(
    ctx: ReminderContext,
    visit: Visit,
    zones: list[ZonePlan],
    day_on: date | None,
    person: Recipient,
) -> Iterator[Ask]:
    """A visit that is new, that moved, or that is off."""
    zone_id, topic = min(visit.zone_ids), Topic.of_visit(visit.kind)
    last = _told(ctx, visit, person)
    params = _params(ctx, visit, zones, day_on)
    waits = visit.kind == VisitKind.ENERGIZE and not all(zone.is_released for zone in zones)
    if waits and day_on is not None and day_on <= ctx.local_on:
        # Nobody sets out today for a floor that is not released: the release calls.
        return
    if day_on is not None and day_on < ctx.local_on:
        if last is not None and last.kind not in NO_VISIT:
            # Its first day has passed: it stays the visit it is until it is done.
            return
        day_on = _still_possible_on(ctx, visit)
        params = _params(ctx, visit, zones, day_on)
    also = tuple((other, day_on) for other in sorted(visit.zone_ids) if other != zone_id)
    kind_parts = (_word(visit.kind, zones),)
    when = "when" if visit.kind == VisitKind.ENERGIZE else "when-by"
    booked = Ask(
        kind=MessageKind.VISIT_BOOKED,
        due_at=ctx.fact_at,
        zone_id=zone_id,
        subject=visit.kind,
        parts=(*kind_parts, when, "address"),
        params=params,
        topic=topic,
        day_on=day_on,
        only=person.id,
    )
    if last is None or last.kind in NO_VISIT:
        if day_on is None or not any(
            begun_at(zone) or visit.kind == VisitKind.ROUGH_IN for zone in zones
        ):
            return
        yield replace(booked, occasion=Occasion(at=last.told_at if last else None, also=also))
        return
    if _holds(ctx, visit, last.day_on, day_on, waits=waits):
        yield from _again(ctx, zones, last, person, booked)
        return
    off = day_on is None
    stopped = any(zone.state is State.STOPPED for zone in zones)
    if off and stopped and not _is_near(ctx, last.day_on):
        # The stop itself says that all must wait; it may be over long before the day.
        return
    ask = Ask(
        kind=MessageKind.VISIT_OFF if off else MessageKind.VISIT_MOVED,
        due_at=ctx.fact_at,
        zone_id=zone_id,
        subject=visit.kind,
        parts=("text", "why") if off else (*kind_parts, when, "off", "address"),
        params={**params, "before_on": last.day_on, "why": zones[0].why},
        topic=topic,
        day_on=day_on,
        only=person.id,
    )
    moved = moving(ctx, ask, last, said_on_day(ctx, person), waits=waits)
    yield replace(moved, occasion=replace(moved.occasion, also=also))


def _release_calls(ctx: ReminderContext, zones: list[ZonePlan], person: Recipient) -> bool:
    """Return whether the word of a release, which calls to switch on, is still to come."""
    if ctx.rule(MessageKind.RELEASED).off:
        return False
    for zone in zones:
        heard = ctx.told.last(person.id, zone.zone.id, frozenset({MessageKind.RELEASED}))
        released_at = zone.released_at if zone.is_released else None
        if released_at is not None and (heard is None or heard.told_at < released_at):
            return True
    return False


def _still_possible_on(ctx: ReminderContext, visit: Visit) -> date | None:
    """Return the next day for a visit that nobody heard of, and that has been possible for long."""
    opens = ctx.calendar.next_working(end_of_day(ctx.local_on, ctx.tz))
    day_on = None if opens is None else local_day(opens, ctx.tz)
    window = visit_window(ctx.plan, visit, ctx.calendar)
    last_on = local_day(window.latest, ctx.tz) if window and window.latest else None
    if day_on is not None and last_on is not None and ctx.local_on <= last_on < day_on:
        return last_on
    return day_on


def _is_near(ctx: ReminderContext, day_on: date | None) -> bool:
    """Return whether somebody might set out on a day soon: one that comes within some days."""
    return day_on is not None and ctx.local_on <= day_on <= ctx.local_on + _SOON


def _told(ctx: ReminderContext, visit: Visit, person: Recipient) -> Heard | None:
    """Return what told a person a visit, by any of its zones: of several days the first."""
    topic = Topic.of_visit(visit.kind)
    found = [ctx.told.day(person.id, zone_id, topic) for zone_id in visit.zone_ids]
    told = [heard for heard in found if heard is not None]
    dated = [heard for heard in told if heard.day_on is not None]
    return (
        min(dated, key=lambda heard: heard.day_on or date.max) if dated else next(iter(told), None)
    )


def _holds(
    ctx: ReminderContext, visit: Visit, before_on: date | None, day_on: date | None, *, waits: bool
) -> bool:
    """Return whether the day somebody was told may stand.

    It stands while it lies in the visit's window; one that is too early by now, while it is some
    days off, since nobody sets out yet. Before the release nobody acts on a nearer day to switch
    on: the release tells it.
    """
    if before_on is None or day_on is None or before_on == day_on:
        return before_on == day_on
    if day_on > before_on:
        return before_on > ctx.local_on + _SOON
    window = visit_window(ctx.plan, visit, ctx.calendar)
    last_on = local_day(window.latest, ctx.tz) if window and window.latest else None
    return waits or last_on is None or before_on <= last_on


def _again(
    ctx: ReminderContext, zones: list[ZonePlan], last: Heard, person: Recipient, booked: Ask
) -> Iterator[Ask]:
    """A visit whose day held through a stop: who heard the stop hears that it stands again."""
    heard = [ctx.told.last(person.id, zone.zone.id, STOPS) for zone in zones]
    stops = [
        message.told_at
        for message in heard
        if message is not None and message.told_at > last.told_at
    ]
    if not stops or last.day_on is None or last.day_on < ctx.local_on:
        return
    word, *rest = booked.parts
    yield replace(booked, occasion=Occasion(at=max(stops)), parts=(word, "again", *rest))


def _tomorrow(
    ctx: ReminderContext, visit: Visit, zones: list[ZonePlan], day_on: date, person: Recipient
) -> Iterator[Ask]:
    """The day before; before switching on only where the floor is released."""
    if visit.kind == VisitKind.ENERGIZE and not all(zone.is_released for zone in zones):
        return
    zone_id = min(visit.zone_ids)
    last = _told(ctx, visit, person)
    if last is None or last.day_on is None or last.day_on < day_on:
        return
    day_on = last.day_on
    before = working_day_before(day_on, ctx.rule(MessageKind.VISIT_TOMORROW).before, ctx.calendar)
    if _heard_since(ctx, zones, last, before, person):
        # Who hears of the visit itself so shortly before needs no other word of it.
        return
    yield Ask(
        kind=MessageKind.VISIT_TOMORROW,
        due_at=ctx.day_at(before, MessageKind.VISIT_TOMORROW),
        zone_id=zone_id,
        subject=visit.kind,
        occasion=Occasion(on=day_on),
        parts=(_word(visit.kind, zones), "off", "address"),
        params=_params(ctx, visit, zones, day_on),
        until_at=ctx.day_at(day_on),
        sliding=True,
        only=person.id,
    )


def _heard_since(
    ctx: ReminderContext, zones: list[ZonePlan], last: Heard, before: date, person: Recipient
) -> bool:
    """Return whether a person heard of a visit, or of the release that calls it, since a day."""
    released = [
        ctx.told.last(person.id, zone.zone.id, frozenset({MessageKind.RELEASED})) for zone in zones
    ]
    heard = [last, *(message for message in released if message is not None)]
    return any(local_day(message.told_at, ctx.tz) >= before for message in heard)


def _word(kind: str, zones: list[ZonePlan]) -> str:
    """Return which text tells what a visit is for."""
    if kind == VisitKind.ENERGIZE:
        return "energize" if all(zone.is_released for zone in zones) else "energize-waits"
    return "first" if kind == VisitKind.ROUGH_IN else "second"


def _params(
    ctx: ReminderContext, visit: Visit, zones: list[ZonePlan], day_on: date | None
) -> dict[str, object]:
    window = visit_window(ctx.plan, visit, ctx.calendar)
    return ctx.zone_facts(zones[0]) | {
        "zone": ", ".join(zone.zone.name for zone in zones),
        "visit": visit.kind,
        "day_on": day_on,
        "by_on": _by_on(ctx, window, day_on),
        "address": ctx.plan.job.address,
    }


def _by_on(ctx: ReminderContext, window: Window | None, day_on: date | None) -> date | None:
    """Return the last day for a visit, where it has more than its first."""
    if window is None or window.latest is None or day_on is None:
        return None
    by_on = local_day(window.latest, ctx.tz)
    return by_on if by_on > day_on else None
