"""Log entries in plain words: what `curecal log` lists, and what `curecal note` has written."""

from __future__ import annotations

from dataclasses import field, fields
from datetime import date, time
from enum import Enum
from typing import TYPE_CHECKING, Any

from curecal.records import PlainView, Record, record
from curecal.site_log_files.log_reader import identity_of
from curecal.toml_files.log_schema import BASE
from curecal.trade.site_log import OPEN_OHM, Correction, Entry, VisitFor

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence
    from datetime import datetime

    from curecal.job_files import ReadJob
    from curecal.trade.job import Job
    from curecal.words.sentences import Words

BASE_KEYS = frozenset(key.name for key in BASE)
_NOT_SAID = frozenset(own.name for own in fields(Entry)) | {
    "place",
    "of",
    "withdrawn",
    "changes",
    "is_lost",
    "to_earth_at_least",
    "insulation_at_least",
}
_YES_OR_NO = frozenset({"locked", "tagged"})
_ONLY_TRUE = frozenset({"heating_off", "heating_on", "earth_open", "sure"})
# What was set is shown as it was set, and not rounded down as a limit is; a trip in milliseconds.
_SHOWN_AS = {"limit_c": ("set_c", 1.0), "to_c": ("set_c", 1.0), "trip_s": ("trip_count", 1000.0)}


@record
class EntryRow(Record):
    """An entry as a log shows it: with its own table, and with the corrections of it.

    `entry` is None where it is not understood; `taken_back` names for what is withdrawn the
    correction that did it.
    """

    id: str
    kind: str
    raw: PlainView
    entry: Entry | None
    corrections: tuple[Correction, ...] = ()
    taken_back: Mapping[str, str] = field(default_factory=dict)

    @property
    def withdrawn_by(self) -> Correction | None:
        """The correction that withdraws it, if one does and stands."""
        standing = (
            correction for correction in self.corrections if correction.id not in self.taken_back
        )
        return next((correction for correction in standing if correction.withdrawn), None)


def rows(read: ReadJob, as_of: datetime | None = None) -> list[EntryRow]:
    """Return a log's entries in order of what happened, corrections beside what they correct.

    Args:
        read: The job as read.
        as_of: Later facts do not exist yet; None knows all.

    Returns:
        A row an entry; what is not understood comes last.
    """
    known = [entry for entry in read.log if as_of is None or max(entry.at, entry.recorded) <= as_of]
    corrections = sorted(
        (entry for entry in known if isinstance(entry, Correction)),
        key=lambda entry: (entry.recorded, entry.id),
    )
    taken = _taken_back(corrections)
    listed = []
    for entry in sorted(known, key=lambda entry: (entry.at, entry.recorded, entry.id)):
        raw = at_path(read.raw, entry.path)
        own = tuple(correction for correction in corrections if correction.of == entry.id)
        if not isinstance(entry, Correction):
            listed.append(EntryRow(entry.id, str(raw.get("kind")), raw, entry, own, taken))
    understood = {entry.id for entry in read.log}
    for table in _tables(read.raw):
        name = identity_of(dict(table))
        if name not in understood:
            own = tuple(correction for correction in corrections if correction.of == name)
            listed.append(EntryRow(name, str(table.get("kind")), table, None, own, taken))
    return listed


def _taken_back(corrections: Sequence[Correction]) -> dict[str, str]:
    """Return what is withdrawn, and not by a correction withdrawn itself, with what did it."""
    taken: dict[str, str] = {}
    for correction in reversed(corrections):
        if correction.withdrawn and correction.id not in taken:
            taken[correction.of] = correction.id
    return taken


def at_path(raw: PlainView, path: str) -> PlainView:
    """Return the table at a place of a file as read; empty where there is none."""
    inside: Any = raw
    for part in path.split("."):
        if isinstance(inside, list) and part.isdecimal() and int(part) < len(inside):
            inside = inside[int(part)]
        elif isinstance(inside, dict):
            inside = inside.get(part)
        else:
            return {}
    return inside if isinstance(inside, dict) else {}


def _tables(raw: PlainView) -> Iterator[PlainView]:
    for file in (raw, *raw.get("further_log", ())):
        log = file.get("log")
        yield from (row for row in log if isinstance(row, dict)) if isinstance(log, list) else ()


def plain(value: object) -> Any:
    """Return a value of a file as JSON knows it: an instant or a day as its text."""
    if isinstance(value, list):
        return [plain(item) for item in value]
    if value is None or isinstance(value, bool | int | float | str):
        return value
    return value.isoformat() if isinstance(value, date | time) else str(value)


def kinds_by_id(read: ReadJob) -> dict[str, str]:
    """Return the kind of every entry by its identity, understood or not."""
    return {identity_of(dict(table)): str(table.get("kind")) for table in _tables(read.raw)}


def zone_name(zone: str | None, job: Job | None) -> str | None:
    """Return a zone's name by its identity."""
    zones = () if job is None else job.zones
    return next((own.name for own in zones if own.id == zone), zone)


def entry_text(row: EntryRow, job: Job | None, words: Words) -> str:
    """Return what an entry says, in the job's units.

    Args:
        row: The entry.
        job: The job, for names; None where it is not understood.
        words: Language and units.

    Returns:
        One line, as long as it has to be.
    """
    if row.entry is None:
        said = (f"{key} {value}" for key, value in row.raw.items() if key not in {"id", "kind"})
        what = f"{row.kind}: {', '.join(said)}"
        return words.text("log.not-understood", {"what": what})
    values = {own.name: getattr(row.entry, own.name) for own in fields(row.entry)}
    parts = ", ".join(parts_of(values, job, words))
    zone = zone_name(row.entry.zone, job)
    what = words.text(f"log.kind.{row.kind}")
    return words.text("log.entry", {"what": what, "zone": zone, "parts": parts})


def parts_of(values: PlainView, job: Job | None, words: Words) -> list[str]:
    """Return fields of an entry in plain words.

    Args:
        values: The fields by name.
        job: The job, for the names of layers and zones.
        words: Language and units.

    Returns:
        A short text a field that says something.
    """
    said = []
    for name, value in values.items():
        if name in _NOT_SAID or value is None:
            continue
        key, params = _part(name, value, values, job)
        if key:
            said.append(words.text(f"log.part.{_known(key, words)}", params))
    return said


def changes_of(correction: Correction, job: Job | None, words: Words) -> str:
    """Return what a correction changes, in plain words."""
    changes = dict(correction.changes)
    zone = changes.pop("zone", None)
    said = parts_of(changes, job, words)
    if isinstance(zone, str):
        said.insert(0, words.text("log.part.zone", {"zone": zone_name(zone, job)}))
    return ", ".join(said)


def _known(key: str, words: Words) -> str:
    """Return a part's own text where it has one: "after laying", and "on delivery"."""
    general = key.partition(":")[0]
    own = key.replace(":", "_")
    return own if f"log.part.{own}" in words.catalogue else general


def _part(
    name: str, value: Any, values: PlainView, job: Job | None
) -> tuple[str, dict[str, object]]:
    """Return which text a field has, and what goes into it; no text where it says nothing."""
    key, shown = name, name
    if name == "layer":
        value = _layer(value, values, job)
    elif name == "visit":
        key = "" if _says_purpose(value, values.get("purpose")) else name
    elif name == "humidity":
        key = shown = "humidity_rh"
    elif name in _SHOWN_AS:
        shown, factor = _SHOWN_AS[name]
        value *= factor
    elif name in _ONLY_TRUE:
        key = name if value else ""
    elif name in _YES_OR_NO:
        key = name if value else f"{name}_not"
    elif name.endswith("_ohm"):
        key = _ohms(name, value, values)
    elif isinstance(value, tuple):
        key, shown, value = "series", "points_count", len(value)
    elif isinstance(value, Enum):
        key = f"{name}:{value.value}"
    return key, {shown: value}


def _says_purpose(visit: str, purpose: VisitFor | None) -> bool:
    """Return whether a visit is known by what it is for, which is said beside it."""
    return purpose is not None and (visit == purpose or visit.startswith(f"{purpose}, "))


def _ohms(name: str, value: float, values: PlainView) -> str:
    """Return the text of a resistance: its figure, beyond the meter's range, or an open line."""
    what = name.removesuffix("_ohm")
    if values.get(f"{what}_at_least"):
        return f"{what}_least"
    return f"{what}_open" if value == OPEN_OHM and what in {"conductor", "sensor"} else name


def _layer(layer: str, values: PlainView, job: Job | None) -> str:
    """Return a layer's name by its identity."""
    zones = () if job is None else job.zones
    found = [
        course.name
        for zone in zones
        if values.get("zone") in {None, zone.id}
        for course in zone.layers
        if course.id == layer
    ]
    return found[0] if found else layer
