"""Calendar feeds over a real book: who gets which bytes, and when they change."""

from __future__ import annotations

import threading
import time
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import TYPE_CHECKING

import icalendar
import pytest

from curecal.book.connection.open_book import book_url, open_book
from curecal.book.jobs.import_job import add_job
from curecal.book.jobs.jobs import read_in
from curecal.book.link_purpose import LinkPurpose
from curecal.book.links.links import WantedLink, links_of, revoke_link
from curecal.book.links.person_links import (
    MadeLink,
    create_feed_of_all_jobs,
    create_page_link,
    feed_secret_of,
)
from curecal.book.meta import hold, release_hold
from curecal.reminders.messages.feed_ledger import FeedLedger
from curecal.reminders.messages.send_context import SendContext
from curecal.reminders.sending.daemon import REPLACED_EXIT
from curecal.web.app import make_app
from curecal.web.feeds.feed_rounds import FeedRounds
from curecal.web.page_request import roles_of
from curecal.web.serving import PageAddress, Serving

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

    from werkzeug.test import TestResponse

EXAMPLES = Path(__file__).parents[4] / "examples"
BATH = "alder-lane-hall-bath"
NOW = datetime(2026, 11, 30, 12, tzinfo=UTC)


class Shop:
    """A book with example jobs, its pages, and a clock that a test moves."""

    def __init__(self, folder: Path) -> None:
        self.now = NOW
        self.book = open_book(book_url(str(folder / "book.sqlite3"), {}))
        self.serving = Serving(self.book, now=lambda: self.now)
        self.ledger = FeedLedger(self.book, SendContext(), now=lambda: self.now)
        self.client = make_app(self.serving).test_client()

    def add(self, name: str, text: str | None = None) -> None:
        path = EXAMPLES / name / "job.toml"
        if text is not None:
            path = Path(str(self.book.url.database)).with_name(f"{name}.toml")
            path.write_text(text, encoding="utf-8")
        add_job(self.book, path, now=self.now, clock=self.now)

    def link(
        self, person: str, purpose: LinkPurpose, expires_at: datetime | None = None
    ) -> MadeLink:
        with self.book.writing() as connection:
            job = read_in(connection, BATH).job
            assert job is not None
            roles = roles_of(job, person, self.now)[1]
            wanted = WantedLink(job_id=BATH, purpose=purpose, person=person, expires_at=expires_at)
            return create_page_link(connection, wanted, roles, now=self.now)

    def get(self, secret: str, **headers: str) -> TestResponse:
        names = {name.replace("_", "-"): value for name, value in headers.items()}
        return self.client.get(f"/f/{secret}/curecal.ics", headers=names)

    def look_again(self, monkeypatch: pytest.MonkeyPatch) -> None:
        """Let what is kept be as old as it may get."""
        monkeypatch.setattr("curecal.web.feeds.calendar_feeds._HOLDS_S", 0.0)


@pytest.fixture
def shop(tmp_path: Path) -> Iterator[Shop]:
    found = Shop(tmp_path)
    found.add("bathroom")
    yield found
    found.book.close()


def summaries(data: bytes) -> list[str]:
    calendar = icalendar.Calendar.from_ical(data)
    return [str(event["SUMMARY"]) for event in calendar.walk("VEVENT")]


def test_a_feed_has_the_published_lines_of_its_reader_and_of_nobody_else(shop: Shop) -> None:
    owner = shop.link("Ida Fennell", LinkPurpose.OWNER)
    sparks = shop.link("Sam Okoro-Lind", LinkPurpose.ELECTRICIAN)
    assert shop.ledger.bring_up() == {}
    found = shop.get(owner.feed_secret)
    assert found.status_code == 200
    assert found.headers["Content-Type"] == "text/calendar; charset=utf-8"
    assert found.headers["Cache-Control"] == "private, no-cache"
    assert "Content-Disposition" not in found.headers
    assert "Content-Encoding" not in found.headers
    with shop.book.reading() as connection:
        rows = connection.exec_driver_sql(
            "SELECT audience, lines FROM published ORDER BY uid"
        ).all()
    unfolded = found.data.replace(b"\r\n ", b"").decode()
    for row in rows:
        stands = "\r\n".join(row.lines.split("\n")) in unfolded
        assert stands is (row.audience == "owner")
    assert summaries(found.data) != summaries(shop.get(sparks.feed_secret).data)


def test_the_pages_secret_opens_no_feed_and_the_feeds_no_page(shop: Shop) -> None:
    made = shop.link("Ida Fennell", LinkPurpose.OWNER)
    shop.ledger.bring_up()
    assert made.feed_secret == feed_secret_of(made.secret)
    assert shop.get(made.secret).status_code == 404
    assert shop.client.get(f"/p/{made.feed_secret}/").status_code == 404
    assert shop.get("x" * 43).status_code == 404
    with shop.book.reading() as connection:
        stored = str([tuple(row) for row in connection.exec_driver_sql("SELECT * FROM link")])
    assert made.secret not in stored
    assert made.feed_secret not in stored


def test_an_etag_is_answered_without_a_body_and_head_has_the_length(shop: Shop) -> None:
    made = shop.link("Ida Fennell", LinkPurpose.OWNER)
    shop.ledger.bring_up()
    found = shop.get(made.feed_secret)
    again = shop.get(made.feed_secret, If_None_Match=found.headers["ETag"])
    assert (again.status_code, again.data) == (304, b"")
    assert again.headers["ETag"] == found.headers["ETag"]
    # Kept and given out again, and looked up anew: no header tells them apart.
    kept = shop.get(made.feed_secret)
    weak = shop.get(made.feed_secret, If_None_Match=f"W/{found.headers['ETag']}")
    assert (kept.data, sorted(kept.headers)) == (found.data, sorted(found.headers))
    assert (weak.status_code, sorted(weak.headers)) == (304, sorted(again.headers))
    assert shop.get(made.feed_secret, If_None_Match='"another"').status_code == 200
    head = shop.client.head(f"/f/{made.feed_secret}/curecal.ics")
    assert (head.status_code, head.data) == (200, b"")
    assert head.headers["Content-Length"] == str(len(found.data))


def test_a_link_whose_job_is_not_published_yet_says_come_again(
    shop: Shop, monkeypatch: pytest.MonkeyPatch
) -> None:
    shop.look_again(monkeypatch)
    made = shop.link("Ida Fennell", LinkPurpose.OWNER)
    found = shop.get(made.feed_secret)
    assert (found.status_code, found.headers["Retry-After"]) == (503, "30")
    shop.ledger.bring_up()
    assert shop.get(made.feed_secret).status_code == 200


def test_a_moved_job_moves_its_feed_and_asking_moves_nothing(
    shop: Shop, monkeypatch: pytest.MonkeyPatch
) -> None:
    shop.look_again(monkeypatch)
    made = shop.link("Ida Fennell", LinkPurpose.OWNER)
    shop.ledger.bring_up()
    first = shop.get(made.feed_secret)
    text = (EXAMPLES / "bathroom" / "job.toml").read_text(encoding="utf-8")
    shop.add("bathroom", text.replace("Alder Lane, hall bath", "Alder Lane, upstairs bath"))
    assert shop.get(made.feed_secret, If_None_Match=first.headers["ETag"]).status_code == 200
    before = _published_count(shop)
    shop.ledger.bring_up()
    second = shop.get(made.feed_secret)
    assert b"upstairs bath" in second.data
    assert second.headers["ETag"] != first.headers["ETag"]
    shop.get(made.feed_secret)
    assert _published_count(shop) == before


def test_within_two_seconds_nothing_is_asked_of_the_book(
    shop: Shop, monkeypatch: pytest.MonkeyPatch
) -> None:
    made = shop.link("Ida Fennell", LinkPurpose.OWNER)
    shop.ledger.bring_up()
    at = [100.0]
    monkeypatch.setattr("curecal.web.feeds.calendar_feeds.time.monotonic", lambda: at[0])
    first = shop.get(made.feed_secret)
    assert made.feed is not None
    with shop.book.writing() as connection:
        revoke_link(connection, made.feed.id, now=shop.now)
    at[0] += 1.9
    assert shop.get(made.feed_secret).data == first.data
    at[0] += 0.1
    assert shop.get(made.feed_secret).status_code == 404


def test_a_feed_ends_with_its_day_and_with_its_person(
    shop: Shop, monkeypatch: pytest.MonkeyPatch
) -> None:
    shop.look_again(monkeypatch)
    made = shop.link("Ida Fennell", LinkPurpose.OWNER, NOW + timedelta(days=1))
    other = shop.link("Robin Mistral", LinkPurpose.CREW)
    shop.ledger.bring_up()
    assert shop.get(other.feed_secret).status_code == 200
    text = (EXAMPLES / "bathroom" / "job.toml").read_text(encoding="utf-8")
    shop.add("bathroom", text.replace('name = "Robin Mistral"', 'name = "Uma Larch"'))
    assert shop.get(other.feed_secret).status_code == 404
    assert shop.get(made.feed_secret).status_code == 200
    shop.now += timedelta(days=1)
    assert shop.get(made.feed_secret).status_code == 404


def test_a_feed_over_all_jobs_goes_by_the_mail_address(
    shop: Shop, monkeypatch: pytest.MonkeyPatch
) -> None:
    shop.look_again(monkeypatch)
    shop.add("kitchen-two-zones")
    with shop.book.writing() as connection:
        job = read_in(connection, BATH).job
        assert job is not None
        person = next(one for one in job.people if one.name == "Sam Okoro-Lind")
        assert person.email
        how = WantedLink(job_id="", purpose=LinkPurpose.FEED, person="")
        made = create_feed_of_all_jobs(connection, person, now=NOW, how=how)
    shop.ledger.bring_up()
    alone = shop.link("Sam Okoro-Lind", LinkPurpose.ELECTRICIAN)
    with shop.book.reading() as connection:
        others = read_in(connection, _other(shop)).job
    assert others is not None
    is_there = person.email in {one.email for one in others.people}
    everything = summaries(shop.get(made.secret).data)
    own = summaries(shop.get(alone.feed_secret).data)
    assert set(own) <= set(everything)
    assert (len(everything) > len(own)) is is_there


def test_the_last_use_is_noted_once_in_a_while(shop: Shop, monkeypatch: pytest.MonkeyPatch) -> None:
    shop.look_again(monkeypatch)
    made = shop.link("Ida Fennell", LinkPurpose.OWNER)
    shop.ledger.bring_up()
    shop.get(made.feed_secret)
    shop.now += timedelta(minutes=14)
    shop.get(made.feed_secret)
    assert _used(shop, made) == NOW
    shop.now += timedelta(minutes=1)
    shop.get(made.feed_secret)
    assert _used(shop, made) == shop.now


def test_a_damaged_row_is_never_given_out_and_is_said_once(
    shop: Shop, monkeypatch: pytest.MonkeyPatch
) -> None:
    shop.look_again(monkeypatch)
    made = shop.link("Ida Fennell", LinkPurpose.OWNER)
    shop.ledger.bring_up()
    with shop.book.writing() as connection:
        connection.exec_driver_sql("DROP TRIGGER IF EXISTS published_update")
        connection.exec_driver_sql("UPDATE published SET lines = 'nonsense'")
        connection.exec_driver_sql("UPDATE job SET generation = generation + 1")
    assert list(shop.ledger.bring_up()) == [BATH]
    assert shop.get(made.feed_secret).status_code == 500
    # It is not tried over and over.
    assert shop.ledger.bring_up() == {}


@pytest.mark.parametrize(
    ("person", "purpose"),
    [
        ("Ida Fennell", LinkPurpose.OWNER),
        ("Robin Mistral", LinkPurpose.CREW),
        ("Sam Okoro-Lind", LinkPurpose.ELECTRICIAN),
    ],
)
def test_a_page_shows_its_feed_until_that_link_is_taken_back(
    shop: Shop, person: str, purpose: LinkPurpose
) -> None:
    made = shop.link(person, purpose)
    path = f"localhost/f/{made.feed_secret}/curecal.ics"
    page = shop.client.get(f"/p/{made.secret}/").text
    assert f'href="webcal://{path}"' in page
    assert f"<code>http://{path}</code>" in page
    assert "may be a day behind; this page is not." in page
    assert made.feed is not None
    with shop.book.writing() as connection:
        revoke_link(connection, made.feed.id, now=shop.now)
    assert "webcal:" not in shop.client.get(f"/p/{made.secret}/").text


def test_the_address_of_a_feed_is_the_one_that_people_have(shop: Shop) -> None:
    made = shop.link("Ida Fennell", LinkPurpose.OWNER)
    address = PageAddress(origin="https://pages.example", is_secure=True)
    client = make_app(Serving(shop.book, address, now=lambda: shop.now)).test_client()
    page = client.get(f"/p/{made.secret}/").text
    assert f"webcal://pages.example/f/{made.feed_secret}/curecal.ics" in page
    assert f"https://pages.example/f/{made.feed_secret}/curecal.ics" in page


def test_without_reminders_rounds_keep_the_feeds_and_end_when_told(shop: Shop) -> None:
    made = shop.link("Ida Fennell", LinkPurpose.OWNER)
    rounds = FeedRounds(shop.book, now=lambda: shop.now, every_s=600.0)
    thread = threading.Thread(target=rounds.run)
    thread.start()
    _until(lambda: _published_count(shop) > 0)
    text = (EXAMPLES / "bathroom" / "job.toml").read_text(encoding="utf-8")
    shop.add("bathroom", text.replace("Alder Lane, hall bath", "Alder Lane, upstairs bath"))
    rounds.look_now()
    _until(lambda: b"upstairs" in _lines(shop))
    rounds.stop()
    thread.join(60)
    assert not thread.is_alive()
    assert shop.get(made.feed_secret).status_code == 200


def test_a_book_in_the_place_of_the_open_one_ends_the_rounds_and_takes_no_form(
    shop: Shop, tmp_path: Path
) -> None:
    made = shop.link("Ida Fennell", LinkPurpose.OWNER)
    rounds = FeedRounds(shop.book, now=lambda: shop.now)
    place = Path(str(shop.book.url.database))
    form = {"path": f"/p/{made.secret}/wrong", "headers": {"Origin": "http://localhost"}}
    assert shop.client.post(**form).status_code == 422
    shop.book.engine.dispose()
    for path in tmp_path.glob("book.sqlite3*"):
        (tmp_path / f"copy-{path.name}").write_bytes(path.read_bytes())
        path.unlink()
    # A moment without any: the rounds wait, and a form is told to come again.
    assert shop.client.post(**form).status_code == 503
    for path in tmp_path.glob("copy-*"):
        path.rename(path.with_name(path.name.removeprefix("copy-")))
    assert place.exists()
    answer = shop.client.post(**form)
    assert answer.status_code == 503
    assert "nobody has been told" in answer.text
    assert rounds.run() == REPLACED_EXIT


def test_a_round_publishes_some_jobs_and_stops_when_told(
    shop: Shop, monkeypatch: pytest.MonkeyPatch
) -> None:
    shop.link("Ida Fennell", LinkPurpose.OWNER)
    shop.ledger.bring_up(lambda: True)
    assert _published_count(shop) == 0
    with shop.book.writing() as connection:
        hold(connection, "clock", now=NOW)
    shop.ledger.bring_up()
    assert _published_count(shop) == 0
    with shop.book.writing() as connection:
        release_hold(connection)
    monkeypatch.setattr("curecal.reminders.messages.feed_ledger._A_ROUND", 0)
    shop.ledger.bring_up()
    assert _published_count(shop) == 0
    monkeypatch.setattr("curecal.reminders.messages.feed_ledger._A_ROUND", 1)
    shop.ledger.bring_up()
    assert _published_count(shop) > 0


def test_once_an_hour_what_the_clock_moved_is_published(shop: Shop) -> None:
    shop.link("Ida Fennell", LinkPurpose.OWNER)
    shop.ledger.bring_up()
    before = _lines(shop)
    shop.now += timedelta(days=30, minutes=-1)
    shop.ledger.bring_up()
    moved = _lines(shop)
    assert moved != before
    shop.now += timedelta(minutes=59)
    shop.ledger.bring_up()
    assert _lines(shop) == moved


def _until(told: Callable[[], bool]) -> None:
    end_s = time.monotonic() + 60.0
    while not told():
        assert time.monotonic() < end_s
        time.sleep(0.02)


def _lines(shop: Shop) -> bytes:
    with shop.book.reading() as connection:
        rows = connection.exec_driver_sql("SELECT lines FROM published ORDER BY uid").scalars()
        return "\n".join(rows).encode()


def _published_count(shop: Shop) -> int:
    with shop.book.reading() as connection:
        return int(connection.exec_driver_sql("SELECT count(*) FROM published").scalar_one())


def _used(shop: Shop, made: MadeLink) -> datetime | None:
    assert made.feed is not None
    with shop.book.reading() as connection:
        return next(link.last_used_at for link in links_of(connection) if link.id == made.feed.id)


def _other(shop: Shop) -> str:
    with shop.book.reading() as connection:
        rows = connection.exec_driver_sql("SELECT id FROM job").scalars()
        return next(str(row) for row in rows if row != BATH)
