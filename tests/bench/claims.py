"""How long finding 100 due messages takes among many that wait: a script, no timed test.

    python tests/bench/claims.py [WAITING …]

Prints seconds for claiming, for both databases where PostgreSQL is there, and for finding jobs
with due reminders. The goal: among 1,000,000 waiting at most three times as long as among 10,000;
`.ci/long` looks at those two.
"""

from __future__ import annotations

import shutil
import statistics
import sys
import tempfile
import time
from datetime import timedelta
from pathlib import Path

sys.path.append(str(Path(__file__).parents[1] / "book"))

from book_samples import JOB, MESSAGE, NOW, WANTED, put_job
from book_servers import running
from sqlalchemy import URL, insert, text, update

from curecal.book.connection.open_book import Book, book_url, open_book
from curecal.book.outbox.outbox import claim
from curecal.book.outbox.outbox_rows import OutboxMessage, Wanted
from curecal.book.outbox.reminders import jobs_due
from curecal.book.schema.tables import outbox, reminder

_DUE = 100
_ROUNDS = 7
_BATCH = 20_000


def fill(book: Book, waiting: int) -> None:
    """Many messages and reminders for later, and 100 that are due."""
    said = {name: getattr(MESSAGE, name) for name in OutboxMessage.__slots__}
    said["not_after"] = None
    wish = {name: getattr(WANTED, name) for name in Wanted.__slots__ if name not in {"id", "state"}}
    with book.writing() as connection:
        put_job(connection)
    numbers = range(waiting + _DUE)
    for start in range(0, len(numbers), _BATCH):
        rows, wishes = [], []
        for number in numbers[start : start + _BATCH]:
            # Those that are due came in among the others, not after them.
            due = number % (len(numbers) // _DUE) == 0 and number // (len(numbers) // _DUE) < _DUE
            at = NOW if due else NOW + timedelta(days=1, seconds=number)
            who = f"due{number}@example.org" if due else f"r{number % 5000}@example.org"
            key = {"generation": number, "recipient": who}
            rows.append({**said, **key, "message_id": f"<{number}@x>", "next_try_at": at})
            wishes.append({**wish, **key, "fire_at": at})
        with book.writing() as connection:
            connection.execute(insert(outbox), rows)
            connection.execute(insert(reminder), wishes)
    with book.engine.connect() as connection:
        connection.execution_options(isolation_level="AUTOCOMMIT").execute(text("ANALYZE"))


def measure(book: Book) -> tuple[float, float]:
    """Median seconds of a claim and of a look for jobs with due reminders."""
    claims, looks = [], []
    for _ in range(_ROUNDS):
        began = time.perf_counter()
        found = claim(book, limit=_DUE, owner="bench", lease_s=60, now=NOW).rows
        claims.append(time.perf_counter() - began)
        assert len(found) == _DUE, len(found)
        with book.writing() as connection:
            connection.execute(update(outbox).where(outbox.c.state == "leased").values(state="due"))
        began = time.perf_counter()
        with book.reading() as connection:
            assert jobs_due(connection, now=NOW) == (JOB,)
        looks.append(time.perf_counter() - began)
    return statistics.median(claims), statistics.median(looks)


def run(url: URL, name: str, waiting: int) -> None:
    with open_book(url) as book:
        fill(book, waiting)
        claimed_s, looked_s = measure(book)
    said = f"{name:10}  {waiting:>9,} waiting  claim {claimed_s:.4f} s  wanted {looked_s:.4f} s"
    sys.stdout.write(f"{said}\n")
    sys.stdout.flush()


def main() -> None:
    sizes = [int(each) for each in sys.argv[1:]] or [4_000, 40_000]
    with tempfile.TemporaryDirectory() as folder:
        for size in sizes:
            run(book_url(str(Path(folder) / f"{size}.sqlite3")), "SQLite", size)
    servers = sorted(Path("/usr/lib/postgresql").glob("*/bin/postgres"))
    postgres = shutil.which("postgres") or (str(servers[-1]) if servers else None)
    if postgres:
        with running(postgres) as server:
            for size in sizes:
                run(server.url(server.new_database()), "PostgreSQL", size)


if __name__ == "__main__":
    main()
