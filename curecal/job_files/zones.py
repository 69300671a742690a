"""Zones and their layers, bottom to top."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from datetime import datetime, time

from curecal import units
from curecal.instants import end_of_day
from curecal.job_files.heating import Sensors, covering_in, heat_up_in, heating_in, with_wait_layer
from curecal.job_files.job_keys import fresh_id, slug
from curecal.job_files.layer_names import check_layer_names
from curecal.job_files.layer_order import check_dispersions, check_layer_order
from curecal.job_files.materials import find_material
from curecal.records import Record, record
from curecal.toml_files.shown import nearest, shorten
from curecal.toml_files.spans import FASTEST_M2_PER_S, THICKNESS_M, meant
from curecal.toml_files.table_reader import Read, Table, TableReader, read_table, table_in
from curecal.trade.data_sheets import BESIDE_THE_FLOOR, DataSheet, Kind, Milestone
from curecal.trade.findings import Severity
from curecal.trade.job import UNNAMED_COVERING, Covering, CoveringFamily, Layer, Role, Room, Zone
from curecal.trade.names import comparable_name

Materials = Mapping[str, DataSheet | None]
# What somebody does to a layer in this job: none of it goes with one that was there before.
_WORK_KEYS = ("done", "planned_start", "planned_finish", "duration", "repair")

# "nort" is "north" misspelled; "door side" and "window side" are two parts.
_MISSPELLED = 0.85


@record
class Stock(Record):
    """What zones draw on: materials and sensors by name."""

    materials: Materials
    sensors: Sensors


def zones_in(reader: TableReader, tables: Sequence[Table], stock: Stock) -> tuple[Zone, ...]:
    """Return every zone that could be read, in order."""
    # A `zone` that is no table has been found fault with: not missing as well.
    if not tables and not any(found.path == "zone" for found in reader.findings):
        reader.find(Severity.ERROR, "no-zones", "zone", {})
    reads = [read_table(reader, raw, "zone", f"zone.{i}") for i, raw in enumerate(tables)]
    ids = _ids(reader, reads, "zone")
    names: set[str] = set()
    zones = []
    for read, zone_id in zip(reads, ids, strict=True):
        name = read.get("name") or read.get("id") or ""
        if not name and "name" not in read.raw:
            params = {"key": "name", "means": "What it is called", "example": 'name = "hall bath"'}
            reader.find(Severity.ERROR, "key-missing", read.at("name"), params)
        if name and name.casefold() in names:
            reader.find(Severity.ERROR, "name-twice", read.at("name"), {"text": shorten(name)})
        names.add(name.casefold())
        zones.append(_zone(reader, read, zone_id, name, stock))
    return tuple(zones)


def _ids(reader: TableReader, reads: Sequence[Read], kind: str) -> list[str]:
    """Return an id for each table: its own, else one made of its name that nobody else has."""
    stated: list[str] = []
    for read in reads:
        own = read.get("id")
        if own is not None and own in stated:
            reader.find(Severity.ERROR, "id-twice", read.at("id"), {"text": shorten(own)})
        if own is not None:
            stated.append(own)
    taken, ids = list(stated), []
    for read in reads:
        made = read.get("id")
        if made is None:
            name = read.get("name") or read.get("material") or kind
            made = fresh_id(slug(name, kind), taken)
            taken.append(made)
        ids.append(made)
    return ids


def _zone(reader: TableReader, read: Read, zone_id: str, name: str, stock: Stock) -> Zone:
    covering = UNNAMED_COVERING
    if "covering" in read:
        covering = covering_in(reader, read.get("covering"), read.at("covering"))
    heating, wait_from = heating_in(
        reader, table_in(read, "heating"), read.at("heating"), stock.sensors
    )
    layers = _layers(reader, read, stock.materials)
    _check_pace(reader, layers, read.get("floor_area"))
    _check_grout(reader, layers, covering)
    _check_grout_wait(reader, layers, covering)
    heating = with_wait_layer(reader, heating, wait_from, layers)
    return Zone(
        id=zone_id,
        name=name,
        path=read.path,
        layers=layers,
        room=Room(read.get("room", Room.LIVING_SPACE)),
        floor_area_m2=read.get("floor_area"),
        energized_by=Role(read.get("energized_by", Role.ELECTRICIAN)),
        covering=covering,
        heating=heating,
        heat_up=heat_up_in(reader, table_in(read, "heat_up"), read.at("heat_up"), heating.kind),
    )


def _layers(reader: TableReader, zone: Read, materials: Materials) -> tuple[Layer, ...]:
    tables = zone.get("layer", ())
    if not tables and ("layer" not in zone.raw or "layer" in zone):
        reader.find(Severity.ERROR, "no-layers", zone.at("layer"), {})
    reads = [
        read_table(reader, raw, "layer", f"{zone.at('layer')}.{i}") for i, raw in enumerate(tables)
    ]
    # One part has one name, however its layers spell it: the first spelling stands.
    parts: dict[str, str] = {}
    found = []
    for read, layer_id in zip(reads, _ids(reader, reads, "layer"), strict=True):
        name = read.get("material")
        sheet = (
            None if name is None else find_material(reader, name, materials, read.at("material"))
        )
        if sheet is None:
            continue
        layer = Layer(
            id=layer_id,
            name=read.get("name") or name or "",
            sheet=sheet,
            path=read.path,
            thickness_m=read.get("thickness"),
            done_at=_finish(reader, read),
            planned_start_at=read.get("planned_start"),
            planned_finish_at=read.get("planned_finish"),
            duration_s=read.get("duration"),
            part=_part(read, parts),
            existing=read.get("existing", False),
            since_at=read.get("since"),
            repair=read.get("repair", False),
            heat_before_covering=read.get("heat_before_covering", False),
            over_cable=read.get("over_cable"),
            sure=read.get("sure", False),
        )
        _check(reader, read, layer)
        found.append(layer)
    _check_order(reader, found)
    check_layer_order(reader, found)
    check_dispersions(reader, found)
    check_layer_names(reader, found)
    _check_parts(reader, found)
    return tuple(found)


def _finish(reader: TableReader, read: Read) -> datetime | None:
    """Return when a layer was finished; midnight is what a program makes of a day without an hour.

    Rule: R27.
    """
    done: datetime | None = read.get("done")
    written = read.raw.get("done")
    if done is not None and isinstance(written, datetime) and written.tzinfo is None:
        return end_of_day(written.date(), reader.tz) if written.time() == time() else done
    return done


def _part(read: Read, parts: dict[str, str]) -> str | None:
    """Return the part a layer covers, by the name that stands for it."""
    part = read.get("part")
    return None if part is None else parts.setdefault(comparable_name(part), part)


def _check_parts(reader: TableReader, layers: Sequence[Layer]) -> None:
    """Note a part that only one layer names beside other parts: it may be one of them, misspelled.

    Layers of one kind, each in a part of its own, share the floor between them: those are meant.

    Rule: R12, R28.
    """
    count = Counter(layer.part for layer in layers)
    for layer in layers:
        others = [other for other in layers if other.part not in {None, layer.part}]
        if layer.part is None or count[layer.part] > 1 or not others:
            continue
        likely = nearest(layer.part, [other.part or "" for other in others], least=_MISSPELLED)
        if likely or not any(other.sheet.kind is layer.sheet.kind for other in others):
            params = {"layer": layer.name, "part": layer.part, "nearest": likely}
            reader.find(Severity.WARNING, "part-named-once", f"{layer.path}.part", params)


def _check(reader: TableReader, read: Read, layer: Layer) -> None:
    """Note what one layer says that cannot be."""
    if layer.sheet.kind is Kind.MASTIC:
        params = {"layer": layer.name}
        reader.find(Severity.ERROR, "mastic-on-heated-floor", read.at("material"), params)
    if layer.heat_before_covering and layer.sheet.kind is not Kind.SCREED:
        params = {"layer": layer.name, "kind": layer.sheet.kind.value}
        reader.find(
            Severity.ERROR, "bare-heat-needs-screed", read.at("heat_before_covering"), params
        )
    if layer.existing:
        for key in _WORK_KEYS:
            if read.get(key) not in {None, False}:
                params = {"layer": layer.name, "key": key}
                reader.find(Severity.ERROR, "existing-with-work", read.at(key), params)
    _check_since(reader, read, layer)
    _check_thickness(reader, read, layer)
    done, start, finish = layer.done_at, layer.planned_start_at, layer.planned_finish_at
    if done is not None and reader.is_today(done, read.raw["done"]):
        reader.find(Severity.CAUTION, "done-today", read.at("done"), {"layer": layer.name})
    elif done is not None and reader.clock is not None and done > reader.clock:
        when = {"layer": layer.name, **reader.local(done=done, now=reader.clock)}
        reader.find(Severity.ERROR, "done-in-future", read.at("done"), when)
    if start is not None and finish is not None and finish < start:
        span = {"layer": layer.name, **reader.local(start=start, finish=finish)}
        reader.find(Severity.ERROR, "plan-reversed", read.at("planned_finish"), span)


def _check_since(reader: TableReader, read: Read, layer: Layer) -> None:
    """Note an age of what is laid in this job, or one that is still ahead."""
    if layer.since_at is None:
        return
    params = {"layer": layer.name}
    if not layer.existing:
        reader.find(Severity.ERROR, "since-without-existing", read.at("since"), params)
    elif reader.clock is not None and layer.since_at > reader.clock:
        reader.find(Severity.ERROR, "since-in-future", read.at("since"), params)


def _check_grout(reader: TableReader, layers: Sequence[Layer], covering: Covering) -> None:
    """Note new joints under a covering that has none: some of the floor is tile then.

    The tile's own limits and waits would be lost: what shuts its mortar in, and for how long.

    Rule: R12, R24a.
    """
    if not covering.is_named or covering.kind.family is CoveringFamily.TILE:
        return
    for layer in layers:
        if layer.sheet.kind is Kind.GROUT and not layer.existing:
            params = {"layer": layer.name, "covering": covering.kind.value}
            reader.find(Severity.ERROR, "covering-not-grouted", layer.path, params)


def _check_grout_wait(reader: TableReader, layers: Sequence[Layer], covering: Covering) -> None:
    """Note an adhesive's wait before grout where nothing is grouted: it may be another wait's."""
    if not covering.is_named or covering.kind.family not in {
        CoveringFamily.WOOD,
        CoveringFamily.VINYL,
    }:
        return
    for layer in layers:
        if layer.sheet.kind is Kind.ADHESIVE and Milestone.GROUT in layer.sheet.waits:
            params = {"layer": layer.name, "covering": covering.kind.value}
            reader.find(Severity.WARNING, "grout-wait-without-grout", layer.path, params)


def _check_pace(reader: TableReader, layers: Sequence[Layer], area_m2: float | None) -> None:
    """Note planned work on a whole floor that nobody does so fast: its unit may be another."""
    for layer in layers:
        fastest = FASTEST_M2_PER_S.get(layer.sheet.kind)
        whole = layer.part is None and not layer.repair and layer.done_at is None
        if fastest is None or area_m2 is None or layer.duration_s is None or not whole:
            continue
        if area_m2 > layer.duration_s * fastest:
            params = {
                "layer": layer.name,
                "duration_s": layer.duration_s,
                "area_m2": area_m2,
                "least_s": area_m2 / fastest,
            }
            reader.find(Severity.WARNING, "work-very-fast", f"{layer.path}.duration", params)


def _check_thickness(reader: TableReader, read: Read, layer: Layer) -> None:
    """Note a thickness that no layer of its kind has; one too thin would be dry too early."""
    thickness_m, (least_m, most_m) = layer.thickness_m, THICKNESS_M[layer.sheet.kind]
    if thickness_m is None or layer.existing or least_m <= thickness_m <= most_m:
        return
    written = read.raw.get("thickness")
    params = {
        "layer": layer.name,
        "text": shorten(written),
        "least_m": least_m,
        "most_m": most_m,
        "meant": meant(written, units.length, least_m, most_m),
    }
    if thickness_m < least_m:
        reader.find(Severity.ERROR, "layer-too-thin", read.at("thickness"), params)
    else:
        reader.find(Severity.WARNING, "layer-very-thick", read.at("thickness"), params)


def _check_order(reader: TableReader, layers: Sequence[Layer]) -> None:
    """Note a layer finished before one that lies under it.

    Rule: R28.
    """
    for index, layer in enumerate(layers):
        done = layer.done_at
        if done is None or layer.existing or layer.sheet.kind in BESIDE_THE_FLOOR:
            continue
        under = [
            (other.done_at, other.name)
            for other in layers[:index]
            if other.done_at is not None
            and not other.existing
            and other.sheet.kind not in BESIDE_THE_FLOOR
            and (layer.part is None or other.part in {None, layer.part})
        ]
        if not under or done >= max(under)[0]:
            continue
        below_at, below = max(under)
        params = {"layer": layer.name, "under": below, **reader.local(done=done, earlier=below_at)}
        reader.find(Severity.ERROR, "done-before-below", f"{layer.path}.done", params)
