"""`curecal readings`: what a logger's file was understood to say, and into a job with it."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any, NamedTuple

import click

from curecal.cli.common import (
    PROBLEM,
    instant_asked,
    is_problem,
    print_json,
    print_lines,
    print_refused,
    width_of,
)
from curecal.cli.readings_asked import chosen, on_terminal, zone_of
from curecal.cli.sites import site
from curecal.errors import UsageError

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Mapping, Sequence
    from datetime import tzinfo

    from curecal.book.opening import Book
    from curecal.files import ReadJob
    from curecal.files.logger.into import Added, Wanted
    from curecal.files.logger.shape import Answers, Channel, Export, QuestionError
    from curecal.trade.findings import Finding
    from curecal.words.sentences import Words

_NARROWEST = 40
_ORDERS = ("D/M/Y", "M/D/Y", "Y/M/D")


class Into(NamedTuple):
    """The job that readings go into."""

    path: Path
    company: Path | None
    read: ReadJob
    tz: tzinfo
    logs: tuple[Path, ...] = ()
    job_id: str = ""


@click.command("readings")
@click.argument("files", nargs=-1, required=True, type=click.Path(path_type=Path), metavar="FILE…")
@click.option("--into", type=click.Path(path_type=Path), metavar="JOB", help="Add them to a job.")
@click.option("--zone", metavar="NAME", help="The zone the logger was in.")
@click.option("--unit", type=click.Choice(["C", "F"]), help="Unit of the temperatures.")
@click.option("--order", type=click.Choice(_ORDERS), help="How the dates are written.")
@click.option(
    "--timezone", metavar="ZONE", help="The logger's clock: a time zone, or its offset -05:00."
)
@click.option("--surface", "place", flag_value="surface", help="It lay on the surface, not in air.")
@click.option("--floor", "place", flag_value="floor", help="It is the floor's sensor, heating off.")
@click.option("--device", "devices", multiple=True, metavar="NAME", help="Only this device.")
@click.option("--from", "start", metavar="INSTANT", help="Count nothing before.")
@click.option("--until", "end", metavar="INSTANT", help="Count nothing after.")
@click.option("--by", metavar="NAME", help="Who adds them.")
@click.option("--company", type=click.Path(path_type=Path), metavar="FILE", help="Company file.")
@click.option(
    "--units", type=click.Choice(["metric", "imperial"]), help="Show results in these units."
)
@click.option("--book", metavar="PATH|URL", help="The book, where JOB is an id (or CURECAL_BOOK).")
@click.option("--json", "as_json", is_flag=True, help="Machine-readable output.")
@click.option(
    "--width", type=click.IntRange(min=_NARROWEST), metavar="N", help="Columns to write in."
)
def command(
    *,
    files: tuple[Path, ...],
    into: Path | None,
    as_json: bool,
    width: int | None,
    **asked: Any,
) -> int:
    """Say what a data logger's file was understood to say.

    Text with commas, semicolons or tabs, or a workbook. What the file leaves open is asked on a
    terminal, and refused everywhere else. With --into, the readings are kept beside the job and
    named in its log.
    """
    _check_options(into, asked)
    place = asked.pop("book")
    if into is None:
        return _read(files, None, asked, as_json=as_json, width=width)
    with site(into, place) as found:
        job = _job(found.job, asked["company"] or found.company, found.logs)
        if job.read.job is None:
            from curecal.words.sentences import plain_words

            print_refused(
                job.read.findings, job.read.raw, plain_words(), as_json=as_json, width=width
            )
            return PROBLEM
        job = job._replace(job_id=found.job_id)
        code = _read(files, job, asked, as_json=as_json, width=width)
        if found.book is not None:
            _keep(found.book, job)
    return code


def _keep(book: Book, job: Into) -> None:
    """Put the readings that were added beside a job of the book into the book."""
    from datetime import UTC, datetime

    from curecal.book.adding import add_job
    from curecal.cli.book import told_plan

    now = datetime.now(UTC)
    add_job(
        book,
        job.path,
        now=now,
        company=job.company,
        extra_log=job.logs,
        clock=now,
        told=lambda read: told_plan(read, now),
    )


def _read(
    files: Sequence[Path],
    job: Into | None,
    asked: Mapping[str, Any],
    *,
    as_json: bool,
    width: int | None,
) -> int:
    """Read the files one after another, and add them to the job where one is named."""
    documents: list[Mapping[str, Any]] = []
    findings: list[Finding] = []
    for number, path in enumerate(files):
        export = _understood(path, job, asked, may_ask=not as_json)
        words = _words(job, export, asked["units"])
        findings += export.findings
        if not as_json:
            from curecal.files.logger.told import lines_of

            print_lines([*([()] if number else []), *lines_of(export, words, width_of(width))])
        added = [] if job is None else _add(export, job, asked, words, may_ask=not as_json)
        if as_json:
            documents.append(_document(export, added, words))
        else:
            _say(added, job, words, width_of(width))
    if as_json:
        print_json({"schema": 1, "files": documents})
    return PROBLEM if is_problem(findings) else 0


def _check_options(into: Path | None, asked: Mapping[str, Any]) -> None:
    """Refuse options that say something of a job where none is named."""
    if into is not None:
        return
    names = {"place": asked["place"] and f"--{asked['place']}", "from": asked["start"]}
    own = {"zone": asked["zone"], "device": asked["devices"], "by": asked["by"]}
    given = {**own, **names, "until": asked["end"]}
    for name, value in given.items():
        if value:
            option = value if name == "place" else f"--{name}"
            raise UsageError("readings-without-into", option=option)


def _job(path: Path, company: Path | None, logs: Sequence[Path] = ()) -> Into:
    """Return the job that readings go into, as it is read now."""
    import os
    from datetime import UTC, datetime

    from curecal.files import read_job

    named = os.environ.get("CURECAL_COMPANY")
    shared = company or (Path(named) if named else None)
    read = read_job(path, company=shared, extra_log=logs, clock=datetime.now(UTC))
    return Into(path, shared, read, UTC if read.job is None else read.job.tz, tuple(logs))


def _understood(path: Path, job: Into | None, asked: Mapping[str, Any], *, may_ask: bool) -> Export:
    """Return a file as understood; what it leaves open is asked where somebody can answer."""
    from curecal.files.logger.export import read_export
    from curecal.files.logger.shape import QuestionError

    answers = _answers(job, asked)
    while True:
        try:
            return read_export(path, answers)
        except QuestionError as error:
            if not (may_ask and on_terminal()):
                raise
            answers = _answered(error, answers)


def _answers(job: Into | None, asked: Mapping[str, Any]) -> Answers:
    """Return what the options and the job say of a file."""
    from datetime import UTC, datetime

    from curecal.files.logger.shape import Answers, Order

    named = asked["timezone"]
    zone = _zone_named(named) if named else None if job is None else job.tz
    now = datetime.now(UTC)
    return Answers(
        unit=asked["unit"],
        order=None if asked["order"] is None else Order(asked["order"]),
        zone=zone,
        zone_from="option" if named else "job",
        # A logger's clock may be a little ahead; it is not years ahead.
        latest_year=now.year + 1,
        now=now,
    )


def _zone_named(text: str) -> tzinfo:
    from curecal.errors import ValueRefused
    from curecal.files.logger.clock import zone_named

    try:
        return zone_named(text)
    except ValueRefused as error:
        raise UsageError(error.code, **error.params) from None


def _answered(error: QuestionError, answers: Answers) -> Answers:
    """Return the answers with the one that a file leaves open, as the person types it."""
    from dataclasses import replace

    from curecal.files.logger.shape import Order
    from curecal.words.sentences import plain_words

    words = plain_words()
    click.echo(words.error(error), err=True)
    question = words.text(f"readings.ask-{error.asks}", {"orders": ", ".join(_ORDERS)})
    if error.asks == "timezone":
        zone = click.prompt(question, value_proc=_zone_typed(words), err=True)
        return replace(answers, zone=zone, zone_from="option")
    choices = click.Choice(["C", "F"] if error.asks == "unit" else _ORDERS, case_sensitive=False)
    said = click.prompt(question, type=choices, show_choices=False, err=True)
    if error.asks == "unit":
        return replace(answers, unit=said)
    return replace(answers, order=Order(said))


def _zone_typed(words: Words) -> Callable[[str], tzinfo]:
    """Return what reads a time zone as it is typed, and says what is wrong with another text."""

    def typed(text: str) -> tzinfo:
        try:
            return _zone_named(text)
        except UsageError as error:
            raise click.UsageError(words.error(error)) from None

    return typed


def _words(job: Into | None, export: Export, units: str | None) -> Words:
    """Return the words for the job's reader; without a job, in the logger's own time."""
    from curecal.trade.buildup import Units

    shown = None if units is None else Units(units)
    if job is not None and job.read.job is not None:
        from curecal.files import load_rules
        from curecal.words.sentences import words_for

        return words_for(job.read.job, load_rules(), units=shown)
    from curecal.words.catalogue import DEFAULT_LANGUAGE, catalogue
    from curecal.words.sentences import Words
    from curecal.words.values import Reader

    own = Units.IMPERIAL if export.unit.value == "F" else Units.METRIC
    return Words(catalogue(DEFAULT_LANGUAGE), Reader(units=shown or own, tz=export.tz))


def _add(
    export: Export, job: Into, asked: Mapping[str, Any], words: Words, *, may_ask: bool
) -> list[Added]:
    """Add a file's readings to the job, and say of every device what became of it."""
    from curecal.files.logger.into import Wanted, add
    from curecal.files.logger.told import understood
    from curecal.trade.log import Place

    wanted = Wanted(
        zone_of(job.read.job, asked["zone"], words, may_ask=may_ask),
        Place(asked["place"] or "air"),
        None if asked["start"] is None else instant_asked(asked["start"], job.tz),
        None if asked["end"] is None else instant_asked(asked["end"], job.tz),
    )
    return [
        add(
            job.path,
            channel,
            wanted,
            # An entry of one device changes nothing about another's, so the log is read once.
            log=_log(job),
            understood=understood(export, channel, words),
            append=_append(job, channel, wanted, asked["by"]),
        )
        for channel in chosen(export, asked["devices"], words, may_ask=may_ask)
    ]


def _log(job: Into) -> Iterator[Any]:
    """Return the log as it stands, corrections counted, whenever they were made."""
    from datetime import UTC, datetime

    from curecal.planning.facts import facts_at

    read = _job(job.path, job.company, job.logs).read
    return iter(facts_at(read.log, datetime.max.replace(tzinfo=UTC)).entries)


def _append(
    job: Into, channel: Channel, wanted: Wanted, by: str | None
) -> Callable[[Mapping[str, object]], str]:
    """Return what adds an entry to the job's log, after the job was read with it."""

    def check(path: Path) -> None:
        from curecal.errors import SourceError

        if _job(path, job.company, job.logs).read.job is None:
            raise SourceError("readings-job-refused", path=str(job.path))

    def append(values: Mapping[str, object]) -> str:
        from datetime import UTC, datetime

        from curecal.files.append import append_entry

        now = datetime.now(UTC).replace(microsecond=0)
        made = append_entry(
            job.path,
            "readings",
            values,
            # What a logger says of a time to come must not hide what it says of the past.
            at=min(channel.last, now).astimezone(job.tz),
            recorded=now.astimezone(job.tz),
            zone=wanted.zone,
            by=by,
            check=check,
        )
        return made.id

    return append


def _document(export: Export, added: Sequence[Added], words: Words) -> dict[str, Any]:
    from curecal.files.logger.told import json_of

    rows = [
        {
            "device": each.device,
            "readings": each.rows,
            "new": each.new,
            "entry": each.id,
            "kept_in": None if each.path is None else str(each.path),
        }
        for each in added
    ]
    return {**json_of(export, words), "added": rows}


def _say(added: Sequence[Added], job: Into | None, words: Words, width: int) -> None:
    """Say what became of the readings."""
    from curecal.words.layout import paragraph

    lines: list[Any] = [()]
    if job is None:
        lines += paragraph(words.text("readings.nothing-used"), width, style="dim")
    for each in added:
        device = {"device": each.device}
        if each.id is None or job is None:
            lines += paragraph(words.text("readings.unchanged", device), width)
            continue
        path = job.job_id or str(job.path)
        said = {**device, "path": path, "new_count": each.new, "entry": each.id}
        lines += paragraph(words.text("readings.added", said), width, style="good")
        kept = "readings.kept-in-book" if job.job_id else "readings.kept"
        lines += paragraph(words.text(kept, {"path": str(each.path)}), width)
    print_lines(lines)
