"""The electrician's calendar: the visits only, with what is needed there.

Rule: R8, R21.
"""

from __future__ import annotations

from datetime import datetime

from curecal.calendars.event import Audience, Days, Event, EventKey, Status, Timed
from curecal.calendars.event_context import EventContext, once
from curecal.calendars.events.appointments import (
    agreed_text,
    appointment_events,
    firmness_of,
    hours_of,
    is_ahead,
    titled,
)
from curecal.calendars.purpose import Purpose, PurposeKind
from curecal.calendars.stable_dates.event_hours import (
    evening_before,
    firmness,
    shown_window,
    span,
)
from curecal.calendars.stable_dates.stable_dates import owed_hours, visit_window, zones_of
from curecal.instants import Window, add
from curecal.planning.plan import Hold, HoldState, Visit, VisitKind, ZonePlan
from curecal.trade.findings import FindingCode
from curecal.trade.hold_codes import CABLE_TESTS
from curecal.trade.job import Cable, Role
from curecal.trade.site_log import Resistance

_HOUR_S = 3600
_BETWEEN = frozenset({VisitKind.ROUGH_IN, VisitKind.CONNECTION})


def electrician_events(ctx: EventContext) -> tuple[Event, ...]:
    """The visits that have a date or an appointment, and what else they agreed to come for.

    Args:
        ctx: The plan and what it is shown with.

    Returns:
        One event a visit or an appointment.
    """
    keys: list[EventKey] = []
    visits = [event for visit in ctx.plan.visits if (event := _visit(ctx, visit, keys)) is not None]
    shown = {visit.appointment.id for visit in ctx.plan.visits if visit.appointment}
    return (*visits, *appointment_events(ctx, Audience.ELECTRICIAN, shown))


def _visit(ctx: EventContext, visit: Visit, keys: list[EventKey]) -> Event | None:
    """A visit: its hour or its window, its zones, and of each the figures and what was tested."""
    agreed = visit.appointment if is_ahead(ctx, visit.appointment) else None
    window = visit_window(ctx.plan, visit, ctx.calendar)
    if not visit.zone_ids:
        return None
    zones = zones_of(ctx.plan, visit)
    kind = visit.kind
    params = {
        "zones": ", ".join(zone.zone.name for zone in zones),
        "earliest_at": window and window.earliest,
        "latest_at": window and window.latest,
        "address": ctx.plan.job.address,
        **ctx.contact(),
    }
    released = all(zone.is_released for zone in zones)
    waits = kind == VisitKind.ENERGIZE and not released
    if window is None:
        when: tuple[str, ...] = ("no-date",)
    elif visit.kind in _BETWEEN and window.latest is not None:
        when = ("between", "owed")
    elif released:
        when = ("window", "owed")
    else:
        when = ("window", "no-latest" if window.latest is None else "latest")
    told = "released" if kind == VisitKind.ENERGIZE and released else "text"
    # Without a release nobody owes the visit yet: it waits on its day, and nobody is asked for one.
    asks = () if waits or agreed is not None or window is None else ("ask",)
    head = ctx.text(f"visit-{kind}", (told,), params)
    booked = [] if agreed is None else [agreed_text(ctx, agreed)]
    lines = [head, *booked]
    lines.append(ctx.text("visit", (*when, *asks, "off", "address", "contact"), params))
    lines += [line for zone in zones for line in zone_figures(ctx, zone)]
    # One visit serves several zones, and may serve others tomorrow: its first zone's id, by
    # name, stays while zones join and leave.
    key = EventKey(
        Audience.ELECTRICIAN, min(visit.zone_ids), "", Purpose(PurposeKind.VISIT, visit.kind).text
    )
    summary = ctx.say(f"visit-{kind}.summary", params)
    if agreed is not None:
        times: Timed | Days = hours_of(agreed)
        starts_at = agreed.start_at
        summary, status = titled(ctx, summary, agreed), firmness_of(agreed)
    elif window is not None:
        times, starts_at, status = _window(ctx, kind, window, waits=waits)
    else:
        return None
    return Event(
        once(keys, key),
        summary,
        "\n".join(lines),
        times,
        status,
        # A window to choose from takes nobody's hours.
        busy=agreed is not None or (isinstance(times, Timed) and status is Status.CONFIRMED),
        location=ctx.address,
        alarms=(evening_before(starts_at, ctx.tz),),
    )


def _window(
    ctx: EventContext, kind: VisitKind, window: Window, *, waits: bool
) -> tuple[Timed | Days, datetime, Status]:
    """A window as it is shown, where it begins, and how firm it is."""
    times = (
        span(window.earliest, window.latest, ctx.tz)
        if waits
        else owed_hours(window, ctx.plan.as_of, ctx.calendar)
    )
    if kind == VisitKind.ENERGIZE and window.latest is not None:
        # Its late end is the first hour of a day that still belongs: the day the owner is told.
        times = Timed(times.start_at, max(times.end_at, add(window.latest, _HOUR_S)))
    status = Status.TENTATIVE if waits else firmness(window)
    return shown_window(times, ctx.calendar), window.earliest, status


def zone_figures(ctx: EventContext, plan: ZonePlan) -> list[str]:
    """Return the figures of a zone's cables, its protection, and its tests so far.

    Args:
        ctx: The plan and what it is shown with.
        plan: The zone.

    Returns:
        The zone in a line, then a line a cable and a line a hold point, behind a dash.
    """
    heating = plan.zone.heating
    lines = [
        ctx.say(
            "visit.zone",
            {
                "zone": plan.zone.name,
                "supply_v": heating.supply_v,
                "breaker_a": heating.breaker_a,
                "protection": heating.protection,
            },
        )
    ]
    lines += [ctx.say("visit.cable", _figures(cable)) for cable in heating.cables]
    for hold in plan.holds:
        if hold.state is HoldState.NOT_NEEDED:
            continue
        if hold.by is Role.ELECTRICIAN or hold.code in CABLE_TESTS:
            lines.append(ctx.say("visit.hold", _tested(ctx, hold)))
    return lines


def _tested(ctx: EventContext, hold: Hold) -> dict[str, object]:
    """A hold point with its last readings, and who took them.

    Without the log only the conductor's resistance is known, from the verdict.
    """
    entry = ctx.facts.get(hold.evidence or "")
    read = entry if isinstance(entry, Resistance) else None
    passed = hold.reason if hold.reason and hold.reason.code == FindingCode.TEST_PASSED else None
    return {
        "hold": ctx.words.hold(hold),
        "state": ctx.words.hold_state(hold.state),
        "tested_at": hold.evidence_at,
        "by": entry.by if entry else None,
        "conductor_ohm": read.conductor_ohm if read else passed and passed.params.get("read_ohm"),
        "to_earth_ohm": read and read.to_earth_ohm,
        "insulation_ohm": read and read.insulation_ohm,
        "insulation_at_v": read and read.insulation_at_v,
        "sensor_ohm": read and read.sensor_ohm,
    }


def _figures(cable: Cable) -> dict[str, object]:
    """Return what a cable's label says."""
    return {
        "cable": cable.name,
        "voltage_v": cable.voltage_v,
        "power_w": cable.power_w,
        "resistance_ohm": cable.resistance_ohm,
        "below_fraction": cable.below_fraction,
        "above_fraction": cable.above_fraction,
        "insulation_ohm": cable.insulation_ohm,
        "insulation_at_v": cable.insulation_at_v,
    }
