"""`curecal log`: the site log with its ids, corrections beside what they correct."""

from __future__ import annotations

from enum import Enum
from pathlib import Path
from typing import TYPE_CHECKING, TypeVar

import click

from curecal.cli.shared.common import (
    PROBLEM,
    instant_asked,
    is_problem,
    json_option,
    print_json,
    print_lines,
    width_of,
)
from curecal.cli.shared.job_source import job_or_only, site
from curecal.errors import UsageError
from curecal.records import PlainTable

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence
    from datetime import datetime, tzinfo

    from curecal.job_files import ReadJob
    from curecal.job_files.entry_lines import EntryRow
    from curecal.readings.series.decoded_channels import DecodedChannels
    from curecal.trade.findings import Finding
    from curecal.trade.job import Job
    from curecal.trade.site_log import Correction
    from curecal.words.layout import Line
    from curecal.words.sentences import Words

E = TypeVar("E", bound=Enum)
_INDENT = 9
_NARROWEST = 40


@click.command("log")
@click.argument("job", type=click.Path(path_type=Path), required=False, callback=job_or_only)
@click.option("--zone", metavar="NAME", help="Only entries about this zone.")
@click.option("--kind", metavar="KIND", help="Only entries of this kind.")
@click.option("--as-of", "as_of", metavar="INSTANT", help="The log as it was then.")
@click.option(
    "--log",
    "logs",
    type=click.Path(path_type=Path),
    multiple=True,
    metavar="FILE",
    help="Another site log of the job.",
)
@click.option(
    "--company",
    type=click.Path(path_type=Path),
    metavar="FILE",
    help="Company file (or CURECAL_COMPANY).",
)
@click.option(
    "--book", "place", metavar="PATH|URL", help="The job book, if JOB is an id (or CURECAL_BOOK)."
)
@json_option
@click.option(
    "--width",
    type=click.IntRange(min=_NARROWEST),
    metavar="N",
    help="Width of the output, in columns.",
)
def command(
    *,
    job: Path,
    logs: tuple[Path, ...],
    company: Path | None,
    place: str | None,
    as_json: bool,
    width: int | None,
    **asked: str | None,
) -> int:
    """List the site log with its ids.

    Corrections are shown with the entry they correct; withdrawn entries are marked.
    """
    from curecal.cli.log.shown_words import kind_named
    from curecal.instants import Toward
    from curecal.job_files.entry_lines import rows

    with site(job, place) as found:
        read = read_site(found.job, (*found.logs, *logs), company or found.company)
    words = words_of(read)
    if asked["kind"] is not None:
        asked["kind"] = kind_named(asked["kind"], words)
    zone = _zone(asked["zone"], read)
    when = asked["as_of"]
    as_of = None if when is None else instant_asked(when, words.reader.site_tz, Toward.PAST)
    listed = [
        row
        for row in rows(read, as_of)
        if asked["kind"] in {None, row.kind}
        and (zone is None or row.entry is None or row.entry.zone in {None, zone})
    ]
    wrong = [finding for finding in read.findings if _of_log(finding, read)]
    if as_json:
        _print_json(read, listed, wrong, words)
    else:
        columns = width_of(width)
        lines = list(_lines(listed, read.job, words, columns))
        if not lines:
            lines = _empty(asked, words, columns)
        print_lines([*lines, *_findings(wrong, read, words, columns)])
    return PROBLEM if is_problem(read.findings) else 0


def read_site(
    job: Path,
    logs: Sequence[Path],
    company: Path | None,
    channels: DecodedChannels | None = None,
) -> ReadJob:
    """Return a job as read now; facts after now are said to be in the future."""
    import os
    from datetime import UTC, datetime

    from curecal.job_files import read_job

    named = os.environ.get("CURECAL_COMPANY")
    shared = company or (Path(named) if named else None)
    now = datetime.now(UTC)
    return read_job(job, company=shared, extra_log=logs, clock=now, channels=channels)


def words_of(read: ReadJob, now: datetime | None = None) -> Words:
    """Return the words for a job's reader; of a job that is not understood, what is known.

    With `now`, days near it are shown without their year.
    """
    from datetime import UTC

    from curecal.trade.job import Code, Units
    from curecal.words.sentences import Words, plain_words, words_for
    from curecal.words.values import Reader

    if read.job is not None:
        from curecal.job_files import load_rules

        return words_for(read.job, load_rules(), as_of=now)
    plain = plain_words()
    units = _stated(read, "units", Units.METRIC)
    reader = Reader(units, site_zone(read) or UTC, _stated(read, "code", Code.OTHER))
    return Words(plain.catalogue, reader, plain.titles)


def _stated(read: ReadJob, key: str, silent: E) -> E:
    """Return what a job file says of itself, though it is not understood as a whole."""
    head = read.raw.get("job")
    try:
        return type(silent)(head.get(key, silent) if isinstance(head, dict) else silent)
    except ValueError:
        return silent


def site_zone(read: ReadJob) -> tzinfo | None:
    """Return the time zone of the site, None where the job file does not say it."""
    if read.job is not None:
        return read.job.tz
    from curecal.errors import ValueRefused
    from curecal.toml_files.schema import JOB
    from curecal.toml_files.time_zones import time_zone

    head = read.raw.get("job")
    key = next(own for own in JOB if own.name == "timezone")
    try:
        return time_zone(head.get("timezone") if isinstance(head, dict) else None, key)
    except ValueRefused:
        return None


def _zone(name: str | None, read: ReadJob) -> str | None:
    """Return the identity of the zone asked for, by name or identity."""
    from curecal.site_log_files.names import zone_named
    from curecal.toml_files.shown import nearest, shorten

    if name is None or read.job is None:
        return None
    known = [zone.name for zone in read.job.zones]
    zone = zone_named(name, read.job.zones)
    if zone is not None:
        return zone.id
    raise UsageError(
        "zone-not-there",
        text=shorten(name),
        nearest=nearest(name, known),
        known=", ".join(known),
    )


def _of_log(finding: Finding, read: ReadJob) -> bool:
    """Return whether a finding is of the log, or why the job is not understood."""
    from curecal.trade.findings import Severity

    of_log = finding.path.startswith(("log.", "further_log."))
    return of_log or (read.job is None and finding.severity is Severity.ERROR)


def _lines(
    listed: Sequence[EntryRow], job: Job | None, words: Words, columns: int
) -> Iterator[Line]:
    """Yield the log day by day."""
    from curecal.words.layout import TextRun

    tz = words.reader.site_tz
    before = ""
    for row in listed:
        day = words.text("log.undated")
        if row.entry is not None:
            day = words.day(row.entry.at.astimezone(tz).date())
        if day != before:
            if before:
                yield ()
            yield (TextRun(day, "head"),)
            before = day
        yield from row_lines(row, job, words, columns)


def row_lines(row: EntryRow, job: Job | None, words: Words, columns: int) -> list[Line]:
    """Return one entry with who wrote it and how it was corrected.

    Args:
        row: The entry.
        job: The job, for names.
        words: Language and units.
        columns: Columns to write in.

    Returns:
        Its lines.
    """
    from curecal.job_files.entry_lines import entry_text
    from curecal.words.layout import hanging, paragraph

    said = entry_text(row, job, words)
    gone = row.withdrawn_by is not None
    if gone:
        said = words.text("log.withdrawn", {"what": said})
    style = "dim" if gone else "bad" if row.entry is None else ""
    entry = row.entry
    local = None if entry is None else entry.at.astimezone(words.reader.site_tz)
    clock = "" if local is None else f"{local:%H:%M}"
    lines = hanging(clock, said, columns, indent=_INDENT, style=style)
    note = row.raw.get("note")
    if isinstance(note, str) and note.strip():
        told = words.text("log.note", {"note": note.strip()})
        lines += paragraph(told, columns, indent=_INDENT, style=style)
    lines += paragraph(_who(row, words), columns, indent=_INDENT, style="dim")
    for correction in row.corrections:
        told = _correction(correction, row, job, words)
        lines += paragraph(told, columns, indent=_INDENT, style="warn")
    return lines


def _who(row: EntryRow, words: Words) -> str:
    """Return id, who did and who typed it, and when it was recorded where that is later."""
    from curecal.toml_files.log_schema import KINDS

    entry = row.entry
    late = None
    if entry is not None:
        recorded = words.at(entry.recorded, down=True)
        late = None if recorded == words.at(entry.at, down=True) else recorded
    own = {key.name for key in KINDS.get(row.kind, ())}
    said = {
        name: value
        for name in ("by", "entered_by", "from", "photo")
        if name not in own and isinstance(value := row.raw.get(name), str)
    }
    params = {
        "id": row.id,
        "by": said.get("by"),
        "entered_by": said.get("entered_by"),
        "origin": said.get("from"),
        "photo": said.get("photo"),
        "recorded": late,
    }
    return words.text("log.who", params)


def _correction(correction: Correction, row: EntryRow, job: Job | None, words: Words) -> str:
    from curecal.words.log_entries import changes_of

    recorded = words.at(correction.recorded, down=True)
    params = {"recorded": recorded, "id": correction.id, "by": correction.by}
    if correction.withdrawn:
        said = words.text("log.taken-back", params)
    else:
        said = words.text("log.corrected", {**params, "parts": changes_of(correction, job, words)})
    back = row.taken_back.get(correction.id)
    return said if back is None else words.text("log.void", {"what": said, "id": back})


def _empty(asked: Mapping[str, str | None], words: Words, columns: int) -> list[Line]:
    from curecal.words.layout import paragraph

    return paragraph(words.text("log.empty", asked), columns)


def _findings(
    found: Sequence[Finding], read: ReadJob, words: Words, columns: int
) -> Sequence[Line]:
    from curecal.words.report.report import finding_lines

    lines = finding_lines(found, read.raw, words, columns, titled=False)
    return [(), *lines] if lines else []


def _print_json(
    read: ReadJob, listed: Sequence[EntryRow], found: Sequence[Finding], words: Words
) -> None:
    from curecal.words.json.plan_json import SCHEMA, findings_json

    head = read.raw.get("job")
    print_json(
        {
            "schema": SCHEMA,
            "job_id": None if read.job is None else read.job.id,
            "job": head.get("name") if isinstance(head, dict) else None,
            "entries": [entry_json(row, read.job, words) for row in listed],
            "findings": findings_json(found, read.raw, words),
        }
    )


def entry_json(row: EntryRow, job: Job | None, words: Words) -> PlainTable:
    """Return one entry as machine output: its keys as they stand in the file, and in words."""
    from curecal.job_files.entry_lines import BASE_KEYS, entry_text, plain
    from curecal.toml_files.log_schema import KINDS

    entry = row.entry
    own = {key.name for key in KINDS.get(row.kind, ())}
    return {
        "id": row.id,
        "kind": row.kind,
        "at": None if entry is None else entry.at,
        "recorded": None if entry is None else entry.recorded,
        "zone": None if entry is None else entry.zone,
        "by": plain(row.raw.get("by")),
        "entered_by": plain(row.raw.get("entered_by")),
        "from": None if entry is None or entry.origin is None else entry.origin.value,
        "photo": plain(row.raw.get("photo")),
        "note": plain(row.raw.get("note")),
        "understood": entry is not None,
        "said": entry_text(row, job, words),
        "keys": {
            key: plain(value)
            for key, value in row.raw.items()
            if key in own or key not in BASE_KEYS
        },
        "withdrawn": row.withdrawn_by is not None,
        "corrections": [
            _correction_json(correction, row, job, words) for correction in row.corrections
        ],
    }


def _correction_json(
    correction: Correction, row: EntryRow, job: Job | None, words: Words
) -> PlainTable:
    from curecal.words.log_entries import changes_of

    return {
        "id": correction.id,
        "recorded": correction.recorded,
        "by": correction.by,
        "withdraws": correction.withdrawn,
        "said": changes_of(correction, job, words) or None,
        "withdrawn_by": row.taken_back.get(correction.id),
    }
