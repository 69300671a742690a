"""How wet a base may be before it is covered: a sheet's own limit, else its class's."""

from __future__ import annotations

from curecal.material_classes.rules import load_rules
from curecal.toml_files.shown import shorten
from curecal.toml_files.table_reader import Read, TableReader
from curecal.trade.data_sheets import MoistureLimit
from curecal.trade.findings import Severity
from curecal.trade.sources import Source


def strictest_limits() -> tuple[MoistureLimit, ...]:
    """Return each method's strictest limit: what counts for a pour that is of no class."""
    found: dict[str, MoistureLimit] = {}
    for sheet in load_rules().classes.values():
        for limit in sheet.moisture_limits:
            known = found.setdefault(limit.method, limit)
            found[limit.method] = min(known, limit, key=lambda one: one.limit_fraction)
    return tuple(found.values())


def moisture_limits_in(
    reader: TableReader, read: Read, source: Source, of_class: tuple[MoistureLimit, ...]
) -> tuple[MoistureLimit, ...]:
    """Return how wet a product may be by each method: its sheet's limit, else its class's."""
    stated = read.get("moisture")
    if stated is None:
        return of_class
    # A bare percentage may be of the mass or of the air: a limit of which, only the sheet says.
    if stated.kind == "plain":
        params = {"text": shorten(read.raw["moisture"])}
        reader.find(Severity.ERROR, "moisture-limit-plain", read.at("moisture"), params)
        return of_class
    others = tuple(limit for limit in of_class if limit.method != stated.kind)
    return (MoistureLimit(stated.kind, stated.fraction, source), *others)
