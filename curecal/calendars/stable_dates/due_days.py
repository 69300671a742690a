"""The day a test or an inspection is due by: that of the work it must come before.

The crew's calendar shows these days, and the messages to the crew lead tell them.

Rule: R20, R24.
"""

from __future__ import annotations

from dataclasses import replace
from datetime import date

from curecal.calendars.stable_dates.event_hours import working_hour
from curecal.calendars.stable_dates.stable_dates import visit_window
from curecal.calendars.stable_dates.unfixed_work import UnfixedWork
from curecal.instants import Window, local_day
from curecal.planning.curing.build_up import BuildUp
from curecal.planning.plan import HeatUpPurpose, Hold, LayerPlan, Plan, VisitKind, ZonePlan
from curecal.planning.working_time.working_calendar import Calendar
from curecal.planning.zone.stable_day import early_day
from curecal.trade.hold_codes import Gate, HoldCode
from curecal.trade.job import Layer

INSPECTION = HoldCode.INSPECTION_BEFORE_CONCEALMENT
TESTS = frozenset(
    {
        HoldCode.TEST_ON_DELIVERY,
        HoldCode.TEST_AFTER_LAYING,
        HoldCode.TEST_AFTER_EMBEDDING,
        HoldCode.TEST_AFTER_CHISELLING,
        HoldCode.TEST_BEFORE_CONNECTION,
        HoldCode.TEST_POINTS,
        HoldCode.MOISTURE_TEST,
    }
)


def planned_start(layer: LayerPlan | None) -> Window | None:
    """Return when a layer that is still to come is planned to start, where that has a date."""
    return layer.start if layer is not None and layer.planned else None


def stack_of(zone: ZonePlan) -> BuildUp:
    """Return a zone's layers as planned, so that every neighbor has its plan."""
    return BuildUp(replace(zone.zone, layers=tuple(layer.layer for layer in zone.layers)))


def shown_work(plan: Plan, zone: ZonePlan, calendar: Calendar) -> UnfixedWork:
    """Return the times that a zone's planned work is shown with."""
    return UnfixedWork(plan.as_of, calendar, stack_of(zone), zone.layers)


def owed(zone: ZonePlan, codes: frozenset[HoldCode]) -> list[list[Hold]]:
    """Return the hold points of some codes that are outstanding: of one kind and layer together."""
    groups: dict[tuple[HoldCode, str], list[Hold]] = {}
    for hold in zone.holds:
        if hold.is_outstanding and hold.code in codes:
            groups.setdefault((hold.code, hold.layer_id or ""), []).append(hold)
    return list(groups.values())


def due_day(plan: Plan, zone: ZonePlan, hold: Hold, calendar: Calendar) -> date | None:
    """Return the day a test is due by: that of the work it gates, and before any heat at all.

    Args:
        plan: The plan.
        zone: The zone.
        hold: One of its hold points, outstanding.
        calendar: The working days.

    Returns:
        The local day; None where the work has no date.
    """
    gated_on = _gated_on(plan, zone, hold, calendar)
    if gated_on is None or hold.code is not HoldCode.TEST_AFTER_EMBEDDING:
        return gated_on
    # A screed heated bare is heated long before it is covered.
    bare = [
        heat_up.steps[0].on
        for heat_up in zone.heat_ups
        if heat_up.purpose == HeatUpPurpose.BARE_SCREED and heat_up.steps
    ]
    return min(gated_on, *bare) if bare else gated_on


def _gated_on(plan: Plan, zone: ZonePlan, hold: Hold, calendar: Calendar) -> date | None:
    """Return the day of the work a test gates, else of the first switch-on."""
    if hold.gates is Gate.CONNECTION and hold.code is not HoldCode.TEST_AFTER_CHISELLING:
        visits = [
            visit_window(plan, visit, calendar)
            for visit in plan.visits
            if visit.kind == VisitKind.CONNECTION and zone.zone.id in visit.zone_ids
        ]
        # The visit may be at any time of its window; its end is when the test is due by.
        ends = [window.latest or window.earliest for window in visits if window]
        return local_day(ends[0], calendar.tz) if ends else early_day(zone, plan.as_of, calendar)
    gated = gated_work(zone, hold)
    if gated is None:
        return early_day(zone, plan.as_of, calendar)
    layer, start = gated
    at = working_hour(start.earliest, calendar)
    if hold.code is INSPECTION:
        # The inspector comes before the pour as it is shown to the crew.
        at = shown_work(plan, zone, calendar).start(layer, start).earliest
    return local_day(at, calendar.tz)


def gated_work(zone: ZonePlan, hold: Hold) -> tuple[LayerPlan, Window] | None:
    """Return the work that waits for a test or an inspection, and when it is planned to start.

    Args:
        zone: The zone.
        hold: One of its hold points.

    Returns:
        None where no work that is still to come waits for it.
    """
    stack = stack_of(zone)
    layers = {layer.layer.id: layer for layer in zone.layers}
    embedding = stack.embedding
    waiting: list[Layer] = []
    if hold.code is HoldCode.TEST_AFTER_CHISELLING:
        # The first repair covers the cable again.
        waiting = [layer.layer for layer in zone.layers if layer.layer.repair]
    elif hold.gates is Gate.EMBEDDING:
        waiting = [embedding] if embedding else []
    elif hold.gates is Gate.COVER:
        tested = layers[hold.layer_id].layer if hold.layer_id in layers else embedding
        waiting = list(stack.above(tested)) if tested else []
    plans = (layers[layer.id] for layer in waiting)
    return next(((layer, start) for layer in plans if (start := planned_start(layer))), None)
