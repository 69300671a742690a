"""`curecal jobs`: every job of the book in a line, or what the next days hold over all of them."""

from __future__ import annotations

from datetime import date
from typing import TYPE_CHECKING

import click

from curecal.cli.book.book import book_named, book_option
from curecal.cli.shared.common import PROBLEM, json_option, print_json, print_lines, width_of
from curecal.cli.shared.progress import progress

if TYPE_CHECKING:
    from collections.abc import Sequence
    from datetime import datetime

    from curecal.overview.kept_answers import Answered

SCHEMA = 1
_MOST_DAYS = 92


@click.command("jobs")
@click.option(
    "--days",
    type=click.IntRange(1, _MOST_DAYS),
    metavar="N",
    help="Show what each of the next N days holds, over all jobs.",
)
@click.option("--at-risk", is_flag=True, help="Show only the jobs at risk, and why they are.")
@click.option(
    "--as-of",
    "as_of",
    metavar="INSTANT",
    help="Answer as of this date and time (UTC if it has no offset) instead of now.",
)
@json_option
@click.option(
    "--width", type=click.IntRange(min=40), metavar="N", help="Width of the output, in columns."
)
@book_option
def command(
    *,
    days: int | None,
    at_risk: bool,
    as_of: str | None,
    as_json: bool,
    width: int | None,
    place: str | None,
) -> int:
    """List all jobs of the book: answer, day, next step, and what is at risk.

    Jobs at risk come first, then the others by their day. An answer is kept in the book and
    planned again when the job, its log or the day has changed.
    """
    from datetime import UTC, datetime

    from curecal.cli.shared.common import instant_asked
    from curecal.instants import Toward
    from curecal.overview.kept_answers import answers_of

    now = datetime.now(UTC)
    if as_of is not None:
        # The jobs lie in several time zones: what is typed is by the clock of who asks.
        here = now.astimezone().tzinfo or UTC
        # That clock may have another offset by then: summer, or winter.
        then = instant_asked(as_of, here, Toward.AHEAD).astimezone().tzinfo or UTC
        now = instant_asked(as_of, then, Toward.AHEAD)
    with book_named(place) as book, progress("jobs") as show:
        found = answers_of(
            book,
            now=now,
            with_days=days is not None,
            # What is asked of another instant says nothing of now.
            keeping=as_of is None,
            progress=show,
        )
    jobs = [job for job in found if job.answer.risks or not at_risk]
    if as_json:
        _print_json(jobs, now, days)
    else:
        _print_text(found, jobs, now, days=days, at_risk=at_risk, width=width_of(width))
    return PROBLEM if any(job.answer.has_problem for job in jobs) else 0


def _print_json(jobs: Sequence[Answered], now: datetime, days: int | None) -> None:
    from curecal.cli.jobs.jobs_shown import board_json, job_json, job_order

    document: dict[str, object] = {"schema": SCHEMA, "as_of": now}
    if days is None:
        document["jobs"] = [job_json(job) for job in sorted(jobs, key=job_order)]
    else:
        document["days"] = board_json(jobs, _first_day(jobs, now), days)
    print_json(document)


def _print_text(
    found: Sequence[Answered],
    jobs: Sequence[Answered],
    now: datetime,
    *,
    days: int | None,
    at_risk: bool,
    width: int,
) -> None:
    from dataclasses import replace

    from curecal.cli.jobs.jobs_shown import board_lines, job_order, jobs_lines
    from curecal.trade.names import told_apart
    from curecal.words.catalogue import DEFAULT_LANGUAGE, catalogue
    from curecal.words.layout import paragraph
    from curecal.words.sentences import Words
    from curecal.words.values import Reader

    today = _first_day(found, now)
    names = told_apart({job.job_id: job.name for job in found})
    jobs = [replace(job, name=names[job.job_id]) for job in jobs]
    words = Words(catalogue(DEFAULT_LANGUAGE), Reader(today=today))
    if not found:
        print_lines(paragraph(words.text("jobs.empty"), width))
    elif not jobs:
        print_lines(paragraph(words.text("jobs.none-at-risk", {"count": len(found)}), width))
    elif days is not None:
        print_lines(board_lines(jobs, words=words, width=width, first=today, count=days))
    else:
        all_told = words.text("jobs.title", {"count": len(found), "today_on": today})
        some = {"risky": len(jobs), "jobs": len(found), "today_on": today}
        title = words.text("jobs.title-at-risk", some) if at_risk else all_told
        ordered = sorted(jobs, key=job_order)
        print_lines(jobs_lines(ordered, words=words, width=width, today=today, title=title))


def _first_day(jobs: Sequence[Answered], now: datetime) -> date:
    """Return today: of sites in several time zones, the earliest of their days."""
    from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

    from curecal.instants import local_day

    days = []
    for timezone in {job.timezone for job in jobs}:
        try:
            days.append(local_day(now, ZoneInfo(timezone)))
        except (ZoneInfoNotFoundError, ValueError, OSError):
            # Somebody wrote into the book: its job says so in its own line.
            continue
    return min(days, default=now.date())
