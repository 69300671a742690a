"""A job's or a company's materials: their own numbers over those of the class they belong to."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from itertools import pairwise
from types import MappingProxyType

from curecal import units
from curecal.errors import QuantityRefused, ValueRefused
from curecal.job_files.material_checks import check_heat, check_rating, check_short
from curecal.job_files.moisture_limits import moisture_limits_in, strictest_limits
from curecal.material_classes.rules import drying_limit, load_rules, usable_classes
from curecal.records import Record, record
from curecal.toml_files.schema import COVER_KEYS, COVERING_ALIASES, Key
from curecal.toml_files.shown import nearest, shorten
from curecal.toml_files.table_reader import (
    Read,
    Table,
    TableReader,
    ask_long_wait,
    read_table,
    table_in,
)
from curecal.toml_files.values import plain_temperature, wait_s
from curecal.trade.data_sheets import (
    POURED,
    Amount,
    DataSheet,
    DryingWait,
    FixedWait,
    Hardening,
    Kind,
    Milestone,
    TableWait,
    UntilTested,
    Wait,
)
from curecal.trade.findings import Severity
from curecal.trade.sources import Source

USUAL: Mapping[Kind, Hardening] = MappingProxyType(
    {
        Kind.CONCRETE: Hardening.CEMENT,
        Kind.SCREED: Hardening.CEMENT,
        Kind.MORTAR_BED: Hardening.CEMENT,
        Kind.LEVELER: Hardening.CEMENT,
        Kind.GYPSUM_LEVELER: Hardening.DRYING,
        Kind.THINSET: Hardening.CEMENT,
        Kind.GROUT: Hardening.CEMENT,
        Kind.UNCOUPLING_SHEET: Hardening.AT_ONCE,
        Kind.MEMBRANE: Hardening.DRYING,
        Kind.PRIMER: Hardening.DRYING,
        Kind.BARRIER: Hardening.REACTION,
        Kind.SEALER: Hardening.DRYING,
        Kind.ADHESIVE: Hardening.REACTION,
        Kind.BACKER_BOARD: Hardening.AT_ONCE,
        Kind.CEMENT_BOARD: Hardening.AT_ONCE,
        Kind.GYPSUM_FIBER_BOARD: Hardening.AT_ONCE,
        Kind.FOAM_CORE_BOARD: Hardening.AT_ONCE,
        Kind.INSULATION_BOARD: Hardening.AT_ONCE,
        Kind.WATERPROOFING_SHEET: Hardening.AT_ONCE,
        Kind.DRY_SCREED: Hardening.AT_ONCE,
        Kind.POURED_ASPHALT: Hardening.AT_ONCE,
        Kind.POURED_FINISH: Hardening.CEMENT,
        Kind.PLYWOOD: Hardening.AT_ONCE,
        Kind.MASTIC: Hardening.DRYING,
        Kind.SILICONE: Hardening.REACTION,
        Kind.PERIMETER_STRIP: Hardening.AT_ONCE,
    }
)
# What comes hard to the site, or is hard once it is cold.
_AT_ONCE = frozenset(kind for kind, usual in USUAL.items() if usual is Hardening.AT_ONCE)
# A binder that the kind alone does not tell, and that decides which law the clock follows.
_AMBIGUOUS = frozenset({Kind.SCREED, Kind.GROUT, Kind.MEMBRANE, Kind.POURED_FINISH, Kind.ADHESIVE})
_MILESTONES = tuple(
    milestone for milestone in Milestone if milestone not in {Milestone.COVER, Milestone.BARE_HEAT}
)
_DRYING = "drying"


def class_of_kind(
    kind: Kind, hardens_by: Hardening, *, rapid: bool = False, modified: bool = True
) -> DataSheet | None:
    """Return the shipped class whose numbers stand in where a sheet is silent.

    A rapid product may take an ordinary class's longer times; never the other way around.

    Args:
        kind: Kind of the product.
        hardens_by: How it hardens.
        rapid: Whether it sets rapidly.
        modified: Whether it is polymer-modified.

    Returns:
        The class, or None where none fits.
    """
    fitting = [
        sheet
        for sheet in load_rules().classes.values()
        if sheet.kind is kind and sheet.hardens_by is hardens_by and (rapid or not sheet.rapid)
    ]
    return min(
        fitting,
        key=lambda sheet: (sheet.rapid is not rapid, sheet.modified is not modified),
        default=None,
    )


@record
class _WaitReader(Record):
    """What the waits of one material share."""

    reader: TableReader
    source: Source
    rated_c: float
    rated_rh: float
    law: Hardening
    drying: DryingWait | None

    def wait(self, value: object, path: str, example: str = '"48 h"') -> Wait | None:
        """Return one wait, or None where it was refused; the refusal is kept."""
        try:
            found = self._wait(value, example)
        except ValueRefused as error:
            self.reader.refused(error, path)
            return None
        self._ask_long(value, found.amount, path)
        return found

    def _ask_long(self, value: object, amount: Amount, path: str) -> None:
        rows = [(value, amount.wait_s)] if isinstance(amount, FixedWait) else []
        if isinstance(amount, TableWait) and isinstance(value, dict):
            rows = [(text, wait_s(text, Key("wait", "wait", "", ""))) for text in value.values()]
        for text, time_s in rows:
            ask_long_wait(self.reader, time_s, text, path)

    def _wait(self, value: object, example: str) -> Wait:
        law, written = self.law, shorten(value)
        amount: Amount
        if isinstance(value, dict):
            points = _table(value)
            amount = TableWait(points)
            written = ", ".join(f"{key}: {inner}" for key, inner in value.items())
        elif value == _DRYING:
            if self.drying is None:
                raise ValueRefused("drying-without-rule")
            amount, law = self.drying, Hardening.DRYING
        else:
            amount = FixedWait(wait_s(value, Key("wait", "wait", example, "")))
        return Wait(amount, self.source, self.rated_c, self.rated_rh, law, written)


def _table(value: Mapping[str, object]) -> tuple[tuple[float, float], ...]:
    """Return a table of times by temperature, coldest first: warmer is never longer."""
    key = Key("wait", "wait", '{ "50 °F" = "48 h", "70 °F" = "24 h" }', "")
    rows = sorted((plain_temperature(name, key), wait_s(time, key)) for name, time in value.items())
    rising = all(one[0] < two[0] and one[1] >= two[1] for one, two in pairwise(rows))
    if not rows or not rising:
        raise ValueRefused("wait-table-rises", example=key.example)
    return tuple(rows)


def read_material(reader: TableReader, name: str, raw: Table, path: str) -> DataSheet | None:
    """Return a material's complete sheet: its own numbers, and its class's where it is silent.

    Args:
        reader: Where findings are kept.
        name: The material's name.
        raw: Its table.
        path: Its place.

    Returns:
        The sheet, or None where its kind or its source is not known.
    """
    read = read_table(reader, raw, "material", path)
    source = read.source()
    waits = read_table(reader, table_in(read, "wait"), "wait", read.at("wait"))
    later = read_table(reader, table_in(read, "no_later"), "no_later", read.at("no_later"))
    rated = read_table(reader, table_in(read, "rated"), "rated", read.at("rated"))
    if source is None or read.get("kind") is None:
        return None
    kind = Kind(read.get("kind"))
    law = _law(reader, read, kind)
    rules = load_rules()
    rated_c = rated.get("temperature", rules.rating.rated_c)
    rated_rh = rated.get("humidity", rules.rating.rated_rh)
    base = class_of_kind(
        kind, law, rapid=read.get("rapid", False), modified=read.get("modified", True)
    )
    if base is None:
        fallback = next(iter(rules.classes.values()))
        base = DataSheet(
            name, kind, law, source, rated_c, rated_rh, fallback.minimum_c, fallback.minimum_source,
            drying_limit_rh=drying_limit(kind),
            moisture_limits=strictest_limits() if kind in POURED else (),
        )  # fmt: skip
    drying = _drying_of(read, base)
    wait_reader = _WaitReader(reader, source, rated_c, rated_rh, law, drying)
    covers = _covers(wait_reader, read, waits, base)
    own: dict[Milestone, Wait] = {
        milestone: found
        for milestone in _MILESTONES
        if milestone.value in waits
        and (found := wait_reader.wait(waits.get(milestone.value), waits.at(milestone.value)))
    }
    sheet = replace(
        base,
        name=name,
        source=source,
        rated_c=rated_c,
        rated_rh=rated_rh,
        minimum_c=read.get("minimum", base.minimum_c),
        minimum_source=source if "minimum" in read else base.minimum_source,
        modified=read.get("modified", base.modified),
        rapid=read.get("rapid", False),
        doubling_k=read.get("doubling", base.doubling_k),
        waits=MappingProxyType({**base.waits, **own}),
        covers=MappingProxyType(covers),
        heat_sealed=_optional(wait_reader, waits, "heat_sealed") or base.heat_sealed,
        final_cure=_final(wait_reader, waits),
        no_later=MappingProxyType(
            {
                **base.no_later,
                **{Milestone(key): (time_s, source) for key, time_s in later.values.items()},
            }
        ),
        frost_age_s=waits.get("frost", base.frost_age_s),
        moisture_limits=moisture_limits_in(read, source, base.moisture_limits),
    )
    check_heat(reader, sheet, waits)
    check_short(reader, sheet, read, waits)
    check_rating(reader, sheet, read, rated)
    return sheet


def _law(reader: TableReader, read: Read, kind: Kind) -> Hardening:
    """Return how a product hardens: as it says, else as its kind usually does."""
    usual = USUAL[kind]
    stated = read.get("hardens_by")
    if stated is None:
        if kind in _AMBIGUOUS and "hardens_by" not in read.raw:
            params = {"kind": kind.value, "hardens_by": usual.value}
            reader.find(Severity.WARNING, "hardening-assumed", read.at("hardens_by"), params)
        return usual
    law = Hardening(stated)
    if law is Hardening.AT_ONCE and kind not in _AT_ONCE:
        reader.find(
            Severity.ERROR, "at-once-not-for-kind", read.at("hardens_by"), {"kind": kind.value}
        )
        return usual
    return law


def _drying_of(read: Read, base: DataSheet) -> DryingWait | None:
    """Return the drying rule of a sheet, or its class's; what is silent is the class's."""
    of_class = next(
        (wait.amount for wait in base.covers.values() if isinstance(wait.amount, DryingWait)), None
    )
    under_s = of_class.under_cover_s if of_class else 0.0
    under_s = read.get("cured_under_cover", under_s)
    if "drying" in read:
        return DryingWait(read.get("drying"), under_s)
    return of_class and replace(of_class, under_cover_s=under_s)


def _covers(wait_reader: _WaitReader, read: Read, waits: Read, base: DataSheet) -> dict[str, Wait]:
    """Return the waits before covering: the sheet's, and the class's for what it leaves out.

    A plain time does not replace a class's drying or test under a covering that shuts water in.
    """
    covers = dict(base.covers)
    if "drying" in read or "cured_under_cover" in read:
        drying = wait_reader.wait(_DRYING, read.at("drying"))
        names = [name for name, wait in covers.items() if isinstance(wait.amount, DryingWait)]
        if not covers and base.hardens_by is Hardening.DRYING:
            names = ["any"]
        covers |= {name: drying for name in names if drying is not None}
    stated = waits.get("cover")
    if stated is None:
        return covers
    path = waits.at("cover")
    if not isinstance(stated, dict) or _by_temperature(stated):
        plain = wait_reader.wait(stated, path)
        kept = {
            name: wait
            for name, wait in covers.items()
            if name != "any" and isinstance(wait.amount, DryingWait | UntilTested)
        }
        return {**kept, "any": plain} if plain is not None else covers
    for name, value in stated.items():
        key = COVERING_ALIASES.get(name, name)
        if key not in COVER_KEYS:
            params = {
                "text": shorten(name),
                "nearest": nearest(name, COVER_KEYS),
                "known": ", ".join(COVER_KEYS),
            }
            wait_reader.reader.find(Severity.ERROR, "cover-key-unknown", f"{path}.{name}", params)
            continue
        wait = wait_reader.wait(value, f"{path}.{name}")
        if wait is not None:
            covers[key] = wait
    return covers


def _by_temperature(stated: Mapping[str, object]) -> bool:
    """Return whether any key of a table is a temperature: then all have to be."""
    for name in stated:
        try:
            units.temperature(name)
        except QuantityRefused:
            continue
        return True
    return False


def _optional(wait_reader: _WaitReader, waits: Read, key: str) -> Wait | None:
    return wait_reader.wait(waits.get(key), waits.at(key)) if key in waits else None


def _final(wait_reader: _WaitReader, waits: Read) -> Wait | None:
    """Return the final cure: shown, never a wait before heat."""
    if "cure" not in waits:
        return None
    amount = FixedWait(waits.get("cure"))
    written = shorten(waits.raw["cure"])
    return Wait(
        amount,
        wait_reader.source,
        wait_reader.rated_c,
        wait_reader.rated_rh,
        wait_reader.law,
        written,
    )


def materials_in(reader: TableReader, tables: Table, path: str) -> dict[str, DataSheet | None]:
    """Return sheets by name; None for one that could not be read, so that it is known as such."""
    return {
        name: read_material(reader, name, raw, f"{path}.{name}") for name, raw in tables.items()
    }


def find_material(
    reader: TableReader, name: str, known: Mapping[str, DataSheet | None], path: str
) -> DataSheet | None:
    """Return the sheet of a name; an unknown one is found, with the nearest there is."""
    if name in known:
        return known[name]
    classes = load_rules().classes
    if name in classes:
        return classes[name]
    usable = usable_classes()
    names = [*known, *usable]
    params = {
        "text": shorten(name),
        "nearest": nearest(name, names),
        "known": ", ".join(usable),
    }
    reader.find(Severity.ERROR, "material-unknown", path, params)
    return None
