"""`curecal new`: a few questions, and a job file to go on with."""

from __future__ import annotations

import shlex
from pathlib import Path
from typing import TYPE_CHECKING

import click

from curecal.cli.shared.common import PROBLEM, company_named, print_lines, width_of
from curecal.errors import SourceError, UsageError

if TYPE_CHECKING:
    from datetime import datetime

    from curecal.cli.new.interview import Interview
    from curecal.records import PlainTable
    from curecal.trade.findings import Finding
    from curecal.words.sentences import Words

_FILE = click.Path(path_type=Path)


@click.command("new")
@click.argument("path", type=_FILE, required=False)
@click.option(
    "--from",
    "source",
    type=_FILE,
    metavar="JOB",
    help="Take people, products and build-up from this job; not its log and dates.",
)
@click.option(
    "--answers",
    type=_FILE,
    metavar="FILE",
    help="Take all answers from this TOML file, and ask for none.",
)
@click.option("--company", type=_FILE, metavar="FILE", help="Company file (or CURECAL_COMPANY).")
@click.option("--calendars", metavar="DIR", help="Write the calendars into this folder too.")
@click.option("--keys", is_flag=True, help="Print every key a job file may have, then stop.")
def command(
    *,
    path: Path | None,
    source: Path | None,
    answers: Path | None,
    company: Path | None,
    calendars: str | None,
    keys: bool,
) -> int:
    """Ask a few questions and write a job file.

    PATH is the file to write; if left out, it is named after the job. Layers are asked from the
    bottom up, and ? explains a question. With --answers, the file has the keys of a job file, and
    a zone may name its build_up instead of listing its layers.
    """
    if keys:
        _print_keys()
        return 0
    if calendars is not None and not calendars.strip():
        # An unset variable in somebody's script must not write into the folder they stand in.
        raise UsageError("folder-unnamed")
    from datetime import UTC, datetime

    from curecal.cli.new.new_file import fresh_path, refuse_place
    from curecal.words.sentences import plain_words

    # Nobody answers forty questions to hear that the file has no place.
    refuse_place(path)
    folder = Path() if path is None else path.parent
    words, now = plain_words(), datetime.now(UTC)
    company = company or company_named()
    start = _start(source, company, folder)
    if answers is None:
        job = _interviewed(start, folder, company, now, words)
    else:
        answered = _answered(start, answers, folder, now, words)
        if answered is None:
            return PROBLEM
        job = answered
    from curecal.cli.new.new_file import write_job
    from curecal.cli.new.next_steps import show_next

    path = path or fresh_path(job["job"]["id"], folder)
    write_job(path, job)
    return show_next(path, words, calendars=calendars, may_ask=answers is None)


def _print_keys() -> None:
    from curecal.cli.new.key_reference import reference
    from curecal.job_files.new_job.build_ups import BUILD_UPS

    click.echo(reference(), nl=False)
    click.echo('\nanswers of "curecal new --answers": as a job file, and in [[zone]]')
    for name, build_up in BUILD_UPS.items():
        layers = ", ".join(str(layer["name"]) for layer in build_up.layers)
        click.echo(f'build_up = "{name}"  # {layers}')


def _start(source: Path | None, company: Path | None, folder: Path) -> PlainTable:
    """Return what is known before anybody answers: of another job, and the company's file."""
    from curecal.cli.new.new_file import seen_from

    job: PlainTable = {}
    if source is not None:
        from curecal.cli.shared.job_source import site
        from curecal.job_files import read_job
        from curecal.job_files.new_job.copied_job import copied_job
        from curecal.toml_files.toml_source import load

        with site(source) as found:
            if read_job(found.job, company=found.company or company).job is None:
                raise SourceError("new-source-refused", path=str(source))
            job = copied_job(load(found.job))
            head = job.get("job")
            named = head.pop("company", None) if isinstance(head, dict) else None
            if found.book is not None and found.company is not None:
                # The book keeps the company's file; beside the new job there is none.
                _take_in(job, _company_tables(found.company))
            elif isinstance(named, str) and company is None:
                company = source.parent / named
    if company is not None:
        job.setdefault("job", {})["company"] = seen_from(company, folder)
    return job


def _take_in(job: PlainTable, shared: PlainTable) -> None:
    """Put into a job what its company's file gives it; what the job says itself stands."""
    people = {role: who for role, who in shared.get("people", {}).items() if role != "owner"}
    for key, table in {**shared, "people": people}.items():
        if key in {"people", "material", "sensor", "work"} and table:
            job[key] = {**table, **job.get(key, {})}


def _interviewed(
    start: PlainTable, folder: Path, company: Path | None, now: datetime, words: Words
) -> PlainTable:
    """Return a job from questions."""
    from curecal.cli.new.interview import Interview
    from curecal.cli.new.new_file import fresh_job_id

    view = Interview(words, folder, company, now, start, _shared(start, folder))
    view.tell("begin")
    try:
        _ask_all(view)
    except click.Abort:
        _keep_answers(view)
        raise
    view.table("job")["id"] = fresh_job_id(view.draft["job"]["name"], folder)
    return view.draft


def _ask_all(view: Interview) -> None:
    from curecal.cli.new.ask_job import (
        ask_climate,
        ask_floor,
        ask_heating,
        ask_people,
        ask_site,
    )
    from curecal.cli.new.ask_layers import ask_build_up

    ask_site(view)
    is_copied = "zone" in view.draft
    zones = view.draft.setdefault("zone", [{}])
    ask_climate(view)
    for zone in zones:
        ask_floor(view, zone)
        ask_build_up(view, zone)
        ask_heating(view, zone)
        # The zones of another job are all there; a list that grows is asked to its end.
        if not is_copied and view.confirm("another-zone", is_yes=False):
            zones.append({})
    ask_people(view)


def _keep_answers(view: Interview) -> None:
    """Keep what was answered when somebody stops in the middle."""
    from curecal.cli.new.new_file import fresh_path, write_job
    from curecal.job_files.job_keys import slug

    name = view.table("job").get("name")
    if name is None:
        return
    path = fresh_path(slug(name, "job"), view.folder, ".answers")
    write_job(path, view.draft)
    click.echo()
    view.tell("stopped", {"path": str(path), "quoted": shlex.quote(str(path))})


def _shared(job: PlainTable, folder: Path) -> PlainTable:
    """Return the tables of the company's files that a job names."""
    named = job.get("job", {}).get("company")
    return {} if named is None else _company_tables(folder / named)


def _company_tables(company: Path) -> PlainTable:
    """Return the tables of a company's file and of its list of materials."""
    from curecal.toml_files.toml_source import load

    raw = load(company)
    shared = {key: table for key, table in raw.items() if isinstance(table, dict)}
    listed = raw.get("materials")
    if isinstance(listed, str):
        further = load(company.parent / listed).get("material")
        if isinstance(further, dict):
            shared["material"] = {**further, **shared.get("material", {})}
    return shared


def _answered(
    start: PlainTable, answers: Path, folder: Path, now: datetime, words: Words
) -> PlainTable | None:
    """Return a job from a file of answers; say all that is wrong with them at once."""
    from curecal.job_files import read_draft
    from curecal.job_files.new_job.answers import answered_over, missing_answers, with_build_ups
    from curecal.toml_files.toml_source import load
    from curecal.words.layout import paragraph
    from curecal.words.report.report import finding_lines

    given, findings = with_build_ups(load(answers))
    job, unplaced = answered_over(start, given)
    findings += [*unplaced, *missing_answers(job)]
    head = job.get("job")
    if isinstance(head, dict):
        findings += _with_id(head, folder)
    read = read_draft(job, folder, clock=now)
    known = {finding.path for finding in findings}
    findings += [finding for finding in read.findings if _is_refusal(finding, known)]
    if findings:
        width = width_of(None)
        title = words.text("new.answers-refused", {"count": len(findings)})
        told = finding_lines(findings, read.raw, words, width, titled=False)
        print_lines([*paragraph(title, width, style="bad"), *told])
        return None
    return job


def _with_id(head: PlainTable, folder: Path) -> list[Finding]:
    """Give a job an id of its own; return what is wrong with one that was answered."""
    from curecal.cli.new.new_file import fresh_job_id, taken_ids
    from curecal.toml_files.shown import shorten
    from curecal.trade.findings import Finding, Severity

    if "id" not in head:
        head["id"] = fresh_job_id(str(head.get("name", "")), folder)
    elif str(head["id"]) in taken_ids(folder):
        params = {"text": shorten(head["id"])}
        return [Finding(Severity.ERROR, "answer-id-taken", "job.id", params)]
    return []


def _is_refusal(finding: Finding, known: set[str]) -> bool:
    """Return whether a finding of the reader keeps a job from being written.

    What one answer that is missing says is not said twice.
    """
    from curecal.trade.findings import Severity

    return finding.severity is Severity.ERROR and finding.path not in known
