"""How long a list of many jobs takes: all planned, all kept, and one in a hundred changed.

    python tests/bench/jobs.py [jobs]

The jobs are those of `examples/`, each under many names; `.ci/long` lists 400. Figures to look at,
no test.
"""

from __future__ import annotations

import sys
import tempfile
import time
from datetime import UTC, datetime
from pathlib import Path

from sqlalchemy import update

from curecal.book.connection.open_book import book_url, open_book
from curecal.book.jobs.import_job import add_ready
from curecal.book.jobs.validated_job import ready_job
from curecal.book.schema.tables import job
from curecal.overview.kept_answers import answers_of

EXAMPLES = Path(__file__).resolve().parents[2] / "examples"
NOW = datetime(2026, 12, 1, 8, tzinfo=UTC)


def say(line: str) -> None:
    """Write a line at once."""
    sys.stdout.write(f"{line}\n")
    sys.stdout.flush()


def main(count: int) -> None:
    """Fill a book and list it three times."""
    texts = [path.read_text(encoding="utf-8") for path in sorted(EXAMPLES.glob("*/job.toml"))]
    with tempfile.TemporaryDirectory() as place:
        folder = Path(place)
        with open_book(book_url(str(folder / "book.db"), {}), create=True) as book:
            for number in range(count):
                lines = texts[number % len(texts)].splitlines()
                named = [
                    f'id = "job-{number}"' if line.startswith("id = ") and at < 20 else line
                    for at, line in enumerate(lines)
                ]
                file = folder / "job.toml"
                file.write_text("\n".join(named), encoding="utf-8")
                add_ready(book, ready_job(file, now=NOW), now=NOW)
            took: dict[str, float] = {}
            for what in ("planned", "kept", "one in a hundred changed"):
                if what.startswith("one"):
                    with book.writing() as connection:
                        changed = [f"job-{number}" for number in range(0, count, 100)]
                        grown = update(job).where(job.c.id.in_(changed))
                        connection.execute(grown.values(generation=job.c.generation + 1))
                begun_s = time.perf_counter()
                found = answers_of(book, now=NOW)
                took[what] = time.perf_counter() - begun_s
                kept = sum(answered.is_kept for answered in found)
                say(f"{what}: {took[what]:.2f} s for {len(found)} jobs, {kept} of them kept")
            say(f"planned / kept: {took['planned'] / took['kept']:.0f} times")


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 100)
