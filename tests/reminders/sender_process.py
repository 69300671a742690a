"""A sender in a process of its own, which can stop dead at a named point to be killed there.

    python sender_process.py BOOK_URL SMTP_PORT NOW [--at POINT --marker FILE] [--lease-ahead S]
        [--ticks N] [--step S] [--lease S] [--across N] [--forever]

A point names a statement (`plan`, `outbox`, `claim`, `sending`, `sent`) and `inside` its
transaction or `after` its commit, or a place at the wire: `before wire`, `after reply`. Nothing is
replaced: the process only waits there, with everything as it is.
"""

from __future__ import annotations

import argparse
import contextlib
import resource
import signal
import threading
import time
from dataclasses import dataclass
from datetime import datetime, timedelta
from pathlib import Path
from typing import TYPE_CHECKING, Any

from sqlalchemy import event

from curecal.book.connection.open_book import Book, LeaseNow, book_url, boot_clock, open_book
from curecal.delivery.channels import Answer
from curecal.delivery.mail import MailServer, MailWire
from curecal.errors import BookError
from curecal.reminders.messages.send_context import SendContext
from curecal.reminders.sending.scheduler_cycle import SchedulerCycle
from curecal.reminders.sending.send import ACROSS, Sender

if TYPE_CHECKING:
    from sqlalchemy import Connection

STATEMENTS = {
    "plan": ("INSERT INTO reminder", ""),
    "outbox": ("INSERT INTO outbox", ""),
    "claim": ("UPDATE outbox", "leased"),
    "sending": ("UPDATE outbox", "sending"),
    "sent": ("UPDATE outbox", "sent"),
}


@dataclass
class Stop:
    """Where to stop, and the file that says that it did."""

    point: str
    marker: Path

    def here(self, point: str) -> None:
        """Wait to be killed, if this is the point."""
        if point != self.point:
            return
        self.marker.write_text(point, encoding="utf-8")
        threading.Event().wait()


class StoppingWire:
    """The real way to the mail server, with a place to stop before and after it."""

    def __init__(self, wire: MailWire, stop: Stop) -> None:
        self.wire = wire
        self.stop = stop

    def send(self, address: str, data: bytes, *, deadline_s: float) -> Answer:
        self.stop.here("before wire")
        answer = self.wire.send(address, data, deadline_s=deadline_s)
        self.stop.here("after reply")
        return answer


def watch(book: Book, stop: Stop) -> None:
    """Stop at a statement, inside its transaction or after its commit."""
    name, _, when = stop.point.partition(" ")
    if name not in STATEMENTS:
        return
    text, value = STATEMENTS[name]
    seen = threading.Event()

    @event.listens_for(book.engine, "after_cursor_execute")
    def _executed(
        _connection: Any, _cursor: Any, statement: str, parameters: Any, *_rest: Any
    ) -> None:
        values = parameters.values() if isinstance(parameters, dict) else parameters
        if text in statement and (not value or value in list(values)):
            if when == "inside":
                stop.here(stop.point)
            seen.set()

    @event.listens_for(book.engine, "begin")
    def _begun(_connection: Any) -> None:
        if seen.is_set():
            stop.here(stop.point)


def lease_ahead(book: Book, ahead_s: float) -> None:
    """Put the clock of leases forward, be it the machine's or a server's."""
    own = book.lease_now

    def later(connection: Connection) -> LeaseNow:
        at = own(connection)
        return LeaseNow(at.boot_id, at.now_s + ahead_s)

    book.lease_now = later  # type: ignore[method-assign]


def cycle_for(options: argparse.Namespace, clock: list[datetime]) -> SchedulerCycle:
    """Return a cycle on the real book and the real wire."""
    book = open_book(book_url(options.book))
    lease_ahead(book, options.lease_ahead)
    stop = Stop(options.at or "", Path(options.marker or "unused"))
    watch(book, stop)
    server = MailServer("127.0.0.1", options.port, "office@tile.example", security="none")
    wire = StoppingWire(MailWire(server), stop)
    sender = Sender(
        book,
        {"email": wire},
        owner=f"process-{threading.get_native_id()}",
        now=lambda: clock[0],
        lease_s=options.lease,
        deadline_s=20.0,
        across=options.across,
    )
    context = SendContext(sender="office@tile.example")
    return SchedulerCycle(
        book, context, sender, name="process", now=lambda: clock[0], boot=boot_clock
    )


def work(options: argparse.Namespace) -> None:
    """Run cycles, the wall's clock going on by a step each time."""
    clock = [datetime.fromisoformat(options.now)]
    cycle = cycle_for(options, clock)
    if options.most:
        # No file may grow beyond it: what a full disk looks like to a database.
        signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
        resource.setrlimit(resource.RLIMIT_FSIZE, (options.most, options.most))
    count = 0
    while options.forever or count < options.ticks:
        # As the daemon does: where the book is away, the next tick tries again.
        with contextlib.suppress(BookError):
            cycle.run(for_s=20.0)
        clock[0] += timedelta(seconds=options.step)
        count += 1
        if options.forever:
            time.sleep(0.02)
    with contextlib.suppress(BookError):
        cycle.sender.drain(until_s=20.0)


def parser() -> argparse.ArgumentParser:
    """Return what the process is told."""
    made = argparse.ArgumentParser()
    made.add_argument("book")
    made.add_argument("port", type=int)
    made.add_argument("now")
    made.add_argument("--at")
    made.add_argument("--marker")
    made.add_argument("--lease-ahead", type=float, default=0.0)
    made.add_argument("--lease", type=float, default=120.0)
    made.add_argument("--ticks", type=int, default=1)
    made.add_argument("--step", type=float, default=0.0)
    made.add_argument("--most", type=int)
    made.add_argument("--across", type=int, default=ACROSS)
    made.add_argument("--forever", action="store_true")
    return made


if __name__ == "__main__":
    work(parser().parse_args())
