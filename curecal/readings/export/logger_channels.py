"""Rows to channels: instants in order, each once, in °C; what cannot be is found or refused."""

from __future__ import annotations

from array import array
from bisect import bisect_right
from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from datetime import date, datetime, tzinfo
from math import isnan
from operator import truediv

from curecal.errors import SourceError
from curecal.readings.clock.clock import TimedRows, place_rows, refuse_skipped, zones_of_days
from curecal.readings.clock.twelve_hour_clock import find_twelve_hour_clock
from curecal.readings.columns.columns import Layout, Sensor
from curecal.readings.columns.headings import TEMPERATURE
from curecal.readings.columns.rows import DeviceTable, Rows
from curecal.readings.table.export_types import (
    NO_READING,
    Answers,
    AskedFor,
    LoggerChannel,
    QuestionError,
    RowFault,
    differ,
    in_order,
    readings_of,
)
from curecal.toml_files.spans import median_c
from curecal.trade.findings import Finding, Severity

# A room's median outside of this is read in the wrong unit rather than true; our own choice.
_WARMEST_ROOM_C, _COLDEST_ROOM_C = 30.0, 2.0
_LIKELY_C = (-5.0, 35.0)
# A logger that writes less often says too little of what was between; our own choice.
LONGEST_INTERVAL_S = 6 * 3600
# A quarter: more than an hour of autumn shown twice can be, less than two devices in one column.
_CONFLICTS_MOST = 4
_LONGEST_NAME = 100
# A house has a dozen: so many names are values in a column of names.
_MOST_DEVICES = 64
# A failed humidity now and then is none; more of them are fractions. Our own choice.
_IMPOSSIBLE_MOST = 20
# No two clocks agree to the minute.
_AHEAD_S = 10 * 60


@dataclass
class ChannelSet:
    """Channels, and what was found on the way."""

    channels: list[LoggerChannel] = field(default_factory=list)
    findings: list[Finding] = field(default_factory=list)
    conflicts: int = 0
    twice: int = 0


def make_channels(
    rows: Rows, layout: Layout, days: Sequence[date | None], zone: tzinfo, path: str, nominal_s: int
) -> ChannelSet:
    """Return the channels of a file's rows.

    Args:
        rows: What the file's rows gave.
        layout: Its columns.
        days: The day at each date's place.
        zone: The logger's clock.
        path: What to call the file in a refusal.
        nominal_s: The logger's interval [s].

    Returns:
        The channels with findings.

    Raises:
        QuestionError: The zone's clock skips times that the logger wrote.
        SourceError: No row has a reading, or there are more devices than a site has.
    """
    if len(rows.tables) > _MOST_DEVICES:
        raise SourceError("readings-many-devices", path=path, device_count=len(rows.tables))
    made = ChannelSet()
    zones = zones_of_days(days, rows.dates.names, zone, path)
    all_placed = []
    for device, table in rows.tables.items():
        placed = place_rows(table.walls, days, zones, nominal_s)
        for fault, places in (
            (RowFault.INSTANT, placed.undated),
            (RowFault.SKIPPED, placed.skipped),
        ):
            for row in places:
                rows.unread.lose(table.lines[row], fault, _warm(table, row, layout))
        rows.unread.lines.sort()
        all_placed.append(placed)
        hidden = tuple(sorted(set(place_rows(table.hidden, days, zones, nominal_s).at_s)))
        name = " ".join(part for part in (layout.device, device) if part) or "logger"
        for sensor in _sensors(layout):
            channel = _channel(name, sensor, table, placed, layout, made)
            if len(channel):
                made.channels.append(replace(channel, hidden=hidden))
    refuse_skipped(all_placed, zone, path)
    runs = [placed.at_s for placed in all_placed]
    halves = find_twelve_hour_clock(rows.block.form, rows.times.values(), runs, path)
    made.findings += halves
    if halves:
        made.channels = [replace(channel, half=True) for channel in made.channels]
    made.twice = sum(placed.twice for placed in all_placed)
    if not made.channels:
        raise SourceError("readings-none", path=path)
    return made


def _warm(table: DeviceTable, row: int, layout: Layout) -> list[tuple[float, str]]:
    """Return the temperatures of a row with their units."""
    if layout.says_by_row:
        return [(table.columns[0][row], "C")]
    return [
        (table.columns[place][row], column.unit)
        for place, column in enumerate(layout.columns)
        if column.role == TEMPERATURE
    ]


def _sensors(layout: Layout) -> tuple[Sensor, ...]:
    return (Sensor("", 0, 1),) if layout.says_by_row else layout.sensors


def _channel(
    name: str,
    sensor: Sensor,
    table: DeviceTable,
    placed: TimedRows,
    layout: Layout,
    made: ChannelSet,
) -> LoggerChannel:
    def picked(index: int | None) -> array[float]:
        if index is None:
            return array("d", [NO_READING]) * len(placed.at_s)
        values = table.columns[index]
        if len(placed.kept) == len(values):
            return values
        return array("d", [values[row] for row in placed.kept])

    warm, damp = picked(sensor.temperature), picked(sensor.humidity)
    if sensor.temperature is not None and not layout.says_by_row:
        column = layout.columns[sensor.temperature]
        if column.role == TEMPERATURE and column.unit == "F":
            warm = array("d", [(value - 32.0) * 5.0 / 9.0 for value in warm])
    if sensor.humidity is not None:
        damp = array("d", map(truediv, damp, _hundreds(len(damp))))
    device = _printed(" ".join(part for part in (name, sensor.name) if part))
    return _ordered(LoggerChannel(device, placed.at_s, warm, damp), made)


def _printed(text: str) -> str:
    """Return a name that a log can hold: in one line, no signs that nobody sees, not endless."""
    seen = "".join(sign if sign.isprintable() else " " for sign in text)
    return " ".join(seen.split())[:_LONGEST_NAME]


def _hundreds(count: int) -> array[float]:
    return array("d", [100.0]) * count


def _ordered(channel: LoggerChannel, made: ChannelSet) -> LoggerChannel:
    """Return a channel in order, every instant once, without rows that have no reading in it."""
    if isnan(sum(channel.temperature_c)):
        rows = [
            row
            for row, value in enumerate(channel.temperature_c)
            if not (isnan(value) and isnan(channel.humidity[row]))
        ]
        if len(rows) < len(channel):
            channel = channel.picked(rows)
    at_s = channel.at_s
    if in_order(at_s):
        return channel
    rows = sorted(range(len(at_s)), key=at_s.__getitem__)
    return merge_instants(channel.picked(rows), made)


def merge_instants(channel: LoggerChannel, made: ChannelSet) -> LoggerChannel:
    """Return a sorted channel with each instant once: of two that differ the colder, the damper.

    Rows with temperature and rows with humidity of one instant are one reading.
    """
    at_s, warm, damp = array("q"), array("d"), array("d")
    for when, temperature_c, humidity in zip(
        channel.at_s, channel.temperature_c, channel.humidity, strict=True
    ):
        if not at_s or at_s[-1] != when:
            at_s.append(when)
            warm.append(temperature_c)
            damp.append(humidity)
            continue
        differing = (differ(warm[-1], temperature_c), differ(damp[-1], humidity))
        if any(differing):
            made.conflicts += 1
        warm[-1] = _either(warm[-1], temperature_c, colder=True)
        damp[-1] = _either(damp[-1], humidity, colder=False)
    return replace(channel, at_s=at_s, temperature_c=warm, humidity=damp)


def _either(one: float, other: float, *, colder: bool) -> float:
    """Return the reading of two that is there; of both the worse."""
    if isnan(one) or isnan(other):
        return other if isnan(one) else one
    return min(one, other) if colder else max(one, other)


def judge_channels(made: ChannelSet, rows: Rows, answers: Answers, unit: str, path: str) -> None:
    """Refuse channels that are no room's, or too thin to say what was between two readings.

    Args:
        made: The channels.
        rows: The rows they were made of.
        answers: What the person said of the unit: their word stands.
        unit: The unit the file was read in.
        path: What to call the file in a refusal.

    Raises:
        QuestionError: The readings are a room's only in the other unit.
        SourceError: The interval is too long, too many instants come twice, or the humidities
            are no percentages.
    """
    total = sum(len(table.walls) for table in rows.tables.values())
    if made.conflicts * _CONFLICTS_MOST > total:
        raise SourceError(
            "readings-many-conflicts", path=path, conflict_count=made.conflicts, row_count=total
        )
    if made.conflicts:
        params: dict[str, object] = {"conflict_count": made.conflicts}
        made.findings.append(Finding(Severity.WARNING, "readings-same-instant", path, params))
    if made.twice:
        params = {"row_count": made.twice}
        made.findings.append(Finding(Severity.WARNING, "readings-hour-twice", path, params))
    made.findings += rows.unread.findings(path)
    _judge_humidity(rows, made, path)
    for channel in made.channels:
        if channel.interval_s > LONGEST_INTERVAL_S:
            raise SourceError(
                "readings-too-sparse",
                path=path,
                interval_s=channel.interval_s,
                most_s=float(LONGEST_INTERVAL_S),
            )
        if answers.unit is None:
            _judge_unit(channel, unit, path)
        if answers.now is not None:
            _judge_clock(channel, answers.now, made, path)


def _judge_humidity(rows: Rows, made: ChannelSet, path: str) -> None:
    """Refuse humidities that are no percentages: read too dry, they dry a floor on paper."""
    if not rows.impossible:
        return
    real = sum(1 for channel in made.channels for _ in readings_of(channel.humidity))
    params: dict[str, object] = {"odd_count": rows.impossible}
    if rows.impossible * _IMPOSSIBLE_MOST > real + rows.impossible:
        raise SourceError("readings-humidity-doubtful", path=path, row_count=real, **params)
    made.findings.append(Finding(Severity.WARNING, "readings-humidity-odd", path, params))


def _judge_clock(channel: LoggerChannel, now: datetime, made: ChannelSet, path: str) -> None:
    """Note readings of a time that has not come: the logger's clock or its zone is another."""
    ahead = len(channel) - bisect_right(channel.at_s, now.timestamp() + _AHEAD_S)
    if ahead:
        params: dict[str, object] = {"row_count": ahead, "last_at": channel.last}
        made.findings.append(Finding(Severity.WARNING, "readings-ahead", path, params))


def _judge_unit(channel: LoggerChannel, unit: str, path: str) -> None:
    usual_c = median_c(list(readings_of(channel.temperature_c)))
    if usual_c is None:
        return
    as_shown = usual_c if unit != "F" else usual_c * 9 / 5 + 32
    swapped_c = (usual_c - 32) * 5 / 9 if unit != "F" else as_shown
    low, high = _LIKELY_C
    odd = usual_c > _WARMEST_ROOM_C if unit != "F" else usual_c < _COLDEST_ROOM_C
    if odd and low <= swapped_c <= high:
        other = "C" if unit == "F" else "F"
        raise QuestionError(
            AskedFor.UNIT,
            "readings-unit-doubtful",
            path=path,
            figure=f"{as_shown:.1f}",
            unit=f"°{unit if unit == 'F' else 'C'}",
            other=other,
            own="F" if unit == "F" else "C",
        )
