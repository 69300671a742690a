"""What the order of a zone's layers says that cannot be built."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from types import MappingProxyType

from curecal.toml_files.table_reader import TableReader
from curecal.trade.data_sheets import Kind
from curecal.trade.findings import Severity
from curecal.trade.job import Layer
from curecal.trade.layers_below import layers_below

_BASES = frozenset({Kind.CONCRETE, Kind.SCREED, Kind.MORTAR_BED})
_BUT_BASES = frozenset(Kind) - _BASES
# What may lie on a fresh layer of a kind; a kind that is not named bears anything.
_BEARS: Mapping[Kind, frozenset[Kind]] = MappingProxyType(
    {
        Kind.GROUT: frozenset({Kind.SEALER}),
        Kind.SEALER: frozenset({Kind.SEALER}),
        Kind.THINSET: _BUT_BASES,
        Kind.ADHESIVE: _BUT_BASES,
    }
)


def check_layer_order(reader: TableReader, layers: Sequence[Layer]) -> None:
    """Note layers that cannot lie where the list has them.

    Rule: R24a.

    Args:
        reader: Where findings are kept.
        layers: A zone's layers, as the list has them.
    """
    # Silicone fills the joints beside a floor and bears nothing: it is no layer of this order.
    borne = [layer for layer in layers if layer.sheet.kind is not Kind.SILICONE]
    for layer in borne:
        # A repair opens what lies there already, so it may follow upon anything.
        if layer.repair:
            continue
        if layer.existing:
            _check_existing(reader, layer, borne)
        else:
            _check_borne(reader, layer, layers_below(borne, layer))


def _check_borne(reader: TableReader, layer: Layer, below: Sequence[Layer]) -> None:
    for under in below:
        kind = under.sheet.kind
        if under.existing or kind not in _BEARS or layer.sheet.kind in _BEARS[kind]:
            continue
        params = {"layer": layer.name, "under": under.name}
        reader.find(Severity.ERROR, "list-upside-down", layer.path, params)


def _check_existing(reader: TableReader, layer: Layer, layers: Sequence[Layer]) -> None:
    """Note a layer that was there before what lies under it."""
    fresh = [
        under
        for under in layers[: layers.index(layer)]
        if not under.existing
        and not under.repair
        and (layer.part is None or under.part in {None, layer.part})
    ]
    if fresh:
        params = {"layer": layer.name, "under": fresh[-1].name}
        reader.find(Severity.ERROR, "existing-over-fresh", f"{layer.path}.existing", params)
