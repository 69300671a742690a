"""Two senders on one book, one of them frozen past its leases: nothing lost, nothing doubled.

In a file the leases run on the machine's clock, on a server on the server's own.
"""

from __future__ import annotations

import signal
import subprocess
import sys
from collections import Counter
from pathlib import Path
from threading import Barrier, Thread
from typing import TYPE_CHECKING

from mail_server import MailServer, wait_for
from reminder_samples import HOUR, Clock, Post, closed, job_text, plain, put_rows
from sqlalchemy import text
from test_kills import NOW

from curecal.book.connection.open_book import open_book
from curecal.book.message_states import MessageState
from curecal.book.outbox.outbox_rows import DIGEST
from curecal.errors import BookError

if TYPE_CHECKING:
    from sqlalchemy import URL

HERE = Path(__file__).parent
ROWS = 500
LEASE_S = 3.0
# How many sessions of a server's database stand in a transaction in which nothing goes on.
_STAND_STILL = text(
    "SELECT count(*) FROM pg_stat_activity WHERE datname = current_database()"
    " AND state LIKE 'idle in transaction%'"
    " AND state_change < clock_timestamp() - interval '0.4 s'"
)


def sender(url: URL, mail: MailServer, *more: str) -> subprocess.Popen[bytes]:
    """Start a sender that ticks until killed."""
    place = url.database if url.get_backend_name() == "sqlite" else None
    book = place or url.render_as_string(hide_password=False)
    command = [sys.executable, str(HERE / "sender_process.py"), book, str(mail.port)]
    tail = [NOW.isoformat(), "--lease", str(LEASE_S), "--forever", "--step", "1", *more]
    return subprocess.Popen([*command, *tail], cwd=HERE)


def frozen(process: subprocess.Popen[bytes], url: URL) -> bool:
    """Freeze a process, but not inside a transaction: a file has one writer, frozen or not."""
    process.send_signal(signal.SIGSTOP)
    try:
        with open_book(url, busy_s=0.3) as book, book.writing() as connection:
            is_between = True
            if not book.is_file:
                connection.execute(text("SELECT pg_sleep(0.5)"))
                is_between = connection.execute(_STAND_STILL).scalar_one() == 0
    except BookError:
        is_between = False
    if not is_between:
        process.send_signal(signal.SIGCONT)
    return is_between


def test_two_senders_and_one_of_them_frozen(
    url: URL, tmp_path: Path, mail_server: MailServer
) -> None:
    post = Post(url, Clock(NOW))
    post.add(job_text(people=""), tmp_path)
    ids = put_rows(post.book, ROWS, NOW)
    first, second = sender(url, mail_server), sender(url, mail_server)
    try:
        wait_for(lambda: len(mail_server.counts()) > 20, what="the first mails")
        # Frozen with mails taken up and on the wire, and continued once its leases are over.
        wait_for(lambda: frozen(first, url), what="a freeze between two transactions")
        wait_for(lambda: len(mail_server.counts()) > ROWS - 60, within_s=240, what="most mails")
        wait_for(
            lambda: not post.messages() or all_done(post, besides=60), within_s=240, what="the rest"
        )
        first.send_signal(signal.SIGCONT)
        wait_for(lambda: all_done(post), within_s=240, what="every mail marked")
    finally:
        for process in (first, second):
            process.kill()
            process.wait()
    counts = mail_server.counts()
    assert set(counts) == ids
    assert max(counts.values()) <= 2
    # Only what the frozen one had on the wire can have come twice.
    assert len([each for each in counts.values() if each > 1]) <= 8
    assert {row.state for row in post.messages()} <= {MessageState.SENT, MessageState.DEAD}
    post.close()


def all_done(post: Post, *, besides: int = 0) -> bool:
    rows = post.messages()
    done = [row for row in rows if row.state in {MessageState.SENT, MessageState.DEAD}]
    return len(rows) - len(done) <= besides


JOBS = ("Ash Lane", "Birch Lane", "Cedar Lane", "Dune Lane")


def with_jobs(url: URL, folder: Path, *names: str) -> list[Post]:
    """Return senders on one book of several jobs that have the same people; nothing is sent yet."""
    posts = [Post(url, Clock(NOW - HOUR), name=name) for name in names]
    for count, name in enumerate(JOBS):
        posts[0].add(job_text(f"job-{count}", name=name), folder)
    for post in posts:
        post.clock.go(HOUR)
    return posts


def says_all(posts: list[Post]) -> None:
    """Assert that each person got one message, and that it names every job."""
    sent = [(to, plain(data)) for post in posts for to, data in post.mail.sent]
    people = ("ida@home.example", "robin@crew.example", "sam@sparks.example")
    assert Counter(to for to, _ in sent) == Counter(people)
    for _, said in sent:
        assert [name for name in JOBS if name in said] == list(JOBS)
    rows = posts[0].messages()
    assert [(row.kind, row.state) for row in rows] == [(DIGEST, MessageState.SENT)] * 3


def test_one_message_a_person_over_all_jobs(url: URL, tmp_path: Path) -> None:
    posts = with_jobs(url, tmp_path, "one")
    for _ in range(3):
        posts[0].cycle.run(for_s=30.0)
        posts[0].sender.drain(until_s=30.0)
    says_all(posts)
    closed(*posts)


def test_one_message_a_person_with_two_senders_at_once(url: URL, tmp_path: Path) -> None:
    posts = with_jobs(url, tmp_path, "one", "two")
    together = Barrier(len(posts))
    failed: list[BaseException] = []

    def go(post: Post) -> None:
        try:
            for _ in range(3):
                together.wait(60.0)
                post.cycle.run(for_s=30.0)
                post.sender.drain(until_s=30.0)
        except BaseException as error:
            failed.append(error)
            together.abort()
            raise

    threads = [Thread(target=go, args=(post,)) for post in posts]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert not failed
    says_all(posts)
    closed(*posts)
