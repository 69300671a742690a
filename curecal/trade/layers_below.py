"""Which layer lies on which, of a zone's layers from bottom to top."""

from __future__ import annotations

from collections.abc import Sequence

from curecal.trade.data_sheets import BESIDE_THE_FLOOR
from curecal.trade.job import Layer


def place_of(layers: Sequence[Layer], layer: Layer) -> int:
    """Return where a layer stands among the layers of its zone, from the bottom up.

    Args:
        layers: all layers of the zone, bottom to top.
        layer: one of them, or one alike.

    Raises:
        ValueError: None of them is alike.
    """
    # Nearly always it is one of them, and to compare all that two layers have takes long.
    for place, other in enumerate(layers):
        if other is layer:
            return place
    return layers.index(layer)


def layers_below(layers: Sequence[Layer], layer: Layer) -> tuple[Layer, ...]:
    """Return what a layer sits on, nearest first.

    A layer of one part sits on the nearest below of that part or of the whole floor. A layer of
    the whole floor sits on the nearest of every part, down to the nearest of the whole floor.
    Joints and edges lie beside the floor: nothing sits on them.

    Rule: R28.

    Args:
        layers: all layers of the zone, bottom to top.
        layer: one of them.

    Returns:
        The layers directly under it; empty for the lowest.
    """
    found: list[Layer] = []
    parts: set[str] = set()
    for other in reversed(layers[: place_of(layers, layer)]):
        if other.sheet.kind in BESIDE_THE_FLOOR:
            continue
        # A part touches only its own column; what covers the whole floor closes every part.
        if layer.part is not None:
            if other.part in {None, layer.part}:
                return (other,)
            continue
        if other.part is None:
            found.append(other)
            break
        if other.part not in parts:
            parts.add(other.part)
            found.append(other)
    return tuple(found)
