"""What each entry of the log is called."""

from __future__ import annotations

from curecal.trade.site_log import (
    Connected,
    Continuity,
    Correction,
    Done,
    Energized,
    Entry,
    HeatStep,
    Inspection,
    Kept,
    MarkedPoints,
    MoistureTest,
    NotTested,
    Protection,
    Reading,
    Release,
    Remark,
    Resistance,
    Resumed,
    Series,
    Stopped,
    ThermostatSet,
    VisitNote,
)

DONE = "done"
"""What an entry is called that says a layer is finished."""

_KINDS: dict[type[Entry], str] = {
    Connected: "connected",
    Continuity: "continuity",
    Correction: "correction",
    Done: DONE,
    Energized: "energized",
    HeatStep: "heat_step",
    Inspection: "inspection",
    Kept: "kept",
    MarkedPoints: "test_points",
    MoistureTest: "moisture",
    NotTested: "not_tested",
    Protection: "protection",
    Release: "release",
    Remark: "note",
    Resistance: "resistance",
    Resumed: "resumed",
    Series: "readings",
    Stopped: "stopped",
    ThermostatSet: "thermostat",
    VisitNote: "visit",
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
