"""A thousand kills, half of them while a mail is on the wire: nothing lost, nothing twice unasked.

A hundred in the complete run, the thousand by `.ci/long`, over a file and over a real server. What
can be known of a mail whose sender died on the wire is told in `test_kills.py`.
"""

from __future__ import annotations

import subprocess
import sys
from collections import defaultdict
from datetime import timedelta
from pathlib import Path
from typing import TYPE_CHECKING

import pytest
from book.book_servers import running
from reminder_samples import DAY, FINISHED, HOUR, Clock, Post, job_text, url_of

from curecal.book.message_states import MessageState, ReminderState
from curecal.book.outbox.digests import lines_of
from curecal.book.outbox.reminders import wanted_of

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

    from book.book_servers import Server
    from mail_server import MailServer
    from sqlalchemy import URL

    from curecal.book.outbox.outbox_rows import OutboxRow

pytestmark = pytest.mark.slow

HERE = Path(__file__).parent
# Monday: what is told on working days only goes as well.
NOW = FINISHED + 3 * DAY + 6 * HOUR
JOBS, KILLS = 60, 100
# Of ten kills so many wait for a mail on the wire; some of the others find one there as well.
WAITING = 6
FOR_LONG = pytest.mark.long
ONE_HUNDRED_EACH = [
    pytest.param(database, seed, marks=[] if (database, seed) == ("file", 1) else FOR_LONG)
    for database in ("file", "server")
    for seed in range(1, 6)
]


@pytest.fixture(scope="module")
def postgres(needs: Callable[[str], str]) -> Iterator[Server]:
    """Give a real server of databases."""
    needs("psycopg")
    with running(needs("postgres")) as found:
        yield found


@pytest.fixture
def post(request: pytest.FixtureRequest, database: str, tmp_path: Path) -> Iterator[Post]:
    """Give a book of many jobs of which messages are due, and nothing sent yet."""
    url = url_of(tmp_path)
    if database == "server":
        server = request.getfixturevalue("postgres")
        url = server.url(server.new_database())
    found = Post(url, Clock(NOW - HOUR))
    for number in range(JOBS):
        people = "\n".join(
            f'[people.{role}]\nname = "{role} {number}"\nemail = "{role}{number}@a.example"'
            for role in ("crew_lead", "electrician", "owner")
        )
        found.add(job_text(f"job-{number}", people=people, name=f"Job {number}"), tmp_path)
    yield found
    found.close()


def place_of(url: URL) -> str:
    """Return a book's place as a command takes it."""
    file = url.database if url.get_backend_name() == "sqlite" else None
    return file or url.render_as_string(hide_password=False)


def killed(url: URL, server: MailServer, seed: int) -> int:
    """Kill a hundred senders; return at how many the server had an unanswered mail."""
    counts = [str(KILLS), str(seed), str(WAITING), str(server.unanswered)]
    driver = [sys.executable, str(HERE / "kill_driver.py"), *counts]
    tail = [place_of(url), str(server.port), NOW.isoformat(), "--ticks", "1000", "--step", "1"]
    # Two mails at a time: of eight each kill would hit most that there are.
    done = subprocess.run(
        [*driver, *tail, "--across", "2"],
        cwd=HERE,
        check=True,
        timeout=1500,
        stdout=subprocess.PIPE,
        text=True,
    )
    return int(done.stdout)


def finish(url: URL, server: MailServer) -> None:
    """Let a fresh sender bring everything out, each lease of those before over."""
    command = [sys.executable, str(HERE / "sender_process.py"), place_of(url), str(server.port)]
    later = (NOW + timedelta(minutes=4)).isoformat()
    tail = [later, "--lease-ahead", "1000000", "--ticks", "5", "--step", "40"]
    subprocess.run([*command, *tail], cwd=HERE, check=True, timeout=300)


def lines_in(post: Post, row: OutboxRow) -> set[str]:
    """Return the lines of a message, by their numbers; none for a message that has no lines."""
    with post.book.reading() as connection:
        return {str(line.id) for line in lines_of(connection, row.id)}


def notices(post: Post) -> list[dict[str, str]]:
    """Return what crew leads were told about messages."""
    with post.book.reading() as connection:
        return [
            dict(reminder.payload["notice"])
            for number in range(JOBS)
            for reminder in wanted_of(connection, f"job-{number}", states=tuple(ReminderState))
            if "notice" in reminder.payload
        ]


@pytest.mark.parametrize(("database", "seed"), ONE_HUNDRED_EACH)
def test_a_hundred_kills_lose_none(post: Post, seed: int, mail_server: MailServer) -> None:
    hit = killed(post.book.url, mail_server, seed)
    mail_server.behave("")
    for _ in range(3):
        finish(post.book.url, mail_server)
    rows, counts = post.messages(), mail_server.counts()
    states = defaultdict(list)
    for row in rows:
        states[row.state].append(row)
    assert hit >= KILLS / 2
    assert set(states) <= {MessageState.SENT, MessageState.DEAD}
    assert len(states[MessageState.SENT]) >= JOBS
    assert [row for row in states[MessageState.SENT] if row.message_id not in counts] == []
    # Every mail that came was one of the book's, and none came a third time.
    assert set(counts) <= {row.message_id for row in rows}
    assert max(counts.values()) <= 2
    octets = defaultdict(set)
    for mail in mail_server.taken():
        octets[mail["id"]].add(mail["data"])
    assert {len(found) for found in octets.values()} == {1}
    # Twice killed on the wire, a mail is given up: somebody is told to ask, or it is their own.
    told = {notice["of"] for notice in notices(post)}
    lines = {line for of in told for line in of.removeprefix("Lines ").split(", ")}
    given_up = states[MessageState.DEAD]
    assert len(given_up) < len(states[MessageState.SENT])
    for row in given_up:
        # A message of several lines is named by them.
        of = lines_in(post, row)
        known = of <= lines if of else f"OutboxRow {row.id}" in told
        assert known or row.recipient.startswith("crew_lead")
    doubled = [message_id for message_id, count in counts.items() if count > 1]
    print(  # noqa: T201 - shown by .ci/long
        f"{KILLS} kills, {hit} of them with a mail on the wire: "
        f"{len(states[MessageState.SENT])} sent, {len(given_up)} given up and told, "
        f"{len(doubled)} twice, none lost"
    )
