"""The command `curecal`: a table of commands loaded on demand, and the one place that ends it."""

from __future__ import annotations

import gc
import io
import os
import sys
from typing import TYPE_CHECKING, NoReturn

import click

from curecal.cli.shared.lazy import LazyGroup
from curecal.errors import CurecalError, OutputLost, SourceError

if TYPE_CHECKING:
    from collections.abc import Mapping

# What shells give a program that was ended by the keyboard: 128 and the signal, 2.
INTERRUPTED = 130
# `EX_SOFTWARE` of sysexits.h.
INTERNAL = 70
BROKEN_PIPE = 1
_ERROR_WIDTH = 80
# Far above the usual, so that a short run does not search what it has just loaded.
_COLLECT_AFTER = 50_000

# Help texts stand here so that `--help` loads no command; a test keeps them equal.
COMMANDS: Mapping[str, tuple[str, str]] = {
    "plan": (
        "curecal.cli.plan.plan",
        "Say when the floor may be switched on, and why.",
    ),
    "explain": ("curecal.cli.plan.explain", "Show every step of every date, with its source."),
    "picture": (
        "curecal.cli.plan.picture",
        "Draw the timeline and the floor's section, layer by layer.",
    ),
    "paper": (
        "curecal.cli.paper.paper",
        "Write hold card, owner's sheet and commissioning record as PDF.",
    ),
    "compare": (
        "curecal.cli.jobs.compare",
        "Compare what a warmer room, another product or another day would change.",
    ),
    "jobs": (
        "curecal.cli.jobs.jobs",
        "List all jobs of the book: answer, day, next step, and what is at risk.",
    ),
    "note": ("curecal.cli.log.note", "Note in the site log what happened."),
    "log": ("curecal.cli.log.log", "List the site log with its ids."),
    "readings": (
        "curecal.cli.readings.readings",
        "Read a data logger's file, show it, and add it to a job.",
    ),
    "calendars": (
        "curecal.cli.calendars.calendars",
        "Write, mail, publish and check the calendars of crew, electrician and owner.",
    ),
    "visits": ("curecal.cli.visits", "List the visits of all jobs of the book."),
    "book": (
        "curecal.cli.book.book",
        "Keep jobs, their logs, and what people were told, in the job book.",
    ),
    "remind": (
        "curecal.cli.remind.remind",
        "Tell owner, crew and electrician in time what to do, and what not to do yet.",
    ),
    "serve": (
        "curecal.cli.serve.serve",
        "Serve pages and calendar feeds to phones, and send reminders.",
    ),
    "links": (
        "curecal.cli.links.links",
        "Make, list and take back the links to pages and calendars.",
    ),
    "new": ("curecal.cli.new.new", "Ask a few questions and write a job file."),
    "guide": ("curecal.cli.guide", "Read the manual, chapter by chapter."),
    "verify": (
        "curecal.cli.verify",
        "Compare published check values with what this installation computes.",
    ),
    "completion": ("curecal.cli.completion", "Print the completion script for your shell."),
}


def _show_version(ctx: click.Context, _param: click.Parameter, value: object) -> None:
    if not value or ctx.resilient_parsing:
        return
    from curecal.cli.shared.common import tzdata_version
    from curecal.version import __version__

    click.echo(f"curecal {__version__} (tzdata {tzdata_version()})")
    ctx.exit()


@click.group(
    cls=LazyGroup,
    table=COMMANDS,
    context_settings={"help_option_names": ["-h", "--help"], "max_content_width": 100},
    epilog="Refuses rather than guesses: where no date is safe, none is given.",
)
@click.option(
    "--version",
    is_flag=True,
    expose_value=False,
    is_eager=True,
    callback=_show_version,
    help="Show the versions of curecal and of the time zone data.",
)
def cli() -> None:
    """When may an electrically heated floor under tile be switched on?

    Takes every layer with its maker's cure times and the room's climate, and gives the earliest
    safe date, with its reasons.
    """
    import importlib
    import zoneinfo
    from pathlib import Path

    data = Path(str(importlib.import_module("tzdata").__file__))
    # The pinned package is the only source of time zones, whatever the machine has. Named as a
    # path it is read as files; left to be found, it costs every command importlib.resources.
    zoneinfo.reset_tzpath(to=[str(data.parent / "zoneinfo")])


def run() -> NoReturn:
    """Run the command and end the process with its exit code."""
    if sys.stdout is None:  # closed by whoever started the command
        _tell(SourceError("output-closed"))
        sys.exit(SourceError.exit_code)
    for stream in (sys.stdout, sys.stderr):
        if isinstance(stream, io.TextIOWrapper):
            _speak(stream)
    # Loading makes objects that stay; looking through them again and again frees nothing.
    gc.set_threshold(_COLLECT_AFTER)
    sys.exit(code_of_run())


def _speak(stream: io.TextIOWrapper) -> None:
    """Let every sign through, or a question mark in its place, and no error."""
    # A terminal has the signs it has. A file and a pipe would get those of the system's code page,
    # and "2 G?" for an insulation.
    is_asked_for = stream.isatty() or os.environ.get("PYTHONIOENCODING")
    stream.reconfigure(encoding=stream.encoding if is_asked_for else "utf-8", errors="replace")


def code_of_run(arguments: list[str] | None = None) -> int:
    """Run the command; every way it can end becomes an exit code, and none a traceback."""
    try:
        result = cli.main(arguments, prog_name="curecal", standalone_mode=False)
        sys.stdout.flush()
    except click.ClickException as error:
        error.show()
        return error.exit_code
    except (click.Abort, KeyboardInterrupt):
        click.echo("Interrupted.", err=True)
        return INTERRUPTED
    except CurecalError as error:
        _tell(error)
        return error.exit_code
    except BrokenPipeError:
        # The reader has gone; what is still buffered must not fail again at exit.
        os.dup2(os.open(os.devnull, os.O_WRONLY), 1)
        return BROKEN_PIPE
    except Exception as error:  # noqa: BLE001 - the last door: people never see a traceback
        return _output_lost(error) if _is_of_output(error) else _internal(error)
    return result if isinstance(result, int) else 0


def _is_of_output(error: Exception) -> bool:
    """Return whether standard output could not be written: only there click meets such an error."""
    import traceback

    *_, (frame, _) = traceback.walk_tb(error.__traceback__)
    return isinstance(error, OSError) and frame.f_globals["__name__"] in {"click.utils", __name__}


def _output_lost(error: Exception) -> int:
    """Say that what was to be shown is lost, and that what was to be done may be done."""
    # What is still buffered must not fail again at exit.
    os.dup2(os.open(os.devnull, os.O_WRONLY), 1)
    reason = (isinstance(error, OSError) and error.strerror) or type(error).__name__
    lost = OutputLost("output-not-written", reason=reason)
    _tell(lost)
    return lost.exit_code


def _tell(error: CurecalError) -> None:
    """Say an error on stderr."""
    from curecal.words.sentences import plain_words

    try:
        text = plain_words().error(error)
    except CurecalError:
        # Something inside is wrong, and has a code and no sentence.
        text = f"internal error: {error}"
    for line in _lines(f"curecal: {text}"):
        click.echo(line, err=True)
    _traceback(error)


def _lines(text: str) -> list[str]:
    """Return an error wrapped for a terminal; one line into a pipe or a file."""
    if not sys.stderr.isatty():
        return [text]
    import shutil

    from curecal.words.layout import NARROWEST, wrap

    columns = shutil.get_terminal_size().columns
    return wrap(text, max(NARROWEST, min(columns, _ERROR_WIDTH)))


def _internal(error: Exception) -> int:
    kind = type(error).__name__
    hint = "" if _debugging() else " CURECAL_DEBUG=1 shows where."
    click.echo(f"curecal: internal error ({kind}); no date was given.{hint}", err=True)
    _traceback(error)
    return INTERNAL


def _debugging() -> bool:
    return os.environ.get("CURECAL_DEBUG") == "1"


def _traceback(error: BaseException) -> None:
    if _debugging():
        import traceback

        click.echo("".join(traceback.format_exception(error)), err=True)
