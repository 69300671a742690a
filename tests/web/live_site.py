"""The pages over a real book with the example jobs, served as they are, with a clock to be set."""

from __future__ import annotations

import contextlib
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING

from curecal.book.connection.open_book import Book, book_url, open_book
from curecal.book.jobs.import_job import add_job
from curecal.book.link_purpose import LinkPurpose
from curecal.book.links.links import WantedLink, create_link
from curecal.book.links.person_links import create_page_link, purposes_for
from curecal.web.app import make_app
from curecal.web.server.http_server import PageServer
from curecal.web.serving import PageAddress, Serving

if TYPE_CHECKING:
    from collections.abc import Iterator

    from flask import Flask

ROOT = Path(__file__).parents[2]
JOB_FILES = (
    *sorted((ROOT / "examples").glob("*/job.toml")),
    ROOT / "tests" / "golden" / "30-thursday-noon" / "job.toml",
    ROOT / "tests" / "golden" / "30-tonight" / "job.toml",
)
BATHROOM = "alder-lane-hall-bath"
HEATING_UP = "golden-30-noon"
RELEASED = "golden-30"

CURING_AT = datetime(2026, 11, 16, 14, 10, tzinfo=UTC)
"""The bathroom cures, the kitchen's two floors are at work."""
HEATING_AT = datetime(2027, 3, 18, 9, 5, tzinfo=UTC)
"""One floor is in its first heat, another one is released."""

OFFICE_PERSON = "Olga Rehm"
WITH_OFFICE = f'\n[[people.office]]\nname = "{OFFICE_PERSON}"\n'
"""Examples name nobody of an office; here somebody of it logs for the others."""


class LiveSite:
    """A book, its app and, while it is served, its address. `at` is what its clock says."""

    def __init__(self, book: Book) -> None:
        self.book = book
        self.at = CURING_AT
        self.secrets: dict[tuple[str, LinkPurpose, str], str] = {}
        """The secret of each link, by job (empty for the book), purpose and person."""
        self.address = ""
        self.serving = Serving(book, PageAddress(), now=lambda: self.at)
        self.app: Flask = make_app(self.serving)

    def add(self, file: Path, now: datetime = CURING_AT) -> str:
        """Put a job into the book, with a page link and a feed for each of its people."""
        added = add_job(self.book, file, now=now)
        job = added.read.job
        assert job is not None, file
        for person in job.people:
            for purpose in purposes_for(person.every_role):
                wanted = WantedLink(job_id=job.id, purpose=purpose, person=person.name)
                with self.book.writing() as connection:
                    made = create_page_link(connection, wanted, person.every_role, now=CURING_AT)
                self.secrets[job.id, purpose, person.name] = made.secret
                self.secrets[job.id, LinkPurpose.FEED, person.name] = made.feed_secret
        return job.id

    def link(self, job_id: str, purpose: LinkPurpose, person: str, **how: object) -> str:
        """Make a link and return its secret."""
        wanted = WantedLink(job_id=job_id, purpose=purpose, person=person, **how)  # type: ignore[arg-type]
        with self.book.writing() as connection:
            secret, _ = create_link(connection, wanted, now=CURING_AT)
        self.secrets[job_id, purpose, person] = secret
        return secret

    def secret(self, job_id: str, purpose: LinkPurpose) -> str:
        """Return the first secret of a job's links for a purpose."""
        return next(
            found
            for (job, what, _), found in self.secrets.items()
            if (job, what) == (job_id, purpose)
        )

    def people(self, purpose: LinkPurpose) -> Iterator[tuple[str, str]]:
        """Yield job and secret of each link of a purpose."""
        for (job_id, what, _), secret in self.secrets.items():
            if what is purpose:
                yield job_id, secret

    @contextlib.contextmanager
    def served(self) -> Iterator[str]:
        """Serve the app on a free port while this lasts, and give its address."""
        server = PageServer(self.app, host="127.0.0.1", port=0)
        server.start()
        self.address = f"http://127.0.0.1:{server.port}"
        try:
            yield self.address
        finally:
            server.stop()


@contextlib.contextmanager
def live_site(folder: Path, files: tuple[Path, ...] = JOB_FILES) -> Iterator[LiveSite]:
    """Give the site of some jobs, in a new book in a folder."""
    with open_book(book_url(str(folder / "book.sqlite3"))) as book:
        site = LiveSite(book)
        for number, file in enumerate(files):
            text = file.read_text(encoding="utf-8") + WITH_OFFICE
            whole = folder / f"job-{number}.toml"
            whole.write_text(text, encoding="utf-8")
            site.add(whole)
        site.link("", LinkPurpose.OFFICE, OFFICE_PERSON)
        yield site
