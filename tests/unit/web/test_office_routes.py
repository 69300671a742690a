"""Every address of the office: who may open it, and that looking changes nothing."""

from __future__ import annotations

from pathlib import Path

import pytest
from office_samples import BATH, BATH_FILE, OfficeSite
from sqlalchemy import select

from curecal.book.link_purpose import LinkPurpose
from curecal.book.links.links import links_of
from curecal.book.schema.tables import (
    content,
    job,
    job_revision,
    link,
    log_entry,
    meta,
    outbox,
    published,
    reminder,
)
from curecal.job_files import parse_job
from curecal.web.app import OFFICE_COOKIE
from curecal.web.pages.office.office_routes import OFFICE_ROUTES

_VALUES = {"job_id": BATH, "kind": "record", "form": "air", "entry": "delivery", "file": "x.jpg"}
# What is kept of answers, and when a link was last used, is no fact, right or message.
_FACTS = (content, job, job_revision, log_entry, meta, outbox, published, reminder)
_ADDRESSES = [
    (method, pattern.replace("<", "{").replace(">", "}").format(**_VALUES))
    for method, pattern, _ in OFFICE_ROUTES
]


@pytest.fixture
def site(tmp_path: Path) -> OfficeSite:
    found = OfficeSite(tmp_path)
    found.add_bath()
    return found


def state(site: OfficeSite) -> list[object]:
    with site.book.reading() as connection:
        told = [connection.execute(select(table)).all() for table in _FACTS]
        rights = connection.execute(select(link.c.id, link.c.revoked_at, link.c.expires_at)).all()
    return [*told, rights]


def test_looking_changes_nothing(site: OfficeSite) -> None:
    before = state(site)
    for method, address in _ADDRESSES:
        if method == "GET":
            answer = site.get(address)
            assert answer.status_code in {200, 404}, address
            assert answer.headers["Cache-Control"] == "no-store"
    assert state(site) == before


@pytest.mark.parametrize("purpose", [LinkPurpose.OWNER, LinkPurpose.CREW, LinkPurpose.ELECTRICIAN])
def test_no_link_of_a_job_opens_the_office(site: OfficeSite, purpose: LinkPurpose) -> None:
    site.client.set_cookie(OFFICE_COOKIE, site.link(purpose, "Robin Mistral", BATH))
    before = state(site)
    for method, address in _ADDRESSES:
        answer = site.get(address) if method == "GET" else site.post(address, confirm="yes")
        assert answer.status_code == 404, (method, address)
    assert state(site) == before


def test_no_form_from_elsewhere_is_taken(site: OfficeSite) -> None:
    before = state(site)
    posts = [address for method, address in _ADDRESSES if method == "POST"]
    assert posts
    for address in posts:
        for headers in ({}, {"Origin": "null"}, {"Origin": "https://elsewhere.example"}):
            sent = site.client.post(f"/office{address}", data={"sure": "yes"}, headers=headers)
            assert sent.status_code == 403, address
    assert state(site) == before


def test_of_a_job_that_is_not_understood_every_page_says_why(
    site: OfficeSite, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A book of an older program may hold what this one refuses."""
    text = BATH_FILE.read_text(encoding="utf-8").replace('air = "66 °F"', 'air = "66"')
    refused = parse_job(text.encode())
    assert refused.job is None
    monkeypatch.setattr(site.serving.jobs, "job", lambda _job_id: None)
    monkeypatch.setattr(site.serving.jobs, "read", lambda _job_id: refused)
    told = 0
    for method, address in _ADDRESSES:
        if not address.startswith("/job/"):
            continue
        answer = site.get(address) if method == "GET" else site.post(address, person="Tom Adder")
        assert answer.status_code < 500, (method, address)
        told += "This job cannot be planned." in answer.text
    # All but its messages (three), its file (two), closing it and opening it again.
    assert told == sum(address.startswith("/job/") for _, address in _ADDRESSES) - 7
    # No form of a job made a link to the whole office.
    with site.book.reading() as connection:
        assert [one.person for one in links_of(connection)] == ["Rosa Quill"]
