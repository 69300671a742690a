"""What is to be done next on a floor, in words: the same for the page of the crew and its forms."""

from __future__ import annotations

from typing import TYPE_CHECKING

from curecal.calendars.stable_dates.due_days import gated_work
from curecal.planning.plan import Hold, LayerPlan, Plan, ZonePlan
from curecal.words.report.headline import headline, headline_of
from curecal.words.values import clean

if TYPE_CHECKING:
    from curecal.web.page_request import PageRequest


def floor_answer(page: PageRequest, plan: Plan, zone: ZonePlan | None = None) -> str:
    """Return what a floor may do now, in one sentence; by a clock in doubt it may nothing.

    Args:
        page: The request.
        plan: The plan.
        zone: The floor; None for the one that decides.
    """
    asked = plan.zones if zone is None else (zone,)
    if page.clock_doubt and any(one.is_released or one.may_energize for one in asked):
        return page.text("clock.order")
    return headline(plan, page.words) if zone is None else headline_of(plan, zone, page.words)


def holds_of_next(zone: ZonePlan) -> list[Hold]:
    """Return the hold points that the next layer waits for.

    Args:
        zone: The floor.
    """
    upcoming = next(
        (item for item in zone.layers if item.planned and not item.layer.existing), None
    )
    found = []
    for hold in zone.holds:
        work = gated_work(zone, hold) if hold.is_outstanding else None
        if work is not None and upcoming is not None and work[0].layer.id == upcoming.layer.id:
            found.append(hold)
    return found


def first_steps(page: PageRequest, zone: ZonePlan) -> list[str]:
    """Return the next layer of each part of a floor, with when it may start.

    A layer whose wait is over, but which a hold point keeps back, is never said to be free.

    Args:
        page: The request.
        zone: The floor.
    """
    steps, parts = [], set()
    is_held = bool(holds_of_next(zone))
    for item in zone.layers:
        if not item.planned or item.layer.existing or item.layer.part in parts:
            continue
        parts.add(item.layer.part)
        steps.append(_step(page, item, is_held=is_held))
        is_held = False
    return steps


def _step(page: PageRequest, item: LayerPlan, *, is_held: bool) -> str:
    layer = clean(item.layer.title)
    if item.start is None:
        return page.text("work.step-undated", layer=layer)
    earliest, latest = item.start.earliest, item.start.latest
    keep_at = item.latest_start_at
    # A last day that is gone by helps nobody to keep it.
    is_ahead = keep_at is not None and keep_at >= max(earliest, page.here.as_of)
    params: dict[str, object] = {
        "layer": layer,
        "earliest_at": earliest,
        "latest_at": latest,
        "keep_at": keep_at if is_ahead else None,
    }
    is_over = earliest <= page.here.as_of and latest is not None and latest <= page.here.as_of
    if is_over and not page.clock_doubt:
        return page.text("work.step-held" if is_held else "work.step-now", **params)
    if latest is None:
        return page.text("work.step-open", **params)
    which = "step-at" if latest <= earliest else "step-between"
    return page.text(f"work.{which}", **params)
