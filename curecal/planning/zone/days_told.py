"""The days a zone's people are told, and how the room must be kept for them to hold."""

from __future__ import annotations

from datetime import date, datetime

from curecal.instants import local_day, start_of_day
from curecal.planning.hold_points.release import governing_span
from curecal.planning.plan import RELEASED_STATES, Energize, RoomOrder, State
from curecal.planning.repair import first_switched_on_by
from curecal.planning.schedule.energize_date import CureDate
from curecal.planning.schedule.layer_schedule import LayerSchedule
from curecal.planning.tolerances import HAIR
from curecal.planning.zone_context import ZoneContext
from curecal.trade.job import HeatedBy, Role


def compute_energize(
    ctx: ZoneContext,
    schedule: LayerSchedule,
    cure: CureDate,
    state: State,
    free_at: datetime | None,
    *,
    running: bool,
) -> Energize:
    """Return when a zone may be switched on: the crew's day, the owner's day, how sure they are.

    Rule: R20, R21, R23.

    Args:
        free_at: when a release that still counts was given, or a later stop ended.
        running: whether its heat-up runs by right.
    """
    if cure.window is None:
        return Energize(
            None,
            None,
            None,
            cure.governed_by,
            cure.source,
            provisional=True,
            measured_share=0.0,
            blocked=cure.blocked,
        )
    not_before = _not_before(ctx, free_at, running=running)
    # Who comes for it comes on a working day; an owner switches on when it suits them.
    visit = first_switched_on_by(ctx.zone, ctx.zone.layers) is Role.ELECTRICIAN

    def day_from(at: datetime) -> date | None:
        return ctx.calendar.start_on(max(at, not_before), working_day=visit)

    latest = cure.window.latest
    span = governing_span(schedule, cure)
    share = ctx.clocks.climate.share_measured(*span) if span else 0.0
    is_sure = share >= 1.0 - HAIR and latest == cure.window.earliest
    planned = any(plan.planned for plan in schedule.with_clock)
    return Energize(
        cure.window,
        start_on=day_from(cure.window.earliest),
        owner_date=None if latest is None else day_from(latest),
        governed_by=cure.governed_by,
        source=cure.source,
        provisional=planned or not (state in RELEASED_STATES or is_sure),
        measured_share=share,
    )


def _not_before(ctx: ZoneContext, free_at: datetime | None, *, running: bool) -> datetime:
    """Return before which instant no day is told: it moves on with the days that pass."""
    as_of = ctx.facts.as_of
    if free_at is None:
        return as_of
    if running:
        # Once it runs, the heat-up keeps its own days.
        return free_at
    # The morning of a released floor's day may be past: that day is still today, until midnight.
    today = start_of_day(local_day(as_of, ctx.calendar.tz), ctx.calendar.tz)
    return max(free_at, today)


def order_room(
    ctx: ZoneContext, schedule: LayerSchedule, energize: Energize, state: State
) -> RoomOrder | None:
    """Return what keeps the date: the room at the planned temperature until then.

    None where no date is ahead, or nothing waits for it any more.

    Rule: R6; common practice.
    """
    if energize.window is None or state in RELEASED_STATES:
        return None
    until = energize.window.latest or energize.window.earliest
    if until <= ctx.facts.as_of:
        return None
    minima_c = [plan.layer.sheet.minimum_c for plan in schedule.with_clock]
    # Cold enough for the late end to hold, but never so cold that a clock stands still.
    at_least_c = max([ctx.clocks.climate.assumed.coldest_air_c, *minima_c])
    heated_by = ctx.job.expected.heated_by
    return RoomOrder(at_least_c, until, "" if heated_by is HeatedBy.NOTHING else heated_by.value)
