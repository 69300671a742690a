"""The one process of the soak: started, killed, started anew by its supervisor, and measured."""

from __future__ import annotations

import re
import signal
import subprocess
import threading
import time
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING

import httpx

if TYPE_CHECKING:
    from collections.abc import Mapping

_RSS = re.compile(r"^VmRSS:\s+(?P<kb>\d+) kB$", re.MULTILINE)
# By then every page was asked for, and every job planned.
_LOADED_S = 30.0
# What a process may end with by itself: its supervisor starts it again. 6 where its session with
# the book is cut off while it starts.
ENDS_ITSELF = frozenset({6, 75})


@dataclass
class Memory:
    """How much a process held at which age."""

    age_s: float
    rss_mb: float


@dataclass
class ServedBook:
    """`curecal serve` over a book, on a port that stays."""

    command: tuple[str, ...]
    environment: Mapping[str, str]
    port: int
    lines: list[str] = field(default_factory=list)
    ends: list[int] = field(default_factory=list)
    """The codes that processes ended with by themselves."""
    memory: list[Memory] = field(default_factory=list)
    """Of the process that runs now."""
    _lock: threading.RLock = field(default_factory=threading.RLock)

    def start(self) -> None:
        """Start the process; another thread keeps what it prints."""
        with self._lock:
            self.memory = []
            self._began_s = time.monotonic()
            self.process = subprocess.Popen(
                [*self.command, "serve", "--port", str(self.port)],
                env=dict(self.environment),
                stdout=subprocess.PIPE,
                stderr=subprocess.STDOUT,
                text=True,
            )
            threading.Thread(target=self._listen, args=(self.process,), daemon=True).start()

    def _listen(self, process: subprocess.Popen[str]) -> None:
        assert process.stdout is not None
        with process.stdout:
            self.lines += process.stdout

    def look_after(self) -> None:
        """Start it anew where it ended by itself, and note how much memory it holds."""
        with self._lock:
            code = self.process.poll()
            if code is not None:
                self.ends.append(code)
                self.start()
                return
            status = Path(f"/proc/{self.process.pid}/status").read_text(encoding="ascii")
            if found := _RSS.search(status):
                age_s = time.monotonic() - self._began_s
                self.memory.append(Memory(age_s, int(found["kb"]) / 1024))

    def kill(self) -> None:
        """Kill it, whatever it does, and start another."""
        with self._lock:
            self.process.kill()
            self.process.wait()
            self.start()

    def end(self) -> int:
        """Ask it to end; return its code."""
        with self._lock:
            self.process.send_signal(signal.SIGTERM)
            return self.process.wait(120)

    def left_over(self) -> list[str]:
        """Return processes of this soak that still run: whoever is killed leaves none behind."""
        mark = f"SOAK_CLOCK={self.environment['SOAK_CLOCK']}".encode()
        found = []
        for folder in Path("/proc").glob("[0-9]*"):
            try:
                if mark in (folder / "environ").read_bytes().split(b"\0"):
                    words = (folder / "cmdline").read_bytes().replace(b"\0", b" ")
                    found.append(f"{folder.name}: {words[:120].decode(errors='replace')}")
            except OSError:
                # It ended meanwhile, or belongs to somebody else.
                continue
        return found

    def answers(self) -> bool:
        """Return whether pages are served."""
        try:
            return httpx.get(f"http://127.0.0.1:{self.port}/health", timeout=10).status_code < 600
        except httpx.HTTPError:
            return False

    def grown(self) -> tuple[float, float]:
        """Return what the last process held at a quarter of its life, and at its end [MB].

        A second's highs and lows are evened out. A process that lived shortly is still loading at a
        quarter: of it the end is told twice.
        """
        quarter = len(self.memory) // 4
        around = [one.rss_mb for one in self.memory[quarter : quarter + 3]]
        last_mb = min(one.rss_mb for one in self.memory[-3:])
        is_short = self.memory[quarter].age_s < _LOADED_S
        return (last_mb if is_short else max(around)), last_mb
