"""Starting what sends: its settings, and a book that is away for a while, which is waited for."""

from __future__ import annotations

import os
import time
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from curecal.errors import BookError, ErrorCode, UsageError

if TYPE_CHECKING:
    from collections.abc import Callable

    from curecal.book.connection.open_book import Book
    from curecal.reminders.messages.send_context import SendContext
    from curecal.reminders.sending.scheduler_cycle import CycleResult, SchedulerCycle
    from curecal.words.sentences import Words

# What passes by itself, or when somebody makes room: it is waited for as a cycle waits. All else
# needs a person, and ends the command.
_PASSING = frozenset({ErrorCode.BOOK_BUSY, ErrorCode.BOOK_DISK, ErrorCode.BOOK_CANNOT_OPEN})

# Each process that plans takes a hundred megabytes, and the book one writer at a time.
_MOST = 4


def sending_options(function: Callable[..., Any]) -> Callable[..., Any]:
    """Add the options that say by whose rules is sent, and whether it goes out."""
    company = click.option(
        "--company",
        type=click.Path(path_type=Path),
        metavar="FILE",
        help="Company file (or CURECAL_COMPANY).",
    )
    instead = click.option(
        "--instead",
        metavar="console|file:DIR",
        help="Send nothing: print it, or write it into a folder, as if it had gone out.",
    )
    return company(instead(function))


def now_utc() -> datetime:
    """Return the instant by this machine's clock."""
    return datetime.now(UTC)


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


def office_rules(company: Path | None, job: Path | None = None) -> tuple[Any, bool]:
    """Return the reminders' rules with a company's changes, and whether it has any.

    The company's file is the one named, else the environment's, else the one that a job names.
    """
    from curecal.reminders.reminder_rules import company_rules, shipped_rules
    from curecal.toml_files.toml_source import load

    named = company or (Path(name) if (name := os.environ.get("CURECAL_COMPANY")) else None)
    if named is None and job is not None:
        head = load(job).get("job")
        own = head.get("company") if isinstance(head, dict) else None
        named = job.parent / own.strip() if isinstance(own, str) and own.strip() else None
    changes = load(named).get("reminders") if named else None
    if isinstance(changes, dict):
        return company_rules(changes), True
    return shipped_rules(), False


def cycle_maker(
    company: Path | None, instead: str | None, *, name: str
) -> Callable[[Book], SchedulerCycle]:
    """Return what makes a scheduler cycle of a book; all settings are read, and refused, before."""
    from curecal.delivery.channel_settings import sender_of, settings_from, wires_for
    from curecal.machine import core_count
    from curecal.reminders.messages.send_context import SendContext
    from curecal.reminders.sending.scheduler_cycle import SchedulerCycle
    from curecal.reminders.sending.send import Sender

    if instead is not None and instead != "console" and not instead.startswith("file:"):
        raise UsageError("remind-instead", text=instead[:40])
    settings = settings_from(os.environ)
    sender, sender_name = sender_of(settings)
    rules, named = office_rules(company)
    context: SendContext = SendContext(
        reminder_rules=rules, by_company=not named, sender=sender, sender_name=sender_name
    )
    wires = wires_for(settings, instead)

    def made(book: Book) -> SchedulerCycle:
        sender = Sender(book, wires, owner=name, now=now_utc)
        return SchedulerCycle(
            book, context, sender, name=name, now=now_utc, processes=min(core_count(), _MOST)
        )

    return made


def say_cycle(done: CycleResult | Exception, words: Words, *, as_json: bool) -> None:
    """Say what a cycle did, where it did anything."""
    if isinstance(done, BookError):
        click.echo(words.error(done), err=True)
        return
    if isinstance(done, Exception):
        click.echo(str(done), err=True)
        return
    if as_json:
        import json

        counts = {name: getattr(done, name) for name in ("fired", "taken", "not_taken", "held")}
        click.echo(json.dumps({**counts, "troubles": done.troubles}))
    elif done.taken:
        click.echo(words.text("remind.list.sent", {"count": done.taken}))
    if done.not_taken:
        click.echo(words.text("remind.list.failed", {"count": done.not_taken}), err=True)


def say_cautions(cycle: SchedulerCycle, words: Words) -> None:
    """Say that nothing confirmed the clock, and that a copy put back goes unnoticed, where so."""
    from curecal.book.connection.last_seen import check_can_keep

    if not cycle.context.clock_is_sure:
        click.echo(words.text("remind.list.clock-unsure"), err=True)
    try:
        check_can_keep()
    except (OSError, RuntimeError) as error:
        reason = getattr(error, "strerror", None) or type(error).__name__
        where = {"path": str(getattr(error, "filename", None) or "")}
        told = words.text("remind.list.state-unwritable", {"reason": reason, **where})
        click.echo(told, err=True)
