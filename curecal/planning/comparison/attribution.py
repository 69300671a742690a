"""Because of which entry a date moved: the log replayed, one fact after the other.

Between two instants the plan changes where a fact comes in, and where time passes over planned
work that nobody wrote down. Stretches of the log over which nothing moved are not looked into;
the stretch that moved most is, first.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from curecal.instants import add
from curecal.planning.comparison.date_shifts import Shift, layer_shifts, shift
from curecal.planning.comparison.log_replay import DoneInFile, LearnedFact, Replay
from curecal.planning.comparison.plan_snapshot import PlanSnapshot, ZoneSnapshot
from curecal.records import Record, record
from curecal.trade.entry_kinds import EntryKind
from curecal.trade.findings import FindingCode, Message
from curecal.trade.job import Job
from curecal.trade.site_log import Correction

MOST_PLANS = 30
"""How many plans a replay makes at most: what is left then is told as one group of entries."""

_TOO_EARLY = frozenset(
    {FindingCode.COVERED_EARLY, FindingCode.COVERED_WET, FindingCode.COVERED_WITHOUT_DATE}
)
_MEASURED = frozenset(
    {EntryKind.AIR, EntryKind.SURFACE, EntryKind.FLOOR, EntryKind.KEPT, EntryKind.READINGS}
)


@record
class ShiftCause(Record):
    """Why a zone's dates moved: `what` in a message, `energize` how it shifted the zone's date.

    `dates` are the other dates it moved, by layer. `may` says why a date may come nearer; it is
    None where none did. `entries` are the ids of the log entries; a group names all of its.
    """

    what: Message
    energize: Shift | None
    dates: tuple[tuple[str, Shift], ...] = ()
    states: tuple[str, str] | None = None
    entries: tuple[str, ...] = ()
    may: Message | None = None

    @property
    def shifts(self) -> tuple[tuple[str, Shift], ...]:
        """Return every date it moved with its layer's id, the zone's own first and without one."""
        return self.dates if self.energize is None else (("", self.energize), *self.dates)


@record
class _Stretch(Record):
    """From one number of known facts to another."""

    first: int
    last: int
    weight_s: float


def causes_between(replay: Replay, before: PlanSnapshot) -> dict[str, tuple[ShiftCause, ...]]:
    """Return because of which facts each zone's dates moved, in the order they came in.

    Rule: R27.

    Args:
        replay: the facts and the plans made of them.
        before: the plan before the first of them.

    Returns:
        Causes by zone id.
    """
    whole = len(replay.facts) + 1
    waiting = [_stretch(replay, 0, whole)]
    settled: list[_Stretch] = []
    while waiting:
        waiting.sort(key=lambda stretch: stretch.weight_s)
        widest = waiting.pop()
        if not _differ(replay.at_fact(widest.first), replay.at_fact(widest.last)):
            continue
        if widest.last - widest.first == 1 or len(replay.made) >= MOST_PLANS:
            settled.append(widest)
            continue
        middle = (widest.first + widest.last) // 2
        waiting.append(_stretch(replay, widest.first, middle))
        waiting.append(_stretch(replay, middle, widest.last))
    settled.sort(key=lambda stretch: stretch.first)
    return {
        zone.id: join_causes(
            [cause for stretch in settled for cause in _causes(replay, stretch, zone.id)]
        )
        for zone in before.zones
    }


def join_causes(causes: Sequence[ShiftCause]) -> tuple[ShiftCause, ...]:
    """Return causes with the time over which work slid made part of the finish that ended it.

    What time alone did and no finish ended stands once, at the end.

    Rule: R26.

    Args:
        causes: one zone's causes in the order they came in.

    Returns:
        Causes; those that come to nothing are left out.
    """
    found: list[ShiftCause] = []
    slid: list[ShiftCause] = []
    for cause in causes:
        code, said = cause.what.code, cause.what.params
        if code == FindingCode.MOVED_BY_TIME and cause.states is None and cause.may is None:
            slid.append(cause)
        elif code == FindingCode.MOVED_BY_FILE or (
            code != FindingCode.MOVED_BY_ENTRIES and said.get("entry") == EntryKind.DONE
        ):
            found += _as_one([*slid, cause])
            slid = []
        else:
            found.append(cause)
    return (*found, *_as_one(slid))


def _as_one(causes: Sequence[ShiftCause]) -> list[ShiftCause]:
    """Return several causes as the last of them, moving what they moved together."""
    if not causes:
        return []
    moves: dict[tuple[str, str], list[Shift]] = {}
    for cause in causes:
        for layer_id, moved in cause.shifts:
            moves.setdefault((layer_id, moved.what), []).append(moved)
    summed = [(layer_id, _sum(those)) for (layer_id, _), those in moves.items()]
    shifts = [(layer_id, moved) for layer_id, moved in summed if moved is not None]
    last = causes[-1]
    if not shifts and last.states is None:
        return []
    own = next((moved for layer_id, moved in shifts if not layer_id), None)
    others = tuple((layer_id, moved) for layer_id, moved in shifts if layer_id)
    nearer = any(moved.is_nearer for _, moved in shifts)
    return [replace(last, energize=own, dates=others, may=last.may if nearer else None)]


def _sum(shifts: Sequence[Shift]) -> Shift | None:
    """Return several moves of one date as one: where it went, less all that they moved it."""
    before, after = shifts[0].before, shifts[-1].after
    early_s = [moved.earliest_s for moved in shifts if moved.earliest_s is not None]
    late_s = [moved.latest_s for moved in shifts if moved.latest_s is not None]
    if after.earliest is not None and len(early_s) == len(shifts):
        before = replace(before, earliest=add(after.earliest, -sum(early_s)))
    if after.latest is not None and len(late_s) == len(shifts):
        before = replace(before, latest=add(after.latest, -sum(late_s)))
    return shift(shifts[0].what, before, after)


def _stretch(replay: Replay, first: int, last: int) -> _Stretch:
    before, after = replay.at_fact(first), replay.at_fact(last)
    weight_s = 0.0
    for old, new in zip(before.zones, after.zones, strict=True):
        moved = shift("energize", old.energize.ends, new.energize.ends)
        if moved is None:
            continue
        # A date that is lost or found outweighs every one that only moved.
        parts = (moved.earliest_s, moved.latest_s)
        weight_s += sum(1e9 if part is None else abs(part) for part in parts)
    return _Stretch(first, last, weight_s)


def _differ(before: PlanSnapshot, after: PlanSnapshot) -> bool:
    return any(
        old.state != new.state or zone_shifts(old, new)
        for old, new in zip(before.zones, after.zones, strict=True)
    )


def zone_shifts(before: ZoneSnapshot, after: ZoneSnapshot) -> list[tuple[str, Shift]]:
    """Return every date of a zone that moved, its own first, each with its layer's id.

    Rule: R8.

    Args:
        before: the zone then.
        after: the zone now.

    Returns:
        (layer id, move) pairs; the zone's own date has no layer id.
    """
    pairs = [("", shift("energize", before.energize.ends, after.energize.ends))]
    then = {layer.id: layer for layer in before.layers}
    for layer in after.layers:
        if layer.id in then:
            pairs += [(layer.id, moved) for moved in layer_shifts(then[layer.id], layer)]
    return [(layer_id, moved) for layer_id, moved in pairs if moved is not None]


def _causes(replay: Replay, stretch: _Stretch, zone_id: str) -> list[ShiftCause]:
    """Return what one stretch did to a zone: time first, then the fact at its end."""
    before, after = (_zone(replay.at_fact(n), zone_id) for n in (stretch.first, stretch.last))
    facts = replay.facts[stretch.first : stretch.last]
    if len(facts) > 1:
        ids = tuple(fact.id for fact in facts if fact.id)
        return attribute_to(_group(facts), before, after, ids, _may_all(facts))
    if not facts:
        return _by_time(before, after)
    fact = facts[0]
    if fact.kind is EntryKind.DONE:
        # Until it was written down the work slid; what it did is how it compares with its plan.
        early = (zone_id, _layer_id(fact)) in _laid_too_early(replay.at_fact(stretch.last))
        may = Message("moved-may-too-early") if early else _may(fact)
        return attribute_to(_what(fact, replay.job), before, after, _ids(fact), may)
    waited = _zone(replay.snapshot(stretch.first, fact.known_at), zone_id)
    return [
        *_by_time(before, waited),
        *attribute_to(_what(fact, replay.job), waited, after, _ids(fact), _may(fact)),
    ]


def _by_time(before: ZoneSnapshot, after: ZoneSnapshot) -> list[ShiftCause]:
    """Return what time did alone: work that nobody wrote down slides."""
    return attribute_to(Message("moved-by-time"), before, after, ())


def _zone(made: PlanSnapshot, zone_id: str) -> ZoneSnapshot:
    return next(zone for zone in made.zones if zone.id == zone_id)


def _laid_too_early(plan: PlanSnapshot) -> set[tuple[str | None, str | None]]:
    """Return the layers, with their zones, that came before what lies below allowed it."""
    return {
        (finding.zone_id, finding.layer_id)
        for finding in plan.findings
        if finding.code in _TOO_EARLY
    }


def _ids(fact: LearnedFact) -> tuple[str, ...]:
    return (fact.id,) if fact.id else ()


def attribute_to(
    what: Message,
    before: ZoneSnapshot,
    after: ZoneSnapshot,
    entries: Sequence[str],
    may: Message | None = None,
) -> list[ShiftCause]:
    """Return what something did to a zone, in a list of one; empty where it did nothing.

    Rule: R27.

    Args:
        what: what it was.
        before: the zone before it.
        after: the zone with it.
        entries: the log entries it stands for.
        may: why a date may come nearer by it; None where nobody knows.

    Returns:
        One cause or none.
    """
    shifts = zone_shifts(before, after)
    states = None if before.state == after.state else (before.state, after.state)
    if not shifts and states is None:
        return []
    own = next((moved for layer_id, moved in shifts if not layer_id), None)
    others = tuple((layer_id, moved) for layer_id, moved in shifts if layer_id)
    nearer = any(moved.is_nearer for _, moved in shifts)
    if nearer and may is None:
        may = Message("moved-may-unknown")
    return [ShiftCause(what, own, others, states, tuple(entries), may if nearer else None)]


def _what(fact: LearnedFact, job: Job) -> Message:
    entry = fact.source
    if isinstance(entry, DoneInFile):
        params: dict[str, object] = {"layer": entry.layer.title, "done_at": fact.known_at}
        return Message("moved-by-file", params)
    more: dict[str, object] = {
        "entry": fact.kind,
        "entry_at": entry.at,
        "by": entry.by or "",
        "layer": _layer_name(job, _layer_id(fact), entry.zone),
        "id": entry.id,
        "of": entry.of if isinstance(entry, Correction) else "",
    }
    return Message("moved-by-entry", more)


def _layer_id(fact: LearnedFact) -> object:
    if isinstance(fact.source, DoneInFile):
        return fact.source.layer.id
    return getattr(fact.source, "layer", None)


def _layer_name(job: Job, layer_id: object, zone_id: str | None) -> str:
    for zone in job.zones:
        for layer in zone.layers:
            if layer.id == layer_id and zone_id in {None, zone.id}:
                return layer.title
    return ""


def _group(facts: Sequence[LearnedFact]) -> Message:
    params = {
        "count": len(facts),
        "first_at": facts[0].known_at,
        "last_at": facts[-1].known_at,
        "entry": tuple(dict.fromkeys(fact.kind for fact in facts)),
    }
    return Message("moved-by-entries", params)


def _may_all(facts: Sequence[LearnedFact]) -> Message | None:
    known = any(_may(fact) is not None for fact in facts)
    return Message("moved-may-entries") if known else None


def _may(fact: LearnedFact) -> Message | None:
    """Return why a date may come nearer by a fact; None where nothing says so."""
    if fact.kind in _MEASURED:
        return Message("moved-may-measured")
    match fact.kind:
        case EntryKind.DONE:
            in_file = isinstance(fact.source, DoneInFile)
            return Message("moved-may-file" if in_file else "moved-may-done")
        case EntryKind.MOISTURE:
            return Message("moved-may-moisture")
        case EntryKind.INSPECTION:
            return Message("moved-may-inspection")
        case EntryKind.CORRECTION:
            return Message("moved-may-correction")
        case _:
            return None
