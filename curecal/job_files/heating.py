"""A zone's heating, covering and heat-up wishes."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import replace

from curecal.job_files.job_keys import find_sensor
from curecal.job_files.moisture_limits import moisture_limits_in
from curecal.material_classes.rules import load_rules
from curecal.records import Record, record
from curecal.toml_files.schema import CABLE_KEYS, COVERING_ALIASES, LAYING_KEYS
from curecal.toml_files.shown import nearest, shorten
from curecal.toml_files.spans import MAKERS_HEAT_S, RAPID_HEAT_S
from curecal.toml_files.table_reader import (
    Read,
    Table,
    TableReader,
    ask_short_wait,
    read_table,
    table_in,
)
from curecal.trade.data_sheets import FixedWait, Hardening, Wait
from curecal.trade.findings import Severity
from curecal.trade.job import (
    UNNAMED_COVERING,
    Cable,
    Covering,
    CoveringFamily,
    CoveringKind,
    Heating,
    HeatingKind,
    HeatUpWish,
    Layer,
    Laying,
    SensorPlace,
    Thermistor,
)

Sensors = Mapping[str, Thermistor | None]
# The only cable of a zone needs no name; what the log says of no cable's name is about it.
_ONLY_CABLE = ""
# Unit conversion may leave a last bit: 131 °F is 55 °C.
_HAIR_K = 1e-6
_LEAST_OHM, _MOST_OHM = 0.01, 1e6
_COVERING_NAMES = frozenset({*(kind.value for kind in CoveringKind), *COVERING_ALIASES, "tile"})
_BETWEEN = re.compile(r" *(?:,|/|\+|&| and | or ) *")


@record
class WaitFrom(Record):
    """The layer a heating maker's wait runs from, as the file names it."""

    name: str
    path: str


def covering_in(reader: TableReader, value: object, path: str) -> Covering:
    """Return the finished surface, of its short form or its table; of several none is guessed."""
    raw = {"kind": value} if not isinstance(value, dict) else value
    several = _several(raw.get("kind"))
    if several:
        params = {"text": shorten(", ".join(several))}
        reader.find(Severity.ERROR, "coverings-several", path, params)
        return UNNAMED_COVERING
    read = read_table(reader, raw, "covering", path)
    kind = read.get("kind", CoveringKind.CERAMIC.value)
    _needs_source(reader, read, ("limit", "wait", "moisture", "absorbent"))
    source = read.source()
    covering = CoveringKind(COVERING_ALIASES.get(kind, kind))
    if read.get("laid") == "floating" and covering.family is CoveringFamily.TILE:
        reader.find(Severity.ERROR, "tile-floating", read.at("laid"), {})
    return Covering(
        kind=covering,
        size_m=read.get("size"),
        limit_c=read.get("limit"),
        wait=_makers_wait(reader, read, RAPID_HEAT_S),
        source=source,
        is_floating=read.get("laid") == "floating",
        moisture_limits=() if source is None else moisture_limits_in(read, source),
        is_absorbent=read.get("absorbent", False),
        has_joints=read.get("joints") != "none",
    )


def _several(kind: object) -> list[str]:
    """Return the coverings of a list, or of a text that names more than one; none of one."""
    if isinstance(kind, list | tuple):
        return [str(one.get("kind", "?") if isinstance(one, dict) else one) for one in kind] or [
            "?"
        ]
    named = _BETWEEN.split(kind.casefold()) if isinstance(kind, str) else []
    return named if len(named) > 1 and all(name in _COVERING_NAMES for name in named) else []


def heating_in(
    reader: TableReader, raw: Table, path: str, sensors: Sensors
) -> tuple[Heating, WaitFrom | None]:
    """Return a zone's heating, and the name of the layer its maker's wait runs from."""
    read = read_table(reader, raw, "heating", path)
    _needs_source(reader, read, ("floor_limit", "wait"))
    named = read.get("wait_from")
    if named is not None and "wait" not in raw:
        reader.find(Severity.ERROR, "wait-from-without-wait", read.at("wait_from"), {"text": named})
    heating = Heating(
        kind=HeatingKind(read.get("kind", HeatingKind.ELECTRIC)),
        cables=_cables(reader, read, sensors),
        wait=_makers_wait(reader, read, MAKERS_HEAT_S),
        floor_limit_c=read.get("floor_limit"),
        source=read.source(),
        supply_v=read.get("supply"),
        breaker_a=read.get("breaker"),
        protection=read.get("protection"),
        protection_source=read.get("protection_source"),
        circuit=read.get("circuit"),
        heated_area_m2=read.get("heated_area"),
    )
    return heating, None if named is None else WaitFrom(named, read.at("wait_from"))


def with_wait_layer(
    reader: TableReader, heating: Heating, wanted: WaitFrom | None, layers: Sequence[Layer]
) -> Heating:
    """Return the heating with the layer its maker's wait runs from, once layers are known."""
    if wanted is None:
        return heating
    text = wanted.name
    exact = [layer for layer in layers if text in {layer.id, layer.name}]
    alike = [layer for layer in layers if text in {layer.sheet.kind.value, layer.sheet.name}]
    found = exact or alike
    if len(found) == 1:
        return replace(heating, wait_from=found[0].id)
    known = [layer.name for layer in layers]
    params = {"text": shorten(text), "nearest": nearest(text, known), "known": ", ".join(known)}
    if found:
        reader.find(Severity.ERROR, "layer-not-one", wanted.path, params)
    else:
        reader.find(Severity.ERROR, "layer-not-there", wanted.path, params)
    return heating


def heat_up_in(reader: TableReader, raw: Table, path: str, kind: HeatingKind) -> HeatUpWish:
    """Return what the job asks of the first heat; a flow profile is for water floors only."""
    read = read_table(reader, raw, "heat_up", path)
    flow = read.get("flow", ())
    if flow and kind is HeatingKind.ELECTRIC:
        params = {
            "profile": ", ".join(str(item) for item in raw["flow"]),
            "highest_c": max(to_c for to_c, _ in flow),
        }
        reader.find(Severity.ERROR, "flow-profile-on-electric", read.at("flow"), params)
    highest_c = max((to_c for to_c, _ in flow), default=0.0)
    most_c = load_rules().bare_screed.flow_limit_c
    if kind is HeatingKind.WATER and highest_c > most_c + _HAIR_K:
        params = {"highest_c": highest_c, "limit_c": most_c}
        reader.find(Severity.ERROR, "flow-too-hot", read.at("flow"), params)
    return HeatUpWish(
        target_c=read.get("target"),
        step_k=read.get("step"),
        hold_days=read.get("hold"),
        flow=flow,
    )


def _makers_wait(reader: TableReader, read: Read, least_s: float) -> Wait | None:
    """Return the heating's or the covering's maker's wait, rated as stated, else for a usual room.

    A shorter one than `least_s` is asked about.

    Rule: R13, R9.
    """
    rated = read_table(reader, table_in(read, "rated"), "rated", read.at("rated"))
    source = read.source()
    if "wait" not in read or source is None:
        return None
    rules = load_rules()
    ask_short_wait(reader, read.get("wait"), least_s, read.raw["wait"], read.at("wait"))
    return Wait(
        FixedWait(read.get("wait")),
        source,
        rated.get("temperature", rules.rating.makers_c),
        rated.get("humidity", rules.rating.rated_rh),
        Hardening.CEMENT,
        shorten(read.raw["wait"]),
    )


def _needs_source(reader: TableReader, read: Read, keys: tuple[str, ...]) -> None:
    """Note a number that moves a date or a limit and does not say who states it."""
    for key in keys:
        if key in read.raw and "data_sheet" not in read.raw:
            params = {"key": key, "example": 'data_sheet = "installation guide, p. 14"'}
            reader.find(Severity.ERROR, "number-without-source", read.at(key), params)


def _cables(reader: TableReader, read: Read, sensors: Sensors) -> tuple[Cable, ...]:
    """Return the cables: figures in the heating table are one, named tables are several."""
    inline = [key for key in CABLE_KEYS if key in read.raw]
    rows = read.get("cable", ())
    if rows and inline:
        reader.find(Severity.ERROR, "cable-in-both-forms", read.path, {"key": inline[0]})
    if not rows:
        described = [key for key in (*CABLE_KEYS, *LAYING_KEYS) if key in read.raw]
        return (_cable(reader, read, _ONLY_CABLE, sensors),) if described else ()
    cables: list[Cable] = []
    for index, row in enumerate(rows):
        one = read_table(reader, row, "cable", f"{read.at('cable')}.{index}")
        name = one.get("name", "")
        if name and name in {cable.name for cable in cables}:
            reader.find(Severity.ERROR, "name-twice", one.at("name"), {"text": shorten(name)})
        cables.append(_cable(reader, one, name, sensors, read))
    return tuple(cables)


def _cable(
    reader: TableReader, read: Read, name: str, sensors: Sensors, of_all: Read | None = None
) -> Cable:
    """Return a cable; `of_all` says how every cable lies that does not say so itself."""
    tolerance, insulation = read.get("tolerance"), read.get("insulation")
    cable = Cable(
        name=name,
        voltage_v=read.get("voltage"),
        power_w=read.get("power"),
        resistance_ohm=read.get("resistance"),
        sensor=find_sensor(reader, read, sensors),
        serial=read.get("serial"),
        laying=_laying(read, of_all or read),
    )
    if cable.voltage_v is not None and cable.power_w is not None:
        label_ohm = cable.voltage_v * cable.voltage_v / cable.power_w
        if not _LEAST_OHM <= label_ohm <= _MOST_OHM:
            params = {"rated_v": cable.voltage_v, "rated_w": cable.power_w}
            reader.find(Severity.ERROR, "label-impossible", read.at("power"), params)
    if tolerance is not None:
        cable = replace(cable, below_fraction=tolerance.below, above_fraction=tolerance.above)
    if insulation is not None:
        cable = replace(cable, insulation_ohm=insulation.ohm, insulation_at_v=insulation.volt)
    return cable


def _laying(read: Read, of_all: Read) -> Laying:
    """Return how a cable lies; its area is its own, the heating's is that of all cables."""

    def own(key: str) -> float | None:
        found: float | None = read.get(key, of_all.get(key))
        return found

    place = read.get("sensor_place", of_all.get("sensor_place"))
    return Laying(
        heated_area_m2=read.get("heated_area"),
        spacing_m=own("spacing"),
        clearance_walls_m=own("clearance_walls"),
        clearance_drains_m=own("clearance_drains"),
        strapping_m=own("strapping"),
        sensor_place=None if place is None else SensorPlace(place),
    )
