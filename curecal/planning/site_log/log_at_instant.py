"""The log as it stood: what was known at an instant, with corrections folded in."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import field, fields, replace
from datetime import datetime
from typing import TypeVar

from curecal.planning.site_log.authority import Gap, evidence_of, gap, is_stranger
from curecal.planning.site_log.corrections import Corrected, judged
from curecal.records import Record, record
from curecal.trade.findings import Finding, Severity
from curecal.trade.job import Job, Layer, Person, Zone
from curecal.trade.site_log import Correction, Done, Entry

E = TypeVar("E", bound=Entry)


@record
class Facts(Record):
    """Entries that exist at `as_of`, in order of `at`, then `recorded`, then id.

    `people` are those of the job: whose word counts for what.
    """

    as_of: datetime
    entries: tuple[Entry, ...]
    corrected: tuple[Corrected, ...] = ()
    people: tuple[Person, ...] = ()
    _by_kind: dict[type[Entry], list[Entry]] = field(init=False)

    def __post_init__(self) -> None:
        # Some seventy questions a zone ask for one kind, of a log of hundreds of entries.
        by_kind: dict[type[Entry], list[Entry]] = {}
        for entry in self.entries:
            by_kind.setdefault(type(entry), []).append(entry)
        object.__setattr__(self, "_by_kind", by_kind)

    def of(self, kind: type[E], zone: Zone | None = None) -> tuple[E, ...]:
        """Return the entries of one kind; with a zone, those about it or the whole job."""
        entries = self._by_kind.get(kind)
        if entries is None:
            return ()
        return tuple(
            entry
            for entry in entries
            if isinstance(entry, kind)
            and (zone is None or entry.zone is None or entry.zone == zone.id)
        )

    def gap(self, entry: Entry) -> Gap | None:
        """Return what an entry lacks to count for its good news; None where it counts."""
        evidence = evidence_of(entry)
        return None if evidence is None else gap(self.people, entry, evidence)

    def is_from_the_job(self, entry: Entry) -> bool:
        """Return whether somebody of the job tells an entry, or nobody signed it.

        Rule: R24c; of a stranger's facts only bad news counts.
        """
        return not is_stranger(self.people, entry)

    def counts(self, entry: Entry) -> bool:
        """Return whether an entry counts: bad news does from anybody."""
        return self.gap(entry) is None


def facts_at(log: Iterable[Entry], as_of: datetime, people: Sequence[Person]) -> Facts:
    """Return what the log says at `as_of`: later facts do not exist yet, corrections count.

    An entry exists once it has both happened and been recorded. Of several corrections of one
    entry the later recorded wins, field by field; a correction may itself be withdrawn. One that
    wants a word its signer has not changes nothing.

    Rule: R24, R27.

    Args:
        log: entries in any order.
        as_of: the instant looked from.
        people: the people of the job, whose word counts.

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
    counting: dict[str, list[Correction]] = {}
    told: list[Corrected] = []
    by_name = {correction.id: correction for correction in corrections}
    for correction in corrections:
        root = _root(correction, by_name)
        entries = [entry for entry in by_id.get(root, []) if not isinstance(entry, Correction)]
        own = counting.setdefault(root, [])
        before = _folded(entries, own)
        after = _folded(entries, [*own, correction])
        if before == after:
            # Else what changes nothing now might hide what is recorded only later.
            continue
        found = judged(people, correction, before, after)
        if found is not None:
            told.append(found)
        if found is None or found.counts:
            own.append(correction)
    kept: list[Entry] = []
    for name, same in by_id.items():
        entries = [entry for entry in same if not isinstance(entry, Correction)]
        ordered = sorted(entries, key=repr) if len(entries) > 1 else entries
        kept.extend(e for e in _folded(ordered, counting.get(name, [])) if e.at <= as_of)
    ordered = sorted(kept, key=lambda entry: (entry.at, entry.recorded, entry.id))
    return Facts(as_of, tuple(ordered), tuple(told), tuple(people))


def _root(correction: Correction, by_name: Mapping[str, Correction]) -> str:
    """Return the id of the entry that a correction, or one of a correction, is about."""
    seen: set[str] = set()
    of = correction.of
    while of in by_name and of not in seen:
        seen.add(of)
        of = by_name[of].of
    return of


def _folded(entries: Sequence[Entry], corrections: Sequence[Correction]) -> list[Entry]:
    """Return what corrections make of the entries of one id: nothing of one withdrawn."""
    void = _void(corrections)
    made = list(entries)
    for correction in corrections:
        if correction.id in void or all(correction.of != entry.id for entry in entries):
            continue
        if correction.withdrawn:
            return []
        made = [_changed(entry, correction) for entry in made]
    return made


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
    """Return the job with each layer's `done_at` as known, and a warning where it is told twice.

    Of a finish told twice the later one counts, in the file or in the log: the wait that began
    later ends later. One told by somebody who is not of the job can only make it later. An
    instant after `as_of` does not exist yet.

    Rule: R24c, R24d, R27.

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
            layers.append(_with_done(zone, layer, told, facts, findings))
        zones.append(replace(zone, layers=tuple(layers)))
    return replace(job, zones=tuple(zones)), findings


def _with_done(
    zone: Zone, layer: Layer, told: list[Done], facts: Facts, findings: list[Finding]
) -> Layer:
    in_file = layer.done_at
    if in_file is not None and in_file > facts.as_of:
        in_file = None
    known = [entry.at for entry in told if facts.is_from_the_job(entry)]
    known += [] if in_file is None else [in_file]
    if not known:
        return layer if layer.done_at is None else replace(layer, done_at=None)
    told = [entry for entry in told if entry.at in known or entry.at > max(known)]
    instants = sorted({entry.at for entry in told})
    last_at = max([*known, *instants])

    def find(code: str, first_at: datetime, then_at: datetime) -> None:
        params = {"layer": layer.name, "first_at": first_at, "last_at": then_at}
        findings.append(Finding(Severity.WARNING, code, layer.path, params, zone.id, layer.id))

    if in_file is not None and instants and instants[-1] != in_file:
        find("done-differs", in_file, instants[-1])
    if len(instants) > 1:
        find("done-twice", instants[0], instants[-1])
    sure = layer.sure or any(entry.sure for entry in told if entry.at == last_at)
    if last_at == layer.done_at and sure == layer.sure:
        return layer
    return replace(layer, done_at=last_at, sure=sure)
