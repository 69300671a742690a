"""What an entry of the log says that cannot be, or of which zone it leaves out to say it."""

from __future__ import annotations

from curecal.records import PlainView
from curecal.site_log_files.names import Names
from curecal.toml_files.table_reader import Read, TableReader
from curecal.trade.entry_kinds import EntryKind
from curecal.trade.findings import Severity

_READINGS = frozenset({EntryKind.AIR, EntryKind.SURFACE, EntryKind.FLOOR})
# Of these a wrong zone switches something on: where they name none, it is asked or said.
_CLEARING = frozenset(
    {
        EntryKind.PROTECTION,
        EntryKind.CONNECTED,
        EntryKind.THERMOSTAT,
        EntryKind.RELEASE,
        EntryKind.RESUMED,
    }
)


def check_every_zone(notes: TableReader, read: Read, kind: EntryKind, names: Names) -> None:
    """Note an entry that would clear every zone of several because it names none.

    Args:
        notes: Where findings are kept.
        read: The entry as read.
        kind: Its kind.
        names: The zones of the job.
    """
    if len(names.zones) == 1:
        return
    zones = [zone.name for zone in names.zones]
    params = {"zones": ", ".join(zones), "example": zones[0] if zones else ""}
    if kind is EntryKind.INSPECTION:
        notes.find(Severity.ERROR, "inspection-without-zone", read.path, params)
    elif kind in _CLEARING:
        notes.find(Severity.CAUTION, "entry-for-every-zone", read.path, params)


def check_entry(notes: TableReader, read: Read, kind: EntryKind, fields: PlainView) -> None:
    """Note what an entry says that cannot be.

    Args:
        notes: Where findings are kept.
        read: The entry as read.
        kind: Its kind.
        fields: Its fields, as far as they could be read.
    """
    at = read.get("at")
    clock = notes.clock
    is_ahead = at is not None and clock is not None and at > clock
    if clock is not None and is_ahead and not notes.is_today(at, read.raw["at"]):
        notes.find(
            Severity.WARNING,
            "entry-in-future",
            read.at("at"),
            notes.local(happened=at, now=clock),
        )
    if kind in _READINGS:
        if kind not in read.raw and "humidity" not in read.raw and "low" not in read.raw:
            notes.find(Severity.ERROR, "reading-empty", read.path, {"key": kind})
        low_c, now_c = fields.get("low_c"), fields.get("temperature_c")
        if low_c is not None and now_c is not None and not low_c <= now_c:
            params = {"low_c": low_c, "read_c": now_c}
            notes.find(Severity.ERROR, "low-above-reading", read.at("low"), params)
    if kind is EntryKind.KEPT:
        start, end = fields.get("from_at"), fields.get("to_at")
        if start is not None and end is not None and not start < end:
            notes.find(
                Severity.ERROR, "kept-reversed", read.at("to"), notes.local(start=start, end=end)
            )
        if at is not None and end is not None and end > at:
            notes.find(Severity.ERROR, "kept-ahead", read.at("to"), notes.local(signed=at, end=end))
    if kind is EntryKind.VISIT:
        _check_hours(notes, read, fields)
    if kind is EntryKind.MOISTURE and "value" in read and "method" not in fields:
        notes.find(Severity.ERROR, "moisture-without-method", read.at("method"), {})


def _check_hours(notes: TableReader, read: Read, fields: PlainView) -> None:
    """Note a visit that ends before it begins."""
    start, end = fields.get("start_at"), fields.get("end_at")
    if start is not None and end is not None and not start < end:
        said = notes.local(start=start, end=end)
        notes.find(Severity.ERROR, "visit-reversed", read.at("end"), said)
