"""Pages in a thread and the rounds in the main one, until both are told to stop."""

from __future__ import annotations

import signal
import threading
from collections.abc import Callable
from typing import Protocol

from curecal.web.server.http_server import PageServer

# `EX_SOFTWARE` of sysexits.h: whoever started this starts it again.
PAGES_ENDED = 70


class Rounds(Protocol):
    """What is done over and over while the pages are served."""

    def run(self) -> int:
        """Go on until stopped; return the exit code."""
        ...

    def stop(self) -> None:
        """End soon."""
        ...


def run_both(pages: PageServer, rounds: Rounds, started: Callable[[], None]) -> int:
    """Serve pages and do rounds until SIGTERM or SIGINT.

    The pages end first: what comes while messages still leave would be told to nobody.

    Args:
        pages: The pages' server.
        rounds: The reminders, or what keeps the feeds without them.
        started: Called when pages are answered, and a signal ends both.

    Returns:
        The exit code.
    """
    ending = threading.Event()

    def end() -> None:
        rounds.stop()
        ending.set()

    for number in (signal.SIGTERM, signal.SIGINT):
        signal.signal(number, lambda _number, _frame: end())
    pages.ended = end
    pages.start()

    def close() -> None:
        ending.wait()
        pages.stop()

    closing = threading.Thread(target=close, name="closing", daemon=True)
    closing.start()
    try:
        started()
        code = rounds.run()
    finally:
        end()
        closing.join()
    return code or (PAGES_ENDED if pages.has_failed else 0)
