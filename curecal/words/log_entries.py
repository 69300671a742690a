"""What a log entry says, field by field, in plain words."""

from __future__ import annotations

from dataclasses import fields
from enum import Enum
from typing import Any

from curecal.records import PlainView
from curecal.trade.job import Job
from curecal.trade.logged_points import LoggedPoints
from curecal.trade.site_log import OPEN_OHM, Correction, Entry, VisitFor
from curecal.words.sentences import Words

_NOT_SAID = frozenset(own.name for own in fields(Entry)) | {
    "place",
    "of",
    "withdrawn",
    "changes",
    "is_lost",
    "to_earth_at_least",
    "insulation_at_least",
}
_YES_OR_NO = frozenset({"locked", "tagged"})
_ONLY_TRUE = frozenset({"heating_off", "heating_on", "earth_open", "sure"})
# What was set is shown as it was set, and not rounded down as a limit is; a trip in milliseconds.
_SHOWN_AS = {"limit_c": ("set_c", 1.0), "to_c": ("set_c", 1.0), "trip_s": ("trip_count", 1000.0)}


def zone_name(zone: str | None, job: Job | None) -> str | None:
    """Return a zone's name by its identity."""
    zones = () if job is None else job.zones
    return next((own.name for own in zones if own.id == zone), zone)


def parts_of(values: PlainView, job: Job | None, words: Words) -> list[str]:
    """Return fields of an entry in plain words.

    Args:
        values: The fields by name.
        job: The job, for the names of layers and zones.
        words: Language and units.

    Returns:
        A short text a field that says something.
    """
    said = []
    for name, value in values.items():
        if name in _NOT_SAID or value is None:
            continue
        key, params = _part(name, value, values, job)
        if key:
            said.append(words.text(f"log.part.{_known(key, words)}", params))
    return said


def changes_of(correction: Correction, job: Job | None, words: Words) -> str:
    """Return what a correction changes, in plain words."""
    changes = dict(correction.changes)
    zone = changes.pop("zone", None)
    said = parts_of(changes, job, words)
    if isinstance(zone, str):
        said.insert(0, words.text("log.part.zone", {"zone": zone_name(zone, job)}))
    return ", ".join(said)


def _known(key: str, words: Words) -> str:
    """Return a part's own text where it has one: "after laying", and "on delivery"."""
    general = key.partition(":")[0]
    own = key.replace(":", "_")
    return own if f"log.part.{own}" in words.catalogue else general


def _part(
    name: str, value: Any, values: PlainView, job: Job | None
) -> tuple[str, dict[str, object]]:
    """Return which text a field has, and what goes into it; no text where it says nothing."""
    key, shown = name, name
    if name == "layer":
        value = _layer(value, values, job)
    elif name == "visit":
        # An id is shown as it was typed, also where it is the code of a planned visit.
        shown = "visit_id"
        key = "" if _says_purpose(value, values.get("purpose")) else name
    elif name == "humidity":
        key = shown = "humidity_rh"
    elif name in _SHOWN_AS:
        shown, factor = _SHOWN_AS[name]
        value *= factor
    elif name in _ONLY_TRUE:
        key = name if value else ""
    elif name in _YES_OR_NO:
        key = name if value else f"{name}_not"
    elif name.endswith("_ohm"):
        key = _ohms(name, value, values)
    elif isinstance(value, LoggedPoints):
        key, shown, value = "series", "points_count", len(value)
    elif isinstance(value, Enum):
        key = f"{name}:{value.value}"
    return key, {shown: value}


def _says_purpose(visit: str, purpose: VisitFor | None) -> bool:
    """Return whether a visit is known by what it is for, which is said beside it."""
    return purpose is not None and (visit == purpose or visit.startswith(f"{purpose}, "))


def _ohms(name: str, value: float, values: PlainView) -> str:
    """Return the text of a resistance: its figure, beyond the meter's range, or an open line."""
    what = name.removesuffix("_ohm")
    if values.get(f"{what}_at_least"):
        return f"{what}_least"
    return f"{what}_open" if value == OPEN_OHM and what in {"conductor", "sensor"} else name


def _layer(layer: str, values: PlainView, job: Job | None) -> str:
    """Return a layer's name by its identity."""
    zones = () if job is None else job.zones
    found = [
        course.name
        for zone in zones
        if values.get("zone") in {None, zone.id}
        for course in zone.layers
        if course.id == layer
    ]
    return found[0] if found else layer
