"""The process that sends: one interval job, a heartbeat, a watchdog, a clean stop.

The schedule lives in memory and says only "look again"; what is to be sent stands in the book.
"""

from __future__ import annotations

import importlib
import logging
import os
import signal
import socket
import threading
import time
import uuid
from collections.abc import Callable
from datetime import UTC

from curecal.book.meta import STALE_S
from curecal.errors import CurecalError, ErrorCode
from curecal.reminders.sending.scheduler_cycle import CycleResult, SchedulerCycle

# Well within the minute that a STOP may take, and nothing to a small machine.
EVERY_S = 20.0
# `EX_TEMPFAIL` of sysexits.h: start it again.
STALE_EXIT = 75
# Told apart from it: there is no book to start again with.
REPLACED_EXIT = 76
# Who stops the process waits no longer than this for it to notice.
_LOOK_S = 0.5
# Longer than a call on the wire may last: what left is known to have left.
_DRAIN_S = 60.0


def owner_name() -> str:
    """Return a name that no other process has.

    Returns:
        Machine, process, and something random.
    """
    return f"{socket.gethostname()[:40]}:{os.getpid()}:{uuid.uuid4().hex[:8]}"


class Daemon:
    """Runs one cycle after another until it is told to stop."""

    def __init__(
        self,
        cycle: SchedulerCycle,
        *,
        every_s: float = EVERY_S,
        stale_s: float = STALE_S,
        said: Callable[[CycleResult | CurecalError], None] = lambda _: None,
    ) -> None:
        self.cycle = cycle
        self.every_s = every_s
        self.stale_s = stale_s
        self.said = said
        self._stop = threading.Event()
        self._wanted = threading.Event()
        self._code = 0
        self._alive_s = time.monotonic()
        cycle.lives = self._lives

    def stop(self) -> None:
        """Take up nothing more, and end when what is on the wire is through."""
        self._stop.set()

    def look_now(self) -> None:
        """Begin a cycle at once: something was written that may have to leave within seconds."""
        self._wanted.set()

    def catch_signals(self) -> None:
        """Stop at SIGTERM and SIGINT."""
        for number in (signal.SIGTERM, signal.SIGINT):
            signal.signal(number, lambda _number, _frame: self.stop())

    def run(self) -> int:
        """CycleResult until stopped.

        Returns:
            The exit code: 0 after a clean stop, another where the heartbeat went stale or another
            book stands in the place of the open one.
        """
        # It takes long to load, and only this process needs it.
        schedulers = importlib.import_module("apscheduler.schedulers.background")
        logging.getLogger("apscheduler").setLevel(logging.ERROR)
        scheduler = schedulers.BackgroundScheduler(timezone=UTC)
        scheduler.add_job(
            self._run_cycle,
            "interval",
            seconds=self.every_s,
            coalesce=True,
            max_instances=1,
            misfire_grace_time=None,
        )
        self._alive_s = time.monotonic()
        scheduler.start()
        try:
            number = scheduler.get_jobs()[0].id
            # The first look does not wait for the interval.
            scheduler.modify_job(number, next_run_time=self.cycle.now())
            while not self._stop.wait(_LOOK_S):
                if self._wanted.is_set():
                    # Until a cycle takes it up: one that runs by now gives way first.
                    scheduler.modify_job(number, next_run_time=self.cycle.now())
                if time.monotonic() - self._alive_s > self.stale_s:
                    return STALE_EXIT
        finally:
            stale = time.monotonic() - self._alive_s > self.stale_s
            # A cycle that hangs would hang the end as well.
            scheduler.shutdown(wait=not stale)
        self.cycle.sender.drain(until_s=_DRAIN_S)
        self.cycle.sender.close()
        return self._code

    def _lives(self) -> None:
        """Note a sign of life: a round of very many jobs lasts longer than a cycle should."""
        self._alive_s = time.monotonic()

    def _run_cycle(self) -> None:
        self._wanted.clear()
        try:
            done = self.cycle.run(
                for_s=self.every_s, stopping=self._stop.is_set, told=self._wanted.is_set
            )
        except CurecalError as error:
            # The book is away: no heartbeat, and the next cycle tries again.
            self.said(error)
            if error.code == ErrorCode.BOOK_REPLACED:
                # It will not come back: whoever starts this anew opens the one that counts.
                self._code = REPLACED_EXIT
                self.stop()
        else:
            self._alive_s = time.monotonic()
            self.said(done)
