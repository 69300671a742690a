"""Entries that were recorded by a clock ahead: calendars go on, before and after it is right."""

from __future__ import annotations

from datetime import UTC, datetime
from typing import TYPE_CHECKING

import pytest
from reminder_samples import DAY, HOUR, Clock, Post, job_text, url_of

from curecal.reminders.messages.published_now import publish_now
from curecal.reminders.messages.send_context import InTransaction

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

RIGHT = datetime(2026, 11, 10, 14, tzinfo=UTC)
AHEAD = RIGHT + 3 * HOUR
AIR = {"id": "look", "at": AHEAD, "kind": "air", "zone": "hall", "air": "20 °C"}


@pytest.fixture
def post(tmp_path: Path) -> Iterator[Post]:
    found = Post(url_of(tmp_path), Clock(RIGHT - DAY))
    found.add(job_text(), tmp_path)
    found.clock.at = AHEAD
    found.note({**AIR, "by": "Robin Mistral"})
    yield found
    found.close()


def publish(post: Post, at: datetime) -> datetime:
    """Publish the calendars by a clock that says so; return when they say that the look was."""
    with post.book.writing() as connection:
        planned = post.context.plan(post.context.know(connection, "elm-road"), at)
        assert planned is not None
        publish_now(connection, post.context, planned, now=at)
        return InTransaction(connection).history("elm-road").rests_on["look"].at


def test_published_by_the_clock_that_was_put_back_and_when_it_is_past_the_entry(post: Post) -> None:
    assert publish(post, RIGHT) == AHEAD
    assert publish(post, AHEAD + HOUR) == AHEAD


def test_published_by_the_clock_ahead_and_by_the_one_put_back(post: Post) -> None:
    assert publish(post, AHEAD + HOUR) == AHEAD
    assert publish(post, RIGHT) == AHEAD
    # On the next day nothing of that is left.
    assert publish(post, RIGHT + DAY) == AHEAD
