"""Why an event is no longer in the plan: it has taken place, or it is off."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime

from curecal.calendars.event import EventKey
from curecal.calendars.purpose import Purpose, PurposeKind
from curecal.calendars.revisions.revise import RemovalReason
from curecal.planning.curing.build_up import BuildUp
from curecal.planning.plan import Appointment, HoldState, Plan, State, VisitKind, ZonePlan
from curecal.trade.hold_codes import HoldCode
from curecal.trade.site_log import Booking

_CURED = frozenset({State.ON_HOLD, State.CLEAR, State.RELEASED, State.HEATING_UP, State.IN_SERVICE})
_ON = frozenset({State.HEATING_UP, State.IN_SERVICE})
# What is on record once a visit was made.
_VISITS = {
    VisitKind.ROUGH_IN: HoldCode.TEST_AFTER_LAYING,
    VisitKind.CONNECTION: HoldCode.CONNECTION,
}


def removal_reasons(plan: Plan) -> Callable[[EventKey], RemovalReason]:
    """Return why events of a job are no longer wanted, as its plan tells.

    Args:
        plan: The plan.

    Returns:
        A function of the event's key.
    """
    zones = {zone.zone.id: zone for zone in plan.zones}
    agreed = {one.id: one for one in plan.appointments}

    def reason(key: EventKey) -> RemovalReason:
        about = Purpose.read(key.purpose)
        if about is not None and about.kind is PurposeKind.APPOINTMENT:
            return _of_appointment(agreed.get(key.layer_id), plan.as_of)
        zone = zones.get(key.zone_id)
        if zone is None:
            return RemovalReason.OFF if key.zone_id else RemovalReason.PAST
        purpose = Purpose.read(key.purpose)
        if purpose is None:
            return RemovalReason.OFF
        return _reason(zone, key, purpose)

    return reason


def _of_appointment(appointment: Appointment | None, as_of: datetime) -> RemovalReason:
    """Return that somebody came, did not come, or that the hour is over."""
    if appointment is None or appointment.state in {Booking.DECLINED, Booking.CALLED_OFF}:
        return RemovalReason.OFF
    if appointment.state is Booking.DONE:
        return RemovalReason.DONE
    # Shown in another entry from now on, or past without a word: nobody has to hear of it.
    return RemovalReason.PAST if appointment.end_at <= as_of else RemovalReason.DONE


def _reason(zone: ZonePlan, key: EventKey, purpose: Purpose) -> RemovalReason:
    match purpose.kind:
        case PurposeKind.STEP:
            done = _laid(zone, key.layer_id)
        case PurposeKind.GATE:
            done = _covered(zone, key.layer_id)
        case PurposeKind.KEEP_ROOM:
            done = zone.state in _CURED
        case PurposeKind.HOLD:
            done = _is_met(zone, key, purpose.code)
        case PurposeKind.VISIT:
            done = _is_visited(zone, key, VisitKind(purpose.code))
        case PurposeKind.HEAT_UP | PurposeKind.MAY:
            # Leave to heat ends with a stop at once, also in what is already past.
            done = zone.state is State.IN_SERVICE
        case PurposeKind.ASK:
            done = zone.is_released
        case _:
            done = False
    return RemovalReason.DONE if done else RemovalReason.OFF


def _is_met(zone: ZonePlan, key: EventKey, code: str) -> bool:
    """Return whether every hold point of a kind is met: a test or an inspection."""
    holds = [
        hold
        for hold in zone.holds
        if hold.code == code and (not key.layer_id or hold.layer_id == key.layer_id)
    ]
    needed = [hold for hold in holds if hold.state is not HoldState.NOT_NEEDED]
    return bool(needed) and all(hold.state is HoldState.MET for hold in needed)


def _is_visited(zone: ZonePlan, key: EventKey, kind: VisitKind) -> bool:
    """Return whether what an electrician came for is on record."""
    if kind is VisitKind.ENERGIZE:
        return zone.state in _ON
    return _is_met(zone, key, _VISITS[kind])


def _laid(zone: ZonePlan, layer_id: str) -> bool:
    return any(plan.layer.id == layer_id and not plan.planned for plan in zone.layers)


def _covered(zone: ZonePlan, layer_id: str) -> bool:
    """Return whether work on a layer has begun: what let it begin is no news any more."""
    stack = BuildUp(zone.zone)
    under = next((plan.layer for plan in zone.layers if plan.layer.id == layer_id), None)
    above = stack.above(under) if under else ()
    return any(_laid(zone, layer.id) for layer in above)
