"""Starting `curecal remind run`: a book that is away for a while is waited for."""

from __future__ import annotations

import time
from typing import TYPE_CHECKING

import click

from curecal.errors import BookError, ErrorCode

if TYPE_CHECKING:
    from collections.abc import Callable

    from curecal.book.connection.open_book import Book
    from curecal.reminders.sending.scheduler_cycle import SchedulerCycle
    from curecal.words.sentences import Words

# What passes by itself, or when somebody makes room: it is waited for as a cycle waits. All else
# needs a person, and ends the command.
_PASSING = frozenset({ErrorCode.BOOK_BUSY, ErrorCode.BOOK_DISK, ErrorCode.BOOK_CANNOT_OPEN})


def started(
    opened: Callable[[], Book],
    cycle_of: Callable[[Book], SchedulerCycle],
    words: Words,
    *,
    every_s: float,
) -> tuple[SchedulerCycle, str]:
    """Return a scheduler cycle on an open book, and why all is on hold, or nothing."""
    while True:
        try:
            return _once(_writable(opened()), cycle_of)
        except BookError as error:
            if error.code not in _PASSING:
                raise
            click.echo(words.error(error), err=True)
        time.sleep(every_s)


def _writable(book: Book) -> Book:
    """Refuse a book that can only be looked at, for the reason: a full disk may have room again."""
    if book.unwritable is not None:
        book.close()
        raise book.unwritable
    return book


def _once(book: Book, cycle_of: Callable[[Book], SchedulerCycle]) -> tuple[SchedulerCycle, str]:
    try:
        cycle = cycle_of(book)
        return cycle, cycle.start()
    except BaseException:
        book.close()
        raise
