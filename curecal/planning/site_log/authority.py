"""Who may give which evidence: one table, and what an entry of the log lacks by it.

Bad news counts from anybody, facts of the work from anybody. What meets a hold point, lifts a
stop or states what nobody measured counts only from a person of the job whose role may say it.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping, Sequence
from datetime import datetime
from enum import StrEnum
from types import MappingProxyType

from curecal.planning.site_log.entry_kinds import kind_of
from curecal.trade.findings import Finding, Message, Severity
from curecal.trade.job import Person, Role
from curecal.trade.names import comparable_name
from curecal.trade.site_log import (
    Booking,
    Connected,
    Continuity,
    Entry,
    Inspection,
    Kept,
    LeadAlarm,
    Leads,
    MarkedPoints,
    Mode,
    MoistureTest,
    NotTested,
    Protection,
    Release,
    Resistance,
    Result,
    Resumed,
    ThermostatSet,
    TripTest,
    VisitNote,
)


class Evidence(StrEnum):
    """What an entry proves, if it counts."""

    CABLE_TEST = "cable test"
    NOT_TESTED = "not tested before covering"
    PROTECTION = "protection"
    THERMOSTAT = "thermostat"
    CONNECTION = "connection"
    INSPECTION = "inspection"
    INSPECTION_NOT_REQUIRED = "inspection not required"
    SOUND_LAYER = "sound layer"
    MOISTURE = "moisture"
    MOISTURE_NOT_REQUIRED = "moisture test not required"
    TEST_POINTS = "test points"
    KEPT = "kept"
    RELEASE = "release"
    VISIT = "visit"
    RESUMED = "resumed"
    RESUMED_ELECTRICAL = "resumed after an electrical stop"


class Gap(StrEnum):
    """What an entry lacks to count."""

    UNSIGNED = "unsigned"
    UNKNOWN = "unknown"
    ENDED = "ended"
    ROLE = "role"
    LICENSE = "license"
    ENTERED_BY = "entered-by"
    ORIGIN = "origin"
    PHOTO = "photo"
    RELEASE = "release"


_ELECTRICIAN = frozenset({Role.ELECTRICIAN})
_CREW = frozenset({Role.CREW_LEAD, Role.CREW})
_SITE = frozenset({Role.CREW_LEAD, Role.TESTER})

MAY_GIVE: Mapping[Evidence, frozenset[Role]] = MappingProxyType(
    {
        Evidence.CABLE_TEST: _CREW | _ELECTRICIAN,
        Evidence.NOT_TESTED: frozenset({Role.CREW_LEAD}),
        Evidence.PROTECTION: _ELECTRICIAN,
        Evidence.THERMOSTAT: _ELECTRICIAN,
        Evidence.CONNECTION: _ELECTRICIAN,
        Evidence.INSPECTION: frozenset({Role.INSPECTOR}),
        Evidence.INSPECTION_NOT_REQUIRED: frozenset({Role.INSPECTOR, Role.ELECTRICIAN}),
        Evidence.SOUND_LAYER: _SITE,
        Evidence.MOISTURE: _SITE,
        Evidence.MOISTURE_NOT_REQUIRED: frozenset({Role.CREW_LEAD}),
        # Who lays or tests the cable sees where it is, and so does who will take the samples.
        Evidence.TEST_POINTS: _CREW | _SITE | _ELECTRICIAN,
        Evidence.KEPT: _CREW,
        Evidence.RELEASE: frozenset({Role.CREW_LEAD}),
        # Who comes and who waits for them may agree on a day; an owner asks one of them.
        Evidence.VISIT: _CREW | _SITE | _ELECTRICIAN | {Role.INSPECTOR, Role.OFFICE},
        Evidence.RESUMED: frozenset({Role.CREW_LEAD, Role.ELECTRICIAN}),
        Evidence.RESUMED_ELECTRICAL: _ELECTRICIAN,
    }
)
"""The roles that may give each evidence; any of a person's roles suffices."""

LICENSED = frozenset({Evidence.CONNECTION})
"""What counts only from somebody whose license stands in the job."""
PHOTOGRAPHED = frozenset(
    {
        Evidence.CONNECTION,
        Evidence.INSPECTION,
        Evidence.INSPECTION_NOT_REQUIRED,
        Evidence.RESUMED_ELECTRICAL,
    }
)
"""What needs a photo when somebody else typed it: the sticker, the card, the meter."""
ENTERERS = frozenset({Role.CREW_LEAD, Role.OFFICE})
"""Who may type what somebody else did."""

_BAD_NEWS = frozenset({Result.FAILED, Result.REPLACE, Booking.DECLINED, Booking.CALLED_OFF})
_KINDS: Mapping[type[Entry], Evidence] = MappingProxyType(
    {
        Resistance: Evidence.CABLE_TEST,
        NotTested: Evidence.NOT_TESTED,
        Protection: Evidence.PROTECTION,
        ThermostatSet: Evidence.THERMOSTAT,
        Connected: Evidence.CONNECTION,
        MoistureTest: Evidence.MOISTURE,
        MarkedPoints: Evidence.TEST_POINTS,
        Kept: Evidence.KEPT,
        Release: Evidence.RELEASE,
        VisitNote: Evidence.VISIT,
        Resumed: Evidence.RESUMED,
    }
)


def may_give(roles: Collection[Role], evidence: Evidence) -> bool:
    """Return whether a person with some roles may give an evidence.

    Rule: R24c.

    Args:
        roles: the person's roles.
        evidence: the evidence.

    Returns:
        True where one of the roles suffices.
    """
    return not MAY_GIVE[evidence].isdisjoint(roles)


def evidence_of(entry: Entry) -> Evidence | None:
    """Return what an entry proves; None for bad news and for facts of the work.

    Rule: R24c.

    Args:
        entry: the entry.

    Returns:
        The evidence.
    """
    # A device that did not trip is judged with its limit; of these two the word alone decides.
    if isinstance(entry, Inspection | VisitNote) and says_bad_news(entry):
        return None
    if not isinstance(entry, Inspection):
        return _KINDS.get(type(entry))
    if entry.result is Result.NOT_REQUIRED:
        # Of a layer it is its moisture test that is not required.
        of_layer = entry.layer is not None
        return Evidence.MOISTURE_NOT_REQUIRED if of_layer else Evidence.INSPECTION_NOT_REQUIRED
    of_heating = entry.layer is None and entry.result is Result.PASSED
    return Evidence.INSPECTION if of_heating else Evidence.SOUND_LAYER


def says_bad_news(entry: Entry) -> bool:
    """Return whether an entry says by itself that something failed.

    Whether a reading fails is for the limit it is held against.

    Rule: R24c.

    Args:
        entry: the entry.

    Returns:
        True for a failed inspection, a device that did not trip, leads on the thermostat, a
        visit that is off.
    """
    match entry:
        case Inspection(result=word) | VisitNote(state=word):
            return word in _BAD_NEWS
        case Protection():
            return entry.trip_test is TripTest.DID_NOT_TRIP
        case Connected():
            return entry.locked is False or entry.tagged is False or entry.leads is Leads.ON
        case ThermostatSet():
            return entry.mode is not Mode.FLOOR
        case Continuity():
            return entry.state is LeadAlarm.SOUNDED
    return False


def persons_named(people: Iterable[Person], name: str | None) -> list[Person]:
    """Return the people of a job who have a name, compared as people read it.

    Rule: R24c.

    Args:
        people: the people of the job.
        name: the name as somebody wrote it.

    Returns:
        Every entry with that name: one person may stand there twice, in two roles.
    """
    wanted = comparable_name(name or "")
    return [person for person in people if wanted and comparable_name(person.name) == wanted]


def is_stranger(people: Iterable[Person], entry: Entry) -> bool:
    """Return whether an entry is signed with a name that nobody of the job has.

    Rule: R24c; an unsigned fact of the work stands, a stranger's is only shown.
    """
    return bool(entry.by) and not persons_named(people, entry.by)


def names_any(people: Iterable[Person], roles: Collection[Role], at: datetime) -> bool:
    """Return whether a job names anybody for some roles at an instant.

    Rule: R24c.

    Args:
        people: the people of the job.
        roles: the roles.
        at: the instant.

    Returns:
        True where somebody has one of them then.
    """
    return any(
        person.is_on_the_job(at) and not person.every_role.isdisjoint(roles) for person in people
    )


def speaks_as(people: Iterable[Person], entry: Entry, roles: Collection[Role]) -> bool:
    """Return whether an entry is signed by a person of the job who had one of some roles then.

    Rule: R24c.

    Args:
        people: the people of the job.
        entry: the entry.
        roles: the roles.

    Returns:
        True for a person of these roles.
    """
    return names_any(persons_named(people, entry.by), roles, _signed_at(entry))


def license_of(people: Iterable[Person], name: str | None) -> str | None:
    """Return the license of a person of the job, if one stands there.

    Rule: R24c.
    """
    return next((one.license for one in persons_named(people, name) if one.license), None)


def gap(people: Sequence[Person], entry: Entry, evidence: Evidence) -> Gap | None:
    """Return what an entry lacks to be an evidence; None where it counts.

    Rule: R24c.

    Args:
        people: the people of the job.
        entry: the entry.
        evidence: what it is to prove.

    Returns:
        The first thing that is missing.
    """
    signers = persons_named(people, entry.by)
    if not signers:
        return Gap.UNKNOWN if entry.by else Gap.UNSIGNED
    fitting = [person for person in signers if may_give(person.every_role, evidence)]
    if not fitting:
        return Gap.ROLE
    if not any(person.is_on_the_job(_signed_at(entry)) for person in fitting):
        return Gap.ENDED
    if evidence in LICENSED and license_of(signers, entry.by) is None:
        return Gap.LICENSE
    return entering_gap(people, entry, evidence)


def _signed_at(entry: Entry) -> datetime:
    """Return when an entry was signed: whoever has left signs nothing, not even of days before."""
    return max(entry.at, entry.recorded) if _typed_by_signer(entry) else entry.at


def _typed_by_signer(entry: Entry) -> bool:
    """Return whether whoever did it wrote it down, by all that the entry says."""
    typist = entry.entered_by
    return typist is None or comparable_name(typist) == comparable_name(entry.by or "")


def entering_gap(people: Sequence[Person], entry: Entry, evidence: Evidence | None) -> Gap | None:
    """Return what an entry lacks that somebody else typed than who did it.

    Rule: R24c.

    Args:
        people: the people of the job.
        entry: the entry.
        evidence: what it is to prove; None for a fact of the work.

    Returns:
        The first thing that is missing; None where the signer typed it.
    """
    if _typed_by_signer(entry):
        return None
    if evidence is Evidence.RELEASE:
        return Gap.RELEASE
    enterers = persons_named(people, entry.entered_by)
    # Who typed it was of the job when they typed it.
    if not names_any(enterers, ENTERERS, entry.recorded):
        return Gap.ENTERED_BY
    # Where `from` is an instant of the statement itself, there is no key for how it is known.
    if entry.origin is None and evidence is not Evidence.KEPT:
        return Gap.ORIGIN
    if evidence in PHOTOGRAPHED and not entry.photo:
        return Gap.PHOTO
    return None


def gap_message(found: Gap, entry: Entry, evidence: Evidence) -> Message:
    """Return why an entry does not count, as a message.

    Rule: R24c.

    Args:
        found: what it lacks.
        entry: the entry.
        evidence: what it was to prove.

    Returns:
        The message, with who signed, who typed and whose word it takes.
    """
    params: dict[str, object] = {
        "entry": kind_of(entry),
        "signed_at": entry.at,
        "by": entry.by or "",
        "entered_by": entry.entered_by or "",
        "roles": in_order(MAY_GIVE[evidence]),
    }
    return Message(f"signature-{found.value}", params)


def in_order(roles: Collection[Role]) -> tuple[Role, ...]:
    """Return roles in the order of `Role`.

    Rule: R24c.
    """
    return tuple(role for role in Role if role in roles)


def signature_findings(people: Sequence[Person], entries: Iterable[Entry]) -> list[Finding]:
    """Return a warning for each entry that proves nothing for want of whoever may say it.

    A release says so at its own hold point, and what lifts a stop at the stop.

    Rule: R24c.

    Args:
        people: the people of the job.
        entries: the log as it stood.

    Returns:
        The findings in order; also for a name that is not in the job, whatever it signed.
    """
    findings = []
    for entry in entries:
        evidence = evidence_of(entry)
        if evidence in {Evidence.RELEASE, Evidence.RESUMED}:
            continue
        found = None if evidence is None else gap(people, entry, evidence)
        if found is not None and evidence is not None and not says_bad_news(entry):
            message = gap_message(found, entry, evidence)
        elif is_stranger(people, entry):
            params = {"entry": kind_of(entry), "by": entry.by, "nearest": ""}
            message = Message("signer-not-in-job", params)
        else:
            continue
        findings.append(
            Finding(Severity.WARNING, message.code, entry.path, message.params, entry.zone)
        )
    return findings
