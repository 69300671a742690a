"""Whom somebody on site calls when nothing can be sent."""

from __future__ import annotations

from typing import TYPE_CHECKING

from curecal.trade.job import Person, Role
from curecal.trade.names import comparable_name

if TYPE_CHECKING:
    from curecal.web.page_request import PageRequest

_FIRST = (Role.CREW_LEAD, Role.ELECTRICIAN, Role.OWNER, Role.OFFICE)
_MOST = 5


def people_to_call(page: PageRequest) -> tuple[Person, ...]:
    """Return who is to hear of a stop by telephone, the crew lead first, without the caller.

    Args:
        page: The request, of a link of a job or of the whole book.
    """
    if page.job_now is None:
        return ()
    own = comparable_name(page.link.person)
    named = {
        comparable_name(person.name): person
        for person in sorted(page.job.people, key=_rank)
        if person.phone and person.is_on_the_job(page.now)
    }
    named.pop(own, None)
    return tuple(named.values())[:_MOST]


def _rank(person: Person) -> int:
    return min(
        (_FIRST.index(role) for role in person.every_role if role in _FIRST), default=len(_FIRST)
    )
