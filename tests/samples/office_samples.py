"""An office with a book of example jobs, its pages by Flask's client, and a clock that stands."""

from __future__ import annotations

import re
import weakref
from datetime import UTC, datetime
from html import unescape
from pathlib import Path
from typing import TYPE_CHECKING

from curecal.book.connection.open_book import book_url, open_book
from curecal.book.jobs.import_job import add_job
from curecal.book.link_purpose import LinkPurpose
from curecal.book.links.links import WantedLink, create_link
from curecal.web.app import OFFICE_COOKIE, make_app
from curecal.web.serving import Serving

if TYPE_CHECKING:
    from werkzeug.test import TestResponse

EXAMPLES = Path(__file__).parents[2] / "examples"
BATH = "alder-lane-hall-bath"
BATH_FILE = EXAMPLES / "bathroom" / "job.toml"
# The last reading of the bathroom was a day before.
NOW = datetime(2026, 11, 7, 14, tzinfo=UTC)
ORIGIN = {"Origin": "http://localhost"}
_TAG = re.compile(r"<[^>]+>")


class OfficeSite:
    """A book, and somebody of the office who looks at it."""

    def __init__(self, folder: Path, person: str = "Rosa Quill") -> None:
        self.now = NOW
        self.book = open_book(book_url(str(folder / "book.sqlite3"), {}))
        weakref.finalize(self, self.book.close)
        self.folder = folder
        self.serving = Serving(self.book, now=lambda: self.now)
        # Nothing depends on how fast this machine is.
        self.serving.answers.patience_s = 600.0
        self.client = make_app(self.serving).test_client()
        self.secret = self.link(LinkPurpose.OFFICE, person)
        self.client.set_cookie(OFFICE_COOKIE, self.secret)

    def link(self, purpose: LinkPurpose, person: str, job_id: str = "") -> str:
        wanted = WantedLink(job_id=job_id, purpose=purpose, person=person)
        with self.book.writing() as connection:
            return create_link(connection, wanted, now=self.now)[0]

    def add(self, text: str, name: str = "job") -> None:
        path = self.folder / f"{name}.toml"
        path.write_text(text, encoding="utf-8")
        add_job(self.book, path, now=self.now, clock=self.now)

    def add_bath(self) -> None:
        self.add(BATH_FILE.read_text(encoding="utf-8"))

    def get(self, address: str, language: str = "en") -> TestResponse:
        return self.client.get(f"/office{address}", headers={"Accept-Language": language})

    def post(self, address: str, language: str = "en", **form: str) -> TestResponse:
        headers = {**ORIGIN, "Accept-Language": language}
        return self.client.post(f"/office{address}", data=form, headers=headers)


def words_of(answer: TestResponse) -> str:
    """Return what a page says, without its tags, in single spaces."""
    return " ".join(unescape(_TAG.sub(" ", answer.text)).split())
