"""Log entries in plain words: what `curecal log` lists, and what `curecal note` has written."""

from __future__ import annotations

from dataclasses import field, fields
from datetime import date, time
from typing import TYPE_CHECKING, Any

from curecal.records import PlainView, Record, record
from curecal.site_log_files.log_reader import identity_of
from curecal.toml_files.log_schema import BASE
from curecal.trade.site_log import Correction, Entry
from curecal.words.log_entries import parts_of, zone_name

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence
    from datetime import datetime

    from curecal.job_files import ReadJob
    from curecal.trade.job import Job
    from curecal.words.sentences import Words

BASE_KEYS = frozenset(key.name for key in BASE)


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
