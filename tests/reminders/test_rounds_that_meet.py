"""Rounds of two processes over one book that begin seconds apart: nothing is left out by either."""

from __future__ import annotations

import multiprocessing
import os
import signal
from collections import Counter
from datetime import UTC, datetime, timedelta
from typing import TYPE_CHECKING

import pytest
from book.book_servers import running
from reminder_samples import Clock, Post, closed, job_text, url_of
from sqlalchemy import text

from curecal.book.connection import open_book
from curecal.book.outbox.digests import lines_of
from curecal.book.outbox.outbox_rows import DIGEST
from curecal.errors import BookError
from curecal.reminders.messages.send_context import SendContext
from curecal.reminders.replanning import planned_jobs
from curecal.reminders.replanning.plan_all import plan_all
from curecal.reminders.replanning.planned_jobs import plan_jobs, planned_some_at_a_time
from curecal.reminders.sending.bundle import bundle

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator
    from pathlib import Path

    from sqlalchemy import URL

MORNING = datetime(2026, 11, 9, 15, tzinfo=UTC)
# Four in the afternoon on site: of both jobs the electrician is to hear which visits are booked.
DUE = datetime(2026, 11, 9, 20, tzinfo=UTC)
SECOND = timedelta(seconds=1)


@pytest.fixture
def desks(tmp_path: Path) -> Iterator[tuple[Post, Post]]:
    """Give two processes over one book with two jobs, ten seconds before both have a line due."""
    clock = Clock(MORNING)
    one, other = (Post(url_of(tmp_path), clock, name=name) for name in ("one", "other"))
    for name in ("first", "second"):
        one.add(job_text(name, name=name), tmp_path)
    for _ in range(3):
        one.cycle.run()
        clock.go(timedelta(minutes=5))
    clock.go(DUE - 10 * SECOND - clock.at)
    yield one, other
    closed(one, other)


def lines_to(post: Post, recipient: str) -> list[Counter[str]]:
    """Return of which jobs each message of several lines to a reader has how many."""
    numbers = [row.id for row in post.messages(DIGEST) if row.recipient == recipient]
    with post.book.reading() as connection:
        return [Counter(line.job_id for line in lines_of(connection, each)) for each in numbers]


def look(post: Post, job_id: str) -> None:
    entry = {"id": "look", "kind": "air", "zone": "hall", "air": "20 °C", "by": "Robin Mistral"}
    post.note({**entry, "at": post.clock.at - SECOND}, job_id=job_id)


def test_a_line_is_not_left_out_because_its_job_was_planned_before_it_was_due(
    desks: tuple[Post, Post],
) -> None:
    one, other = desks
    look(one, "second")
    one.cycle.run()
    one.clock.go(15 * SECOND)
    other.cycle.run()
    # Left to the other process, the second job's lines would come on the next working day.
    assert lines_to(other, "sam@sparks.example") == [Counter(first=2, second=2)]


def test_a_round_that_began_before_makes_no_message_of_half_of_what_is_due(
    desks: tuple[Post, Post],
) -> None:
    one, other = desks
    began_at = one.clock.at
    one.clock.go(15 * SECOND)
    plan_jobs(one.book, one.context, ["first"], now=one.clock.at)
    with other.book.writing() as connection:
        bundle(connection, other.context, now=began_at)
    assert lines_to(other, "sam@sparks.example") == []
    plan_jobs(one.book, one.context, ["second"], now=one.clock.at)
    with other.book.writing() as connection:
        bundle(connection, other.context, now=one.clock.at)
    assert lines_to(other, "sam@sparks.example") == [Counter(first=2, second=2)]


def test_who_looks_what_would_leave_keeps_nothing_from_leaving(desks: tuple[Post, Post]) -> None:
    one, _ = desks
    stop = {"id": "halt", "kind": "stopped", "zone": "hall", "cause": "crack or loose tile"}
    one.note(
        {**stop, "at": one.clock.at, "reason": "a crack", "by": "Robin Mistral"}, job_id="first"
    )
    one.clock.go(SECOND)
    plan_all(one.book, SendContext(), now=one.clock.at)
    one.clock.go(SECOND)
    one.cycle.run()
    assert {row.state for row in one.messages("stopped")} == {"sent"}


@pytest.fixture
def server_url(needs: Callable[[str], str]) -> Iterator[URL]:
    """Give a database of a real server."""
    needs("psycopg")
    with running(needs("postgres")) as server:
        yield server.url(server.new_database())


def test_a_frozen_process_keeps_its_job_back_and_no_other(server_url: URL, tmp_path: Path) -> None:
    post = Post(server_url, Clock(MORNING), busy_s=0.3)
    for name in ("first", "second"):
        post.add(job_text(name, name=name), tmp_path)
    with open_book.open_book(server_url) as frozen, frozen.writing() as connection:
        connection.execute(text("SELECT id FROM job WHERE id = 'first' FOR UPDATE"))
        done = post.cycle.run()
    assert done.troubles == {"first": "book-busy"}
    assert {row.state for row in post.messages(DIGEST)} == {"sent"}
    assert {name for line in lines_to(post, "ida@home.example") for name in line} == {"second"}
    closed(post)


def test_a_server_takes_back_what_a_frozen_process_holds(
    server_url: URL, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    post = Post(server_url, Clock(MORNING), busy_s=60.0)
    post.add(job_text("first", name="first"), tmp_path)
    # A busy machine is silent for a moment as well.
    monkeypatch.setattr(open_book, "_SILENT_S", 2.0)
    frozen = open_book.open_book(server_url)
    asked = text("SELECT id FROM job WHERE id = 'first' FOR UPDATE")

    def hold_it() -> None:
        with frozen.writing() as connection:
            connection.execute(asked)
            # It waits until the server has had enough of the other's silence.
            done = post.cycle.run()
            assert (done.replanned, done.troubles) == (1, {})
            # Continued, it finds that it holds nothing any more.
            connection.execute(asked)

    with pytest.raises(BookError) as caught:
        hold_it()
    assert caught.value.code == "book-server-away"
    frozen.close()
    closed(post)


@pytest.mark.parametrize("error", [ImportError, NotImplementedError, PermissionError])
def test_without_semaphores_one_process_plans_all(
    desks: tuple[Post, Post], monkeypatch: pytest.MonkeyPatch, error: type[Exception]
) -> None:
    shared = pytest.importorskip("curecal.reminders.replanning.planning_processes")

    def none_such(*_: object, **__: object) -> None:
        raise error

    monkeypatch.setattr(planned_jobs, "_MANY_JOBS", 2)
    monkeypatch.setattr(shared, "ProcessPoolExecutor", none_such)
    one, _ = desks
    names = ("first", "second")
    rounds = planned_some_at_a_time(
        one.book, one.context, names, now=one.clock.at + timedelta(minutes=1), processes=2
    )
    assert [[planned.job_id for planned in some] for some in rounds] == [list(names)]


@pytest.mark.slow
def test_a_frozen_planning_process_is_ended_and_its_jobs_planned_here(
    desks: tuple[Post, Post], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    shared = pytest.importorskip("curecal.reminders.replanning.planning_processes")
    monkeypatch.setattr(planned_jobs, "_MANY_JOBS", 2)
    monkeypatch.setattr(shared, "AT_ONCE", 2)
    monkeypatch.setattr(shared, "_ENDS_WITHIN_S", 0.5)
    one, _ = desks
    names = [f"road-{number}" for number in range(20)]
    for name in names:
        one.add(job_text(name, name=name), tmp_path)
    rounds = planned_some_at_a_time(one.book, one.context, names, now=one.clock.at, processes=2)
    found = list(next(rounds))
    # Only now: they may have been long in beginning.
    monkeypatch.setattr(shared, "_SILENT_S", 3.0)
    frozen = multiprocessing.active_children()
    for child in frozen:
        os.kill(child.pid or 0, signal.SIGSTOP)
    for some in rounds:
        found += some
    assert {planned.job_id for planned in found} == set(names)
    assert frozen
    assert multiprocessing.active_children() == []
