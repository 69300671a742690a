"""The pages of one job that is in no book: an app whose plans a test hands over."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime
from typing import TYPE_CHECKING

from planning_samples import RULES, weekdays

from curecal.book.connection.open_book import book_url, open_book
from curecal.book.link_purpose import LinkPurpose
from curecal.book.links.links import WantedLink, create_link
from curecal.job_files import ReadJob
from curecal.planning.make_plan import make_plan
from curecal.planning.site_log.log_at_instant import facts_at
from curecal.planning.working_time.working_calendar import Calendar
from curecal.web.app import make_app
from curecal.web.job_now import JobNow
from curecal.web.serving import Serving

if TYPE_CHECKING:
    from collections.abc import Sequence
    from pathlib import Path

    from curecal.book.connection.open_book import Book
    from curecal.trade.job import Job
    from curecal.trade.site_log import Entry

_EPOCH = datetime(2020, 1, 1, tzinfo=UTC)


class PlannedPages:
    """Pages of whatever job and log it is given; the book only knows the link."""

    def __init__(self, book: Book, person: str) -> None:
        wanted = WantedLink(job_id="job", purpose=LinkPurpose.OWNER, person=person)
        with book.writing() as connection:
            self.secret, _ = create_link(connection, wanted, now=_EPOCH)
        self._at = _EPOCH
        self._serving = Serving(book, now=lambda: self._at)
        self._client = make_app(self._serving).test_client()

    def owner_page(self, job: Job, log: Sequence[Entry], at: datetime) -> tuple[JobNow, str]:
        """Return the plan of an instant and the owner's page of it, in English."""
        self._at = at
        job = replace(job, id="job")
        log = tuple(log)
        here = JobNow(
            job=job,
            read=ReadJob(job=job, log=log, findings=(), raw={}),
            plan=make_plan(job, log, at, rules=RULES, day_off=weekdays),
            facts=facts_at(log, at, job.people),
            calendar=Calendar(job.work, job.tz, weekdays),
            stamp="",
        )
        self._serving.jobs.job = lambda _job_id: here  # type: ignore[method-assign]
        answer = self._client.get(f"/p/{self.secret}/?language=en")
        assert answer.status_code == 200
        return here, answer.get_data(as_text=True)


def planned_pages(folder: Path, person: str = "Ada") -> PlannedPages:
    """Return a site with a book of its own in a folder."""
    return PlannedPages(open_book(book_url(str(folder / "book.sqlite3"))), person)
