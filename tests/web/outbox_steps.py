"""What the tests of the telephones' outbox share: what came to the log, and a line that goes."""

from __future__ import annotations

import time
from contextlib import contextmanager
from datetime import timedelta
from typing import TYPE_CHECKING

from bad_line import Line, State
from live_site import BATHROOM, CURING_AT, LiveSite

from curecal.book.jobs.log_entries import StoredEntry, entries_of

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

    from phone import Phone

LATER = CURING_AT + timedelta(minutes=30)
CALLED = "+1 902 555 0170"
"""The electrician's telephone."""


def logged(site: LiveSite) -> list[StoredEntry]:
    """Return what came by a page, in the order in which it came."""
    with site.book.reading() as connection:
        return [one for one in entries_of(connection, BATHROOM) if one.source.startswith("page:")]


def texts(site: LiveSite) -> list[str]:
    return [str(entry.body.get("text", "")) for entry in logged(site)]


def wait_for(is_so: Callable[[], bool], seconds: float = 60) -> None:
    ends_at = time.monotonic() + seconds
    while not is_so():
        assert time.monotonic() < ends_at, "waited in vain"
        time.sleep(0.1)


@contextmanager
def without_a_line(line: Line, phone: Phone) -> Iterator[None]:
    phone.offline(is_so=True)
    line.become(State.GONE)
    yield
    line.become(State.OPEN)
    phone.offline(is_so=False)
