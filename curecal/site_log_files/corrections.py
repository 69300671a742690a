"""Corrections as they stand in a log, for an entry that is not understood without them."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from datetime import UTC, datetime, tzinfo

from curecal.errors import ValueRefused
from curecal.toml_files.log_schema import BASE, KINDS
from curecal.toml_files.table_reader import Table
from curecal.toml_files.values import instant
from curecal.trade.job import Person, Role
from curecal.trade.names import comparable_name

# What may tell of an electrical fault: nobody else takes that back, however it is spelled.
_ELECTRICAL = frozenset(
    {"stopped", "resistance", "protection", "connected", "thermostat", "continuity"}
)
_LAST = datetime.max.replace(tzinfo=UTC)
# What a correction says of itself; a zone is of the entry it corrects.
_ITS_OWN = frozenset({"of", "withdrawn", *(key.name for key in BASE)} - {"zone"})


def who_may_mend(kind: str) -> Role:
    """Return whose correction or withdrawal counts of an entry that cannot be read.

    Rule: R24d; nobody knows whether such an entry is bad news.

    Args:
        kind: The entry's kind.
    """
    return Role.ELECTRICIAN if kind in _ELECTRICAL else Role.CREW_LEAD


def without_strangers(
    kind: str, log: Mapping[str, Table], people: Sequence[Person], tz: tzinfo
) -> dict[str, Table]:
    """Return a log without the corrections by who may not mend an entry that cannot be read.

    Args:
        kind: The entry's kind.
        log: Every entry by its identity.
        people: The people of the job.
        tz: The zone of the site.
    """
    role = who_may_mend(kind)
    return {
        name: table
        for name, table in log.items()
        if table.get("kind") != "correction" or _is_signed_as(role, table, people, tz)
    }


def _is_signed_as(role: Role, correction: Table, people: Sequence[Person], tz: tzinfo) -> bool:
    """Return whether a correction is signed by somebody of the job who had a role then."""
    by = comparable_name(str(correction.get("by", "")))
    at = _recorded(correction, tz)
    return any(
        comparable_name(person.name) == by
        and role in person.every_role
        and person.is_on_the_job(at)
        for person in people
    )


def is_withdrawn(own: str, log: Mapping[str, Table], tz: tzinfo) -> bool:
    """Return whether an entry was withdrawn, and not by a correction withdrawn itself.

    Args:
        own: The entry's identity.
        log: Every entry by its identity.
        tz: The zone of the site.

    Returns:
        Whether it counts for nothing.
    """
    return any(table.get("withdrawn") is True for table in _standing(own, log, tz))


def as_corrected(own: str, log: Mapping[str, Table], tz: tzinfo) -> Iterator[Table]:
    """Yield an entry with its first correction, its first two, and so on.

    What was not understood until then was no fact: such an entry is recorded with the correction.

    Args:
        own: The entry's identity.
        log: Every entry by its identity.
        tz: The zone of the site.

    Yields:
        The entry's table with the keys corrected up to then.
    """
    table = dict(log[own])
    # Of a statement about a span `from` is its beginning, in its correction too.
    its_own = _ITS_OWN - {key.name for key in KINDS.get(str(table.get("kind")), ())}
    for correction in _standing(own, log, tz):
        keys = {name: value for name, value in correction.items() if name not in its_own}
        table |= keys
        recorded = correction.get("recorded", correction.get("at"))
        yield {**table, "recorded": recorded}


def _standing(own: str, log: Mapping[str, Table], tz: tzinfo) -> list[Table]:
    """Return the corrections of an entry that are not withdrawn, the earliest recorded first."""
    kept = [(name, table) for name, table in log.items() if table.get("kind") == "correction"]
    ordered = sorted(kept, key=lambda pair: (_recorded(pair[1], tz), pair[0]))
    void: set[str] = set()
    for name, table in reversed(ordered):
        if table.get("withdrawn") is True and name not in void:
            void.add(str(table.get("of")))
    return [table for name, table in ordered if table.get("of") == own and name not in void]


def _recorded(table: Table, tz: tzinfo) -> datetime:
    try:
        return instant(table.get("recorded", table.get("at")), tz)
    except ValueRefused:
        # It is said at its own place, and the job is refused for it.
        return _LAST
