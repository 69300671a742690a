"""The site log as a file holds it: entries, and corrections of entries."""

from __future__ import annotations

import json
from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from datetime import date, datetime, time
from pathlib import Path
from types import MappingProxyType

from curecal.errors import ValueRefused
from curecal.readings.series.decoded_channels import DecodedChannels
from curecal.readings.series.readings_entry import ReadingsEntry as KeptReadings
from curecal.records import PlainTable, Record, record
from curecal.site_log_files.corrections import (
    as_corrected,
    is_withdrawn,
    who_may_mend,
    without_strangers,
)
from curecal.site_log_files.entry_checks import check_entry, check_every_zone
from curecal.site_log_files.entry_fields import FIELDS, REPEATED
from curecal.site_log_files.names import Names
from curecal.toml_files.log_schema import BASE, KINDS
from curecal.toml_files.schema import Key
from curecal.toml_files.shown import digest, nearest, shorten
from curecal.toml_files.table_reader import Read, Table, TableReader, read_table
from curecal.toml_files.values import instant
from curecal.trade.entry_kinds import EntryKind
from curecal.trade.findings import Severity
from curecal.trade.job import Person, Zone
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
    Log,
    MarkedPoints,
    MoistureTest,
    NotTested,
    Origin,
    Protection,
    Reading,
    Release,
    Remark,
    Resistance,
    Resumed,
    Stopped,
    ThermostatSet,
    VisitNote,
)

CLASSES: Mapping[EntryKind, Callable[..., Entry]] = MappingProxyType(
    {
        EntryKind.AIR: Reading,
        EntryKind.SURFACE: Reading,
        EntryKind.FLOOR: Reading,
        EntryKind.KEPT: Kept,
        EntryKind.READINGS: KeptReadings,
        EntryKind.DONE: Done,
        EntryKind.RESISTANCE: Resistance,
        EntryKind.NOT_TESTED: NotTested,
        EntryKind.MOISTURE: MoistureTest,
        EntryKind.TEST_POINTS: MarkedPoints,
        EntryKind.INSPECTION: Inspection,
        EntryKind.PROTECTION: Protection,
        EntryKind.CONNECTED: Connected,
        EntryKind.CONTINUITY: Continuity,
        EntryKind.THERMOSTAT: ThermostatSet,
        EntryKind.VISIT: VisitNote,
        EntryKind.RELEASE: Release,
        EntryKind.ENERGIZED: Energized,
        EntryKind.HEAT_STEP: HeatStep,
        EntryKind.STOPPED: Stopped,
        EntryKind.RESUMED: Resumed,
        EntryKind.PHOTO: Remark,
        EntryKind.NOTE: Remark,
    }
)
_ANY = "log entry"
# The keys that say what an entry is about.
_PLACE = ("zone", "layer", "part", "cable")


@record
class Raw(Record):
    """An entry as it stands in a file, with its kind and its identity."""

    table: Table
    kind: EntryKind
    id: str
    path: str


def log_in(
    notes: TableReader,
    tables: Sequence[tuple[str, Table]],
    zones: Sequence[Zone],
    folder: Path | None = None,
    *,
    people: Sequence[Person] = (),
    channels: DecodedChannels | None = None,
) -> Log:
    """Return every entry that could be read, in file order.

    Args:
        notes: Where findings are kept.
        tables: The entries' places and tables.
        zones: The job's zones, for the names that entries use.
        folder: Where the job lies, with the loggers' readings beside it.
        people: The job's people, for the names in which entries are signed.
        channels: Readings that were decoded before.

    Returns:
        The log. The same entry twice is one entry.
    """
    raws: dict[str, Raw] = {}
    for path, table in tables:
        raw = _raw(notes, table, path)
        if raw is None:
            continue
        same = raws.get(raw.id)
        if same is not None and _content(same.table) != _content(table):
            notes.find(Severity.ERROR, "entry-id-twice", f"{path}.id", {"text": raw.id})
        raws.setdefault(raw.id, raw)
    names = Names(zones, people)
    entries = []
    for raw in raws.values():
        made: Entry | None
        if raw.kind == EntryKind.CORRECTION:
            made = _correction(notes, raw, raws, names)
        else:
            made = _entry_corrected(notes, raw, raws, names)
        if made is not None:
            entries.append(made)
    if any(isinstance(entry, KeptReadings) for entry in entries):
        from curecal.readings.series.log_series import read_series  # noqa: PLC0415 - only where a logger was

        entries = read_series(notes, entries, folder, people=people, channels=channels)
    return tuple(entries)


def _raw(notes: TableReader, table: Table, path: str) -> Raw | None:
    kind = table.get("kind")
    known = tuple(KINDS)
    if not isinstance(kind, str) or kind not in KINDS:
        # What every entry has is read all the same: all problems are said in one run.
        common = {key.name for key in BASE}
        rest = {name: value for name, value in table.items() if name in common}
        read_table(notes, {**rest, "kind": kind}, _ANY, path)
        text = shorten(kind)
        params = {"text": text, "nearest": nearest(text, known), "known": ", ".join(known)}
        code = "entry-kind-unknown" if "kind" in table else "entry-kind-missing"
        notes.find(Severity.ERROR, code, f"{path}.kind", params)
        return None
    return Raw(table, EntryKind(kind), identity_of(table), path)


def _content(table: Table) -> str:
    """Return an entry's content in one fixed spelling, whatever the order of its keys."""
    rest = {key: value for key, value in table.items() if key != "id"}
    return json.dumps(rest, sort_keys=True, ensure_ascii=False, default=_spelled)


def _spelled(value: object) -> str:
    return value.isoformat() if isinstance(value, datetime | date | time) else repr(value)


def identity_of(table: Table) -> str:
    """Return an entry's identity: its own, else the hash of its content."""
    own = table.get("id")
    stated = own.strip() if isinstance(own, str) else ""
    return stated or f"e-{digest(_content(table), 12)}"


def _entry_corrected(
    notes: TableReader, raw: Raw, raws: Mapping[str, Raw], names: Names
) -> Entry | None:
    """Return one entry; one that is not understood as it stands, as its corrections make it."""
    inner = replace(notes, findings=[])
    made = _entry(inner, raw, names)
    if made is None:
        every = {other.id: other.table for other in raws.values()}
        log = without_strangers(raw.kind, every, names.people, notes.tz)
        if is_withdrawn(raw.id, log, notes.tz):
            return None
        for table in as_corrected(raw.id, log, notes.tz):
            inner.findings = []
            made = _entry(inner, replace(raw, table=table), names)
            if made is not None:
                break
        if made is None:
            params = {"roles": who_may_mend(raw.kind)}
            for other in raws.values():
                if other.id not in log and other.table.get("of") == raw.id:
                    inner.find(Severity.ERROR, "mend-wants-role", other.path, params)
    notes.findings += inner.findings
    return made


def _entry(notes: TableReader, raw: Raw, names: Names) -> Entry | None:
    """Return one entry, or None where a part of it was not understood."""
    before = len(notes.findings)
    read = read_table(notes, raw.table, f"log {raw.kind}", raw.path)
    zone, fields = _fields(notes, read, raw.kind, names)
    at = read.get("at")
    check_entry(notes, read, raw.kind, fields)
    if zone is None and "zone" not in read.raw and "layer" not in read.raw:
        check_every_zone(notes, read, raw.kind, names)
    failed = any(found.severity is Severity.ERROR for found in notes.findings[before:])
    if failed or at is None:
        return None
    return CLASSES[raw.kind](
        id=raw.id,
        at=at,
        recorded=_recorded(notes, read, at),
        **_signed(read, raw.kind, names),
        zone=zone,
        path=raw.path,
        **REPEATED.get(raw.kind, {}),
        **fields,
    )


def _recorded(notes: TableReader, read: Read, at: datetime) -> datetime:
    """Return when an entry was written down: not in time to come, which would hide it until then.

    Rule: R27.
    """
    written: datetime = read.get("recorded", at)
    if notes.clock is None or written <= max(notes.clock, at):
        return written
    said = notes.local(written=written, now=notes.clock)
    notes.find(Severity.WARNING, "recorded-in-future", read.at("recorded"), said)
    return at


def _signed(read: Read, kind: EntryKind, names: Names) -> PlainTable:
    """Return who did it, who typed it and how they know, and what is said beside it."""
    # Of a statement about a span `from` is its beginning.
    own = any(key.name == "from" for key in KINDS.get(kind, ()))
    origin = None if own or "from" not in read else Origin(read.get("from"))
    return {
        "by": names.person(read.get("by")),
        "entered_by": names.person(read.get("entered_by")),
        "origin": origin,
        "photo": read.get("photo"),
        "note": read.get("note"),
    }


def _fields(
    notes: TableReader, read: Read, kind: EntryKind, names: Names
) -> tuple[str | None, PlainTable]:
    """Return the zone's id and the entry's own fields, of the keys that are there."""
    zone = names.zone(notes, read.get("zone"), read.at("zone"))
    fields: PlainTable = {}
    if "layer" in read:
        place = (zone, read.get("part"))
        found = names.layer(notes, read.get("layer"), place, read.at("layer"))
        if found is not None:
            zone, fields["layer"] = found[0], found[1].id
            if "part" in read:
                fields["part"] = found[1].part
            if kind is EntryKind.DONE and found[1].existing:
                params = {"layer": found[1].name, "key": "done"}
                notes.find(Severity.ERROR, "existing-with-work", read.at("layer"), params)
    elif "cable" in read:
        own = names.cable(notes, read.get("cable"), zone, read.at("cable"))
        if own is not None:
            zone, fields["cable"] = own
    placed = {"layer", *fields}
    for key in KINDS[kind]:
        if key.name not in read or key.name in placed:
            continue
        try:
            fields |= FIELDS[kind, key.name](read.get(key.name), read)
        except ValueRefused as error:
            notes.refused(error, read.at(key.name))
    return (None if zone is None else zone.id), fields


def _correction(
    notes: TableReader, raw: Raw, raws: Mapping[str, Raw], names: Names
) -> Correction | None:
    """Return a correction: what it corrects by the corrected entry's own kind."""
    before = len(notes.findings)
    target = raws.get(str(raw.table.get("of")))
    allowed: tuple[Key, ...] = ()
    if target is not None and target.kind != EntryKind.CORRECTION:
        # A key that is required of an entry is not required of its correction.
        allowed = tuple(replace(key, required=False) for key in KINDS[target.kind])
    read = read_table(notes, raw.table, "log correction", raw.path, allowed)
    at = read.get("at")
    if target is None and "of" in read:
        params = {"text": shorten(read.get("of")), "nearest": nearest(read.get("of"), list(raws))}
        notes.find(Severity.ERROR, "correction-of-unknown", read.at("of"), params)
    changes: PlainTable = {}
    if target is not None and target.kind != EntryKind.CORRECTION:
        zone, changes = _fields(notes, _in_place_of(read, target), target.kind, names)
        if zone is not None and any(key in read for key in _PLACE):
            changes["zone"] = zone
    withdrawn = read.get("withdrawn", False)
    if not changes and not withdrawn:
        notes.find(Severity.ERROR, "correction-empty", read.path, {})
    happened = None if target is None else _happened(target, notes)
    if at is not None and happened is not None and at < happened:
        said = notes.local(corrected=at, happened=happened)
        notes.find(Severity.WARNING, "correction-before-entry", read.at("at"), said)
    failed = any(found.severity is Severity.ERROR for found in notes.findings[before:])
    if failed or at is None:
        return None
    return Correction(
        id=raw.id,
        at=at,
        recorded=_recorded(notes, read, at),
        **_signed(read, raw.kind if target is None else target.kind, names),
        path=raw.path,
        of=read.get("of"),
        withdrawn=withdrawn,
        changes=MappingProxyType(changes),
    )


def _happened(target: Raw, notes: TableReader) -> datetime | None:
    """Return when an entry happened; None where that is not understood, or a day without a time."""
    at = target.table.get("at")
    try:
        return instant(at, notes.tz) if isinstance(at, datetime | str) else None
    except ValueRefused:
        return None


def _in_place_of(read: Read, target: Raw) -> Read:
    """Return a correction's values with the rest of the place its entry names.

    A layer is looked for in the zone of its entry, and a layer in the zone it is corrected to.
    """
    if not any(key in read for key in _PLACE):
        return read
    named = {key: target.table.get(key) for key in _PLACE}
    place = {key: text.strip() for key, text in named.items() if isinstance(text, str)}
    return Read({**place, **read.values}, read.raw, read.path)
