"""What only some systems have, with those names taken away: the program does without."""

from __future__ import annotations

import ctypes
import json
import os
import shutil
import signal
import stat
import subprocess
import sys
import threading
import time
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING

import httpx
import pytest

from curecal import machine

if TYPE_CHECKING:
    from collections.abc import Iterator

ROOT = Path(__file__).parents[2]


def test_a_start_without_a_name_counts_by_the_clock_that_every_system_has(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    monkeypatch.setattr(machine, "_BOOT_ID", tmp_path / "none")
    before = time.monotonic()
    now = machine.boot_clock()
    assert now.boot_id == ""
    assert before <= now.now_s <= time.monotonic()


def test_a_clock_of_sleep_that_is_missing_is_another(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.delattr(time, "CLOCK_BOOTTIME", raising=False)
    assert machine.boot_clock().boot_id == ""


class Library:
    """A system's library that answers as it is told."""

    def __init__(self, said: int) -> None:
        self.ntp_adjtime = lambda _: said


@pytest.mark.parametrize(
    ("said", "synchronized"),
    # adjtimex(2): TIME_OK, a leap second coming, running, just over; TIME_ERROR; refused.
    [(0, True), (1, True), (3, True), (4, True), (5, False), (-1, False)],
)
def test_what_the_system_says_of_its_clock(
    monkeypatch: pytest.MonkeyPatch, said: int, *, synchronized: bool
) -> None:
    monkeypatch.setattr(ctypes, "CDLL", lambda _: Library(said))
    assert machine.is_clock_synchronized() is synchronized


@pytest.mark.parametrize("error", [OSError, TypeError, AttributeError])
def test_a_system_that_does_not_say_confirms_nothing(
    monkeypatch: pytest.MonkeyPatch, error: type[Exception]
) -> None:
    def none(_: object) -> object:
        raise error

    monkeypatch.setattr(ctypes, "CDLL", none)
    assert machine.is_clock_synchronized() is False


def test_a_folder_that_cannot_be_opened_is_left_to_the_system(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    machine.sync_folder(tmp_path)

    def refused(*_: object) -> int:
        raise PermissionError

    monkeypatch.setattr(os, "open", refused)
    machine.sync_folder(tmp_path)


def test_owners_are_kept_where_there_are_any(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    path = tmp_path / "file"
    path.touch()
    found = path.stat()
    other = (found.st_uid, found.st_gid + 1)
    given: list[tuple[int, int]] = []

    def give(_: Path, owner: int, group: int) -> None:
        given.append((owner, group))
        if owner != -1:
            raise PermissionError

    monkeypatch.setattr(os, "chown", give, raising=False)
    machine.keep_owner(path, (found.st_uid, found.st_gid))
    assert given == []
    machine.keep_owner(path, other)
    # Who may not keep the owner keeps the group.
    assert given == [other, (-1, other[1])]
    monkeypatch.delattr(os, "chown")
    machine.keep_owner(path, other)
    assert len(given) == 2


def status(mode: int, owner: int) -> os.stat_result:
    return os.stat_result((mode, 0, 0, 1, owner, 0, 0, 0, 0, 0))


def test_secrets_of_others_are_told_where_files_have_owners(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr(os, "getuid", lambda: 7, raising=False)
    regular = stat.S_IFREG
    assert not machine.is_open_to_others(status(regular | 0o600, 7))
    assert machine.is_open_to_others(status(regular | 0o640, 7))
    assert machine.is_open_to_others(status(regular | 0o604, 7))
    assert machine.is_open_to_others(status(regular | 0o600, 0))
    assert not machine.is_open_to_others(status(regular | 0o600, 0), of_root=True)
    assert machine.is_open_to_others(status(regular | 0o600, 8), of_root=True)
    monkeypatch.delattr(os, "getuid")
    assert not machine.is_open_to_others(status(regular | 0o666, 8))


def test_a_new_file_is_new_also_where_links_are_not_told_apart(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    monkeypatch.delattr(os, "O_NOFOLLOW", raising=False)
    path = tmp_path / "new"
    os.close(os.open(path, machine.new_file_only(), 0o600))
    with pytest.raises(FileExistsError):
        os.open(path, machine.new_file_only(), 0o600)


# Names that Windows, or Windows and macOS, do not have. What libraries choose by the system, they
# choose here as on this one.
TAKEN_AWAY = """
import os, select, shutil, signal, socket, sys, time
import filelock, platformdirs, sqlalchemy.dialects.sqlite, apprise, httpx, icalendar, alembic
# There, folders are removed by their names alone.
shutil._use_fd_functions = False
for place, names in (
    # `fchmod` and `O_CLOEXEC` are asked for by the lock that filelock has on this system.
    (os, "chown fchown lchown getuid geteuid getgid getegid setuid fork forkpty setsid killpg"
         " getpgid mkfifo statvfs sysconf uname sched_getaffinity O_NOFOLLOW O_DIRECTORY"),
    (signal, "SIGHUP SIGKILL SIGALRM SIGUSR1 SIGUSR2 SIGCHLD SIGPIPE SIGQUIT alarm setitimer"
             " pthread_sigmask sigwait"),
    (select, "poll epoll"),
    (socket, "AF_UNIX"),
    (time, "CLOCK_BOOTTIME clock_gettime tzset"),
):
    for name in names.split():
        if hasattr(place, name):
            delattr(place, name)
for name in ("fcntl", "grp", "pwd", "resource", "termios", "tty", "pty", "syslog", "readline"):
    sys.modules[name] = None
import pathlib
from curecal import machine
machine._BOOT_ID = pathlib.Path("/nowhere")
opened = os.open
def files_only(path, *more, **how):
    if os.path.isdir(path):
        raise PermissionError(13, "a folder is not opened")
    return opened(path, *more, **how)
os.open = files_only
from curecal.cli.main import code_of_run
sys.exit(code_of_run(sys.argv[1:]))
"""


def started_without_names(folder: Path, *arguments: str) -> subprocess.Popen[str]:
    """Start the command where those names are missing."""
    kept = {key: value for key, value in os.environ.items() if not key.startswith("CURECAL_")}
    return subprocess.Popen(
        [sys.executable, "-c", TAKEN_AWAY, *arguments],
        cwd=folder,
        env={**kept, "PYTHONPATH": str(ROOT), "PYTHONUNBUFFERED": "1"},
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
    )


def ended(process: subprocess.Popen[str]) -> str:
    """Return what a command has still printed when it has ended well."""
    try:
        out, errors = process.communicate(timeout=120)
    finally:
        process.kill()
    assert process.returncode == 0, errors
    assert "internal error" not in errors
    return out


def without_names(folder: Path, *arguments: str) -> str:
    """Run the command where those names are missing; return what it prints."""
    return ended(started_without_names(folder, *arguments))


@contextmanager
def running_without_names(folder: Path, *arguments: str) -> Iterator[Iterator[str]]:
    """Give the lines of a command that runs on until Ctrl-C, which every system has."""
    process = started_without_names(folder, *arguments)
    too_late = threading.Timer(120, process.kill)
    too_late.start()
    try:
        assert process.stdout is not None
        yield iter(process.stdout.readline, "")
    except BaseException:
        process.kill()
        sys.stderr.write(process.communicate()[1])
        raise
    finally:
        too_late.cancel()
    process.send_signal(signal.SIGINT)
    ended(process)


@pytest.mark.slow
def test_a_job_goes_its_whole_way_without_what_only_one_system_has(tmp_path: Path) -> None:
    example = ROOT / "examples" / "bathroom"
    for path in example.iterdir():
        if path.is_file():
            (tmp_path / path.name).write_bytes(path.read_bytes())
    book = str(tmp_path / "book.sqlite3")
    assert without_names(tmp_path, "plan", "job.toml")
    before = (tmp_path / "job.toml").read_bytes()
    without_names(tmp_path, "note", "job.toml", "air", "air=64 °F")
    assert (tmp_path / "job.toml").read_bytes() != before
    without_names(tmp_path, "calendars", "write", "job.toml", "calendars")
    assert list((tmp_path / "calendars").glob("*.ics"))
    without_names(tmp_path, "book", "add", "job.toml", "--book", book)
    by_file = ("--book", book, "--instead", "file:mails")
    with running_without_names(tmp_path, "remind", "run", *by_file, "--json") as lines:
        # The first round says what it did.
        assert json.loads(next(lines))["troubles"] == {}
    without_names(tmp_path, "remind", "send", *by_file)
    assert "Reminders last ran" in without_names(tmp_path, "remind", "status", "--book", book)
    assert without_names(tmp_path, "book", "list", "--book", book).strip()
    without_names(tmp_path, "book", "export", "alder-lane-hall-bath", "out", "--book", book)
    without_names(tmp_path, "book", "restore", "out", "--book", f"{book}.again")
    assert without_names(tmp_path, "book", "check", "--book", book)


@pytest.mark.slow
def test_pages_are_served_without_what_only_one_system_has(tmp_path: Path) -> None:
    shutil.copy(ROOT / "examples" / "bathroom" / "job.toml", tmp_path)
    book = str(tmp_path / "book.sqlite3")
    served = ("serve", "job.toml", "--port", "0", "--book", book, "--instead", "file:mails")
    with running_without_names(tmp_path, *served) as lines:
        pages = []
        for line in lines:
            pages += [line.strip()] if "/p/" in line else []
            if "Ctrl-C" in line:
                break
        assert len(pages) == 4
        for address in pages:
            page = httpx.get(address, timeout=60)
            assert page.status_code == 200
            assert "Alder Lane" in page.text
