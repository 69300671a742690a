"""What follows on a new job file: its answer, its calendars, and what to do next."""

from __future__ import annotations

import shlex
from pathlib import Path
from typing import TYPE_CHECKING

import click

from curecal.cli.shared.common import PROBLEM, planned, print_lines, width_of

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from curecal.cli.shared.common import PlannedJob
    from curecal.trade.findings import Finding
    from curecal.words.layout import Line
    from curecal.words.sentences import Words

_HELP = "?"


def show_next(path: Path, words: Words, *, calendars: str | None, may_ask: bool) -> int:
    """Show the answer of a job that was just written, write its calendars, name what to do next.

    Args:
        path: The job file.
        words: The words until the job is read.
        calendars: The folder for its calendars; None where none was named.
        may_ask: Whether somebody is there who may be asked for one.

    Returns:
        The exit code: 1 where the file has to be mended first.
    """
    quoted = shlex.quote(str(path))
    click.echo(words.text("new.written", {"path": str(path)}))
    click.echo()

    def refused(findings: Sequence[Finding], names: Mapping[str, object], said: Words) -> None:
        from curecal.words.report.report import refused_lines

        print_lines(refused_lines(findings, names, said, width_of(None)))
        click.echo()
        print_lines(_bullets([words.text("new.next-mend", {"path": quoted})]))

    made = planned(path, as_of=None, logs=(), company=None, units=None, refused=refused)
    if made is None:
        return PROBLEM
    _answer(made)
    folder = calendars
    if folder is None and may_ask:
        folder = _asked_folder(words, path)
    if folder:
        _write_calendars(made, Path(folder))
    _say_next(made, path, words, folder)
    return 0


def _answer(made: PlannedJob) -> None:
    """Print the plan's first line, what the file leaves open, and what cannot be so."""
    from curecal.trade.findings import Severity
    from curecal.words.layout import paragraph
    from curecal.words.report.headline import headline
    from curecal.words.report.report import finding_lines

    answer = paragraph(headline(made.plan, made.words), width_of(None), style="head")
    print_lines([*answer, ()])
    told = [finding for finding in made.findings if finding.severity is Severity.WARNING]
    told += [found for found in made.plan.findings if found.severity is not Severity.CAUTION]
    if told:
        lines = finding_lines(told, made.names, made.words, width_of(None), titled=False)
        print_lines([*lines, ()])


def _asked_folder(words: Words, path: Path) -> str | None:
    """Return where to put the calendars; None for nowhere."""
    usual = str(path.with_name(f"{path.stem}-calendars"))
    while True:
        question = words.text("new.ask-calendars")
        typed = str(click.prompt(question, default="", show_default=False, value_proc=str)).strip()
        if typed != _HELP:
            break
        click.echo(f"  {words.text('new.help-calendars', {'path': usual})}")
    yes, no = (words.text(f"new.{key}").casefold() for key in ("yes", "no"))
    text = typed.casefold()
    if not text or no.startswith(text):
        return None
    return usual if yes.startswith(text) else typed


def _write_calendars(made: PlannedJob, folder: Path) -> None:
    from curecal.cli.calendars.calendar_files import Asked, write_directory
    from curecal.words.report.published_calendars import issued_lines

    written = write_directory(made, folder, asked=Asked(as_asked=False))
    print_lines([*issued_lines(written.told(), words=made.words, width=width_of(None)), ()])


def _say_next(made: PlannedJob, path: Path, words: Words, folder: str | None) -> None:
    from curecal.trade.job import Role

    quoted = shlex.quote(str(path))
    by = next((person.name for person in made.job.people), words.text("new.your-name"))
    air = "64 °F" if made.job.units.value == "imperial" else "18 °C"
    shown: dict[str, object] = {
        "path": quoted,
        "by": shlex.quote(by),
        "air": shlex.quote(f"air={air}"),
    }
    steps = [
        words.text("new.next-plan", shown),
        words.text("new.next-file", {"path": str(path)}),
        words.text("new.next-note", shown),
    ]
    if folder:
        owner = str(Path(folder) / "owner.ics")
        steps.append(words.text("new.next-open", {"file": owner}))
    to = {"path": quoted, "folder": shlex.quote(folder or f"{path.stem}-calendars")}
    # Mail comes from the crew lead; without an address there is nobody to send it.
    if any(person.email for person in made.job.people_as(Role.CREW_LEAD, made.plan.as_of)):
        steps.append(words.text("new.next-mail", to))
    elif not folder:
        steps.append(words.text("new.next-write", to))
    print_lines([*_titled(words.text("new.next")), *_bullets(steps)])


def _titled(text: str) -> list[Line]:
    from curecal.words.layout import TextRun

    return [(TextRun(text, "head"),)]


def _bullets(texts: Sequence[str]) -> list[Line]:
    from curecal.words.layout import bullet

    return [line for text in texts for line in bullet(text, width_of(None))]
