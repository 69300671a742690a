"""What concerns everyone on a job: stopped, switched on early, released, taken back, moved.

"Moved" is said when the day a person was told no longer holds: some minutes after the last fact,
once a person and day; at once when the new day is near or the work stopped.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta

from curecal.instants import end_of_day, local_day, start_of_day
from curecal.planning.plan import State, ZonePlan
from curecal.reminders.builders.former_recipients import still_believing
from curecal.reminders.builders.reminder_context import Ask, Scene, begun_at
from curecal.reminders.reminder_types import MAY, MAY_NOT, Heard, Recipient, Reminder
from curecal.reminders.timing.sending_hours import is_quiet, later, next_evening, proper_at, wish_at
from curecal.trade.findings import Message
from curecal.trade.job import Role

_DAY = timedelta(days=1)
_OVER = frozenset({State.HEATING_UP, State.IN_SERVICE})
_ALL = (Role.CREW_LEAD, Role.ELECTRICIAN, Role.OWNER)
MOVES = frozenset({"moved", "visit-moved"})
"""Kinds that say that a day moved: of these a person hears one a day."""
_TELLS_DAY = {Role.OWNER: "owner", Role.CREW_LEAD: "crew"}


def news(scene: Scene) -> Iterator[Reminder]:
    """Give what everyone concerned is told.

    Args:
        scene: the plan and its people.

    Yields:
        Reminders.
    """
    for zone in scene.plan.zones:
        for role in _ALL:
            if zone.state is State.STOPPED:
                yield from scene.expand([_stopped(scene, zone)], role)
            if zone.is_released:
                yield from scene.expand(_released(scene, zone, role), role)
        if zone.state is State.STOPPED:
            yield from _to_former(scene, zone)
        elif not zone.is_released:
            yield from _taken_back(scene, zone)
    yield from _moved(scene)


def topic_of(role: Role) -> str:
    """Return the name of the day that a role is told.

    Args:
        role: the role.

    Returns:
        The topic; empty for the electrician, who is told visits.
    """
    return _TELLS_DAY.get(role, "")


def day_of(scene: Scene, zone: ZonePlan, role: Role) -> date | None:
    """Return the day a role is told of a zone.

    Args:
        scene: the plan.
        zone: the zone.
        role: the role.

    Returns:
        The owner's day at the late end, the crew's at the early one; after a release the first
        day for both; None without one.
    """
    if role is Role.OWNER and not zone.is_released:
        return scene.owner_day(zone)
    return scene.crew_day(zone)


def _stopped(scene: Scene, zone: ZonePlan) -> Ask:
    early = zone.why.code == "early-switch-on"
    at = zone.why.params.get("on_at" if early else "stopped_at")
    params = scene.zone_facts(zone) | {"why": zone.why}
    return Ask(
        kind="early-switch-on" if early else "stopped",
        due_at=scene.fact_at,
        zone_id=zone.zone.id,
        occasion=f"{zone.why.code} {at or ''}",
        params=params,
        topic="day",
    )


def _released(scene: Scene, zone: ZonePlan, role: Role) -> Iterator[Ask]:
    """The crew lead's word, with the first day: the only way an owner hears "may"."""
    at = zone.released_at
    if at is None or zone.state is State.IN_SERVICE:
        return
    day_on = scene.crew_day(zone)
    by = zone.first_switched_on_by
    who = "by-owner" if by is Role.OWNER else "by-other"
    if role is Role.ELECTRICIAN:
        if by is not Role.ELECTRICIAN:
            return
        who = "by-electrician"
    steps = any(each.steps and each.purpose != "bare screed" for each in zone.heat_ups)
    yield Ask(
        kind="released",
        due_at=at,
        zone_id=zone.zone.id,
        occasion=stamp(at),
        parts=("text", who, *(("steps",) if steps else ())),
        params=scene.zone_facts(zone) | {"day_on": day_on or scene.local_on},
        topic=topic_of(role),
        day_on=day_on,
    )


def _taken_back(scene: Scene, zone: ZonePlan) -> Iterator[Reminder]:
    """What undoes a "may": to each person who heard one, and to the others with them."""
    yield from _to_former(scene, zone)
    heard = [_standing_may(scene, zone, person) for person in scene.people]
    last = [each for each in heard if each is not None]
    if not last:
        return
    newest = max(last, key=lambda each: each.told_at)
    for role in _ALL:
        # The day that is kept as told is the one that is read, each role's own.
        day_on = day_of(scene, zone, role)
        # A day that has passed is no new one.
        part = "dated" if day_on is not None and day_on >= scene.local_on else "undated"
        if role is Role.ELECTRICIAN:
            part = "apart"
        ask = Ask(
            kind="no-longer",
            due_at=scene.fact_at,
            zone_id=zone.zone.id,
            occasion=stamp(newest.told_at),
            parts=("text", part),
            params=scene.zone_facts(zone) | {"why": zone.why, "day_on": day_on},
            topic=topic_of(role),
            day_on=day_on,
        )
        yield from scene.expand([ask], role)


def _to_former(scene: Scene, zone: ZonePlan) -> Iterator[Reminder]:
    """What undoes a "may" that went to an address of before: whoever reads there goes by it."""
    for person, may in still_believing(scene, zone):
        if zone.state is State.STOPPED:
            yield from scene.expand_to(_stopped(scene, zone), person)
            continue
        ask = Ask(
            kind="no-longer",
            due_at=scene.fact_at,
            zone_id=zone.zone.id,
            occasion=stamp(may.told_at),
            params=scene.zone_facts(zone) | {"why": zone.why},
        )
        yield from scene.expand_to(ask, person)


def stamp(at: datetime) -> str:
    """Return an instant as one text, to the microsecond.

    Args:
        at: an instant.

    Returns:
        The text.
    """
    return at.astimezone(UTC).strftime("%Y-%m-%dT%H:%M:%S.%fZ")


def _standing_may(scene: Scene, zone: ZonePlan, person: Recipient) -> Heard | None:
    """Return the "may" a person still goes by: one that nothing after it took back."""
    may = scene.told.last(person.id, zone.zone.id, MAY)
    back = scene.told.last(person.id, zone.zone.id, MAY_NOT)
    if may is None or (back is not None and back.told_at >= may.told_at):
        return None
    return may


def _moved(scene: Scene) -> Iterator[Reminder]:
    """One message to a person for all zones whose day moved."""
    rule = scene.rule("moved")
    for person in scene.people:
        role = next((each for each in person.roles if each in rule.to), None)
        if role is None:
            continue
        moves = [each for zone in scene.plan.zones if (each := _move(scene, zone, role, person))]
        if moves:
            yield from scene.expand([_joint(scene, moves)], role)


def _move(scene: Scene, zone: ZonePlan, role: Role, person: Recipient) -> Ask | None:
    """Return what a person is told of one zone's day; None where the day they know holds."""
    # The release tells the day, and what takes it back: nothing else does.
    if zone.state is State.STOPPED or zone.state in _OVER or zone.is_released:
        return None
    last = last_day(scene, person, zone, topic_of(role))
    day_on = day_of(scene, zone, role)
    if last is None or last.day_on == day_on:
        return None
    if any(_standing_may(scene, zone, each) for each in scene.people):
        # What takes a "may" back goes to everybody, and tells each their day.
        return None
    if day_on is not None and day_on < scene.local_on:
        # It came and was not kept: no day to tell as new.
        return None
    worst_on = scene.worst_day(zone)
    wider = worst_on is not None and day_on is not None and worst_on > day_on
    params = scene.zone_facts(zone) | {
        "day_on": day_on,
        "before_on": last.day_on,
        "why": zone.why,
        "worst_on": worst_on if wider else None,
        "also": None,
    }
    ask = Ask(
        kind="moved",
        due_at=scene.fact_at,
        zone_id=zone.zone.id,
        parts=_parts(role, day_on, before_on=last.day_on),
        params=params,
        topic=topic_of(role),
        day_on=day_on,
        only=person.id,
    )
    return moving(scene, ask, last, said_on_day(scene, person), waits=True)


def _joint(scene: Scene, moves: list[Ask]) -> Ask:
    """Return one message of all that may be said with the first of them, the nearest day first."""
    moves.sort(key=lambda each: (each.due_at, each.day_on or scene.local_on, each.zone_id))
    first, *rest = moves
    said: Message | None = None
    occasion = [first.occasion]
    for each in reversed(rest):
        if each.due_at > max(first.due_at, scene.as_of):
            continue
        # What was heard keeps these days by their zones.
        occasion.append(f"{each.zone_id}={each.day_on or ''}")
        zone, before_on = each.params["zone"], each.params["before_on"]
        if each.day_on is None:
            said = Message("also-no-day", {"zone": zone, "also": said})
        else:
            params = {"zone": zone, "day_on": each.day_on, "before_on": before_on, "also": said}
            said = Message("also-day", params)
    if said is None:
        return first
    return replace(first, occasion=" ".join(occasion), params={**first.params, "also": said})


def last_day(scene: Scene, person: Recipient, zone: ZonePlan, topic: str) -> Heard | None:
    """Return the last that told a person a zone's day: a stop tells that there is none.

    Args:
        scene: the plan and what was heard.
        person: the person.
        zone: the zone.
        topic: which of the days.

    Returns:
        What was heard; None where no day was ever told.
    """
    own = scene.told.day(person.id, zone.zone.id, topic)
    common = scene.told.day(person.id, zone.zone.id, "day")
    both = [each for each in (own, common) if each is not None]
    if own is None and (begun_at(zone) is None or common is None):
        return None
    return max(both, key=lambda each: each.told_at)


def said_on_day(scene: Scene, person: Recipient) -> Heard | None:
    """Return the last "moved" that a person heard, whatever the zone.

    Args:
        scene: the plan and what was heard.
        person: the person.

    Returns:
        What was heard, or None.
    """
    told = [each for each in scene.told.of(person.id) if each.kind in MOVES]
    return told[-1] if told else None


def moving(scene: Scene, ask: Ask, last: Heard, said: Heard | None, *, waits: bool = False) -> Ask:
    """Return a message about a day that moved, with its time.

    Args:
        scene: the plan.
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
    soon = next_evening(scene.as_of, scene.rules.soon, scene.tz)
    nearer = last.day_on is not None and ask.day_on is not None and ask.day_on < last.day_on
    at_once = ask.day_on is None or scene.day_at(ask.day_on) < soon
    due_at = scene.fact_at
    if not at_once or (nearer and waits):
        due_at = scene.settled_at()
        # Whoever heard a day today, in whatever message, hears of no other one today.
        told_at = max(last.told_at, said.told_at) if said else last.told_at
        due_at = max(due_at, end_of_day(local_day(told_at, scene.tz), scene.tz))
        if nearer:
            due_at = max(due_at, later(last.told_at, scene.rules.sooner_s))
            due_at = _evening(scene, due_at, ask.only)
        elif comes_first(scene, last.day_on, due_at, ask.only):
            due_at = scene.fact_at
    occasion = f"{stamp(last.told_at)} {ask.day_on or 'none'}"
    return replace(ask, due_at=due_at, occasion=occasion)


def _evening(scene: Scene, at: datetime, recipient: str) -> datetime:
    """Return the evening of the first day from an instant on which a person may hear of a day.

    It is not before today's: a morning's reading may undo what is nearer until then.
    """
    at = _proper(scene, max(at, start_of_day(scene.local_on, scene.tz)), recipient)
    evening_at = wish_at(local_day(at, scene.tz), scene.rules.soon, scene.tz)
    return at if is_quiet(evening_at, scene.rules, scene.tz) else max(at, evening_at)


def comes_first(scene: Scene, before_on: date | None, due_at: datetime, recipient: str) -> bool:
    """Return whether the day somebody was told comes before they may hear that it moved.

    Args:
        scene: the plan, its people and their days off.
        before_on: the day told.
        due_at: when they are to hear.
        recipient: who.

    Returns:
        True for a day that is not over and begins before that.
    """
    if before_on is None or before_on < scene.local_on:
        return False
    return start_of_day(before_on, scene.tz) < _proper(scene, due_at, recipient)


def _proper(scene: Scene, at: datetime, recipient: str) -> datetime:
    """Return when a message may reach a person: not at night, nor on their days off."""
    return proper_at(at, scene.roles_of(recipient), scene.rules, scene.calendar)


def _parts(role: Role, day_on: date | None, *, before_on: date | None) -> tuple[str, ...]:
    who = "owner" if role is Role.OWNER else "crew"
    if day_on is None:
        return (f"{who}-undated", "also", "why")
    if before_on is None:
        return (f"{who}-dated", "also", "why")
    return (f"{who}-{'later' if day_on > before_on else 'earlier'}", "also", "why")
