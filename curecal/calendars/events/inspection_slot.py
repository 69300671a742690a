"""When the inspector can see the cable: between its fixing and the pour, or at the hour agreed.

Rule: R8, R24.
"""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime

from curecal.calendars.event import Event, EventKey, Status
from curecal.calendars.event_context import EventContext
from curecal.calendars.events.appointments import (
    agreed_text,
    firmness_of,
    hours_of,
    is_ahead,
    titled,
)
from curecal.calendars.stable_dates.due_days import INSPECTION
from curecal.calendars.stable_dates.event_hours import (
    evening_before,
    shown_window,
    span,
    working_hour,
)
from curecal.instants import add
from curecal.planning.plan import Appointment, ZonePlan
from curecal.trade.hold_codes import HoldCode
from curecal.trade.site_log import VisitFor

_HOUR_S = 3600


def inspection_slot(
    ctx: EventContext,
    zone: ZonePlan,
    key: EventKey,
    params: Mapping[str, object],
    *,
    closes: datetime,
) -> Event | None:
    """Return the slot between the fixed cable and the pour, while the inspection is outstanding.

    Args:
        ctx: The plan and what it is shown with.
        zone: The zone.
        key: The key of the entry.
        params: What goes into its texts.
        closes: When the pour begins.

    Returns:
        The hour agreed with the inspector, else the slot; None where nobody has to come.
    """
    if not any(hold.is_outstanding for hold in zone.holds if hold.code == INSPECTION):
        return None
    summary = ctx.say("crew-inspection.summary", params)
    said = ctx.text("crew-inspection", ("text", "visible", "contact"), params)
    agreed = _inspector_comes(ctx, zone)
    if agreed is not None:
        return Event(
            key,
            titled(ctx, summary, agreed),
            f"{agreed_text(ctx, agreed)}\n{said}",
            hours_of(agreed),
            firmness_of(agreed),
            busy=True,
            location=ctx.address,
            alarms=(evening_before(agreed.start_at, ctx.tz),),
        )
    opens = _cable_fixed(ctx, zone, closes)
    return Event(
        key,
        summary,
        f"{said}\n{ctx.say('crew-inspection.ask', params)}",
        shown_window(span(opens, closes, ctx.tz), ctx.calendar),
        Status.TENTATIVE,
        location=ctx.address,
        alarms=(evening_before(opens, ctx.tz),),
    )


def _inspector_comes(ctx: EventContext, zone: ZonePlan) -> Appointment | None:
    """The appointment for the inspection of a zone, the last one agreed."""
    agreed = [
        one
        for one in ctx.plan.appointments
        if one.purpose is VisitFor.INSPECTION and one.is_for(zone.zone.id) and is_ahead(ctx, one)
    ]
    return agreed[-1] if agreed else None


def _cable_fixed(ctx: EventContext, zone: ZonePlan, closes: datetime) -> datetime:
    """From when an inspector can see the cable: after the laid test, else a working day."""
    calendar = ctx.calendar
    laid = [
        working_hour(hold.evidence_at, calendar)
        for hold in zone.holds
        if hold.code is HoldCode.TEST_AFTER_LAYING and hold.evidence_at
    ]
    fixed = max(laid, default=None)
    if fixed is not None and fixed < closes:
        return fixed
    before = calendar.latest_start(closes, None, split=False)
    return before if before is not None and before < closes else add(closes, -_HOUR_S)
