"""What has to be said of a logger's readings before they go into a job: asked where it can be."""

from __future__ import annotations

import sys
from typing import TYPE_CHECKING, NamedTuple, TypeVar

import click

from curecal.cli.shared.progress import progress
from curecal.errors import CurecalError, UsageError

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence
    from datetime import tzinfo
    from pathlib import Path

    from curecal.readings.table.export_types import (
        Answers,
        LoggerChannel,
        LoggerExport,
        QuestionError,
    )
    from curecal.trade.job import Job
    from curecal.words.sentences import Words

Answer = TypeVar("Answer")
ORDERS = ("D/M/Y", "M/D/Y", "Y/M/D")


class ReadingsOptions(NamedTuple):
    """What the command's options say of a logger's file and of the readings in it."""

    zone: str | None
    unit: str | None
    columns: str | None
    order: str | None
    timezone: str | None
    place: str | None
    devices: tuple[str, ...]
    start: str | None
    end: str | None
    by: str | None
    company: Path | None
    units: str | None


def on_terminal() -> bool:
    """Return whether somebody sits there who can answer."""
    return sys.stdin.isatty() and sys.stdout.isatty()


def choose_zone(job: Job | None, name: str | None, words: Words, *, may_ask: bool) -> str | None:
    """Return the id of the zone that readings are of; of several it has to be said."""
    from curecal.toml_files.shown import nearest, shorten

    zones = () if job is None else job.zones
    known = [zone.name for zone in zones]
    shown = ", ".join(known)
    if name is None and len(zones) > 1:
        if not (may_ask and on_terminal()):
            raise UsageError("readings-zone-unnamed", zones=shown, example=known[0])
        name = click.prompt(words.text("readings.ask-zone", {"zones": shown}), err=True)
    if name is None:
        return zones[0].id if zones else None
    for zone in zones:
        if name in {zone.id, zone.name}:
            return zone.id
    raise UsageError(
        "zone-not-there", text=shorten(name), nearest=nearest(name, known), known=shown
    )


def choose_devices(
    export: LoggerExport, names: Sequence[str], words: Words, *, may_ask: bool
) -> list[LoggerChannel]:
    """Return the devices that count; of several it has to be said which are the room's."""
    from curecal.toml_files.shown import nearest, shorten

    known = [channel.device for channel in export.channels]
    shown = ", ".join(known)
    if not names and len(known) > 1:
        if not (may_ask and on_terminal()):
            raise UsageError("readings-several-devices", path=export.name, devices=shown)
        names = [click.prompt(words.text("readings.ask-device", {"devices": shown}), err=True)]
    for name in names:
        if name not in known:
            raise UsageError(
                "readings-device-unknown",
                path=export.name,
                text=shorten(name),
                nearest=nearest(name, known),
                devices=shown,
            )
    return [channel for channel in export.channels if not names or channel.device in names]


def read_with_answers(
    path: Path,
    tz: tzinfo | None,
    asked: ReadingsOptions,
    checks: Sequence[Callable[[LoggerExport], object]] = (),
    *,
    may_ask: bool,
) -> LoggerExport:
    """Return a file as understood; what it leaves open is asked where somebody can answer.

    Where nobody can, all of it is refused at once, with what `checks` refuse of the export.
    """
    from curecal.readings.export.open_questions import open_questions
    from curecal.readings.export.read_export import read_export
    from curecal.readings.table.export_types import QuestionError

    answers = _answers(tz, asked)
    found: list[CurecalError] = []
    export: LoggerExport | None = None
    while export is None and not found:
        try:
            with progress("readings", file=path.name) as show:
                export = read_export(path, answers, show)
        except QuestionError as error:
            if may_ask and on_terminal():
                answers = _answered(error, answers)
            else:
                questions, export = open_questions(path, answers, error)
                found += questions
    if export is not None and not (may_ask and on_terminal()):
        found += _refused(checks, export)
    if export is None or found:
        from curecal.words.sentences import plain_words

        *others, last = found
        for other in others:
            click.echo(f"curecal: {plain_words().error(other)}", err=True)
        raise last
    return export


def _refused(
    checks: Sequence[Callable[[LoggerExport], object]], export: LoggerExport
) -> list[UsageError]:
    """Return what the checks refuse of an export."""
    found = []
    for check in checks:
        try:
            check(export)
        except UsageError as error:
            found.append(error)
    return found


def _answers(tz: tzinfo | None, asked: ReadingsOptions) -> Answers:
    """Return what the options and the job say of a file."""
    from datetime import UTC, datetime

    from curecal.readings.table.export_types import Answers, Order, UnderstoodBy

    named = asked.timezone
    zone = tz if named is None else _zone_named(named)
    now = datetime.now(UTC)
    return Answers(
        unit=asked.unit,
        columns=() if asked.columns is None else _columns_named(asked.columns),
        order=None if asked.order is None else Order(asked.order),
        zone=zone,
        zone_from=UnderstoodBy.JOB if named is None else UnderstoodBy.OPTION,
        # A logger's clock may be a little ahead; it is not years ahead.
        latest_year=now.year + 1,
        now=now,
    )


def _zone_named(text: str) -> tzinfo:
    from curecal.errors import ValueRefused
    from curecal.readings.clock.clock import zone_named

    try:
        return zone_named(text)
    except ValueRefused as error:
        raise UsageError(error.code, **error.params) from None


def _columns_named(text: str) -> tuple[str, ...]:
    from curecal.errors import ValueRefused
    from curecal.readings.columns.by_hand import columns_named

    try:
        return columns_named(text)
    except ValueRefused as error:
        raise UsageError(error.code, **error.params) from None


def _answered(error: QuestionError, answers: Answers) -> Answers:
    """Return the answers with the one that a file leaves open, as the person types it."""
    from dataclasses import replace

    from curecal.readings.table.export_types import AskedFor, Order, UnderstoodBy
    from curecal.words.sentences import plain_words

    words = plain_words()
    click.echo(words.error(error), err=True)
    question = words.text(f"readings.ask-{error.asks}", {"orders": ", ".join(ORDERS)})
    if error.asks == AskedFor.TIMEZONE:
        zone = click.prompt(question, value_proc=_typed(_zone_named, words), err=True)
        return replace(answers, zone=zone, zone_from=UnderstoodBy.OPTION)
    if error.asks == AskedFor.COLUMNS:
        named = click.prompt(question, value_proc=_typed(_columns_named, words), err=True)
        return replace(answers, columns=named)
    choices = click.Choice(
        ["C", "F"] if error.asks == AskedFor.UNIT else ORDERS, case_sensitive=False
    )
    said = click.prompt(question, type=choices, show_choices=False, err=True)
    if error.asks == AskedFor.UNIT:
        return replace(answers, unit=said)
    return replace(answers, order=Order(said))


def _typed(read: Callable[[str], Answer], words: Words) -> Callable[[str], Answer]:
    """Return what reads an answer as it is typed, and says what is wrong with another text."""

    def typed(text: str) -> Answer:
        try:
            return read(text)
        except UsageError as error:
            raise click.UsageError(words.error(error)) from None

    return typed
