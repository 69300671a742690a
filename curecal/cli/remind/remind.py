"""`curecal remind`: who is told what and when, and the process that tells them."""

from __future__ import annotations

import os
from functools import wraps
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from curecal.cli.book.book import book_option
from curecal.cli.remind.start import sending_options
from curecal.cli.shared.common import PROBLEM, json_option, print_json
from curecal.cli.shared.progress import progress
from curecal.errors import DeliveryError, UsageError

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence
    from datetime import datetime

    from curecal.book.connection.open_book import Book
    from curecal.reminders.sending.scheduler_cycle import CycleResult
    from curecal.words.sentences import Words

SCHEMA = 1
_PATH = click.Path(path_type=Path)


def _options(function: Callable[..., Any]) -> Callable[..., Any]:
    return book_option(json_option(function))


@click.group("remind")
def command() -> None:
    """Tell owner, crew and electrician in time what to do, and what not to do yet.

    Addresses of servers and their secrets come from the environment or from the file that
    CURECAL_SECRETS names; they are never printed.
    """


@command.command("run")
@click.option(
    "--every",
    "every_s",
    type=click.FloatRange(min=1.0, max=300.0),
    default=20.0,
    show_default=True,
    metavar="SECONDS",
    help="How often to check.",
)
@sending_options
@_options
def run(
    *,
    every_s: float,
    company: Path | None,
    instead: str | None,
    place: str | None,
    as_json: bool,
) -> int:
    """Send what is due, again and again, until stopped (SIGTERM)."""
    from curecal.cli.remind.start import cycle_maker, say_cautions, say_cycle, started
    from curecal.reminders.sending.daemon import Daemon, owner_name

    words = _words()
    # A setting that nothing could be sent by is said before the book is waited for.
    cycle_of = cycle_maker(company, instead, name=owner_name())
    cycle, reason = started(lambda: _book(place), cycle_of, words, every_s=every_s)
    with cycle.book as book:
        if reason:
            click.echo(_held_text(book), err=True)
        say_cautions(cycle, _words())

        def said(done: CycleResult | Exception) -> None:
            say_cycle(done, words, as_json=as_json)

        daemon = Daemon(cycle, every_s=every_s, said=said)
        daemon.catch_signals()
        return daemon.run()


@command.command("send")
@sending_options
@_options
def send(*, company: Path | None, instead: str | None, place: str | None, as_json: bool) -> int:
    """Send what is due now, once."""
    from curecal.cli.remind.start import cycle_maker, say_cautions
    from curecal.reminders.sending.daemon import owner_name

    cycle_of = cycle_maker(company, instead, name=owner_name())
    with _book(place) as book:
        cycle = cycle_of(book)
        cycle.start()
        say_cautions(cycle, _words())
        done = cycle.run(for_s=600.0)
        rest = cycle.sender.drain(until_s=60.0)
        cycle.sender.close()
        taken = done.taken + rest.taken
        failed = done.not_taken + rest.later + rest.dead + rest.unsure
        words = _words()
        if as_json:
            document = {
                "schema": SCHEMA,
                "sent": taken,
                "failed": failed,
                "held": done.held or None,
            }
            print_json({**document, "troubles": done.troubles})
        elif done.held:
            click.echo(_held_text(book))
        else:
            click.echo(words.text("remind.list.sent", {"count": taken}))
        if failed or done.troubles:
            raise DeliveryError("remind-not-sent", count=failed + len(done.troubles))
    return 0


def _of_job(function: Callable[..., Any]) -> Callable[..., Any]:
    @wraps(function)
    def of_one(*, job: str | None, named: str | None, **asked: object) -> object:
        if job is not None and named is not None and job != named:
            # Taking one of them would silence the other, or leave it silent.
            raise UsageError("remind-two-jobs")
        return function(job=named if job is None else job, **asked)

    named = click.option("--job", "named", metavar="JOB", help="Only this job.")
    return click.argument("job", required=False)(named(of_one))


@command.command("list", short_help="Plan the jobs, and list what is to be sent.")
@_of_job
@_options
def list_wanted(*, job: str | None, place: str | None, as_json: bool) -> int:
    """Plan the jobs, and list what is to be sent from now on.

    JOB is the id or the name of a job of the book, or its job file.
    """
    return _show_wanted(place, job, only_due=False, as_json=as_json)


@command.command("due", short_help="Show what would be sent now.")
@_of_job
@_options
def due(*, job: str | None, place: str | None, as_json: bool) -> int:
    """Plan the jobs, and show what would be sent now. Nothing is sent.

    JOB is the id or the name of a job of the book, or its job file.
    """
    return _show_wanted(place, job, only_due=True, as_json=as_json)


def _show_wanted(place: str | None, named: str | None, *, only_due: bool, as_json: bool) -> int:
    from curecal.cli.remind.remind_shown import wanted_shown
    from curecal.cli.remind.start import office_rules
    from curecal.reminders.messages.send_context import SendContext
    from curecal.reminders.replanning.plan_all import plan_all
    from curecal.reminders.sending.send_holds import is_clock_unsure

    now = _now()
    rules, by_office = office_rules(None)
    with _book(place) as book:
        job_id = _job_id(book, named)
        with book.reading() as connection:
            is_sure = not is_clock_unsure(connection)
        context = SendContext(reminder_rules=rules, by_company=not by_office, clock_is_sure=is_sure)
        plan_all(book, context, now=now)
        wanted_shown(book, job_id, now=now, only_due=only_due, as_json=as_json)
    return 0


@command.command("pause", short_help="Send nothing until it is resumed, of one job or of all.")
@_of_job
@_options
def pause(*, job: str | None, place: str | None, as_json: bool) -> int:
    """Send nothing, of one job or of all, until `curecal remind resume`.

    JOB is the id or the name of a job of the book, or its job file.
    """
    from curecal.book.meta import hold
    from curecal.cli.remind.remind_shown import done_shown

    with _book(place) as book:
        job_id = _job_id(book, job)
        with book.writing() as connection:
            hold(connection, "person", now=_now(), job_id=job_id)
        key = "remind.list.paused" if job_id is None else ""
        done_shown(book, key, job_id, as_json=as_json)
    return 0


@command.command("resume", short_help="Send messages again, of one job or of all.")
@_of_job
@_options
def resume(*, job: str | None, place: str | None, as_json: bool) -> int:
    """Send messages again, of one job or of all. Look at `curecal remind due` first.

    JOB is the id or the name of a job of the book, or its job file.
    """
    from curecal.cli.remind.remind_shown import done_shown
    from curecal.reminders.sending.send_holds import resume as resume_sending

    with _book(place) as book:
        job_id = _job_id(book, job)
        resume_sending(book, now=_now(), job_id=job_id)
        key = "remind.list.resumed" if job_id is None else "remind.list.resumed-job"
        done_shown(book, key, job_id, as_json=as_json)
    return 0


@command.command("status")
@_options
def status(*, place: str | None, as_json: bool) -> int:
    """Show whether messages go out, and what became of them."""
    from curecal.cli.remind.remind_shown import status_shown

    with _book(place) as book:
        status_shown(book, now=_now(), as_json=as_json)
    return 0


@command.command("simulate", short_help="Play a job forward and print every message.")
@click.argument("job", type=_PATH)
@click.option("--cold", is_flag=True, help="The air turns as cold as the job expects it to get.")
@click.option(
    "--as-of", "as_of", metavar="INSTANT", help="Start from this date and time instead of now."
)
@click.option(
    "--log", "logs", type=_PATH, multiple=True, metavar="FILE", help="Another log of the job."
)
@click.option("--company", type=_PATH, metavar="FILE", help="Company file (or CURECAL_COMPANY).")
@click.option("--book", "place", metavar="PATH|URL", help="The book, where JOB is an id.")
@click.option("--full", is_flag=True, help="Whole messages, not only their short form.")
@json_option
def simulate(
    *,
    job: Path,
    cold: bool,
    as_of: str | None,
    logs: Sequence[Path],
    company: Path | None,
    place: str | None,
    full: bool,
    as_json: bool,
) -> int:
    """Play a job forward and print every message each person would get."""
    from curecal.cli.remind.remind_shown import simulation_shown
    from curecal.cli.remind.start import office_rules
    from curecal.cli.shared.common import planned_or_told
    from curecal.cli.shared.job_source import site
    from curecal.reminders.simulation.simulate import simulate as play

    made = planned_or_told(
        job,
        as_json=as_json,
        width=None,
        as_of=as_of,
        logs=logs,
        company=company,
        units=None,
        place=place,
    )
    if made is None:
        return PROBLEM
    with site(job, place) as found:
        rules, _ = office_rules(company or found.company, found.job)
    with progress("play") as show:
        played = play(
            made.job,
            made.log,
            made.plan.as_of,
            rules=made.rules,
            reminder_rules=rules,
            day_off=made.day_off,
            cold=cold,
            progress=show,
        )
    simulation_shown(played, made.job, made.rules, cold=cold, full=full, as_json=as_json)
    return 0


def _now() -> datetime:
    from datetime import UTC, datetime

    return datetime.now(UTC)


def _book(place: str | None) -> Book:
    from curecal.book.connection.open_book import book_url, open_book

    return open_book(book_url(place, os.environ), create=False)


def _job_id(book: Book, named: str | None) -> str | None:
    """Return the id of the job that was named; None where none was."""
    from curecal.cli.shared.job_source import job_id_named

    if named is None:
        return None
    with book.reading() as connection:
        return job_id_named(connection, named)


def _words() -> Words:
    from curecal.words.sentences import plain_words

    return plain_words()


def _held_text(book: Book) -> str:
    from curecal.cli.remind.remind_shown import hold_text, words_of_book

    with book.reading() as connection:
        return hold_text(connection, words_of_book(connection, _now()))
