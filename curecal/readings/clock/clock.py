"""The logger's clock: wall times to instants, by an offset of the file or a named time zone."""

from __future__ import annotations

import re
from array import array
from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from datetime import UTC, date, datetime, time, timedelta, timezone, tzinfo
from itertools import groupby
from operator import sub

from curecal.instants import WallKind, resolve
from curecal.readings.clock.offsets import mentions, offset_behind, offset_in, offset_named
from curecal.readings.table.export_types import (
    Answers,
    AskedFor,
    LoggerChannel,
    QuestionError,
    Understood,
    UnderstoodBy,
)
from curecal.readings.table.table_start import TableStart, column_text
from curecal.readings.table.timestamps import COUNTED, DAY_S, RADIX
from curecal.records import Record, record
from curecal.toml_files.schema import Key
from curecal.toml_files.time_zones import time_zone
from curecal.trade.findings import Finding, Severity

_SHIFT = RADIX.bit_length() - 1
_DAY = timedelta(days=1)
_ZONE_LINE = re.compile(
    r"zone|fuseau|huso|fuso|(?:UTC|GMT).*offset|offset.*(?:UTC|GMT)"
    # A time with its date is of something that happened, such as the export.
    r"|^\D*(?:times?|clock)\b\D*\b(?:UTC|GMT)",
    re.IGNORECASE,
)
# One that a battery or a person caused; more say that the clock is of another zone.
_SKIPPED_MOST = 1
_OF_UTC = frozenset({"UTC", "GMT"})
_LONGEST = 60


@dataclass
class TimedRows:
    """Rows with their instants [s since 1970]; what the clock skips or shows twice is left out.

    `kept` are the places of the rows; `undated` and `skipped` those of rows without a day or with
    a time the clock never showed; `twice` counts those that could be either of two instants.
    """

    at_s: array[int] = field(default_factory=lambda: array("q"))
    kept: Sequence[int] = ()
    undated: list[int] = field(default_factory=list)
    skipped: list[int] = field(default_factory=list)
    twice: int = 0


@record
class Fold(Record):
    """A row in an hour that comes twice: its place, its day's place, both of its instants [s]."""

    row: int
    day: int
    first_s: int
    second_s: int


@record
class Stated(Record):
    """What a file says of its clock: its words, where they stand, the offset if they state one.

    `unclear` where they name UTC, and do not settle the offset.
    """

    words: str = ""
    by: UnderstoodBy = UnderstoodBy.PREAMBLE
    zone: tzinfo | None = None
    unclear: bool = False


def logger_zone(
    block: TableStart, names: Sequence[str], answers: Answers, path: str
) -> tuple[Understood, tzinfo]:
    """Return the logger's clock, and where it comes from.

    What a person says, else the file's own offset, else the job's. `names` are the letters of
    time zones that stand behind its times.

    Raises:
        QuestionError: Neither the file nor a person says it, or the file says it unclearly.
    """
    if block.form.offset:
        return Understood(
            "", UnderstoodBy.COUNTED if block.form.style in COUNTED else UnderstoodBy.ROW
        ), UTC
    if block.form.named and set(names) <= _OF_UTC:
        return Understood("", UnderstoodBy.ROW), UTC
    stated = stated_in(block)
    if block.form.named:
        stated = Stated(", ".join(sorted(set(names) - _OF_UTC)))
        if answers.zone is not None:
            return Understood(
                zone_text(answers.zone), UnderstoodBy.LETTERS, stated.words
            ), answers.zone
    if answers.zone is not None and answers.zone_from is UnderstoodBy.OPTION:
        return Understood(zone_text(answers.zone), UnderstoodBy.OPTION, stated.words), answers.zone
    if stated.zone is not None:
        return Understood(zone_text(stated.zone), stated.by, stated.words), stated.zone
    if stated.unclear:
        words = stated.words[:_LONGEST]
        raise QuestionError(AskedFor.TIMEZONE, "readings-timezone-unclear", path=path, words=words)
    if answers.zone is None:
        words = stated.words[:_LONGEST]
        raise QuestionError(AskedFor.TIMEZONE, "readings-timezone-unknown", path=path, words=words)
    return Understood(zone_text(answers.zone), answers.zone_from, stated.words), answers.zone


def stated_in(block: TableStart) -> Stated:
    """Return the offset a file states: over the instants, else in a line above the header."""
    heads = [column_text(block.header, index) for index in block.stamp]
    over = [_stated(text, UnderstoodBy.HEADER) for text in heads if mentions(text)]
    lines = [" ".join(cell for cell in row if cell) for row in block.preamble]
    above = [_stated(text, UnderstoodBy.PREAMBLE) for text in lines if _ZONE_LINE.search(text)]
    known = [stated for stated in (*over, *above) if stated.zone is not None]
    offsets = {stated.zone.utcoffset(None) for stated in known if stated.zone is not None}
    if len(offsets) > 1:
        return replace(known[0], zone=None, unclear=True)
    # The line nearest to the readings counts: what stands over them, then what names a zone.
    for stated in (*over, *above):
        if stated.zone is not None or stated.unclear:
            return stated
    return above[0] if above else Stated()


def _stated(text: str, by: UnderstoodBy) -> Stated:
    zone = offset_in(text) or (offset_behind(text) if by is UnderstoodBy.PREAMBLE else None)
    return Stated(text, by, zone, zone is None and mentions(text))


def find_overruled_zone(
    block: TableStart, answers: Answers, channels: Sequence[LoggerChannel], path: str
) -> list[Finding]:
    """Return what a person says of the clock against the file's own words.

    Args:
        block: The structure of the file.
        answers: The zone named.
        channels: The readings, with their instants by the zone named.
        path: The place of the findings.

    Returns:
        A finding where the file's offset would give other instants, or where every row has its
        own offset and the zone named changes nothing.
    """
    zone = answers.zone
    if zone is None or answers.zone_from is not UnderstoodBy.OPTION:
        return []
    if block.form.offset:
        params: dict[str, object] = {"zone": zone_text(zone)}
        return [Finding(Severity.WARNING, "readings-timezone-unused", path, params)]
    stated = stated_in(block)
    if stated.zone is None:
        return []
    ends = [at for channel in channels for at in (channel.first, channel.last)]
    if all(at.astimezone(zone).utcoffset() == stated.zone.utcoffset(None) for at in ends):
        return []
    said = {"zone": zone_text(zone), "words": stated.words[:_LONGEST]}
    return [Finding(Severity.WARNING, "readings-timezone-overruled", path, said)]


def zone_named(text: str) -> tzinfo:
    """Return the zone of an IANA name or an offset such as "-05:00".

    Raises:
        ValueRefused: There is no such zone.
    """
    fixed = offset_named(text)
    return fixed or time_zone(text, Key("timezone", "timezone", '"America/Halifax"', ""))


def zone_text(zone: tzinfo) -> str:
    """Return a zone's name as a person writes it."""
    return zone.tzname(None) or str(zone)


def zones_of_days(
    days: Sequence[date | None], names: Sequence[str], zone: tzinfo, path: str
) -> list[tzinfo]:
    """Return the clock of each date: the logger's, or what the letters behind its times say.

    Args:
        days: The day at each date's place.
        names: The letters behind the times of that date, empty without any.
        zone: The logger's clock.
        path: What to call the file in a refusal.

    Returns:
        A zone for each date.

    Raises:
        QuestionError: The letters are not what the zone is called on that day.
    """
    return [
        zone if day is None or not name else _zone_of_name(day, name, zone, path)
        for day, name in zip(days, names, strict=True)
    ]


def _zone_of_name(day: date, name: str, zone: tzinfo, path: str) -> tzinfo:
    if name in _OF_UTC:
        return UTC
    # On a day of change the clock has one name before it and another behind.
    for start in (day, day + _DAY):
        midnight = datetime.combine(start, time(), zone)
        offset = midnight.utcoffset()
        if midnight.tzname() == name and offset is not None:
            return timezone(offset)
    raise QuestionError(
        AskedFor.TIMEZONE,
        "readings-zone-name-differs",
        path=path,
        words=name,
        zone=zone_text(zone),
        day=day,
    )


def place_rows(
    walls: array[int], days: Sequence[date | None], zones: Sequence[tzinfo], nominal_s: int
) -> TimedRows:
    """Return the instants of wall times.

    Args:
        walls: Wall times by the places of their dates.
        days: The day at each place.
        zones: Its clock.
        nominal_s: The logger's interval [s].

    Returns:
        The instants of the rows that have one.
    """
    bases: list[int | None] = []
    odd: set[int] = set()
    for number, day in enumerate(days):
        base = None if day is None else _base(day, zones[number])
        bases.append(None if base is None else base - DAY_S - number * RADIX)
        if base is None:
            odd.add(number)
    if not odd:
        # Every day has one offset: the common case, and a million rows of it.
        return TimedRows(_shifted(walls, [base or 0 for base in bases]), range(len(walls)))
    return _one_by_one(walls, days, bases, zones, nominal_s)


def _shifted(walls: array[int], bases: Sequence[int]) -> array[int]:
    return array("q", [bases[wall >> _SHIFT] + wall for wall in walls])


def _base(day: date, zone: tzinfo) -> int | None:
    """Return the instant of a day's midnight [s]; None where the clock changes that day."""
    start = resolve(datetime.combine(day, time()), zone)
    end = resolve(datetime.combine(day + _DAY, time()), zone)
    whole = (end.first - start.first) == _DAY
    if start.kind is not WallKind.PLAIN or end.kind is not WallKind.PLAIN or not whole:
        return None
    return int(start.first.timestamp())


def _one_by_one(
    walls: array[int],
    days: Sequence[date | None],
    bases: Sequence[int | None],
    zones: Sequence[tzinfo],
    nominal_s: int,
) -> TimedRows:
    placed = TimedRows()
    kept: list[int] = []
    folds: list[Fold] = []
    for row, wall in enumerate(walls):
        number = wall >> _SHIFT
        base, day = bases[number], days[number]
        if base is not None:
            kept.append(row)
            placed.at_s.append(base + wall)
            continue
        if day is None:
            placed.undated.append(row)
            continue
        local = datetime.combine(day, time()) + timedelta(seconds=wall % RADIX - DAY_S)
        found = resolve(local, zones[number])
        if found.kind is WallKind.GAP:
            placed.skipped.append(row)
        elif found.kind is WallKind.FOLD:
            first_s, second_s = int(found.first.timestamp()), int(found.second.timestamp())
            folds.append(Fold(row, number, first_s, second_s))
        else:
            kept.append(row)
            placed.at_s.append(int(found.first.timestamp()))
    steps = list(map(sub, placed.at_s[1:], placed.at_s))
    rising, falling = min(steps, default=-1) >= 0, max(steps, default=1) <= 0
    # Rows in no order, or nothing but such an hour, do not say which pass comes first.
    told = _told_apart(folds, nominal_s, falling=falling) if rising is not falling else []
    placed.twice = len(folds) - len(told)
    if told:
        rows = sorted([*zip(kept, placed.at_s, strict=True), *told])
        kept = [row for row, _ in rows]
        placed.at_s = array("q", [at_s for _, at_s in rows])
    placed.kept = kept
    return placed


def _told_apart(folds: Sequence[Fold], nominal_s: int, *, falling: bool) -> list[tuple[int, int]]:
    """Return rows of hours that come twice with their instants, where the file tells them apart.

    It does where its rows go through the hour, once back by an hour but for a step, and through
    it again.
    """
    found: list[tuple[int, int]] = []
    for _, same in groupby(folds, key=lambda fold: fold.day):
        rows = list(same)[:: -1 if falling else 1]
        back = [i for i in range(1, len(rows)) if rows[i].first_s <= rows[i - 1].first_s]
        # Back by less than the hour, but for one reading missed, is no change of clock.
        if len(back) != 1 or rows[back[0]].second_s - rows[back[0] - 1].first_s > 2 * nominal_s:
            continue
        found += [(fold.row, fold.first_s) for fold in rows[: back[0]]]
        found += [(fold.row, fold.second_s) for fold in rows[back[0] :]]
    return found


def refuse_skipped(placed: Sequence[TimedRows], zone: tzinfo, path: str) -> None:
    """Refuse a zone whose clock skips times that the logger wrote: it is not its clock.

    Raises:
        QuestionError: More than a single row stands in an hour that the clock skips.
    """
    skipped = sum(len(rows.skipped) for rows in placed)
    if skipped > _SKIPPED_MOST:
        raise QuestionError(
            AskedFor.TIMEZONE,
            "readings-hour-skipped",
            path=path,
            zone=zone_text(zone),
            row_count=skipped,
        )
