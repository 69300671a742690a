"""The shipped rules and material classes, read once.

A rule, a wait, a limit without a basis and a source does not load.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import fields
from functools import cache
from typing import Any

import tomli

from curecal import units
from curecal.errors import CurecalError
from curecal.records import PlainView, Record, record
from curecal.shipped import shipped_text
from curecal.trade.data_sheets import (
    Amount,
    DataSheet,
    DryingWait,
    FixedWait,
    Hardening,
    Kind,
    Milestone,
    MoistureLimit,
    SheetWait,
    ThicknessWait,
    UntilTested,
    Wait,
)
from curecal.trade.hold_codes import Gate, HoldCode
from curecal.trade.job import CoveringKind, Role
from curecal.trade.rules import (
    BareScreedRule,
    BedRule,
    CableLayingRule,
    CementRule,
    ElectricalRule,
    FirstHeatRule,
    FrostRule,
    HeatWaitRule,
    HoldPoint,
    MinimumRule,
    MoistureRule,
    Need,
    RatingRule,
    RepairRule,
    Rule,
    Rules,
    SealedMortarRule,
    SpotReadingsRule,
    UnmeasuredRule,
)
from curecal.trade.sources import Basis, Source

# Our own choice (R3): a coat gives its water off at once, a base draws and holds it for weeks.
_DAMP_LIMIT_THIN = 0.85
_DAMP_LIMIT_BASE = 0.75
_THIN = frozenset({Kind.PRIMER, Kind.MEMBRANE, Kind.SEALER})
_CLASS_C, _CLASS_RH = 20.0, 0.50

# The end of a key is what says the unit its number must be written in.
_BY_SUFFIX: dict[str, Callable[[object], float]] = {
    "_s": units.duration,
    "_c": units.temperature,
    "_k": units.temperature_step,
    "_m": units.length,
    "_rh": units.fraction,
    "_fraction": units.fraction,
    "_ohm": units.resistance,
}

NUMBERS: dict[str, tuple[str, type[Record]]] = {
    "R1": ("cement", CementRule),
    "R5": ("spot_readings", SpotReadingsRule),
    "R6": ("unmeasured", UnmeasuredRule),
    "R7": ("bed", BedRule),
    "R9": ("rating", RatingRule),
    "R10": ("heat_wait", HeatWaitRule),
    "R12": ("sealed_mortar", SealedMortarRule),
    "R14": ("bare_screed", BareScreedRule),
    "R16": ("frost", FrostRule),
    "R17": ("minimum", MinimumRule),
    "R18": ("repair", RepairRule),
    "R19": ("first_heat", FirstHeatRule),
    "R24": ("moisture", MoistureRule),
    "R25": ("electrical", ElectricalRule),
    "R25a": ("cable_laying", CableLayingRule),
}
"""Which field of the rules holds which rule's numbers."""

Table = PlainView


@cache
def load_rules() -> Rules:
    """Return the shipped rules with their classes, numbers in SI.

    Raises:
        CurecalError: the shipped data is damaged, or an entry has no source.
    """
    return parse_rules(_read("rules.toml"), _read("classes.toml"))


def drying_limit(kind: Kind) -> float:
    """Return the humidity [0, 1] from which on a product that dries dries no more.

    Rule: R3.
    """
    return _DAMP_LIMIT_THIN if kind in _THIN else _DAMP_LIMIT_BASE


@record
class ListedClass(Record):
    """A class as people choose it: its names, the usual one first, and what it is."""

    names: tuple[str, ...]
    means: str
    sheet: DataSheet


@cache
def classes_by_use() -> Mapping[str, tuple[ListedClass, ...]]:
    """Return every shipped class by what it is for, in the order of the data.

    Raises:
        CurecalError: the shipped data is damaged.
    """
    found: dict[str, list[ListedClass]] = {}
    for name, entry in _read("classes.toml")["class"].items():
        names = (name, *entry.get("aliases", ()))
        listed = ListedClass(names, entry["means"], load_rules().classes[name])
        found.setdefault(entry["use"], []).append(listed)
    return {use: tuple(classes) for use, classes in found.items()}


def may_be_heated(sheet: DataSheet) -> bool:
    """Return whether a class may lie in a heated floor: no mastic, and no dispersion."""
    return sheet.kind is not Kind.MASTIC and not sheet.is_dispersion


def usable_classes() -> list[str]:
    """Return the names of the classes that may lie in a heated floor, sorted."""
    return sorted(name for name, sheet in load_rules().classes.items() if may_be_heated(sheet))


def parse_rules(rules: Table, classes: Table) -> Rules:
    """Return rules from the tables of rules, hold points and cautions, and of classes.

    Raises:
        CurecalError: an entry has no source, or is not understood.
    """
    by_id = {name: _rule(name, entry) for name, entry in rules["rule"].items()}
    numbers = {name: _numbers(name, entry) for name, entry in rules["rule"].items()}
    told = {field: _filled(rule, kind, numbers[rule]) for rule, (field, kind) in NUMBERS.items()}
    unread = [name for name, given in numbers.items() if given and name not in NUMBERS]
    if unread:
        raise CurecalError("data-number-unread", entry=", ".join(unread))
    holds = tuple(
        HoldPoint(
            **{
                **entry,
                "code": HoldCode(entry["code"]),
                "gates": Gate(entry["gates"]),
                "by": Role(entry["by"]),
                "codes": tuple(entry.get("codes", ())),
            }
        )
        for entry in rules["hold"]
    )
    return Rules(
        by_id=by_id,
        classes=_classes(classes, by_id, told),
        needs=_needs(classes["needs"]),
        holds=holds,
        cautions=tuple(rules["cautions"]["codes"]),
        **told,
    )


def _filled(rule: str, kind: type[Record], numbers: Mapping[str, float]) -> Any:
    """Return a rule's numbers as its record, which wants each of them and no other."""
    names = {field.name for field in fields(kind)}
    if names != set(numbers):
        raise CurecalError("data-number-unread", entry=f"{rule}: {sorted(names ^ set(numbers))}")
    return kind(**numbers)


def _read(name: str) -> Table:
    return tomli.loads(shipped_text(name))


def _source(name: str, entry: Table) -> Source:
    if not entry.get("basis") or not entry.get("source"):
        raise CurecalError("data-without-source", entry=name)
    return Source(Basis(entry["basis"]), entry["source"], entry.get("works"))


def _rule(name: str, entry: Table) -> Rule:
    return Rule(name, entry["title"], _source(name, entry))


def _numbers(name: str, entry: Table) -> dict[str, float]:
    return {key: _number(name, key, value) for key, value in entry.get("numbers", {}).items()}


def _number(rule: str, key: str, value: object) -> float:
    if key.endswith("_count") and isinstance(value, int):
        return value
    for suffix, reads in _BY_SUFFIX.items():
        if key.endswith(suffix):
            return reads(value)
    raise CurecalError("data-number-without-unit", entry=f"{rule}.{key}")


def _classes(tables: Table, rules: Mapping[str, Rule], told: PlainView) -> dict[str, DataSheet]:
    found: dict[str, DataSheet] = {}
    for name, entry in tables["class"].items():
        sheet = _class(name, entry, tables["moisture"], rules, told)
        for known in (name, *entry.get("aliases", ())):
            found[known] = sheet
    return found


def _needs(tables: Table) -> dict[str, tuple[Need, ...]]:
    """Return what each family of coverings needs above the cable; none may be left out."""
    families = {kind.family for kind in CoveringKind}
    return {
        family: tuple(
            Need(name, frozenset(map(Kind, kinds))) for name, kinds in tables[family].items()
        )
        for family in sorted(families)
    }


def _class(
    name: str, entry: Table, limits: Table, rules: Mapping[str, Rule], told: PlainView
) -> DataSheet:
    kind, hardens_by = Kind(entry["kind"]), Hardening(entry["hardens_by"])
    rated = entry.get("rated", {})
    rated_c = units.temperature(rated["temperature"]) if "temperature" in rated else _CLASS_C
    rated_rh = units.humidity(rated["humidity"]) if "humidity" in rated else _CLASS_RH
    minimum_c, minimum_source = told["minimum"].minimum_c, rules["R17"].source
    if "minimum" in entry:
        minimum_c = units.temperature(entry["minimum"]["temperature"])
        minimum_source = _source(f"{name}.minimum", entry["minimum"])

    def wait(place: str, stated: Table) -> Wait:
        return _wait(f"{name}.{place}", stated, hardens_by, rated_c, rated_rh)

    waits = {Milestone(key): wait(key, stated) for key, stated in entry.get("wait", {}).items()}
    heat = _heat(entry.get("heat"), told["heat_wait"], rules["R10"].source, hardens_by, rated_rh)
    if heat is not None:
        waits[Milestone.HEAT] = heat
    return DataSheet(
        name=name,
        kind=kind,
        hardens_by=hardens_by,
        source=Source(Basis.COMMON_PRACTICE, f"material class {name}"),
        rated_c=rated_c,
        rated_rh=rated_rh,
        minimum_c=minimum_c,
        minimum_source=minimum_source,
        modified=bool(entry.get("modified", True)),
        rapid=bool(entry.get("rapid", False)),
        drying_limit_rh=drying_limit(kind),
        waits=waits,
        covers={
            key: wait(f"cover.{key}", stated) for key, stated in entry.get("cover", {}).items()
        },
        bare_heat=wait("bare_heat", entry["bare_heat"]) if "bare_heat" in entry else None,
        no_later={
            Milestone(key): (units.duration(stated["time"]), _source(f"{name}.no_later", stated))
            for key, stated in entry.get("no_later", {}).items()
        },
        frost_age_s=told["frost"].age_s,
        moisture_limits=tuple(
            MoistureLimit(method, units.fraction(stated["limit"]), _source(name, stated))
            for method, stated in limits.get(entry.get("moisture", ""), {}).items()
        ),
    )


def _heat(
    stated: str | None,
    fallback: HeatWaitRule,
    source: Source,
    hardens_by: Hardening,
    rated_rh: float,
) -> Wait | None:
    """Return a class's heat wait: the fallback, or that the sheet must say."""
    rated_c = fallback.rated_c
    if stated == "fallback":
        wait_s = fallback.fallback_s
        written = units.show_duration(wait_s)
        return Wait(FixedWait(wait_s), source, rated_c, rated_rh, hardens_by, written)
    if stated == "sheet":
        return Wait(SheetWait(), source, rated_c, rated_rh, hardens_by)
    return None


def _wait(
    place: str, stated: Table, hardens_by: Hardening, rated_c: float, rated_rh: float
) -> Wait:
    amount, written = _amount(place, stated)
    law = Hardening(stated["law"]) if "law" in stated else hardens_by
    if isinstance(amount, DryingWait):
        law = Hardening.DRYING
    return Wait(amount, _source(place, stated), rated_c, rated_rh, law, written)


def _amount(place: str, stated: Table) -> tuple[Amount, str]:
    if "time" in stated:
        return FixedWait(units.duration(stated["time"])), stated["time"]
    if "per" in stated:
        time, _, length = stated["per"].partition(" per ")
        per_m_s = units.duration(time) / units.length(f"1 {length}")
        at_least_s, limit_m = units.duration(stated["at_least"]), units.length(stated["to"])
        written = f"{stated['per']}, at least {stated['at_least']}"
        return ThicknessWait((), at_least_s, per_m_s, limit_m), written
    if "bands" in stated:
        bands = [(units.length(to), units.duration(time)) for to, time in stated["bands"].items()]
        written = ", ".join(f"{time} to {to}" for to, time in stated["bands"].items())
        return ThicknessWait(tuple(sorted(bands))), written
    if "drying" in stated:
        rule = units.drying_rule(stated["drying"])
        segments = tuple((segment.to_m, segment.s_per_m) for segment in rule)
        under_cover_s = units.duration(stated["under_cover"]) if "under_cover" in stated else 0.0
        return DryingWait(segments, under_cover_s), stated["drying"]
    if stated.get("test"):
        return UntilTested(), ""
    if stated.get("sheet"):
        return SheetWait(), ""
    raise CurecalError("data-wait-unknown", entry=place)
