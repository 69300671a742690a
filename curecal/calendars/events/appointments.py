"""Appointments in the calendars of everybody they concern, at their hour.

Rule: R21, R26.
"""

from __future__ import annotations

from collections.abc import Collection

from curecal.calendars.event import Audience, Event, EventKey, Status, Timed
from curecal.calendars.event_context import EventContext
from curecal.calendars.purpose import Purpose, PurposeKind
from curecal.calendars.stable_dates.event_hours import evening_before
from curecal.instants import ceil_second
from curecal.planning.plan import Appointment
from curecal.planning.site_log.authority import persons_named
from curecal.planning.zone.appointments import KINDS
from curecal.trade.findings import FindingCode
from curecal.trade.job import Role
from curecal.trade.site_log import Booking, VisitFor

# What keeps an appointment from being kept, said without a date: that would be new each day.
_MUST_MOVE = frozenset(
    {
        FindingCode.VISIT_TOO_EARLY,
        FindingCode.VISIT_AFTER_WORK,
        FindingCode.VISIT_WITHOUT_DATE,
        FindingCode.VISIT_NOT_NEEDED,
    }
)


def is_ahead(ctx: EventContext, appointment: Appointment | None) -> bool:
    """Return whether an appointment stands and is not over.

    Args:
        ctx: The plan and what it is shown with.
        appointment: The appointment, if there is one.

    Returns:
        False also for none.
    """
    return appointment is not None and appointment.stands and appointment.end_at > ctx.plan.as_of


def hours_of(appointment: Appointment) -> Timed:
    """Return the hours that were agreed."""
    return Timed(ceil_second(appointment.start_at), ceil_second(appointment.end_at))


def must_move(appointment: Appointment) -> bool:
    """Return whether the floor's days no longer allow an appointment."""
    return appointment.misfit is not None and appointment.misfit.code in _MUST_MOVE


def firmness_of(appointment: Appointment) -> Status:
    """Return how firm an appointment is: confirmed by a person, and still possible."""
    firm = appointment.state is Booking.CONFIRMED and not must_move(appointment)
    return Status.CONFIRMED if firm else Status.TENTATIVE


def titled(ctx: EventContext, summary: str, appointment: Appointment) -> str:
    """Return an entry's title, marked where its appointment must move."""
    return ctx.say("appointment.marked", {"title": summary}) if must_move(appointment) else summary


def agreed_text(ctx: EventContext, appointment: Appointment) -> str:
    """Return when somebody comes, who, how firm it is, and that it must move if it must.

    Args:
        ctx: The plan and what it is shown with.
        appointment: The appointment.

    Returns:
        One or two lines.
    """
    params = {
        "hours": ctx.words.hours(appointment.start_at, appointment.end_at),
        "who": appointment.who,
    }
    parts = [appointment.state.value]
    if appointment.misfit is not None and must_move(appointment):
        parts.append(appointment.misfit.code)
    return ctx.text("appointment", tuple(parts), params)


def appointment_events(
    ctx: EventContext, audience: Audience, shown: Collection[str] = ()
) -> list[Event]:
    """Return the appointments that concern a reader, each at its hour.

    Crew and owner hear of everybody who comes; an electrician of those who come as electricians.

    Args:
        ctx: The plan and what it is shown with.
        audience: Whose calendar.
        shown: Ids of appointments that another entry of this calendar shows already.

    Returns:
        One event an appointment that stands and is not over.
    """
    return [
        _event(ctx, audience, appointment)
        for appointment in ctx.plan.appointments
        if is_ahead(ctx, appointment)
        and appointment.id not in shown
        and (audience is not Audience.ELECTRICIAN or _is_electricians(ctx, appointment))
    ]


def _is_electricians(ctx: EventContext, appointment: Appointment) -> bool:
    people = persons_named(ctx.plan.job.people, appointment.who)
    named = any(Role.ELECTRICIAN in person.every_role for person in people)
    return named or appointment.purpose in KINDS


def _event(ctx: EventContext, audience: Audience, appointment: Appointment) -> Event:
    zones = [zone.zone.name for zone in ctx.plan.zones if appointment.is_for(zone.zone.id)]
    off = appointment.purpose is not VisitFor.SWITCH_ON
    params: dict[str, object] = {
        "zones": ", ".join(zones),
        "what": appointment.purpose,
        **ctx.contact(),
    }
    purpose = Purpose(PurposeKind.APPOINTMENT, appointment.purpose)
    times = hours_of(appointment)
    said = (
        agreed_text(ctx, appointment),
        ctx.text("appointment", (f"{audience}-{'off' if off else 'on'}", "contact"), params),
    )
    return Event(
        EventKey(audience, appointment.zone_id or "", appointment.id, purpose.text),
        titled(ctx, ctx.say("appointment.summary", params), appointment),
        "\n".join(line for line in said if line),
        times,
        firmness_of(appointment),
        busy=True,
        location=ctx.address,
        alarms=(evening_before(times.start_at, ctx.tz),),
    )
