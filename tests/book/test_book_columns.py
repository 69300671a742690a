"""Instants keep their meaning and texts their signs, whatever the database makes of them."""

from __future__ import annotations

import sqlite3
from datetime import UTC, datetime, timedelta, timezone
from typing import TYPE_CHECKING
from zoneinfo import ZoneInfo

import pytest
from book_samples import JOB, message, put_job, wanted
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from sqlalchemy import insert, select

from curecal.book.connection.open_book import Book, book_url, open_book
from curecal.book.meta import keep_value, value_of
from curecal.book.outbox.outbox import fire, message_of
from curecal.book.outbox.reminders import jobs_due, put_wanted, wanted_of
from curecal.book.schema.tables import heartbeat
from curecal.errors import BookError, InstantRefused

if TYPE_CHECKING:
    from pathlib import Path

ODD = [
    timezone(timedelta(hours=5, minutes=45)),
    timezone(-timedelta(minutes=44)),
    timezone(timedelta(hours=14)),
    timezone(-timedelta(hours=12)),
    timezone(timedelta(hours=1, minutes=23, seconds=17)),
    ZoneInfo("America/Halifax"),
    ZoneInfo("America/St_Johns"),
]


def keep(book: Book, at: datetime) -> datetime:
    """An instant into the book and out again."""
    with book.writing() as connection:
        connection.execute(heartbeat.delete())
        values = {"name": "x", "at": at, "boot_id": "b", "since_boot_s": 0.0, "note": {}}
        connection.execute(insert(heartbeat).values(values))
    with book.reading() as connection:
        found: datetime = connection.execute(select(heartbeat.c.at)).scalar_one()
        return found


@pytest.mark.parametrize("zone", ODD, ids=str)
def test_an_instant_with_an_odd_offset_comes_back_as_that_instant(
    book: Book, zone: timezone
) -> None:
    at = datetime(2026, 11, 1, 1, 30, 7, 123456, tzinfo=zone)
    found = keep(book, at)
    # Python calls no time in an hour that comes twice equal to one of another zone.
    assert found == at.astimezone(UTC)
    assert found.utcoffset() == timedelta(0)


def test_both_passes_of_the_autumn_hour_differ(book: Book) -> None:
    first = datetime(2026, 11, 1, 1, 30, tzinfo=ZoneInfo("America/Halifax"))
    second = first.replace(fold=1)
    assert keep(book, second) - keep(book, first) == timedelta(hours=1)


def test_instants_of_two_zones_are_put_in_their_real_order(book: Book) -> None:
    early = datetime(2026, 12, 3, 23, 0, tzinfo=timezone(timedelta(hours=14)))
    late = datetime(2026, 12, 3, 10, 0, tzinfo=timezone(-timedelta(hours=4)))
    assert early < late
    with book.writing() as connection:
        put_job(connection)
        put_wanted(connection, [wanted(fire_at=late)])
        assert jobs_due(connection, now=early.astimezone(UTC)) == ()
        put_wanted(connection, [wanted(generation=2, fire_at=early)])
        assert jobs_due(connection, now=early.astimezone(UTC)) == (JOB,)
        assert [each.generation for each in wanted_of(connection, JOB)] == [2, 1]


def test_a_naive_instant_is_refused(book: Book) -> None:
    with pytest.raises(InstantRefused):
        keep(book, datetime(2026, 12, 3, 12))  # noqa: DTZ001 - the mistake that is refused


def test_a_file_holds_utc_in_plain_text(tmp_path: Path) -> None:
    path = tmp_path / "book.sqlite3"
    with open_book(book_url(str(path))) as book:
        keep(book, datetime(2026, 12, 3, 8, 15, tzinfo=timezone(-timedelta(hours=4))))
    plain = sqlite3.connect(path)
    try:
        assert plain.execute("SELECT at FROM heartbeat").fetchone() == (
            "2026-12-03 12:15:00.000000",
        )
    finally:
        plain.close()


HOSTILE = [
    "'; DROP TABLE job; --",
    "%(name)s %s {0} :name ?",
    "a\r\nBcc: all@example.org",
    "größer – ½ in · Ω 漢字 🧱 \u202e",
    "\ufeff\u2028\u200b",
    '"\\x00\\',
]


@pytest.mark.parametrize("text", HOSTILE)
def test_hostile_text_is_only_text(book: Book, text: str) -> None:
    with book.writing() as connection:
        put_job(connection, text)
        made = message(1, job_id=text, kind=text, recipient=text, zone_id=text, body=text.encode())
        (number,) = fire(connection, [made])
        keep_value(connection, text, {text: text})
        put_wanted(connection, [wanted(job_id=text, payload={text: [text]})])
    with book.reading() as connection:
        found = message_of(connection, number)
        assert found is not None
        assert (found.kind, found.recipient, found.body) == (text, text, text.encode())
        assert value_of(connection, text) == {text: text}
        assert wanted_of(connection, text)[0].payload == {text: [text]}


@pytest.mark.parametrize("text", ["a\0b", "\ud800", "\udfff!"])
def test_text_that_one_database_refuses_both_refuse(book: Book, text: str) -> None:
    with pytest.raises(BookError) as refused, book.writing() as connection:
        put_job(connection, text)
    assert refused.value.code == "book-text-unusable"
    with book.writing() as connection:
        put_job(connection, "next")


@settings(
    suppress_health_check=[HealthCheck.function_scoped_fixture],
    max_examples=max(40, settings().max_examples),
)
@given(
    st.datetimes(
        datetime.fromisoformat("1900-01-01"),
        datetime.fromisoformat("9998-12-31"),
        timezones=st.timezones(),
        allow_imaginary=False,
    )
)
def test_every_instant_comes_back(book: Book, at: datetime) -> None:
    assert keep(book, at) == at.astimezone(UTC)
