"""A job that cannot be read: nobody is let switch anything on, and everybody is told to call."""

from __future__ import annotations

import sqlite3
from contextlib import closing
from typing import TYPE_CHECKING

import pytest
from page_samples import COLM, MAX, PEOPLE, PageSite, page_site, said

from curecal.book.link_purpose import LinkPurpose
from curecal.web.job_now import JobsNow

if TYPE_CHECKING:
    from pathlib import Path

KIM = "Kim Lee"
DAMAGES = {
    "the job": ("content_no_update", "UPDATE content SET data = x'00'"),
    "a row of the log": ("log_entry_no_update", "UPDATE log_entry SET body = '{'"),
}


@pytest.fixture
def site(tmp_path: Path) -> PageSite:
    made = page_site(tmp_path)
    made.send(MAX, "air", {"air": "64"})
    for person in (KIM, MAX, COLM):
        made.link(person)
    return made


def tells_to_call(site: PageSite) -> None:
    for person in (KIM, MAX, COLM):
        answer = site.get(person)
        assert answer.status_code == 500
        assert "Do not switch the floor heating on" in said(answer)
        assert "Call whoever laid the floor" in said(answer)


@pytest.mark.parametrize("what", DAMAGES)
def test_a_damaged_job_lets_nobody_heat_and_names_whom_to_call(
    site: PageSite, tmp_path: Path, what: str
) -> None:
    guard, damage = DAMAGES[what]
    with closing(sqlite3.connect(tmp_path / "book.sqlite3")) as by_hand:
        by_hand.execute(f"DROP TRIGGER {guard}")
        by_hand.execute(damage)
        by_hand.commit()
    # Another process: nothing is remembered of the job.
    site.serving.jobs = JobsNow(site.book, lambda: site.at)
    tells_to_call(site)


def test_a_job_that_is_not_understood_lets_nobody_heat(
    site: PageSite, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(site.serving.jobs, "job", lambda _job_id: None)
    tells_to_call(site)


def test_who_was_of_the_crew_and_is_the_owner_now_reads_no_crews_page(tmp_path: Path) -> None:
    left = 'name = "Kim Lee"\nuntil = 2026-10-01\n'
    people = f"{PEOPLE}[[people.crew]]\n{left}[[people.electrician]]\n{left}"
    site = page_site(tmp_path, people=people)
    for purpose in (LinkPurpose.CREW, LinkPurpose.ELECTRICIAN):
        for path in ("/", "/note/air", "/note/test"):
            assert site.client.get(f"{site.link(KIM, purpose)}{path}").status_code == 404
    assert site.get(KIM).status_code == 200
