"""Links made and taken back by the office: of a job's people, and of the office itself.

A secret is shown on the page that made it, and on no other: the book keeps only its hash.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

import segno

from curecal.book.link_purpose import LinkPurpose
from curecal.book.links.links import Link, WantedLink, create_link, links_of, revoke_link
from curecal.book.links.person_links import MadeLink, create_page_link, purposes_for
from curecal.records import Record, record
from curecal.trade.names import comparable_name
from curecal.web.page_request import OFFICE_HOME, job_address, roles_of
from curecal.web.pages.office.office_parts import go_to
from curecal.web.rendering import drawn, render
from curecal.words.values import clean

if TYPE_CHECKING:
    from flask import Response
    from markupsafe import Markup

    from curecal.web.page_request import PageRequest

_LONGEST_NAME = 100
_QR_SCALE = 6


@record(kw_only=True)
class LinkLine(Record):
    """A link as the office sees it; `ended` says why it opens nothing any more."""

    link: Link
    what: str
    ended: str


@record(kw_only=True)
class NewLink(Record):
    """A link just made: its address is shown this once, and as a code for a telephone's camera."""

    person: str
    what: str
    address: str
    qr: Markup


def show(page: PageRequest) -> Response:
    """Answer with the links of a job, or of the office, and the form for a new one."""
    return _shown(page)


def make(page: PageRequest) -> Response:
    """Make a link, and show its secret this once."""
    wanted = clean(page.request.form.get("person", ""))[:_LONGEST_NAME].strip()
    note = clean(page.request.form.get("note", ""))[:_LONGEST_NAME].strip()
    made = _office_link(page, wanted, note) if page.job_now is None else _link(page, wanted, note)
    if made is None:
        return _shown(page, problem=page.text("office.link-for-whom"), status=422)
    return _shown(page, new=list(_new(page, made)))


def revoke(page: PageRequest) -> Response:
    """Take a link back."""
    link_id = page.request.form.get("link", "")
    job_id = page.values.get("job_id", "")
    with page.serving.book.writing() as connection:
        # Of this job alone: no form of one job takes back the link of another.
        if link_id in {link.id for link in links_of(connection, job_id)}:
            revoke_link(connection, link_id, now=page.now)
    return go_to(_home(page))


def _home(page: PageRequest) -> str:
    job_id = page.values.get("job_id")
    return f"{OFFICE_HOME}/links" if job_id is None else f"{job_address(job_id)}/links"


def _office_link(page: PageRequest, person: str, note: str) -> MadeLink | None:
    if not person:
        return None
    wanted = WantedLink(job_id="", purpose=LinkPurpose.OFFICE, person=person, note=note)
    with page.serving.book.writing() as connection:
        secret, link = create_link(connection, wanted, now=page.now)
    return MadeLink(link=link, secret=secret)


def _link(page: PageRequest, asked: str, note: str) -> MadeLink | None:
    """Return a link to one of the pages that a person of the job may open."""
    purpose_name, _, name = asked.partition(" ")
    person, roles = roles_of(page.job, name, page.now)
    purpose = next((one for one in purposes_for(roles) if one.value == purpose_name), None)
    if person is None or purpose is None:
        return None
    wanted = WantedLink(job_id=page.job.id, purpose=purpose, person=person.name, note=note)
    with page.serving.book.writing() as connection:
        return create_page_link(connection, wanted, roles, now=page.now)


def _choices(page: PageRequest) -> Iterator[tuple[str, str]]:
    """Yield whom a link can be made for: what is sent, and what is read."""
    seen = set()
    for person in page.job.people:
        if comparable_name(person.name) in seen or not person.is_on_the_job(page.now):
            continue
        seen.add(comparable_name(person.name))
        _, roles = roles_of(page.job, person.name, page.now)
        for purpose in purposes_for(roles):
            yield f"{purpose.value} {person.name}", f"{clean(person.name)}: {_what(page, purpose)}"


def _new(page: PageRequest, made: MadeLink) -> Iterator[NewLink]:
    origin = page.origin
    way = "in" if made.link.purpose is LinkPurpose.OFFICE else "p"
    ending = "" if way == "in" else "/"
    address = f"{origin}/{way}/{made.secret}{ending}"
    yield NewLink(
        person=clean(made.link.person),
        what=_what(page, made.link.purpose),
        address=address,
        qr=qr_of(address),
    )


def qr_of(text: str) -> Markup:
    """Return a QR code, dark on light whatever the page looks like, as a picture of the page.

    Args:
        text: What it says.
    """
    code = segno.make(text, error="m", micro=False)
    return drawn(code.svg_inline(scale=_QR_SCALE, dark="#000", light="#fff", omitsize=True))


def _what(page: PageRequest, purpose: LinkPurpose) -> str:
    return page.text(f"office.opens.{purpose.value}")


def _lines(page: PageRequest) -> list[LinkLine]:
    with page.serving.book.reading() as connection:
        links = links_of(connection, page.values.get("job_id", ""))
    return [
        LinkLine(link=link, what=_what(page, link.purpose), ended=_ended(page, link))
        for link in reversed(links)
    ]


def _ended(page: PageRequest, link: Link) -> str:
    if link.revoked_at is not None:
        return page.text("office.link-revoked", seen_at=link.revoked_at)
    return "" if link.works_at(page.now) else page.text("office.link-over")


def _shown(
    page: PageRequest, *, new: list[NewLink] | None = None, problem: str = "", status: int = 200
) -> Response:
    of_job = page.job_now is not None
    return render(
        page,
        "office/links.html",
        status=status,
        job_name=clean(page.job.name) if of_job else "",
        address=job_address(page.job.id) if of_job else OFFICE_HOME,
        home=_home(page),
        choices=list(_choices(page)) if of_job else [],
        new=new or [],
        problem=problem,
        links=_lines(page),
        own=page.link.id,
    )
