"""Corrections of the log: whose word changes which entry, and what is said of it ever after."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import fields

from curecal.planning.site_log.authority import (
    MAY_GIVE,
    Evidence,
    entering_gap,
    evidence_of,
    gap,
    in_order,
    says_bad_news,
    speaks_as,
)
from curecal.planning.site_log.entry_kinds import kind_of
from curecal.records import Record, record
from curecal.trade.findings import Finding, Params, Severity
from curecal.trade.job import Person, Role
from curecal.trade.names import comparable_name
from curecal.trade.site_log import (
    OPEN_OHM,
    Correction,
    Energized,
    Entry,
    HeatStep,
    Inspection,
    Kept,
    MarkedPoints,
    MoistureTest,
    Place,
    Reading,
    Release,
    Remark,
    Resistance,
    Result,
    Resumed,
    Stopped,
)

# What no date, no hold point and no stop is made of.
_HARMLESS = frozenset({"note", "text", "lot", "meter", "path"})
_BAD = frozenset({Result.FAILED, Result.REPLACE})
# What meets a hold point or lifts a stop, and never says that anything is wrong. A room that was
# kept at 10 °C is bad news beside an expected 20 °C.
_ONLY_GOOD = (Release, MarkedPoints, Resumed)
_LEAD = frozenset({Role.CREW_LEAD})
# The least that any product's insulation must have: what is under it is a fault of any cable.
_LEAST_INSULATION_OHM = 1e6


@record
class Corrected(Record):
    """A correction that wants somebody's word, the entry it is about, and whether it counts."""

    correction: Correction
    entry: Entry
    counts: bool


def counts_from_anybody(before: Entry | None, after: Entry | None) -> bool:
    """Return whether a correction is bad news, or of what nothing is made of.

    A closed rule by kind of entry; what it does not know wants somebody's word.

    Rule: R24.

    Args:
        before: the entry as it stood; None for one that was withdrawn.
        after: as it is to stand; None to withdraw it.

    Returns:
        True for a colder surface, a lower insulation, a test that failed after all, a stop
        restored.
    """
    if isinstance(before or after, Remark):
        return not any(isinstance(entry, Remark) and entry.is_lost for entry in (before, after))
    if before is None:
        return after is not None and _is_stop(after)
    if after is None:
        good = isinstance(before, Inspection) and before.result not in _BAD
        return good or isinstance(before, _ONLY_GOOD)
    return all(_is_worse(before, after, name) for name in _changed(before, after))


def _changed(before: Entry, after: Entry) -> list[str]:
    names = [field.name for field in fields(before) if field.name not in _HARMLESS]
    return [name for name in names if getattr(before, name) != getattr(after, name)]


def _is_worse(before: Entry, after: Entry, name: str) -> bool:
    """Return whether one field of an entry says something worse than it did."""
    old, new = getattr(before, name), getattr(after, name)
    match before, name:
        case Inspection(), "result":
            worse = new in _BAD and old not in _BAD
        case _ if says_bad_news(after) and not says_bad_news(before):
            worse = True
        case Reading(), "low_c":
            worse = _is_lower(old, new) or old is None
        case Reading(), "temperature_c":
            # The floor's own: a lower number there may take back that it was on. Of the air it
            # may make a floor over ground look as warm as its room.
            worse = before.place is Place.SURFACE and _is_lower(old, new)
        case Kept(), "above_c":
            worse = _is_lower(old, new)
        case MoistureTest(), "value_fraction" | "value_kgm2s":
            worse = _is_lower(new, old)
        case Resistance(), "insulation_ohm":
            worse = _is_lower(old, new)
        case Resistance(), "conductor_ohm":
            worse = new == OPEN_OHM
        case _:
            worse = False
    return worse


def _is_lower(old: float | None, new: float | None) -> bool:
    return old is not None and new is not None and new < old


def _is_stop(entry: Entry) -> bool:
    """Return whether an entry stops the work, says that something failed, or that it was on."""
    on = isinstance(entry, Reading) and entry.heating_on
    return on or says_bad_news(entry) or isinstance(entry, (Stopped, Energized, HeatStep))


def who_may_change(entry: Entry) -> frozenset[Role]:
    """Return the roles whose correction of an entry may be good news.

    Rule: R24d.

    Args:
        entry: the entry as it stands.

    Returns:
        Of a stop or a failure who may lift it; of an electrical fault the electrician; of what
        the crew lead could not have given who may give it; else the crew lead.
    """
    wanted = _lifted_by(entry) or evidence_of(entry)
    if wanted is None or (Role.CREW_LEAD in MAY_GIVE[wanted] and _lifted_by(entry) is None):
        return _LEAD
    return MAY_GIVE[wanted]


def _lifted_by(entry: Entry) -> Evidence | None:
    """Return what takes an entry's bad news back; None where it says nothing bad."""
    if isinstance(entry, Stopped):
        return Evidence.RESUMED_ELECTRICAL if entry.cause.is_electrical else Evidence.RESUMED
    if isinstance(entry, Inspection) and says_bad_news(entry):
        of_heating = entry.layer is None and entry.result is Result.FAILED
        return Evidence.INSPECTION if of_heating else Evidence.SOUND_LAYER
    if _shows_fault(entry):
        return Evidence.RESUMED_ELECTRICAL
    return Evidence.RESUMED if _is_stop(entry) else None


def _shows_fault(entry: Entry) -> bool:
    """Return whether an entry shows an electrical fault, whatever the product."""
    if not isinstance(entry, Resistance):
        return says_bad_news(entry)
    low = entry.insulation_ohm is not None and entry.insulation_ohm < _LEAST_INSULATION_OHM
    return low or entry.to_earth_ohm is not None or entry.conductor_ohm == OPEN_OHM


def may_change(people: Sequence[Person], correction: Correction, entry: Entry) -> bool:
    """Return whether a correction may make an entry good news, or better news.

    Rule: R24d.

    Args:
        people: the people of the job.
        correction: the correction, with who makes it.
        entry: the entry, as it stood or as it is to stand.

    Returns:
        True where the word counts: of who signed the entry and may give it, or of the crew lead;
        of bad news only of who may lift it.
    """
    wanted = _lifted_by(entry) or evidence_of(entry)
    if entering_gap(people, correction, wanted) is not None:
        return False
    if speaks_as(people, correction, who_may_change(entry)):
        return True
    own = bool(entry.by) and comparable_name(correction.by or "") == comparable_name(entry.by or "")
    if _lifted_by(entry) is not None or not own:
        return False
    evidence = evidence_of(entry)
    if evidence is None:
        return speaks_as(people, correction, frozenset(Role))
    return gap(people, correction, evidence) is None


def judged(
    people: Sequence[Person],
    correction: Correction,
    before: Sequence[Entry],
    after: Sequence[Entry],
) -> Corrected | None:
    """Return a correction as it is to be told of, and whether it counts.

    Rule: R22, R24.

    Args:
        people: the people of the job.
        correction: the correction.
        before: the entry as it stood: none where it was withdrawn, more where an id is shared.
        after: as it is to stand.

    Returns:
        None for one that counts from anybody: bad news, and what nothing is made of.
    """
    size = max(len(before), len(after))
    pairs = list(zip(_padded(before, size), _padded(after, size), strict=True))
    if all(counts_from_anybody(old, new) for old, new in pairs):
        return None
    touched = [entry for pair in pairs for entry in pair if entry is not None]
    counts = all(may_change(people, correction, entry) for entry in touched)
    return Corrected(correction, touched[0], counts)


def _padded(entries: Sequence[Entry], size: int) -> list[Entry | None]:
    return [*entries, *[None] * (size - len(entries))]


def correction_findings(corrected: Iterable[Corrected]) -> list[Finding]:
    """Return what is said of corrections, for as long as the job lives.

    Rule: R24.

    Args:
        corrected: those that want somebody's word.

    Returns:
        A caution for each that counts; a warning for each that does not, with whose word it wants.
    """
    found = []
    for changed in corrected:
        entry, correction = changed.entry, changed.correction
        params: Params = {
            "entry": kind_of(entry),
            "told_at": entry.at,
            "told_by": entry.by or "",
            "corrected_at": correction.at,
            "by": correction.by or "",
            "roles": in_order(who_may_change(entry)),
        }
        done = "withdrawn" if correction.withdrawn else "corrected"
        code = f"entry-{done}" if changed.counts else f"{done}-wants-role"
        severity = Severity.CAUTION if changed.counts else Severity.WARNING
        found.append(Finding(severity, code, correction.path, params, entry.zone))
    return found
