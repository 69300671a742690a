"""The monitor's address: what it says, when it raises the alarm, and that it names nobody."""

from __future__ import annotations

import json
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import TYPE_CHECKING

import pytest
from reminder_samples import Clock, Post, job_text, put_rows, url_of

from curecal.book.connection.open_book import LeaseNow
from curecal.book.meta import beat, hold, release_hold
from curecal.web.app import make_app
from curecal.web.serving import Serving

if TYPE_CHECKING:
    from collections.abc import Iterator

    from flask.testing import FlaskClient

NOW = datetime(2026, 11, 30, 12, tzinfo=UTC)


class Watched:
    """A book, its clock, and what a monitor sees."""

    def __init__(self, folder: Path) -> None:
        self.clock = Clock(NOW)
        self.post = Post(url_of(folder), self.clock)
        self.post.add(job_text(people=""), folder)
        self.now = NOW
        self.client: FlaskClient = make_app(
            Serving(self.post.book, now=lambda: self.now)
        ).test_client()

    def beat(self) -> None:
        with self.post.book.writing() as connection:
            beat(connection, "here:1", at=self.now, clock=LeaseNow("b", 1.0), note={})

    def ask(self) -> tuple[int, dict[str, object]]:
        found = self.client.get("/health", headers={"Accept": "application/json"})
        facts: dict[str, object] = json.loads(found.data)
        return found.status_code, facts


@pytest.fixture
def watched(tmp_path: Path) -> Iterator[Watched]:
    found = Watched(tmp_path)
    yield found
    found.post.close()


def test_all_is_well_while_reminders_run(watched: Watched) -> None:
    assert watched.ask()[1]["reminders"] == "never started"
    watched.beat()
    watched.now += timedelta(seconds=30)
    code, facts = watched.ask()
    assert code == 200
    assert facts == {
        "status": "ok",
        "book": "reachable",
        "reminders": "running",
        "last_sign_s": 30,
        "on_hold": False,
        "unsent": 0,
        "oldest_unsent_s": None,
    }


def test_a_monitor_that_reads_no_json_gets_lines(watched: Watched) -> None:
    watched.beat()
    found = watched.client.get("/health")
    assert found.mimetype == "text/plain"
    assert found.text.splitlines()[:3] == ["status: ok", "book: reachable", "reminders: running"]
    assert "oldest_unsent_s: none" in found.text
    assert found.headers["Cache-Control"] == "no-store"


def test_reminders_that_stopped_raise_the_alarm(watched: Watched) -> None:
    watched.beat()
    watched.now += timedelta(seconds=240)
    assert watched.ask()[0] == 200
    watched.now += timedelta(seconds=1)
    code, facts = watched.ask()
    assert (code, facts["status"], facts["reminders"]) == (503, "failing", "stopped")


def test_a_hold_of_the_whole_book_raises_the_alarm(watched: Watched) -> None:
    watched.beat()
    with watched.post.book.writing() as connection:
        hold(connection, "clock", now=NOW)
    assert (watched.ask()[0], watched.ask()[1]["on_hold"]) == (503, True)
    with watched.post.book.writing() as connection:
        release_hold(connection)
    assert watched.ask()[0] == 200


def test_a_message_that_does_not_leave_raises_the_alarm(watched: Watched) -> None:
    put_rows(watched.post.book, 2, NOW)
    watched.now += timedelta(minutes=15)
    watched.beat()
    code, facts = watched.ask()
    assert (code, facts["unsent"], facts["oldest_unsent_s"]) == (200, 2, 900)
    watched.now += timedelta(seconds=1)
    assert watched.ask()[0] == 503


def test_a_book_that_is_away_raises_the_alarm_and_names_nobody(watched: Watched) -> None:
    put_rows(watched.post.book, 2, NOW)
    watched.beat()
    for text in (watched.client.get("/health").text, str(watched.ask()[1])):
        assert "alder" not in text.lower()
        assert "@" not in text
        assert "here:1" not in text
    watched.post.book.close()
    place = Path(str(watched.post.book.url.database))
    for path in place.parent.glob(f"{place.name}*"):
        path.rename(path.with_name(f"away-{path.name}"))
    place.mkdir()
    code, facts = watched.ask()
    assert (code, facts["book"], facts["reminders"]) == (503, "not reachable", "unknown")
