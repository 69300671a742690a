"""A round shared by processes of this machine: each opens the book by itself and plans some jobs.

They only plan. What is to be sent stands in the book, and one process sends it.
"""

from __future__ import annotations

import multiprocessing
import os
import signal
import threading
import time
from collections.abc import Iterator, Sequence
from concurrent.futures import FIRST_COMPLETED, Future, ProcessPoolExecutor, wait
from concurrent.futures.process import BrokenProcessPool
from datetime import datetime
from typing import TYPE_CHECKING

from sqlalchemy.engine import make_url

from curecal.book.connection.open_book import Book, open_book
from curecal.reminders.messages.send_context import SendContext
from curecal.reminders.replanning.planned_jobs import AT_ONCE, PlanningResult, plan_jobs

if TYPE_CHECKING:
    from types import TracebackType
    from typing import Self

# A process has its next jobs before it is through with those it has.
_AHEAD = 2
# Half of what a process may be silent for before it is taken for one that hangs: some jobs take
# seconds, and who says nothing for so long is frozen.
_SILENT_S = 120.0
# As long as the jobs may take that each process has taken up.
_ENDS_WITHIN_S = 30.0


class PlanningProcesses:
    """Processes that plan jobs; they end with the block, or with the process that began them."""

    def __init__(self, book: Book, context: SendContext, count: int) -> None:
        self._context = context
        self._count = count
        # Not forked: threads of this process hold locks and connections.
        how = multiprocessing.get_context("spawn")
        url = book.url.render_as_string(hide_password=False)
        self._pool = ProcessPoolExecutor(
            count, how, initializer=_begin, initargs=(url, context.bare())
        )

    def __enter__(self) -> Self:
        """Return the processes."""
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        """Let each finish the jobs it has, and end; one that does not is ended."""
        self._pool.shutdown(wait=False, cancel_futures=True)
        end_s = time.monotonic() + (0.0 if kind is BrokenProcessPool else _ENDS_WITHIN_S)
        # This process begins no others, and they begin none.
        for process in multiprocessing.active_children():
            process.join(max(0.0, end_s - time.monotonic()))
            if process.is_alive():
                # What it was at is taken back by the book.
                process.kill()
        self._pool.shutdown(wait=True)

    def plan(self, job_ids: Sequence[str], *, now: datetime) -> Iterator[list[PlanningResult]]:
        """Plan jobs; give what became of them, some at a time, in the order they are done.

        Args:
            job_ids: the jobs.
            now: the instant.

        Yields:
            What became of some jobs.

        Raises:
            BookError: the book as a whole cannot be used at present.
            BrokenProcessPool: a process ended that nobody told to, or none says anything.
        """
        some = [job_ids[at : at + AT_ONCE] for at in range(0, len(job_ids), AT_ONCE)]
        waiting: set[Future[list[PlanningResult]]] = set()
        for chunk in some:
            if len(waiting) >= self._count * _AHEAD:
                done, waiting = _some_done(waiting)
                yield from (one.result() for one in done)
            is_sure = self._context.clock_is_sure
            waiting.add(self._pool.submit(_plan, tuple(chunk), now, is_sure))
        while waiting:
            done, waiting = _some_done(waiting)
            yield from (one.result() for one in done)


def _some_done(
    waiting: set[Future[list[PlanningResult]]],
) -> tuple[set[Future[list[PlanningResult]]], set[Future[list[PlanningResult]]]]:
    done, waiting = wait(waiting, _SILENT_S, return_when=FIRST_COMPLETED)
    if not done:
        raise BrokenProcessPool
    return done, waiting


__all__ = ["BrokenProcessPool", "PlanningProcesses"]

# Of the process that plans: its book and its rules.
_own: list[tuple[Book, SendContext]] = []


def _begin(url: str, context: SendContext) -> None:
    # Ctrl-C goes to every process of a terminal: the one that sends decides.
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    threading.Thread(target=_end_with_parent, daemon=True).start()
    _own.append((open_book(make_url(url), create=False), context))


def _end_with_parent() -> None:
    """End at once where the process that began this one is gone: nobody else would tell it."""
    parent = multiprocessing.parent_process()
    if parent is not None:
        parent.join()
        os._exit(1)


def _plan(job_ids: Sequence[str], now: datetime, is_sure: bool) -> list[PlanningResult]:  # noqa: FBT001 - a process is handed its arguments by place
    [(book, context)] = _own
    context.clock_is_sure = is_sure
    return plan_jobs(book, context, job_ids, now=now)
