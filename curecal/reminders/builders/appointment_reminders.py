"""What people are told of visits with an agreed hour: booked, moved, no longer possible, off.

Each change is told at once to both sides, and to an owner who must open the door. An appointment
that the dates have moved past stands until somebody moves it, so both sides hear that somebody
must. What was told last decides what is new.

Rule: R20, R21.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from datetime import date, timedelta

from curecal.calendars.event import Audience
from curecal.calendars.events.appointments import must_move
from curecal.instants import local_day
from curecal.planning.plan import Appointment, State, ZonePlan
from curecal.planning.site_log.authority import persons_named
from curecal.planning.zone.appointments import KINDS
from curecal.records import Record, record
from curecal.reminders.builders.reminder_context import Ask, ReminderContext
from curecal.reminders.recipients import recipients
from curecal.reminders.reminder_types import (
    AGREEMENTS,
    Heard,
    MessageKind,
    Occasion,
    Recipient,
    Reminder,
    Topic,
)
from curecal.reminders.timing.sending_hours import rounds, wish_at, working_day_before
from curecal.trade.findings import FindingCode
from curecal.trade.job import Role
from curecal.trade.site_log import Booking, VisitFor

_DAY = timedelta(days=1)
# While a floor is stopped nobody is asked to move what is further off: it may go on by then.
_SOON = timedelta(days=3)
_OFF = "off"
_ROLES = {
    Audience.ELECTRICIAN: Role.ELECTRICIAN,
    Audience.CREW: Role.CREW_LEAD,
    Audience.OWNER: Role.OWNER,
}


@record
class _Concerned(Record):
    """Somebody whom an appointment concerns, and which side they are on."""

    person: Recipient
    side: Audience


def appointment_reminders(ctx: ReminderContext) -> Iterator[Reminder]:
    """Give what everybody is told of the appointments of a job.

    Args:
        ctx: the plan, its people and what they heard.

    Yields:
        Reminders.
    """
    for appointment in ctx.plan.appointments:
        readers = _readers(ctx, appointment)
        for reader in readers:
            for ask in _about(ctx, appointment, reader):
                yield from ctx.expand_to(ask, reader.person)
        if appointment.stands and appointment.end_at <= ctx.as_of and appointment.misfit:
            yield from ctx.expand(_passed(ctx, appointment), Role.CREW_LEAD)
    yield from _no_longer_concerned(ctx)


def subject_of(appointment: Appointment) -> str:
    """Return the name of an appointment among the messages.

    Args:
        appointment: the appointment.

    Returns:
        Its id; the sign that keys are joined with is none of it.
    """
    return appointment.id.replace("|", " ")


def _readers(ctx: ReminderContext, appointment: Appointment) -> list[_Concerned]:
    """Return whom an appointment concerns, each on one side."""
    found = ((person, _side(ctx, appointment, person)) for person in ctx.people)
    return [_Concerned(person, side) for person, side in found if side is not None]


def _side(ctx: ReminderContext, appointment: Appointment, person: Recipient) -> Audience | None:
    if Role.ELECTRICIAN in person.roles and _comes(ctx, appointment, person):
        return Audience.ELECTRICIAN
    if Role.CREW_LEAD in person.roles:
        return Audience.CREW
    if Role.OWNER in person.roles and (_opens(ctx) or _last(ctx, person, appointment) is not None):
        return Audience.OWNER
    return None


def _comes(ctx: ReminderContext, appointment: Appointment, person: Recipient) -> bool:
    """Return whether a person is the one who comes: by name, else whoever does such work."""
    named = recipients(persons_named(ctx.plan.job.people, appointment.who))
    if named:
        return any(one.id.removeprefix("+") == person.id.removeprefix("+") for one in named)
    return appointment.who is None and appointment.purpose in KINDS


def _opens(ctx: ReminderContext) -> bool:
    """Return whether an owner must open the door: after the last layer no crew is on site."""
    return not any(item.planned for zone in ctx.plan.zones for item in zone.layers)


def _heard(ctx: ReminderContext, person: Recipient) -> dict[str, Heard]:
    """Return what a person heard last of each appointment, by its subject."""
    # What one message tells of further zones has no words of its own.
    return {
        heard.subject: heard
        for heard in ctx.told.of(person.id)
        if heard.kind in AGREEMENTS and heard.occasion.detail
    }


def _last(ctx: ReminderContext, person: Recipient, appointment: Appointment) -> Heard | None:
    return _heard(ctx, person).get(subject_of(appointment))


def _about(ctx: ReminderContext, appointment: Appointment, reader: _Concerned) -> Iterator[Ask]:
    """Give what is new of an appointment to one person, and the word of the day before it."""
    if appointment.start_at <= ctx.as_of:
        return
    last = _last(ctx, reader.person, appointment)
    if not appointment.stands:
        if appointment.state is not Booking.DONE:
            yield from _called_off(ctx, appointment, reader, last)
        return
    if _is_impossible(ctx, appointment):
        yield from _must_move(ctx, appointment, reader, last)
        return
    # That the floor waits for it is said when it comes to be so, not when it ends.
    known = {_agreed_words(appointment), _agreed_words(appointment, late=True)}
    if last is not None and last.occasion.detail in known:
        yield from _eve(ctx, appointment, reader, last)
        return
    yield _agreed(ctx, appointment, reader, last)


def _is_impossible(ctx: ReminderContext, appointment: Appointment) -> bool:
    """Return whether somebody must move an appointment, and should do so now."""
    if not must_move(appointment):
        return False
    zones = _zones(ctx, appointment)
    near = appointment.start_at <= ctx.as_of + _SOON
    return near or not any(zone.state is State.STOPPED for zone in zones)


def _agreed_words(appointment: Appointment, *, late: bool = False) -> str:
    """Return what an appointment is told by: another one is told anew, and a late one is."""
    hours = f"{appointment.start_at.isoformat()} {appointment.end_at.isoformat()}"
    said = f"{appointment.state} {hours} {appointment.who or ''}".strip()
    return f"{said} late" if late or _is_late(appointment) else said


def _is_late(appointment: Appointment) -> bool:
    """Return whether the floor waits for an appointment."""
    misfit = appointment.misfit
    return misfit is not None and misfit.code == FindingCode.VISIT_AFTER_WINDOW


def _agreed(
    ctx: ReminderContext, appointment: Appointment, reader: _Concerned, last: Heard | None
) -> Ask:
    before_on = last.day_on if last and last.kind != MessageKind.VISIT_CALLED_OFF else None
    start_on = local_day(appointment.start_at, ctx.tz)
    again = last is not None and last.kind == MessageKind.VISIT_MISFIT and before_on == start_on
    moved = before_on is not None and before_on != start_on
    parts = [f"{reader.side}-{appointment.state}"]
    parts += ["again"] if again else ["moved"] if moved else []
    parts += ["late"] if _is_late(appointment) else []
    if reader.side is Audience.ELECTRICIAN:
        parts += [_work(ctx, appointment), "address"]
    ask = _ask(ctx, MessageKind.VISIT_AGREED, appointment, reader)
    return replace(
        ask,
        occasion=_occasion(ctx, appointment, reader, last, _agreed_words(appointment)),
        parts=tuple(parts),
        params={**ask.params, "before_on": before_on if moved else None},
        until_at=appointment.start_at,
    )


def _must_move(
    ctx: ReminderContext, appointment: Appointment, reader: _Concerned, last: Heard | None
) -> Iterator[Ask]:
    """The dates have moved past it: who was told of it, or must agree on another, hears so."""
    misfit = appointment.misfit
    if misfit is None or (reader.side is Audience.OWNER and last is None):
        return
    said = f"{misfit.code} {appointment.start_at.isoformat()}"
    if last is not None and last.occasion.detail == said:
        return
    ask = _ask(ctx, MessageKind.VISIT_MISFIT, appointment, reader)
    yield replace(
        ask,
        occasion=_occasion(ctx, appointment, reader, last, said),
        parts=("not-needed",)
        if misfit.code == FindingCode.VISIT_NOT_NEEDED
        else ("text", reader.side.value),
        params={**ask.params, "found": misfit},
        until_at=appointment.start_at,
    )


def _called_off(
    ctx: ReminderContext, appointment: Appointment, reader: _Concerned, last: Heard | None
) -> Iterator[Ask]:
    """Who was told of it hears that it is off; the crew lead always, where somebody declines."""
    declined = appointment.state is Booking.DECLINED
    if last is None and not (declined and reader.side is Audience.CREW):
        return
    if last is not None and last.kind == MessageKind.VISIT_CALLED_OFF:
        return
    ask = _ask(ctx, MessageKind.VISIT_CALLED_OFF, appointment, reader)
    yield replace(
        ask,
        occasion=_occasion(ctx, appointment, reader, last, _OFF),
        parts=("declined" if declined else "text", reader.side.value),
        day_on=None,
        until_at=appointment.start_at,
    )


def _no_longer_concerned(ctx: ReminderContext) -> Iterator[Reminder]:
    """Give what calls off an appointment that was withdrawn, or that is somebody else's by now."""
    for person in ctx.people:
        concern = {
            subject_of(appointment)
            for appointment in ctx.plan.appointments
            if _side(ctx, appointment, person) is not None
        }
        for subject, last in _heard(ctx, person).items():
            gone = last.day_on is None or last.day_on < ctx.local_on
            if subject in concern or gone or last.kind == MessageKind.VISIT_CALLED_OFF:
                continue
            if last.topic.visit is not None and Role.ELECTRICIAN not in person.roles:
                # Who is no electrician of the job any more hears it of all their visits.
                continue
            zone = next((one for one in ctx.plan.zones if one.zone.id == last.zone_id), None)
            facts = ctx.zone_facts(zone or ctx.plan.zones[0])
            ask = Ask(
                kind=MessageKind.VISIT_CALLED_OFF,
                due_at=ctx.fact_at,
                zone_id=last.zone_id,
                subject=subject,
                occasion=Occasion(at=last.told_at, detail=_OFF),
                parts=("gone",),
                params=facts | {"start_on": last.day_on},
                topic=last.topic,
            )
            yield from ctx.expand_to(ask, person)


def _eve(
    ctx: ReminderContext, appointment: Appointment, reader: _Concerned, last: Heard | None
) -> Iterator[Ask]:
    """The day before, with the hour; not to who heard of it since then."""
    start_on = local_day(appointment.start_at, ctx.tz)
    days = ctx.rule(MessageKind.VISIT_EVE).before
    before = start_on - days * _DAY
    if reader.side is not Audience.OWNER:
        before = working_day_before(start_on, days, ctx.calendar)
    if last is None or local_day(last.told_at, ctx.tz) >= before:
        return
    parts: tuple[str, ...] = (reader.side.value,)
    if _waits(ctx, appointment):
        parts = (*parts, f"{reader.side}-waits")
    if reader.side is Audience.ELECTRICIAN:
        work = () if _waits(ctx, appointment) else (_work(ctx, appointment),)
        parts = (*parts, *work, "breaker", "address")
    ask = _ask(ctx, MessageKind.VISIT_EVE, appointment, reader)
    yield replace(
        ask,
        due_at=wish_at(before, ctx.rules.message_at[_ROLES[reader.side]], ctx.tz),
        occasion=Occasion(at=appointment.start_at),
        parts=parts,
        topic=Topic.NONE,
        until_at=appointment.start_at,
    )


def _passed(ctx: ReminderContext, appointment: Appointment) -> Iterator[Ask]:
    """An appointment that is over, and nothing of it on record: asked each week."""
    rule = ctx.rule(MessageKind.IS_IT_DONE)
    first_on = local_day(appointment.end_at, ctx.tz) + _DAY
    zone = _zones(ctx, appointment)[0]
    for round_on in rounds(first_on, ctx.local_on, rule.every):
        yield Ask(
            kind=MessageKind.IS_IT_DONE,
            due_at=ctx.day_at(round_on, MessageKind.IS_IT_DONE),
            zone_id=zone.zone.id,
            subject=f"visit {subject_of(appointment)}",
            occasion=Occasion(on=round_on),
            parts=("visit",),
            params=_facts(ctx, appointment),
        )


def _ask(
    ctx: ReminderContext, kind: MessageKind, appointment: Appointment, reader: _Concerned
) -> Ask:
    """Return what all that is said of an appointment has in common."""
    zone = _zones(ctx, appointment)[0]
    topic = Topic.NONE
    if reader.side is Audience.ELECTRICIAN and appointment.purpose in KINDS:
        # It is the visit that they may have been told as a window before.
        topic = Topic.of_visit(KINDS[appointment.purpose])
    return Ask(
        kind=kind,
        due_at=ctx.fact_at,
        zone_id=zone.zone.id,
        subject=subject_of(appointment),
        params=_facts(ctx, appointment),
        topic=topic,
        day_on=local_day(appointment.start_at, ctx.tz),
    )


def _occasion(
    ctx: ReminderContext,
    appointment: Appointment,
    reader: _Concerned,
    last: Heard | None,
    said: str,
) -> Occasion:
    """Return what tells a change from the one before it; an electrician knows it by all zones."""
    also: tuple[tuple[str, date | None], ...] = ()
    if reader.side is Audience.ELECTRICIAN:
        day_on = None if said == _OFF else local_day(appointment.start_at, ctx.tz)
        also = tuple((zone.zone.id, day_on) for zone in _zones(ctx, appointment)[1:])
    return Occasion(at=last.told_at if last else None, detail=said, also=also)


def _facts(ctx: ReminderContext, appointment: Appointment) -> dict[str, object]:
    zones = _zones(ctx, appointment)
    return ctx.zone_facts(zones[0]) | {
        "zone": ", ".join(zone.zone.name for zone in zones),
        "only_zone": len(zones) == len(ctx.plan.zones) or len(ctx.plan.zones) == 1,
        "visit": appointment.purpose,
        "start_at": appointment.start_at,
        "person": appointment.who,
        "address": ctx.plan.job.address,
        "before_on": None,
    }


def _zones(ctx: ReminderContext, appointment: Appointment) -> list[ZonePlan]:
    """Return the zones an appointment is for, those of its visit first; never none."""
    own = [zone for zone in ctx.plan.zones if appointment.is_for(zone.zone.id)]
    return own or list(ctx.plan.zones[:1])


def _waits(ctx: ReminderContext, appointment: Appointment) -> bool:
    """Return whether a floor to be switched on is not released yet."""
    return appointment.purpose is VisitFor.SWITCH_ON and not all(
        zone.is_released for zone in _zones(ctx, appointment)
    )


def _work(ctx: ReminderContext, appointment: Appointment) -> str:
    """Return which text tells the electrician what a visit is for."""
    match appointment.purpose:
        case VisitFor.ROUGH_IN:
            return "first"
        case VisitFor.TEST_AND_CONNECT:
            return "second"
        case VisitFor.SWITCH_ON:
            return "energize-waits" if _waits(ctx, appointment) else "energize"
        case _:
            return "other"
