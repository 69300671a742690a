"""What each entry of the log is called."""

from __future__ import annotations

from curecal.trade.entry_kinds import EntryKind
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

_KINDS: dict[type[Entry], EntryKind] = {
    Connected: EntryKind.CONNECTED,
    Continuity: EntryKind.CONTINUITY,
    Correction: EntryKind.CORRECTION,
    Done: EntryKind.DONE,
    Energized: EntryKind.ENERGIZED,
    HeatStep: EntryKind.HEAT_STEP,
    Inspection: EntryKind.INSPECTION,
    Kept: EntryKind.KEPT,
    MarkedPoints: EntryKind.TEST_POINTS,
    MoistureTest: EntryKind.MOISTURE,
    NotTested: EntryKind.NOT_TESTED,
    Protection: EntryKind.PROTECTION,
    Release: EntryKind.RELEASE,
    Remark: EntryKind.NOTE,
    Resistance: EntryKind.RESISTANCE,
    Resumed: EntryKind.RESUMED,
    Series: EntryKind.READINGS,
    Stopped: EntryKind.STOPPED,
    ThermostatSet: EntryKind.THERMOSTAT,
    VisitNote: EntryKind.VISIT,
}


def kind_of(entry: Entry) -> EntryKind:
    """Return the kind of an entry as its `kind` says in the log.

    Rule: R27.

    Args:
        entry: the entry.

    Returns:
        Such as "air" or "done".
    """
    # What the core has no class for is kept, never computed with.
    if isinstance(entry, Reading):
        return EntryKind(entry.place.value)
    return _KINDS.get(type(entry), EntryKind.NOTE)
