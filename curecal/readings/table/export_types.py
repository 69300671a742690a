"""What reading a logger's file needs to be told, and what it gives."""

from __future__ import annotations

import math
from array import array
from bisect import bisect_left, bisect_right
from collections import Counter
from collections.abc import Iterator, Mapping
from datetime import UTC, datetime, tzinfo
from enum import StrEnum
from operator import lt, sub

from curecal.errors import SourceError
from curecal.records import Record, record
from curecal.trade.findings import Finding
from curecal.trade.logged_points import LoggedPoints

NO_READING = math.nan
COLDEST_C, HOTTEST_C = -40.0, 60.0
"""What a logger in a room can show [°C]; anything else is a fault of the sensor or the file."""


class UnderstoodBy(StrEnum):
    """What a file's unit, order of dates or clock was understood by."""

    OPTION = "option"
    """A person said it."""
    JOB = "job"
    HEADER = "header"
    PREAMBLE = "preamble"
    ROW = "row"
    """Each row says it."""
    LETTERS = "letters"
    """A person said it, and the file has other letters of a time zone."""
    COUNTED = "counted"
    """The instants are numbers counted from a day in UTC."""
    SPELLED = "spelled"
    YEAR_FIRST = "year first"
    OVER_TWELVE = "over 12"
    """A figure is no month."""
    REGULAR = "regular"
    """In one order only the readings come at a regular interval."""
    MONOTONE = "monotone"
    """In one order only the readings run forward."""


class Order(StrEnum):
    """How the figures of a date stand."""

    DMY = "D/M/Y"
    MDY = "M/D/Y"
    YMD = "Y/M/D"


class AskedFor(StrEnum):
    """What of a file only a person can say."""

    COLUMNS = "columns"
    ORDER = "order"
    TIMEZONE = "timezone"
    UNIT = "unit"


class RowFault(StrEnum):
    """Why a row of a logger's file is left out."""

    INSTANT = "bad-instant"
    FIGURE = "bad-figure"
    RANGE = "bad-range"
    FIELDS = "bad-fields"
    SKIPPED = "bad-skipped"


class QuestionError(SourceError):
    """A file leaves something open that only a person can say; `asks` names which answer."""

    def __init__(self, asks: AskedFor, code: str, **params: object) -> None:
        super().__init__(code, **params)
        self.asks = asks


@record
class Answers(Record):
    """What a person says about a file: only what is asked for is used.

    `columns` are names of its columns from left to right. `zone` is the logger's clock where its
    file has no offset; `zone_from` who named it. `latest_year` is the last year a reading can be
    from; `now` is when somebody looks.
    """

    unit: str | None = None
    columns: tuple[str, ...] = ()
    order: Order | None = None
    zone: tzinfo | None = None
    zone_from: UnderstoodBy = UnderstoodBy.OPTION
    latest_year: int = 2100
    now: datetime | None = None


@record
class ReadingGap(Record):
    """A stretch without readings, longer than two intervals."""

    start: datetime
    end: datetime


@record
class LoggerChannel(Record):
    """One sensor's readings in order: instants [s since 1970, UTC], °C, humidity fractions.

    Where a row had no reading of one of the two, there is a NaN. `hidden` are instants in order at
    which the logger wrote what nobody could read, and what may be frost. `half` is True where
    its clock may be one of twelve hours, so that nights may be afternoons.
    """

    device: str
    at_s: array[int]
    temperature_c: array[float]
    humidity: array[float]
    hidden: tuple[int, ...] = ()
    half: bool = False

    def __len__(self) -> int:
        return len(self.at_s)

    @property
    def first(self) -> datetime:
        """The first reading's instant."""
        return instant(self.at_s[0])

    @property
    def last(self) -> datetime:
        """The last reading's instant."""
        return instant(self.at_s[-1])

    @property
    def interval_s(self) -> float:
        """The nominal interval [s] of the temperatures: half of the steps are no longer."""
        if not math.isnan(sum(self.temperature_c)):
            return interval_of(self.at_s)
        # Humidities in rows of their own, a second later each, are no shorter interval.
        pairs = zip(self.at_s, self.temperature_c, strict=True)
        warm = array("q", [at_s for at_s, value in pairs if not math.isnan(value)])
        return interval_of(warm if len(warm) > 1 else self.at_s)

    def gaps(self) -> list[ReadingGap]:
        """Return the stretches longer than two intervals, in order."""
        most_s = 2 * self.interval_s
        # Most files have none, and a million steps are best judged without a loop of our own.
        steps = list(map(sub, self.at_s[1:], self.at_s))
        if not steps or max(steps) <= most_s:
            return []
        return [
            ReadingGap(instant(self.at_s[i]), instant(self.at_s[i + 1]))
            for i, step_s in enumerate(steps)
            if step_s > most_s
        ]

    def points(self) -> LoggedPoints:
        """Return the readings as the site log holds them."""
        at_us = [at_s * 1_000_000 for at_s in self.at_s]
        return LoggedPoints(at_us, self.temperature_c, self.humidity)

    def between(self, start: datetime | None, end: datetime | None) -> LoggerChannel:
        """Return the readings from one instant to another, both included."""
        if start is None and end is None:
            return self
        low = -math.inf if start is None else start.timestamp()
        high = math.inf if end is None else end.timestamp()
        first, last = bisect_left(self.at_s, low), bisect_right(self.at_s, high)
        hidden = tuple(at_s for at_s in self.hidden if low <= at_s <= high)
        return LoggerChannel(
            self.device,
            self.at_s[first:last],
            self.temperature_c[first:last],
            self.humidity[first:last],
            hidden,
            self.half,
        )

    def picked(self, rows: list[int]) -> LoggerChannel:
        """Return some of the readings, by their places."""
        return LoggerChannel(
            self.device,
            array("q", [self.at_s[i] for i in rows]),
            array("d", [self.temperature_c[i] for i in rows]),
            array("d", [self.humidity[i] for i in rows]),
            self.hidden,
            self.half,
        )


@record
class UnparsedCount(Record):
    """Lines that could not be read: how many, and the first of them with the reason."""

    count: int = 0
    lines: tuple[tuple[int, RowFault], ...] = ()


@record
class Understood(Record):
    """One thing that was understood: what, by which evidence, and the words of the file for it."""

    value: str
    by: UnderstoodBy
    words: str = ""


@record(kw_only=True)
class LoggerExport(Record):
    """A logger's file as understood, before anything of it is used."""

    name: str
    encoding: str
    separator: str
    data_line: int
    channels: tuple[LoggerChannel, ...]
    columns: tuple[tuple[str, str], ...]
    unit: Understood
    order: Understood
    zone: Understood
    tz: tzinfo
    events: int
    bad: UnparsedCount
    findings: tuple[Finding, ...] = ()


def instant(at_s: float) -> datetime:
    """Return seconds since 1970 as an instant."""
    return datetime.fromtimestamp(at_s, UTC)


def interval_of(at_s: array[int]) -> float:
    """Return the median step [s] of instants in order; 0 where there is none."""
    steps = Counter(map(sub, at_s[1:], at_s))
    return float(median_of(steps)) if steps else 0.0


def median_of(counts: Mapping[int, int]) -> int:
    """Return the lower median of counted values."""
    half = (sum(counts.values()) + 1) // 2
    seen = 0
    for value in sorted(counts):
        seen += counts[value]
        if seen >= half:
            return value
    message = "there is no median of nothing"
    raise ValueError(message)


def in_order(values: array[int]) -> bool:
    """Return whether every value is larger than the one before."""
    return all(map(lt, values, values[1:]))


def readings_of(values: array[float] | memoryview[float]) -> Iterator[float]:
    """Return the values that are readings."""
    # Most columns have no hole, and a sum finds one without a loop of our own.
    if not math.isnan(sum(values)):
        return iter(values)
    return (value for value in values if not math.isnan(value))


def differ(one: float, other: float) -> bool:
    """Return whether two are readings and not the same."""
    return not math.isnan(one) and not math.isnan(other) and one != other
