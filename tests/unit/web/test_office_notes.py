"""The office logs what it was told: both names stand in the log, and no release comes from it."""

from __future__ import annotations

import secrets
from pathlib import Path

import pytest
from office_samples import BATH, BATH_FILE, OfficeSite, words_of

from curecal.book.jobs.jobs import read_in
from curecal.trade.site_log import Entry

OFFICE_PERSON = """
[people.office]
name = "Rosa Quill"

[people.owner]"""


@pytest.fixture
def site(tmp_path: Path) -> OfficeSite:
    found = OfficeSite(tmp_path)
    text = BATH_FILE.read_text(encoding="utf-8")
    found.add(text.replace("\n[people.owner]", OFFICE_PERSON, 1))
    return found


def logged(site: OfficeSite) -> tuple[Entry, ...]:
    with site.book.reading() as connection:
        return read_in(connection, BATH).log


def entry_id() -> str:
    return f"c-{secrets.token_hex(16)}"


def test_what_the_electrician_said_is_signed_twice(site: OfficeSite) -> None:
    form = {
        "entry_id": entry_id(),
        "cable": "hall/",
        "stage": "connection",
        "conductor": "90.2",
        "to_earth.open": "yes",
        "insulation": "550",
        "test_voltage": "500",
        "by": "Sam Okoro-Lind",
        "origin": "phone",
    }
    before = len(logged(site))
    sent = site.post(f"/job/{BATH}/note/test", **form)
    assert sent.status_code == 303, words_of(sent)
    assert sent.headers["Location"] == f"/office/job/{BATH}/noted/{form['entry_id']}"
    (new,) = logged(site)[before:]
    assert (new.by, new.entered_by) == ("Sam Okoro-Lind", "Rosa Quill")
    said = words_of(site.client.get(sent.headers["Location"]))
    assert "Sam Okoro-Lind" in said
    assert "Rosa Quill" in said
    assert "Sam Okoro-Lind" in words_of(site.get(f"/job/{BATH}/log"))


def test_a_reading_is_the_offices_own(site: OfficeSite) -> None:
    sent = site.post(f"/job/{BATH}/note/air", entry_id=entry_id(), air="66", by="Rosa Quill")
    assert sent.status_code == 303, words_of(sent)
    assert logged(site)[-1].by == "Rosa Quill"


def test_the_same_form_sent_twice_is_one_entry(site: OfficeSite) -> None:
    form = {"entry_id": entry_id(), "air": "66", "by": "Rosa Quill"}
    site.post(f"/job/{BATH}/note/air", **form)
    count = len(logged(site))
    assert site.post(f"/job/{BATH}/note/air", **form).status_code == 303
    assert len(logged(site)) == count


def test_a_release_is_never_the_offices(site: OfficeSite) -> None:
    assert site.get(f"/job/{BATH}/note/release").status_code == 404
    assert site.post(f"/job/{BATH}/note/release", entry_id=entry_id()).status_code == 404
    assert "/note/release" not in site.get(f"/job/{BATH}").text


def test_who_is_not_of_the_job_logs_nothing(tmp_path: Path) -> None:
    site = OfficeSite(tmp_path)
    site.add_bath()
    assert "Rosa Quill is not on this job" in words_of(site.get(f"/job/{BATH}"))
    count = len(logged(site))
    sent = site.post(f"/job/{BATH}/note/air", entry_id=entry_id(), air="66", by="Rosa Quill")
    assert sent.status_code == 404
    assert len(logged(site)) == count
