"""Why an event is no longer in the plan: it has taken place, or it is off."""

from __future__ import annotations

from collections.abc import Callable

from curecal.calendars.event import Audience, EventKey
from curecal.calendars.events.crew import INSPECTION
from curecal.calendars.revisions.revise import Fate
from curecal.calendars.stable_dates.stable_dates import ENERGIZE_VISIT, FIRST_VISIT, SECOND_VISIT
from curecal.planning.curing.build_up import BuildUp
from curecal.planning.plan import HoldState, Plan, State, ZonePlan
from curecal.trade.hold_codes import HoldCode

_CURED = frozenset({State.ON_HOLD, State.CLEAR, State.RELEASED, State.HEATING_UP, State.IN_SERVICE})
_ON = frozenset({State.HEATING_UP, State.IN_SERVICE})
_CONNECTION = "connection"


def fates(plan: Plan) -> Callable[[EventKey], Fate]:
    """Why events of a job are no longer wanted, as its plan tells.

    Args:
        plan: The plan.

    Returns:
        A function of the event's key.
    """
    zones = {zone.zone.id: zone for zone in plan.zones}

    def fate(key: EventKey) -> Fate:
        zone = zones.get(key.zone_id)
        if zone is None:
            return Fate.OFF if key.zone_id else Fate.PAST
        # What comes a second time has a number behind its purpose.
        purpose = key.purpose.partition(", ")[0]
        of = {Audience.CREW: _crew, Audience.ELECTRICIAN: _visit, Audience.OWNER: _owner}
        return of[key.audience](zone, key, purpose)

    return fate


def _crew(zone: ZonePlan, key: EventKey, purpose: str) -> Fate:
    if purpose == "step":
        return Fate.DONE if _laid(zone, key.layer_id) else Fate.OFF
    if purpose == "gate":
        return Fate.DONE if _covered(zone, key.layer_id) else Fate.OFF
    if purpose == "keep the room":
        return Fate.DONE if zone.state in _CURED else Fate.OFF
    if purpose.startswith("heat-up "):
        return Fate.DONE if zone.state is State.IN_SERVICE else Fate.OFF
    return _test(zone, key, INSPECTION if purpose == INSPECTION else purpose)


def _test(zone: ZonePlan, key: EventKey, code: str) -> Fate:
    """A test or an inspection: done when every hold point of its kind is met."""
    holds = [
        hold
        for hold in zone.holds
        if hold.code == code and (not key.layer_id or hold.layer_id == key.layer_id)
    ]
    needed = [hold for hold in holds if hold.state is not HoldState.NOT_NEEDED]
    met = bool(needed) and all(hold.state is HoldState.MET for hold in needed)
    return Fate.DONE if met else Fate.OFF


def _visit(zone: ZonePlan, key: EventKey, purpose: str) -> Fate:
    if purpose == f"visit {ENERGIZE_VISIT}":
        return Fate.DONE if zone.state in _ON else Fate.OFF
    if purpose == f"visit {SECOND_VISIT}":
        return _test(zone, key, _CONNECTION)
    if purpose == f"visit {FIRST_VISIT}":
        return _test(zone, key, HoldCode.TEST_AFTER_LAYING)
    return Fate.PAST


def _owner(zone: ZonePlan, key: EventKey, purpose: str) -> Fate:
    del key
    # Leave to heat ends with a stop at once, also in what is already past.
    if purpose == "may switch on" or purpose.startswith("heat-up "):
        return Fate.DONE if zone.state is State.IN_SERVICE else Fate.OFF
    return Fate.OFF


def _laid(zone: ZonePlan, layer_id: str) -> bool:
    return any(plan.layer.id == layer_id and not plan.planned for plan in zone.layers)


def _covered(zone: ZonePlan, layer_id: str) -> bool:
    """Whether work on a layer has begun: what let it begin is no news any more."""
    stack = BuildUp(zone.zone)
    under = next((plan.layer for plan in zone.layers if plan.layer.id == layer_id), None)
    above = stack.above(under) if under else ()
    return any(_laid(zone, layer.id) for layer in above)
