"""One zone put together: its date, its hold points, its state, its heat-ups, its room order."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, datetime

from curecal.instants import add, local_day, start_of_day
from curecal.planning.first_heat.chisel import repaired_warm
from curecal.planning.first_heat.first_heat import (
    first_heat_up,
    is_resumed,
    lacks_flow,
    wish_findings,
)
from curecal.planning.hold_points.electrical import concealed_before_test, electrical_holds
from curecal.planning.hold_points.heat_up_log import (
    bare_running,
    over_limit,
    steep_steps,
    switched_on_by,
)
from curecal.planning.hold_points.release import (
    clocks_out,
    cure_hold,
    governing_span,
    heat_up_entries,
    release_hold,
)
from curecal.planning.hold_points.stops import held_while_bare, held_while_on, why_stopped
from curecal.planning.plan import (
    RELEASED_STATES,
    Energize,
    HeatUp,
    Hold,
    RoomOrder,
    State,
    ZonePlan,
)
from curecal.planning.repair import first_switched_on_by
from curecal.planning.schedule.energize_date import (
    ZoneDate,
    fresh_layers,
    zone_date,
)
from curecal.planning.schedule.latest_start import with_latest_starts
from curecal.planning.schedule.layer_schedule import Chain, chain
from curecal.planning.zone.zone_state import StateFacts, state_of
from curecal.planning.zone_context import ZoneContext
from curecal.trade.findings import Finding, Message, Severity
from curecal.trade.hold_codes import HoldCode
from curecal.trade.job import HeatedBy, Role
from curecal.trade.site_log import Energized, HeatStep


def plan_zone(ctx: ZoneContext) -> tuple[ZonePlan, tuple[Finding, ...]]:
    """Return a zone's plan and what was found on the way.

    Rule: R10, R13, R18 to R24.

    Args:
        ctx: the zone.

    Returns:
        The plan and the findings.
    """
    linked = chain(ctx)
    ctx.findings.extend(wish_findings(ctx.zone, ctx.rules))
    due = zone_date(ctx, linked)
    electrical = electrical_holds(ctx)
    concealed_before_test(ctx, electrical.holds)
    cure = cure_hold(ctx, linked, due)
    holds = (*electrical.holds, *ctx.holds, cure)
    release, releases = release_hold(ctx, linked, due, holds)
    released_at = releases[-1] if releases else None
    running = heat_up_entries(ctx, released_at)
    warmed_at = _warmed_at(ctx, running)
    switched_on_by(ctx, running)
    steep_steps(ctx, running, warmed_at)
    bare = bare_running(ctx, linked)
    switched_on_by(ctx, bare)
    steep_steps(ctx, bare, None, bare=True)
    repaired_warm(ctx)
    held_bare = held_while_bare(ctx, linked, electrical.holds)
    too_warm = over_limit(ctx, linked, running)
    stopped = why_stopped(ctx, linked, releases) or electrical.fault or held_bare or too_warm
    held = held_while_on(ctx, holds, released_at)
    facts = StateFacts(
        stopped=stopped is not None,
        dated=due.window is not None,
        begun=any(plan.layer.done_at is not None for plan in fresh_layers(linked)),
        clocks_out=clocks_out(ctx, linked, due),
        held=any(hold.is_outstanding for hold in holds),
        released=released_at is not None,
        energized=bool(running),
        warmed=warmed_at is not None,
    )
    state = state_of(facts)
    if state not in RELEASED_STATES:
        # Nothing runs by right: the ramp begins anew, ahead.
        running, released_at = (), None
    energize = _energize(ctx, linked, due, state, released_at, running=bool(running))
    heat_ups = _heat_ups(ctx, linked, energize, running, state)
    layers = with_latest_starts(ctx, linked.layers, energize)
    plan = ZonePlan(
        zone=ctx.zone,
        state=state,
        may_energize=_may_be_on(ctx, state, energize),
        why=_why(state, due, energize, (stopped, held), (*holds, release)),
        energize=energize,
        holds=(*holds, release),
        layers=layers,
        heat_ups=heat_ups,
        room_order=_room_order(ctx, linked, energize, state),
    )
    return plan, tuple(ctx.findings)


def _may_be_on(ctx: ZoneContext, state: State, energize: Energize) -> bool:
    """Return whether the floor may be on now: a released one from its first heat's first hour.

    Rule: R21a.
    """
    if state is State.RELEASED:
        first_on = energize.start_on
        return first_on is not None and ctx.calendar.opens(first_on) <= ctx.facts.as_of
    return state in RELEASED_STATES


def _warmed_at(ctx: ZoneContext, running: Sequence[Energized | HeatStep]) -> datetime | None:
    """Return since when, by the log, the heat-up's end is reached and held long enough.

    A lower set-point, or a pause of more than a day, before the hold is over starts it anew.

    Rule: R19, R22.
    """
    if not running or lacks_flow(ctx.zone):
        return None
    start_on = local_day(running[0].at, ctx.calendar.tz)
    plan = _first_heat(ctx, start_on, running, released=True)
    least_c = plan.limit_c - ctx.rules.first_heat.reached_k
    top_on = min(step.on for step in plan.steps if step.to_c >= plan.limit_c)
    held_s = (plan.ends_on - top_on).days * 86400.0
    since: datetime | None = None
    last_at = running[0].at
    for entry in running:
        if since is not None and add(since, held_s) <= entry.at:
            return add(since, held_s)
        if isinstance(entry, HeatStep):
            since = None if entry.to_c < least_c else since or entry.at
        elif is_resumed(entry, last_at):
            since = None
        last_at = entry.at
    over_at = None if since is None else add(since, held_s)
    return over_at if over_at is not None and over_at <= ctx.facts.as_of else None


def _energize(
    ctx: ZoneContext,
    linked: Chain,
    due: ZoneDate,
    state: State,
    released_at: datetime | None,
    *,
    running: bool,
) -> Energize:
    if due.window is None:
        return Energize(
            None,
            None,
            None,
            due.governed_by,
            due.source,
            provisional=True,
            measured_share=0.0,
            blocked=due.blocked,
        )
    # Until it is switched on the day moves on with the days that pass; never before the date.
    floor = ctx.facts.as_of
    if released_at is not None:
        # A day that has begun is still today; once it runs, the heat-up keeps its own days.
        today = start_of_day(local_day(floor, ctx.calendar.tz), ctx.calendar.tz)
        floor = released_at if running else max(released_at, today)
    visit = first_switched_on_by(ctx.zone, ctx.zone.layers) is Role.ELECTRICIAN
    earliest = max(due.window.earliest, floor)
    start_on = ctx.calendar.start_on(earliest, working_day=visit)
    owner_date = None
    if due.window.latest is not None:
        latest = max(due.window.latest, floor)
        owner_date = ctx.calendar.start_on(latest, working_day=visit)
    span = governing_span(linked, due)
    share = ctx.clocks.climate.share_measured(*span) if span else 0.0
    planned = any(plan.planned for plan in fresh_layers(linked))
    provisional = planned or (
        state not in RELEASED_STATES
        and (share < 1.0 - 1e-9 or due.window.latest != due.window.earliest)
    )
    return Energize(
        due.window,
        start_on,
        owner_date,
        due.governed_by,
        due.source,
        provisional=provisional,
        measured_share=share,
    )


def _first_heat(
    ctx: ZoneContext, start_on: date, running: Sequence[Energized | HeatStep], *, released: bool
) -> HeatUp:
    return first_heat_up(
        ctx.zone,
        ctx.clocks.climate,
        ctx.facts,
        ctx.calendar,
        start_on,
        ctx.rules,
        begun=running,
        released=released,
    )


def _heat_ups(
    ctx: ZoneContext,
    linked: Chain,
    energize: Energize,
    running: Sequence[Energized | HeatStep],
    state: State,
) -> tuple[HeatUp, ...]:
    """Return the bare screed's heat-ups, and the finished floor's where there is a day for it."""
    if energize.start_on is None or state in {State.STOPPED, State.IN_SERVICE}:
        return linked.bare_heat_ups
    if lacks_flow(ctx.zone):
        ctx.find(Severity.WARNING, "water-profile-wanted", f"{ctx.zone.path}.heat_up", {})
        return linked.bare_heat_ups
    released = state in RELEASED_STATES
    return (
        *linked.bare_heat_ups,
        _first_heat(ctx, energize.start_on, running, released=released),
    )


def _why(
    state: State,
    due: ZoneDate,
    energize: Energize,
    off: tuple[Message | None, Message | None],
    holds: Sequence[Hold],
) -> Message:
    """Return the reason for the answer, in one message: what keeps it off goes first."""
    stopped, held = off
    if state is State.ON_HOLD and held is not None:
        return held
    if state is State.STOPPED and stopped is not None:
        return stopped
    if state is State.NO_DATE:
        return due.blocked or Message("why-no-date")
    governed = due.governed_by.layer_name if due.governed_by else ""
    params: dict[str, object] = {"layer": governed}
    if energize.start_on is not None:
        params["start_on"] = energize.start_on
    outstanding = [
        hold for hold in holds if hold.is_outstanding and hold.code is not HoldCode.RELEASE
    ]
    params["count"] = len(outstanding)
    if outstanding:
        params["hold"] = outstanding[0].code
    return Message(f"why-{state.value.replace(' ', '-')}", params)


def _room_order(
    ctx: ZoneContext, linked: Chain, energize: Energize, state: State
) -> RoomOrder | None:
    """Return what keeps the date: the room at the planned temperature until then.

    Rule: R6; common practice.
    """
    if energize.window is None or state in RELEASED_STATES:
        return None
    until = energize.window.latest or energize.window.earliest
    if until <= ctx.facts.as_of:
        return None
    expected = ctx.job.expected
    at_least_c = max(ctx.clocks.climate.assumed.coldest_air_c, _warmest_minimum(linked))
    by = expected.heated_by.value if expected.heated_by is not HeatedBy.NOTHING else ""
    return RoomOrder(at_least_c, until, by)


def _warmest_minimum(linked: Chain) -> float:
    return max((plan.layer.sheet.minimum_c for plan in fresh_layers(linked)), default=0.0)
