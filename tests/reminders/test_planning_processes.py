"""A round shared by processes of one machine: what one plans, a damaged job, processes that end."""

from __future__ import annotations

import multiprocessing
import os
import pickle
import signal
import subprocess
import sys
import time
from collections import Counter
from typing import TYPE_CHECKING

import pytest
from reminder_samples import closed, url_of
from round_samples import filled, names, planned_count, rows_of
from sqlalchemy import select, update

from curecal import machine
from curecal.book.connection.open_book import open_book
from curecal.book.schema.tables import content, job
from curecal.cli.remind.start import cycle_maker
from curecal.errors import BookError, JobRefused
from curecal.reminders.replanning import planned_jobs
from curecal.reminders.replanning.planned_jobs import planned_some_at_a_time

if TYPE_CHECKING:
    from pathlib import Path

    from sqlalchemy import URL


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
    end_s = time.monotonic() + 60.0
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


@pytest.mark.parametrize(("cores", "processes"), [(1, 1), (3, 3), (16, 4)])
def test_the_command_plans_with_a_process_for_each_core_and_with_four_at_most(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, cores: int, processes: int
) -> None:
    monkeypatch.setattr(machine, "core_count", lambda: cores)
    with open_book(url_of(tmp_path)) as book:
        cycle = cycle_maker(None, "console", name="desk")(book)
        assert cycle.processes == processes
        cycle.sender.close()
