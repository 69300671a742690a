"""Whether the list of layers is a whole floor: what its covering needs, what embeds the cable."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace

from curecal.planning.curing.build_up import BuildUp
from curecal.planning.plan import Hold, HoldState
from curecal.planning.repair import is_repair
from curecal.planning.zone_context import ZoneContext
from curecal.trade.data_sheets import POURED, Kind
from curecal.trade.findings import Message
from curecal.trade.hold_codes import Gate, HoldCode
from curecal.trade.job import HeatingKind, Layer, Role, Zone
from curecal.trade.layers_below import place_of
from curecal.trade.rules import Need

_EMBEDDING = "embedding"


def complete_list_holds(ctx: ZoneContext) -> tuple[Hold, ...]:
    """Return that the list of layers lacks something; none where it is a whole floor.

    A date is the latest of the layers that are listed: one that nobody listed would not count. Each
    part of a zone is looked at by itself: what the next part has does not finish it.

    Rule: R24a, R28.
    """
    lacking = {part: names for part in _parts(ctx.zone) if (names := _find_lacking(ctx, part))}
    if not lacking:
        return ()
    made = Hold(
        HoldCode.COMPLETE_LIST,
        Gate.ENERGIZE,
        Role.CREW_LEAD,
        HoldState.UNMET,
        reason=_reason(lacking, len(_parts(ctx.zone))),
    )
    return (made,)


def _parts(zone: Zone) -> tuple[str | None, ...]:
    """Return the parts of a zone; None stands for what no layer names.

    Several parts share the floor between them. One alone is part of something: the rest is there.
    """
    named = tuple(dict.fromkeys(layer.part for layer in zone.layers if layer.part is not None))
    return named if len(named) > 1 else (*named, None)


def _reason(lacking: Mapping[str | None, Sequence[str]], parts: int) -> Message:
    """Return what is missing, part by part unless all of them lack the same."""
    first, *others = lacking.items()
    if len(lacking) == parts and all(names == first[1] for _, names in others):
        return Message("list-incomplete", {"lacking": first[1], "count": len(first[1])})
    also = _reason(dict(others), parts) if others else ""
    params = {"part": first[0] or "", "lacking": first[1], "also": also}
    return Message("list-incomplete-part" if first[0] else "list-incomplete-rest", params)


def _find_lacking(ctx: ZoneContext, part: str | None) -> tuple[str, ...]:
    """Return the names of what is not in the list of one part, from the bottom up."""
    column = tuple(layer for layer in ctx.zone.layers if layer.part in {None, part})
    zone, build_up = ctx.zone, ctx.build_up
    if len(column) < len(zone.layers):
        zone = replace(zone, layers=column)
        build_up = BuildUp(zone)
    embedding = build_up.embedding
    above = _above_cable(zone, embedding)
    found = []
    if not _is_embedded(zone, embedding):
        found.append(_EMBEDDING)
    covering = zone.covering
    if not covering.is_floating:
        needs = ctx.rules.needs[covering.kind.family]
        if not covering.has_joints:
            needs = tuple(need for need in needs if Kind.GROUT not in need.kinds)
        found += [need.name for need in needs if not _is_met(need, above)]
        found += _find_left_open(needs, column)
    return tuple(found)


def _is_met(need: Need, layers: Sequence[Layer]) -> bool:
    return any(layer.sheet.kind in need.kinds for layer in layers)


def _find_left_open(needs: Sequence[Need], layers: Sequence[Layer]) -> list[str]:
    """Return what a repair opened and did not close: who resets a tile grouts its joint.

    Of several repairs each is closed: a joint of the first lies under the mortar of the second.
    """
    if not is_repair(layers):
        return []
    renewed = [layer for layer in layers if not layer.existing]
    was_there = [layer for layer in layers if layer.existing]
    # Who pours anew took away what lay above.
    poured = [index for index, layer in enumerate(renewed) if layer.sheet.kind in POURED]
    opened = max(poured, default=-1)
    found = []
    for need in needs:
        own = [index for index, layer in enumerate(renewed) if layer.sheet.kind in need.kinds]
        # What nobody ever listed has been found already.
        if opened >= 0 and max(own, default=-1) < opened and _is_met(need, was_there):
            found.append(need.name)
        opened = max([opened, *own])
    return found


def _above_cable(zone: Zone, embedding: Layer | None) -> Sequence[Layer]:
    """Return the layers that may carry the covering: what embeds the cable, and all above it."""
    layers = zone.layers
    # The mortar under the sheet that holds the cable carries no tile.
    return layers if embedding is None else layers[place_of(layers, embedding) :]


def _is_embedded(zone: Zone, embedding: Layer | None) -> bool:
    layers = zone.layers
    return (
        embedding is not None
        or zone.heating.kind is not HeatingKind.ELECTRIC
        # In a floor that is only repaired, or that stood before, the cable is covered already.
        or is_repair(layers)
        or any(layer.existing and layer.over_cable for layer in layers)
    )
