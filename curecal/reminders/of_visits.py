"""What an electrician is told: visits booked, tomorrow, moved, off.

A visit is known by its kind and its first zone by name, so that it stays the same while other
zones join it. Its day stands while it is merely not kept.

Rule: R8, R20, R21.
"""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date, timedelta

from curecal.instants import Window, local_day
from curecal.planning.plan import State, Visit, ZonePlan
from curecal.reminders.hours import working_day_before
from curecal.reminders.model import Heard, Recipient
from curecal.reminders.news import moving, said_on_day
from curecal.reminders.scene import Ask, Scene, begun_at
from curecal.trade.buildup import Role

_DAY = timedelta(days=1)
_FIRST, _SECOND, _THIRD = ("rough-in-and-first-test", "test-and-connect", "energize")


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
        for person in electricians[:1]:
            yield from _about(scene, visit, zones, day_on, person)
        if day_on is not None:
            yield from _tomorrow(scene, visit, zones, day_on)


def _zones(scene: Scene, visit: Visit) -> list[ZonePlan]:
    return [zone for zone in scene.plan.zones if zone.zone.id in visit.zone_ids]


def _about(
    scene: Scene, visit: Visit, zones: list[ZonePlan], day_on: date | None, person: Recipient
) -> Iterator[Ask]:
    """A visit that is new, that moved, or that is off."""
    zone_id, topic = min(visit.zone_ids), f"visit {visit.kind}"
    last: Heard | None = scene.told.day(person.id, zone_id, topic)
    params = _params(scene, visit, zones, day_on)
    kind_parts = (_word(visit.kind, zones),)
    if last is None or last.kind == "visit-off":
        if day_on is None or not any(begun_at(zone) or visit.kind == _FIRST for zone in zones):
            return
        since = "" if last is None else f"{last.told_at:%Y-%m-%dT%H:%M:%SZ}"
        yield Ask(
            kind="visit-booked",
            due_at=scene.fact_at,
            zone_id=zone_id,
            subject=visit.kind,
            occasion=since,
            parts=(*kind_parts, "when", "off", "address"),
            params=params,
            topic=topic,
            day_on=day_on,
        )
        return
    if last.day_on == day_on:
        return
    off = day_on is None
    ask = Ask(
        kind="visit-off" if off else "visit-moved",
        due_at=scene.fact_at,
        zone_id=zone_id,
        subject=visit.kind,
        parts=("text", "why") if off else (*kind_parts, "when", "off", "address"),
        params={**params, "before_on": last.day_on, "why": zones[0].why},
        topic=topic,
        day_on=day_on,
    )
    yield moving(scene, ask, last, said_on_day(scene, person))


def _tomorrow(scene: Scene, visit: Visit, zones: list[ZonePlan], day_on: date) -> Iterator[Ask]:
    """The day before; before switching on only where the floor is released."""
    if visit.kind == _THIRD and not all(zone.may_energize for zone in zones):
        return
    kind_word = _word(visit.kind, zones)
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
        params=_params(scene, visit, zones, day_on),
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
        if early < min(days):
            return early
        return working_day_before(min(days), 1, scene.calendar)
    return max(days)


def _before_the_pour(scene: Scene, window: Window) -> date:
    closes = window.latest or window.earliest
    before = scene.calendar.latest_start(closes, None, split=False)
    return local_day(before or closes, scene.tz)


def _word(kind: str, zones: list[ZonePlan]) -> str:
    """Return which text tells what a visit is for."""
    if kind == _THIRD:
        return "energize" if all(zone.may_energize for zone in zones) else "energize-waits"
    return {_FIRST: "first", _SECOND: "second"}.get(kind, "other")


def _params(
    scene: Scene, visit: Visit, zones: list[ZonePlan], day_on: date | None
) -> dict[str, object]:
    return scene.zone_facts(zones[0]) | {
        "zone": ", ".join(zone.zone.name for zone in zones),
        "visit": visit.kind,
        "day_on": day_on,
        "from_at": visit.window.earliest if visit.window else None,
        "address": scene.plan.job.address,
    }
