"""What a log entry may name, compared as people read it: zones, layers, parts, cables, people."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import TypeVar

from curecal.records import Record, record
from curecal.toml_files.shown import nearest, shorten
from curecal.toml_files.table_reader import TableReader
from curecal.trade.findings import Severity
from curecal.trade.job import Layer, Person, Zone
from curecal.trade.names import comparable_name

T = TypeVar("T")


def named(text: str, among: Sequence[T], names: Callable[[T], Sequence[str | None]]) -> list[T]:
    """Return what a name means: what has it letter by letter, else what reads the same.

    Args:
        text: The name as somebody wrote it.
        among: What it may mean.
        names: The names each has.

    Returns:
        Everything that has the name, in order.
    """
    exact = [thing for thing in among if text in names(thing)]
    if exact:
        return exact
    wanted = comparable_name(text)
    return [
        thing
        for thing in among
        if wanted in {comparable_name(name) for name in names(thing) if name}
    ]


def zone_named(text: str, zones: Sequence[Zone]) -> Zone | None:
    """Return the zone of a name or an id; None where none or several read like it."""
    for zone in zones:
        if text in {zone.id, zone.name}:
            return zone
    found = named(text, zones, lambda zone: (zone.id, zone.name))
    return found[0] if len(found) == 1 else None


@record
class Names(Record):
    """What entries may name: zones and layers, by id or by name, and the job's people."""

    zones: Sequence[Zone]
    people: Sequence[Person] = ()

    def person(self, text: str | None) -> str | None:
        """Return a signature as the job writes the person's name; another stays as it is."""
        if text is None:
            return None
        known = tuple(dict.fromkeys(person.name for person in self.people))
        found = named(text, known, lambda name: (name,))
        return found[0] if len(found) == 1 else text

    def zone(self, notes: TableReader, text: str | None, path: str) -> Zone | None:
        """Return the zone of a name; an unknown one is found."""
        if text is None:
            return None
        found = zone_named(text, self.zones)
        if found is not None:
            return found
        known = [zone.name for zone in self.zones]
        params = {"text": shorten(text), "nearest": nearest(text, known), "known": ", ".join(known)}
        notes.find(Severity.ERROR, "zone-not-there", path, params)
        return None

    def layer(
        self, notes: TableReader, text: str, place: tuple[Zone | None, str | None], path: str
    ) -> tuple[Zone, Layer] | None:
        """Return the layer of a name, in a zone and a part where they are said."""
        within, part = place
        pairs = [
            (zone, layer)
            for zone in self.zones
            if within is None or zone is within
            for layer in zone.layers
        ]
        found = []
        for zone in self.zones:
            own = [pair for pair in pairs if pair[0] is zone]
            by_id = [pair for pair in own if text == pair[1].id]
            found += by_id or named(text, own, lambda pair: (pair[1].name, pair[1].id))
        if part is not None and found:
            parts = [pair[1].part for pair in found if pair[1].part is not None]
            found = named(part, found, lambda pair: (pair[1].part,))
            if not found:
                there = {"text": shorten(part), "layer": shorten(text), "known": ", ".join(parts)}
                notes.find(Severity.ERROR, "part-not-there", path, there)
                return None
        if len(found) == 1:
            return found[0]
        known = list(dict.fromkeys(layer.name for _, layer in pairs))
        params = {"text": shorten(text), "nearest": nearest(text, known), "known": ", ".join(known)}
        zones = dict.fromkeys(zone.name for zone, _ in found)
        if len(zones) > 1:
            having = ", ".join(zones)
            several = {"text": shorten(text), "zones": having, "example": found[0][0].name}
            notes.find(Severity.ERROR, "layer-in-several-zones", path, several)
        elif found:
            notes.find(Severity.ERROR, "layer-not-one", path, params)
        else:
            notes.find(Severity.ERROR, "layer-not-there", path, params)
        return None

    def cable(
        self, notes: TableReader, text: str, within: Zone | None, path: str
    ) -> tuple[Zone, str] | None:
        """Return a cable's zone and name; a name that none or several have is found."""
        zones = self.zones if within is None else (within,)
        pairs = [(zone, cable.name) for zone in zones for cable in zone.heating.cables]
        having = named(text, pairs, lambda pair: (pair[1],))
        if len(having) == 1:
            return having[0]
        if having:
            there = ", ".join(zone.name for zone, _ in having)
            several = {"text": shorten(text), "zones": there, "example": having[0][0].name}
            notes.find(Severity.ERROR, "cable-in-several-zones", path, several)
            return None
        known = [name for _, name in pairs if name]
        params = {"text": shorten(text), "nearest": nearest(text, known), "known": ", ".join(known)}
        code = "cable-not-there" if known else "cable-has-no-name"
        notes.find(Severity.ERROR, code, path, params)
        return None
