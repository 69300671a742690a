"""`curecal visits`: the visits of all jobs of the book, wished, booked, confirmed and clashing."""

from __future__ import annotations

from typing import TYPE_CHECKING

import click

from curecal.cli.book.book import book_option
from curecal.cli.shared.common import json_option, print_json, print_lines, width_of

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from curecal.planning.comparison.visits_of_jobs import VisitRow
    from curecal.words.layout import Line
    from curecal.words.sentences import Words

SCHEMA = 1


@click.command("visits")
@click.option(
    "--as-of",
    "as_of",
    metavar="INSTANT",
    help="Answer as of this date and time instead of now.",
)
@book_option
@json_option
@click.option(
    "--width", type=click.IntRange(min=40), metavar="N", help="Width of the output, in columns."
)
def command(*, as_of: str | None, place: str | None, as_json: bool, width: int | None) -> int:
    """List the visits of all jobs of the book.

    For each visit the days that fit, the appointment if there is one, and who is booked twice in
    the same hours. An appointment is logged with `curecal note JOB visit`.
    """
    from curecal.cli.book.jobs_of_book import planned_jobs
    from curecal.planning.comparison.visits_of_jobs import visits_of_jobs
    from curecal.trade.names import told_apart
    from curecal.words.sentences import plain_words

    jobs, unread = planned_jobs(place, as_of)
    rows = visits_of_jobs([made.plan for made in jobs])
    words = {made.job.id: made.words for made in jobs}
    # One zone is the whole job: the job's name says it.
    names = told_apart({made.job.id: made.job.name for made in jobs})
    several = {made.job.id for made in jobs if len(made.plan.zones) > 1}
    if as_json:
        from curecal.words.json.plan_json import sentences
        from curecal.words.json.record_json import encode

        visits = [encode(row, sentences(words[row.job_id])) for row in rows]
        print_json({"schema": SCHEMA, "visits": visits, "unread": unread})
        return 0
    plain, columns = plain_words(), width_of(width)
    lines: list[Line] = []
    for row in rows:
        zones = row.zones if row.job_id in several else ()
        lines += _lines(row, zones, names, words[row.job_id], columns)
    for job_id in unread:
        lines += _said(plain, "visits.unread", {"id": job_id}, columns)
    if not lines:
        lines = _said(plain, "visits.none", {}, columns)
    print_lines(lines)
    return 0


def _said(words: Words, key: str, params: dict[str, object], width: int) -> list[Line]:
    from curecal.words.layout import paragraph

    return paragraph(words.text(key, params), width)


def _lines(
    row: VisitRow, zones: Sequence[str], names: Mapping[str, str], words: Words, width: int
) -> list[Line]:
    """Return a visit: the job first, then what for, when, who, and what is wrong with it."""
    from curecal.words.layout import bullet

    params = {"job": names[row.job_id], "zones": ", ".join(zones), "what": _what(row, words)}
    purpose = words.text("visits.row", params)
    lines = bullet(f"{purpose} {_when(row, words)}", width, style="bad" if row.clashes else "")
    if row.misfit_facts is not None:
        text = words.text("visits.misfit", {"why": words.message(row.misfit_facts)})
        lines += bullet(text, width, indent=4, style="warn")
    for clash in row.clashes:
        with_whom = {"who": row.who, "job": names[clash.job_id], "start_at": clash.start}
        lines += bullet(words.text("visits.clash", with_whom), width, indent=4, style="bad")
    return lines


def _what(row: VisitRow, words: Words) -> str:
    from curecal.planning.plan import VisitKind

    return words.name("visit", row.kind) if row.kind in set(VisitKind) else row.kind


def _when(row: VisitRow, words: Words) -> str:
    window = {"earliest_at": row.earliest, "latest_at": row.latest}
    if row.start is not None:
        hours = words.hours(row.start, row.end or row.start)
        params = {"hours": hours, "who": row.who, "state": row.state}
        return words.text("visits.booked", params)
    if row.earliest is None:
        return words.text("visits.undated")
    if row.latest == row.earliest:
        # It is owed: no day is left before what waits for it.
        return words.text("visits.to-book-now", window)
    if row.latest is None:
        return words.text("visits.to-book-from", window)
    return words.text("visits.to-book", {"hours": words.hours(row.earliest, row.latest)})
