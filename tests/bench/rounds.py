"""How long a round of reminders takes: all jobs new, nothing moved, and one in a hundred changed.

    python tests/bench/rounds.py [jobs]

The jobs are those of `examples/`, each under many names; `.ci/long` plans 500. Beside it a
round that plans every job, as if nothing were kept of the one before. Figures to look at, no test.
"""

from __future__ import annotations

import sys
import tempfile
import time
from datetime import UTC, datetime, timedelta
from pathlib import Path

from sqlalchemy import update

from curecal.book.connection.open_book import Book, book_url, open_book
from curecal.book.jobs.import_job import add_ready
from curecal.book.jobs.validated_job import ready_job
from curecal.book.schema.tables import job
from curecal.reminders.messages.send_context import SendContext
from curecal.reminders.sending.plan_all import plan_all
from curecal.reminders.sending.scheduler_cycle import replan_job

EXAMPLES = Path(__file__).resolve().parents[2] / "examples"
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
        add_ready(book, ready_job(file, now=NOW), now=NOW)
    return names


def main(count: int) -> None:
    """Fill a book and plan its rounds."""
    with tempfile.TemporaryDirectory() as place:
        folder = Path(place)
        with open_book(book_url(str(folder / "book.db"), {}), create=True) as book:
            names = fill(book, folder, count)
            context = SendContext()

            def round_s(at: datetime) -> float:
                begun_s = time.perf_counter()
                plan_all(book, context, now=at)
                return time.perf_counter() - begun_s

            say(f"all new: {round_s(NOW):.2f} s for {count} jobs")
            still_s = round_s(NOW + ROUND)
            say(f"nothing moved: {still_s:.3f} s")
            with book.writing() as connection:
                grown = update(job).where(job.c.id.in_(names[::100]))
                connection.execute(grown.values(generation=job.c.generation + 1))
            say(f"one in a hundred changed: {round_s(NOW + 2 * ROUND):.2f} s")
            begun_s = time.perf_counter()
            for name in names:
                replan_job(book, context, name, now=NOW + 3 * ROUND)
            anew_s = time.perf_counter() - begun_s
            say(f"each job planned anew: {anew_s:.2f} s")
            say(f"planned anew / nothing moved: {anew_s / still_s:.0f} times")


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 100)
