"""Layers whose name says one thing and whose material says another: one of the two is a slip."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from types import MappingProxyType

from curecal.toml_files.table_reader import TableReader
from curecal.trade.data_sheets import Kind
from curecal.trade.findings import Severity
from curecal.trade.job import Layer
from curecal.trade.names import comparable_name

_LEVELERS = frozenset({Kind.LEVELER, Kind.GYPSUM_LEVELER})
_MORTARS = frozenset({Kind.THINSET, Kind.ADHESIVE})
_SKINS = frozenset({Kind.MEMBRANE, Kind.BARRIER, Kind.UNCOUPLING_SHEET})
_COATS = frozenset({Kind.PRIMER, Kind.SEALER, Kind.BARRIER})
_BOARDS = frozenset({Kind.BACKER_BOARD, Kind.PLYWOOD})
# What a word in a layer's name may stand for. A word that trades use for anything is not here.
_CALLED: Mapping[str, frozenset[Kind]] = MappingProxyType(
    {
        "grout": frozenset({Kind.GROUT}),
        "joint": frozenset({Kind.GROUT, Kind.SILICONE}),
        "silicone": frozenset({Kind.SILICONE}),
        "sealer": _COATS,
        "primer": _COATS,
        "barrier": _SKINS | _COATS,
        "membrane": _SKINS,
        "sheet": _SKINS | _BOARDS,
        "board": _BOARDS,
        "plywood": _BOARDS,
        "thinset": _MORTARS,
        "adhesive": _MORTARS,
        "glue": _MORTARS,
        "mortar": _MORTARS | {Kind.MORTAR_BED, Kind.SCREED},
        "leveler": _LEVELERS | {Kind.SCREED},
        "leveller": _LEVELERS | {Kind.SCREED},
        "screed": _LEVELERS | {Kind.SCREED, Kind.MORTAR_BED, Kind.CONCRETE},
        "slab": frozenset({Kind.CONCRETE, Kind.SCREED}),
        "concrete": frozenset({Kind.CONCRETE, Kind.SCREED}),
    }
)
# "mortar under the sheet" is mortar: what follows says where, not what.
_WHERE = re.compile(r"[,;:(/]| (?:over|under|on|of|for|in|at|above|below|beneath|around|to|with) ")


def check_layer_names(reader: TableReader, layers: Sequence[Layer]) -> None:
    """Note layers that are not made of what they are called.

    A grout typed as a sealer would be heated three weeks early, and nothing else tells.

    Args:
        reader: Where findings are kept.
        layers: A zone's layers.
    """
    for layer in layers:
        kinds = _kinds_called(layer.name)
        if kinds and layer.sheet.kind not in kinds and not layer.existing:
            params = {"layer": layer.name, "kind": layer.sheet.kind.value}
            reader.find(Severity.WARNING, "name-not-material", f"{layer.path}.material", params)


def _kinds_called(name: str) -> frozenset[Kind]:
    """Return what a layer can be by its name: "grout sealer" is a sealer, the last word counts."""
    head = _WHERE.split(comparable_name(name), maxsplit=1)[0]
    words = [word.removesuffix("s") for word in re.findall(r"\w+", head)]
    return next((_CALLED[word] for word in reversed(words) if word in _CALLED), frozenset())
