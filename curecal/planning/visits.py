"""The electrician's visits: what each is for, and between which instants it makes sense."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from curecal.instants import Window
from curecal.planning.context import Desk
from curecal.planning.holds import is_repair
from curecal.planning.plan import HoldState, State, Visit, ZonePlan
from curecal.planning.states import MAY_ENERGIZE
from curecal.trade.buildup import HeatingKind, Role

KINDS = ("rough-in-and-first-test", "test-and-connect", "energize")

_FIRST = frozenset({"test-on-delivery", "test-after-laying"})
_SECOND = frozenset({"test-before-connection", "connection", "protection", "thermostat"})


def zone_visits(desk: Desk, plan: ZonePlan) -> list[Visit]:
    """Return the visits one zone still needs.

    The first comes before the cable is embedded; the second once the last layer is down, so
    that it is behind everybody when the date comes; the third on the date, and never before.
    A repair needs none: the crew takes the readings.

    Rule: R18, R20, R24.

    Args:
        desk: the zone on the desk.
        plan: its plan.

    Returns:
        Visits in order; a window is None where no date is known.
    """
    if desk.zone.heating.kind is not HeatingKind.ELECTRIC or is_repair(desk):
        return []
    unmet = {hold.code for hold in plan.holds if hold.state in {HoldState.UNMET, HoldState.FAILED}}
    visits = []
    zone = (desk.zone.id,)
    embedding = desk.stack.embedding()
    layers = {item.layer.id: item for item in plan.layers}
    bed = layers[embedding.id] if embedding else None
    if unmet & _FIRST and bed is not None and bed.planned:
        window = None
        if bed.start is not None:
            earliest = min(
                desk.calendar.next_working(desk.facts.as_of) or desk.facts.as_of, bed.start.earliest
            )
            window = Window(earliest, bed.start.earliest)
        visits.append(Visit(KINDS[0], zone, window, tuple(sorted(unmet & _FIRST))))
    if unmet & _SECOND:
        visits.append(Visit(KINDS[1], zone, _second(desk, plan), tuple(sorted(unmet & _SECOND))))
    waiting = plan.state not in {State.HEATING_UP, State.IN_SERVICE}
    if desk.zone.energized_by is Role.ELECTRICIAN and waiting:
        visits.append(Visit(KINDS[2], zone, _third(desk, plan), ("cure", "release")))
    return visits


def _second(desk: Desk, plan: ZonePlan) -> Window | None:
    """Return from the last layer's finish to the zone's date."""
    finishes = [item.finish for item in plan.layers if not item.layer.existing]
    if any(finish is None for finish in finishes) or plan.energize.window is None:
        return None
    last = max(
        (finish.earliest for finish in finishes if finish is not None), default=desk.facts.as_of
    )
    first = desk.calendar.next_working(max(last, desk.facts.as_of))
    if first is None:
        return None
    return Window(first, max(first, plan.energize.window.earliest))


def _third(desk: Desk, plan: ZonePlan) -> Window | None:
    """Return the opening of the first day it may be, and of the day the owner is told."""
    energize = plan.energize
    if energize.start_on is None or plan.state is State.STOPPED:
        return None
    first = desk.calendar.opens(energize.start_on)
    if plan.state in MAY_ENERGIZE:
        return Window(first, first)
    latest = desk.calendar.opens(energize.owner_date) if energize.owner_date else None
    return Window(first, latest)


def merged_visits(visits: Sequence[Visit]) -> tuple[Visit, ...]:
    """Return the visits of all zones, those of one kind whose windows overlap made into one.

    The joint visit comes when the last of its zones is ready.

    Rule: R20.

    Args:
        visits: the zones' visits.

    Returns:
        Visits ordered by kind, then by their earliest instant.
    """
    joined: list[Visit] = []
    for kind in KINDS:
        alike = [visit for visit in visits if visit.kind == kind]
        dated = sorted(
            (visit for visit in alike if visit.window is not None),
            key=lambda visit: (
                visit.window.earliest.timestamp() if visit.window else 0.0,
                visit.zone_ids,
            ),
        )
        for visit in dated:
            last = joined[-1] if joined and joined[-1].kind == kind else None
            both = _joint(last, visit) if last is not None else None
            if both is not None:
                joined[-1] = both
            else:
                joined.append(visit)
        joined.extend(visit for visit in alike if visit.window is None)
    return tuple(joined)


def _joint(one: Visit, other: Visit) -> Visit | None:
    if one.window is None or other.window is None:
        return None
    last = one.window.latest
    if last is not None and last < other.window.earliest:
        return None
    window = one.window.later(other.window)
    if one.kind == KINDS[0]:
        # Every zone must be tested before its own pour: the first pour ends the joint visit.
        ends = [visit.latest for visit in (one.window, other.window) if visit.latest is not None]
        if min(ends) < window.earliest:
            return None
        window = Window(window.earliest, min(ends))
    return replace(
        one,
        zone_ids=one.zone_ids + other.zone_ids,
        window=window,
        gates=tuple(sorted({*one.gates, *other.gates})),
    )
