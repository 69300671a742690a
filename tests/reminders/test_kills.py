"""Senders killed at every point: no message lost, and none twice but in the one known interval.

Counted at a real mail server by Message-ID. Between the moment a mail is on its way and the moment
`sent` is stored nobody can know whether it arrived: there, and only there, it comes once more,
with the same octets.
"""

from __future__ import annotations

import signal
import subprocess
import sys
from collections import defaultdict
from datetime import timedelta
from pathlib import Path
from typing import TYPE_CHECKING

import pytest
from mail_server import MailServer, started, wait_for
from reminder_samples import FINISHED, HOUR, Clock, Post, job_text, url_of

from curecal.book.message_states import MessageState

if TYPE_CHECKING:
    from collections.abc import Callable

HERE = Path(__file__).parent
# Monday: what is told on working days only goes as well.
NOW = FINISHED + timedelta(days=3) + 6 * HOUR
LEASE_S = 120.0


def made_book(folder: Path) -> Path:
    """Make a book of a job of which messages are due, and nothing sent yet."""
    folder.mkdir(parents=True, exist_ok=True)
    post = Post(url_of(folder), Clock(NOW - HOUR))
    post.add(job_text("job-0"), folder)
    post.close()
    return folder / "book.sqlite3"


def arguments(book: Path, server: MailServer, later_s: float, *more: str) -> list[str]:
    now = (NOW + timedelta(seconds=later_s)).isoformat()
    return [str(book), str(server.port), now, "--lease", str(LEASE_S), *more]


def run(book: Path, server: MailServer, later_s: float, *more: str) -> subprocess.Popen[bytes]:
    command = [sys.executable, str(HERE / "sender_process.py")]
    return subprocess.Popen([*command, *arguments(book, server, later_s, *more)], cwd=HERE)


def finish(book: Path, server: MailServer) -> None:
    """Let a fresh sender bring everything out, a lease later."""
    again = run(
        book, server, 2 * LEASE_S, "--lease-ahead", "1000000", "--ticks", "5", "--step", "40"
    )
    assert again.wait(300) == 0


def states(book: Path) -> dict[str, list[str]]:
    post = Post(url_of(book.parent), Clock(NOW))
    found = defaultdict(list)
    for row in post.messages():
        found[row.state.value].append(row.message_id)
    post.close()
    return dict(found)


@pytest.fixture(scope="module")
def expected(tmp_path_factory: pytest.TempPathFactory, needs: Callable[[str], str]) -> set[str]:
    """Give what is sent where nobody is killed."""
    needs("aiosmtpd")
    folder = tmp_path_factory.mktemp("calm")
    server = started(folder / "smtp")
    book = made_book(folder / "book")
    finish(book, server)
    counts = server.counts()
    server.process.kill()
    server.process.wait()
    # The day's message of each of three people.
    assert len(counts) == 3
    assert set(counts.values()) == {1}
    return set(counts)


ONCE = [
    "plan inside",
    "plan after",
    "outbox inside",
    "outbox after",
    "claim inside",
    "claim after",
    "sending inside",
]
UNSURE = ["before wire", "after reply", "sent inside"]


@pytest.mark.parametrize("point", [*ONCE, *UNSURE, "sent after"])
def test_killed_at_a_point(
    point: str, tmp_path: Path, mail_server: MailServer, expected: set[str]
) -> None:
    book, marker = made_book(tmp_path / "book"), tmp_path / "marker"
    process = run(book, mail_server, 0.0, "--at", point, "--marker", str(marker))
    wait_for(marker.exists, what=point)
    process.send_signal(signal.SIGKILL)
    process.wait()
    known = states(book).get(MessageState.SENT.value, [])
    finish(book, mail_server)
    counts = mail_server.counts()
    assert set(counts) == expected
    # Others may have been on their own way when their process died.
    most = 1 if point in ONCE else 2
    assert max(counts.values()) <= most
    assert all(counts[each] == 1 for each in known)
    assert bool(known) is (point == "sent after")
    if point == "after reply":
        # It was taken, and nobody stored that: the same octets come again.
        assert max(counts.values()) == 2
    octets = defaultdict(set)
    for mail in mail_server.taken():
        octets[mail["id"]].add(mail["data"])
    assert {len(each) for each in octets.values()} == {1}
    assert set(states(book)) == {MessageState.SENT.value}


def test_killed_after_the_server_took_the_mail_and_before_its_reply(
    tmp_path: Path, mail_server: MailServer, expected: set[str]
) -> None:
    book = made_book(tmp_path / "book")
    mail_server.behave("hang")
    process = run(book, mail_server, 0.0)
    first = wait_for(mail_server.counts, what="a mail at the server")
    process.send_signal(signal.SIGKILL)
    process.wait()
    mail_server.behave("")
    finish(book, mail_server)
    counts = mail_server.counts()
    assert set(counts) == expected
    assert all(counts[each] == 2 for each in first)
    assert set(states(book)) == {MessageState.SENT.value}


def test_a_full_disk_loses_nothing_and_doubles_no_more_than_a_kill(
    tmp_path: Path, mail_server: MailServer, expected: set[str]
) -> None:
    book = made_book(tmp_path / "book")
    # Room for a page or two: it fails somewhere between claiming and marking.
    most = max(path.stat().st_size for path in book.parent.glob("book.sqlite3*")) + 12_000
    process = run(book, mail_server, 0.0, "--most", str(most), "--ticks", "3", "--step", "40")
    assert process.wait(300) == 0
    finish(book, mail_server)
    counts = mail_server.counts()
    assert set(counts) == expected
    assert max(counts.values()) <= 2
    assert set(states(book)) == {MessageState.SENT.value}
