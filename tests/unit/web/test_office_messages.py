"""Messages paused and let go by the office, and what is said of those that left."""

from __future__ import annotations

import re
from datetime import timedelta
from pathlib import Path

import pytest
from office_samples import BATH, OfficeSite, words_of
from sqlalchemy import insert, select

from curecal.book.connection.open_book import boot_clock
from curecal.book.message_states import MessageState
from curecal.book.meta import beat, held_jobs, hold, hold_of
from curecal.book.schema.tables import outbox

_MARK = re.compile(r'name="shown" value="([0-9a-f]{64})"')


@pytest.fixture
def site(tmp_path: Path) -> OfficeSite:
    found = OfficeSite(tmp_path)
    found.add_bath()
    return found


def message(site: OfficeSite, state: MessageState, number: int = 1, **values: object) -> None:
    row = {
        "job_id": BATH,
        "kind": "next-step",
        "channel": "email",
        "recipient": "robin@tilecrew.example",
        "generation": number,
        "message_id": f"m{number}",
        "body": b"x",
        "created_at": site.now,
        "next_try_at": site.now,
        "state": state.value,
    }
    with site.book.writing() as connection:
        connection.execute(insert(outbox).values(**{**row, **values}))


def states(site: OfficeSite) -> list[str]:
    with site.book.reading() as connection:
        return list(connection.execute(select(outbox.c.state)).scalars())


def test_of_a_mail_nobody_says_that_it_was_read(site: OfficeSite) -> None:
    message(site, MessageState.SENT, sent_at=site.now - timedelta(seconds=30))
    said = words_of(site.get(f"/job/{BATH}/messages"))
    assert "The next step. To robin@tilecrew.example (email)." in said
    # What has happened is shown by its full minute.
    assert "Sat 7 Nov, 09:59: accepted by the mail server; " in said
    assert "whether it was read is not known." in said


def test_what_waits_says_why(site: OfficeSite) -> None:
    message(site, MessageState.BACKOFF, reason="mailbox full")
    assert "will be tried again (mailbox full)." in words_of(site.get(f"/job/{BATH}/messages"))
    assert "will be tried again (mailbox full)." in words_of(site.get("/messages"))


def test_reminders_that_do_not_run_are_said(site: OfficeSite) -> None:
    assert "Reminders are not running" in words_of(site.get("/messages"))
    with site.book.writing() as connection:
        beat(connection, "sender", at=site.now, clock=boot_clock(), note={})
    assert "Reminders are running." in words_of(site.get("/messages"))


@pytest.mark.parametrize("place", ["/messages", f"/job/{BATH}/messages"])
def test_a_pause_has_a_name_and_a_reason(site: OfficeSite, place: str) -> None:
    refused = site.post(f"{place}/pause", reason="  ")
    assert refused.status_code == 422
    assert site.post(f"{place}/pause", reason="phones are being changed").status_code == 303
    with site.book.reading() as connection:
        held, jobs = hold_of(connection), held_jobs(connection)
    whole = "Rosa Quill: phones are being changed"
    if place == "/messages":
        assert held is not None
        assert (held["reason"], dict(jobs)) == (whole, {})
    else:
        assert (held, dict(jobs)) == (None, {BATH: whole})
    assert whole in words_of(site.get(place))
    assert whole in words_of(site.get("/messages"))


def is_held(site: OfficeSite) -> bool:
    with site.book.reading() as connection:
        return bool(hold_of(connection) or held_jobs(connection))


def test_nothing_is_let_go_before_it_was_shown(site: OfficeSite) -> None:
    message(site, MessageState.DUE)
    with site.book.writing() as connection:
        hold(connection, "person", now=site.now)
    assert site.get("/messages/resume").status_code == 405
    shown = site.post("/messages/resume")
    assert "1 message would go out now" in words_of(shown)
    assert "The next step. To robin@tilecrew.example (email)." in words_of(shown)
    assert is_held(site)
    mark = _MARK.search(shown.text)
    assert mark is not None
    # Something came since: what was shown is not what would leave.
    message(site, MessageState.DUE, number=2)
    changed = site.post("/messages/resume", shown=mark[1])
    assert changed.status_code == 422
    assert "Nothing was sent" in words_of(changed)
    assert is_held(site)
    again = _MARK.search(changed.text)
    assert again is not None
    assert site.post("/messages/resume", shown=again[1]).status_code == 303
    assert not is_held(site)
    # Sending is the sender's alone.
    assert states(site) == ["due", "due"]


def test_a_job_on_hold_is_planned_before_it_is_shown(site: OfficeSite) -> None:
    with site.book.writing() as connection:
        hold(connection, "person", now=site.now, job_id=BATH)
    # By the plan of before: what it says is out of date.
    message(site, MessageState.DUE)
    answer = site.post(f"/job/{BATH}/messages/resume")
    assert "The next step." not in words_of(answer)
    assert "sam@sparks.example" in words_of(answer)
    assert is_held(site)
    mark = _MARK.search(answer.text)
    assert mark is not None
    assert site.post(f"/job/{BATH}/messages/resume", shown=mark[1]).status_code == 303
    assert not is_held(site)


def test_no_message_of_a_job_that_is_not_there(site: OfficeSite) -> None:
    assert site.get("/job/nowhere/messages").status_code == 404
