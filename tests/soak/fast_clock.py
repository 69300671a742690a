"""A clock that many processes read from one file: how fast it runs, and where it stands.

Only the standard library: it is loaded before anything else is.
"""

from __future__ import annotations

import mmap
import struct
import time
from datetime import UTC, datetime
from pathlib import Path

_FORM = struct.Struct("<dddd")
LEASE_SPEED = 10.0
"""A lease of two minutes is over after twelve real seconds: longer than any of our mails takes."""


class FastClock:
    """Reads the clock, and where it may, sets it. One process sets it, all others read."""

    def __init__(self, file: Path, *, starts_at: datetime | None = None) -> None:
        if starts_at is not None:
            file.write_bytes(_FORM.pack(time.monotonic(), starts_at.timestamp(), 100_000.0, 1.0))
        with file.open("r+b") as opened:
            self._memory = mmap.mmap(opened.fileno(), _FORM.size)

    def _read(self) -> tuple[float, float, float, float]:
        """Return since when it runs like that, wall and machine at that moment, and how fast."""
        while True:
            # Written in one go of 32 octets, which no reader may see half of.
            first, again = self._memory[: _FORM.size], self._memory[: _FORM.size]
            if first == again:
                return _FORM.unpack(first)

    def _write(self, *, wall_step_s: float = 0.0, speed: float | None = None) -> None:
        since_s, wall_s, boot_s, old = self._read()
        now_s = time.monotonic()
        run_s = (now_s - since_s) * old
        new = old if speed is None else speed
        self._memory[: _FORM.size] = _FORM.pack(
            now_s, wall_s + run_s + wall_step_s, boot_s + run_s, new
        )

    def wall_s(self) -> float:
        """Return what the clock on the wall says, in seconds of the epoch."""
        since_s, wall_s, _, speed = self._read()
        return wall_s + (time.monotonic() - since_s) * speed

    def boot_s(self) -> float:
        """Return how long the machine has run [s]."""
        since_s, _, boot_s, speed = self._read()
        return boot_s + (time.monotonic() - since_s) * speed

    def lease_s(self) -> float:
        """Return the clock of leases [s]: it never hurries with the others."""
        return time.monotonic() * LEASE_SPEED

    def now(self) -> datetime:
        """Return the instant by the clock on the wall."""
        return datetime.fromtimestamp(self.wall_s(), UTC)

    def run(self, speed: float) -> None:
        """Let both clocks run so many times as fast."""
        self._write(speed=speed)

    def step(self, seconds: float) -> None:
        """Set the clock on the wall forward or back; the machine's own does not move."""
        self._write(wall_step_s=seconds)
