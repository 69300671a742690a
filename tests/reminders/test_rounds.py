"""A round over many jobs: what leaves while it goes on, who plans which job, and how it ends."""

from __future__ import annotations

import multiprocessing
import os
import pickle
import signal
import subprocess
import sys
import time
from collections import Counter
from dataclasses import dataclass, field
from threading import Barrier, Thread
from typing import TYPE_CHECKING

import pytest
from book.book_servers import running
from reminder_samples import HOUR, Caught, Clock, Post, closed, evening, job_text, url_of
from sqlalchemy import select, update

from curecal.book.meta import beats, value_of
from curecal.book.outbox.outbox_rows import DIGEST
from curecal.book.outbox.reminders import wanted_of
from curecal.book.schema.tables import content, job
from curecal.delivery.channels import Answer
from curecal.errors import BookError, JobRefused
from curecal.reminders.replanning import planned_jobs
from curecal.reminders.replanning.planned_jobs import (
    PlanningResult,
    plan_jobs,
    planned_some_at_a_time,
)
from curecal.reminders.replanning.replan_notes import moved_jobs, replan_key
from curecal.reminders.replanning.round_order import round_order
from curecal.reminders.sending import scheduler_cycle

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator
    from pathlib import Path

    from book.book_servers import Server
    from sqlalchemy import URL


@pytest.fixture(scope="module")
def server(needs: Callable[[str], str]) -> Iterator[Server]:
    needs("psycopg")
    with running(needs("postgres")) as found:
        yield found


@pytest.fixture(params=["file", "server"])
def url(request: pytest.FixtureRequest, tmp_path: Path) -> Iterator[URL]:
    """Give the place of a book: a file, then a database of a real server."""
    if request.param == "file":
        yield url_of(tmp_path)
        return
    found = request.getfixturevalue("server")
    name = found.new_database()
    yield found.url(name)
    found.drop(name)


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


def test_a_stop_leaves_before_the_hundredth_job_is_planned(tmp_path: Path) -> None:
    wire = Counting()
    post = Post(url_of(tmp_path), Clock(evening()), wires={"email": wire})
    wire.planned = lambda: planned_count(post)
    for name in names(110):
        post.add(job_text(name, name=f"Road {name[-3:]}"), tmp_path)
    at = post.clock.at - HOUR
    post.note({**HALT, "at": at}, job_id=names(110)[3])
    with post.book.writing() as connection:
        # A fact that no plan knows yet: the job was planned before it came.
        connection.execute(update(job).where(job.c.id == "road-003").values(generation=9))
    post.cycle.run()
    assert planned_count(post) == 110
    by_kind = Counter(message.kind for message in post.messages())
    assert by_kind["stopped"] > 0
    assert by_kind[DIGEST] > 0
    assert min(wire.at) < 100
    # A line of the last job goes with the others to its reader.
    assert max(wire.at) == 110
    digests = [row.recipient for row in post.messages(DIGEST)]
    assert max(Counter(digests).values()) == 1
    post.close()


def test_what_somebody_told_comes_first_then_what_is_due(tmp_path: Path) -> None:
    post = filled(url_of(tmp_path), tmp_path, 4)
    post.cycle.run()
    post.clock.go(24 * HOUR)
    with post.book.writing() as connection:
        connection.execute(update(job).where(job.c.id == "road-002").values(generation=7))
    with post.book.reading() as connection:
        moved = moved_jobs(connection, post.context, now=post.clock.at)
        order = round_order(connection, post.context, now=post.clock.at, name="desk")
    assert moved.by_fact == ("road-002",)
    assert set(moved.by_time) == {"road-000", "road-001", "road-003"}
    assert order.first == ()
    assert order.rest[0] == "road-002"
    assert sorted(order.rest) == names(4)
    post.close()


def test_processes_begin_at_different_places(tmp_path: Path) -> None:
    post = filled(url_of(tmp_path), tmp_path, 5)
    with post.book.reading() as connection:
        orders = {
            round_order(connection, post.context, now=post.clock.at, name=f"desk-{number}").rest
            for number in range(20)
        }
    assert len(orders) > 1
    assert {tuple(sorted(order)) for order in orders} == {tuple(names(5))}
    post.close()


def test_a_job_of_which_a_message_waits_is_planned_before_anything_leaves(tmp_path: Path) -> None:
    post = filled(url_of(tmp_path), tmp_path, 3)
    post.cycle.run(for_s=0.0)
    waiting = {row.job_id for row in post.messages()}
    assert waiting
    post.clock.go(24 * HOUR)
    with post.book.reading() as connection:
        order = round_order(connection, post.context, now=post.clock.at, name="desk")
    assert waiting <= set(order.first)
    assert sorted(order.first + order.rest) == names(3)
    post.close()


def test_a_round_that_is_broken_off_goes_on_where_it_was(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(planned_jobs, "AT_ONCE", 2)
    post = filled(url_of(tmp_path), tmp_path, 5)
    done = post.cycle.run(stopping=lambda: True)
    assert (done.replanned, planned_count(post)) == (2, 2)
    # Nothing of several lines leaves before the round is over.
    assert post.messages(DIGEST) == []
    # Those planned by then have lines that wait: their words are made anew.
    done = post.cycle.run()
    assert (done.replanned, planned_count(post)) == (5, 5)
    assert len(post.messages(DIGEST)) == len({row.recipient for row in post.messages(DIGEST)}) > 0
    post.close()


def test_a_stop_told_while_a_round_goes_on_does_not_wait_for_its_end(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(planned_jobs, "AT_ONCE", 1)
    monkeypatch.setattr(scheduler_cycle, "_LOOKS_AT_LEAST_S", 0.0)
    wire = Counting()
    post = Post(url_of(tmp_path), Clock(evening()), wires={"email": wire})
    wire.planned = lambda: planned_count(post)
    post.add(job_text("elm-road"), tmp_path)
    post.cycle.run()
    wire.at.clear()
    for name in names(8):
        post.add(job_text(name, name=f"Road {name[-3:]}"), tmp_path)
    asked = []

    def told() -> bool:
        asked.append(True)
        if len(asked) == 3:
            post.note({**HALT, "at": post.clock.at - HOUR}, job_id="elm-road")
        return len(asked) >= 3

    post.cycle.run(told=told)
    assert {row.job_id for row in post.messages("stopped")} == {"elm-road"}
    assert min(wire.at) < 9
    post.close()


def test_a_long_round_leaves_signs_of_life(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(planned_jobs, "AT_ONCE", 1)
    monkeypatch.setattr(scheduler_cycle, "_LIVES_EVERY_S", 0.0)
    post = filled(url_of(tmp_path), tmp_path, 3)
    lived = []
    post.cycle.lives = lambda: lived.append(planned_count(post))
    post.cycle.run()
    assert lived[:3] == [1, 2, 3]
    with post.book.reading() as connection:
        assert [beat.name for beat in beats(connection)] == ["desk"]
    post.close()


def test_two_machines_plan_each_job_once(url: URL, tmp_path: Path) -> None:
    count = 12
    first = filled(url, tmp_path, count)
    second = Post(url, Clock(evening()), name="other")
    start = Barrier(2)
    found: list[PlanningResult] = []

    def plan(post: Post) -> None:
        with post.book.reading() as connection:
            order = round_order(connection, post.context, now=post.clock.at, name=post.cycle.name)
        start.wait()
        found.extend(plan_jobs(post.book, post.context, order.rest, now=post.clock.at))

    threads = [Thread(target=plan, args=(post,)) for post in (first, second)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    by_job = Counter(planned.job_id for planned in found if planned.is_planned)
    assert by_job == dict.fromkeys(names(count), 1)
    assert [planned.trouble for planned in found if planned.trouble] == []
    closed(first, second)


def rows_of(post: Post) -> list[tuple[object, ...]]:
    """Return what is wanted of every job, without the ids that the book gives."""
    with post.book.reading() as connection:
        return sorted(
            (row.job_id, row.kind, row.zone_id, row.recipient, row.generation, str(row.fire_at))
            for name in post_jobs(post)
            for row in wanted_of(connection, name)
        )


@pytest.mark.slow
def test_several_processes_plan_what_one_plans(
    url: URL, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(planned_jobs, "_MANY_JOBS", 30)
    several = filled(url, tmp_path, 60)
    other = tmp_path / "whole"
    other.mkdir()
    one = filled(url_of(other), other, 60)
    several.cycle.processes = 2
    alone, shared = one.cycle.run(), several.cycle.run()
    assert (shared.replanned, shared.fired) == (alone.replanned, alone.fired) == (60, alone.fired)
    assert rows_of(several) == rows_of(one)
    assert [row.message_id for row in several.messages()] != []
    assert Counter(row.recipient for row in several.messages()) == Counter(
        row.recipient for row in one.messages()
    )
    assert multiprocessing.active_children() == []
    closed(one, several)


@pytest.mark.slow
def test_a_damaged_job_is_set_aside_wherever_it_was_planned(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(planned_jobs, "_MANY_JOBS", 2)
    post = filled(url_of(tmp_path), tmp_path, 4)
    with post.book.writing() as connection:
        connection.exec_driver_sql("DROP TRIGGER content_no_update")
        spoiled = b"road-002"
        rows = connection.execute(select(content)).all()
        (name,) = [row.sha256 for row in rows if b'id = "road-002"' in row.data]
        connection.execute(update(content).where(content.c.sha256 == name).values(data=spoiled))
    post.cycle.processes = 2
    done = post.cycle.run()
    assert done.replanned == 3
    assert list(done.troubles) == ["road-002"]
    with post.book.reading() as connection:
        holds = dict(connection.execute(select(job.c.id, job.c.hold)).all())
    assert holds == {**dict.fromkeys(names(4), ""), "road-002": "damaged"}
    post.close()


@pytest.mark.slow
def test_what_a_killed_process_left_is_planned_by_the_one_that_sends(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(planned_jobs, "_MANY_JOBS", 2)
    monkeypatch.setattr(planned_jobs, "AT_ONCE", 2)
    shared = pytest.importorskip("curecal.reminders.replanning.planning_processes")
    monkeypatch.setattr(shared, "AT_ONCE", 2)
    post = filled(url_of(tmp_path), tmp_path, 30)
    rounds = planned_some_at_a_time(
        post.book, post.context, names(30), now=post.clock.at, processes=2
    )
    found = list(next(rounds))
    for child in multiprocessing.active_children():
        os.kill(child.pid or 0, signal.SIGKILL)
    for some in rounds:
        found += some
    assert {planned.job_id for planned in found} == set(names(30))
    assert planned_count(post) == 30
    assert multiprocessing.active_children() == []
    post.close()


_ORPHANS = """
import sys, time
from datetime import datetime, UTC
from curecal.book.connection.open_book import book_url, open_book
from curecal.reminders.messages.send_context import SendContext
from curecal.reminders.replanning.planning_processes import PlanningProcesses
if __name__ == "__main__":
    with open_book(book_url(sys.argv[1])) as book:
        with PlanningProcesses(book, SendContext(), 2) as processes:
            rounds = processes.plan(sys.argv[2:], now=datetime(2026, 11, 9, 22, 30, tzinfo=UTC))
            next(rounds)
            import multiprocessing
            print(*[child.pid for child in multiprocessing.active_children()], flush=True)
            time.sleep(60)
"""


@pytest.mark.slow
def test_no_process_outlives_the_one_that_began_it(tmp_path: Path) -> None:
    post = filled(url_of(tmp_path), tmp_path, 2)
    post.close()
    script = tmp_path / "begins.py"
    script.write_text(_ORPHANS, encoding="utf-8")
    command = [sys.executable, str(script), str(tmp_path / "book.sqlite3"), *names(2)]
    with subprocess.Popen(command, stdout=subprocess.PIPE, text=True) as process:
        assert process.stdout is not None
        pids = [int(word) for word in process.stdout.readline().split()]
        assert pids
        process.kill()
    end_s = time.monotonic() + 10.0
    while any(_runs(pid) for pid in pids) and time.monotonic() < end_s:
        time.sleep(0.05)
    assert [pid for pid in pids if _runs(pid)] == []


def _runs(pid: int) -> bool:
    try:
        os.kill(pid, 0)
    except ProcessLookupError:
        return False
    return True


@pytest.mark.parametrize(
    "error",
    [BookError("book-content-damaged", sha256="a" * 64), JobRefused("job-refused", names={"a": 1})],
)
def test_an_error_is_the_same_in_another_process(error: BookError | JobRefused) -> None:
    again = pickle.loads(pickle.dumps(error))  # noqa: S301 - our own
    assert type(again) is type(error)
    assert (again.code, again.params, str(again)) == (error.code, error.params, str(error))


def test_a_stop_overtakes_a_round_in_which_nothing_else_may_leave_yet(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(planned_jobs, "AT_ONCE", 1)
    monkeypatch.setattr(scheduler_cycle, "_LOOKS_AT_LEAST_S", 0.0)
    wire = Counting()
    post = filled(url_of(tmp_path), tmp_path, 6, wire)
    post.cycle.run(for_s=0.0)
    # Every job has a message that waits: its server was away.
    assert wire.at == []
    post.clock.go(24 * HOUR)
    asked = []

    def told() -> bool:
        asked.append(True)
        if len(asked) == 2:
            post.note({**HALT, "at": post.clock.at - HOUR}, job_id="road-005")
        wire.planned = lambda: len(asked)
        return len(asked) >= 2

    post.cycle.run(told=told)
    assert post.messages("stopped")
    # It left while the others were planned: told() is asked once for each of them.
    assert min(wire.at) < 6
    post.close()
