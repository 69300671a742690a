"""Whether the list of layers is a whole floor: what its covering needs, what embeds the cable."""

from __future__ import annotations

from collections.abc import Sequence

from curecal.planning.plan import Hold, HoldState
from curecal.planning.repair import is_repair
from curecal.planning.zone_context import ZoneContext
from curecal.trade.findings import Message
from curecal.trade.hold_codes import Gate, HoldCode
from curecal.trade.job import HeatingKind, Layer, Role
from curecal.trade.rules import Need

_EMBEDDING = "embedding"


def complete_list_holds(ctx: ZoneContext) -> tuple[Hold, ...]:
    """Return that the list of layers lacks something; none where it is a whole floor.

    A date is the latest of the layers that are listed: one that nobody listed would not count.

    Rule: R24a.
    """
    lacking = _find_lacking(ctx)
    if not lacking:
        return ()
    reason = Message("list-incomplete", {"lacking": lacking, "count": len(lacking)})
    made = Hold(
        HoldCode.COMPLETE_LIST, Gate.ENERGIZE, Role.CREW_LEAD, HoldState.UNMET, reason=reason
    )
    return (made,)


def _find_lacking(ctx: ZoneContext) -> tuple[str, ...]:
    """Return the names of what is not in the list, from the bottom up."""
    embedding = ctx.build_up.embedding()
    above = _above_cable(ctx, embedding)
    found = []
    if not _is_embedded(ctx, embedding):
        found.append(_EMBEDDING)
    covering = ctx.zone.covering
    if not covering.is_floating:
        needs = ctx.rules.needs[covering.kind.family]
        found += [need.name for need in needs if not _is_met(need, above)]
        found += _find_left_open(needs, ctx.zone.layers)
    return tuple(found)


def _is_met(need: Need, layers: Sequence[Layer]) -> bool:
    return any(layer.sheet.kind in need.kinds for layer in layers)


def _find_left_open(needs: Sequence[Need], layers: Sequence[Layer]) -> list[str]:
    """Return what a repair opened and did not close: who resets a tile grouts its joint."""
    if not is_repair(layers):
        return []
    renewed = [layer for layer in layers if not layer.existing]
    met = [_is_met(need, renewed) for need in needs]
    first = met.index(True) if True in met else len(needs)
    was_there = [layer for layer in layers if layer.existing]
    return [
        need.name
        for need, is_new in zip(needs[first:], met[first:], strict=True)
        # What nobody ever listed has been found already.
        if not is_new and _is_met(need, was_there)
    ]


def _above_cable(ctx: ZoneContext, embedding: Layer | None) -> Sequence[Layer]:
    """Return the layers that may carry the covering: what embeds the cable, and all above it."""
    layers = ctx.zone.layers
    # The mortar under the sheet that holds the cable carries no tile.
    return layers if embedding is None else layers[layers.index(embedding) :]


def _is_embedded(ctx: ZoneContext, embedding: Layer | None) -> bool:
    layers = ctx.zone.layers
    return (
        embedding is not None
        or ctx.zone.heating.kind is not HeatingKind.ELECTRIC
        # In a floor that is only repaired, or that stood before, the cable is covered already.
        or is_repair(layers)
        or any(layer.existing and layer.over_cable for layer in layers)
    )
