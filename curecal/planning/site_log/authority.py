"""Who may say what: a name in the log held against the people the job names."""

from __future__ import annotations

from collections.abc import Collection

from curecal.planning.site_log.said import OWNERS, may_say
from curecal.trade.job import Job, Role
from curecal.trade.names import comparable_name
from curecal.trade.site_log import Inspection, Result

# Whose word lifts a stop, or what failed.
SETTLERS = frozenset({Role.CREW_LEAD, Role.ELECTRICIAN})


def names_any(job: Job, roles: Collection[Role]) -> bool:
    """Return whether a job names anybody for some roles.

    Rule: R22.

    Args:
        job: the job.
        roles: the roles.

    Returns:
        True where somebody has one of them.
    """
    return any(person.role in roles for person in job.people)


def speaks_as(job: Job, by: str | None, roles: Collection[Role]) -> bool:
    """Return whether what somebody signed is signed by a person of some roles.

    Nobody is no one. Where the job names no person for them, anybody may be one whom it does
    not name as somebody else, but for "none" and "the owner".

    Rule: R22.

    Args:
        job: the job.
        by: who signed, if anybody did.
        roles: the roles.

    Returns:
        True for a person of these roles.
    """
    who = comparable_name(by or "")
    if not who:
        return False
    theirs = {comparable_name(person.name) for person in job.people if person.role in roles}
    others = {comparable_name(person.name) for person in job.people if person.role not in roles}
    if theirs:
        return who in theirs
    return who not in others and may_say(job.people, by, barred=OWNERS)


def lifts(job: Job, look: Inspection, found: Inspection) -> bool:
    """Return whether an inspection takes back what an earlier one found.

    Whoever found it may find it mended; else it takes the crew lead or the electrician.

    Rule: R22, R24.

    Args:
        job: the job.
        look: the later inspection.
        found: the one that failed something, or gave it up.

    Returns:
        True for a good word, later, of somebody whose word counts.
    """
    good = look.result in {Result.SOUND, Result.PASSED}
    same = bool(look.by) and comparable_name(look.by or "") == comparable_name(found.by or "")
    return look.at > found.at and good and (same or speaks_as(job, look.by, SETTLERS))
