"""Corrections of the log: whose word changes which entry, and what is said of it ever after."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Sequence
from dataclasses import fields

from curecal.planning.site_log.entry_kinds import kind_of
from curecal.planning.site_log.said import OWNERS, may_say
from curecal.records import Record, record
from curecal.trade.findings import Finding, Params, Severity
from curecal.trade.job import Person, Role
from curecal.trade.names import comparable_name
from curecal.trade.site_log import (
    OPEN_OHM,
    Connected,
    Correction,
    Energized,
    Entry,
    HeatStep,
    Inspection,
    Kept,
    MarkedPoints,
    MoistureTest,
    Place,
    Protection,
    Reading,
    Release,
    Remark,
    Resistance,
    Result,
    Stopped,
    ThermostatSet,
)

# What no date, no hold point and no stop is made of.
_HARMLESS = frozenset({"note", "text", "lot", "meter", "path"})
_ELECTRICAL = (Resistance, Protection, Connected, ThermostatSet)
_BAD = frozenset({Result.FAILED, Result.REPLACE})
# What meets a hold point or proves warmth, and never says that anything is wrong.
_ONLY_GOOD = (Release, Kept, MarkedPoints)
_ELECTRICIAN = frozenset({Role.ELECTRICIAN})
_LEAD = frozenset({Role.CREW_LEAD})
_SETTLERS = _LEAD | _ELECTRICIAN


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
        True for a colder air, a lower insulation, a test that failed after all, a stop restored.
    """
    if isinstance(before or after, Remark):
        return True
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
        case Reading(), "low_c":
            worse = _is_lower(old, new) or old is None
        case Reading(), "temperature_c":
            # The floor's own: a lower number there may take back that it was on.
            worse = before.place is not Place.FLOOR and _is_lower(old, new)
        case Kept(), "above_c":
            worse = _is_lower(old, new)
        case MoistureTest(), "value_fraction":
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
    if isinstance(entry, Inspection):
        return entry.result in _BAD
    on = isinstance(entry, Reading) and entry.heating_on
    return on or isinstance(entry, (Stopped, Energized, HeatStep))


def whose_word(entry: Entry) -> str:
    """Return whose word changes an entry, beside what is bad news, as a code.

    Rule: R22, R24.

    Args:
        entry: the entry as it stands.

    Returns:
        "settler" for a stop, a failure or a switch-on; "electrician" for electrical evidence;
        else "lead".
    """
    if _is_stop(entry):
        return "settler"
    return "electrician" if isinstance(entry, _ELECTRICAL) else "lead"


_ROLES = {"settler": _SETTLERS, "electrician": _ELECTRICIAN, "lead": _LEAD}


def may_change(people: Sequence[Person], by: str | None, entry: Entry) -> bool:
    """Return whether somebody's word changes an entry for the better.

    Who signed an entry may correct it, but for a stop or a switch-on, and for what the owner
    may not give. Where the job names nobody for it, the same name as on the entry counts.

    Rule: R22, R24.

    Args:
        people: the people of the job.
        by: who corrects it.
        entry: the entry.

    Returns:
        True where the word counts.
    """
    word = whose_word(entry)
    roles = _ROLES[word]
    if _is_named(people, by, roles):
        return True
    own = bool(entry.by) and comparable_name(by or "") == comparable_name(entry.by or "")
    if word == "lead":
        return own and may_say(people, by, barred=frozenset())
    named = any(person.role in roles for person in people)
    lifted = isinstance(entry, (Resistance, Inspection)) or not named
    return own and lifted and may_say(people, by, barred=OWNERS)


def _is_named(people: Iterable[Person], by: str | None, roles: Collection[Role]) -> bool:
    who = comparable_name(by or "")
    return bool(who) and any(
        comparable_name(each.name) == who for each in people if each.role in roles
    )


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
    if all(counts_from_anybody(each, then) for each, then in pairs):
        return None
    touched = [entry for pair in pairs for entry in pair if entry is not None]
    counts = all(may_change(people, correction.by, entry) for entry in touched)
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
    for each in corrected:
        withdrawn = each.correction.withdrawn
        params: Params = {
            "entry": kind_of(each.entry),
            "told_at": each.entry.at,
            "told_by": each.entry.by or "",
            "corrected_at": each.correction.at,
            "by": each.correction.by or "",
        }
        done = "withdrawn" if withdrawn else "corrected"
        code = f"entry-{done}" if each.counts else f"{done}-wants-{whose_word(each.entry)}"
        severity = Severity.CAUTION if each.counts else Severity.WARNING
        found.append(Finding(severity, code, each.correction.path, params, each.entry.zone))
    return found
