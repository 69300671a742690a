"""The log as it stood: what was known at an instant, with corrections folded in."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, fields, replace
from datetime import datetime
from typing import TypeVar

from curecal.records import Record
from curecal.trade.findings import Finding, Severity
from curecal.trade.job import Job, Layer, Zone
from curecal.trade.site_log import Correction, Done, Entry

E = TypeVar("E", bound=Entry)


@dataclass(frozen=True, slots=True, eq=False, repr=False)
class Facts(Record):
    """Entries that exist at `as_of`, in order of `at`, then `recorded`, then id."""

    as_of: datetime
    entries: tuple[Entry, ...]

    def of(self, kind: type[E], zone: Zone | None = None) -> tuple[E, ...]:
        """Return the entries of one kind; with a zone, those about it or the whole job."""
        return tuple(
            entry
            for entry in self.entries
            if isinstance(entry, kind)
            and (zone is None or entry.zone is None or entry.zone == zone.id)
        )


def facts_at(log: Iterable[Entry], as_of: datetime) -> Facts:
    """Return what the log says at `as_of`: later facts do not exist yet, corrections count.

    An entry exists once it has both happened and been recorded. Of several corrections of one
    entry the later recorded wins, field by field; a correction may itself be corrected.

    Rule: R27.

    Args:
        log: entries in any order.
        as_of: the instant looked from.

    Returns:
        The facts, ordered by `at`, `recorded` and id, so that file order has no effect.
    """
    known = [entry for entry in log if max(entry.at, entry.recorded) <= as_of]
    corrections = sorted(
        (entry for entry in known if isinstance(entry, Correction)),
        key=lambda entry: (entry.recorded, entry.id),
    )
    # Two entries that share an id by mishap are two facts: none may hide the other.
    by_id: dict[str, list[Entry]] = {}
    for entry in known:
        same = by_id.setdefault(entry.id, [])
        if entry not in same:
            same.append(entry)
    void = _void(corrections)
    for correction in corrections:
        if correction.id in void or correction.of not in by_id:
            continue
        if correction.withdrawn:
            del by_id[correction.of]
            continue
        changed = [_changed(old, correction) for old in by_id[correction.of]]
        by_id[correction.of] = [entry for entry in changed if entry.at <= as_of]
    kept: list[Entry] = []
    for same in by_id.values():
        ordered = sorted(same, key=repr) if len(same) > 1 else same
        kept.extend(entry for entry in ordered if not isinstance(entry, Correction))
    return Facts(as_of, tuple(sorted(kept, key=lambda entry: (entry.at, entry.recorded, entry.id))))


def _void(corrections: Sequence[Correction]) -> set[str]:
    """Return the ids of corrections that are withdrawn, and not by one withdrawn itself.

    The later recorded decides about the earlier, so the last comes first.
    """
    void: set[str] = set()
    for correction in reversed(corrections):
        if correction.withdrawn and correction.id not in void:
            void.add(correction.of)
    return void


def _changed(old: Entry, correction: Correction) -> Entry:
    """Return an entry with the fields its correction changes."""
    names = {field.name for field in fields(old)}
    changes = {key: value for key, value in correction.changes.items() if key in names}
    return replace(old, **changes)  # type: ignore[arg-type] # names checked on the line above


def fold_done(job: Job, facts: Facts) -> tuple[Job, list[Finding]]:
    """Return the job with each layer's `done_at` as known, and a warning where sources differ.

    The file's `done` counts as recorded at its own instant; an instant after `as_of` does not
    exist yet.

    Rule: R27; the later recorded of file and log wins.

    Args:
        job: the job as read.
        facts: the log as it stood.

    Returns:
        The job with `done_at` replaced, and the findings.
    """
    findings: list[Finding] = []
    zones = []
    done = facts.of(Done)
    for zone in job.zones:
        layers = []
        for layer in zone.layers:
            told = [
                entry
                for entry in done
                if entry.layer == layer.id
                and entry.zone in {None, zone.id}
                and entry.part in {None, layer.part}
            ]
            layers.append(_with_done(zone, layer, told, facts.as_of, findings))
        zones.append(replace(zone, layers=tuple(layers)))
    return replace(job, zones=tuple(zones)), findings


def _with_done(
    zone: Zone, layer: Layer, told: list[Done], as_of: datetime, findings: list[Finding]
) -> Layer:
    in_file = layer.done_at if layer.done_at is not None and layer.done_at <= as_of else None
    if not told:
        return layer if layer.done_at == in_file else replace(layer, done_at=None)
    last = max(told, key=lambda entry: (entry.recorded, entry.id))
    if in_file is not None and in_file != last.at:
        findings.append(
            Finding(
                Severity.WARNING,
                "done-differs",
                layer.path,
                {"layer": layer.name, "file_at": in_file, "log_at": last.at},
                zone.id,
                layer.id,
            )
        )
        if in_file > last.recorded:
            return replace(layer, done_at=in_file)
    return replace(layer, done_at=last.at)
