"""A floor under repair: which zone is one, and who switches it on again."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence

from curecal.trade.data_sheets import BEDS, Kind
from curecal.trade.job import Layer, Role, Zone
from curecal.trade.layers_below import place_of

# What shows that a floor was finished where it lies: its own bed or finish, or its joints.
_FINISHED = frozenset({*BEDS, Kind.MORTAR_BED, Kind.GROUT, Kind.POURED_FINISH})
# What goes over a bed that was just laid, and opens nothing.
_OVER_A_BED = frozenset({Kind.GROUT, Kind.SEALER, Kind.SILICONE})


def mends(layers: Sequence[Layer], layer: Layer) -> bool:
    """Return whether a layer is a repair: called one, with something finished under it.

    Rule: R18.

    Args:
        layer: one of them.

    Returns:
        False for a "repair" on a bare slab, or on nothing: it is part of a new floor.
    """
    return layer.repair and any(
        under.sheet.kind in _FINISHED
        and not under.repair
        and (under.part is None or layer.part in {None, under.part})
        for under in layers[: place_of(layers, layer)]
    )


def is_repair(layers: Sequence[Layer]) -> bool:
    """Return whether a zone is a finished floor under repair.

    A repair in a floor that is still being built is not, nor is one with nothing finished under
    it: all its own hold points stand.

    Rule: R18.

    Returns:
        True where there is a new layer, and every one of them is a repair.
    """
    fresh = False
    for layer in layers:
        if not layer.existing:
            # Nearly every floor is new: its first layer tells.
            if not mends(layers, layer):
                return False
            fresh = True
    return fresh


def first_switched_on_by(zone: Zone, layers: Sequence[Layer]) -> Role:
    """Return who switches a floor on for the first time.

    Rule: R18, R20; the restart of a repair needs no electrician.

    Args:
        layers: its layers as they are known, bottom to top.

    Returns:
        Whom the job names; the crew lead where that is the electrician and it is a repair.
    """
    restarted = zone.energized_by is Role.ELECTRICIAN and is_repair(layers)
    return Role.CREW_LEAD if restarted else zone.energized_by


def chiselled(layers: Sequence[Layer]) -> list[Layer]:
    """Return the repair layers that a chisel came before.

    A joint or a sealer over a bed that was reset opens nothing; one more than there are beds does.

    Rule: R18.
    """
    found: list[Layer] = []
    over: Counter[Kind] = Counter()
    for layer in layers:
        if not layer.repair:
            continue
        over[layer.sheet.kind] += 1
        beds = sum(count for kind, count in over.items() if kind not in _OVER_A_BED)
        if layer.sheet.kind not in _OVER_A_BED or over[layer.sheet.kind] > beds:
            found.append(layer)
    return found
