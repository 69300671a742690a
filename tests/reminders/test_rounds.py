"""A round over many jobs: what leaves while it goes on, who plans which job, and how it ends."""

from __future__ import annotations

from collections import Counter
from threading import Barrier, Thread
from typing import TYPE_CHECKING

from reminder_samples import HOUR, Clock, Post, closed, evening, job_text, url_of
from round_samples import HALT, Counting, filled, names, planned_count
from sqlalchemy import update

from curecal.book.meta import beats
from curecal.book.outbox.outbox_rows import DIGEST
from curecal.book.schema.tables import job
from curecal.reminders.replanning import planned_jobs
from curecal.reminders.replanning.planned_jobs import (
    PlanningResult,
    plan_jobs,
)
from curecal.reminders.replanning.replan_notes import moved_jobs
from curecal.reminders.replanning.round_order import round_order
from curecal.reminders.sending import scheduler_cycle

if TYPE_CHECKING:
    from pathlib import Path

    import pytest
    from sqlalchemy import URL


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
