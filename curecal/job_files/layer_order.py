"""What the order of a zone's layers says that cannot be built."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from types import MappingProxyType

from curecal.toml_files.table_reader import TableReader
from curecal.trade.data_sheets import (
    BESIDE_THE_FLOOR,
    IMPERVIOUS,
    SHEETS_AND_BOARDS,
    Kind,
    Milestone,
)
from curecal.trade.findings import Severity
from curecal.trade.job import Layer
from curecal.trade.layers_below import layers_below, place_of

_BASES = frozenset(
    {Kind.CONCRETE, Kind.SCREED, Kind.MORTAR_BED, Kind.DRY_SCREED, Kind.POURED_ASPHALT}
)
_FILMS = frozenset({Kind.PRIMER, Kind.SEALER})
_BUT_BASES = frozenset(Kind) - _BASES
# What may lie on a fresh layer of a kind; a kind that is not named bears anything.
_BEARS: Mapping[Kind, frozenset[Kind]] = MappingProxyType(
    {
        Kind.GROUT: frozenset({Kind.SEALER}),
        Kind.SEALER: frozenset({Kind.SEALER}),
        Kind.THINSET: _BUT_BASES,
        Kind.ADHESIVE: _BUT_BASES,
        Kind.POURED_FINISH: frozenset({Kind.POURED_FINISH, Kind.SEALER}),
        # A joint is filled between tiles, so mortar comes first.
        **dict.fromkeys(
            (*SHEETS_AND_BOARDS, Kind.MEMBRANE, Kind.BARRIER), frozenset(Kind) - {Kind.GROUT}
        ),
    }
)


def may_lie_on(under: Kind, on_top: Kind) -> bool:
    """Return whether a kind of layer may be laid on a fresh one.

    Rule: R24a.
    """
    return under not in _BEARS or on_top in _BEARS[under]


def check_layer_order(reader: TableReader, layers: Sequence[Layer]) -> None:
    """Note layers that cannot lie where the list has them.

    Rule: R24a.

    Args:
        reader: Where findings are kept.
        layers: A zone's layers, as the list has them.
    """
    # Joints and edges lie beside a floor and bear nothing: they are no layers of this order.
    borne = [layer for layer in layers if layer.sheet.kind not in BESIDE_THE_FLOOR]
    for layer in borne:
        # A repair opens what lies there already, so it may follow upon anything.
        if layer.repair:
            continue
        if layer.existing:
            _check_existing(reader, layer, borne)
        else:
            _check_borne(reader, layer, layers_below(borne, layer))


def check_dispersions(reader: TableReader, layers: Sequence[Layer]) -> None:
    """Note dispersion adhesives that their base or the heat keeps from hardening, or softens again.

    On an impervious base the water cannot leave. Over heat only where the product's own sheet gives
    a wait before heat; under the cable a layer above it says so (`over_cable`).

    Rule: R29.

    Args:
        reader: Where findings are kept.
        layers: A zone's layers, as the list has them.
    """
    for index, layer in enumerate(layers):
        if layer.existing or not layer.sheet.is_dispersion:
            continue
        under = _impervious_below(layers, layer)
        if under is not None:
            params = {"layer": layer.name, "under": under.name}
            reader.find(Severity.ERROR, "dispersion-on-impervious", layer.path, params)
        is_under_cable = any(above.over_cable for above in layers[index + 1 :])
        if not is_under_cable and Milestone.HEAT not in layer.sheet.waits:
            params = {"layer": layer.name}
            reader.find(Severity.ERROR, "dispersion-over-heat", layer.path, params)


def _impervious_below(layers: Sequence[Layer], layer: Layer) -> Layer | None:
    """Return the impervious layer under another, looking through films, if there is one."""
    for under in layers_below(layers, layer):
        if under.sheet.kind in IMPERVIOUS:
            return under
        deeper = _impervious_below(layers, under) if under.sheet.kind in _FILMS else None
        if deeper is not None:
            return deeper
    return None


def _check_borne(reader: TableReader, layer: Layer, below: Sequence[Layer]) -> None:
    for under in below:
        if under.existing or may_lie_on(under.sheet.kind, layer.sheet.kind):
            continue
        params = {"layer": layer.name, "under": under.name}
        reader.find(Severity.ERROR, "list-upside-down", layer.path, params)


def _check_existing(reader: TableReader, layer: Layer, layers: Sequence[Layer]) -> None:
    """Note a layer that was there before what lies under it."""
    fresh = [
        under
        for under in layers[: place_of(layers, layer)]
        if not under.existing
        and not under.repair
        and (layer.part is None or under.part in {None, layer.part})
    ]
    if fresh:
        params = {"layer": layer.name, "under": fresh[-1].name}
        reader.find(Severity.ERROR, "existing-over-fresh", f"{layer.path}.existing", params)
