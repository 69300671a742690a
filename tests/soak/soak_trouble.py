"""What goes wrong during the soak, by its seed, one thing after another."""

from __future__ import annotations

import contextlib
import random
import resource
import subprocess
import sys
import time
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Mapping

    from book.book_servers import Server
    from fast_clock import FastClock
    from mail_server import MailServer
    from soak_process import ServedBook

_HOUR = 3600.0
_HOLDER = """
import sqlite3, sys
connection = sqlite3.connect(sys.argv[1], isolation_level=None, timeout=30)
connection.execute("BEGIN IMMEDIATE")
print("mine", flush=True)
sys.stdin.read()
"""
_ROOM_BYTES = 64 << 10
_FIRST = ("kill on the wire", "book locked", "disk full", "server restarted", "sessions ended")
_KILLS = ("kill", "kill twice")


@dataclass
class Trouble:
    """One thing that went wrong, from when until when on the machine's own clock [s]."""

    kind: str
    began_s: float
    ended_s: float


@dataclass
class Troubles:
    """Makes trouble for a process, its book and its mail server. Nothing is left broken."""

    served: ServedBook
    mail: MailServer
    clock: FastClock
    chance: random.Random
    restart_mail: Callable[[], None]
    command: tuple[str, ...]
    environment: Mapping[str, str]
    file: str = ""
    """The book, where it is a file."""
    server: Server | None = None
    """The server of the book, where it is one."""
    database: str = ""
    happened: list[Trouble] = field(default_factory=list)
    outputs: list[str] = field(default_factory=list)

    def kinds(self) -> dict[str, Callable[[], None]]:
        """Return everything that may go wrong with this book, by name."""
        found = {
            "kill": self.served.kill,
            "kill twice": self._kill_twice,
            "kill on the wire": self._kill_on_the_wire,
            "clock forward": lambda: self._step(3 * _HOUR),
            "clock back": lambda: self._step(-2 * _HOUR),
            "clock a little forward": lambda: self.clock.step(0.3 * _HOUR),
            "mail away": self._mail_away,
            "mail cut": lambda: self._mail("cut", 2.0),
            "mail dropped": lambda: self._mail("drop", 1.5),
            "mail later": lambda: self._mail("later", 2.0),
            "mail slow": lambda: self._mail("slow 0.7", 3.0),
            "book locked": self._lock,
        }
        if self.server is None:
            return {**found, "disk full": self._disk_full}
        return {**found, "server restarted": self._restart, "sessions ended": self._end_sessions}

    def plan(self) -> Iterator[str]:
        """Yield an order of all that may go wrong, by the seed: all of it before any again.

        However short the soak is, it is killed with a mail on the wire, and this kind of book is
        troubled in each of its own ways. Another kill follows, as the end of a soak has none. A
        file and a server begin what is left from its two ends: two short soaks see most of it.
        """
        names = list(self.kinds())
        first = [name for name in _FIRST if name in names]
        rest = [name for name in names if name not in {*_FIRST, *_KILLS}]
        self.chance.shuffle(rest)
        early, late = self.chance.sample(_KILLS, 2)
        order = [early, *rest, late]
        yield from [*first, *(order if self.server is None else reversed(order))]
        while True:
            self.chance.shuffle(names)
            yield from names

    def missing(self) -> list[str]:
        """Return what might have gone wrong with this book and did not."""
        return sorted(set(self.kinds()) - {one.kind for one in self.happened})

    def make(self, kind: str) -> None:
        """Let one thing go wrong, and pass."""
        began_s = time.monotonic()
        self.kinds()[kind]()
        self.happened.append(Trouble(kind, began_s, time.monotonic()))

    def resume(self) -> None:
        """Be the person who looked at the clock: messages go on."""
        for _ in range(20):
            if not self.run("remind", "resume").returncode:
                return
            time.sleep(0.5)
        message = f"nobody could resume: {self.outputs[-1]}"
        raise AssertionError(message)

    def run(self, *words: str) -> subprocess.CompletedProcess[str]:
        """Run a command on the book; what it prints is kept."""
        done = subprocess.run(
            [*self.command, *words],
            env=dict(self.environment),
            capture_output=True,
            text=True,
            check=False,
            timeout=300,
        )
        self.outputs.append(done.stdout + done.stderr)
        return done

    # ---- the process

    def _kill_twice(self) -> None:
        self.served.kill()
        time.sleep(self.chance.uniform(0.3, 2.5))
        self.served.kill()

    def _kill_on_the_wire(self) -> None:
        """Kill it while the mail server has a mail that it did not answer."""
        self.mail.behave("slow 1.0")
        until_s = time.monotonic() + 6.0
        while not self._is_unanswered() and time.monotonic() < until_s:
            time.sleep(0.01)
        self.served.kill()
        self.mail.behave("")

    def _is_unanswered(self) -> bool:
        try:
            return int(self.mail.unanswered.read_text(encoding="utf-8") or 0) > 0
        except FileNotFoundError:
            return False

    # ---- the clock

    def _step(self, seconds: float) -> None:
        """Set the clock; after a while somebody looks at it, and lets messages go on."""
        self.clock.step(seconds)
        time.sleep(3.0)
        self.resume()

    # ---- mail

    def _mail(self, word: str, seconds: float) -> None:
        self.mail.behave(word)
        time.sleep(seconds)
        self.mail.behave("")

    def _mail_away(self) -> None:
        self.mail.process.kill()
        self.mail.process.wait()
        time.sleep(3.0)
        self.restart_mail()

    # ---- the book

    def _lock(self) -> None:
        with self._locked_file() if self.server is None else self._locked_tables():
            time.sleep(3.0)

    @contextlib.contextmanager
    def _locked_file(self) -> Iterator[None]:
        holder = subprocess.Popen(
            [sys.executable, "-c", _HOLDER, self.file],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
        )
        assert holder.stdout is not None
        holder.stdout.readline()
        try:
            yield
        finally:
            holder.communicate(timeout=60)

    @contextlib.contextmanager
    def _locked_tables(self) -> Iterator[None]:
        assert self.server is not None
        with self.server.admin(self.database) as connection, connection.transaction():
            connection.execute("LOCK TABLE job, log_entry, outbox, reminder, meta")
            yield

    def _disk_full(self) -> None:
        """Let no file of the process grow beyond its start, as on a disk that is full."""
        pid = self.served.process.pid
        with contextlib.suppress(ProcessLookupError):
            resource.prlimit(pid, resource.RLIMIT_FSIZE, (_ROOM_BYTES, resource.RLIM_INFINITY))
        time.sleep(3.0)
        with contextlib.suppress(ProcessLookupError):
            unlimited = (resource.RLIM_INFINITY, resource.RLIM_INFINITY)
            resource.prlimit(pid, resource.RLIMIT_FSIZE, unlimited)

    def _restart(self) -> None:
        assert self.server is not None
        with self.server.stopped():
            time.sleep(1.0)

    def _end_sessions(self) -> None:
        assert self.server is not None
        with self.server.admin() as connection:
            connection.execute(
                "SELECT pg_terminate_backend(pid) FROM pg_stat_activity"
                " WHERE datname = %s AND pid <> pg_backend_pid()",
                [self.database],
            )
