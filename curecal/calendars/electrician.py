"""The electrician's calendar: the visits only, with what is needed there.

Rule: R8, R21.
"""

from __future__ import annotations

from curecal.calendars.board import Board, once
from curecal.calendars.hours import (
    evening_before,
    fills_hours,
    firmness,
    span,
    working_hour,
    working_window,
)
from curecal.calendars.model import Audience, Event, EventKey, Status
from curecal.instants import Window, local_day
from curecal.planning.plan import HoldState, Visit, ZonePlan
from curecal.trade.buildup import Cable

_BETWEEN = frozenset({"rough-in-and-first-test", "test-and-connect"})
_KINDS = _BETWEEN | {"energize"}


def electrician_events(board: Board) -> tuple[Event, ...]:
    """The visits that have a date.

    Args:
        board: The plan and what it is shown with.

    Returns:
        One event a visit.
    """
    keys: list[EventKey] = []
    return tuple(
        event for visit in board.plan.visits if (event := _visit(board, visit, keys)) is not None
    )


def _visit(board: Board, visit: Visit, keys: list[EventKey]) -> Event | None:
    """A visit: its window, its zones, and of each the figures and what has been tested."""
    if visit.window is None or not visit.zone_ids:
        return None
    zones = [zone for zone in board.plan.zones if zone.zone.id in visit.zone_ids]
    window = _window(board, visit.kind, visit.window, zones)
    kind = visit.kind if visit.kind in _KINDS else "other"
    params = {
        "zones": ", ".join(zone.zone.name for zone in zones),
        "earliest_at": window.earliest,
        "latest_at": window.latest,
        "address": board.plan.job.address,
        **board.contact(),
    }
    if visit.kind in _BETWEEN and window.latest is not None:
        when: tuple[str, ...] = ("between",)
    else:
        when = ("window", "no-latest" if window.latest is None else "latest")
    released = all(zone.may_energize for zone in zones)
    head = board.text(f"visit-{kind}", ("text",), params)
    lines = [head, board.text("visit", (*when, "off", "address", "contact"), params)]
    lines += [line for zone in zones for line in _zone(board, zone)]
    # One visit serves several zones, and may serve others tomorrow: its first zone's id, by
    # name, stays while zones join and leave.
    key = EventKey(Audience.ELECTRICIAN, min(visit.zone_ids), "", f"visit {visit.kind}")
    firm = firmness(window)
    times = span(window.earliest, window.latest, board.tz)
    return Event(
        once(keys, key),
        board.say(f"visit-{kind}.summary", params),
        "\n".join(lines),
        times,
        Status.TENTATIVE if visit.kind == "energize" and not released else firm,
        busy=fills_hours(times),
        location=board.plan.job.address,
        alarms=(evening_before(window.earliest, board.tz),),
    )


def _window(board: Board, kind: str, window: Window, zones: list[ZonePlan]) -> Window:
    """A visit's window in working hours, with ends that do not move while nothing has changed.

    The plan lets the two visits before the date begin as soon as somebody can come, which is
    later each hour. Here the first one takes the working day before the cable is covered, and
    the second begins when the last layer is down.
    """
    calendar = board.calendar
    rounded = working_window(window, calendar)
    if kind not in _BETWEEN or rounded.latest is None:
        return rounded
    if kind == "rough-in-and-first-test":
        before = calendar.latest_start(rounded.latest, None, split=False)
        return Window(before or rounded.earliest, rounded.latest)
    finishes = [
        plan.finish.earliest
        for zone in zones
        for plan in zone.layers
        if plan.finish and not plan.layer.existing
    ]
    down = working_hour(max(finishes), calendar) if finishes else rounded.earliest
    closes = calendar.closes(local_day(rounded.latest, board.tz))
    return Window(min(down, rounded.latest), max(closes, rounded.latest))


def _zone(board: Board, plan: ZonePlan) -> list[str]:
    """The figures of a zone's cables, its protection, and its tests so far."""
    heating = plan.zone.heating
    lines = [
        board.say(
            "visit.zone",
            {
                "zone": plan.zone.name,
                "supply_v": heating.supply_v,
                "breaker_a": heating.breaker_a,
                "protection": heating.protection,
            },
        )
    ]
    lines += [board.say("visit.cable", _figures(cable)) for cable in heating.cables]
    for hold in plan.holds:
        if hold.state is HoldState.NOT_NEEDED:
            continue
        if hold.by == "electrician" or hold.cable is not None:
            params = {
                "hold": board.words.hold(hold),
                "state": board.words.hold_state(hold.state),
                "tested_at": hold.evidence_at,
            }
            lines.append(board.say("visit.hold", params))
    return lines


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
