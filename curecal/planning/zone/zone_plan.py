"""The stages of one zone's planning, in their order: each takes what the earlier ones returned."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime

from curecal.instants import add, local_day
from curecal.planning.first_heat.chisel import find_repaired_warm
from curecal.planning.first_heat.first_heat import (
    check_wishes,
    find_heat_up_runs,
    lacks_flow,
    plan_first_heat_up,
)
from curecal.planning.first_heat.heat_up_runs import Running
from curecal.planning.hold_points.circuit_checks import electrical_checks
from curecal.planning.hold_points.complete_list import complete_list_holds
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
    heat_up_entries,
    release_hold,
)
from curecal.planning.hold_points.stops import (
    held_while_bare,
    held_while_on,
    started_again,
    why_stopped,
)
from curecal.planning.plan import (
    RELEASED_STATES,
    Appointment,
    Energize,
    HeatUp,
    Hold,
    State,
    Visit,
    ZonePlan,
    free_since,
)
from curecal.planning.schedule.energize_date import CureDate, compute_cure_date
from curecal.planning.schedule.latest_start import with_latest_starts
from curecal.planning.schedule.layer_schedule import LayerSchedule, schedule_layers
from curecal.planning.zone.advisories import check_climate, check_layers
from curecal.planning.zone.appointments import watch_appointments
from curecal.planning.zone.days_told import compute_energize, order_room
from curecal.planning.zone.reading_checks import check_readings
from curecal.planning.zone.visits import list_visits
from curecal.planning.zone.zone_state import StateFacts, decide_state
from curecal.planning.zone_context import ZoneContext
from curecal.records import Record, record
from curecal.trade.findings import Finding, Message, Severity
from curecal.trade.site_log import HeatStep

# A stopped floor has no first heat ahead, and one in service has it behind it.
_WITHOUT_HEAT_UP = frozenset({State.STOPPED, State.IN_SERVICE})


@record
class PlannedZone(Record):
    """A zone's plan, the electrician's visits it still needs, and all that was found.

    `appointments` are those of the zone and of the whole job.
    """

    plan: ZonePlan
    visits: tuple[Visit, ...]
    appointments: tuple[Appointment, ...]
    findings: tuple[Finding, ...]


@record
class _HoldPoints(Record):
    """All hold points but the release, and the electrical fault that stops the zone at once."""

    heating: tuple[Hold, ...]
    before_release: tuple[Hold, ...]
    fault: Message | None
    findings: tuple[Finding, ...]


def plan_zone(ctx: ZoneContext) -> PlannedZone:
    """Return a zone's plan, its visits and what was found on the way.

    Rule: R10, R13, R18 to R24.
    """
    # Layers first, from the bottom up: every later stage asks when something is cured.
    schedule = schedule_layers(ctx)
    # The zone's date is the latest of its layers' and its makers'.
    cure = compute_cure_date(ctx, schedule)
    # Cure is one of the hold points, so they come after the date.
    holds = _judge_holds(ctx, schedule, cure)
    # The release counts only over all the others.
    release, releases = release_hold(ctx, schedule, cure, holds.before_release)
    released_at = releases[-1] if releases else None
    went_on_at = started_again(ctx)
    # What runs by right began after the release and any later stop: the log is read from there.
    free_at = free_since(released_at, went_on_at)
    running = heat_up_entries(ctx, free_at)
    warmed_at = _warmed_at(ctx, running)
    # What stops the floor outranks every state; a hold lost while it is on only gives the reason.
    stopped, stop_findings = _find_stop(ctx, schedule, holds, releases, running)
    held, held_findings = held_while_on(ctx, holds.before_release, released_at)
    state = decide_state(
        StateFacts(
            stopped=stopped is not None,
            dated=cure.window is not None,
            begun=any(plan.layer.done_at is not None for plan in schedule.with_clock),
            clocks_out=clocks_out(ctx, schedule, cure),
            held=any(hold.is_outstanding for hold in holds.before_release),
            released=released_at is not None,
            energized=bool(running),
            warmed=warmed_at is not None,
        )
    )
    by_right = state in RELEASED_STATES
    # Without that right nothing counts as running or released: the ramp begins anew, ahead.
    counted, counted_from = (running, free_at) if by_right else ((), None)
    # The days told depend on the state: a released floor keeps its day, any other moves on.
    energize = compute_energize(ctx, schedule, cure, state, counted_from, running=bool(counted))
    plan = ZonePlan(
        zone=ctx.zone,
        state=state,
        may_energize=_may_be_on(ctx, state, energize),
        why=_why(state, cure, energize, (stopped, held), holds.before_release),
        energize=energize,
        holds=(*holds.before_release, release.hold),
        # Last of the dates, from the top down: each layer may wait as long as the day told stands.
        layers=with_latest_starts(ctx, schedule.layers, energize),
        heat_ups=_heat_ups(ctx, schedule, energize, counted, state),
        room_order=order_room(ctx, schedule, energize, state),
        went_on_at=went_on_at,
    )
    findings = (
        *schedule.findings,
        *holds.findings,
        *release.findings,
        *_check_heat_up_log(ctx, schedule, running, warmed_at),
        *stop_findings,
        *held_findings,
        *_check_zone(ctx, plan),
    )
    # Appointments move no date: they are held against the days that all the others gave.
    watched = watch_appointments(ctx, plan, list_visits(ctx, plan))
    return PlannedZone(plan, watched.visits, watched.appointments, findings)


def _judge_holds(ctx: ZoneContext, schedule: LayerSchedule, cure: CureDate) -> _HoldPoints:
    heating = electrical_holds(ctx)
    listed = complete_list_holds(ctx)
    cured = cure_hold(ctx, schedule, cure)
    before_release = (*heating.holds, *schedule.holds, *listed, cured)
    findings = (*heating.findings, *concealed_before_test(ctx, heating.holds))
    return _HoldPoints(heating.holds, before_release, heating.fault, findings)


def _check_heat_up_log(
    ctx: ZoneContext, schedule: LayerSchedule, running: Running, warmed_at: datetime | None
) -> tuple[Finding, ...]:
    bare = bare_running(ctx, schedule)
    return (
        *switched_on_by(ctx, running),
        *switched_on_by(ctx, bare),
        *steep_steps(ctx, running, warmed_at),
        *steep_steps(ctx, bare, None, bare=True),
    )


def _find_stop(
    ctx: ZoneContext,
    schedule: LayerSchedule,
    holds: _HoldPoints,
    releases: Sequence[datetime],
    running: Running,
) -> tuple[Message | None, list[Finding]]:
    """Return what stops the zone, a person's stop first, and all that was found on the way."""
    by_person, person_findings = why_stopped(ctx, schedule, releases)
    held_bare, bare_findings = held_while_bare(ctx, schedule, holds.heating)
    too_warm, warm_findings = over_limit(ctx, schedule, running)
    stop = by_person or holds.fault or held_bare or too_warm
    # One reason is enough to stop; each of the others is said all the same.
    return stop, [*person_findings, *bare_findings, *warm_findings]


def _check_zone(ctx: ZoneContext, plan: ZonePlan) -> tuple[Finding, ...]:
    """Return what there is to say of a zone beside its date; none of it moves the date."""
    return (
        *check_wishes(ctx.zone, ctx.rules),
        *electrical_checks(ctx),
        *_flow_wanted(ctx, plan),
        *find_repaired_warm(ctx),
        *check_climate(ctx, plan),
        *check_readings(ctx),
        *check_layers(ctx, plan),
    )


def _may_be_on(ctx: ZoneContext, state: State, energize: Energize) -> bool:
    """Return whether the floor may be on now: a released one from its first heat's first hour.

    Rule: R21a.
    """
    if state is State.RELEASED:
        first_on = energize.start_on
        return first_on is not None and ctx.calendar.opens(first_on) <= ctx.facts.as_of
    return state in RELEASED_STATES


def _warmed_at(ctx: ZoneContext, running: Running) -> datetime | None:
    """Return since when, by the log, the heat-up's end is reached and held long enough.

    A lower set-point, or a pause of more than a day, before the hold is over starts it anew.

    Rule: R19, R22.
    """
    if not running or lacks_flow(ctx.zone):
        return None
    start_on = local_day(running[0].at, ctx.calendar.tz)
    plan = plan_first_heat_up(ctx, start_on, begun=running, released=True)
    least_c = plan.target_c - ctx.rules.first_heat.reached_k
    top_on = min(step.on for step in plan.steps if step.to_c >= plan.target_c)
    held_s = (plan.ends_on - top_on).days * 86400.0
    for run in find_heat_up_runs(ctx, running):
        since: datetime | None = None
        for entry in run.entries:
            if since is not None and add(since, held_s) <= entry.at:
                return add(since, held_s)
            if isinstance(entry, HeatStep):
                own_at = entry.at if ctx.facts.is_from_the_job(entry) else None
                since = None if entry.to_c < least_c else since or own_at
        over_at = None if since is None else add(since, held_s)
        if over_at is not None and over_at <= (run.broken_at or ctx.facts.as_of):
            return over_at
    return None


def _heat_ups(
    ctx: ZoneContext,
    schedule: LayerSchedule,
    energize: Energize,
    running: Running,
    state: State,
) -> tuple[HeatUp, ...]:
    """Return the bare screed's heat-ups, and the finished floor's where there is a day for it."""
    start_on = energize.start_on
    if start_on is None or state in _WITHOUT_HEAT_UP or lacks_flow(ctx.zone):
        return schedule.bare_heat_ups
    finished = plan_first_heat_up(ctx, start_on, begun=running, released=state in RELEASED_STATES)
    return (*schedule.bare_heat_ups, finished)


def _flow_wanted(ctx: ZoneContext, plan: ZonePlan) -> list[Finding]:
    """Return that a floor heated by water has no heat-up for want of its flow temperatures."""
    has_day = plan.energize.start_on is not None and plan.state not in _WITHOUT_HEAT_UP
    if not has_day or not lacks_flow(ctx.zone):
        return []
    path = f"{ctx.zone.path}.heat_up"
    return [ctx.finding(Severity.WARNING, "water-profile-wanted", path, {})]


def _why(
    state: State,
    cure: CureDate,
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
        return cure.blocked or Message(state.own_reason)
    governed = cure.governed_by.layer_name if cure.governed_by else ""
    params: dict[str, object] = {"layer": governed}
    if energize.start_on is not None:
        params["start_on"] = energize.start_on
    # The release is not counted: it is the last step, not something missing before it.
    outstanding = [hold for hold in holds if hold.is_outstanding]
    params["count"] = len(outstanding)
    if outstanding:
        params["hold"] = outstanding[0].code
    return Message(state.own_reason, params)
