"""The electrician's calendar: the visits only, with what is needed there.

Rule: R8, R21.
"""

from __future__ import annotations

from curecal.calendars.event import Audience, Event, EventKey, Status
from curecal.calendars.event_context import EventContext, once
from curecal.calendars.purpose import Purpose, PurposeKind
from curecal.calendars.stable_dates.event_hours import evening_before, fills_hours, firmness, span
from curecal.calendars.stable_dates.stable_dates import owed_hours, visit_window, zones_of
from curecal.planning.plan import Hold, HoldState, Visit, VisitKind, ZonePlan
from curecal.trade.findings import FindingCode
from curecal.trade.job import Cable, Role
from curecal.trade.site_log import Resistance

_CABLE_TEST = ("test-on-", "test-after-", "test-before-")
_BETWEEN = frozenset({VisitKind.ROUGH_IN, VisitKind.CONNECTION})


def electrician_events(ctx: EventContext) -> tuple[Event, ...]:
    """The visits that have a date.

    Args:
        ctx: The plan and what it is shown with.

    Returns:
        One event a visit.
    """
    keys: list[EventKey] = []
    return tuple(
        event for visit in ctx.plan.visits if (event := _visit(ctx, visit, keys)) is not None
    )


def _visit(ctx: EventContext, visit: Visit, keys: list[EventKey]) -> Event | None:
    """A visit: its window, its zones, and of each the figures and what has been tested."""
    window = visit_window(ctx.plan, visit, ctx.calendar)
    if window is None or not visit.zone_ids:
        return None
    zones = zones_of(ctx.plan, visit)
    kind = visit.kind
    params = {
        "zones": ", ".join(zone.zone.name for zone in zones),
        "earliest_at": window.earliest,
        "latest_at": window.latest,
        "address": ctx.plan.job.address,
        **ctx.contact(),
    }
    released = all(zone.is_released for zone in zones)
    waits = kind == VisitKind.ENERGIZE and not released
    if visit.kind in _BETWEEN and window.latest is not None:
        when: tuple[str, ...] = ("between", "owed")
    elif released:
        when = ("window", "owed")
    else:
        when = ("window", "no-latest" if window.latest is None else "latest")
    told = "released" if kind == VisitKind.ENERGIZE and released else "text"
    head = ctx.text(f"visit-{kind}", (told,), params)
    lines = [head, ctx.text("visit", (*when, "off", "address", "contact"), params)]
    lines += [line for zone in zones for line in _zone(ctx, zone)]
    # One visit serves several zones, and may serve others tomorrow: its first zone's id, by
    # name, stays while zones join and leave.
    key = EventKey(
        Audience.ELECTRICIAN, min(visit.zone_ids), "", Purpose(PurposeKind.VISIT, visit.kind).text
    )
    # Without a release nobody owes the visit yet: it waits on its day.
    times = (
        span(window.earliest, window.latest, ctx.tz)
        if waits
        else owed_hours(window, ctx.plan.as_of, ctx.calendar)
    )
    return Event(
        once(keys, key),
        ctx.say(f"visit-{kind}.summary", params),
        "\n".join(lines),
        times,
        Status.TENTATIVE if waits else firmness(window),
        busy=fills_hours(times),
        location=ctx.address,
        alarms=(evening_before(window.earliest, ctx.tz),),
    )


def _zone(ctx: EventContext, plan: ZonePlan) -> list[str]:
    """The figures of a zone's cables, its protection, and its tests so far."""
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
        if hold.by is Role.ELECTRICIAN or hold.code.startswith(_CABLE_TEST):
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
    """What a cable's label says."""
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
