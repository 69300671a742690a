"""What a job costs its book among many jobs and after years of messages: as much as among few.

SQLite is asked how many steps its virtual machine takes: that is the same on every machine.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from reminder_samples import HOUR, Post, url_of
from round_samples import HALT, filled, names
from sqlalchemy import event, func, insert, literal, select, update

from curecal.book.outbox.outbox_rows import DIGEST
from curecal.book.schema.tables import job, outbox
from curecal.reminders.replanning.planned_jobs import replan_job

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator
    from pathlib import Path

    from sqlalchemy.engine import Connection

OURS, OTHER = names(2)
FEW, MANY = 3, 30
COPIES = 400
"""Of each message: as many as years of days bring."""
EACH = 10
"""Steps between two looks: a callback for every one would take long."""
MORE = 1.1


def steps_of(post: Post, work: Callable[[], object]) -> int:
    """Return how many steps the virtual machine takes for some work [10]."""
    taken = 0

    def step() -> None:
        nonlocal taken
        taken += 1

    def watch(connection: Connection, *_: object) -> None:
        connection.connection.driver_connection.set_progress_handler(step, EACH)

    event.listen(post.book.engine, "before_cursor_execute", watch)
    work()
    event.remove(post.book.engine, "before_cursor_execute", watch)
    # A new connection is watched by nobody.
    post.book.engine.dispose()
    assert taken
    return taken


def plan_of(post: Post) -> Callable[[], object]:
    """Return what plans our job anew, with something due of it."""
    post.clock.go(24 * HOUR)
    with post.book.writing() as connection:
        grown = update(job).where(job.c.id == OURS)
        connection.execute(grown.values(generation=job.c.generation + 1))
    return lambda: replan_job(post.book, post.context, OURS, now=post.clock.at)


def with_years_of_messages(post: Post) -> Post:
    """Let the readers of a book have had messages for years, of another job."""
    with post.book.writing() as connection:
        sent = select(func.count()).select_from(outbox).where(outbox.c.kind == DIGEST)
        assert connection.execute(sent).scalar_one()
        for number in range(1, COPIES):
            changed = {
                "generation": outbox.c.generation + 10_000 * number,
                "message_id": literal(f"{number}.") + outbox.c.message_id,
                "job_id": literal(OTHER),
                "reminder_id": literal(None),
            }
            kept = [column for column in outbox.c if column.name != "id"]
            copies = select(*(changed.get(column.name, column) for column in kept)).where(
                outbox.c.generation < 10_000
            )
            connection.execute(insert(outbox).from_select([one.name for one in kept], copies))
    return post


def statements_of(post: Post, work: Callable[[], object]) -> int:
    """Return how many statements some work asks of its book."""
    asked = 0

    def watch(*_: object) -> None:
        nonlocal asked
        asked += 1

    event.listen(post.book.engine, "before_cursor_execute", watch)
    work()
    event.remove(post.book.engine, "before_cursor_execute", watch)
    return asked


def books(folder: Path) -> Iterator[tuple[str, Post]]:
    """Give a book of few jobs, one of many, and one of few with years of messages."""
    for name, count in (("few", FEW), ("many", MANY), ("years", FEW)):
        own = folder / name
        own.mkdir()
        post = filled(url_of(own), own, count)
        post.cycle.run()
        assert post.messages(DIGEST)
        yield name, with_years_of_messages(post) if name == "years" else post
        post.close()


def test_a_job_among_many_is_planned_in_as_many_steps_as_among_few(tmp_path: Path) -> None:
    taken = {name: steps_of(post, plan_of(post)) for name, post in books(tmp_path)}
    assert taken["many"] <= MORE * taken["few"]
    assert taken["years"] <= MORE * taken["few"]


def test_a_further_note_of_a_job_among_many_takes_as_many_steps(tmp_path: Path) -> None:
    taken = {
        name: steps_of(
            post, lambda post=post: post.note({**HALT, "at": post.clock.at - HOUR}, job_id=OURS)
        )
        for name, post in books(tmp_path)
    }
    assert taken["many"] <= MORE * taken["few"]
    assert taken["years"] <= MORE * taken["few"]


def test_a_round_asks_few_statements_of_each_job(tmp_path: Path) -> None:
    post = filled(url_of(tmp_path), tmp_path, MANY)
    first = statements_of(post, post.cycle.run) / MANY
    post.clock.go(24 * HOUR)
    again = statements_of(post, post.cycle.run) / MANY
    assert post.messages(DIGEST)
    # Of each job also its own readers' messages, made and sent.
    assert 10 < first < 42
    assert 10 < again < 26
    post.close()
