"""The office's lists: today, at risk, who is waited for, what is found, and the days ahead."""

from __future__ import annotations

import csv
import io
import time
from datetime import timedelta
from pathlib import Path

import pytest
from office_samples import BATH, BATH_FILE, NOW, OfficeSite, words_of
from sqlalchemy import insert

from curecal.book.jobs.closed_jobs import close_job
from curecal.book.link_purpose import LinkPurpose
from curecal.book.message_states import MessageState
from curecal.book.outbox.unsent import unsent_by_job
from curecal.book.schema.tables import outbox
from curecal.web.answers_ahead import BookAnswers
from curecal.web.app import OFFICE_COOKIE
from curecal.web.pages.office.lists.day_list import harmless_cell
from curecal.web.pages.office.lists.job_list import MOST


@pytest.fixture
def site(tmp_path: Path) -> OfficeSite:
    found = OfficeSite(tmp_path)
    found.add_bath()
    return found


def test_the_list_says_who_waits_for_whom(site: OfficeSite) -> None:
    said = words_of(site.get("/"))
    assert (
        "Sam Okoro-Lind, electrician Alder Lane, hall bath : cable test before connection" in said
    )
    assert "All jobs (1)" in said
    # What the plan's first line says, word for word.
    assert "No: not before Thu 3 Dec (owner: Mon 7 Dec). The grout is still curing." in said
    assert "Data sheets missing" in said
    assert "leveler over the cable" in said


def test_nobody_else_sees_it(site: OfficeSite) -> None:
    crew = site.link(LinkPurpose.CREW, "Robin Mistral", BATH)
    site.client.set_cookie(OFFICE_COOKIE, crew)
    assert site.get("/").status_code == 404
    assert site.get(f"/job/{BATH}").status_code == 404
    site.client.delete_cookie(OFFICE_COOKIE)
    assert site.get("/days.csv").status_code == 404


@pytest.mark.parametrize("wanted", ["alder", "14 ALDER lane", "okoro", "hall sam", BATH])
def test_a_job_is_found_by_name_address_and_person(site: OfficeSite, wanted: str) -> None:
    said = words_of(site.get(f"/?q={wanted}"))
    assert "1 job found" in said
    assert "Alder Lane, hall bath" in said


def test_what_no_job_has_is_not_found(site: OfficeSite) -> None:
    said = words_of(site.get("/?q=alder zzz"))
    assert "0 jobs found for “alder zzz”" in said
    assert "Alder Lane, hall bath" not in said


def test_a_long_list_is_cut_into_pages(site: OfficeSite) -> None:
    text = BATH_FILE.read_text(encoding="utf-8")
    for number in range(MOST):
        job = text.replace(f'id = "{BATH}"', f'id = "job-{number:02}"').replace(
            'name = "Alder Lane, hall bath"', f'name = "Road {number:02}"'
        )
        site.add(job, f"job-{number}")
    first, second = words_of(site.get("/?q=sam")), words_of(site.get("/?q=sam&page=2"))
    assert "Page 1 of 2" in first
    assert "Page 2 of 2" in second
    assert "Road 49" not in first
    assert "Road 49" in second
    # No page beyond the last, and none that is no number.
    assert "Page 2 of 2" in words_of(site.get("/?q=sam&page=99999999999"[:-5]))
    assert "Page 1 of 2" in words_of(site.get("/?q=sam&page=%C2%B2"))


def test_silence_puts_a_job_at_risk_with_its_reason(site: OfficeSite) -> None:
    assert "No job is at risk." in words_of(site.get("/"))
    site.now = NOW + timedelta(days=9)
    said = words_of(site.get("/"))
    assert "No temperature logged since" in said
    assert "No temperature logged since" in words_of(site.get("/?at_risk=1"))


def message(site: OfficeSite, state: MessageState, *, number: int, age: timedelta) -> None:
    with site.book.writing() as connection:
        connection.execute(
            insert(outbox).values(
                job_id=BATH,
                kind="next-step",
                channel="email",
                recipient="robin@tilecrew.example",
                generation=number,
                message_id=f"m{number}",
                body=b"x",
                created_at=site.now - age,
                next_try_at=site.now - age,
                state=state.value,
            )
        )


def test_messages_that_did_not_leave_put_a_job_at_risk(site: OfficeSite) -> None:
    minute, week = timedelta(minutes=1), timedelta(days=8)
    message(site, MessageState.DUE, number=1, age=minute)
    message(site, MessageState.SENT, number=2, age=minute)
    # Whoever was not reached a week ago has been called.
    message(site, MessageState.DEAD, number=3, age=week)
    with site.book.reading() as connection:
        assert unsent_by_job(connection, now=site.now) == {}
    message(site, MessageState.DUE, number=4, age=timedelta(hours=1))
    message(site, MessageState.EXPIRED, number=5, age=minute)
    message(site, MessageState.UNCERTAIN, number=6, age=week)
    with site.book.reading() as connection:
        assert unsent_by_job(connection, now=site.now) == {BATH: 3}
    assert "3 messages have not gone out, or may not have arrived." in words_of(site.get("/"))


def test_a_closed_job_stands_in_no_list(site: OfficeSite) -> None:
    with site.book.writing() as connection:
        close_job(connection, BATH, by="Rosa Quill", now=site.now)
    assert "There is no job yet." in words_of(site.get("/"))
    assert "Alder Lane, hall bath" in words_of(site.get("/?closed=1"))
    assert "Alder Lane" not in words_of(site.get("/days"))
    assert "This job is closed" in words_of(site.get(f"/job/{BATH}"))


def test_a_closed_job_that_is_stopped_comes_back(site: OfficeSite) -> None:
    with site.book.writing() as connection:
        close_job(connection, BATH, by="Rosa Quill", now=site.now)
    owner = site.link(LinkPurpose.OWNER, "Ida Fennell", BATH)
    form = {"entry_id": f"o-{'0' * 32}", "cause": "smell or heat"}
    site.client.post(f"/p/{owner}/wrong", data=form, headers={"Origin": "http://localhost"})
    said = words_of(site.get("/"))
    assert "Alder Lane, hall bath" in said
    assert "Stopped: " in said


def test_the_days_are_a_list_by_day(site: OfficeSite) -> None:
    site.now = NOW + timedelta(days=20)
    said = words_of(site.get("/days"))
    assert "Next 14 days" in said
    assert "Mon 7 Dec" in said
    assert "Alder Lane, hall bath : the owner's day 14 Alder Lane" in said
    week = words_of(site.get("/days?week=1"))
    assert "Next 7 days" in week
    assert "the owner's day" not in week


def test_the_table_holds_the_same_days(site: OfficeSite) -> None:
    site.now = NOW + timedelta(days=20)
    answer = site.get("/days.csv")
    assert answer.mimetype == "text/csv"
    rows = list(csv.reader(io.StringIO(answer.data.decode("utf-8-sig"))))
    assert rows[0] == ["Day", "Job", "Address", "What"]
    assert ["2026-12-07", "Alder Lane, hall bath", "14 Alder Lane", "the owner's day"] in rows


@pytest.mark.parametrize("first", ["=", "+", "-", "@", " =", "\t="])
def test_no_cell_of_the_table_is_a_formula(tmp_path: Path, first: str) -> None:
    # The signs a sheet program takes for the start of a formula (OWASP, CSV Injection).
    assert harmless_cell(f"{first}1+1").startswith("'")
    assert harmless_cell("Alder Lane") == "Alder Lane"
    site = OfficeSite(tmp_path)
    text = BATH_FILE.read_text(encoding="utf-8")
    site.add(text.replace('"Alder Lane, hall bath"', '"=HYPERLINK(1)"'))
    site.now = NOW + timedelta(days=20)
    rows = csv.reader(io.StringIO(site.get("/days.csv").data.decode("utf-8-sig")))
    assert {row[1] for row in rows} == {"Job", "'=HYPERLINK(1)"}


def test_a_job_that_is_not_there_is_said_to_be_so(site: OfficeSite) -> None:
    answer = site.get("/job/nowhere")
    assert answer.status_code == 404
    assert "This job is not in the book" in words_of(answer)


def test_what_takes_too_long_is_said_and_planned_behind_the_page(site: OfficeSite) -> None:
    ahead = site.serving.answers
    found = ahead.answers("fr", patience_s=-1.0)
    assert (found.jobs, found.left_count) == ((), 1)
    for _ in range(1200):
        found = ahead.answers("fr", patience_s=-1.0)
        if not found.left_count:
            break
        time.sleep(0.05)
    assert [job.job_id for job in found.jobs] == [BATH]


def test_a_list_that_lacks_jobs_says_so(site: OfficeSite, monkeypatch: pytest.MonkeyPatch) -> None:
    whole = site.serving.answers.answers("en")
    lacking = BookAnswers(whole.jobs, 7)
    monkeypatch.setattr(site.serving.answers, "answers", lambda *_asked, **_how: lacking)
    for address in ("/", "/days", "/?q=alder", "/?at_risk=1"):
        assert "7 jobs are missing here" in words_of(site.get(address))
    assert "All jobs (8)" in words_of(site.get("/"))
