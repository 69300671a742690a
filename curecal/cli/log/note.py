"""`curecal note`: add a fact to the site log."""

from __future__ import annotations

import re
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from curecal.cli.log.note_checks import (
    check_correction,
    check_not_ahead,
    check_not_empty,
    check_pictures,
    whole_id,
)
from curecal.cli.log.note_writing import EntryRefusedError, Target
from curecal.cli.shared.common import instant_asked, json_option, print_lines, width_of
from curecal.cli.shared.job_source import Site, site
from curecal.errors import ErrorCode, UsageError
from curecal.records import PlainView

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence
    from datetime import datetime, tzinfo

    from curecal.instants import Toward
    from curecal.job_files import ReadJob
    from curecal.site_log_files.append import NewEntry
    from curecal.words.sentences import Words

_NARROWEST = 40
_LONGEST_COUNT = 18
_TIME_OF_DAY = re.compile(r":|now|noon|\d ?[ap]m", re.IGNORECASE)
_OPTIONS = ("zone", "by", "note", "at")
_OURS = ("id", "kind", "recorded")
_YES_AND_NO: Mapping[str, bool] = {"true": True, "yes": True, "false": False, "no": False}


class KindsCommand(click.Command):
    """A command whose help ends with every kind of entry and its keys."""

    def format_epilog(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        """Write the kinds behind the options."""
        del ctx
        from curecal.cli.log.note_kinds import kind_lines
        from curecal.words.layout import plain

        formatter.write_paragraph()
        formatter.write("\n".join(plain(kind_lines(formatter.width))) + "\n")


@click.command("note", cls=KindsCommand)
@click.argument("job", type=click.Path(path_type=Path), required=False)
@click.argument("kind", required=False)
@click.argument("pairs", nargs=-1, metavar="[KEY=VALUE]...")
@click.option("--at", metavar="INSTANT", help="When it happened. If left out: now.")
@click.option("--zone", metavar="NAME", help="Which zone.")
@click.option("--by", metavar="NAME", help="Who did it or saw it.")
@click.option("--note", metavar="TEXT", help="A note to keep with it.")
@click.option(
    "--into",
    type=click.Path(path_type=Path),
    metavar="FILE",
    help="Write into this log file instead; it is created if needed.",
)
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
@click.option(
    "--anyway", is_flag=True, help="The layer was finished then, although that looks odd."
)
@click.option(
    "--below",
    multiple=True,
    metavar="LAYER=INSTANT",
    help='When a layer below was finished, not noted yet; or "LAYER=unknown".',
)
@click.option("--kinds", is_flag=True, help="Show every kind and its keys, then stop.")
@json_option
@click.option(
    "--width",
    type=click.IntRange(min=_NARROWEST),
    metavar="N",
    help="Width of the output, in columns.",
)
def command(
    *,
    job: Path | None,
    kind: str | None,
    pairs: tuple[str, ...],
    kinds: bool,
    place: str | None,
    as_json: bool,
    width: int | None,
    **asked: Any,
) -> int:
    """Note in the site log what happened.

    KIND is what happened, each KEY=VALUE what belongs to it: curecal note job.toml air
    "air=64 °F" "humidity=58 %". Values are written as in the job file. What is in the file
    stays as it is; an entry that is not understood is not written.
    """
    columns = width_of(width)
    if kinds or job is None:
        from curecal.cli.log.note_kinds import kind_lines

        print_lines(kind_lines(columns))
        return 0
    with site(job, place) as found:
        return _note(_target(found, asked), kind, pairs, asked, (columns, as_json))


def _note(
    target: Target,
    kind: str | None,
    pairs: Sequence[str],
    asked: PlainView,
    shown: tuple[int, bool],
) -> int:
    """Read the job, write the entry, read it again, and say what it changed."""
    before = target.read()
    from datetime import UTC, datetime

    from curecal.cli.log.log import site_zone, words_of
    from curecal.cli.log.note_below import FinishesBelow, write_with_below
    from curecal.cli.log.note_shown import Shown
    from curecal.site_log_files.visit_names import visit_named

    zone = site_zone(before)
    words = words_of(before, datetime.now(UTC))
    show = Shown(words, shown[0], as_json=shown[1])
    if zone is None:
        # Without the site's time zone nobody knows what instant "14:30" is.
        return show.refused(before.findings, before.raw)
    name = _kind(kind, words)
    values = visit_named(name, _values(name, pairs, asked, before, (zone, words)))
    check_not_empty(name, values)
    check_pictures(values, Path() if target.site.book is not None else target.job.parent)
    # Nobody typed an hour that the clock gave, so by night too it is no slip of the pen.
    if name == "done" and (asked["anyway"] or "at" not in values):
        values["sure"] = True
    # Which layers lie below is known only once the entry has been read.
    below = FinishesBelow(asked["below"], words, sure=asked["anyway"], may_ask=not shown[1])
    try:
        made = write_with_below(target, _new_entry(name, values, zone), before, below)
    except EntryRefusedError as error:
        return show.refused(error.findings, error.names)
    return show.written(made, before, target.read())


def _target(found: Site, asked: PlainView) -> Target:
    from curecal.readings.series.decoded_channels import DecodedChannels

    into = asked["into"]
    if into is not None and found.book is not None:
        raise UsageError("into-with-book", path=str(into))
    if into is not None and into.resolve() == found.job.resolve():
        raise UsageError("into-is-job", path=str(found.job))
    if found.book is not None:
        into = found.new_log
    logs = (*found.logs, *asked["logs"], *(() if into is None else (into,)))
    company = asked["company"] or found.company
    logs = tuple(dict.fromkeys(logs))
    return Target(found.job, logs, company, into, found, DecodedChannels())


def _kind(kind: str | None, words: Words) -> str:
    """Return the kind a person named."""
    from curecal.cli.log.shown_words import kind_named
    from curecal.toml_files.log_schema import KINDS

    if kind is None:
        raise UsageError("note-without-kind", known=", ".join(KINDS))
    return kind_named(kind, words)


def _values(
    kind: str,
    pairs: Sequence[str],
    asked: PlainView,
    before: ReadJob,
    site: tuple[tzinfo, Words],
) -> dict[str, object]:
    """Return what was said of an entry, in the types of the job file."""
    from curecal.cli.log.shown_words import choice_as_typed
    from curecal.instants import Toward
    from curecal.job_files.entry_lines import kinds_by_id
    from curecal.toml_files.log_schema import KINDS

    zone, words = site
    given = _pairs(kind, pairs)
    for name in _OPTIONS:
        if asked[name] is not None and name in given:
            raise UsageError("pair-twice", key=name)
    if kind == "correction":
        check_correction(given, asked)
    about = kind
    keys = {key.name: key for key in KINDS[kind]}
    if kind == "correction":
        kinds = kinds_by_id(before)
        given["of"] = whole_id(given.get("of", "").strip(), kinds)
        about = kinds.get(given["of"], "")
        keys = {key.name: key for key in KINDS.get(about, ())} | keys
    values: dict[str, object] = {}
    for name, text in given.items():
        key = keys.get(name)
        if key is not None and key.reads == "choice":
            values[name] = choice_as_typed(text, about, key, words)
        else:
            # An appointment lies ahead; everything else has happened.
            past = Toward.UNTIL if name == "to" else Toward.PAST
            toward = Toward.AHEAD if about == "visit" else past
            values[name] = text if key is None else typed(text, key.reads, zone, toward)
    options = {name: asked[name] for name in _OPTIONS if asked[name] is not None}
    return values | options


def _pairs(kind: str, pairs: Sequence[str]) -> dict[str, str]:
    """Return key=value pairs as typed, each key once and none that the command writes itself."""
    from curecal.toml_files.log_schema import KINDS
    from curecal.toml_files.schema import Key
    from curecal.toml_files.shown import shorten

    given: dict[str, str] = {}
    for pair in pairs:
        name, equals, text = pair.partition("=")
        name = name.strip()
        if not equals or not name:
            first = next(iter(KINDS[kind]), Key("note", "note", '"…"', ""))
            example = f'"{first.name}={first.example.strip(chr(34))}"'
            raise UsageError("pair-unreadable", text=shorten(pair), example=example)
        if name in _OURS:
            raise UsageError("pair-by-command", key=name)
        if name in given:
            raise UsageError("pair-twice", key=name)
        given[name] = text
    return given


def typed(text: str, reads: str, zone: tzinfo, toward: Toward) -> object:
    """Return a value in the type its key has in a file; what is none stays the text it is.

    The reader of the file then says what is wrong with it, and the form wanted.

    Args:
        text: What the person typed.
        reads: What reads the key.
        zone: The zone of the site.
        toward: Which way from now an instant lies.

    Returns:
        True or false, a whole number, an instant in the site's time, or the text.
    """
    plain = text.strip()
    if reads == "bool":
        return _YES_AND_NO.get(plain.casefold(), text)
    if reads == "count" and plain.isascii() and plain.isdecimal() and len(plain) < _LONGEST_COUNT:
        return int(plain)
    if reads == "instant":
        try:
            return instant_asked(plain, zone, toward).astimezone(zone)
        except UsageError as error:
            if error.code == ErrorCode.INSTANT_UNCLEAR:
                raise
            return text
    return text


def _happened(kind: str, text: str, now: datetime, zone: tzinfo) -> datetime:
    """Return when something happened; of a day alone that is not over, now is the latest.

    A finish counts from the end of its day. Everything else belongs to the day that was named, and
    not to the midnight that begins the next.

    Raises:
        UsageError: A temperature of a day that is over has no hour.
    """
    from datetime import timedelta

    from curecal.instants import Toward, end_of_day, local_day
    from curecal.trade.entry_kinds import EntryKind

    at = instant_asked(text, zone, Toward.PAST)
    day = local_day(at - timedelta(minutes=1), zone)
    if _TIME_OF_DAY.search(text) or at != end_of_day(day, zone):
        return at
    if day == local_day(now, zone):
        return now.replace(microsecond=0)
    if kind in {EntryKind.AIR, EntryKind.SURFACE, EntryKind.FLOOR}:
        raise UsageError("note-without-hour", day=day, example=f"{text} 17:00")
    return at if kind == EntryKind.DONE else at - timedelta(minutes=1)


def _new_entry(kind: str, values: dict[str, object], zone: tzinfo) -> NewEntry:
    """Return the entry to write; one that has not happened yet is refused."""
    from datetime import UTC, datetime

    from curecal.site_log_files.append import NewEntry

    now = datetime.now(UTC)
    when = values.pop("at", None)
    at = now.replace(microsecond=0) if when is None else _happened(kind, str(when), now, zone)
    check_not_ahead(at, now, zone)
    said = {name: str(values.pop(name)) for name in ("by", "note", "zone") if name in values}
    milliseconds = now.microsecond // 1000 * 1000
    return NewEntry(
        kind=kind,
        values=values,
        at=at.astimezone(zone),
        recorded=now.replace(microsecond=milliseconds).astimezone(zone),
        **said,
    )
