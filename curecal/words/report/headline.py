"""The first line: may it be on now, at which number; if not, why, and when at the earliest."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from datetime import date

from curecal.instants import local_at, local_day
from curecal.planning.plan import HeatUp, HoldState, Plan, State, ZonePlan
from curecal.trade.findings import FindingCode, Message
from curecal.trade.hold_codes import HoldCode
from curecal.trade.names import says_name
from curecal.words.sentences import Words
from curecal.words.values import clean

# Worst first. Work that is planned and work that cures compare by their dates.
_RANK = {
    State.STOPPED: 0,
    State.NO_DATE: 1,
    State.PLANNED: 2,
    State.CURING: 2,
    State.ON_HOLD: 3,
    State.CLEAR: 4,
    State.RELEASED: 5,
    State.HEATING_UP: 6,
    State.IN_SERVICE: 7,
}


def deciding(plan: Plan) -> ZonePlan | None:
    """Return the zone the whole job waits for; None for a job without zones."""
    zones = (
        [zone for zone in plan.zones if zone.may_energize]
        if plan.may_energize
        else [zone for zone in plan.zones if not zone.may_energize]
    )
    return min(zones, key=lambda zone: _order(zone, plan), default=None)


def place_of(plan: Plan, zone: ZonePlan) -> str:
    """Return job and zone; the job alone where its name says the zone already."""
    job, own = clean(plan.job.name), clean(zone.zone.name)
    alone = len(plan.zones) == 1 and says_name(job, own)
    return job if alone else f"{job}: {own}"


def headline_of(plan: Plan, zone: ZonePlan, words: Words) -> str:
    """Return the answer for one zone of a plan, whatever the others wait for."""
    return headline(replace(plan, zones=(zone,)), words)


def headline(plan: Plan, words: Words) -> str:
    """Return the answer in one sentence; of several zones the worst decides and is named."""
    zone = deciding(plan)
    if zone is None:
        return words.text("headline.nothing")
    governed = zone.energize.governed_by
    params: dict[str, object] = {
        "zone": zone.zone.name if len(plan.zones) > 1 else None,
        "layer": governed.layer_name if governed else None,
        "day_on": _day(zone, plan),
        "owner_on": _owner_day(zone, plan),
    }
    code, more = _case(zone, plan, params, words)
    return words.text(f"headline.{code}", {**params, **more})


def _owner_day(zone: ZonePlan, plan: Plan) -> date | None:
    """Return the owner's day where it is another than the crew's."""
    day = zone.energize.owner_date
    return None if day == _day(zone, plan) else day


def _case(
    zone: ZonePlan, plan: Plan, params: Mapping[str, object], words: Words
) -> tuple[str, dict[str, object]]:
    """Return which sentence a zone's state wants, and what goes into it beside the date."""
    code = zone.state.value.replace(" ", "-")
    match zone.state:
        case State.STOPPED | State.NO_DATE:
            # What a person stopped says so itself.
            own = "stopped-by" if zone.why.code == FindingCode.STOPPED else code
            return own, {"why": _clause(zone.why, words)}
        case State.PLANNED | State.CURING:
            if params["day_on"] is None:
                return "no-day", {"why": _clause(zone.energize.blocked or zone.why, words)}
            return _waiting(zone), {}
        case State.ON_HOLD:
            return _held(zone, words)
        case State.RELEASED | State.HEATING_UP:
            return _heat(zone, plan, words)
        case State.CLEAR | State.IN_SERVICE:
            return code, {}


def _waiting(zone: ZonePlan) -> str:
    """Return whether the layer that decides hardens already, or is still to be laid."""
    governed = zone.energize.governed_by
    if governed is None or zone.state is State.PLANNED:
        return "planned"
    planned = {plan.layer.id for plan in zone.layers if plan.planned}
    return "curing-planned" if governed.layer_id in planned else "curing"


def _held(zone: ZonePlan, words: Words) -> tuple[str, dict[str, object]]:
    """Return what holds a cured floor: what failed first, else the first that is outstanding.

    The release comes after everything else, so it is not counted while something else is. What
    is on while it is held has to go off first.
    """
    if zone.why.code == FindingCode.HELD_WHILE_ON:
        return "on-hold-on", {"why": _clause(zone.why, words)}
    waiting = [hold for hold in zone.holds if hold.is_outstanding]
    waiting = [hold for hold in waiting if hold.code is not HoldCode.RELEASE] or waiting
    failed = [hold for hold in waiting if hold.state is HoldState.FAILED]
    if failed:
        return "on-hold-failed", {"what": words.hold(failed[0])}
    if waiting:
        return "on-hold", {"what": words.hold(waiting[0]), "count": len(waiting)}
    return "on-hold-why", {"why": _clause(zone.why, words)}


def _order(zone: ZonePlan, plan: Plan) -> tuple[int, int]:
    day = _day(zone, plan)
    return _RANK[zone.state], -(day.toordinal() if day else date.max.toordinal())


def _day(zone: ZonePlan, plan: Plan) -> date | None:
    """Return the first day a zone may start on, as far as its clocks go."""
    if zone.energize.start_on is not None or zone.energize.window is None:
        return zone.energize.start_on
    return local_day(zone.energize.window.earliest, plan.job.tz)


def _heat(zone: ZonePlan, plan: Plan, words: Words) -> tuple[str, dict[str, object]]:
    """Return what a released floor may do now: wait for its first hour, or today's number."""
    first_on = zone.energize.start_on
    ramp = _ramp(zone)
    params: dict[str, object] = {
        "by": words.person(zone.first_switched_on_by.value),
        "ends_on": ramp.ends_on if ramp else None,
        "setting": todays_setting(zone, plan, words),
        "start_at": None,
    }
    if is_overdue(zone, plan):
        return "heating-up-late", params
    if zone.state is State.RELEASED and not zone.may_energize:
        if first_on is not None:
            params["start_at"] = local_at(first_on, plan.job.work.start, plan.job.tz)
        return "released-ahead", params
    return zone.state.value.replace(" ", "-"), params


def _ramp(zone: ZonePlan) -> HeatUp | None:
    """Return the heat-up a released floor is in, or is to be in."""
    return next((ramp for ramp in reversed(zone.heat_ups) if ramp.steps), None)


def todays_setting(zone: ZonePlan, plan: Plan, words: Words) -> str | None:
    """Return the highest number a released floor may be set to today; None without a heat-up."""
    ramp = _ramp(zone)
    if ramp is None:
        return None
    today = local_day(plan.as_of, plan.job.tz)
    begun = [
        setting
        for step, setting in zip(ramp.steps, words.settings(ramp), strict=True)
        if step.on <= today
    ]
    return begun[-1] if begun else words.settings(ramp)[0]


def is_overdue(zone: ZonePlan, plan: Plan) -> bool:
    """Return whether a heat-up should be over by its plan, and its steps are not logged."""
    ramp = _ramp(zone)
    today = local_day(plan.as_of, plan.job.tz)
    return zone.state is State.HEATING_UP and ramp is not None and ramp.ends_on <= today


def _clause(message: Message, words: Words) -> str:
    """Return a message as the end of another sentence."""
    return words.message(message).rstrip(". ")
