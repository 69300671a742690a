"""Readings that arrive every hour: everybody's dates stay true, and nobody is buried in mail."""

from __future__ import annotations

import math
from collections import Counter
from datetime import timedelta
from typing import TYPE_CHECKING, Any
from zoneinfo import ZoneInfo

import pytest
from reminder_samples import FINISHED, HOUR, PEOPLE, Clock, Post, job_text, url_of
from sqlalchemy import select

from curecal.book.ledger.ledger import history_of
from curecal.book.schema.tables import job as job_table

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

    from curecal.calendars import Revision

SITE = ZoneInfo("America/Halifax")
JOBS = 1000
DAYS = 8
SETTLED = timedelta(minutes=20)
OWNER = """
[people.owner]
name = "Ida Fennell"
email = "ida@home.example"
"""


@pytest.fixture
def post(tmp_path: Path) -> Iterator[Post]:
    found = Post(url_of(tmp_path), Clock(FINISHED + HOUR))
    yield found
    found.close()


def reading(post: Post, hour: int, air_c: float) -> dict[str, Any]:
    """Return a spot reading of the air."""
    air = {"air": f"{air_c:.1f} °C", "humidity": "50 %"}
    at = post.clock.at
    return {"id": f"r{hour}", "at": at, "kind": "air", "zone": "hall", "by": "Robin Mistral", **air}


def per_day(post: Post, *kinds: str) -> Counter[tuple[object, ...]]:
    """Count what each person was sent of a job, by the day on site."""
    return Counter(
        (row.job_id, row.recipient, row.created_at.astimezone(SITE).date())
        for row in post.messages(*kinds)
    )


def published(post: Post) -> dict[str, Revision]:
    """Return what stands published of every job, by identity."""
    with post.book.reading() as connection:
        jobs = list(connection.execute(select(job_table.c.id)).scalars())
        return {
            f"{job_id} {each.uid}": each
            for job_id in jobs
            for each in history_of(connection, job_id).revisions.values()
        }


@pytest.mark.long
def test_a_week_of_hourly_readings_is_told_once_a_day_at_most(post: Post, tmp_path: Path) -> None:
    """Rooms from as warm as was expected to colder than the coldest that was."""
    rooms = {f"job-{number}": 19.0 - 1.5 * number for number in range(4)}
    for job_id in rooms:
        post.add(job_text(job_id), tmp_path)
    post.cycle.run(for_s=60.0)
    before = published(post)
    revised = 0
    for hour in range(24 * DAYS):
        post.clock.go(HOUR - SETTLED)
        for job_id, mean_c in rooms.items():
            air_c = mean_c + 3.0 * math.sin(hour * math.pi / 12.0) + 0.2 * (hour % 5)
            post.note(reading(post, hour, air_c), job_id=job_id)
        post.cycle.run(for_s=60.0)
        post.clock.go(SETTLED)
        post.cycle.run(for_s=60.0)
        after = published(post)
        for name, old in before.items():
            revised += after[name].sequence - old.sequence
            same = after[name].content == old.content
            assert (after[name].sequence == old.sequence) == same, name
        before = after
    moved = per_day(post, "moved", "visit-moved")
    assert max(moved.values()) == 1
    # Two rooms were as warm as their owners were told by: these hear nothing but the weekly word.
    assert {job_id for job_id, *_ in moved} >= {"job-3"}
    assert revised <= sum(moved.values())
    everything = per_day(post)
    first_on = FINISHED.astimezone(SITE).date()
    later = {key: count for key, count in everything.items() if key[2] != first_on}
    assert max(later.values()) <= 2


@pytest.mark.long
def test_a_thousand_jobs_with_a_reading_an_hour(post: Post, tmp_path: Path) -> None:
    for number in range(JOBS):
        # Most have an owner alone: the first letters of so many take long enough.
        people = PEOPLE if number % 10 == 0 else OWNER
        post.add(job_text(f"job-{number}", people=people), tmp_path)
    post.cycle.run(for_s=300.0)
    first = len(post.messages())
    assert first >= JOBS
    # What arrived is planned with once; from then on one new fact touches one job.
    post.cycle.run(for_s=300.0)
    post.clock.go(HOUR / 4)
    post.note(reading(post, 0, 19.0), job_id="job-500")
    assert post.cycle.run().replanned == 1
    before = published(post)
    for hour in range(1, 2):
        post.clock.go(HOUR)
        for number in range(JOBS):
            air_c = 14.0 + 6.0 * number / JOBS + hour
            post.note(reading(post, hour, air_c), job_id=f"job-{number}")
        assert post.cycle.run(for_s=60.0).replanned == JOBS
    for name, after in published(post).items():
        assert (after.sequence == before[name].sequence) == (
            after.content == before[name].content
        ), name
    moved = per_day(post, "moved", "visit-moved")
    assert max(moved.values(), default=0) <= 1
    assert len(post.messages()) == first + sum(moved.values())
