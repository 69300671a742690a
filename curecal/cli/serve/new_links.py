"""The links of a job's people, made where they have none, and printed once."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import datetime
from typing import TYPE_CHECKING

from curecal.book.jobs.jobs import read_in
from curecal.book.link_purpose import LinkPurpose
from curecal.book.links.links import Link, WantedLink, create_link, links_of
from curecal.book.links.person_links import (
    MadeLink,
    create_page_link,
    purposes_for,
    working_link,
)
from curecal.cli.book.book_shown import say
from curecal.cli.links.links_shown import say_made, say_once
from curecal.trade.names import comparable_name
from curecal.web.page_request import roles_of
from curecal.words.sentences import plain_words
from curecal.words.values import clean

if TYPE_CHECKING:
    from sqlalchemy import Connection

    from curecal.book.connection.open_book import Book
    from curecal.trade.job import Job, Role

_OFFICE = "office"


def say_new_links(book: Book, job_ids: Sequence[str], base: str, *, now: datetime) -> None:
    """Make the links that people of some jobs and the office have not got, and print them.

    Args:
        book: The book.
        job_ids: The jobs.
        base: What stands before every link.
        now: The instant.
    """
    with book.writing() as connection:
        jobs = [job for job_id in job_ids if (job := read_in(connection, job_id).job)]
        of_jobs = [(job, list(_links_of_job(connection, job, now))) for job in jobs]
        office = _office_link(connection, now)
    every = [office, *(one for _, found in of_jobs for one in found)]
    if any(isinstance(one, MadeLink) for one in every):
        say_once()
    if any(isinstance(one, Link) for one in every):
        say([plain_words().text("links.kept-once"), ""])
    for job, found in of_jobs:
        say([clean(job.name)], style="head")
        for one in found:
            _say(one, base)
        say([""])
    say([plain_words().text("links.whole-book")], style="head")
    _say(office, base)


def _links_of_job(connection: Connection, job: Job, now: datetime) -> Iterator[MadeLink | Link]:
    """Yield each person's link to each of their pages: the one that works, else a new one."""
    standing = links_of(connection, job.id)
    for name, roles in _people(job, now).items():
        for purpose in purposes_for(roles):
            kept = working_link(standing, purpose, name, at=now)
            wanted = WantedLink(job_id=job.id, purpose=purpose, person=name)
            yield kept or create_page_link(connection, wanted, roles, now=now)


def _people(job: Job, now: datetime) -> dict[str, frozenset[Role]]:
    """Return everybody who is on a job, each once, with all of their roles."""
    named = {comparable_name(person.name): person.name for person in reversed(job.people)}
    found = {name: roles_of(job, name, now)[1] for name in reversed(named.values())}
    return {name: roles for name, roles in found.items() if roles}


def _office_link(connection: Connection, now: datetime) -> MadeLink | Link:
    standing = [link for link in links_of(connection, "") if link.works_at(now)]
    kept = next((link for link in standing if link.purpose is LinkPurpose.OFFICE), None)
    if kept is not None:
        return kept
    wanted = WantedLink(job_id="", purpose=LinkPurpose.OFFICE, person=_OFFICE)
    secret, made = create_link(connection, wanted, now=now)
    return MadeLink(link=made, secret=secret)


def _say(one: MadeLink | Link, base: str) -> None:
    if isinstance(one, MadeLink):
        say_made(one, base, with_feed=False)
        return
    words = plain_words()
    params = {
        "person": one.person,
        "what": words.text(f"links.what.{one.purpose}"),
        "id": one.id,
    }
    say([words.text("links.kept", params)])
