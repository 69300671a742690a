"""A screed that the crew heats bare: when that is about to begin, and whether it runs.

While it runs, whoever else is told of the floor hears that the crew has it on.

Rule: R14.
"""

from __future__ import annotations

from curecal.instants import local_day
from curecal.planning.plan import HeatUp, HeatUpPurpose, State, ZonePlan, most_change
from curecal.reminders.builders.reminder_context import ReminderContext
from curecal.trade.site_log import Energized, HeatStep
from curecal.units import show_ramp


def shown_number(heat_up: HeatUp, index: int) -> str:
    """Return a set-point as its reader sees it: another one is told anew, the same one is not.

    Args:
        heat_up: the heat-up.
        index: which of its steps.

    Returns:
        The number in both units.
    """
    steps_c = [step.to_c for step in heat_up.steps]
    step_k = most_change(heat_up.basis, heat_up.steps, heat_up.step_k)
    return show_ramp(steps_c, "metric", step_k=step_k, both=True)[index]


def bare_heat_up(ctx: ReminderContext, zone: ZonePlan) -> HeatUp | None:
    """Return the heat-up of a bare screed that is not over yet.

    Args:
        ctx: the plan.
        zone: the zone.

    Returns:
        The heat-up to come or that runs; None where there is none, or the floor is stopped.
    """
    if zone.state is State.STOPPED:
        return None
    found = (
        heat_up
        for heat_up in zone.heat_ups
        if heat_up.purpose == HeatUpPurpose.BARE_SCREED and heat_up.steps
    )
    return next((heat_up for heat_up in found if ctx.local_on < heat_up.ends_on), None)


def has_begun(ctx: ReminderContext, zone: ZonePlan, heat_up: HeatUp) -> bool:
    """Return whether the log says that a bare screed's heat-up began.

    Args:
        ctx: the plan and its log.
        zone: the zone.
        heat_up: its heat-up.

    Returns:
        True from its first switch-on.
    """
    first_on = heat_up.steps[0].on
    # Not begun, it starts today at the earliest; so one that started before has begun.
    return first_on < ctx.local_on or any(
        isinstance(entry, (Energized, HeatStep))
        and entry.zone in {None, zone.zone.id}
        and local_day(entry.at, ctx.tz) == first_on
        for entry in ctx.log
    )


def runs_bare(ctx: ReminderContext, zone: ZonePlan) -> HeatUp | None:
    """Return the heat-up of a bare screed that runs now.

    Args:
        ctx: the plan and its log.
        zone: the zone.

    Returns:
        The heat-up, from its first switch-on until it is cold again; else None.
    """
    heat_up = bare_heat_up(ctx, zone)
    return heat_up if heat_up and has_begun(ctx, zone, heat_up) else None
