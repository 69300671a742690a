"""From which day a floor may be walked on, get wet, or carry furniture: heat aside."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import date, datetime
from enum import StrEnum
from types import MappingProxyType

from curecal.instants import morning_at_or_after
from curecal.planning.plan import LayerPlan, Plan, ZonePlan
from curecal.trade.data_sheets import BESIDE_THE_FLOOR, Kind, Milestone
from curecal.trade.job import Room


class Use(StrEnum):
    """What an owner wants to do with a floor."""

    WALK = "walk"
    SHOWER = "shower"
    FURNITURE = "furniture"


# What each use of the floor asks of a layer, and what counts for a layer whose sheet is silent
# on it: these can only make the day later.
_ASKS: Mapping[Use, tuple[Sequence[Milestone], Sequence[Milestone]]] = MappingProxyType(
    {
        Use.WALK: ((Milestone.WALK,), (Milestone.GROUT, Milestone.COVER, Milestone.SEAL)),
        Use.SHOWER: ((Milestone.WET, Milestone.SEAL), (Milestone.GROUT, Milestone.COVER)),
        Use.FURNITURE: (
            (Milestone.LOAD,),
            (Milestone.WALK, Milestone.GROUT, Milestone.COVER, Milestone.SEAL),
        ),
    }
)


def uses_of(zone: ZonePlan) -> tuple[Use, ...]:
    """Return what the owner of a zone asks for: nobody showers in a living room.

    Rule: R21.

    Args:
        zone: the zone's plan.

    Returns:
        The uses, in the order in which they come.
    """
    wet = zone.zone.room is Room.BATHROOM
    return tuple(use for use in Use if wet or use is not Use.SHOWER)


def usable_on(plan: Plan, zone: ZonePlan, use: Use) -> date | None:
    """Return the first day whose morning finds the whole zone ready for a use, at the late end.

    Joints and edges are nothing to walk on; but no water before the silicone is logged.

    Rule: R21.

    Args:
        plan: the plan.
        zone: the zone in it.
        use: what it is to be used for.

    Returns:
        The local day; None while any layer is unknown, or where no layer says.
    """
    wanted, instead = _ASKS[use]
    ends: list[datetime] = []
    asked = False
    for layer in zone.layers:
        is_joint = layer.layer.sheet.kind is Kind.SILICONE and Milestone.WET in wanted
        is_beside = layer.layer.sheet.kind in BESIDE_THE_FLOOR and not is_joint
        if layer.layer.existing or is_beside:
            continue
        if is_joint and layer.planned:
            return None
        if layer.finish is None or layer.finish.latest is None:
            return None
        ends.append(layer.finish.latest)
        own = [milestone for milestone in wanted if milestone in layer.milestones]
        asked = asked or bool(own)
        reached = _reached(layer, own or instead)
        if reached is None:
            return None
        ends += reached
    if not asked:
        return None
    return morning_at_or_after(max(ends), plan.job.tz, plan.job.work.start)


def _reached(layer: LayerPlan, milestones: Sequence[Milestone]) -> list[datetime] | None:
    """Return the late ends of a layer's milestones; None where one of them has none."""
    ends: list[datetime] = []
    for milestone in milestones:
        found = layer.milestones.get(milestone)
        # What only informs the planner (walking gates no layer) still binds whoever walks.
        if found is None:
            continue
        if found.window is None or found.window.latest is None:
            return None
        ends.append(found.window.latest)
    return ends
