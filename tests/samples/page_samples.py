"""The pages over a book of its own: a job, a link for each of its people, a clock that stands."""

from __future__ import annotations

import functools
import re
import sqlite3
import tempfile
import weakref
from datetime import UTC, datetime
from html import unescape
from pathlib import Path
from typing import TYPE_CHECKING

from curecal.book.connection.open_book import Book, book_url, open_book
from curecal.book.jobs.import_job import add_job
from curecal.book.jobs.log_entries import entries_of
from curecal.book.link_purpose import LinkPurpose
from curecal.book.links.links import WantedLink, create_link
from curecal.web.app import make_app
from curecal.web.serving import Serving

if TYPE_CHECKING:
    from collections.abc import Mapping

    from werkzeug.test import TestResponse

    from curecal.records import PlainTable

NOW = datetime(2026, 10, 7, 15, 0, 30, tzinfo=UTC)
"""Noon of the site, which is three hours behind."""
OURS = {"Origin": "http://localhost"}
PEOPLE = """\
[people.crew_lead]
name = "Pat Moran"
email = "pat@crew.example"
[[people.crew]]
name = "Max Reyes"
[[people.tester]]
name = "Tess Ito"
[[people.inspector]]
name = "Ines Roy"
[[people.electrician]]
name = "Colm Byrne"
license = "E 1"
email = "colm@wires.example"
[[people.electrician]]
name = "Sam Oduya"
[[people.owner]]
name = "Kim Lee"
email = "kim@home.example"
[[people.office]]
name = "Ola Berg"
"""
HEAD = """\
[job]
id = "alder"
name = "Alder Lane"
address = "Alder Lane 7"
timezone = "America/Halifax"
units = "{units}"
code = "NEC"
[expected]
below = "heated room"
air = "66 °F"
humidity = "50 %"
"""
ZONE = """\
[[zone]]
id = "hall"
name = "hall"
floor_area = "54 ft²"
[zone.covering]
kind = "ceramic tile"
[zone.heating]
voltage = "240 V"
power = "640 W"
resistance = "58.8 Ω"
insulation = "20 MΩ at 500 V"
sensor = "10 kΩ NTC"
[[zone.layer]]
name = "slab"
material = "concrete"
existing = true
[[zone.layer]]
name = "leveler"
material = "cement leveler"
thickness = "6 mm"
[[zone.layer]]
name = "thinset"
material = "thinset"
[[zone.layer]]
name = "grout"
material = "cement grout"
"""
STOPPED = """
[[log]]
at = 2026-10-06T10:00:00-03:00
kind = "stopped"
cause = "{cause}"
by = "Kim Lee"
"""
BOOKED = """
[[log]]
at = 2026-10-06T10:00:00-03:00
kind = "visit"
visit = "v1"
for = "rough-in"
start = 2026-10-08T09:00:00-03:00
state = "booked"
by = "Pat Moran"
"""
LEAD, MAX, TESS, INES = "Pat Moran", "Max Reyes", "Tess Ito", "Ines Roy"
COLM, SAM, OFFICE = "Colm Byrne", "Sam Oduya", "Ola Berg"
PURPOSES = {
    "Kim Lee": LinkPurpose.OWNER,
    "Colm Byrne": LinkPurpose.ELECTRICIAN,
    "Sam Oduya": LinkPurpose.ELECTRICIAN,
}


class PageSite:
    """A job in a book, its pages, and the secrets of its people. `at` is what the clock says."""

    def __init__(self, book: Book, job_id: str) -> None:
        self.book = book
        weakref.finalize(self, book.close)
        self.job_id = job_id
        self.at = NOW
        self.written = 0
        self.secrets: dict[str, str] = {}
        self.serving = Serving(book, now=lambda: self.at, written=self._count)
        self.client = make_app(self.serving).test_client()

    def _count(self) -> None:
        self.written += 1

    def link(self, person: str, purpose: LinkPurpose | None = None) -> str:
        """Return where a person's pages begin, with a link made for it."""
        what = purpose or PURPOSES.get(person, LinkPurpose.CREW)
        known = f"{person} {what}"
        if known not in self.secrets:
            wanted = WantedLink(job_id=self.job_id, purpose=what, person=person)
            with self.book.writing() as connection:
                self.secrets[known], _ = create_link(connection, wanted, now=NOW)
        return f"/p/{self.secrets[known]}"

    def get(self, person: str, path: str = "/", language: str = "en") -> TestResponse:
        """Return a page as a person sees it."""
        return self.client.get(f"{self.link(person)}{path}", headers={"Accept-Language": language})

    def send(
        self, person: str, form: str, typed: Mapping[str, object], *, path: str = ""
    ) -> TestResponse:
        """Return what comes of a form that a person sends."""
        sent = {"entry_id": entry_id(len(self.entries()) + 1), **typed}
        return self.client.post(
            f"{self.link(person)}{path or f'/note/{form}'}",
            data=sent,
            headers={**OURS, "Accept-Language": "en"},
            content_type="multipart/form-data",
        )

    def entries(self) -> list[PlainTable]:
        """Return the log as the book has it, in the order in which it came."""
        with self.book.reading() as connection:
            return [entry.table for entry in entries_of(connection, self.job_id)]

    def last(self) -> PlainTable:
        """Return the entry that came last."""
        return self.entries()[-1]


def entry_id(number: int) -> str:
    """Return an id as a page makes it."""
    return f"c-{number:032x}"


def page_site(
    folder: Path, *, units: str = "imperial", zone: str = ZONE, log: str = "", people: str = PEOPLE
) -> PageSite:
    """Return the pages of one job in a new book."""
    text = HEAD.format(units=units) + people + zone + log
    return site_of(folder, text)


def site_of(folder: Path, text: str) -> PageSite:
    """Return the pages of a job file in a new book."""
    octets, job_id = _book_with(text)
    place = folder / "book.sqlite3"
    place.write_bytes(octets)
    return PageSite(open_book(book_url(str(place))), job_id)


@functools.cache
def _book_with(text: str) -> tuple[bytes, str]:
    """Return a book with one job, as octets: making its tables takes longer than most tests."""
    with tempfile.TemporaryDirectory() as made:
        file, place = Path(made) / "job.toml", Path(made) / "book.sqlite3"
        file.write_text(text, encoding="utf-8")
        with open_book(book_url(str(place))) as book:
            job_id = add_job(book, file, now=NOW).job_id
        whole = sqlite3.connect(place)
        whole.execute("PRAGMA wal_checkpoint(TRUNCATE)")
        whole.close()
        return place.read_bytes(), job_id


def said(answer: TestResponse) -> str:
    """Return what stands on a page, without its markup."""
    text = re.sub(r"<(script|style)\b.*?</\1>", " ", answer.get_data(as_text=True), flags=re.DOTALL)
    return " ".join(unescape(re.sub(r"<[^>]+>", " ", text)).split())
