"""Who may what: each address, method and kind of link, held against the table and a second one.

The second table is written by hand: a row that opens more than it says is a mistake in one of them.
"""

from __future__ import annotations

import re
from datetime import timedelta
from typing import TYPE_CHECKING

import pytest
from book_digest import book_digest
from live_site import BATHROOM, CURING_AT, OFFICE_PERSON, ROOT, LiveSite, live_site
from page_samples import page_site
from site_walk import client_of

from curecal.book.link_purpose import LinkPurpose
from curecal.book.links.links import find_link, revoke_link
from curecal.web.app import HEADERS
from curecal.web.routes import ROUTES, Route

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

    from werkzeug.test import TestResponse

pytestmark = pytest.mark.slow

OWNER, CREW, ELECTRICIAN, OFFICE, FEED = LinkPurpose
METHODS = ("GET", "HEAD", "POST", "PUT", "PATCH", "DELETE", "TRACE", "PROPFIND")
OURS = {"Origin": "http://localhost"}
UNKNOWN = "A" * 43


@pytest.fixture(scope="module")
def bathroom(tmp_path_factory: pytest.TempPathFactory) -> Iterator[LiveSite]:
    """One job is enough: what a link opens does not hang on the job."""
    file = ROOT / "examples" / "bathroom" / "job.toml"
    with live_site(tmp_path_factory.mktemp("rights"), (file,)) as site:
        yield site


def secret_of(site: LiveSite, purpose: LinkPurpose) -> str:
    if purpose is OFFICE:
        return site.secrets["", OFFICE, OFFICE_PERSON]
    return site.secret(BATHROOM, purpose)


def address(route: Route, secret: str) -> str:
    """Return an address of a route; whatever else it asks for is something that nobody has."""
    return re.sub(r"<[^>]+>", "no-such-thing", route.pattern.replace("<secret>", secret))


def asked(site: LiveSite, route: Route, method: str, secret: str) -> TestResponse:
    client = client_of(site, secret if route.pattern.startswith("/office") else "")
    return client.open(address(route, secret), method=method, headers=OURS)


def is_no_link(answer: TestResponse) -> bool:
    return answer.status_code == 404 and b"This link does not work" in answer.data


@pytest.mark.parametrize("route", ROUTES, ids=lambda route: f"{route.method} {route.pattern}")
def test_a_route_opens_to_the_links_of_the_table_and_to_no_other(
    bathroom: LiveSite, route: Route
) -> None:
    before = book_digest(bathroom.book)
    for purpose in LinkPurpose:
        answer = asked(bathroom, route, route.method, secret_of(bathroom, purpose))
        if purpose not in route.opens:
            assert is_no_link(answer), purpose
        elif "no-such-thing" not in address(route, ""):
            assert not is_no_link(answer), purpose
        assert answer.status_code < 500, purpose
    for secret in (UNKNOWN, "", "x" * 5000, "%00", "..", "ü"):
        answer = asked(bathroom, route, route.method, secret)
        assert answer.status_code in {403, 404}, secret
    after = book_digest(bathroom.book)
    if route.method == "GET":
        assert after == before


@pytest.mark.parametrize("route", ROUTES, ids=lambda route: f"{route.method} {route.pattern}")
def test_an_address_answers_to_no_method_that_the_table_does_not_have(
    bathroom: LiveSite, route: Route
) -> None:
    has = {one.method for one in ROUTES if one.pattern == route.pattern}
    has |= {"HEAD"} if "GET" in has else set()
    before = book_digest(bathroom.book)
    for method in sorted(set(METHODS) - has):
        secret = secret_of(bathroom, min(route.opens))
        assert asked(bathroom, route, method, secret).status_code in {404, 405}, method
    assert book_digest(bathroom.book) == before


def test_a_link_of_a_job_opens_nothing_of_the_office_and_the_other_way_round() -> None:
    for route in ROUTES:
        if route.pattern.startswith("/office"):
            assert route.opens == {OFFICE}, route.pattern
        elif route.pattern.startswith("/p/"):
            assert route.opens <= {OWNER, CREW, ELECTRICIAN}, route.pattern
        elif OFFICE in route.opens or route.opens.isdisjoint({FEED}):
            pytest.fail(route.pattern)


def test_an_owner_writes_nothing_but_that_something_is_wrong() -> None:
    writes = {route.pattern for route in ROUTES if route.method == "POST" and OWNER in route.opens}
    assert writes == {"/p/<secret>/wrong"}


def test_a_feed_writes_nothing() -> None:
    assert [route for route in ROUTES if FEED in route.opens and route.method != "GET"] == []


def test_a_calendar_opens_to_its_own_link_and_to_nothing_but_a_look(bathroom: LiveSite) -> None:
    before = book_digest(bathroom.book)
    for purpose in LinkPurpose:
        path = f"/f/{secret_of(bathroom, purpose)}/curecal.ics"
        answer = client_of(bathroom).get(path)
        # Nothing is published yet in this book.
        assert (answer.status_code == 503) is (purpose is FEED), purpose
        assert is_no_link(answer) is (purpose is not FEED), purpose
        for method in ("POST", "PUT", "DELETE"):
            answer = client_of(bathroom).open(path, method=method, headers=OURS)
            assert answer.status_code in {404, 405}
    assert book_digest(bathroom.book) == before


def test_links_that_do_not_work_are_told_apart_by_nothing(
    tmp_path_factory: pytest.TempPathFactory,
) -> None:
    """Unknown, over, taken back, of somebody who left: the same octets and the same headers."""
    file = ROOT / "examples" / "bathroom" / "job.toml"
    with live_site(tmp_path_factory.mktemp("dead"), (file,)) as site:
        over = site.link(BATHROOM, OWNER, "Ida Fennell", expires_at=CURING_AT - timedelta(days=1))
        back = site.link(BATHROOM, OWNER, "Ida Fennell")
        left = site.link(BATHROOM, OWNER, "Nobody Of It")
        with site.book.writing() as connection:
            taken = find_link(connection, back)
            assert taken is not None
            revoke_link(connection, taken.id, now=CURING_AT)
        client = client_of(site)
        answers = [client.get(f"/p/{secret}/") for secret in (UNKNOWN, over, back, left, "short")]
        answers += [client.get("/p/"), client.get(f"/p/{UNKNOWN}/nothing-here"), client.get("/x")]
        answers += [client.get(f"/in/{secret}") for secret in (UNKNOWN, over, back)]
        assert {answer.status_code for answer in answers} == {404}
        assert len({answer.data for answer in answers}) == 1
        assert len({str(sorted(answer.headers.items())) for answer in answers}) == 1


@pytest.mark.parametrize(
    "origin",
    [None, "null", "", "http://localhost.evil.example", "https://localhost", "http://localhost:81"],
)
def test_a_form_from_elsewhere_writes_nothing(bathroom: LiveSite, origin: str | None) -> None:
    before = book_digest(bathroom.book)
    headers = {} if origin is None else {"Origin": origin}
    for route in ROUTES:
        if route.method == "GET":
            continue
        secret = secret_of(bathroom, min(route.opens))
        client = client_of(bathroom, secret if OFFICE in route.opens else "")
        answer = client.open(address(route, secret), method=route.method, headers=headers)
        assert answer.status_code == 403, route.pattern
    assert book_digest(bathroom.book) == before


def test_every_answer_has_the_headers(bathroom: LiveSite) -> None:
    for route in ROUTES:
        for secret in (UNKNOWN, secret_of(bathroom, min(route.opens))):
            answer = asked(bathroom, route, route.method, secret)
            for name, value in HEADERS.items():
                assert answer.headers.get(name) == value, (route.pattern, name)
            assert "no-store" in answer.headers["Cache-Control"] or FEED in route.opens
    policy = HEADERS["Content-Security-Policy"]
    assert "unsafe" not in policy
    for part in (
        "default-src 'none'",
        "frame-ancestors 'none'",
        "base-uri 'none'",
        "form-action 'self'",
    ):
        assert part in policy


def test_the_offices_cookie_is_kept_from_scripts_and_other_sites(bathroom: LiveSite) -> None:
    answer = client_of(bathroom).get(f"/in/{secret_of(bathroom, OFFICE)}")
    assert answer.status_code == 303
    said = answer.headers["Set-Cookie"]
    assert "HttpOnly" in said
    assert "SameSite=Lax" in said
    assert secret_of(bathroom, OFFICE) not in answer.headers["Location"]


FORBIDDEN = [
    # Who holds the link, and the form that is not for them.
    ("Max Reyes", CREW, "release"),
    ("Max Reyes", CREW, "lift"),
    ("Pat Moran", CREW, "connected"),
    ("Pat Moran", CREW, "thermostat"),
    ("Colm Byrne", ELECTRICIAN, "release"),
    ("Colm Byrne", ELECTRICIAN, "done"),
    ("Kim Lee", OWNER, "release"),
    ("Kim Lee", OWNER, "stop"),
]


@pytest.mark.parametrize(("person", "purpose", "form"), FORBIDDEN)
def test_a_form_that_is_not_for_somebody_writes_nothing_in_their_name_or_anothers(
    tmp_path: Path, person: str, purpose: LinkPurpose, form: str
) -> None:
    site = page_site(tmp_path)
    before = book_digest(site.book)
    for by in ("Pat Moran", "Colm Byrne", person):
        typed = {"by": by, "name": by, "zone": "hall", "cause": "other", "layer": "hall/grout"}
        path = f"{site.link(person, purpose)}/note/{form}"
        sent = {"entry_id": f"c-{'1' * 32}", "found": "x", "origin": "phone", **typed}
        answer = site.client.post(path, data=sent, headers=OURS)
        assert answer.status_code in {404, 422}, by
    after = book_digest(site.book)
    assert after | {"link": ""} == before | {"link": ""}


def test_a_name_that_is_typed_signs_nothing(tmp_path: Path) -> None:
    """What a page writes is signed by its link's person, whatever was sent."""
    site = page_site(tmp_path)
    for number, name in enumerate(("Pat Moran", "Nobody", "", "<b>")):
        typed = {"text": "x", "by": name, "entered_by": name, "signed": name}
        answer = site.send("Max Reyes", "note", {**typed, "entry_id": f"c-{number:032x}"})
        if answer.status_code == 303:
            assert site.last()["by"] == "Max Reyes"
    assert {entry["by"] for entry in site.entries()} == {"Max Reyes"}
