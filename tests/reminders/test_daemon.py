"""The process that sends, as people run it: started, stopped, stuck, and looked at."""

from __future__ import annotations

import configparser
import json
import os
import signal
import subprocess
import sys
import threading
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest
from mail_server import MailServer, wait_for
from reminder_samples import Clock, Post, job_text, opened, put_rows, url_of

from curecal.book.message_states import MessageState
from curecal.book.meta import beats
from curecal.cli.remind.remind import command
from curecal.reminders.sending.daemon import STALE_EXIT, Daemon
from curecal.reminders.sending.scheduler_cycle import CycleResult

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

pytestmark = pytest.mark.slow

ROOT = Path(__file__).parents[2]
RUN = (
    "import sys; {first}from curecal.cli.remind.remind import command; "
    "sys.exit(command.main(sys.argv[1:], standalone_mode=False) or 0)"
)


def curecal(
    *arguments: str, env: dict[str, str] | None = None, at: str = ""
) -> subprocess.CompletedProcess[str]:
    """Run `curecal remind` in a process of its own, where it is now or always an instant."""
    first = f"from freezegun import freeze_time; freeze_time('{at}').start(); " if at else ""
    return subprocess.run(
        [sys.executable, "-c", RUN.format(first=first), *arguments],
        env={**os.environ, **(env or {})},
        capture_output=True,
        text=True,
        check=False,
        timeout=300,
        cwd=ROOT,
    )


@pytest.fixture
def post(tmp_path: Path) -> Iterator[Post]:
    found = Post(url_of(tmp_path), Clock(datetime.now(UTC)))
    found.add(job_text(people=""), tmp_path)
    yield found
    found.close()


def settings(server: MailServer) -> dict[str, str]:
    return {
        "CURECAL_MAIL_SERVER": f"127.0.0.1:{server.port}",
        "CURECAL_MAIL_SECURITY": "none",
        "CURECAL_MAIL_FROM": "office@tile.example",
    }


def test_it_sends_and_stops_cleanly_with_the_mail_on_the_wire_through(
    post: Post, tmp_path: Path, mail_server: MailServer
) -> None:
    mail_server.behave("slow")
    ids = put_rows(post.book, 3, datetime.now(UTC))
    book = str(tmp_path / "book.sqlite3")
    process = subprocess.Popen(
        [sys.executable, "-c", RUN.format(first=""), "run", "--book", book, "--every", "1"],
        env={**os.environ, **settings(mail_server)},
        cwd=ROOT,
    )
    try:
        wait_for(lambda: set(mail_server.counts()) == ids, what="the mails at the server")
        process.send_signal(signal.SIGTERM)
        assert process.wait(300) == 0
    finally:
        process.kill()
        process.wait()
    assert {row.state for row in post.messages()} == {MessageState.SENT}
    assert set(mail_server.counts().values()) == {1}
    with post.book.reading() as connection:
        assert len(beats(connection)) == 1


class Stuck:
    """A cycle that never ends."""

    def __init__(self, post: Post) -> None:
        self.sender = post.sender
        self.now = lambda: datetime.now(UTC)
        self.ticking = threading.Event()
        self.over = threading.Event()

    def run(self, **_more: Any) -> None:
        self.ticking.set()
        self.over.wait(60)


_HANGS = """
import sys, threading
from concurrent.futures import ThreadPoolExecutor
from curecal.cli import main
ThreadPoolExecutor(1).submit(threading.Event().wait)
main.code_of_run = lambda: int(sys.argv[1])
print("said before", flush=False)
main.run()
"""


def test_a_process_that_hangs_ends_all_the_same() -> None:
    command = [sys.executable, "-c", _HANGS, str(STALE_EXIT)]
    ended = subprocess.run(command, capture_output=True, text=True, timeout=300, check=False)
    assert (ended.returncode, ended.stdout) == (STALE_EXIT, "said before\n")


def test_a_stale_heartbeat_ends_it_for_its_supervisor(post: Post) -> None:
    stuck = Stuck(post)
    daemon = Daemon(stuck, every_s=1.0, stale_s=1.5)  # type: ignore[arg-type]
    assert daemon.run() == STALE_EXIT
    assert stuck.ticking.is_set()
    stuck.over.set()


def test_stopping_ends_it_with_nothing_on_the_wire(post: Post) -> None:
    post.cycle.now = lambda: datetime.now(UTC)
    said: list[object] = []
    daemon = Daemon(post.cycle, every_s=1.0, said=said.append)
    thread = threading.Thread(target=daemon.run)
    thread.start()
    wait_for(lambda: said, what="a tick")
    daemon.stop()
    thread.join(120)
    assert not thread.is_alive()


def test_what_was_written_is_looked_at_at_once(post: Post) -> None:
    post.cycle.now = lambda: datetime.now(UTC)
    said: list[object] = []
    daemon = Daemon(post.cycle, every_s=300.0, said=said.append)
    thread = threading.Thread(target=daemon.run)
    thread.start()
    for count in (1, 2, 3):
        wait_for(lambda count=count: len(said) == count, what="a tick")  # type: ignore[misc]
        daemon.look_now()
    daemon.stop()
    thread.join(120)
    assert not thread.is_alive()


class Sending:
    """A cycle that sends until it is told to give way."""

    def __init__(self, post: Post) -> None:
        self.sender = post.sender
        self.now = lambda: datetime.now(UTC)
        self.begun = 0

    def run(
        self, *, stopping: Callable[[], bool], told: Callable[[], bool], **_more: object
    ) -> CycleResult:
        self.begun += 1
        wait_for(lambda: stopping() or told(), what="to give way")
        return CycleResult()


def test_a_cycle_that_sends_gives_way_to_what_was_written(post: Post) -> None:
    sending = Sending(post)
    daemon = Daemon(sending, every_s=300.0)  # type: ignore[arg-type]
    thread = threading.Thread(target=daemon.run)
    thread.start()
    for count in (1, 2):
        wait_for(lambda count=count: sending.begun == count, what="a tick")  # type: ignore[misc]
        daemon.look_now()
    wait_for(lambda: sending.begun == 3, what="another tick")
    daemon.stop()
    thread.join(120)
    assert not thread.is_alive()


def test_a_book_that_is_away_is_said_and_tried_again(post: Post) -> None:
    post.cycle.now = lambda: datetime.now(UTC)
    said: list[object] = []
    post.book.close()
    place = Path(str(post.book.url.database))
    away = place.with_suffix(".away")
    place.rename(away)
    place.mkdir()
    daemon = Daemon(post.cycle, every_s=1.0, said=said.append)
    thread = threading.Thread(target=daemon.run)
    thread.start()
    wait_for(lambda: [each for each in said if isinstance(each, Exception)], what="an error")
    place.rmdir()
    away.rename(place)
    wait_for(lambda: not isinstance(said[-1], Exception), what="a tick that went well")
    daemon.stop()
    thread.join(120)
    assert not thread.is_alive()


# ---- the commands


def test_send_list_due_hold_release_status(
    post: Post, tmp_path: Path, mail_server: MailServer
) -> None:
    book = ["--book", str(tmp_path / "book.sqlite3")]
    env = settings(mail_server)
    put_rows(post.book, 2, datetime.now(UTC))
    due = json.loads(curecal("due", *book, "--json").stdout)
    assert [each["state"] for each in due["reminders"]] == ["due", "due"]
    assert "somebody was not reached" in curecal("due", *book).stdout
    assert "Nothing is being sent" in curecal("pause", *book).stdout
    held = json.loads(curecal("status", *book, "--json").stdout)
    assert held["hold"]["reason"] == "person"
    assert "On hold" in curecal("send", *book, env=env).stdout
    assert mail_server.counts() == {}
    assert "being sent again" in curecal("resume", *book).stdout
    assert "2 messages sent" in curecal("send", *book, env=env).stdout
    assert len(mail_server.counts()) == 2
    status = json.loads(curecal("status", *book, "--json").stdout)
    assert status["messages"] == {"sent": 2}
    assert not status["stale"]
    assert "sent: 2" in curecal("status", *book).stdout
    assert "Nothing is planned to be sent" in curecal("list", *book).stdout


def test_a_refused_message_is_a_delivery_error(
    post: Post, tmp_path: Path, mail_server: MailServer
) -> None:
    mail_server.behave("refuse")
    put_rows(post.book, 1, datetime.now(UTC))
    book = ["--book", str(tmp_path / "book.sqlite3")]
    failed = curecal("send", *book, env=settings(mail_server))
    assert "DeliveryError" in failed.stderr
    assert "remind-not-sent" in failed.stderr
    assert "550" in curecal("status", *book).stdout


def test_a_password_stands_in_no_output_and_not_in_the_book(
    post: Post, tmp_path: Path, mail_server: MailServer
) -> None:
    put_rows(post.book, 1, datetime.now(UTC))
    secrets = tmp_path / "secrets.toml"
    secrets.write_text('[mail]\nuser = "office"\npassword = "hunter2hunter2"\n', encoding="utf-8")
    secrets.chmod(0o600)
    book = ["--book", str(tmp_path / "book.sqlite3")]
    # The server offers no login: it cannot be used, and the message stays.
    env = {**settings(mail_server), "CURECAL_SECRETS": str(secrets), "CURECAL_DEBUG": "1"}
    outputs = [curecal("send", *book, env=env), curecal("status", *book, env=env)]
    assert not any("hunter2" in each.stdout + each.stderr for each in outputs)
    post.book.close()
    kept = [path.read_bytes() for path in tmp_path.glob("book.sqlite3*")]
    assert not any(b"hunter2" in data for data in kept)
    secrets.chmod(0o644)
    assert "secrets-open" in curecal("send", *book, env=env).stderr


def test_messages_instead_into_a_folder(post: Post, tmp_path: Path) -> None:
    put_rows(post.book, 2, datetime.now(UTC))
    book = ["--book", str(tmp_path / "book.sqlite3")]
    done = curecal("send", *book, "--instead", f"file:{tmp_path / 'out'}")
    assert "2 messages sent" in done.stdout
    assert len(list((tmp_path / "out").glob("*.eml"))) == 2
    assert "remind-instead" in curecal("send", *book, "--instead", "pigeon").stderr


def test_simulate_needs_no_book(tmp_path: Path) -> None:
    path = tmp_path / "job.toml"
    path.write_text(job_text(), encoding="utf-8")
    started_at = datetime.now(UTC)
    done = curecal("simulate", str(path), "--as-of", "2026-11-07", "--cold")
    assert (datetime.now(UTC) - started_at).total_seconds() < 30
    assert max(len(line) for line in done.stdout.splitlines()) <= 80
    told = " ".join(done.stdout.split())
    assert "Elm Road, hall: please leave the floor heating off" in told
    assert "Elm Road, hall: the floor is ready" in told
    document = json.loads(curecal("simulate", str(path), "--as-of", "2026-11-07", "--json").stdout)
    assert len(document["messages"]) > 10
    assert {each["person"] for each in document["messages"]} == {
        "Ida Fennell",
        "Robin Mistral",
        "Sam Okoro-Lind",
    }


def test_every_command_has_help() -> None:
    assert set(command.commands) == {
        "run",
        "send",
        "list",
        "due",
        "pause",
        "resume",
        "status",
        "simulate",
    }
    assert all(each.help for each in command.commands.values())


def test_the_service_unit_runs_the_command_and_is_restarted() -> None:
    unit = configparser.ConfigParser(strict=False, interpolation=None)
    unit.optionxform = str  # type: ignore[assignment,method-assign]
    unit.read(ROOT / "config" / "curecal-remind.service", encoding="utf-8")
    assert unit["Service"]["ExecStart"].endswith("curecal remind run")
    assert unit["Service"]["Restart"] == "always"
    # However often it ended: it is never left down.
    assert unit["Unit"]["StartLimitIntervalSec"] == "0"
    assert "password" not in dict(unit["Service"])


def test_two_jobs_of_one_book_are_listed_by_their_own_time(tmp_path: Path) -> None:
    at = datetime(2026, 11, 9, 16, tzinfo=UTC)
    post = Post(url_of(tmp_path), Clock(at))
    post.add(job_text(), tmp_path)
    post.add(job_text("oak-road", name="Oak Road"), tmp_path)
    post.cycle.run()
    post.close()
    book = ["--book", str(tmp_path / "book.sqlite3")]
    rows = json.loads(curecal("list", *book, "--json", at=str(at)).stdout)["reminders"]
    assert {each["job_id"] for each in rows} == {"elm-road", "oak-road"}
    one = json.loads(curecal("list", "oak-road", *book, "--json", at=str(at)).stdout)["reminders"]
    assert {each["job_id"] for each in one} == {"oak-road"}
    told = " ".join(curecal("list", "oak-road", *book, at=str(at)).stdout.split())
    assert "17:00" in told
    # Each visit is named, so that no two lines of one minute are alike.
    assert "a visit (final test and connection), to" in told
    assert "a visit (switch on), to" in told
    assert {row["zone"] for row in one} <= {"hall", None}
    assert "book-job-unknown" in curecal("list", "nowhere", *book).stderr
    opened(tmp_path).close()
