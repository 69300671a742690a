"""How long a round of reminders takes, and when the first message leaves.

    python tests/bench/rounds.py [jobs] [--before TREE] [--linear] [--server]

The jobs are those of `examples/`, each under many names; every fiftieth has a stop in its log.
Processor time where a ratio is of work, wall time where two processes work at once. TREE is a
checkout of a commit to compare the first full round with, in one process each, alternately.
`--linear` plans 1,000 jobs and 10,000; `--server` starts a PostgreSQL and plans with one process
and with two. Figures to look at, no test.
"""

from __future__ import annotations

import argparse
import importlib
import os
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import UTC, datetime, timedelta
from pathlib import Path

from sqlalchemy import func, select, update

from curecal.book.connection.open_book import Book, book_url, open_book
from curecal.book.jobs.import_job import add_ready, append_entries
from curecal.book.jobs.validated_job import ready_job
from curecal.book.schema.tables import job, meta
from curecal.delivery.channels import Answer, Outcome
from curecal.reminders.messages.send_context import SendContext
from curecal.reminders.sending.scheduler_cycle import SchedulerCycle
from curecal.reminders.sending.send import Sender

ROOT = Path(__file__).resolve().parents[2]
EXAMPLES = ROOT / "examples"
ROUNDS = 3
NOW = datetime(2026, 12, 1, 8, tzinfo=UTC)
ROUND = timedelta(seconds=20)


def say(line: str) -> None:
    """Write a line at once."""
    sys.stdout.write(f"{line}\n")
    sys.stdout.flush()


def fill(book: Book, folder: Path, count: int) -> list[str]:
    """Put jobs into a book; return their ids."""
    texts = [path.read_text(encoding="utf-8") for path in sorted(EXAMPLES.glob("*/job.toml"))]
    names = [f"job-{number}" for number in range(count)]
    for number, name in enumerate(names):
        lines = texts[number % len(texts)].splitlines()
        named = [
            f'id = "{name}"' if line.startswith("id = ") and at < 20 else line
            for at, line in enumerate(lines)
        ]
        file = folder / "job.toml"
        file.write_text("\n".join(named), encoding="utf-8")
        added = add_ready(book, ready_job(file, now=NOW), now=NOW)
        if number % 50 == 0 and added.read.job is not None:
            halt = {"kind": "stopped", "cause": "crack or loose tile", "reason": "a crack"}
            zone = added.read.job.zones[0].id
            entry = {**halt, "at": NOW - timedelta(hours=1), "zone": zone, "by": "bench"}
            append_entries(book, name, [entry], source="bench", now=NOW)
    return names


class Noting:
    """A wire that takes everything, and notes how many jobs were planned by then."""

    server_date = None

    def __init__(self, book: Book) -> None:
        self.book = book
        self.planned_at: list[int] = []

    def send(self, address: str, data: bytes, *, deadline_s: float) -> Answer:
        """Take a message."""
        del address, data, deadline_s
        asked = select(func.count()).where(meta.c.key.like("replanned:%"))
        with self.book.reading() as connection:
            self.planned_at.append(int(connection.execute(asked).scalar_one()))
        return Answer(Outcome.TAKEN)


@contextmanager
def filled(count: int) -> Iterator[tuple[Book, list[str]]]:
    """Give a book with jobs in it."""
    with tempfile.TemporaryDirectory() as place:
        folder = Path(place)
        with open_book(book_url(str(folder / "book.db"), {}), create=True) as book:
            yield book, fill(book, folder, count)


class Desk:
    """What sends from a book, on a clock of its own."""

    def __init__(self, book: Book) -> None:
        self.at = NOW
        self.wire = Noting(book)
        self.sender = Sender(book, {"email": self.wire}, owner="bench", now=lambda: self.at)
        self.cycle = SchedulerCycle(
            book, SendContext(), self.sender, name="bench", now=lambda: self.at
        )

    def round_s(self, for_s: float = 0.0) -> float:
        """Return the processor time of a round [s]."""
        begun_s = time.process_time()
        self.cycle.run(for_s=for_s)
        return time.process_time() - begun_s


def rounds(count: int) -> None:
    """Print a full round, one with nothing new, and one in which some jobs changed."""
    with filled(count) as (book, names):
        desk = Desk(book)
        full_s = desk.round_s()
        say(f"full round: {full_s / count * 1000:.1f} ms of processor a job, {count} jobs")
        if desk.wire.planned_at:
            first = min(desk.wire.planned_at)
            say(f"the first message leaves when {first} jobs are planned (wanted below 100)")
        # What is on its way is planned again until it has arrived.
        while desk.cycle.run(for_s=600.0).replanned:
            desk.at += ROUND
        desk.at += ROUND
        still_s = desk.round_s()
        share = still_s / full_s
        say(f"nothing new: {still_s * 1000:.1f} ms, {share:.2%} of the full round (wanted below 2)")
        with book.writing() as connection:
            grown = update(job).where(job.c.id.in_(names[::100]))
            connection.execute(grown.values(generation=job.c.generation + 1))
        say(f"one in a hundred changed: {desk.round_s() / full_s:.2%} of the full round")
        desk.sender.close()


def linear() -> None:
    """Print what a job costs among 10,000 against among 1,000."""
    costs_s = []
    for count in (1_000, 10_000):
        with filled(count) as (book, _):
            costs_s.append(Desk(book).round_s() / count)
    ratio = costs_s[1] / costs_s[0]
    say(f"a job among 10,000 costs {ratio:.2f} times one among 1,000 (wanted at most 1.2)")


def first_round(count: int) -> None:
    """Print the processor time of a first full round a job [ms]."""
    with filled(count) as (book, _):
        desk = Desk(book)
        say(f"{desk.round_s() / count * 1000}")
        desk.sender.close()


def against(before: Path, count: int) -> None:
    """Print a first full round beside that of another tree, medians of several."""
    found: dict[Path, list[float]] = {before: [], ROOT: []}
    for _ in range(ROUNDS):
        for tree, took_ms in found.items():
            told = subprocess.run(
                [sys.executable, __file__, str(count), "--first"],
                env={**os.environ, "PYTHONPATH": str(tree)},
                cwd=tree,
                capture_output=True,
                text=True,
                check=True,
            )
            took_ms.append(float(told.stdout))
    then_ms, now_ms = (statistics.median(took_ms) for took_ms in found.values())
    say(
        f"first full round, {count} jobs: {then_ms:.1f} ms a job before, {now_ms:.1f} ms now, "
        f"{then_ms / now_ms:.1f} times (wanted 3)"
    )


def on_a_server(count: int) -> None:
    """Print how much sooner two processes are through than one, on a PostgreSQL."""
    sys.path.insert(0, str(Path(__file__).resolve().parents[1] / "book"))
    running = importlib.import_module("book_servers").running
    planned = importlib.import_module("curecal.reminders.replanning.planned_jobs")
    took_s = []
    with running("postgres") as server, tempfile.TemporaryDirectory() as place:
        for processes in (1, 2):
            name = server.new_database()
            with open_book(server.url(name), create=True) as book:
                names = fill(book, Path(place), count)
                begun_s = time.perf_counter()
                for _ in planned.planned_some_at_a_time(
                    book, SendContext(), names, now=NOW, processes=processes
                ):
                    pass
                took_s.append(time.perf_counter() - begun_s)
    ratio = took_s[0] / took_s[1]
    say(f"PostgreSQL, {count} jobs: two processes are {ratio:.2f} times as fast (wanted 1.6)")


def main() -> None:
    """Run what is asked for."""
    parser = argparse.ArgumentParser()
    parser.add_argument("jobs", type=int, nargs="?", default=100)
    parser.add_argument("--linear", action="store_true")
    parser.add_argument("--server", action="store_true")
    parser.add_argument("--before", type=Path)
    parser.add_argument("--first", action="store_true", help="only the first full round, in ms")
    asked = parser.parse_args()
    if asked.first:
        first_round(asked.jobs)
        return
    rounds(asked.jobs)
    if asked.before:
        against(asked.before.resolve(), asked.jobs)
    if asked.linear:
        linear()
    if asked.server:
        on_a_server(asked.jobs)


if __name__ == "__main__":
    main()
