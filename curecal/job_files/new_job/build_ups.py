"""Usual build-ups of a heated floor, from the bottom up: where a new job starts from."""

from __future__ import annotations

from collections.abc import Mapping
from copy import deepcopy
from types import MappingProxyType

from curecal.records import PlainTable, PlainView, Record, record

BASE = "base"
"""The name of a build-up's lowest layer until somebody says what it is made of."""


@record
class UsualBuildUp(Record):
    """One way to build a heated floor.

    `layers` are as a job file has them. The base has no material: only the site knows it.
    """

    layers: tuple[PlainView, ...]

    def copied_layers(self) -> list[PlainTable]:
        """Return the layers, to be filled in."""
        return [deepcopy(dict(layer)) for layer in self.layers]


_BASE: PlainView = MappingProxyType({"name": BASE, "existing": True})
_GROUT: PlainView = MappingProxyType({"name": "grout", "material": "cement grout"})


def _layer(name: str, material: str, **more: object) -> PlainView:
    return MappingProxyType({"name": name, "material": material, **more})


BUILD_UPS: Mapping[str, UsualBuildUp] = MappingProxyType(
    {
        "mat in thinset": UsualBuildUp(
            (_BASE, _layer("thinset over the mat", "thinset", over_cable=True), _GROUT)
        ),
        "cable in leveler": UsualBuildUp(
            (
                _BASE,
                _layer("primer", "primer"),
                _layer("leveler over the cable", "leveler", over_cable=True),
                _layer("thinset", "thinset"),
                _GROUT,
            )
        ),
        "sheet with cable": UsualBuildUp(
            (
                _BASE,
                _layer("thinset under the sheet", "thinset"),
                _layer("uncoupling sheet", "uncoupling sheet"),
                _layer("thinset over the cable", "thinset", over_cable=True),
                _GROUT,
            )
        ),
        "screed with cable": UsualBuildUp(
            (
                _BASE,
                _layer(
                    "screed over the cable",
                    "sand-cement screed",
                    heat_before_covering=True,
                    over_cable=True,
                ),
                _layer("thinset", "thinset"),
                _GROUT,
            )
        ),
        "repair": UsualBuildUp(
            (
                _layer("mortar of the old floor", "thinset", existing=True),
                _layer("mortar under the new tile", "thinset", repair=True),
                _layer("joint of the new tile", "cement grout", repair=True),
            )
        ),
    }
)
