"""What each entry of the log is called."""

from __future__ import annotations

from curecal.trade.site_log import (
    Connected,
    Correction,
    Done,
    Energized,
    Entry,
    HeatStep,
    Inspection,
    Kept,
    MarkedPoints,
    MoistureTest,
    Protection,
    Reading,
    Release,
    Remark,
    Resistance,
    Series,
    Stopped,
    ThermostatSet,
)

_KINDS: dict[type[Entry], str] = {
    Connected: "connected",
    Correction: "correction",
    Done: "done",
    Energized: "energized",
    HeatStep: "heat_step",
    Inspection: "inspection",
    Kept: "kept",
    MarkedPoints: "test_points",
    MoistureTest: "moisture",
    Protection: "protection",
    Release: "release",
    Remark: "note",
    Resistance: "resistance",
    Series: "readings",
    Stopped: "stopped",
    ThermostatSet: "thermostat",
}


def kind_of(entry: Entry) -> str:
    """Return the kind of an entry as its `kind` says in the log.

    Rule: R27.

    Args:
        entry: the entry.

    Returns:
        Such as "air" or "done".
    """
    # What the core has no class for is kept, never computed with.
    return entry.place.value if isinstance(entry, Reading) else _KINDS.get(type(entry), "note")
