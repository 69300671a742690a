"""What a new job takes over from another: its people, products and build-up."""

from __future__ import annotations

from collections.abc import Mapping
from copy import deepcopy

from curecal.records import PlainTable, PlainView

# What belongs to one house, one day or one label, and to no other job.
_OF_THE_JOB = ("id", "name", "address")
_OF_THE_LAYER = ("done", "planned_start", "planned_finish", "since", "sure", "thickness")
_OF_THE_FLOOR = ("floor_area",)
_OF_THE_LABEL = ("power", "resistance", "serial", "circuit", "heated_area")
_KEPT = ("job", "work", "people", "zone", "material", "sensor")


def copied_job(job: PlainView) -> PlainTable:
    """Return what a new job takes over from another one's tables.

    No fact from the site and no date: neither when a layer was laid nor by when it was there. Not
    the owner, the address, the climate, the thickness of layers and what stands on the label of a
    cable either: those are another house's.

    Args:
        job: The other job's tables, as its file holds them.

    Returns:
        Tables of its own; what is not a table where one belongs is left out.
    """
    new = {key: deepcopy(job[key]) for key in _KEPT if key in job}
    _drop(new.get("job"), _OF_THE_JOB)
    _drop(new.get("work"), ("days_off",))
    _drop(new.get("people"), ("owner",))
    for zone in tables(new.get("zone")):
        _drop(zone, _OF_THE_FLOOR)
        heating = zone.get("heating")
        _drop(heating, _OF_THE_LABEL)
        for cable in tables(heating.get("cable")) if isinstance(heating, Mapping) else ():
            _drop(cable, _OF_THE_LABEL)
        for layer in tables(zone.get("layer")):
            _drop(layer, _OF_THE_LAYER)
    return new


def tables(value: object) -> list[PlainTable]:
    """Return the tables of a list; none where it is something else."""
    return [row for row in value if isinstance(row, dict)] if isinstance(value, list) else []


def _drop(table: object, keys: tuple[str, ...]) -> None:
    if isinstance(table, dict):
        for key in keys:
            table.pop(key, None)
