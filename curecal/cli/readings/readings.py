"""`curecal readings`: what a logger's file was understood to say, and into a job with it."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any, NamedTuple

import click

from curecal.cli.readings.add_readings import (
    TargetJob,
    destination_of,
    judge_channels,
    put_channel,
    read_target,
)
from curecal.cli.readings.ask_readings import (
    ORDERS,
    ReadingsOptions,
    choose_devices,
    read_with_answers,
)
from curecal.cli.readings.readings_into_book import keep_in_book
from curecal.cli.shared.common import (
    PROBLEM,
    is_problem,
    json_option,
    print_json,
    print_lines,
    print_refused,
    width_of,
)
from curecal.cli.shared.job_source import site
from curecal.errors import UsageError

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from curecal.readings.series.add_to_job import AddedChannel, Destination
    from curecal.readings.table.export_types import LoggerChannel, LoggerExport
    from curecal.trade.job import Job
    from curecal.words.layout import Line
    from curecal.words.sentences import Words

_NARROWEST = 40


class ReadFile(NamedTuple):
    """A file as understood, the words for it, and the devices of it that go into the job."""

    export: LoggerExport
    words: Words
    chosen: Sequence[LoggerChannel] = ()


@click.command("readings")
@click.argument("files", nargs=-1, required=True, type=click.Path(path_type=Path), metavar="FILE…")
@click.option("--into", type=click.Path(path_type=Path), metavar="JOB", help="Add them to a job.")
@click.option("--zone", metavar="NAME", help="The zone the logger was in.")
@click.option("--unit", type=click.Choice(["C", "F"]), help="Unit of the temperatures.")
@click.option(
    "--columns",
    metavar="NAMES",
    help="Its columns from left to right: time,temperature,humidity,-.",
)
@click.option("--order", type=click.Choice(ORDERS), help="How the dates are written.")
@click.option(
    "--timezone", metavar="ZONE", help="The time zone of the logger's clock, or its offset: -05:00."
)
@click.option(
    "--surface",
    "place",
    flag_value="surface",
    help="The logger was on the surface, not in the air.",
)
@click.option(
    "--floor",
    "place",
    flag_value="floor",
    help="The logger is the floor sensor, with the heating off.",
)
@click.option("--device", "devices", multiple=True, metavar="NAME", help="Only this device.")
@click.option(
    "--from", "start", metavar="INSTANT", help="Count from here; a date alone means the whole day."
)
@click.option(
    "--until", "end", metavar="INSTANT", help="Count until here; a date alone means the whole day."
)
@click.option("--by", metavar="NAME", help="Who adds them.")
@click.option("--company", type=click.Path(path_type=Path), metavar="FILE", help="Company file.")
@click.option(
    "--units", type=click.Choice(["metric", "imperial"]), help="Show results in these units."
)
@click.option("--book", metavar="PATH|URL", help="The job book, if JOB is an id (or CURECAL_BOOK).")
@json_option
@click.option(
    "--width",
    type=click.IntRange(min=_NARROWEST),
    metavar="N",
    help="Width of the output, in columns.",
)
def command(
    *,
    files: tuple[Path, ...],
    into: Path | None,
    as_json: bool,
    width: int | None,
    book: str | None,
    **given: Any,
) -> int:
    """Read a data logger's file, show it, and add it to a job.

    Text with commas, semicolons or tabs, or a workbook. What the file leaves open is asked on a
    terminal, and refused everywhere else. With --into, the readings are kept beside the job and
    named in its log.
    """
    asked = ReadingsOptions(**given)
    _check_options(into, asked)
    if into is None:
        return _read(files, None, asked, as_json=as_json, width=width)
    with site(into, book) as found:
        job = read_target(found.job, asked.company or found.company, found.logs)
        if job.read.job is None:
            from curecal.words.sentences import plain_words

            print_refused(
                job.read.findings, job.read.raw, plain_words(), as_json=as_json, width=width
            )
            return PROBLEM
        _check_signer(job.read.job, asked.by)
        job = job._replace(job_id=found.job_id)
        code = _read(files, job, asked, as_json=as_json, width=width)
        keep_in_book(found, job)
    return code


def _check_signer(job: Job, by: str | None) -> None:
    """Refuse a name that is not in the job: only bad news counts from it."""
    from curecal.planning.site_log.authority import persons_named
    from curecal.toml_files.shown import nearest

    if by is not None and not persons_named(job.people, by):
        names = [person.name for person in job.people]
        raise UsageError("signer-unknown", by=by[:60], nearest=nearest(by, names))


def _read(
    files: Sequence[Path],
    job: TargetJob | None,
    asked: ReadingsOptions,
    *,
    as_json: bool,
    width: int | None,
) -> int:
    """Read the files, and add them to the job where one is named: not one before all are judged."""
    taken: list[ReadFile] = []
    wanted: Destination | None = None
    checks = [] if job is None else _checks(job, asked)
    for number, path in enumerate(files):
        export = read_with_answers(
            path, None if job is None else job.tz, asked, checks, may_ask=not as_json
        )
        words = _words(job, export, asked.units)
        if job is None:
            _refuse_hot(export)
        if not as_json:
            from curecal.readings.export.summary import summary_lines

            print_lines([*([()] if number else []), *summary_lines(export, words, width_of(width))])
        if job is None:
            taken.append(ReadFile(export, words))
            continue
        wanted = wanted or destination_of(job, asked, words, may_ask=not as_json)
        channels = choose_devices(export, asked.devices, words, may_ask=not as_json)
        taken.append(ReadFile(export, words, channels))
    if job is not None and wanted is not None:
        judge_channels(job, [channel for file in taken for channel in file.chosen], wanted)
        _put(job, taken, wanted, asked.by, as_json=as_json, width=width)
    elif as_json:
        print_json({"schema": 1, "files": [_document(file, []) for file in taken]})
    else:
        from curecal.words.layout import paragraph

        said = taken[0].words.text("readings.nothing-used")
        print_lines([(), *paragraph(said, width_of(width), style="dim")])
    findings = [finding for file in taken for finding in file.export.findings]
    return PROBLEM if is_problem(findings) else 0


def _checks(job: TargetJob, asked: ReadingsOptions) -> list[Callable[[LoggerExport], object]]:
    """Return what refuses options that leave open whose readings those of a file are."""
    from curecal.words.sentences import plain_words

    words = plain_words()
    return [
        lambda _: destination_of(job, asked, words, may_ask=False),
        lambda export: choose_devices(export, asked.devices, words, may_ask=False),
    ]


def _refuse_hot(export: LoggerExport) -> None:
    """Refuse readings that are no room's, where no job is named: there, only what counts is."""
    from curecal.readings.table.export_types import readings_of
    from curecal.toml_files.spans import refuse_hot

    for channel in export.channels:
        refuse_hot(channel.device, list(readings_of(channel.temperature_c)))


def _put(
    job: TargetJob,
    taken: Sequence[ReadFile],
    wanted: Destination,
    by: str | None,
    *,
    as_json: bool,
    width: int | None,
) -> None:
    """Add what was understood to the job, and say what became of it, also where it ends early."""
    added: list[list[AddedChannel]] = [[] for _ in taken]
    try:
        for file, own in zip(taken, added, strict=True):
            for channel in file.chosen:
                made = put_channel(job, file.export, channel, wanted, by=by, words=file.words)
                if not as_json:
                    _say(made, job, file.words, width_of(width), first=not own)
                own.append(made)
    finally:
        if as_json and any(added):
            pairs = zip(taken, added, strict=True)
            print_json({"schema": 1, "files": [_document(file, own) for file, own in pairs]})


def _check_options(into: Path | None, asked: ReadingsOptions) -> None:
    """Refuse options that say something of a job where none is named."""
    if into is not None:
        return
    given = {
        "--zone": asked.zone,
        "--device": asked.devices,
        "--by": asked.by,
        f"--{asked.place}": asked.place,
        "--from": asked.start,
        "--until": asked.end,
    }
    for option, value in given.items():
        if value:
            raise UsageError("readings-without-into", option=option)


def _words(job: TargetJob | None, export: LoggerExport, units: str | None) -> Words:
    """Return the words for the job's reader; without a job, in the logger's own time."""
    from curecal.trade.job import Units

    shown = None if units is None else Units(units)
    if job is not None and job.read.job is not None:
        from curecal.job_files import load_rules
        from curecal.words.sentences import words_for

        return words_for(job.read.job, load_rules(), units=shown)
    from curecal.words.catalogue import DEFAULT_LANGUAGE, catalogue
    from curecal.words.sentences import Words
    from curecal.words.values import Reader

    own = Units.IMPERIAL if export.unit.value == "F" else Units.METRIC
    return Words(catalogue(DEFAULT_LANGUAGE), Reader(units=shown or own, tz=export.tz))


def _document(taken: ReadFile, added: Sequence[AddedChannel]) -> dict[str, object]:
    from curecal.readings.export.summary import export_json

    rows = [
        {
            "device": channel.device,
            "readings": channel.rows,
            "new": channel.new,
            "entry": channel.id,
            "kept_in": None if channel.path is None else str(channel.path),
        }
        for channel in added
    ]
    return {**export_json(taken.export, taken.words), "added": rows}


def _say(added: AddedChannel, job: TargetJob, words: Words, width: int, *, first: bool) -> None:
    """Say what became of a device's readings."""
    from curecal.words.layout import paragraph

    lines: list[Line] = [()] if first else []
    device = {"device": added.device}
    if added.id is None:
        lines += paragraph(words.text("readings.unchanged", device), width)
    else:
        path = job.job_id or str(job.path)
        said = {**device, "path": path, "new_count": added.new, "entry_id": added.id}
        lines += paragraph(words.text("readings.added", said), width, style="good")
        kept = "readings.kept-in-book" if job.job_id else "readings.kept"
        lines += paragraph(words.text(kept, {"path": str(added.path)}), width)
    print_lines(lines)
