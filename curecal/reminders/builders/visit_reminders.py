"""What an electrician is told: visits booked, tomorrow, moved, off.

A visit is known by its kind and its first zone by name, so that it stays the same while other
zones join it. Its day stands while it is merely not kept.

Rule: R8, R20, R21.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from datetime import date, timedelta

from curecal.instants import Window, local_day
from curecal.planning.plan import HoldState, State, Visit, ZonePlan
from curecal.reminders.builders.former_recipients import still_booked
from curecal.reminders.builders.reminder_context import Ask, Scene, begun_at
from curecal.reminders.builders.state_changes import moving, said_on_day, stamp
from curecal.reminders.reminder_types import Heard, Recipient, Reminder
from curecal.reminders.timing.sending_hours import last_working, working_day_before
from curecal.trade.hold_codes import HoldCode
from curecal.trade.job import Role

_DAY = timedelta(days=1)
_TOPIC = "visit "
_STOPS = frozenset({"stopped", "early-switch-on"})
ENERGIZE = "energize"
"""The visit that switches a floor on for the first time, by its kind."""

_FIRST, _SECOND, _THIRD = ("rough-in-and-first-test", "test-and-connect", ENERGIZE)
_HOLDS = {
    _FIRST: {HoldCode.TEST_ON_DELIVERY, HoldCode.TEST_AFTER_LAYING},
    _SECOND: {
        HoldCode.TEST_BEFORE_CONNECTION,
        HoldCode.CONNECTION,
        HoldCode.PROTECTION,
        HoldCode.THERMOSTAT,
    },
}


def for_electrician(scene: Scene) -> Iterator[Ask]:
    """Give what an electrician is told of the visits.

    Args:
        scene: the plan.

    Yields:
        What to say.
    """
    electricians = [each for each in scene.people if Role.ELECTRICIAN in each.roles]
    for visit in scene.plan.visits:
        zones = _zones(scene, visit)
        if not zones:
            continue
        day_on = _day(scene, visit, zones)
        for person in electricians:
            yield from _about(scene, visit, zones, day_on, person)
        if day_on is not None:
            yield from _tomorrow(scene, visit, zones, day_on)
    for person in electricians:
        for told in _booked(scene, person):
            yield from _vanished(scene, told, person)


def of_no_electrician(scene: Scene) -> Iterator[Reminder]:
    """Give what calls visits off that stand in the calendar of who is not to come any more.

    Args:
        scene: the plan.

    Yields:
        Reminders to people who are no electrician of the job, and to addresses of before.
    """
    others = [each for each in scene.people if Role.ELECTRICIAN not in each.roles]
    booked = [(person, told) for person in others for told in _booked(scene, person)]
    for person, told in [*booked, *still_booked(scene)]:
        if told.day_on is not None and told.day_on >= scene.local_on:
            yield from scene.expand_to(_off(scene, told), person)


def _booked(scene: Scene, person: Recipient) -> list[Heard]:
    """Return the visits a person was told and that were not called off, by what told them last."""
    last: dict[tuple[str, str], Heard] = {}
    for each in scene.told.of(person.id):
        if each.topic.startswith(_TOPIC):
            last[each.zone_id, each.topic] = each
    return [each for each in last.values() if each.kind != "visit-off"]


def _vanished(scene: Scene, told: Heard, person: Recipient) -> Iterator[Ask]:
    """A visit that was told and is no visit of the plan: joined to another, done, or off."""
    kind = told.topic.removeprefix(_TOPIC)
    alike = [visit for visit in scene.plan.visits if visit.kind == kind]
    if any(told.zone_id == min(visit.zone_ids) for visit in alike):
        return
    for visit in alike:
        zones = _zones(scene, visit)
        if told.zone_id in visit.zone_ids:
            day_on = _day(scene, visit, zones)
            yield from _about(scene, visit, zones, day_on, person, zone_id=told.zone_id)
            return
    if told.day_on is not None and told.day_on >= scene.local_on and not _is_done(scene, told):
        yield replace(_off(scene, told), only=person.id)


def _is_done(scene: Scene, told: Heard) -> bool:
    """Return whether what a visit was for is on record."""
    zone = next((each for each in scene.plan.zones if each.zone.id == told.zone_id), None)
    if zone is None:
        return False
    kind = told.topic.removeprefix(_TOPIC)
    if kind == _THIRD:
        return zone.state in {State.HEATING_UP, State.IN_SERVICE}
    states = {hold.state for hold in zone.holds if hold.code in _HOLDS[kind]}
    return HoldState.MET in states and not states & {HoldState.UNMET, HoldState.FAILED}


def _off(scene: Scene, told: Heard) -> Ask:
    """Return that nobody is to come, for a visit that is no visit of the plan any more."""
    zone = next((each for each in scene.plan.zones if each.zone.id == told.zone_id), None)
    facts = scene.zone_facts(zone or scene.plan.zones[0])
    kind = told.topic.removeprefix(_TOPIC)
    return Ask(
        kind="visit-off",
        due_at=scene.fact_at,
        zone_id=told.zone_id,
        subject=kind,
        occasion=stamp(told.told_at),
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


def _zones(scene: Scene, visit: Visit) -> list[ZonePlan]:
    return [zone for zone in scene.plan.zones if zone.zone.id in visit.zone_ids]


def _about(
    scene: Scene,
    visit: Visit,
    zones: list[ZonePlan],
    day_on: date | None,
    person: Recipient,
    *,
    zone_id: str = "",
) -> Iterator[Ask]:
    """A visit that is new, that moved, or that is off."""
    zone_id, topic = zone_id or min(visit.zone_ids), f"{_TOPIC}{visit.kind}"
    last: Heard | None = scene.told.day(person.id, zone_id, topic)
    params = _params(scene, visit, zones, day_on)
    waits = visit.kind == _THIRD and not all(zone.is_released for zone in zones)
    if waits and day_on is not None and day_on <= scene.local_on:
        # Nobody sets out today for a floor that is not released: the release calls.
        return
    kind_parts = (_word(visit.kind, zones),)
    when = "when" if visit.kind == _THIRD else "when-by"
    booked = Ask(
        kind="visit-booked",
        due_at=scene.fact_at,
        zone_id=zone_id,
        subject=visit.kind,
        parts=(*kind_parts, when, "off", "address"),
        params=params,
        topic=topic,
        day_on=day_on,
        only=person.id,
    )
    if last is None or last.kind == "visit-off":
        if day_on is None or not any(begun_at(zone) or visit.kind == _FIRST for zone in zones):
            return
        since = "" if last is None else f"{last.told_at:%Y-%m-%dT%H:%M:%SZ}"
        yield replace(booked, occasion=since)
        return
    if last.day_on == day_on:
        yield from _again(scene, zones, last, person, booked)
        return
    off = day_on is None
    ask = Ask(
        kind="visit-off" if off else "visit-moved",
        due_at=scene.fact_at,
        zone_id=zone_id,
        subject=visit.kind,
        parts=("text", "why") if off else (*kind_parts, when, "off", "address"),
        params={**params, "before_on": last.day_on, "why": zones[0].why},
        topic=topic,
        day_on=day_on,
        only=person.id,
    )
    yield moving(scene, ask, last, said_on_day(scene, person), waits=waits)


def _again(
    scene: Scene, zones: list[ZonePlan], last: Heard, person: Recipient, booked: Ask
) -> Iterator[Ask]:
    """A visit whose day held through a stop: who heard the stop hears that it stands again."""
    heard = [scene.told.last(person.id, zone.zone.id, _STOPS) for zone in zones]
    stops = [each.told_at for each in heard if each is not None and each.told_at > last.told_at]
    if not stops or last.day_on is None or last.day_on < scene.local_on:
        return
    word, *rest = booked.parts
    yield replace(booked, occasion=stamp(max(stops)), parts=(word, "again", *rest))


def _tomorrow(scene: Scene, visit: Visit, zones: list[ZonePlan], day_on: date) -> Iterator[Ask]:
    """The day before; before switching on only where the floor is released."""
    if visit.kind == _THIRD and not all(zone.is_released for zone in zones):
        return
    kind_word, by_on = _word(visit.kind, zones), day_on
    if visit.kind == _SECOND and visit.window is not None:
        # From when the last layer is down; once that is so, the day before its last day.
        first = scene.calendar.next_working(visit.window.earliest)
        soon = scene.calendar.next_working(scene.as_of)
        if first is not None and soon is not None and first > soon:
            day_on = local_day(first, scene.tz)
        else:
            kind_word = "second-last"
    before = working_day_before(day_on, scene.rule("visit-tomorrow").before, scene.calendar)
    yield Ask(
        kind="visit-tomorrow",
        due_at=scene.day_at(before, "visit-tomorrow"),
        zone_id=min(visit.zone_ids),
        subject=visit.kind,
        occasion=day_on.isoformat(),
        parts=(kind_word, "off", "address"),
        params=_params(scene, visit, zones, day_on) | {"by_on": by_on},
        until_at=scene.day_at(day_on),
        sliding=True,
    )


def _day(scene: Scene, visit: Visit, zones: list[ZonePlan]) -> date | None:
    """Return the day an electrician is told: by when the first two are to be done, or the third's.

    A date that nobody keeps does not move on with the clock: the zones' own days are told.
    """
    if visit.window is None or any(zone.state is State.STOPPED for zone in zones):
        return None
    days = [day for zone in zones if (day := scene.crew_day(zone))]
    if visit.kind == _FIRST:
        return _before_the_pour(scene, visit.window)
    if len(days) < len(zones):
        return None
    if visit.kind == _SECOND:
        by = visit.window.latest or visit.window.earliest
        # A bare screed is connected long before the zone's date.
        early = local_day(by, scene.tz)
        if by <= scene.calendar.opens(early) and early > scene.local_on:
            # Before the work of that day begins: no later than the day before.
            early -= _DAY
        early = last_working(early, scene.calendar)
        if early < min(days):
            return early
        return working_day_before(min(days), 1, scene.calendar)
    return max(days)


def _before_the_pour(scene: Scene, window: Window) -> date:
    closes = window.latest or window.earliest
    before = scene.calendar.latest_start(closes, None, split=False)
    return last_working(local_day(before or closes, scene.tz), scene.calendar)


def _word(kind: str, zones: list[ZonePlan]) -> str:
    """Return which text tells what a visit is for."""
    if kind == _THIRD:
        return "energize" if all(zone.is_released for zone in zones) else "energize-waits"
    return {_FIRST: "first", _SECOND: "second"}.get(kind, "other")


def _from_on(scene: Scene, visit: Visit, day_on: date | None) -> date | None:
    """Return the first day for the second visit, where that is still to come."""
    if visit.kind != _SECOND or visit.window is None or day_on is None:
        return None
    first = scene.calendar.next_working(visit.window.earliest)
    from_on = None if first is None else local_day(first, scene.tz)
    return from_on if from_on is not None and scene.local_on < from_on < day_on else None


def _params(
    scene: Scene, visit: Visit, zones: list[ZonePlan], day_on: date | None
) -> dict[str, object]:
    return scene.zone_facts(zones[0]) | {
        "zone": ", ".join(zone.zone.name for zone in zones),
        "visit": visit.kind,
        "day_on": day_on,
        "from_at": visit.window.earliest if visit.window else None,
        "from_on": _from_on(scene, visit, day_on),
        "address": scene.plan.job.address,
    }
