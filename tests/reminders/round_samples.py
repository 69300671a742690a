"""Books of many jobs and a wire that counts, for tests of rounds; all names are invented."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from reminder_samples import Caught, Clock, Post, evening, job_text
from sqlalchemy import select

from curecal.book.meta import value_of
from curecal.book.outbox.reminders import wanted_of
from curecal.book.schema.tables import job
from curecal.delivery.channels import Answer
from curecal.reminders.replanning.replan_notes import replan_key

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

    from sqlalchemy import URL

HALT = {
    "id": "halt",
    "kind": "stopped",
    "cause": "crack or loose tile",
    "zone": "hall",
    "reason": "a crack",
    "by": "Robin Mistral",
}


def names(count: int) -> list[str]:
    return [f"road-{number:03}" for number in range(count)]


@dataclass
class Counting(Caught):
    """A wire that notes how many jobs were planned when each message left."""

    planned: Callable[[], int] = lambda: 0
    at: list[int] = field(default_factory=list)

    def send(self, address: str, data: bytes, *, deadline_s: float) -> Answer:
        self.at.append(self.planned())
        return super().send(address, data, deadline_s=deadline_s)


def filled(url: URL, folder: Path, count: int, wire: Counting | None = None) -> Post:
    """Return a desk with jobs of which a message of several lines is due."""
    post = Post(url, Clock(evening()), wires={"email": wire} if wire else {})
    for name in names(count):
        post.add(job_text(name, name=f"Road {name[-3:]}"), folder)
    return post


def planned_count(post: Post) -> int:
    with post.book.reading() as connection:
        noted = [value_of(connection, replan_key(name)) for name in post_jobs(post)]
    return sum(note is not None for note in noted)


def post_jobs(post: Post) -> list[str]:
    with post.book.reading() as connection:
        return list(connection.execute(select(job.c.id)).scalars())


def rows_of(post: Post) -> list[tuple[object, ...]]:
    """Return what is wanted of every job, without the ids that the book gives."""
    with post.book.reading() as connection:
        return sorted(
            (row.job_id, row.kind, row.zone_id, row.recipient, row.generation, str(row.fire_at))
            for name in post_jobs(post)
            for row in wanted_of(connection, name)
        )
