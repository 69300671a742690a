"""The next 14 days over all jobs, by day: to read, to print as a week, and as a table (CSV)."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterator, Sequence
from datetime import date, timedelta
from typing import TYPE_CHECKING

from flask import Response

from curecal.book.jobs.closed_jobs import closed_jobs
from curecal.overview.kept_answers import Answered
from curecal.records import Record, record
from curecal.trade.names import told_apart
from curecal.web.page_request import job_address
from curecal.web.pages.office.office_parts import today_of
from curecal.web.rendering import render
from curecal.words.values import clean

if TYPE_CHECKING:
    from curecal.web.page_request import PageRequest

_DAYS = 14
_WEEK = 7
_WHOLE_S = 3600.0
# A sheet program reads what begins so as a formula, and runs it.
_FORMULA = ("=", "+", "-", "@", "\t", "\r")


@record
class DayLine(Record):
    """One thing of one day: the job, its address on these pages, the site's address, what."""

    on: date
    job: str
    address: str
    place: str
    kind: str
    what: str


def show(page: PageRequest) -> Response:
    """Answer with the days as a list, each with what it holds."""
    count = _WEEK if "week" in page.request.args else _DAYS
    answers = page.serving.answers.answers(page.language)
    by_day: dict[date, list[DayLine]] = {}
    for line in _lines(page, answers.jobs, count):
        by_day.setdefault(line.on, []).append(line)
    return render(page, "office/days.html", days=by_day, count=count, left=answers.left_count)


def as_csv(page: PageRequest) -> Response:
    """Answer with the days as a table for a sheet program."""
    out = io.StringIO()
    # With commas, quoted throughout: read alike by every sheet program.
    writer = csv.writer(out, quoting=csv.QUOTE_ALL, lineterminator="\r\n")
    writer.writerow([page.text(f"office.csv.{name}") for name in ("on", "job", "place", "what")])
    # A table that lacks jobs without saying so is worse than one that is waited for.
    answers = page.serving.answers.answers(page.language, patience_s=_WHOLE_S)
    for line in _lines(page, answers.jobs, _DAYS):
        cells = (line.on.isoformat(), line.job, line.place, line.what)
        writer.writerow([harmless_cell(cell) for cell in cells])
    # With the mark by which sheet programs know the encoding.
    body = out.getvalue().encode("utf-8-sig")
    response = Response(body, mimetype="text/csv")
    response.headers["Content-Disposition"] = 'attachment; filename="days.csv"'
    return response


def harmless_cell(text: str) -> str:
    """Return a cell that no sheet program takes for a formula: an apostrophe stands before it.

    Args:
        text: What the cell says.
    """
    return f"'{text}" if text.lstrip().startswith(_FORMULA) or text.startswith(_FORMULA) else text


def _lines(page: PageRequest, found: Sequence[Answered], count: int) -> Iterator[DayLine]:
    """Yield what the next days hold, by day and job."""
    first = today_of(page)
    last = first + timedelta(days=count - 1)
    with page.serving.book.reading() as connection:
        closed = closed_jobs(connection)
    names = told_apart({job.job_id: clean(job.name) for job in found})
    lines = [
        DayLine(
            on=event.on,
            job=names[job.job_id],
            address=job_address(job.job_id),
            place=clean(job.answer.address or ""),
            kind=event.kind,
            what=event.what,
        )
        for job in found
        if job.job_id not in closed
        for event in job.days
        if first <= event.on <= last
    ]
    yield from sorted(lines, key=lambda line: (line.on, line.job.casefold()))
