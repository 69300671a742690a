"""Messages per second, beside a scheduler with a store of its own; and finding what is due.

    python tests/bench/reminders.py [rows] [pending]

Ours: claimed, stored as sending, handed to a channel that does nothing, stored as sent, in a file
with synchronous FULL, to 200 recipients: with as many on the wire at once as there are recipients,
and with as many as `curecal` puts there. What leaves together is stored together, each message as
sending before it is on its wire. Beside it APScheduler's SQLAlchemyJobStore in a file of the same
settings, running as many due jobs that do nothing. Then: finding 100 due messages among
10,000 and among 100,000 that are not. `.ci/long` sends 20,000 and looks among a million. Figures
to look at, no test.
"""

from __future__ import annotations

import logging
import pickle
import sys
import tempfile
import threading
import time
from datetime import UTC, datetime, timedelta
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[1] / "reminders"))

from apscheduler.executors.pool import ThreadPoolExecutor
from apscheduler.jobstores.sqlalchemy import SQLAlchemyJobStore
from apscheduler.schedulers.background import BackgroundScheduler
from reminder_samples import Clock, Post, job_text, url_of
from sqlalchemy import event, insert, text

from curecal.book.message_states import MessageState
from curecal.book.outbox.outbox import claim
from curecal.book.schema.tables import outbox
from curecal.delivery.channels import Answer, Outcome
from curecal.reminders.replanning.planned_jobs import replan_job
from curecal.reminders.sending.send import ACROSS

NOW = datetime(2026, 11, 9, 16, tzinfo=UTC)
RECIPIENTS = 200


def say(line: str) -> None:
    """Write a line at once."""
    sys.stdout.write(f"{line}\n")
    sys.stdout.flush()


class Nothing:
    """A channel that does nothing."""

    def send(self, address: str, data: bytes, *, deadline_s: float) -> Answer:
        del address, data, deadline_s
        return Answer(Outcome.TAKEN)


def fill(post: Post, count: int, *, due_at: datetime, first: int = 0) -> None:
    """Put messages into the outbox, all at once."""
    rows = [
        {
            "job_id": "elm-road",
            "zone_id": "",
            "kind": "undelivered",
            "channel": "text",
            "recipient": f"+{number % RECIPIENTS}" if due_at <= NOW else f"+x{number}",
            "generation": number,
            "message_id": f"<{number}@bench>",
            "body": b"text",
            "order_key": 10,
            "created_at": NOW,
            "next_try_at": due_at,
        }
        for number in range(first, first + count)
    ]
    with post.book.writing() as connection:
        for start in range(0, count, 10_000):
            connection.execute(insert(outbox), rows[start : start + 10_000])


def ours(folder: Path, count: int, across: int) -> float:
    """Return how long our sender takes with so many on the wire at once [s]."""
    clock = Clock(NOW)
    post = Post(url_of(folder), clock, wires={"text": Nothing()})
    post.add(job_text(people=""), folder)
    replan_job(post.book, post.context, "elm-road", now=NOW)
    fill(post, count, due_at=NOW)
    post.sender.across = across
    begun_s = time.perf_counter()
    done = 0
    while done < count:
        post.sender.begin(limit=RECIPIENTS)
        done += post.sender.finish(wait_s=5.0).taken
    taken_s = time.perf_counter() - begun_s
    with post.book.reading() as connection:
        left = connection.execute(text("SELECT count(*) FROM outbox WHERE state <> 'sent'"))
        assert left.scalar_one() == 0
    post.close()
    return taken_s


_ran = 0
_lock = threading.Lock()


def nothing() -> None:
    """The job of the other scheduler."""
    global _ran  # noqa: PLW0603 - its jobs are named functions and know nothing else
    with _lock:
        _ran += 1


def theirs(folder: Path, count: int) -> float:
    """Return how long APScheduler takes for as many due jobs [s]."""
    logging.getLogger("apscheduler").setLevel(logging.CRITICAL)
    store = SQLAlchemyJobStore(url=f"sqlite:///{folder / 'jobs.sqlite3'}")

    @event.listens_for(store.engine, "connect")
    def _set_up(connection: object, _record: object) -> None:
        cursor = connection.cursor()  # type: ignore[attr-defined]
        cursor.execute("PRAGMA journal_mode = WAL")
        cursor.execute("PRAGMA synchronous = FULL")
        cursor.close()

    scheduler = BackgroundScheduler(
        jobstores={"default": store},
        executors={"default": ThreadPoolExecutor(20)},
        job_defaults={"misfire_grace_time": None, "coalesce": True},
        timezone=UTC,
    )
    scheduler.start(paused=True)
    at = datetime.now(UTC) - timedelta(seconds=1)
    with store.engine.begin() as connection:
        scheduler.add_job(nothing, "date", run_date=at, id="first")
        row = connection.execute(text("SELECT * FROM apscheduler_jobs")).mappings().one()
        job = store.lookup_job("first")
    rows = []
    for number in range(count - 1):
        job.id = f"job-{number}"
        rows.append({**row, "id": job.id, "job_state": pickle.dumps(job.__getstate__(), 4)})
    with store.engine.begin() as connection:
        connection.execute(store.jobs_t.insert(), rows)
    begun_s = time.perf_counter()
    scheduler.resume()
    while _ran < count:
        time.sleep(0.01)
    taken_s = time.perf_counter() - begun_s
    scheduler.shutdown()
    return taken_s


def finding(folder: Path, pending: int) -> float:
    """Return the median time to claim 100 due messages among so many that are not [s]."""
    clock = Clock(NOW)
    post = Post(url_of(folder), clock)
    post.add(job_text(people=""), folder)
    replan_job(post.book, post.context, "elm-road", now=NOW)
    fill(post, pending, due_at=NOW + timedelta(days=30))
    times = []
    for turn in range(7):
        fill(post, 100, due_at=NOW, first=pending + turn * RECIPIENTS)
        begun_s = time.perf_counter()
        rows = claim(post.book, limit=100, owner="bench", lease_s=60.0, now=NOW).rows
        times.append(time.perf_counter() - begun_s)
        assert len(rows) == 100, len(rows)
        with post.book.writing() as connection:
            connection.exec_driver_sql(
                f"UPDATE outbox SET state = '{MessageState.DEAD.value}' WHERE state = 'leased'"  # noqa: S608
            )
    post.close()
    return sorted(times)[len(times) // 2]


def main() -> None:
    count = int(sys.argv[1]) if len(sys.argv) > 1 else 4_000
    most = int(sys.argv[2]) if len(sys.argv) > 2 else 100_000
    with tempfile.TemporaryDirectory() as folder:
        other_s = theirs(Path(folder), count)
    say(f"apscheduler: {count} jobs in {other_s:.1f} s, {count / other_s:.0f} a second")
    for across, wanted in ((RECIPIENTS, ", wanted 3"), (ACROSS, "")):
        with tempfile.TemporaryDirectory() as folder:
            mine_s = ours(Path(folder), count, across)
        say(
            f"ours, {across} at once: {count} messages in {mine_s:.1f} s, "
            f"{count / mine_s:.0f} a second, {other_s / mine_s:.1f} times as many{wanted}"
        )
    found = []
    for pending in (10_000, most):
        with tempfile.TemporaryDirectory() as folder:
            found.append(finding(Path(folder), pending))
        say(f"finding 100 due among {pending} pending: {found[-1] * 1e3:.1f} ms")
    say(f"ratio {found[1] / found[0]:.2f}")


if __name__ == "__main__":
    main()
