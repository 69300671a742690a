"""The logger's clock: wall times to instants, by an offset of the file or a named time zone."""

from __future__ import annotations

import re
from array import array
from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import UTC, date, datetime, time, timedelta, timezone, tzinfo
from itertools import groupby
from operator import sub

from curecal.files.keys import Key
from curecal.files.logger.block import Block, column_text
from curecal.files.logger.shape import Answers, Known, QuestionError
from curecal.files.logger.stamps import DAY_S, RADIX
from curecal.files.places import time_zone
from curecal.instants import resolve
from curecal.records import Record

_SHIFT = RADIX.bit_length() - 1
_EPOCH = date(1970, 1, 1)
_DAY = timedelta(days=1)
_OFFSET = re.compile(
    r"(?:GMT|UTC)\s?(?:(?P<sign>[+\-\u2212])\s?(?P<h>\d{1,2})(?::?(?P<min>\d\d))?)?(?![A-Za-z\d])",
    re.IGNORECASE,
)
_BARE = re.compile(r"(?P<sign>[+\-\u2212])(?P<h>\d{1,2}):?(?P<min>\d\d)?")
_ZONE_LINE = re.compile(r"zone", re.IGNORECASE)
_MOST_HOURS, _HOUR_MIN = 15, 60
_SKIPPED_MOST = 1


@dataclass
class Placed:
    """Rows with their instants [s since 1970]; what the clock skips or shows twice is left out.

    `kept` are the places of the rows; `undated` and `skipped` those of rows without a day or with
    a time the clock never showed; `twice` counts those that could be either of two instants.
    """

    at_s: array[int] = field(default_factory=lambda: array("q"))
    kept: Sequence[int] = ()
    undated: list[int] = field(default_factory=list)
    skipped: list[int] = field(default_factory=list)
    twice: int = 0


@dataclass(frozen=True, slots=True, eq=False, repr=False)
class Fold(Record):
    """A row in an hour that comes twice: its place, its day's place, both of its instants [s]."""

    row: int
    day: int
    first_s: int
    second_s: int


def zone_of(block: Block, answers: Answers, path: str) -> tuple[Known, tzinfo]:
    """Return the logger's clock: the file's own offset, else the zone a person names.

    Args:
        block: The structure of the file.
        answers: The zone named.
        path: What to call the file in a refusal.

    Returns:
        What it is and where it comes from.

    Raises:
        QuestionError: Neither the file nor a person says it.
    """
    if block.form.offset:
        return Known("", "row"), UTC
    for index in block.stamp:
        head = column_text(block.header, index)
        zone = offset_in(head)
        if zone is not None:
            return Known(shown(zone), "header", head), zone
    words = ""
    for row in block.preamble:
        text = " ".join(cell for cell in row if cell)
        if _ZONE_LINE.search(text):
            words = words or text
            zone = offset_in(text)
            if zone is not None:
                return Known(shown(zone), "preamble", text), zone
    if answers.zone is None:
        raise QuestionError("timezone", "readings-timezone-unknown", path=path, words=words[:60])
    return Known(shown(answers.zone), answers.zone_from, words), answers.zone


def offset_in(text: str) -> tzinfo | None:
    """Return the offset that a text states: "GMT-05:00", "UTC+1", "(UTC)"."""
    match = _OFFSET.search(text)
    return None if match is None else _fixed(match)


def zone_named(text: str) -> tzinfo:
    """Return the zone of an IANA name or an offset such as "-05:00".

    Raises:
        ValueRefused: There is no such zone.
    """
    match = _OFFSET.fullmatch(text.strip()) or _BARE.fullmatch(text.strip())
    fixed = None if match is None else _fixed(match)
    return fixed or time_zone(text, Key("timezone", "timezone", '"America/Halifax"', ""))


def _fixed(match: re.Match[str]) -> tzinfo | None:
    if not match["sign"]:
        return UTC
    hours, minutes = int(match["h"]), int(match["min"] or 0)
    if not (hours < _MOST_HOURS and minutes < _HOUR_MIN):
        return None
    offset = timedelta(hours=hours, minutes=minutes)
    return timezone(offset if match["sign"] == "+" else -offset)


def shown(zone: tzinfo) -> str:
    """Return a zone's name as a person writes it."""
    return zone.tzname(None) or str(zone)


def place(walls: array[int], days: Sequence[date | None], zone: tzinfo, nominal_s: int) -> Placed:
    """Return the instants of wall times.

    Args:
        walls: Wall times by the places of their dates.
        days: The day at each place.
        zone: The logger's clock.
        nominal_s: The logger's interval [s].

    Returns:
        The instants of the rows that have one.
    """
    bases: list[int | None] = []
    odd: set[int] = set()
    for number, day in enumerate(days):
        base = None if day is None else _base(day, zone)
        bases.append(None if base is None else base - DAY_S - number * RADIX)
        if base is None:
            odd.add(number)
    if not odd:
        # Every day has one offset: the common case, and a million rows of it.
        return Placed(_shifted(walls, [base or 0 for base in bases]), range(len(walls)))
    return _one_by_one(walls, days, bases, zone, nominal_s)


def _shifted(walls: array[int], bases: Sequence[int]) -> array[int]:
    return array("q", [bases[wall >> _SHIFT] + wall for wall in walls])


def _base(day: date, zone: tzinfo) -> int | None:
    """Return the instant of a day's midnight [s]; None where the clock changes that day."""
    start = resolve(datetime.combine(day, time()), zone)
    end = resolve(datetime.combine(day + _DAY, time()), zone)
    whole = (end.first - start.first) == _DAY
    if start.kind != "plain" or end.kind != "plain" or not whole:
        return None
    return int(start.first.timestamp())


def _one_by_one(
    walls: array[int],
    days: Sequence[date | None],
    bases: Sequence[int | None],
    zone: tzinfo,
    nominal_s: int,
) -> Placed:
    placed = Placed()
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
        found = resolve(local, zone)
        if found.kind == "gap":
            placed.skipped.append(row)
        elif found.kind == "fold":
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
        if len(back) != 1 or rows[back[0]].second_s - rows[back[0] - 1].first_s > 2 * nominal_s:
            continue
        found += [(fold.row, fold.first_s) for fold in rows[: back[0]]]
        found += [(fold.row, fold.second_s) for fold in rows[back[0] :]]
    return found


def refuse_skipped(placed: Sequence[Placed], zone: tzinfo, path: str) -> None:
    """Refuse a zone whose clock skips times that the logger wrote: it is not its clock.

    Raises:
        QuestionError: More than a single row stands in an hour that the clock skips.
    """
    skipped = sum(len(each.skipped) for each in placed)
    if skipped > _SKIPPED_MOST:
        raise QuestionError(
            "timezone",
            "readings-hour-skipped",
            path=path,
            zone=shown(zone),
            row_count=skipped,
        )
