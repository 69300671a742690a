"""By a clock that nobody confirmed no page lets anybody switch on, set, release or begin."""

from __future__ import annotations

import re
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import TYPE_CHECKING

import pytest
from page_samples import OURS, PageSite, said, site_of

from curecal.book.link_purpose import LinkPurpose
from curecal.book.links.links import WantedLink, create_link
from curecal.book.meta import beat, hold, release_hold
from curecal.machine import LeaseNow
from curecal.reminders.timing.clock_jump import AHEAD, NETWORK
from curecal.web.app import OFFICE_COOKIE

if TYPE_CHECKING:
    from collections.abc import Iterator

GOLDEN = Path(__file__).parents[2] / "golden"
AT = datetime(2027, 3, 18, 9, 5, tzinfo=UTC)
LEAD, ELECTRICIAN, OWNER = "Toni Example", "M. Fixer", "A. Holder"
# The words of every sentence that lets somebody switch something on, or go on heating.
PERMISSION = re.compile(
    r"floor is released|is heating up|is in service|Today at most|Set it as|switches it on from"
    r"|What you may do|Yes: |Not yet: from|Before you switch on"
)
DOUBT = "The server's clock is not confirmed."


def signs(site: PageSite, clock: str) -> None:
    with site.book.writing() as connection:
        now = LeaseNow("start", 60.0)
        beat(connection, "reminders", at=site.at, clock=now, note={"clock": clock})


@pytest.fixture(params=["30-thursday-noon", "30-tonight"])
def site(request: pytest.FixtureRequest, tmp_path: Path) -> PageSite:
    made = site_of(tmp_path, (GOLDEN / request.param / "job.toml").read_text(encoding="utf-8"))
    made.at = AT
    return made


def pages(site: PageSite) -> Iterator[str]:
    here = site.serving.jobs.job(site.job_id)
    assert here is not None
    for person, purpose in (
        (OWNER, LinkPurpose.OWNER),
        (LEAD, LinkPurpose.CREW),
        (ELECTRICIAN, LinkPurpose.ELECTRICIAN),
    ):
        yield said(site.client.get(f"{site.link(person, purpose)}/?language=en"))


def test_a_clock_that_nobody_confirmed_gives_no_permission(site: PageSite) -> None:
    sure = list(pages(site))
    assert all(PERMISSION.search(page) for page in sure)
    assert not any(DOUBT in page for page in sure)
    signs(site, "")
    for page in pages(site):
        assert DOUBT in page
        assert "Do not switch it on" in page
        assert not PERMISSION.search(page)
    site.at += timedelta(seconds=1)
    signs(site, NETWORK)
    assert [bool(PERMISSION.search(page)) for page in pages(site)] == [True] * 3


def test_a_clock_that_moved_gives_no_permission_until_somebody_looked(site: PageSite) -> None:
    with site.book.writing() as connection:
        hold(connection, AHEAD, now=site.at)
    for page in pages(site):
        assert DOUBT in page
        assert not PERMISSION.search(page)
    with site.book.writing() as connection:
        release_hold(connection)
    assert not any(DOUBT in page for page in pages(site))


def test_a_permission_is_taken_back_in_every_language(site: PageSite) -> None:
    signs(site, "")
    link = site.link(OWNER, LinkPurpose.OWNER)
    for language in ("de", "es", "fr", "pl"):
        page = site.client.get(f"{link}/?language={language}").get_data(as_text=True)
        assert page.count("<h1>") == 1
        assert 'class="answer"' in page
        assert "data-permission" not in page
        assert "<table" not in page


def test_no_paper_is_printed_by_a_clock_in_doubt(site: PageSite) -> None:
    link = site.link(OWNER, LinkPurpose.OWNER)
    assert "<table" in site.client.get(f"{link}/sheet?language=en").get_data(as_text=True)
    signs(site, "")
    page = site.client.get(f"{link}/sheet?language=en")
    assert DOUBT in said(page)
    assert "Do not switch it on" in said(page)
    assert "<table" not in page.get_data(as_text=True)
    assert "hold card" not in said(page)
    assert not PERMISSION.search(said(page))


@pytest.mark.parametrize("ahead_s", [1, 90])
def test_a_stop_by_a_clock_a_little_ahead_is_not_missed(site: PageSite, ahead_s: int) -> None:
    site.at = AT + timedelta(seconds=ahead_s)
    link = site.link(OWNER, LinkPurpose.OWNER)
    typed = {"cause": "tripped", "entry_id": "o-" + "1" * 32}
    assert site.client.post(f"{link}/wrong", data=typed, headers=OURS).status_code == 200
    site.at = AT
    for page in pages(site):
        assert "behind what was logged" in page
        assert not PERMISSION.search(page)
    site.at = AT + timedelta(minutes=5)
    # What may be walked on says nothing about heat.
    heard = [page.replace("What you may do", "") for page in pages(site)]
    assert not any(PERMISSION.search(page) for page in heard)


def test_a_reading_by_a_clock_a_little_ahead_keeps_nobody_waiting(site: PageSite) -> None:
    site.at = AT + timedelta(seconds=90)
    site.link(LEAD, LinkPurpose.CREW)
    assert site.send(LEAD, "air", {"air": "20"}).status_code == 303
    site.at = AT
    assert not any("behind what was logged" in page for page in pages(site))


def test_nobody_releases_a_floor_by_a_clock_in_doubt(tmp_path: Path) -> None:
    text = (GOLDEN / "30-tonight" / "job.toml").read_text(encoding="utf-8")
    site = site_of(tmp_path, text[: text.rindex("[[log]]")])
    site.at = datetime(2027, 3, 17, 19, 0, tzinfo=UTC)
    signs(site, "")
    before = len(site.entries())
    answer = site.send(LEAD, "release", {"name": LEAD})
    assert (answer.status_code, len(site.entries())) == (422, before)
    assert DOUBT in said(answer)
    # A stop is taken by any clock.
    assert site.send(LEAD, "stop", {"cause": "other"}).status_code == 303
    signs(site, NETWORK)


def test_the_office_sees_no_permission_by_a_clock_in_doubt(site: PageSite) -> None:
    wanted = WantedLink(job_id="", purpose=LinkPurpose.OFFICE, person="Ola Berg")
    with site.book.writing() as connection:
        secret, _ = create_link(connection, wanted, now=AT)
    site.client.set_cookie(OFFICE_COOKIE, secret)

    def office(path: str) -> str:
        answer = site.client.get(f"/office/job/{site.job_id}{path}?language=en")
        assert answer.status_code == 200
        return said(answer)

    paths = ("", "/paper/owner", "/paper/record")
    assert PERMISSION.search(office(""))
    assert PERMISSION.search(office("/paper/owner"))
    signs(site, "")
    listed = said(site.client.get("/office/?language=en"))
    assert "Do not switch it on" in listed
    assert not PERMISSION.search(listed)
    for path in paths:
        page = office(path)
        assert DOUBT in page
        assert not PERMISSION.search(page)
