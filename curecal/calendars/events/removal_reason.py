"""Why an event is no longer in the plan: it has taken place, or it is off."""

from __future__ import annotations

from collections.abc import Callable

from curecal.calendars.event import Audience, EventKey
from curecal.calendars.revisions.revise import RemovalReason
from curecal.calendars.stable_dates.due_days import INSPECTION
from curecal.planning.curing.build_up import Stack
from curecal.planning.plan import HoldState, Plan, State, VisitKind, ZonePlan
from curecal.trade.hold_codes import HoldCode

_CURED = frozenset({State.ON_HOLD, State.CLEAR, State.RELEASED, State.HEATING_UP, State.IN_SERVICE})
_ON = frozenset({State.HEATING_UP, State.IN_SERVICE})
_CONNECTION = "connection"


def removal_reasons(plan: Plan) -> Callable[[EventKey], RemovalReason]:
    """Why events of a job are no longer wanted, as its plan tells.

    Args:
        plan: The plan.

    Returns:
        A function of the event's key.
    """
    zones = {zone.zone.id: zone for zone in plan.zones}

    def reason(key: EventKey) -> RemovalReason:
        zone = zones.get(key.zone_id)
        if zone is None:
            return RemovalReason.OFF if key.zone_id else RemovalReason.PAST
        # What comes a second time has a number behind its purpose.
        purpose = key.purpose.partition(", ")[0]
        of = {Audience.CREW: _crew, Audience.ELECTRICIAN: _visit, Audience.OWNER: _owner}
        return of[key.audience](zone, key, purpose)

    return reason


def _crew(zone: ZonePlan, key: EventKey, purpose: str) -> RemovalReason:
    if purpose == "step":
        return RemovalReason.DONE if _laid(zone, key.layer_id) else RemovalReason.OFF
    if purpose == "gate":
        return RemovalReason.DONE if _covered(zone, key.layer_id) else RemovalReason.OFF
    if purpose == "keep the room":
        return RemovalReason.DONE if zone.state in _CURED else RemovalReason.OFF
    if purpose.startswith("heat-up "):
        return RemovalReason.DONE if zone.state is State.IN_SERVICE else RemovalReason.OFF
    return _test(zone, key, INSPECTION if purpose == INSPECTION else purpose)


def _test(zone: ZonePlan, key: EventKey, code: str) -> RemovalReason:
    """A test or an inspection: done when every hold point of its kind is met."""
    holds = [
        hold
        for hold in zone.holds
        if hold.code == code and (not key.layer_id or hold.layer_id == key.layer_id)
    ]
    needed = [hold for hold in holds if hold.state is not HoldState.NOT_NEEDED]
    met = bool(needed) and all(hold.state is HoldState.MET for hold in needed)
    return RemovalReason.DONE if met else RemovalReason.OFF


def _visit(zone: ZonePlan, key: EventKey, purpose: str) -> RemovalReason:
    if purpose == f"visit {VisitKind.ENERGIZE}":
        return RemovalReason.DONE if zone.state in _ON else RemovalReason.OFF
    if purpose == f"visit {VisitKind.CONNECTION}":
        return _test(zone, key, _CONNECTION)
    if purpose == f"visit {VisitKind.ROUGH_IN}":
        return _test(zone, key, HoldCode.TEST_AFTER_LAYING)
    return RemovalReason.PAST


def _owner(zone: ZonePlan, key: EventKey, purpose: str) -> RemovalReason:
    del key
    # Leave to heat ends with a stop at once, also in what is already past.
    if purpose == "may switch on" or purpose.startswith("heat-up "):
        return RemovalReason.DONE if zone.state is State.IN_SERVICE else RemovalReason.OFF
    return RemovalReason.OFF


def _laid(zone: ZonePlan, layer_id: str) -> bool:
    return any(plan.layer.id == layer_id and not plan.planned for plan in zone.layers)


def _covered(zone: ZonePlan, layer_id: str) -> bool:
    """Whether work on a layer has begun: what let it begin is no news any more."""
    stack = Stack(zone.zone)
    under = next((plan.layer for plan in zone.layers if plan.layer.id == layer_id), None)
    above = stack.above(under) if under else ()
    return any(_laid(zone, layer.id) for layer in above)
