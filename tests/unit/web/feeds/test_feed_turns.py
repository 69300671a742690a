"""Whose turn it is to be published: of many jobs none is left out, and what changed comes first."""

from __future__ import annotations

import re
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import TYPE_CHECKING

from curecal.book.connection.open_book import book_url, open_book
from curecal.book.jobs.import_job import add_job
from curecal.book.jobs.jobs import read_in
from curecal.book.link_purpose import LinkPurpose
from curecal.book.links.links import WantedLink
from curecal.book.links.person_links import create_feed_of_all_jobs
from curecal.reminders.messages.feed_ledger import FeedLedger
from curecal.reminders.messages.send_context import SendContext

if TYPE_CHECKING:
    import pytest

    from curecal.book.connection.open_book import Book

EXAMPLES = Path(__file__).parents[4] / "examples"
NAMES = ("bathroom", "kitchen-two-zones")


def test_of_more_jobs_than_an_hour_has_rounds_for_each_has_its_turn(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("curecal.reminders.messages.feed_ledger._A_ROUND", 1)
    now = datetime(2026, 11, 30, 12, tzinfo=UTC)
    with open_book(book_url(str(tmp_path / "book.sqlite3"))) as book:
        added = [add_job(book, EXAMPLES / name / "job.toml", now=now) for name in NAMES]
        job_ids = {one.job_id for one in added}
        subscribe(book, added[0].job_id, now)
        ledger = FeedLedger(book, SendContext(), now=lambda: now)
        for _ in NAMES:
            ledger.bring_up()
            now += timedelta(hours=2)
        assert published(book).keys() == job_ids
        # Both wait for their hour by now: the one that changed comes first, wherever it stands.
        for name in NAMES:
            text = (EXAMPLES / name / "job.toml").read_text(encoding="utf-8")
            found = re.search(r'^name = "(?P<name>.+)"', text, re.MULTILINE)
            assert found is not None
            file = tmp_path / f"{name}.toml"
            file.write_text(text.replace(found["name"], f"renamed {name}"), encoding="utf-8")
            job_id = add_job(book, file, now=now, clock=now).job_id
            ledger.bring_up()
            assert f"renamed {name}" in published(book)[job_id]
            now += timedelta(hours=2)


def subscribe(book: Book, job_id: str, now: datetime) -> None:
    """Give the electrician of both jobs one feed over all of them."""
    with book.writing() as connection:
        job = read_in(connection, job_id).job
        assert job is not None
        person = next(one for one in job.people if one.name == "Sam Okoro-Lind")
        how = WantedLink(job_id="", purpose=LinkPurpose.FEED, person="")
        create_feed_of_all_jobs(connection, person, now=now, how=how)


def published(book: Book) -> dict[str, str]:
    """Return what is published, by job."""
    with book.reading() as connection:
        rows = connection.exec_driver_sql("SELECT job_id, lines FROM published ORDER BY uid").all()
    found: dict[str, str] = {}
    for row in rows:
        found[row.job_id] = found.get(row.job_id, "") + row.lines.replace("\n ", "")
    return found
