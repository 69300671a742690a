"""The links of a person: to their page of a job, and to the calendar feeds beside it.

A page's feed has a secret made of the page's: the page can show the feed's address, and whoever
holds the feed's address cannot get from it to the page.
"""

from __future__ import annotations

import base64
import hashlib
from collections.abc import Collection, Iterable
from dataclasses import replace
from datetime import datetime
from typing import TYPE_CHECKING

from sqlalchemy import select

from curecal.book.link_purpose import LinkPurpose
from curecal.book.links.links import Link, WantedLink, create_link, links_of
from curecal.book.schema.tables import job
from curecal.calendars.event import READERS, Audience
from curecal.errors import UsageError
from curecal.records import Record, record
from curecal.trade.job import Person, Role
from curecal.trade.names import comparable_email, comparable_name

if TYPE_CHECKING:
    from sqlalchemy import Connection

# Part of every feed's address: another label would end every subscription.
_FEED_LABEL = b"curecal feed of a page\x00"
_ROLES = {
    LinkPurpose.OWNER: frozenset({Role.OWNER}),
    LinkPurpose.CREW: frozenset({Role.CREW_LEAD, Role.CREW, Role.TESTER, Role.INSPECTOR}),
    LinkPurpose.ELECTRICIAN: frozenset({Role.ELECTRICIAN}),
}


@record(kw_only=True)
class MadeLink(Record):
    """A link with its secret, told this once; `feed_secret` is empty where there is no feed."""

    link: Link
    secret: str
    feed: Link | None = None
    feed_secret: str = ""


def purposes_for(roles: Collection[Role]) -> tuple[LinkPurpose, ...]:
    """Return which pages of a job are for somebody.

    Args:
        roles: What they are on it.
    """
    return tuple(purpose for purpose, wanted in _ROLES.items() if not wanted.isdisjoint(roles))


def audiences_for(roles: Collection[Role]) -> frozenset[Audience]:
    """Return whose calendars somebody reads.

    Args:
        roles: What they are on the job.
    """
    return frozenset(who for who, readers in READERS.items() if not readers.isdisjoint(roles))


def feed_secret_of(page_secret: str) -> str:
    """Return the secret of the feed beside a page.

    Args:
        page_secret: The page's; it cannot be found out from the result.
    """
    found = hashlib.sha256(_FEED_LABEL + page_secret.encode()).digest()
    return base64.urlsafe_b64encode(found).rstrip(b"=").decode()


def create_page_link(
    connection: Connection, wanted: WantedLink, roles: Collection[Role], *, now: datetime
) -> MadeLink:
    """Make the link to a person's page, and the one to their feed where they read a calendar.

    Args:
        connection: The transaction.
        wanted: The page's link.
        roles: What the person is on the job.
        now: When.
    """
    secret, made = create_link(connection, wanted, now=now)
    if not audiences_for(roles):
        return MadeLink(link=made, secret=secret)
    feed_secret, feed = create_link(
        connection,
        replace(wanted, purpose=LinkPurpose.FEED),
        now=now,
        secret=feed_secret_of(secret),
    )
    return MadeLink(link=made, secret=secret, feed=feed, feed_secret=feed_secret)


def create_feed_of_all_jobs(
    connection: Connection, person: Person, *, now: datetime, how: WantedLink
) -> MadeLink:
    """Make the link to a person's feed over all jobs of the book.

    Args:
        connection: The transaction.
        person: Who: known by their mail address, since two people may have one name.
        now: When.
        how: Its note and until when it holds.

    Raises:
        UsageError: the job has no mail address of this person (`links-no-mail`).
    """
    if not person.email:
        raise UsageError("links-no-mail", name=person.name)
    wanted = replace(how, job_id="", purpose=LinkPurpose.FEED, person=person.email)
    secret, made = create_link(connection, wanted, now=now)
    return MadeLink(link=made, secret=secret)


def is_known_as(person: Person, email: str) -> bool:
    """Return whether a feed over all jobs is this person's.

    Args:
        person: Somebody of a job.
        email: Whom the link was made for.
    """
    return comparable_email(person.email or "") == comparable_email(email)


def working_link(
    links: Iterable[Link], purpose: LinkPurpose, person: str, *, at: datetime
) -> Link | None:
    """Return a person's newest link of a kind that works; None where there is none.

    Args:
        links: The links of a job.
        purpose: What it opens.
        person: Whose.
        at: The instant.
    """
    wanted = comparable_name(person)
    found = [
        link
        for link in links
        if link.purpose is purpose and comparable_name(link.person) == wanted and link.works_at(at)
    ]
    return found[-1] if found else None


def jobs_with_feeds(connection: Connection, at: datetime) -> dict[str, int]:
    """Return the jobs whose calendar somebody can read by a link, with how often each changed.

    Args:
        connection: The transaction.
        at: The instant.
    """
    wanted = {
        one.job_id
        for one in links_of(connection)
        if one.purpose is LinkPurpose.FEED and one.works_at(at)
    }
    found = generations_of(connection)
    # A feed over all jobs may show any of them.
    return found if "" in wanted else {name: found[name] for name in found if name in wanted}


def generations_of(connection: Connection, job_id: str | None = None) -> dict[str, int]:
    """Return how often jobs changed, by id.

    Args:
        connection: The transaction.
        job_id: One job; every job of the book where none is named.
    """
    asked = select(job.c.id, job.c.generation).order_by(job.c.id)
    if job_id is not None:
        asked = asked.where(job.c.id == job_id)
    return {row.id: int(row.generation) for row in connection.execute(asked)}
