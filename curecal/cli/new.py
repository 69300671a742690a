"""`curecal new`: a few questions, and a job file to go on with."""

from __future__ import annotations

import shlex
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from curecal.cli.shared.common import PROBLEM, print_lines, width_of
from curecal.errors import SourceError
from curecal.records import PlainTable, PlainView

if TYPE_CHECKING:
    from collections.abc import Callable

    from curecal.words.sentences import Words

_UNITS = ("metric", "imperial")
_CODES = ("NEC", "CEC", "BS 7671", "other")
_JUDGED = frozenset({"timezone", "air", "voltage", "power"})
_ROOMS = ("living space", "bathroom", "perimeter strip")
_BELOW = ("heated room", "ground", "unheated", "outdoors")


@click.command("new")
@click.argument("path", type=click.Path(path_type=Path), default=Path("job.toml"))
@click.option("--name", help="Name of the job, such as its address.")
@click.option("--timezone", metavar="ZONE", help="Time zone of the site: Europe/Berlin.")
@click.option("--units", type=click.Choice(_UNITS), help="Units to show results in.")
@click.option("--code", type=click.Choice(_CODES), help="Electrical code.")
@click.option("--zone", "zone_name", metavar="NAME", help="What the thermostat heats.")
@click.option("--room", type=click.Choice(_ROOMS), help="What the room is used for.")
@click.option("--air", metavar="TEMPERATURE", help="Expected room temperature: 19 °C.")
@click.option("--below", type=click.Choice(_BELOW), help="What lies under the floor.")
@click.option(
    "--layer",
    "layers",
    multiple=True,
    metavar="MATERIAL",
    help="A layer; once for each, from bottom to top.",
)
@click.option("--voltage", help="Voltage of the cable: 240 V.")
@click.option("--power", help="Power of the cable: 640 W.")
@click.option("--crew-lead", help="Name of the crew lead.")
@click.option("--electrician", help="Name of the electrician.")
@click.option("--owner", help="Name of the owner.")
@click.option("--keys", is_flag=True, help="Print every key a job file may have, then stop.")
def command(*, path: Path, keys: bool, **given: Any) -> None:
    """Ask a few questions and write a job file.

    PATH is the file to write, job.toml if none is named. What an option answers is not asked.
    """
    if keys:
        from curecal.toml_files.key_reference import reference

        click.echo(reference())
        return
    if path.exists():
        raise SourceError("job-file-exists", path=str(path))
    from curecal.words.sentences import plain_words

    words = plain_words()
    text = _template(_answers(given, words))
    if not _reads_back(text, path, words):
        raise click.exceptions.Exit(PROBLEM)
    _write(path, text)
    click.echo(words.text("new.written", {"path": str(path), "quoted": shlex.quote(str(path))}))


def _answers(given: PlainView, words: Words) -> PlainTable:
    """Return every answer: what an option gave, else what the person types."""

    def ask(name: str, **more: Any) -> Any:
        if given[name] is not None:
            return given[name]
        more.setdefault("value_proc", _judge(name, words))
        return click.prompt(words.text(f"new.ask-{name.replace('_', '-')}"), **more)

    def may(name: str) -> str | None:
        """Return an answer that may stay empty."""
        return str(ask(name, default="", show_default=False)).strip() or None

    answers = {"name": ask("name"), "timezone": ask("timezone")}
    units = ask("units", type=click.Choice(_UNITS), default="metric", value_proc=None)
    return {
        **answers,
        "units": units,
        "code": ask("code", type=click.Choice(_CODES), default="other", value_proc=None),
        "zone": ask("zone_name"),
        "room": ask("room", type=click.Choice(_ROOMS), default=_ROOMS[0], value_proc=None),
        "air": ask("air", default="66 °F" if units == "imperial" else "19 °C"),
        "below": ask("below", type=click.Choice(_BELOW), value_proc=None),
        "layers": tuple(given["layers"]) or _layers(words),
        "voltage": may("voltage"),
        "power": may("power"),
        "crew_lead": may("crew_lead"),
        "electrician": may("electrician"),
        "owner": may("owner"),
    }


def _judge(name: str, words: Words) -> Callable[[str], str]:
    """Return what judges an answer as it is typed, so that one slip costs no other answer."""
    from curecal.errors import ValueRefused
    from curecal.toml_files.schema import CABLE, EXPECTED, JOB
    from curecal.toml_files.time_zones import REGIONAL
    from curecal.toml_files.values import READERS

    keys = {key.name: key for key in (*JOB, *EXPECTED, *CABLE)}
    key = keys[name] if name in _JUDGED else None

    def judged(text: str) -> str:
        if key is not None and text.strip():
            try:
                (REGIONAL.get(key.reads) or READERS[key.reads])(text, key)
            except ValueRefused as error:
                raise click.UsageError(words.error(error)) from None
        return text

    return judged


def _layers(words: Words) -> tuple[str, ...]:
    """Ask for the layers from the bottom up, until an empty answer."""
    import difflib

    from curecal.material_classes.rules import classes_by_use, may_be_heated, usable_classes
    from curecal.words.layout import bullet

    classes = usable_classes()
    click.echo(words.text("new.layers"))
    for use, listed in classes_by_use().items():
        names = [one.names[0] for one in listed if may_be_heated(one.sheet)]
        print_lines(bullet(f"{use}: {', '.join(names)}", width_of(None), indent=2))
    layers: list[str] = []
    while True:
        question = words.text("new.ask-layer", {"count": len(layers) + 1})
        answer = str(click.prompt(question, default="", show_default=False)).strip()
        if answer in classes:
            layers.append(answer)
        elif answer:
            near = difflib.get_close_matches(answer, classes, n=1)
            unknown = {"material": answer, "nearest": near[0] if near else None}
            click.echo(words.text("new.unknown", unknown))
        elif layers:
            return tuple(layers)


def _template(answers: PlainView) -> str:
    """Return the job file's text, with an identity of its own."""
    import uuid

    from curecal.job_files.new_job import NewJob, job_template

    return job_template(NewJob(id=str(uuid.uuid4()), **answers))


def _reads_back(text: str, path: Path, words: Words) -> bool:
    """Return whether the file would be understood; say what is not, and write nothing then."""
    from curecal.job_files import parse_job
    from curecal.words.report.report import refused_lines

    read = parse_job(text.encode(), origin=str(path))
    if read.job is not None:
        return True
    print_lines(refused_lines(read.findings, read.raw, words, width_of(None)))
    return False


def _write(path: Path, text: str) -> None:
    """Write a file that is not there yet."""
    try:
        with path.open("x", encoding="utf-8", newline="\n") as file:
            file.write(text)
    except FileExistsError:
        raise SourceError("job-file-exists", path=str(path)) from None
    except OSError as error:
        raise SourceError(
            "file-not-written", path=str(path), reason=error.strerror or type(error).__name__
        ) from None
