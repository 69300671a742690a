"""`curecal links`: who has a link to what, new ones, and links taken back."""

from __future__ import annotations

import os
from typing import TYPE_CHECKING, TypedDict, TypeVar, Unpack

import click

from curecal.cli.book.book import book_named, book_option
from curecal.cli.shared.common import json_option, print_json
from curecal.errors import UsageError

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence
    from datetime import datetime

    from sqlalchemy import Connection

    from curecal.book.connection.open_book import Book
    from curecal.book.link_purpose import LinkPurpose
    from curecal.book.links.links import WantedLink
    from curecal.book.links.person_links import MadeLink
    from curecal.trade.job import Person, Role

SCHEMA = 1
_LONGEST_DAYS = 3650
Command = TypeVar("Command", bound="Callable[..., object]")
_PAGE_NAMES = ("owner", "crew", "electrician")


class LinkAsked(TypedDict):
    """What a link is to be: one page or all, its end, its note."""

    page: str | None
    all_jobs: bool
    days: int | None
    note: str


def address_option(function: Command) -> Command:
    """Add the option that says how people reach the pages."""
    return click.option(
        "--address",
        metavar="URL",
        help="How people reach the pages: https://pages.example (or CURECAL_ADDRESS).",
    )(function)


@click.group("links")
def command() -> None:
    """Make, list and take back the links to pages and calendars.

    Whoever has a link gets in. A link's address is shown once, when it is made: the book keeps
    only a hash of it.
    """


@command.command("list")
@click.argument("job", required=False)
@book_option
@json_option
def list_links(*, job: str | None, place: str | None, as_json: bool) -> int:
    """List the links of a job or of all jobs: for whom, until when, and when last used.

    "Last used" does not mean that somebody read the page: mail programs open links too.
    """
    from curecal.book.links.links import links_of
    from curecal.cli.links.links_shown import link_json, say_links
    from curecal.cli.remind.remind_shown import names_of_jobs, words_of_book
    from curecal.cli.shared.job_source import job_id_named

    now = _now()
    with book_named(place) as book, book.reading() as connection:
        job_id = None if job is None else job_id_named(connection, job)
        names = names_of_jobs(connection)
        _refuse_unknown(job_id, names)
        found = links_of(connection, job_id)
        words = words_of_book(connection, now)
    if as_json:
        print_json({"schema": SCHEMA, "links": [link_json(link, now) for link in found]})
        return 0
    say_links(found, names, words, now)
    return 0


@command.command("add", short_help="Make a link for somebody.")
@click.argument("job", required=False)
@click.argument("person", required=False)
@click.option("--for", "page", type=click.Choice(_PAGE_NAMES), help="Only the link to this page.")
@click.option("--all-jobs", is_flag=True, help="Only a calendar feed over all jobs of the book.")
@click.option("--office", metavar="NAME", help="A link to all jobs, for NAME of the office.")
@click.option(
    "--days",
    type=click.IntRange(1, _LONGEST_DAYS),
    metavar="N",
    help="How many days it works; left out, until you take it back.",
)
@click.option(
    "--note", default="", metavar="TEXT", help="A note for the list, to tell links apart."
)
@address_option
@book_option
@json_option
def add(
    *,
    job: str | None,
    person: str | None,
    office: str | None,
    address: str | None,
    place: str | None,
    as_json: bool,
    **wanted: Unpack[LinkAsked],
) -> int:
    """Make a link for PERSON to their page of JOB, and one to their calendar.

    JOB is the id or the name of a job of the book, or its job file. PERSON is a name of the job:
    an owner gets the owner's page, an electrician the electrician's, everybody else the crew's.
    """
    from curecal.cli.links.links_shown import made_json, say_made, say_once
    from curecal.cli.shared.page_address import address_of_pages

    base = address_of_pages(address, os.environ)
    now = _now()
    how = _how(wanted["note"], wanted["days"], now)
    page, all_jobs = wanted["page"], wanted["all_jobs"]
    with book_named(place) as book:
        if office is not None:
            if job is not None or page is not None or all_jobs:
                raise UsageError("links-office-alone")
            made = [_of_office(book, office, how, now)]
        else:
            if job is None or person is None:
                raise UsageError("links-for-whom")
            made = _of_person(book, (job, person), how, now, page=page, all_jobs=all_jobs)
    if as_json:
        print_json({"schema": SCHEMA, "links": [made_json(one, base, now) for one in made]})
        return 0
    say_once()
    for one in made:
        say_made(one, base, with_feed=True)
    return 0


@command.command("revoke", short_help="Take links back by their ids.")
@click.argument("ids", nargs=-1, required=True, metavar="ID...")
@book_option
@json_option
def revoke(*, ids: Sequence[str], place: str | None, as_json: bool) -> int:
    """Take links back: whoever opens one from now on reads that it does not work.

    A page and its calendar have a link each, and each is taken back by itself.
    """
    from curecal.book.links.links import revoke_link
    from curecal.cli.book.book_shown import say
    from curecal.cli.links.links_shown import link_json
    from curecal.words.sentences import plain_words

    now = _now()
    with book_named(place) as book, book.writing() as connection:
        gone = [revoke_link(connection, link_id.strip(), now=now) for link_id in ids]
    if as_json:
        print_json({"schema": SCHEMA, "links": [link_json(link, now) for link in gone]})
        return 0
    words = plain_words()
    for link in gone:
        params = {
            "id": link.id,
            "what": words.text(f"links.what.{link.purpose}"),
            "person": link.person,
        }
        say([words.text("links.revoked", params)])
    return 0


def _now() -> datetime:
    from datetime import UTC, datetime

    return datetime.now(UTC)


def _refuse_unknown(job_id: str | None, names: dict[str, str]) -> None:
    from curecal.errors import BookError

    if job_id is not None and job_id not in names:
        raise BookError("book-job-unknown", job_id=job_id)


def _how(note: str, days: int | None, now: datetime) -> WantedLink:
    """Return a link of nobody yet, with its note and its end."""
    from datetime import timedelta

    from curecal.book.link_purpose import LinkPurpose
    from curecal.book.links.links import WantedLink
    from curecal.words.values import clean

    return WantedLink(
        job_id="",
        purpose=LinkPurpose.OFFICE,
        person="",
        note=clean(note).strip(),
        expires_at=None if days is None else now + timedelta(days=days),
    )


def _of_office(book: Book, name: str, how: WantedLink, now: datetime) -> MadeLink:
    from dataclasses import replace

    from curecal.book.links.links import create_link
    from curecal.book.links.person_links import MadeLink
    from curecal.words.values import clean

    person = clean(name).strip()
    if not person:
        raise UsageError("links-for-whom")
    with book.writing() as connection:
        secret, link = create_link(connection, replace(how, person=person), now=now)
    return MadeLink(link=link, secret=secret)


def _of_person(
    book: Book,
    named: tuple[str, str],
    how: WantedLink,
    now: datetime,
    *,
    page: str | None,
    all_jobs: bool,
) -> list[MadeLink]:
    """Make the links of somebody of a job: to each of their pages, or to the one asked for."""
    from dataclasses import replace

    from curecal.book.links.person_links import create_feed_of_all_jobs, create_page_link
    from curecal.cli.shared.job_source import job_id_named

    if all_jobs and page is not None:
        raise UsageError("links-one-kind")
    with book.writing() as connection:
        job_id = job_id_named(connection, named[0])
        person, roles = _person(connection, job_id, named[1], now)
        if all_jobs:
            return [create_feed_of_all_jobs(connection, person, now=now, how=how)]
        how = replace(how, job_id=job_id, person=person.name)
        return [
            create_page_link(connection, replace(how, purpose=purpose), roles, now=now)
            for purpose in _pages(person, roles, page)
        ]


def _pages(person: Person, roles: frozenset[Role], page: str | None) -> tuple[LinkPurpose, ...]:
    """Return which pages somebody gets a link to: theirs, or the one of them that was asked for."""
    from curecal.book.link_purpose import LinkPurpose
    from curecal.book.links.person_links import purposes_for

    found = purposes_for(roles)
    if page is not None and LinkPurpose(page) not in found:
        raise UsageError("links-other-role", name=person.name, page=page)
    if not found:
        raise UsageError("links-no-page", name=person.name)
    return found if page is None else (LinkPurpose(page),)


def _person(
    connection: Connection, job_id: str, name: str, now: datetime
) -> tuple[Person, frozenset[Role]]:
    """Return somebody of a job with all of their roles.

    Raises:
        UsageError: nobody of the job has that name now (`links-nobody`).
    """
    import difflib

    from curecal.book.jobs.jobs import read_in
    from curecal.errors import BookError
    from curecal.web.page_request import roles_of

    job = read_in(connection, job_id).job
    if job is None:
        raise BookError("links-job-unread", job_id=job_id)
    person, roles = roles_of(job, name, now)
    if person is None:
        names = sorted({one.name for one in job.people if one.is_on_the_job(now)})
        near = difflib.get_close_matches(name, names, n=1)
        raise UsageError("links-nobody", name=name[:80], near=near[0] if near else None)
    return person, roles
