"""How wet a base may be before it is covered: a sheet's own limit, else its class's."""

from __future__ import annotations

from curecal.material_classes.rules import load_rules
from curecal.toml_files.table_reader import Read
from curecal.trade.data_sheets import MoistureLimit, strictest
from curecal.trade.sources import Source


def strictest_limits() -> tuple[MoistureLimit, ...]:
    """Return each method's strictest limit: what counts for a pour that is of no class."""
    sheets = load_rules().classes.values()
    return strictest(limit for sheet in sheets for limit in sheet.moisture_limits)


def moisture_limits_in(
    read: Read, source: Source, of_class: tuple[MoistureLimit, ...] = ()
) -> tuple[MoistureLimit, ...]:
    """Return how wet a base may be by each method: a sheet's limits, else its class's."""
    stated = read.get("moisture") or {}
    own = [
        MoistureLimit(method, told.fraction, source, told.evaporated_kgm2s)
        for method, told in stated.items()
    ]
    return (*own, *(limit for limit in of_class if limit.method not in stated))
