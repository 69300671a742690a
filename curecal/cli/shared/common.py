"""What several commands share: reading the job, the instant looked from, printing styled lines."""

from __future__ import annotations

import os
import re
import sys
from typing import TYPE_CHECKING, Any, NamedTuple

import click

from curecal.cli.shared.job_source import job_or_only, site
from curecal.errors import ErrorCode, UsageError
from curecal.records import PlainView
from curecal.words.plural_forms import FORMS_OF

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Mapping, Sequence
    from datetime import date, datetime, tzinfo
    from pathlib import Path

    from curecal.cli.shared.job_source import BookState, Site
    from curecal.errors import InstantRefused
    from curecal.instants import Toward
    from curecal.job_files import ReadJob
    from curecal.planning.plan import Plan
    from curecal.planning.working_time.working_calendar import DayOff
    from curecal.trade.findings import Finding
    from curecal.trade.job import Job
    from curecal.trade.rules import Rules
    from curecal.trade.site_log import Log
    from curecal.words.layout import Line
    from curecal.words.sentences import Words

PROBLEM = 1
PIPE_WIDTH = 80
WIDEST = 120
_NARROWEST = 40
# A plan from outside the years that a job file may hold would be a typing mistake.
FIRST_YEAR, LAST_YEAR = 2000, 2100

_WITHOUT_ZERO = re.compile(r"\b0(?=\d)")

_STYLES: Mapping[str, PlainView] = {
    "head": {"bold": True},
    "good": {"fg": "green", "bold": True},
    "bad": {"fg": "red", "bold": True},
    "warn": {"fg": "yellow"},
    "dim": {"dim": True},
}


# Forms of an instant that a person may type beside ISO 8601; none whose day and month could
# be taken for each other.
_FORMS = (
    "YYYY-M-D H:mm",
    "YYYY-M-D",
    "D MMM YYYY",
    "MMM D, YYYY",
    "D MMM YYYY H:mm",
    "D MMMM YYYY H:mm",
    "ddd D MMM YYYY H:mm",
    "D MMM YYYY, H:mm",
    "ddd D MMM YYYY, H:mm",
    "MMM D, YYYY H:mm",
    "MMMM D, YYYY H:mm",
)


class PlannedJob(NamedTuple):
    """A plan with what it came from; `place` says which book, where the job stands in one.

    `job_file` is what was named: the job file, or the job's id in a book. `book_state` is None
    where the plan stands on a file that the book does not have. `read_again` reads the job anew.
    """

    plan: Plan
    findings: Sequence[Finding]
    rules: Rules
    words: Words
    job: Job
    log: Log
    day_off: DayOff
    names: Mapping[str, object]
    job_file: Path
    read_again: Callable[[], ReadJob]
    in_book: bool = False
    place: str | None = None
    book_state: BookState | None = None

    def words_in(self, language: str) -> Words:
        """Return the words of somebody who reads a language, in the units that were asked for."""
        from curecal.words.sentences import words_for

        return words_for(self.job, self.rules, units=self.words.reader.units, language=language)


def tzdata_version() -> str:
    """Return the release of the time zone data: "2026b"."""
    import importlib

    return str(importlib.import_module("tzdata").IANA_VERSION)


def job_options(function: Callable[..., Any]) -> Callable[..., Any]:
    """Add the options that say which job is looked at, from when, and how it is shown."""
    from pathlib import Path

    path = click.Path(path_type=Path)
    options = (
        click.argument("job", type=path, required=False, callback=job_or_only),
        click.option(
            "--as-of",
            "as_of",
            metavar="INSTANT",
            help="Answer as of this date and time instead of now.",
        ),
        click.option(
            "--log",
            "logs",
            type=path,
            multiple=True,
            metavar="FILE",
            help="Another site log of the job.",
        ),
        click.option(
            "--company", type=path, metavar="FILE", help="Company file (or CURECAL_COMPANY)."
        ),
        click.option(
            "--book",
            "place",
            metavar="PATH|URL",
            help="The job book, if JOB is an id (or CURECAL_BOOK).",
        ),
        click.option(
            "--units",
            type=click.Choice(["metric", "imperial"]),
            help="Show results in these units.",
        ),
        click.option(
            "--width",
            type=click.IntRange(min=_NARROWEST),
            metavar="N",
            help="Width of the output, in columns.",
        ),
    )
    for option in reversed(options):
        function = option(function)
    return function


json_option = click.option("--json", "as_json", is_flag=True, help="Print JSON for programs.")
language_option = click.option(
    "--language",
    metavar="LANGUAGE",
    type=click.Choice(list(FORMS_OF)),
    help=f"Language it is read in: {', '.join(FORMS_OF)}.",
)


def planned_or_told(
    job: Path, *, as_json: bool, width: int | None, **asked: Any
) -> PlannedJob | None:
    """Return the plan of a job; None for one that is not understood, once that is printed.

    Args:
        job: The job file, or the id of a job of the book.
        as_json: Whether what is wrong is printed for a program.
        width: The columns to print it in, if they were asked for.
        asked: What `job_options` adds.
    """

    def refused(findings: Sequence[Finding], names: Mapping[str, object], words: Words) -> None:
        print_refused(findings, names, words, as_json=as_json, width=width)

    return planned(job, refused=refused, **asked)


def planned(
    job: Path,
    *,
    as_of: str | None,
    logs: Sequence[Path],
    company: Path | None,
    units: str | None,
    refused: Callable[[Sequence[Finding], Mapping[str, object], Words], None],
    place: str | None = None,
) -> PlannedJob | None:
    """Return the plan of a job, of a file or of the book; one not understood goes to `refused`."""
    from datetime import UTC, datetime

    from curecal.instants import Toward
    from curecal.job_files import load_rules, read_job
    from curecal.words.sentences import plain_words

    now = datetime.now(UTC)

    def looked_from(zone: tzinfo) -> datetime:
        """Return the later of now and the instant asked for: a fact after both is in the future."""
        return now if as_of is None else max(now, instant_asked(as_of, zone, Toward.AHEAD))

    def look() -> tuple[Site, Path | None, ReadJob]:
        with site(job, place) as found:
            shared = company or found.company or company_named()
            further = (*found.logs, *logs)
            read = read_job(found.job, company=shared, extra_log=further, clock=looked_from)
            return found, shared, read

    found, shared, read = look()
    if read.job is None:
        refused(read.findings, read.raw, plain_words())
        return None
    from curecal.job_files.days_off import day_off_for
    from curecal.planning.make_plan import make_plan
    from curecal.trade.job import Units
    from curecal.words.sentences import words_for

    rules = load_rules()
    at = now if as_of is None else instant_asked(as_of, read.job.tz, Toward.AHEAD)
    day_off = day_off_for(read.job)
    plan = make_plan(read.job, read.log, at, rules=rules, day_off=day_off)
    words = words_for(read.job, rules, units=None if units is None else Units(units), as_of=at)
    return PlannedJob(
        plan,
        read.findings,
        rules,
        words,
        read.job,
        read.log,
        day_off,
        read.raw,
        job,
        lambda: look()[2],
        found.book is not None,
        place,
        found.state_at(at) if shared == found.company and not logs else None,
    )


def company_named() -> Path | None:
    """Return the company file that the environment names, if it does."""
    from pathlib import Path

    named = os.environ.get("CURECAL_COMPANY")
    return Path(named) if named else None


def instant_asked(text: str, zone: tzinfo, toward: Toward | None = None) -> datetime:
    """Return the instant a person typed, local to the site where it carries no offset.

    Args:
        text: A date and time, or words such as "yesterday 17:00".
        zone: The zone of the site.
        toward: Which way from now it has to lie, where words such as "Tue 9:00" leave that open.

    Raises:
        UsageError: It is none, can be read two ways, or lies in a year that no job is in.
    """
    at = _instant_typed(text, zone, toward)
    if not FIRST_YEAR <= at.year <= LAST_YEAR:
        raise UsageError("instant-implausible", text=text[:60], first=FIRST_YEAR, last=LAST_YEAR)
    return at


def _instant_typed(text: str, zone: tzinfo, toward: Toward | None) -> datetime:
    from datetime import UTC, datetime

    from curecal.errors import InstantRefused
    from curecal.instants import instant_of, parse_instant, spoken

    try:
        return parse_instant(text, zone)
    except InstantRefused as error:
        if error.code != ErrorCode.INSTANT_UNREADABLE:
            raise _usage(error, text, zone) from None
    now = datetime.now(UTC).astimezone(zone).replace(tzinfo=None, fold=0)
    try:
        said = spoken(text, now, toward)
        if said is not None:
            return datetime.now(UTC) if said == now else instant_of(said, zone)
        dated = _dated(text)
        if dated is not None:
            return instant_of(dated, zone)
    except InstantRefused as error:
        raise _usage(error, text, zone) from None
    raise UsageError("as-of-unreadable", text=text[:60])


def _dated(text: str) -> datetime | date | None:
    """Return the wall time or the day of a form with its year; None where it is none.

    Raises:
        InstantRefused: The day is not of the weekday beside it.
    """
    import arrow

    from curecal.instants import check_weekday

    plain = " ".join(text.split())
    for form in _FORMS:
        try:
            found = arrow.get(plain, form)
        except (ValueError, OverflowError):
            continue
        # The form may have been found inside other words; those must not be passed over.
        shown, typed = (
            _WITHOUT_ZERO.sub("", one).casefold() for one in (found.format(form), plain)
        )
        said = found.naive if "H" in form else found.date()
        if "ddd" in form and shown.partition(" ")[2] == typed.partition(" ")[2]:
            return check_weekday(text, said, plain.partition(" ")[0])
        if shown == typed:
            return said
    return None


def _usage(error: InstantRefused, text: str, zone: tzinfo) -> UsageError:
    """Return the refusal as one of the command line, its instants in the site's time."""
    from datetime import datetime

    params = dict(error.params)
    for name, value in error.params.items():
        if not isinstance(value, datetime):
            continue
        if error.code == ErrorCode.INSTANT_UNCLEAR:
            # A reading is a wall time of the site.
            params[name] = value.replace(tzinfo=zone)
        else:
            params[name] = value.astimezone(zone).isoformat(" ", "minutes")
    return UsageError(error.code, **{**params, "text": text[:60]})


def print_lines(lines: Iterable[Line], *, err: bool = False) -> None:
    """Print styled lines: colored on a terminal that wants it, plain everywhere else."""
    stream = sys.stderr if err else sys.stdout
    colored = stream.isatty() and not os.environ.get("NO_COLOR")
    text = "\n".join(_line(line, colored=colored) for line in lines)
    click.echo(text, color=colored, err=err)


def _line(line: Line, *, colored: bool) -> str:
    text = "".join(
        click.style(segment.text, **_STYLES[segment.style])
        if colored and segment.style and segment.text.strip()
        else segment.text
        for segment in line
    )
    return text.rstrip()


def print_json(document: Mapping[str, object]) -> None:
    """Print machine output; a value JSON does not know is an error, never a NaN."""
    import json

    from curecal.words.json.record_json import encode

    click.echo(json.dumps(encode(document), ensure_ascii=False, indent=2, allow_nan=False))


def width_of(asked: int | None) -> int:
    """Return the columns to write in: asked for, the terminal's, or 80 into a pipe."""
    if asked is not None:
        return asked
    if not sys.stdout.isatty():
        return PIPE_WIDTH
    import shutil

    return max(_NARROWEST, min(shutil.get_terminal_size().columns, WIDEST))


def exit_code_of(made: PlannedJob) -> int:
    """Return how a command ends that planned a job: 1 for an `error` or a `stop` in it."""
    return PROBLEM if is_problem((*made.findings, *made.plan.findings)) else 0


def is_problem(findings: Iterable[Finding]) -> bool:
    """Return whether the job has an `error` or a `stop`."""
    from curecal.trade.findings import Severity

    return any(finding.severity in {Severity.ERROR, Severity.STOP} for finding in findings)


def print_refused(
    findings: Sequence[Finding],
    names: Mapping[str, object],
    words: Words,
    *,
    as_json: bool,
    width: int | None,
) -> None:
    """Print what is wrong with a file that is not understood, and nothing else."""
    if as_json:
        from curecal.words.json.plan_json import SCHEMA, findings_json

        print_json({"schema": SCHEMA, "findings": findings_json(findings, names, words)})
        return
    from curecal.words.report.report import refused_lines

    print_lines(refused_lines(findings, names, words, width_of(width)))
